"""Whose results folder it is: new, resumed, refused, or taken over from an earlier campaign."""

from __future__ import annotations

import os
import shutil
from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from sweep.campaign.conditions import Condition, condition_table
from sweep.campaign.designs import lay_out
from sweep.campaign.plan import Search
from sweep.campaign.search_plan import with_points
from sweep.results.atomic_files import StoreError, sync_folder, write_table, write_whole
from sweep.results.fingerprint import (
    CHANGED,
    called,
    conditions_digest,
    designs_digest,
    differences,
    digest,
    flight_keys,
    flown_content,
    share_flights,
)
from sweep.results.identity import MOST_CHANGES, ChangedCampaignError, keys_of, write_keys
from sweep.results.journal import JOURNAL, read_journal
from sweep.results.manifest import (
    MANIFEST,
    DamagedManifestError,
    Json,
    Manifest,
    manifest_of,
    read_manifest,
    write_manifest,
)
from sweep.results.plain_files import patiently
from sweep.results.reuse import EARLIER, set_aside
from sweep.results.store import OPTIONAL
from sweep.version import __version__
from sweep.words.phrases import listed

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign

MAKERS = ("foilsweep", "numpy", "numba", "a processor of kind")
SPOKEN_CHANGES = 3
"""Of what differs, in a sentence that a run says (judgement)."""

DERIVED = (*OPTIONAL, "standings", "limits")
"""Tables with design numbers: after a change these are other designs."""


def begin(folder: Path, campaign: Campaign, designs: pd.DataFrame, conditions: Sequence[Condition]) -> list[str]:
    """Make the folder this campaign's, or check that it is; returns sentences for a person.

    Scores, limits and the title may change over the same flights. Where what is flown changes, the flights of before are set
    aside in a folder of `earlier`, from which `Earlier` takes those that this campaign shares. Raises ChangedCampaignError
    naming what differs where it shares none, StoreError if the folder holds something else.
    """
    files, keys = _files(campaign), flight_keys(campaign, designs, conditions)
    now = manifest_of(campaign, len(designs), len(conditions), flown_content(campaign, designs))
    before, changes = _before(folder, now.content, len(designs))
    changes = [called(change, campaign) for change in changes]
    said = _elsewhere(before, now)
    if changes:
        if not any(share_flights(keys, keys_of(flights)) for flights in (folder / "flights", *set_aside(folder))):
            raise _refusal(folder, changes, before)
        said, before = [_set_aside(folder, changes)], None
    write_manifest(folder, _going_on(replace(now, files=files, keys=digest(keys)), before))
    (folder / "flights").mkdir(exist_ok=True)
    write_keys(folder, keys)
    for name, text in files.items():
        (folder / name).parent.mkdir(exist_ok=True)
        write_whole(folder / name, text.encode())
    write_table(folder, "designs", designs.reset_index(), designs_digest(campaign))
    write_table(folder, "conditions", condition_table(tuple(conditions)), conditions_digest(campaign))
    return said


def go_on(folder: Path, campaign: Campaign) -> Campaign:
    """The campaign as a run in this folder goes on with it: a search with all designs that its journal there has decided on."""
    if not isinstance(campaign.plan, Search) or not (folder / MANIFEST).exists() or not (folder / JOURNAL).exists():
        return campaign
    try:
        content = read_manifest(folder).content
    except DamagedManifestError:
        return campaign
    if any(differences(content, flown_content(campaign, lay_out(campaign)))):
        return campaign
    return with_points(campaign, read_journal(folder).points)


def grow(folder: Path, campaign: Campaign, designs: pd.DataFrame, conditions: Sequence[Condition]) -> None:
    """Make room in the folder for the designs of a search that its journal has just decided on."""
    keys = flight_keys(campaign, designs, conditions)
    write_keys(folder, keys)
    write_table(folder, "designs", designs.reset_index(), designs_digest(campaign))
    write_manifest(folder, replace(read_manifest(folder), designs=len(designs), keys=digest(keys)))


def check_free(folder: Path) -> None:
    """Raises StoreError if a folder holds other things than a run's; nothing is left in it by looking."""
    if (folder / MANIFEST).exists() or keys_of(folder / "flights") is not None:
        return
    if any(not path.name.startswith(".") for path in folder.iterdir()):
        raise StoreError(f"{folder}: not empty, and not a results folder; name another one with --out.")


def _before(folder: Path, content: Json, designs: int) -> tuple[Manifest | None, list[str]]:
    """The manifest, if there is one, and the reason why the run cannot continue, if there is one."""
    check_free(folder)
    if not (folder / MANIFEST).exists():
        return None, [f"{MANIFEST} is missing"] if keys_of(folder / "flights") is not None else []
    try:
        before = read_manifest(folder)
    except DamagedManifestError:  # the flights have their keys beside them, which say whether they may stay
        return None, [f"{MANIFEST} cannot be read"]
    keys = keys_of(folder / "flights")
    if keys is not None and len(keys.designs) > designs and not any(differences(before.content, content)):
        return before, [f"{JOURNAL} is missing"]  # which alone tells the designs of a search
    return before, list(differences(before.content, content))


def _files(campaign: Campaign) -> dict[str, str]:
    """The campaign's own files, by their place in the folder."""
    texts = {"campaign.yaml": campaign.campaign_text, "craft.yaml": campaign.craft_text, "listed.csv": campaign.listed_text}
    texts |= {f"polars/{name}": text for name, text in campaign.polar_texts.items()}
    texts |= {f"code/{name}": text for name, text in campaign.craft.codes.items()}
    texts |= {f"unknowns/{name}": text for name, text in campaign.drawn_texts.items()}
    return {name: text for name, text in texts.items() if text}


def _going_on(manifest: Manifest, before: Manifest | None) -> Manifest:
    """The manifest with what it keeps of the runs before."""
    if before is None:
        return manifest
    kept = ("started", "runs", "kept", "race", "clock", "map", "tolerances", "outings", "changes")
    return replace(manifest, **{name: getattr(before, name) for name in kept})


def _elsewhere(before: Manifest | None, now: Manifest) -> list[str]:
    """A sentence about a folder that was flown by the same model with other versions, or on another kind of machine."""
    if before is None or before.model != now.model:
        return []
    was, here = _makers(before), _makers(now)
    changed = [f"{name} {was[name]} (now {here[name]})" for name in MAKERS if was[name] not in ("", here[name])]
    if not changed:
        return []
    return [
        f"The folder was flown with {listed(changed)}. The craft model is the same, so its flights stay; those that are flown "
        "now may differ in the last digits from what they would have been."
    ]


def _makers(manifest: Manifest) -> dict[str, str]:
    """What the last digits of a flight may depend on, by its name in `MAKERS`; '' where the manifest does not tell."""
    told = {**manifest.versions, "a processor of kind": manifest.machine.kind}
    return {name: told.get(name, "") for name in MAKERS}


def _refusal(folder: Path, changes: list[str], before: Manifest | None) -> ChangedCampaignError:
    if changes == [CHANGED["model"]] and before is not None:
        version = _makers(before)["foilsweep"] or "not known which"
        return ChangedCampaignError(
            f"{folder} was flown by another version of the program ({version}; this is {__version__}) "
            "with another craft model: none of those flights may stand beside new ones. Nothing was flown or changed.\n"
            "Fly the campaign into another folder with --out, or go on here with the version that flew it."
        )
    return ChangedCampaignError(
        f"{folder} holds flights of another campaign, none of which this one can keep; nothing was flown or changed. "
        "What differs:\n"
        + "\n".join(f"  {change}" for change in changes[:MOST_CHANGES])
        + (f"\n  and {len(changes) - MOST_CHANGES} more" if len(changes) > MOST_CHANGES else "")
        + "\nFly this campaign into another folder with --out, or delete that folder and fly everything again."
    )


def _set_aside(folder: Path, changes: list[str]) -> str:
    """Move the flights to where `Earlier` finds them, and delete the tables about them; returns sentences about it.

    The move is one rename, and the flights know their keys: killed at any moment, either campaign goes on from what is there.
    """
    (folder / EARLIER).mkdir(exist_ok=True)
    aside = folder / EARLIER / str(1 + max((int(path.name) for path in set_aside(folder)), default=0))
    if (folder / "flights").exists():
        patiently(partial(os.replace, folder / "flights", aside))
        sync_folder(folder / EARLIER)
        sync_folder(folder)
    for name in DERIVED:
        (folder / f"{name}.parquet").unlink(missing_ok=True)
    for name in ("standings.csv", JOURNAL, "craft.yaml", "listed.csv"):
        (folder / name).unlink(missing_ok=True)
    for name in ("leaders", "polars", "code"):
        shutil.rmtree(folder / name, ignore_errors=True)
    told = [change for change in changes if change not in CHANGED.values()] or changes
    more = f"; and {len(told) - SPOKEN_CHANGES} more" if len(told) > SPOKEN_CHANGES else ""
    return (
        f"The folder is not as this campaign left it ({'; '.join(told[:SPOKEN_CHANGES])}{more}). The flights of before "
        f"are set aside in {aside}; those of the same craft in the same conditions are kept."
    )

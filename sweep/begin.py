"""The results folder made a campaign's own: taken up, gone on with, refused, or taken over from an earlier campaign."""

from __future__ import annotations

import os
import shutil
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from sweep.conditions import Condition, condition_table
from sweep.content import CHANGED, differences, flight_keys, flown_content
from sweep.earlier import EARLIER, keys_of, set_aside, share_flights, write_keys
from sweep.store import (
    FINDINGS,
    GROWN,
    MANIFEST,
    ChangedCampaignError,
    StoreError,
    now,
    read_manifest,
    seeds,
    surroundings,
    sync_folder,
    write_manifest,
    write_table,
    write_whole,
)

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign

MOST_CHANGES = 12
SPOKEN_CHANGES = 3

DERIVED = (*GROWN, *FINDINGS, "changes", "standings", "limits", "dropped", "rounds")
"""Tables that tell of designs by their numbers: after a change those are of other designs."""


def begin(folder: Path, campaign: Campaign, designs: pd.DataFrame, conditions: Sequence[Condition]) -> list[str]:
    """Make the folder this campaign's, or see that it is; sentences that a person should know.

    Scores, limits and the title may change over the same flights. Where what is flown changes, the flights of before are set
    aside in a folder of `earlier`, from which `Earlier` takes those that this campaign shares. Raises ChangedCampaignError
    naming what differs where it shares none, StoreError if the folder holds something else.
    """
    content, keys = flown_content(campaign, designs), flight_keys(campaign, designs, conditions)
    before = read_manifest(folder) if (folder / MANIFEST).exists() else None
    if before is None and any(not path.name.startswith(".") for path in folder.iterdir()):
        raise StoreError(f"{folder}: not empty, and not a results folder; name another one with --out.")
    said: list[str] = []
    if before is not None and (changes := list(differences(before["content"], content))):
        if not any(share_flights(keys, keys_of(flights)) for flights in (folder / "flights", *set_aside(folder))):
            raise _refusal(folder, changes)
        said, before = [_set_aside(folder, changes)], None
    files = _files(campaign)
    counts = {"designs": len(designs), "conditions": len(conditions), "replicates": campaign.replicates}
    about = {"name": campaign.name, "seeds": seeds(campaign)} | counts | _kept(before) | {"finished": None, "files": files}
    write_manifest(folder, surroundings() | about | {"content": content})
    (folder / "flights").mkdir(exist_ok=True)
    write_keys(folder, keys)
    for name, text in files.items():
        (folder / name).parent.mkdir(exist_ok=True)
        write_whole(folder / name, text.encode())
    write_table(folder, "designs", designs.reset_index())
    write_table(folder, "conditions", condition_table(tuple(conditions)))
    return said


def _files(campaign: Campaign) -> dict[str, str]:
    """The campaign's own files, by their place in the folder."""
    texts = {"campaign.yaml": campaign.campaign_text, "craft.yaml": campaign.craft_text, "listed.csv": campaign.listed_text}
    texts |= {f"polars/{name}": text for name, text in campaign.polar_texts.items()}
    return {name: text for name, text in texts.items() if text}


def _kept(before: Mapping[str, Any] | None) -> dict[str, Any]:
    """What a manifest keeps of the runs before."""
    if before is None:
        return {"started": now(), "runs": []}
    return {key: before[key] for key in ("started", "runs", "kept", "race", "changes", *GROWN.values()) if key in before}


def _refusal(folder: Path, changes: list[str]) -> ChangedCampaignError:
    return ChangedCampaignError(
        f"{folder} holds flights of another campaign, none of which this one can keep; nothing was flown or changed. "
        "What differs:\n"
        + "\n".join(f"  {change}" for change in changes[:MOST_CHANGES])
        + (f"\n  and {len(changes) - MOST_CHANGES} more" if len(changes) > MOST_CHANGES else "")
        + "\nFly this campaign into another folder with --out, or delete that folder and fly everything again."
    )


def _set_aside(folder: Path, changes: list[str]) -> str:
    """Move the flights to where `Earlier` finds them, and let go of what was told of them; what to say about it.

    The move is one rename, and the flights know their keys: killed at any moment, either campaign goes on from what is there.
    """
    (folder / EARLIER).mkdir(exist_ok=True)
    aside = folder / EARLIER / str(1 + max((int(path.name) for path in set_aside(folder)), default=0))
    if (folder / "flights").exists():
        os.replace(folder / "flights", aside)
        sync_folder(folder / EARLIER)
        sync_folder(folder)
    for name in DERIVED:
        (folder / f"{name}.parquet").unlink(missing_ok=True)
    for name in ("standings.csv", "craft.yaml", "listed.csv"):
        (folder / name).unlink(missing_ok=True)
    for name in ("leaders", "polars"):
        shutil.rmtree(folder / name, ignore_errors=True)
    told = [change for change in changes if change not in CHANGED.values()] or changes
    more = f"; and {len(told) - SPOKEN_CHANGES} more" if len(told) > SPOKEN_CHANGES else ""
    return (
        f"The campaign has changed since its last run here ({'; '.join(told[:SPOKEN_CHANGES])}{more}). The flights of before "
        f"are set aside in {aside}; those of the same craft in the same conditions are kept."
    )

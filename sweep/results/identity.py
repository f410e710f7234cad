"""Whether a results folder is still what was flown in it: its campaign file, its notes and its flights told by their content.

How it is judged and what things are called may be edited in the campaign file there; what was flown may not.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out
from sweep.campaign.follow_up_plan import plan_tail
from sweep.campaign.plan import Search
from sweep.results.digests import flight_digest
from sweep.results.fingerprint import (
    CHANGED,
    JUDGED,
    JUDGED_TOO,
    Keys,
    called,
    decides,
    differences,
    flight_keys,
    flown_content,
    judged_content,
    map_content,
    share_flights,
)
from sweep.results.manifest import Manifest
from sweep.results.plain_files import StoreError, read_plain, write_whole
from sweep.words.numbers import count
from sweep.words.phrases import listed

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign

KEYS = "keys.json"
MOST_CHANGES, MOST_NAMED = 12, 12
"""Of what differs, and of designs by their numbers, that a message lists (judgement)."""
TRIED = 16
"""Designs whose keys are made anew to see that the flights are theirs (judgement): settings and conditions are of them all."""


class ChangedCampaignError(StoreError):
    """The folder holds flights of another campaign, or of another model."""


def write_keys(folder: Path, keys: Keys) -> None:
    """Keep the keys beside the flights of a results folder."""
    write_whole(folder / "flights" / KEYS, json.dumps(keys._asdict()).encode())


def keys_of(flights: Path) -> Keys | None:
    """The keys of a folder of flights; None if it has none that can be read."""
    try:
        keys = Keys(**json.loads(read_plain(flights / KEYS)))
        lists = keys.designs, keys.conditions
        sound = all(isinstance(each, list) and all(isinstance(key, str) for key in each) for each in lists)
    except (OSError, ValueError, TypeError, RecursionError):
        return None
    return keys if sound and isinstance(keys.settings, str) else None


def flown_keys(folder: Path) -> Keys:
    """The keys of the flights of a results folder; raises StoreError if there are none."""
    keys = keys_of(folder / "flights")
    if keys is None:
        raise StoreError(
            f"{folder / 'flights' / KEYS}: is not there, or cannot be read. `foilsweep run` with its campaign makes it anew, "
            "and the flights stay."
        )
    return keys


def check_flown(folder: Path, manifest: Manifest, campaign: Campaign) -> Keys:
    """See that the campaign of a folder is the one that was flown there; the keys of its flights.

    Raises ChangedCampaignError with what differs and both ways out; StoreError if the flights there are of another campaign.
    """
    designs, conditions = lay_out(campaign), list_conditions(campaign)
    if changes := [*_edits(manifest, campaign, designs), *_edits_of_tail(folder, manifest, campaign, designs)]:
        raise ChangedCampaignError(_refusal(folder, changes, campaign, designs))
    keys = flown_keys(folder)
    few = flight_keys(campaign, designs.head(TRIED), conditions)
    own = is_of_this_model(manifest) and few != keys._replace(designs=keys.designs[:TRIED])
    counts = {
        "designs": (manifest.designs, len(designs)),
        "conditions": (manifest.conditions, len(conditions)),
        "replicates": (manifest.replicates, campaign.replicates),
    }
    if own or (len(keys.designs), len(keys.conditions)) != (len(designs), len(conditions)):
        raise StoreError(f"{folder / 'flights'}: are the flights of another campaign than the one beside them. {_OTHERS}")
    if wrong := [f"{name}: found {found}, wanted {wanted}" for name, (found, wanted) in counts.items() if found != wanted]:
        raise StoreError(f"{folder}: manifest.json does not tell of this campaign ({'; '.join(wrong)}). {_AGAIN}")
    return keys


_AGAIN = "`foilsweep run` with its campaign writes it anew, and the flights stay."
_OTHERS = "Put back those that were here, or `foilsweep run` with the campaign sets these aside and flies its own."


def is_of_this_model(manifest: Manifest) -> bool:
    """Whether the flights were flown by the sources that are at work."""
    return manifest.model == flight_digest()


def _edits(manifest: Manifest, campaign: Campaign, designs: pd.DataFrame) -> Iterator[str]:
    """What of the flights' content is not as the manifest has it: not the model, nor how a race is judged."""
    contents = manifest.content, flown_content(campaign, designs)
    without = {"model", *((*JUDGED, *JUDGED_TOO) if decides(campaign) else ())}
    was, now = ({key: value for key, value in content.items() if key not in without} for content in contents)
    return (called(change, campaign) for change in differences(was, now))


def _edits_of_tail(folder: Path, manifest: Manifest, campaign: Campaign, designs: pd.DataFrame) -> Iterator[str]:
    """What of the flights that follow the sweep is not as it was asked for."""
    ride_map = plan_tail(campaign, len(designs), len(list_conditions(campaign)), manifest.spare).map
    if (folder / "rides.parquet").exists():
        was = {key: value for key, value in (manifest.map or {}).items() if key not in ("flights", "designs")}
        yield from differences(was, ride_map and map_content(ride_map), "map")
    whole = manifest.finished and (manifest.tail is None or manifest.tail.leads)
    there = "usual" if (folder / "tolerances.parquet").exists() else "none"
    if (whole or there == "usual") and campaign.tolerances != there:
        yield f"tolerances: was {there}, is {campaign.tolerances}"
    outings = int((manifest.outings or {}).get("outings", 0)) if (folder / "outings.parquet").exists() else 0
    if (whole or outings) and campaign.outings != outings:
        yield f"outings: was {outings}, is {campaign.outings}"


def _refusal(folder: Path, changes: list[str], campaign: Campaign, designs: pd.DataFrame) -> str:
    told = [change for change in changes if change not in CHANGED.values()] or changes
    more = f"\n  and {len(told) - MOST_CHANGES} more" if len(told) > MOST_CHANGES else ""
    new = folder.with_name(f"{folder.absolute().name}-2")
    run = (
        f"`foilsweep run {folder}`, which keeps the flights that are still the same."
        if _keeps_some(folder, campaign, designs)
        else f"`foilsweep run {folder} --out {new}`; none of the flights here could be kept."
    )
    return (
        f"{folder / 'campaign.yaml'} and the files beside it are not what was flown here; nothing was written. What differs:\n"
        + "\n".join(f"  {change}" for change in told[:MOST_CHANGES])
        + more
        + f"\nEither undo that there: manifest.json has the files as they were flown, under `files`. Or fly it: {run}"
    )


def _keeps_some(folder: Path, campaign: Campaign, designs: pd.DataFrame) -> bool:
    """Whether a run of the campaign as it is now would keep some of the flights; few designs are tried before all."""
    held, conditions = keys_of(folder / "flights"), list_conditions(campaign)
    few = flight_keys(campaign, designs.head(TRIED), conditions)
    if held is None or few.settings != held.settings or not set(few.conditions) & set(held.conditions):
        return False
    return share_flights(few, held) or share_flights(flight_keys(campaign, designs, conditions), held)


def cautions(folder: Path, manifest: Manifest, campaign: Campaign, dropped: pd.DataFrame) -> list[str]:
    """What to say of a folder that may be ranked and shown, but not as if it had been flown so today.

    dropped: of a race, who left it (`race.DROPPED`).
    """
    said = []
    if not is_of_this_model(manifest):
        version = manifest.versions.get("foilsweep", "another one")
        said.append(f"These flights were flown by another craft model than this program has (version {version}).")
    judged, was = judged_content(campaign), manifest.content
    otherwise = any(judged.get(key) != was.get(key) for key in (*JUDGED, *JUDGED_TOO))
    if isinstance(campaign.plan, Search) and otherwise:
        said.append(
            "This search was flown by another score or other limits: it narrowed around what was good by those. By today's the "
            f"best may lie where it hardly looked. `foilsweep run {folder}` searches by today's."
        )
    elif campaign.budget and otherwise:
        numbers = dropped["design"].tolist() if len(dropped) else []
        who = f" ({_named(numbers)})" if numbers else ""
        said.append(
            "This race was flown by another score or other limits: by those "
            f"{count(len(numbers), 'design', 'designs')} dropped out{who}. By today's they might have stayed, and they are "
            f"ranked by the flights that they have. `foilsweep run {folder}` flies the race by today's."
        )
    return said


def _named(numbers: list[int]) -> str:
    few = [str(number) for number in numbers[:MOST_NAMED]]
    return listed([*few, f"{len(numbers) - len(few)} more"] if len(numbers) > len(few) else few, "and")

"""What a run that was stopped has left: the standings of what can be compared already, and what is missing."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.campaign.conditions import condition_table, list_conditions
from sweep.campaign.follow_up_plan import plan_tail
from sweep.campaign.plan import Search
from sweep.insight.limits import COLUMNS, POOLED
from sweep.insight.rank import judged, rank_flights
from sweep.insight.ranking import standings as standings_of
from sweep.model.quantities import RESPONSE_NAMES
from sweep.results import store
from sweep.results.identity import cautions
from sweep.results.manifest import Manifest, read_manifest
from sweep.words.numbers import grouped
from sweep.words.phrases import together

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.results.store import Results

LATER = {
    "builds": "builds at their own best settings",
    "effects": "what matters",
    "leaders": "the leading designs' recorded rides",
    "rides": "where they ride",
    "tolerances": "the leaders as built a little off",
    "outings": "the leaders' whole outings",
    "changes": "what to try next",
}
"""What comes after the flights, by its table, in the order of a run."""


GOES_ON = "The same run command goes on from there."


class Even(NamedTuple):
    """Designs that all flew the same blocks; `blocks` holds (condition, replicate), the same number in every condition."""

    designs: list[int]
    blocks: list[tuple[int, int]]

    @property
    def conditions(self) -> list[int]:
        """The conditions, in order."""
        return sorted({condition for condition, _ in self.blocks})

    @property
    def replicates(self) -> int:
        """Blocks of each condition."""
        return len(self.blocks) // max(len(self.conditions), 1)


def load_so_far(folder: Path) -> tuple[Results, list[str]]:
    """The results in a folder, finished or not, and sentences on what is missing: none after a whole run.

    Of a run that was stopped among its flights, those designs are ranked that met the same waves. Damaged shards of such a
    run are set aside. Raises StoreError for no results folder.
    """
    campaign, manifest, keys = store.load_flown(folder)
    if manifest.finished:
        return _with_cautions(store.load_results(folder), folder, [])
    store.sound_shards(folder, keys)
    flown = store.count_flights(folder)
    ranked = store.made_of(folder, "standings") == store.ranked_from(folder, campaign)
    chosen = isinstance(campaign.plan, Search) or (campaign.budget and (folder / "dropped.parquet").exists())
    if ranked and (chosen or flown >= manifest.planned):
        said = [_stopped(campaign, flown, manifest.planned), *_to_come(folder, campaign), GOES_ON]
        return _with_cautions(store.load_results(folder), folder, said)
    parts = store.read_shards(folder, ["design", "condition", "replicate"])
    even = even_part(part[part["replicate"] < manifest.replicates] for part in parts)  # not those by which some flew on
    results = _rank_even(folder, campaign, manifest, even)
    said = [_stopped(campaign, flown, manifest.planned), _compared(even, manifest)]
    said += [*_to_come(folder, campaign, ranked=False), GOES_ON]
    return _with_cautions(results, folder, said)


def _with_cautions(results: Results, folder: Path, said: list[str]) -> tuple[Results, list[str]]:
    return results, [*said, *cautions(folder, results.manifest, results.campaign, results.dropped)]


def _stopped(campaign: Campaign, flown: int, planned: int) -> str:
    if isinstance(campaign.plan, Search):
        return f"This run was stopped before its end: it has flown {grouped(flown)} flights of a search."
    if campaign.budget:
        return f"This run was stopped before its end: it has flown {grouped(flown)} flights of a race."
    if flown > planned:
        return (
            f"This run was stopped before its end: all {grouped(planned)} flights of its designs are flown, and "
            f"{grouped(flown - planned)} more of the leading ones."
        )
    return f"This run was stopped before its end: {grouped(flown)} of {grouped(planned)} flights are flown."


def _compared(even: Even, manifest: Manifest) -> str:
    if not even.blocks:
        return "No designs have met the same waves yet, so none can be compared."
    designs, conditions, replicates = (
        f"{grouped(here)} of {grouped(all_)} {name}"
        for here, all_, name in (
            (len(even.designs), manifest.designs, "designs"),
            (len(even.conditions), manifest.conditions, "conditions"),
            (even.replicates, manifest.replicates, "replicates"),
        )
    )
    return (
        f"Ranked here are those that met the same waves: {designs}, in {conditions} with {replicates}. "
        "The order may change with the rest."
    )


def _to_come(folder: Path, campaign: Campaign, ranked: bool = True) -> list[str]:
    manifest = read_manifest(folder)
    tail = plan_tail(campaign, manifest.designs, manifest.conditions, manifest.spare)
    unasked = {"rides": tail.map is None, "changes": not tail.changed}
    unasked |= {"tolerances": campaign.tolerances == "none", "outings": not campaign.outings}
    asked = {name: said for name, said in LATER.items() if not unasked.get(name)}
    there = {"leaders": any((folder / "leaders").glob("*.parquet"))}
    missing = [said for name, said in asked.items() if not (ranked and there.get(name, (folder / f"{name}.parquet").exists()))]
    return [f"Not there yet: {together(missing)}."] if missing else ["Some of what follows the flights may be incomplete."]


def even_part(parts: Any) -> Even:
    """The largest even part of the flights, or an empty one; parts: tables with design, condition, replicate.

    Either all designs that flew, in the blocks that all of them met, or those that flew most, in theirs.
    """
    rows = pd.concat([pd.DataFrame({"design": [], "condition": [], "replicate": []}, dtype=int), *parts], ignore_index=True)
    if not (rows["design"] == 0).any():
        return Even([], [])
    flown = rows.assign(there=True).pivot_table(
        index="design", columns=["condition", "replicate"], values="there", aggfunc="any", fill_value=False
    )
    there = flown.to_numpy(dtype=np.bool_)
    met = there.sum(axis=1)
    options = [_even(flown, there, chosen) for chosen in (met > 0, met == met.max())]
    return max(options, key=lambda even: len(even.designs) * len(even.blocks))


def _even(flown: pd.DataFrame, there: NDArray[np.bool_], chosen: NDArray[np.bool_]) -> Even:
    """The blocks that all the chosen designs met, thinned to the same number in each condition, so that most flights stay."""
    if not chosen[0]:
        return Even([], [])
    of: dict[int, list[int]] = {}
    blocks_flown: list[Any] = flown.columns.tolist()
    for condition, replicate in (blocks_flown[at] for at in np.flatnonzero(there[chosen].all(axis=0))):
        of.setdefault(int(condition), []).append(int(replicate))
    counts = [len(replicates) for replicates in of.values()]
    each = max(sorted(set(counts), reverse=True), key=lambda most: most * sum(n >= most for n in counts), default=0)
    blocks = [(condition, replicate) for condition, all_of in of.items() if len(all_of) >= each for replicate in all_of[:each]]
    return Even([int(design) for design in flown.index[chosen]], blocks)


def _rank_even(folder: Path, campaign: Campaign, manifest: Manifest, even: Even) -> Results:
    """The results of an even part: its designs ranked in its conditions, without anything that comes after the flights."""
    conditions = condition_table(list_conditions(campaign))
    kept = conditions[conditions["condition"].isin(even.conditions)].reset_index(drop=True)
    standings, limits = nobody(judged(campaign)), pd.DataFrame(columns=list(COLUMNS))
    flights = pd.DataFrame(columns=["design", "condition", "replicate", "status", *RESPONSE_NAMES])
    if even.blocks:
        flights = pd.concat([_inside(part, even) for part in store.read_shards(folder)], ignore_index=True)
        campaign = campaign.model_copy(update={"replicates": even.replicates})
        standings, limits = _ranked(campaign, flights, even, list(kept["name"]))
    return store.Results(
        campaign=campaign,
        designs=store.read_designs(folder, campaign, manifest),
        conditions=kept,
        flights=flights,
        standings=standings,
        limits=limits,
        leaders={},
        manifest=manifest,
    )


def _inside(flights: pd.DataFrame, even: Even) -> pd.DataFrame:
    """The flights of the even part."""
    blocks = set(even.blocks)
    met = np.array([block in blocks for block in zip(flights["condition"], flights["replicate"], strict=True)], dtype=np.bool_)
    inside: pd.DataFrame = flights[flights["design"].isin(even.designs) & met]
    return inside


def _ranked(campaign: Campaign, flights: pd.DataFrame, even: Even, names: list[str]) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Standings and limits; for the ranking, designs, conditions and replicates are counted from 0."""
    places = {block: at % even.replicates for at, block in enumerate(even.blocks)}
    counted = flights.assign(
        design=np.searchsorted(even.designs, flights["design"]),
        condition=np.searchsorted(even.conditions, flights["condition"]),
        replicate=[places[block] for block in zip(flights["condition"], flights["replicate"], strict=True)],
    )
    ranked, numbers = rank_flights(_with_season(campaign, even), [counted], names, even.designs), np.asarray(even.designs)
    tables = [table.assign(design=numbers[table["design"].to_numpy(dtype=int)]) for table in (ranked.standings, ranked.limits)]
    flown = dict(enumerate(even.conditions)) | {POOLED: POOLED}
    return tables[0], tables[1].assign(condition=tables[1]["condition"].map(flown))


def _with_season(campaign: Campaign, even: Even) -> Campaign:
    """The campaign with the conditions of the even part in its season."""
    some = [campaign.season[at] for at in even.conditions] if campaign.season else []
    return campaign.model_copy(update={"season": tuple(len(some) * each / sum(some) for each in some)})


def nobody(responses: Sequence[str]) -> pd.DataFrame:
    """Standings without a design."""
    verdict = pd.DataFrame({"verdict": ["kept"], "reason": [""], "doubtful": [False], "probable": [True]})
    return standings_of(np.zeros((1, 1, 1)), verdict, np.zeros(1), {name: np.zeros(1) for name in responses}).head(0)

"""The whole way: a campaign, its flights, the standings, the leaders' time histories, the site."""

from __future__ import annotations

import time
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import joblib
import numpy as np
import pandas as pd

from sweep import store
from sweep.after import Work, follow
from sweep.begin import begin, check_free
from sweep.cluster import on_cluster
from sweep.conditions import list_conditions
from sweep.designs import craft_of, lay_out
from sweep.earlier import Earlier, complete_shards
from sweep.findings import find, gathered, mean_responses
from sweep.flights import plan_shards, trial_flight, warm_up
from sweep.heats import fly_race
from sweep.insight.ranking import standings
from sweep.insight.uneven import uneven_standings
from sweep.limits import Counts, judge, verdicts
from sweep.lock import UnwritableError
from sweep.model.mass import mass_properties, price
from sweep.model.quantities import RESPONSE_NAMES
from sweep.progress import Watcher
from sweep.scores import Array, Tally, flight_scores
from sweep.tail import LEADERS
from sweep.wording import grouped

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft
    from sweep.conditions import Condition
    from sweep.store import Results

MOST_A_PROCESSOR = 4
"""Threads (judgement)."""

RUN_AGAIN = "`foilsweep run` with its campaign flies them."


class Ranked(NamedTuple):
    """The standings and what is behind them: limits (columns as in `judge`), scores (designs, conditions, replicates)."""

    standings: pd.DataFrame
    limits: pd.DataFrame
    scores: Array


def run(
    campaign: Campaign,
    folder: str | Path,
    workers: int | None = None,
    watcher: Watcher | None = None,
    cluster: str | None = None,
) -> Results:
    """Fly what is not flown yet, rank, record the leaders, publish.

    folder: the results folder; the same call goes on where an interrupted one stopped. workers: threads, all processors by
    default. cluster: address of a Dask scheduler whose workers fly instead. Raises StoreError if the folder is in use or
    holds something else, and as `on_cluster`.
    """
    from sweep.pages import publish

    folder, watcher = Path(folder), watcher or Watcher()
    workers = _fitting(workers, watcher) if cluster is None else workers
    folder.mkdir(parents=True, exist_ok=True)
    check_free(folder)
    designs, conditions = lay_out(campaign), list_conditions(campaign)
    with store.locked(folder), on_cluster(cluster, lambda: trial_flight(campaign, designs, conditions)):
        for sentence in begin(folder, campaign, with_costs(campaign, designs), conditions):
            watcher.say(sentence)
        fly = fly_race if campaign.budget else fly_missing
        fly(campaign, designs, conditions, folder, workers, watcher)
        ranked = _rank_folder(campaign, folder)
        leaders = choose_leaders(ranked.standings)
        follow(Work(campaign, designs, conditions, folder, workers, watcher), leaders, ranked.standings, ranked.scores)
        store.finish(folder)
        publish(folder)
    return store.load_results(folder)


def _fitting(workers: int | None, watcher: Watcher) -> int | None:
    """At most `MOST_A_PROCESSOR` threads for each processor: a flight keeps one busy, and more would only take memory."""
    most: int = MOST_A_PROCESSOR * joblib.cpu_count()
    if workers is None or workers <= most:
        return workers
    watcher.say(f"{workers} workers were asked for; this computer flies with {most}, which keep all its processors busy.")
    return most


def rank(folder: str | Path) -> pd.DataFrame:
    """Rank the flights of a results folder again by the campaign file there, whose scores and limits may have changed.

    A folder that takes no writing is ranked all the same, and nothing is kept. Raises StoreError if flights are missing.
    """
    return rank_results(folder)[0].standings


def rank_results(folder: str | Path) -> tuple[Results, bool]:
    """As `rank`: all results of the folder with the new tables, and whether these were kept in it."""
    folder = Path(folder)
    store.load_stored_campaign(folder)
    try:
        with store.locked(folder):
            rank_locked(folder)
            return store.load_results(folder), True
    except UnwritableError:
        if len(list(store.whole_shards(folder / "flights"))) < store.count_shards(folder):
            raise store.StoreError(f"{folder / 'flights'}: some are damaged. {RUN_AGAIN}") from None
        return store.load_results(folder, _rank_tables(store.load_stored_campaign(folder), folder)[1]), False


def rank_locked(folder: Path) -> pd.DataFrame:
    """As `rank`, of a folder whose lock is held."""
    campaign = store.load_stored_campaign(folder)
    _, torn = store.sound_shards(folder)
    if torn:
        raise store.StoreError(f"{folder / 'flights'}: {', '.join(torn)} damaged, set aside. {RUN_AGAIN}")
    return _rank_folder(campaign, folder).standings


def with_costs(campaign: Campaign, designs: pd.DataFrame) -> pd.DataFrame:
    """The design table with the columns mass (kg) and price of each whole craft; no price where none was given."""
    costs = [_cost(craft_of(campaign, row)) for _, row in designs.iterrows()]
    priced = designs.assign(**{name: [cost[at] for cost in costs] for at, name in enumerate(("mass", "price"))})
    return priced if priced["price"].any() else priced.drop(columns="price")


def _cost(craft: Craft) -> tuple[float, float]:
    return mass_properties(craft).mass, price(craft)


def fly_missing(
    campaign: Campaign,
    designs: pd.DataFrame,
    conditions: tuple[Condition, ...],
    folder: Path,
    workers: int | None,
    watcher: Watcher,
) -> None:
    """Fly the shards that the folder does not hold whole."""
    sound, torn = store.sound_shards(folder)
    for name in torn:
        watcher.say(f"{folder / 'flights' / name} was damaged: set aside, and flown again.")
    shards = plan_shards(len(designs), len(conditions), campaign.replicates)
    missing = [shard for shard in shards if shard.number not in sound]
    total, lacking = (sum(shard.flights for shard in some) for some in (shards, missing))
    earlier = Earlier(folder)
    kept = earlier.count(missing, designs.index.to_numpy())
    left = lacking - kept
    if kept:
        watcher.say(f"Of {total} flights {kept} are kept from an earlier campaign of this folder; {left} are left to fly.")
    if left:
        warm_up(campaign, designs, conditions)
    watcher.begin(total, total - left, campaign.flight.length)
    so_far, begun = SoFar(campaign, len(designs)), time.monotonic()
    for shard, flights in complete_shards(campaign, designs, conditions, missing, earlier, workers, watcher.flown):
        store.add_shard(folder, shard.number, flights)
        watcher.best(*so_far.add(flights))
    watcher.end()
    if kept:
        store.note_kept(folder, kept)
    if left:
        store.note_run(folder, left, time.monotonic() - begun)


class SoFar:
    """Running mean score of every design, to name a leader before all is flown."""

    def __init__(self, campaign: Campaign, designs: int) -> None:
        self._campaign = campaign
        self._totals, self._flights = np.zeros(designs), np.zeros(designs)

    def add(self, flights: pd.DataFrame) -> tuple[int, float]:
        """Count flights; the design that leads, of those that have flown most, and its mean score."""
        designs = flights["design"].to_numpy()
        self._totals[designs] += flight_scores(flights, self._campaign.score, self._campaign.flight.scored)
        self._flights[designs] += 1.0
        most = np.flatnonzero(self._flights == self._flights.max())
        leader = most[(self._totals[most] / self._flights[most]).argmin()]
        return int(leader), float(self._totals[leader] / self._flights[leader])


def rank_flights(
    campaign: Campaign, parts: Iterable[pd.DataFrame], names: list[str], designs: int, dropped: pd.DataFrame | None = None
) -> Ranked:
    """Scores, limits and standings of all flights of a campaign, which are let go part by part.

    parts: rows with at least `wanted_columns`; names: of the conditions, in order; dropped: of a race, who left it
    (`racing.DROPPED`). Raises ValueError if a flight is there twice, or missing without a race.
    """
    tally = Tally(campaign.score, campaign.flight.scored, (designs, len(names), campaign.replicates), judged(campaign))
    counts = Counts(campaign.limits, designs, len(names))
    for part in parts:
        tally.add(part)
        counts.add(part)
    if dropped is None and (missing := tally.missing()):
        raise ValueError(f"{missing} flights are missing")
    limits = judge(counts, campaign.flight.scored)
    summed = verdicts(limits, campaign.limits, names, designs)
    if dropped is not None:
        return Ranked(
            uneven_standings(tally.scores, summed, dropped, tally.failed_share(), tally.means()), limits, tally.scores
        )
    return Ranked(standings(tally.scores, summed, tally.failed_share(), tally.means()), limits, tally.scores)


def judged(campaign: Campaign) -> list[str]:
    """The responses that a campaign scores or limits."""
    return list(dict.fromkeys([*campaign.score, *campaign.limits]))


def wanted_columns(campaign: Campaign) -> list[str]:
    """The columns of the flights that ranking reads."""
    return list(dict.fromkeys(["design", "condition", "replicate", "status", "time_foilborne", *judged(campaign)]))


def _rank_folder(campaign: Campaign, folder: Path) -> Ranked:
    """Rank what the folder holds, and write what comes of it there."""
    ranked, tables = _rank_tables(campaign, folder)
    for name, table in tables.items():
        store.write_table(folder, name, table)
    store.write_whole(folder / "standings.csv", ranked.standings.to_csv(index=False).encode())
    return ranked


def _rank_tables(campaign: Campaign, folder: Path) -> tuple[Ranked, dict[str, pd.DataFrame]]:
    """What the flights of a folder tell, and the tables of that by their names; nothing is written."""
    conditions, designs = store.read_table(folder, "conditions"), store.read_manifest(folder)["designs"]
    dropped = store.read_table(folder, "dropped") if campaign.budget else None
    everything = designs * len(conditions) * campaign.replicates
    flown = int(store.read_table(folder, "rounds")["flights"].sum()) if campaign.budget else everything
    if missing := flown - store.count_flights(folder):
        raise store.StoreError(f"{folder}: {grouped(missing)} flights are missing. {RUN_AGAIN}")
    parts = store.read_shards(folder, wanted_columns(campaign))
    ranked = rank_flights(campaign, parts, list(conditions["name"]), designs, dropped)
    return ranked, {"standings": ranked.standings, "limits": ranked.limits} | _findings(campaign, folder, ranked)


def _findings(campaign: Campaign, folder: Path, ranked: Ranked) -> dict[str, pd.DataFrame]:
    """What the flights tell beyond the standings; of responses, one column is read at a time."""

    def values(name: str) -> Array:
        return gathered(store.read_shards(folder, ["design", "condition", "replicate", name]), name, ranked.scores.shape)

    designs, verdict = store.read_table(folder, "designs"), ranked.standings.set_index("design")["verdict"].sort_index()
    found = find(campaign, designs, ranked.scores, verdict.tolist(), judged(campaign), values)
    means = mean_responses(store.read_shards(folder, ["design", *RESPONSE_NAMES]), len(designs))
    return found._asdict() | {"responses": means.reset_index()}


def choose_leaders(table: pd.DataFrame) -> list[int]:
    """The first designs of the standings, then the base craft."""
    return list(dict.fromkeys([*table["design"].head(LEADERS).tolist(), 0]))

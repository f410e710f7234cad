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
from sweep.conditions import condition_table, list_conditions
from sweep.content import Keys, conditions_digest, designs_digest
from sweep.designs import craft_of, lay_out
from sweep.earlier import Earlier, complete_shards
from sweep.findings import find, gathered, mean_responses
from sweep.flights import plan_shards, trial_flight, warm_up
from sweep.heats import fly_race
from sweep.identity import flown_keys
from sweep.insight.ranking import standings
from sweep.insight.uneven import uneven_standings
from sweep.limits import Counts, judge, verdicts
from sweep.lock import UnwritableError
from sweep.model.mass import mass_properties, price
from sweep.model.quantities import RESPONSE_NAMES
from sweep.plain_text import csv_text
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
    campaign, _, keys = store.load_flown(folder)
    try:
        with store.locked(folder):
            rank_locked(folder)
            return store.load_results(folder), True
    except UnwritableError:
        for name, why in store.unsound_shards(folder, keys).items():
            raise store.StoreError(f"{folder / 'flights'}: {name} is {why}. {RUN_AGAIN}") from None
        return store.load_results(folder, _rank_tables(campaign, folder)[1]), False


def rank_locked(folder: Path) -> pd.DataFrame:
    """As `rank`, of a folder whose lock is held."""
    campaign, _, keys = store.load_flown(folder)
    _, aside = store.sound_shards(folder, keys, None if campaign.budget else planned(campaign, keys))
    if aside:
        told = ", ".join(f"{name} is {why}" for name, why in aside.items())
        raise store.StoreError(f"{folder / 'flights'}: {told}: set aside. {RUN_AGAIN}")
    return _rank_folder(campaign, folder).standings


def is_ranked(folder: Path) -> bool:
    """Whether the standings of a folder, if it has any, were made from its campaign as it is and the flights that it has."""
    made = store.made_of(folder, "standings")
    return not (folder / "standings.parquet").exists() or made == store.ranked_from(folder, store.load_flown(folder)[0])


def planned(campaign: Campaign, keys: Keys) -> dict[int, str]:
    """The digest of the flights that each number of a shard stands for; all but a race's are known before they fly."""
    shards = plan_shards(len(keys.designs), len(keys.conditions), campaign.replicates)
    return {shard.number: keys.of_flights(shard.condition, shard.replicate, range(shard.first, shard.last)) for shard in shards}


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
    keys = flown_keys(folder)
    sound, aside = store.sound_shards(folder, keys, planned(campaign, keys))
    for name, why in aside.items():
        watcher.say(f"{folder / 'flights' / name} was {why}: set aside, and flown again.")
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
        store.add_shard(folder, shard.number, flights, keys.of_rows(flights))
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
    _rename(campaign, folder)
    ranked, tables = _rank_tables(campaign, folder)
    made_from = store.ranked_from(folder, campaign)
    store.write_whole(folder / "standings.csv", csv_text(ranked.standings).encode())
    for name, table in tables.items():  # the standings last: they say that the others are there
        store.write_table(folder, name, table, made_from)
    return ranked


def _rename(campaign: Campaign, folder: Path) -> None:
    """Have the tables that a run begins with call things as the campaign does now, and price them so."""
    if store.made_of(folder, "designs") != (made_from := designs_digest(campaign)):
        store.write_table(folder, "designs", with_costs(campaign, lay_out(campaign)).reset_index(), made_from)
    if store.made_of(folder, "conditions") != (made_from := conditions_digest(campaign)):
        store.write_table(folder, "conditions", condition_table(list_conditions(campaign)), made_from)


def _rank_tables(campaign: Campaign, folder: Path) -> tuple[Ranked, dict[str, pd.DataFrame]]:
    """What the flights of a folder tell, and the tables of that by their names; nothing is written."""
    names, manifest = [condition.name for condition in list_conditions(campaign)], store.read_manifest(folder)
    designs = manifest["designs"]
    dropped = store.read_table(folder, "dropped") if campaign.budget else None
    everything = designs * len(names) * campaign.replicates
    flown = int(store.read_table(folder, "rounds")["flights"].sum()) if campaign.budget else everything
    if missing := flown - store.count_flights(folder):
        raise store.StoreError(f"{folder}: {grouped(missing)} flights are missing. {RUN_AGAIN}")
    try:
        ranked = rank_flights(campaign, store.read_shards(folder, wanted_columns(campaign)), names, designs, dropped)
    except ValueError as error:
        raise store.StoreError(f"{folder / 'flights'}: {error}. {RUN_AGAIN}") from error
    found = _findings(campaign, folder, ranked, store.read_designs(folder, campaign, manifest))
    return ranked, found | {"limits": ranked.limits, "standings": ranked.standings}


def _findings(campaign: Campaign, folder: Path, ranked: Ranked, designs: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """What the flights tell beyond the standings; of responses, one column is read at a time."""

    def values(name: str) -> Array:
        return gathered(store.read_shards(folder, ["design", "condition", "replicate", name]), name, ranked.scores.shape)

    verdict = ranked.standings.set_index("design")["verdict"].sort_index()
    found = find(campaign, designs, ranked.scores, verdict.tolist(), judged(campaign), values)
    means = mean_responses(store.read_shards(folder, ["design", *RESPONSE_NAMES]), len(designs))
    return found._asdict() | {"responses": means.reset_index()}


def choose_leaders(table: pd.DataFrame) -> list[int]:
    """The first designs of the standings, then the base craft."""
    return list(dict.fromkeys([*table["design"].head(LEADERS).tolist(), 0]))

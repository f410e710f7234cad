"""The whole way: a campaign, its flights, the standings, the leaders' time histories, the site."""

from __future__ import annotations

import time
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from sweep import store, troubles
from sweep.begin import begin, check_free
from sweep.changes import fly_variants, next_variants, worse_variants
from sweep.cluster import on_cluster
from sweep.conditions import condition_table, list_conditions
from sweep.content import Keys, conditions_digest, designs_digest, map_content
from sweep.designs import craft_of, lay_out
from sweep.earlier import Earlier, complete_shards
from sweep.findings import find, gathered, mean_responses
from sweep.flights import plan_shards, trial_flight, warm_up
from sweep.heats import fly_race
from sweep.identity import flown_keys
from sweep.insight.ranking import standings
from sweep.insight.uneven import uneven_standings
from sweep.limits import Counts, judge, verdicts
from sweep.model.mass import mass_properties, price
from sweep.model.quantities import RESPONSE_NAMES
from sweep.plain_text import csv_text
from sweep.progress import Watcher
from sweep.recording import record_flights
from sweep.rides import fly_map, map_done
from sweep.scores import Array, Tally, flight_scores
from sweep.tolerances import as_built, content, fly_as_built
from sweep.wording import grouped

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft
    from sweep.conditions import Condition
    from sweep.store import Results

LEADERS = 3
"""How many of the first designs have their flights recorded; the base craft's are recorded too."""


MAP_PAUSE = 10.0
"""Seconds between two writings of a table that grows: what a kill may cost."""


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
        histories = record_flights(campaign, designs, conditions, leaders, workers)
        store.write_leaders(folder, histories, flown_keys(folder))
        explain_troubles(campaign, designs, conditions, leaders, folder, workers)
        map_rides(campaign, designs, leaders, folder, workers, watcher)
        build_off(campaign, designs, conditions, leaders, folder, workers, watcher)
        try_changes(campaign, designs, conditions, ranked, folder, workers, watcher)
        store.finish(folder)
        publish(folder)
    return store.load_results(folder)


def rank(folder: str | Path) -> pd.DataFrame:
    """Rank the flights of a results folder again by the campaign file there, whose scores and limits may have changed.

    Raises StoreError if flights are missing.
    """
    folder = Path(folder)
    store.load_stored_campaign(folder)
    with store.locked(folder):
        return rank_locked(folder)


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


def explain_troubles(
    campaign: Campaign,
    designs: pd.DataFrame,
    conditions: tuple[Condition, ...],
    chosen: list[int],
    folder: Path,
    workers: int | None,
) -> None:
    """Keep what went wrong in the flights of the chosen designs, and why, with the seconds around it."""

    def flights_of(design: int) -> pd.DataFrame:
        return store.read_flights(folder, troubles.READ, design)

    told = troubles.explain(campaign, designs, conditions, chosen, flights_of, workers)
    store.write_grown(folder, "troubles", told.events)
    store.write_grown(folder, "moments", told.moments)


def map_rides(
    campaign: Campaign, designs: pd.DataFrame, chosen: list[int], folder: Path, workers: int | None, watcher: Watcher
) -> None:
    """Fly the chosen designs over the campaign's map, from where the folder's table ends; the table is written as it grows."""
    ride_map = campaign.map
    if ride_map is None:
        store.drop_grown(folder, "rides")
        return
    cells, flights = len(ride_map.cells()), len(chosen) * ride_map.replicates
    asked = {"flights": cells * flights, "designs": chosen} | (map_content(ride_map) or {})
    table = store.begin_grown(folder, "rides", asked)
    if map_done(ride_map, table, len(chosen)):
        return
    watcher.say(f"Where {len(chosen)} designs ride: {cells} speeds, wave heights and headings.")
    done = int(table["blocks"].sum()) if len(table) else 0
    watcher.begin(cells * flights, done, campaign.flight.length)
    for grown in fly_map(campaign, ride_map, designs, chosen, table, workers, watcher.flown):
        store.write_grown(folder, "rides", grown)
    watcher.end()


def build_off(
    campaign: Campaign,
    designs: pd.DataFrame,
    conditions: tuple[Condition, ...],
    chosen: list[int],
    folder: Path,
    workers: int | None,
    watcher: Watcher,
) -> None:
    """Fly the chosen designs as built a little off, if the campaign asks for it, from where the folder's table ends."""
    if campaign.tolerances == "none":
        store.drop_grown(folder, "tolerances")
        return
    built = as_built(campaign, designs, chosen)
    table = store.begin_grown(folder, "tolerances", content(built))
    if len(table) == built.flights(len(conditions)):
        return
    watcher.say(f"{len(chosen)} designs as built a little off: {len(built.designs)} craft in {len(conditions)} conditions.")
    watcher.begin(built.flights(len(conditions)), len(table), campaign.flight.length)
    first = len(table) // len(built.designs)
    _grow(folder, "tolerances", table, fly_as_built(campaign, built, conditions, first, workers, watcher.flown))
    watcher.end()


def _grow(folder: Path, name: str, table: pd.DataFrame, parts: Iterable[pd.DataFrame]) -> None:
    """Write a table as it grows, and what there is of it when it is stopped."""
    written = time.monotonic()
    try:
        for part in parts:
            table = pd.concat([table, part], ignore_index=True) if len(table) else part
            if time.monotonic() - written > MAP_PAUSE:
                store.write_grown(folder, name, table)
                written = time.monotonic()
    finally:
        store.write_grown(folder, name, table)


def try_changes(
    campaign: Campaign,
    designs: pd.DataFrame,
    conditions: tuple[Condition, ...],
    ranked: Ranked,
    folder: Path,
    workers: int | None,
    watcher: Watcher,
) -> None:
    """Fly small changes of the leading design, and poorer ones, unless the folder has them."""
    table = ranked.standings
    broken = table.loc[table["verdict"] == "broken", "design"].tolist()
    leader = int(table["design"].iloc[0])
    asked = {"leader": leader, "broken": len(broken)} | campaign.model_dump(mode="json", include={"score"})
    if leader in broken or store.holds_changes(folder, asked):
        return
    base = craft_of(campaign, designs.iloc[leader])
    groups = [next_variants(campaign, designs, ranked.scores, broken, leader), list(worse_variants(base))]
    watcher.say(f"Changes of design {leader}: {sum(map(len, groups))} variants.")
    found = [fly_variants(campaign, base, leader, group, conditions, workers) for group in groups if group]
    store.write_grown(folder, "changes", pd.concat(found, ignore_index=True))


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
    _rename(campaign, folder)
    names, designs = [condition.name for condition in list_conditions(campaign)], store.read_manifest(folder)["designs"]
    dropped = store.read_table(folder, "dropped") if campaign.budget else None
    everything = designs * len(names) * campaign.replicates
    flown = int(store.read_table(folder, "rounds")["flights"].sum()) if campaign.budget else everything
    if missing := flown - store.count_flights(folder):
        raise store.StoreError(f"{folder}: {grouped(missing)} flights are missing. {RUN_AGAIN}")
    try:
        ranked = rank_flights(campaign, store.read_shards(folder, wanted_columns(campaign)), names, designs, dropped)
    except ValueError as error:
        raise store.StoreError(f"{folder / 'flights'}: {error}. {RUN_AGAIN}") from error
    made_from = store.ranked_from(folder, campaign)
    _keep_findings(campaign, folder, ranked, made_from)
    store.write_table(folder, "limits", ranked.limits, made_from)
    store.write_whole(folder / "standings.csv", csv_text(ranked.standings).encode())
    store.write_table(folder, "standings", ranked.standings, made_from)  # the last: it says that the others are there
    return ranked


def _rename(campaign: Campaign, folder: Path) -> None:
    """Have the tables that a run begins with call things as the campaign does now, and price them so."""
    if store.made_of(folder, "designs") != (made_from := designs_digest(campaign)):
        store.write_table(folder, "designs", with_costs(campaign, lay_out(campaign)).reset_index(), made_from)
    if store.made_of(folder, "conditions") != (made_from := conditions_digest(campaign)):
        store.write_table(folder, "conditions", condition_table(list_conditions(campaign)), made_from)


def _keep_findings(campaign: Campaign, folder: Path, ranked: Ranked, made_from: str) -> None:
    """Write what the flights tell beyond the standings; of responses, one column is read at a time."""

    def values(name: str) -> Array:
        return gathered(store.read_shards(folder, ["design", "condition", "replicate", name]), name, ranked.scores.shape)

    designs, verdict = store.read_table(folder, "designs"), ranked.standings.set_index("design")["verdict"].sort_index()
    found = find(campaign, designs, ranked.scores, verdict.tolist(), judged(campaign), values)
    for name, table in found._asdict().items():
        store.write_table(folder, name, table, made_from)
    means = mean_responses(store.read_shards(folder, ["design", *RESPONSE_NAMES]), len(designs))
    store.write_table(folder, "responses", means.reset_index(), made_from)


def choose_leaders(table: pd.DataFrame) -> list[int]:
    """The first designs of the standings, then the base craft."""
    return list(dict.fromkeys([*table["design"].head(LEADERS).tolist(), 0]))

"""The whole way: a campaign, its flights, the standings, the leaders' time histories, the site."""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from sweep import store
from sweep.conditions import condition_table, list_conditions
from sweep.designs import craft_of, lay_out
from sweep.flights import fly_shards, plan_shards, record_flights, warm_up
from sweep.insight.ranking import standings
from sweep.limits import judge, verdicts
from sweep.model.mass import mass_properties, price
from sweep.progress import Watcher
from sweep.scores import failed_share, flight_scores, in_blocks, mean_responses

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft
    from sweep.conditions import Condition
    from sweep.store import Results

LEADERS = 3
"""How many of the first designs have their flights recorded; the base craft's are recorded too."""


class Ranked(NamedTuple):
    """The standings and the limits behind them; columns as in `standings` and `judge`."""

    standings: pd.DataFrame
    limits: pd.DataFrame


def run(campaign: Campaign, folder: str | Path, workers: int | None = None, watcher: Watcher | None = None) -> Results:
    """Fly what is not flown yet, rank, record the leaders, publish.

    folder: the results folder; the same call goes on where an interrupted one stopped. workers: threads, all processors by
    default. Raises StoreError if the folder is in use or holds something else.
    """
    from sweep.pages import publish

    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    designs, conditions = lay_out(campaign), list_conditions(campaign)
    with store.locked(folder):
        store.begin(folder, campaign, with_costs(campaign, designs), condition_table(conditions))
        fly_missing(campaign, designs, conditions, folder, workers, watcher or Watcher())
        ranked = _rank_folder(campaign, folder)
        leaders = choose_leaders(ranked.standings)
        store.write_leaders(folder, record_flights(campaign, designs, conditions, leaders, workers))
        store.finish(folder)
        publish(folder)
    return store.load_results(folder)


def rank(folder: str | Path) -> pd.DataFrame:
    """Rank the flights of a results folder again by the campaign file there, whose scores and limits may have changed.

    Raises StoreError if flights are missing.
    """
    folder = Path(folder)
    campaign = store.load_stored_campaign(folder)
    with store.locked(folder):
        return _rank_folder(campaign, folder).standings


def with_costs(campaign: Campaign, designs: pd.DataFrame) -> pd.DataFrame:
    """The design table with the columns mass (kg) and price of each whole craft."""
    costs = [_cost(craft_of(campaign, row)) for _, row in designs.iterrows()]
    return designs.assign(**{name: [cost[at] for cost in costs] for at, name in enumerate(("mass", "price"))})


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
    total, left = (sum(shard.flights for shard in some) for some in (shards, missing))
    if missing:
        warm_up(campaign, designs, conditions)
    watcher.begin(total, total - left, campaign.flight.length)
    so_far, begun = SoFar(campaign, len(designs)), time.monotonic()
    for shard, flights in fly_shards(campaign, designs, conditions, missing, workers, watcher.flown):
        store.add_shard(folder, shard.number, flights)
        watcher.best(*so_far.add(flights))
    watcher.end()
    if missing:
        store.note_run(folder, left, time.monotonic() - begun)


class SoFar:
    """Running mean score of every design, to name a leader before all is flown."""

    def __init__(self, campaign: Campaign, designs: int) -> None:
        self._campaign = campaign
        self._totals, self._flights = np.zeros(designs), np.zeros(designs)

    def add(self, flights: pd.DataFrame) -> tuple[int, float]:
        """Count flights; the design that leads, of those that have flown most, and its mean score."""
        designs = flights["design"].to_numpy()
        self._totals[designs] += flight_scores(flights, self._campaign.score, scored_time(self._campaign))
        self._flights[designs] += 1.0
        most = np.flatnonzero(self._flights == self._flights.max())
        leader = most[(self._totals[most] / self._flights[most]).argmin()]
        return int(leader), float(self._totals[leader] / self._flights[leader])


def scored_time(campaign: Campaign) -> float:
    """Scored time of a whole flight, s."""
    return campaign.flight.length - campaign.flight.settle


def rank_flights(campaign: Campaign, flights: pd.DataFrame, names: list[str], designs: int) -> Ranked:
    """Scores, limits and standings of all flights of a campaign.

    flights: all rows, with at least design, condition, replicate, status, time_foilborne and what is scored or limited; names:
    of the conditions, in order.
    """
    shape = (designs, len(names), campaign.replicates)
    scores = in_blocks(flights, flight_scores(flights, campaign.score, scored_time(campaign)), shape)
    limits = judge(flights, campaign.limits, shape, scored_time(campaign))
    failed = failed_share(in_blocks(flights, flights["status"].to_numpy(), shape))
    means = mean_responses(flights, list(campaign.score), designs)
    return Ranked(standings(scores, verdicts(limits, campaign.limits, names, designs), failed, means), limits)


def _rank_folder(campaign: Campaign, folder: Path) -> Ranked:
    columns = dict.fromkeys(["design", "condition", "replicate", "status", "time_foilborne", *campaign.score, *campaign.limits])
    flights, conditions = store.read_flights(folder, columns), store.read_table(folder, "conditions")
    designs = store.read_manifest(folder)["designs"]
    missing = designs * len(conditions) * campaign.replicates - len(flights)
    if missing:
        raise store.StoreError(f"{folder}: {missing} flights are missing; `foilsweep run` with its campaign flies them.")
    ranked = rank_flights(campaign, flights, list(conditions["name"]), designs)
    store.write_table(folder, "standings", ranked.standings)
    store.write_whole(folder / "standings.csv", ranked.standings.to_csv(index=False).encode())
    store.write_table(folder, "limits", ranked.limits)
    return ranked


def choose_leaders(table: pd.DataFrame) -> list[int]:
    """The first designs of the standings, then the base craft."""
    return list(dict.fromkeys([*table["design"].head(LEADERS).tolist(), 0]))

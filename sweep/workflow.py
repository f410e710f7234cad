"""The whole way: a campaign, its flights, the standings, the leaders' time histories, the site."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import joblib
import pandas as pd

from sweep.campaign.conditions import list_conditions
from sweep.campaign.costs import with_costs
from sweep.campaign.designs import lay_out
from sweep.campaign.follow_up_plan import LEADERS
from sweep.flying.cluster import on_cluster
from sweep.flying.flights import trial_flight
from sweep.flying.follow_up import follow
from sweep.flying.full_run import fly_missing
from sweep.flying.progress import Watcher
from sweep.flying.race_run import fly_race
from sweep.flying.work import Work
from sweep.results import store
from sweep.results.claim import begin, check_free
from sweep.results.manifest import finish
from sweep.results.rank_folder import rank_folder

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.results.store import Results

MOST_A_PROCESSOR = 4
"""Threads (judgement)."""


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
    from sweep.report.publishing import publish_locked

    folder, watcher = Path(folder), watcher or Watcher()
    folder.mkdir(parents=True, exist_ok=True)
    check_free(folder)
    designs, conditions = lay_out(campaign), list_conditions(campaign)
    work = Work(campaign, designs, conditions, _fitting(workers, watcher) if cluster is None else workers, watcher)
    with store.locked(folder), on_cluster(cluster, lambda: trial_flight(campaign, designs, conditions)):
        for sentence in begin(folder, campaign, with_costs(campaign, designs), conditions):
            watcher.say(sentence)
        fly = fly_race if campaign.budget else fly_missing
        fly(work, folder)
        ranked = rank_folder(campaign, folder)
        leaders = choose_leaders(ranked.standings)
        follow(work, folder, leaders, ranked.standings, ranked.scores)
        finish(folder)
        publish_locked(folder)
    return store.load_results(folder)


def _fitting(workers: int | None, watcher: Watcher) -> int | None:
    """At most `MOST_A_PROCESSOR` threads for each processor: a flight keeps one busy, and more would only take memory."""
    most: int = MOST_A_PROCESSOR * joblib.cpu_count()
    if workers is None or workers <= most:
        return workers
    watcher.say(f"{workers} workers were asked for; this computer flies with {most}, which keep all its processors busy.")
    return most


def choose_leaders(table: pd.DataFrame) -> list[int]:
    """The first designs of the standings, then the base craft."""
    return list(dict.fromkeys([*table["design"].head(LEADERS).tolist(), 0]))

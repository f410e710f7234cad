"""The whole way: a campaign, its flights, the standings, the leaders' time histories, the site."""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING

import joblib
import numpy as np
import pandas as pd

from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.costs import with_costs
from sweep.campaign.designs import lay_out
from sweep.campaign.follow_up_plan import LEADERS
from sweep.campaign.plan import Search
from sweep.campaign.text.problems import ChoiceError
from sweep.flying.clock import start_clock
from sweep.flying.cluster import on_cluster
from sweep.flying.flights import trial_flight
from sweep.flying.follow_up import follow
from sweep.flying.full_run import fly_missing
from sweep.flying.heats import Heats
from sweep.flying.own_flights import heard
from sweep.flying.progress import Watcher
from sweep.flying.race_run import fly_race
from sweep.flying.search_run import fly_search, not_in_final
from sweep.flying.settle import Before, settle
from sweep.flying.work import Work
from sweep.own.permit import flies_own_code, refuse_unasked
from sweep.results import store
from sweep.results.claim import begin, check_free, go_on
from sweep.results.identity import flown_keys
from sweep.results.manifest import finish
from sweep.results.rank_folder import rank_folder
from sweep.results.shard_plan import plan_shards

if TYPE_CHECKING:
    from sweep.insight.rank import Ranked
    from sweep.results.store import Results

MOST_A_PROCESSOR = 4
"""Threads (judgement)."""


def run(
    campaign: Campaign | str | Path,
    folder: str | Path | None = None,
    workers: int | None = None,
    watcher: Watcher | None = None,
    cluster: str | None = None,
    begun: float | None = None,
) -> Results:
    """Fly what is not flown yet, rank, record the leaders, publish.

    campaign: or the path of its file. folder: the results folder, results/NAME by default; the same call goes on where an
    interrupted one stopped. workers: threads, all processors by default. cluster: address of a Dask scheduler whose workers
    fly instead. begun: when the clock of a budget began, as `time.monotonic` has it; now by default. Code of the campaign's own
    flies only after `own.permit.run_code(campaign)`. Raises CampaignError for a file that is wrong, StoreError if the folder is
    in use or holds something else, ChoiceError for code that was not asked to run, and as `on_cluster`.
    """
    from sweep.report.publishing import publish_locked

    if not isinstance(campaign, Campaign):
        campaign = load_campaign(campaign)
    refuse_unasked(campaign)
    if cluster is not None and flies_own_code(campaign):
        raise ChoiceError("--cluster: code of your own flies on this computer alone; leave it out.")
    folder, watcher = Path(folder or Path("results") / campaign.name), watcher or Watcher()
    folder.mkdir(parents=True, exist_ok=True)
    check_free(folder)
    campaign = go_on(folder, campaign)
    designs, conditions = lay_out(campaign), list_conditions(campaign)
    work = Work(campaign, designs, conditions, _fitting(workers, watcher) if cluster is None else workers, watcher)
    with store.locked(folder), on_cluster(cluster, lambda: trial_flight(campaign, designs, conditions)):
        for sentence in begin(folder, campaign, with_costs(campaign, designs), conditions):
            watcher.say(sentence)
        heats = fly_designs(work, folder, time.monotonic() if begun is None else begun)
        for clause in heard():
            watcher.say(f"Own code failed: {clause}.")
        work = heats.work
        ranked = rank_folder(work.campaign, folder)
        leaders = choose_leaders(_finished(ranked))
        follow(work, folder, leaders, ranked, heats)
        finish(folder)
        publish_locked(folder)
    return store.load_results(folder)


def fly_designs(work: Work, folder: Path, begun: float) -> Heats:
    """Fly the sweep, the race or the search, and then the leading designs on; returns their heats, with all designs.

    begun: when the clock of a budget began.
    """
    campaign = work.campaign
    searches = isinstance(campaign.plan, Search)
    if campaign.budget is None and not searches:
        held = fly_missing(work, folder)
        first = len(plan_shards(len(work.designs), len(work.conditions), campaign.replicates))
        heats = Heats(work, folder, held, first)
        settle(work, folder, heats)
        return heats
    sound, aside = store.sound_shards(folder, flown_keys(folder))
    for name, why in aside.items():
        work.watcher.say(f"{folder / 'flights' / name} was {why}: set aside, and flown again.")
    heats = Heats(work, folder, sound, clock=start_clock(work, folder, begun))
    if searches:
        work = fly_search(work, folder, heats)
        settle(work, folder, heats, Before(not_in_final(work, folder)["design"].tolist()))
        return heats
    race = fly_race(work, folder, heats)
    settle(work, folder, heats, Before.of_race(race))
    return heats


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


def _finished(ranked: Ranked) -> pd.DataFrame:
    """The standings of those that flew the campaign's own blocks: of a search, its final."""
    flown = np.asarray(np.isfinite(ranked.scores).any(axis=(1, 2)))
    table: pd.DataFrame = ranked.standings[flown[ranked.standings["design"].to_numpy()]]
    return table

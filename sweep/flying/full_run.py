"""Every flight of a campaign that its folder does not hold yet."""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from sweep.campaign.draws import boat_of
from sweep.flying.completion import complete_shards
from sweep.flying.flights import warm_up
from sweep.flying.work import Work
from sweep.insight.scores import Scoring
from sweep.results import store
from sweep.results.identity import flown_keys
from sweep.results.journal import planned, read_journal
from sweep.results.manifest import note_kept, note_run, read_manifest
from sweep.results.reuse import Earlier
from sweep.results.shard_plan import plan_shards

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign


def fly_missing(work: Work, folder: Path) -> set[int]:
    """Fly the shards that the folder does not hold whole; returns the numbers of those that it holds then."""
    campaign, designs, conditions, _, watcher = work
    keys = flown_keys(folder)
    sound, aside = store.sound_shards(folder, keys, planned(read_manifest(folder), keys, read_journal(folder)))
    for name, why in aside.items():
        watcher.say(f"{folder / 'flights' / name} was {why}: set aside, and flown again.")
    shards = plan_shards(len(designs), len(conditions), campaign.replicates)
    missing = [shard for shard in shards if shard.number not in sound]
    if campaign.unknowns:  # draw by draw, so that each is packed once
        missing.sort(key=lambda shard: (shard.first, boat_of(campaign, shard.replicate), shard.number))
    total, lacking = (sum(shard.flights for shard in some) for some in (shards, missing))
    earlier = Earlier(folder)
    kept = earlier.count(missing, designs.index.to_numpy())
    left = lacking - kept
    if kept:
        watcher.say(f"Of {total} flights {kept} are kept from an earlier campaign of this folder; {left} are left to fly.")
    if left:
        warm_up(campaign, designs, conditions)
    work.begin(total, total - left)
    so_far, begun = SoFar(campaign, len(designs)), time.monotonic()
    for shard, flights in complete_shards(work, missing, earlier):
        store.add_shard(folder, shard.number, flights, keys.of_rows(flights))
        watcher.best(*so_far.add(flights))
    if campaign.unknowns:
        store.list_in_order(folder)
    watcher.end()
    if kept:
        note_kept(folder, kept)
    if left:
        note_run(folder, left, time.monotonic() - begun)
    return sound | {shard.number for shard in shards}


class SoFar:
    """Running mean score of every design, so that a leader can be named early."""

    def __init__(self, campaign: Campaign, designs: int) -> None:
        self._scoring = Scoring.of(campaign)
        self._totals, self._flights = np.zeros(designs), np.zeros(designs)

    def add(self, flights: pd.DataFrame) -> tuple[int, float]:
        """Count flights; returns the best design of those that have flown most, and its mean score."""
        designs = flights["design"].to_numpy()
        self._totals[designs] += self._scoring.scores(flights)
        self._flights[designs] += 1.0
        most = np.flatnonzero(self._flights == self._flights.max())
        leader = most[(self._totals[most] / self._flights[most]).argmin()]
        return int(leader), float(self._totals[leader] / self._flights[leader])

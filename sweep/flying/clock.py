"""The clock of a run that has to end by it: what is left, how fast flights go here, and what is set aside for the end."""

from __future__ import annotations

import math
import time
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import joblib
import numpy as np

from sweep.campaign.follow_up_plan import FOLLOWED, REPLICATES, SHARE_ON_CLOCK, plan_tail
from sweep.campaign.tolerances import usual
from sweep.flying.flights import IDLE_LANES, measure_pace, warm_up
from sweep.flying.work import Work
from sweep.model.compiled import LANES
from sweep.results.journal import read_journal
from sweep.results.manifest import Deadline, read_manifest, write_manifest

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign

FINISH, FINISH_A_CONDITION = 20.0, 0.17
"""Seconds of one processor for ranking and the site, and what each condition adds (measured: 55, 145 and 361 s of 200, 800 and
2 000 conditions)."""
TAIL_PACE = 0.4
"""Pace of what follows the flights over that of the flights: its pieces are small (measured on a busy machine: 0.3 to 0.6)."""
PROBE = 0.05
"""Seconds of one processor that it takes to see how busy the machine is (judgement)."""
FORGETS = 0.3
"""Weight of the last flights in the pace and in how busy the machine is (judgement)."""


class Clock:
    """What a run on the clock has left, and at what pace it flies.

    seconds: that it may take in all. rate: simulated seconds a second, of all workers together; busy: seconds on the clock for
    one of a processor, from 1 on. Both follow what is flown.
    """

    def __init__(self, seconds: float, left: float, rate: float, ahead: float, busy: float) -> None:
        """left: of the seconds, now; ahead: what the work after the flights takes where nothing else runs; rate: likewise."""
        self.seconds, self.rate, self.busy, self._ahead = seconds, rate / busy, busy, ahead
        self._ends = time.monotonic() + left

    @property
    def left(self) -> float:
        """Seconds until the end, negative after it."""
        return self._ends - time.monotonic()

    @property
    def elapsed(self) -> float:
        """Seconds of the budget that are spent."""
        return self.seconds - self.left

    @property
    def aside(self) -> float:
        """Seconds that what follows the flights will take, by how busy the machine is."""
        return self._ahead * self.busy

    @property
    def for_flights(self) -> float:
        """Seconds that flights may still take."""
        return self.left - self.aside

    def learn(self, simulated: float, seconds: float) -> None:
        """So many simulated seconds were flown in so many on the clock; how busy the machine is now is looked at beside."""
        if seconds <= 0.0 or simulated <= 0.0:
            return
        self.rate = math.exp(_between(math.log(self.rate), math.log(simulated / seconds)))
        self.busy = _between(self.busy, how_busy())

    def simulated(self, seconds: float) -> float:
        """Simulated seconds that are flown in so many."""
        return seconds * self.rate


def how_busy() -> float:
    """Seconds on the clock for one of this thread's processor, from 1 on: by work of `PROBE`, for nothing else."""
    clock, begun = time.monotonic(), time.thread_time()
    while (worked := time.thread_time() - begun) < PROBE:
        pass
    return max((time.monotonic() - clock) / worked, 1.0)


def _between(before: float, now: float) -> float:
    return before + FORGETS * (now - before)


def start_clock(work: Work, folder: Path, begun: float) -> Clock | None:
    """The clock of a run, its deadline noted in the manifest at the first start; None if no clock ends it.

    The kernels are compiled, and their pace is measured. begun: when this run began, as `time.monotonic` has it.
    """
    campaign, designs, conditions, workers, _ = work
    manifest, budget = read_manifest(folder), campaign.budget
    warm_up(campaign, designs, conditions)
    if budget is None or not budget.on_clock:
        return None
    batches, busy = measure_pace(campaign, designs, conditions).batches, how_busy()
    rate = float(np.nan_to_num(batches, nan=1.0)) * (1.0 - IDLE_LANES) * LANES * joblib.effective_n_jobs(workers or -1)
    here = time.monotonic() - begun
    started = datetime.now().astimezone() - timedelta(seconds=here)
    if manifest.clock is None:
        seconds, ends = budget.seconds(started), budget.ends(started)
        assert seconds is not None
        at, spare = ends.isoformat(timespec="seconds") if ends else "", round(SHARE_ON_CLOCK * seconds, 1)
        manifest = replace(manifest, clock=Deadline(round(seconds, 1), at, spare))
        write_manifest(folder, manifest)
    deadline = manifest.clock
    assert deadline is not None
    if deadline.ends:
        left = (datetime.fromisoformat(deadline.ends) - datetime.now().astimezone()).total_seconds()
    else:
        spent = [each.elapsed for each in read_journal(folder).decisions if each.elapsed is not None]
        left = deadline.seconds - (spent[-1] if spent else 0.0) - here
    ahead = after_flights(campaign, manifest.designs, manifest.conditions, rate, deadline.spare)
    return Clock(deadline.seconds, left, rate, ahead, busy)


def trim_tail(clock: Clock, folder: Path) -> None:
    """Where less is left than was set aside, let what follows the flights unasked take less: the pages come first.

    It is noted in the manifest, so that a resumed run takes the same.
    """
    manifest = read_manifest(folder)
    assert manifest.clock is not None
    left = clock.left / clock.busy - FINISH - FINISH_A_CONDITION * manifest.conditions
    spare = round(min(max(left, 0.0), manifest.clock.spare), 1)
    write_manifest(folder, replace(manifest, clock=replace(manifest.clock, spare=spare)))


def after_flights(campaign: Campaign, designs: int, conditions: int, rate: float, spare: float | None = None) -> float:
    """Seconds that what follows the flights takes where nothing else runs: maps, causes, changes, ranking, pages.

    rate: simulated seconds a second, of all workers together; spare: as for `plan_tail`.
    """
    tail = plan_tail(campaign, designs, conditions, spare)
    asked = len(campaign.map.cells()) * campaign.map.replicates if campaign.map is not None and campaign.map.asked else 0
    if campaign.tolerances != "none":
        asked += len(usual(campaign.craft)) * conditions * REPLICATES
    flown = (tail.cost + FOLLOWED * asked * campaign.flight.length) / (TAIL_PACE * rate)
    return flown + FINISH + FINISH_A_CONDITION * conditions

"""The clock of a run that has to end by it: what is left, how fast flights go here, and what is set aside for the end."""

from __future__ import annotations

import json
import math
import time
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import joblib
import numpy as np

from sweep.campaign.follow_up_plan import BLOCK, FOLLOWED, PACE, REPLICATES, SHARE_ON_CLOCK, plan_tail
from sweep.campaign.outings import simulated as simulated_outings
from sweep.campaign.tolerances import usual
from sweep.flying.flights import IDLE_LANES, measure_pace, warm_up
from sweep.flying.work import Work
from sweep.model.compiled import LANES
from sweep.results.journal import read_journal
from sweep.results.manifest import Deadline, read_manifest, write_manifest

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign

RANKING, SITE, A_CONDITION = 2.0, 18.0, 0.17
"""Seconds of one processor for ranking, for the site, and what each condition adds (measured: 20, 55, 145 and 361 s of 6, 200,
800 and 2 000 conditions; the processor is that of `PROBE`)."""
RANKED_SHARD, A_SHARD = 0.004, 0.002
"""What each shard of flights adds to ranking, which reads it first, and to pages and results after it (measured: 14 and 34 s of
3 048; a site takes four fifths since, and with 1 287 small ones it took 13 s in all)."""
TAIL_PACE = 0.6
"""Pace of what follows the flights over that of the flights, until it is known: its pieces are small (measured: 0.3 to 0.9).
Where it is slower, less time is left for the changes, which come last."""
PROBE, PROBED = 0.02, 20
"""Seconds of one processor that a piece of work takes where nothing else runs (measured), and how many parts it has: by it, how
slow and how busy the machine is."""
FORGETS = 0.3
"""Weight of the last flights in the pace (judgement)."""
LOOKS, REMEMBERED = 25, 32
"""Pieces of `PROBE` by which the machine is looked at where much hangs on it, half a second; and as how many what was known
before weighs (judgement): on a crowded machine one piece may take ten times as long as the next."""
LOOKING = 0.01
"""Share of the time of flights that is spent on looking how slow the machine is (judgement): one piece tells little of it."""


class Ahead(NamedTuple):
    """What comes after the flights: simulated seconds of what is asked for and of what is not; `finish`: ranking and pages.

    finish: seconds of one processor.
    """

    asked: float
    unasked: float
    finish: float

    def seconds(self, rate: float, slow: float = 1.0) -> float:
        """On the clock; rate: simulated seconds a second that what is flown gets, slow: seconds for one of the processor."""
        return (self.asked + self.unasked) / rate + self.finish * slow


class Clock:
    """What a run on the clock has left, and at what pace it flies.

    seconds: that it may take in all. rate: simulated seconds a second, of all workers together, and `later` of what follows the
    flights; slow: seconds on the clock for one of the processor of `PROBE`, be it slower or busy. All follow what is flown.
    surprise: by what share the machine has lately been slower than it was taken for, in the mean; so much is kept in reserve,
    for pages cannot be ended early. shards: of flights so far, which ranking and pages read.
    """

    def __init__(self, seconds: float, left: float, rate: float, ahead: Ahead, slow: float) -> None:
        """left: of the seconds, now; rate: at first."""
        self.seconds, self.rate, self.slow, self.ahead = seconds, rate, slow, ahead
        self.shards, self._surprise = 0, 0.0
        self._ends, self._later = time.monotonic() + left, TAIL_PACE

    @property
    def left(self) -> float:
        """Seconds until the end, negative after it."""
        return self._ends - time.monotonic()

    @property
    def elapsed(self) -> float:
        """Seconds of the budget that are spent."""
        return self.seconds - self.left

    @property
    def surprise(self) -> float:
        """0 or more: of a machine that gets faster nothing is taken off."""
        return max(self._surprise, 0.0)

    @property
    def later(self) -> float:
        """Simulated seconds a second of what follows the flights."""
        return self._later * self.rate

    @property
    def aside(self) -> float:
        """Seconds that what follows the flights will take: of what is not asked for, no more than its share of the clock."""
        unasked = min(self.ahead.unasked / self.later, SHARE_ON_CLOCK * self.seconds)
        return self.aside_for_asked + unasked

    @property
    def aside_for_asked(self) -> float:
        """Of them, those of what is asked for and of ranking and pages."""
        ahead = self.ahead._replace(unasked=0.0, finish=self.ahead.finish + (RANKED_SHARD + A_SHARD) * self.shards)
        return ahead.seconds(self.later, self.slow * (1.0 + self.surprise))

    @property
    def for_flights(self) -> float:
        """Seconds that flights may still take."""
        return self.left - self.aside

    def learn(self, simulated: float, seconds: float) -> None:
        """So many simulated seconds were flown in so many on the clock; how slow the machine is now is looked at beside."""
        if seconds <= 0.0 or simulated <= 0.0:
            return
        self.rate = math.exp(_between(math.log(self.rate), math.log(simulated / seconds)))
        self._see(max(round(LOOKING * seconds / PROBE), 1))

    def learn_later(self, simulated: float, seconds: float) -> None:
        """The same of flights that follow; their pace is that of now."""
        if seconds > 0.0 and simulated > 0.0:
            self._later = simulated / seconds / self.rate

    def look(self) -> None:
        """Look at the machine anew, before something is ended or begun that cannot be taken back."""
        self._see(LOOKS)

    def _see(self, looks: int) -> None:
        slow, weight = how_slow(looks), looks / (looks + REMEMBERED)
        self._surprise += weight * (slow / self.slow - 1.0 - self._surprise)
        self.slow += weight * (slow - self.slow)

    def simulated(self, seconds: float) -> float:
        """Simulated seconds that are flown in so many."""
        return seconds * self.rate

    @property
    def pages(self) -> float:
        """Seconds that pages take, with what is kept in reserve for a machine that gets slower."""
        return (self.ahead.finish - RANKING + A_SHARD * self.shards) * self.slow * (1.0 + self.surprise)

    @property
    def spare(self) -> float:
        """Seconds that are left beyond those for the pages, negative if they are late."""
        return self.left - self.pages

    def last(self) -> tuple[float, float]:
        """Simulated seconds that may be flown before the pages are made, negative if none, and the seconds that pages take."""
        self.look()
        return self.spare * self.later, self.pages


def how_slow(times: int = 1) -> float:
    """Seconds on the clock for one of the processor of `PROBE`, by some work that is for nothing else, done so many times."""
    begun = time.monotonic()
    for _ in range(times * PROBED):
        json.loads(json.dumps({str(at): [at, 0.5 * at] for at in range(1000)}))
    return (time.monotonic() - begun) / (times * PROBE)


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
    batches, slow = measure_pace(campaign, designs, conditions).batches, how_slow(LOOKS)
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
    ahead = ahead_of(campaign, manifest.designs, manifest.conditions, deadline.spare)
    return Clock(deadline.seconds, left, rate / max(slow, 1.0), ahead, slow)


def trim_tail(clock: Clock, folder: Path) -> None:
    """Where less is left than was set aside, let what follows the flights unasked take less: what is asked comes first.

    It is noted in the manifest, so that a resumed run takes the same.
    """
    manifest = read_manifest(folder)
    assert manifest.clock is not None
    left = clock.left - clock.aside_for_asked
    spare = round(min(max(left * clock.later / PACE, 0.0), manifest.clock.spare), 1)
    write_manifest(folder, replace(manifest, clock=replace(manifest.clock, spare=spare)))


def ahead_of(campaign: Campaign, designs: int, conditions: int, spare: float | None = None) -> Ahead:
    """What follows the flights: maps, causes, changes, ranking, pages; spare: as for `plan_tail`."""
    tail, length, asked = plan_tail(campaign, designs, conditions, spare), campaign.flight.length, 0.0
    if campaign.map is not None and campaign.map.asked:
        asked += len(campaign.map.cells()) * campaign.map.replicates * (FOLLOWED * length + BLOCK)
    if campaign.tolerances != "none":
        asked += conditions * REPLICATES * (FOLLOWED * len(usual(campaign.craft)) * length + BLOCK)
    asked += simulated_outings(campaign, FOLLOWED)
    return Ahead(asked, tail.cost, RANKING + SITE + A_CONDITION * conditions)


def after_flights(campaign: Campaign, designs: int, conditions: int, rate: float, spare: float | None = None) -> float:
    """Seconds that what follows the flights takes where nothing else runs; rate: simulated seconds a second, of all workers."""
    return ahead_of(campaign, designs, conditions, spare).seconds(TAIL_PACE * rate)

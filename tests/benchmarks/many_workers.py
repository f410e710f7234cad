"""Whether one computer keeps many workers of a cluster busy: a simulation of the scheduler with measured times and messages.

    python -m tests.benchmarks.many_workers [WORKERS ...]

A range of designs is packed, trimmed, cut into pieces, pickled, flown and put into shards here, by the code that does it, and
every step is timed by the processor. Then 1, 16, 64 and 256 workers are simulated, event by event: one thread packs, cuts and
sends pieces and takes in rows, the scheduler passes on one task after the other, the network carries one message after the
other each way, and a task waits for them all. As joblib does, `UNDER_WAY` tasks are with each worker; one goes out when
one comes back. Ranges are packed by the workers, and are taken to be back in time.
"""

from __future__ import annotations

import heapq
import pickle
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np

from sweep.campaign.campaign import load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out
from sweep.flying import flights
from sweep.flying.packing import PackedAhead
from sweep.model.flight import fly
from sweep.results.atomic_files import as_parquet
from sweep.results.shard_plan import plan_shards
from tests.benchmarks.stages import CRAFT

DESIGNS, RANGES = 512, 100
"""Designs of the range that is measured, as many as the shards of a large sweep have; and how often it is simulated."""
NETWORK = 125e6
"""Bytes a second: a gigabit."""
LATENCY = 0.5e-3
"""s, one way (judgement)."""
TASK = 1e-3
"""s that the scheduler takes for a task (judgement; its documentation says under a millisecond)."""
MEASURED = 24
"""Pieces that are flown to time them."""
CAMPAIGN = """\
title: Many workers
craft: {craft}
factors:
  foils.*.area: {{from: 40 cm^2, to: 60 cm^2}}
  struts.height: {{from: 16 cm, to: 22 cm}}
  control.height.proportional: {{from: 0.1 deg/cm, to: 1.2 deg/cm}}
plan: {{kind: latin-hypercube, designs: {designs}, seed: 1}}
conditions:
  seas: {{chop: {{kind: jonswap, height: 5 cm, period: 1.2 s}}}}
  headings: [head, quartering, following]
  speeds: [4 m/s, 4.5 m/s]
  replicates: 2
flight: {{length: 30 s, settle: 5 s, seed: 1}}
"""


class Measured(NamedTuple):
    """Of one range of designs, for each task, of which the first is to pack such a range, and the others are its pieces:
    s to make and to take in, on the one thread, and to do; bytes on its way there and back. local: s to pack a range there.
    """

    made: np.ndarray
    taken: np.ndarray
    done: np.ndarray
    sent: np.ndarray
    returned: np.ndarray
    local: float


def measure() -> Measured:
    """Do it all for one range of designs; of the pieces, fly some."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "many.yaml"
        path.write_text(CAMPAIGN.format(craft=CRAFT, designs=2 * DESIGNS - 1), encoding="utf-8")
        campaign = load_campaign(path)
    designs, conditions = lay_out(campaign), list_conditions(campaign)
    flights.warm_up(campaign, designs, conditions)
    shards = [shard for shard in plan_shards(len(designs), len(conditions), campaign.replicates) if shard.first == 0]
    ahead = PackedAhead([(0, DESIGNS), (DESIGNS, 2 * DESIGNS)])
    (packing,) = ahead.ask(0, campaign, designs, conditions)
    made, sent = [0.0], [len(pickle.dumps(packing))]
    fleets: list[bytes] = []
    packed = _spent(lambda: fleets.append(packing._replace(first=0, designs=designs.iloc[:DESIGNS]).fleets()))
    ahead.keep(0, fleets[0])
    pieces, begun = [], time.thread_time()
    for piece in flights.cut_pieces(campaign, designs, conditions, shards, ready=ahead.take(0)):
        pieces.append(pickle.dumps(piece))
        made.append(time.thread_time() - begun)
        begun = time.thread_time()
    chosen = np.unique(np.linspace(0, len(pieces) - 1, MEASURED).round().astype(int))
    flown, returned = [], []
    for at in chosen:
        begun = time.thread_time()
        piece = pickle.loads(pieces[at])
        returned.append(pickle.dumps((piece.shards, piece.places, fly(piece.fleet, piece.blocks))))
        flown.append(time.thread_time() - begun)
    a_piece = float(np.median([_spent(lambda row=row: pickle.loads(row)) for row in returned]))
    a_piece += _of_shards(returned[0], len(shards)) / len(pieces)
    return Measured(
        np.array(made),
        np.array([0.0] + [a_piece] * len(pieces)),
        np.append(packed, np.interp(np.arange(len(pieces)), chosen, flown)),
        np.array(sent + [len(piece) for piece in pieces]),
        np.array([len(fleets[0])] + [np.median([len(row) for row in returned])] * len(pieces)),
        packed,
    )


def _of_shards(returned: bytes, shards: int) -> float:
    """s to write so many shards of all the designs, but for the disk."""
    (shard, *_), _, flown = pickle.loads(returned)
    rows = np.resize(np.arange(len(flown.status)), DESIGNS)
    whole = shard._replace(first=0, last=DESIGNS)
    return shards * _spent(lambda: as_parquet(flights._table(whole, flown.status[rows], flown.responses[rows])))


def _spent(act: Callable[[], object]) -> float:
    begun = time.thread_time()
    act()
    return time.thread_time() - begun


class Simulated(NamedTuple):
    """Share of the time in which the workers fly, the one thread and the scheduler work, and the network carries to them."""

    workers: float
    thread: float
    scheduler: float
    network: float


class _Line:
    """Something that does one thing after the other: the time at which it is free, and that for which it has worked, s."""

    def __init__(self) -> None:
        self.free = self.worked = 0.0

    def do(self, now: float, takes: float) -> float:
        """When something that comes at a time is done."""
        self.free, self.worked = max(self.free, now) + takes, self.worked + takes
        return self.free


def simulate(measured: Measured, workers: int) -> Simulated:
    """Fly the range again and again. An event is a task that has been done; those that wait for a line keep their order."""
    number = RANGES * len(measured.made)
    thread, scheduler, there, back = (_Line() for _ in range(4))
    thread.do(0.0, measured.local)
    free = [0.0] * workers  # when each of them is
    under_way: list[tuple[float, int]] = []

    def dispatch(now: float, task: int) -> None:
        at = task % len(measured.made)
        sent = scheduler.do(thread.do(now, measured.made[at]), TASK)
        arrived = there.do(sent, measured.sent[at] / NETWORK) + LATENCY
        done = max(heapq.heappop(free), arrived) + measured.done[at]
        heapq.heappush(free, done)
        heapq.heappush(under_way, (done, at))

    ahead = min(flights.UNDER_WAY * workers, number)
    for task in range(ahead):
        dispatch(0.0, task)
    for task in range(ahead, ahead + number):
        done, at = heapq.heappop(under_way)
        arrived = back.do(done, measured.returned[at] / NETWORK) + LATENCY
        taken = thread.do(arrived, measured.taken[at])
        if task < number:
            dispatch(taken, task)
    flown = RANGES * measured.done[1:].sum()
    return Simulated(flown / (workers * thread.free), *(line.worked / thread.free for line in (thread, scheduler, there)))


def main() -> None:
    """Measure and print."""
    measured = measure()
    print(f"{DESIGNS} designs at two speeds: {measured.local:.2f} s to pack and trim, {1e-6 * measured.returned[0]:.1f} MB")
    flown, made = np.median(measured.done[1:]), 1e3 * np.median(measured.made[1:])
    print(
        f"a piece of {flown:.3f} s of flights: {made:.2f} ms to cut and send, "
        f"{1e-3 * np.median(measured.sent[1:]):.0f} kB there, {1e-3 * measured.returned[1]:.0f} kB back, "
        f"{1e3 * measured.taken[1]:.2f} ms to take in"
    )
    print("\n| workers | they fly | the one thread works | the scheduler | the network to them |")
    print("|---|---|---|---|---|")
    for workers in [int(text) for text in sys.argv[1:]] or [1, 16, 64, 256]:
        print(f"| {workers} | {' | '.join(f'{share:.0%}' for share in simulate(measured, workers))} |")


if __name__ == "__main__":
    main()

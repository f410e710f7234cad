"""Whether one computer keeps many workers of a cluster busy: a simulation of the scheduler with measured times and messages.

    python -m tests.benchmarks.many_workers [WORKERS ...]

A range of designs is packed, trimmed, cut into pieces, pickled, flown and put into shards here, by the code that does it, and
every step is timed by the processor. Then 1, 16, 64 and 256 workers are simulated, event by event: one thread packs, cuts and
sends pieces and takes in rows, the scheduler passes on one task after the other, the network carries one message after the
other each way, and a piece waits for them all. As joblib does, twice as many pieces are under way as there are workers; one
goes out when one comes back. What the scheduler takes for a task is judgement.
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
from sweep.model.flight import fly
from sweep.results.atomic_files import as_parquet
from sweep.results.shard_plan import plan_shards
from tests.benchmarks.stages import CRAFT

DESIGNS, RANGES = 512, 16
"""Designs of the range that is measured, as many as the shards of a large sweep have; and how often it is simulated."""
NETWORK = 125e6
"""Bytes a second: a gigabit."""
LATENCY = 0.5e-3
"""s, one way (judgement)."""
TASK = 1e-3
"""s that the scheduler takes for a task (judgement; its documentation says under a millisecond)."""
AHEAD = 2
"""Pieces under way for each worker, joblib's `pre_dispatch`."""
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
    """Of one range of designs: s to make each of its pieces (packing where it is due), to take in the rows of one, and to fly
    each; bytes of each on its way there, and of one on its way back.
    """

    made: np.ndarray
    taken: float
    flown: np.ndarray
    sent: np.ndarray
    returned: float


def measure() -> Measured:
    """Do it all for one range of designs; of the pieces, fly some."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "many.yaml"
        path.write_text(CAMPAIGN.format(craft=CRAFT, designs=DESIGNS - 1), encoding="utf-8")
        campaign = load_campaign(path)
    designs, conditions = lay_out(campaign), list_conditions(campaign)
    flights.warm_up(campaign, designs, conditions)
    shards = plan_shards(len(designs), len(conditions), campaign.replicates)
    pieces, made = [], []
    source, begun = flights.cut_pieces(campaign, designs, conditions, shards), time.thread_time()
    while (piece := next(source, None)) is not None:
        sent = pickle.dumps(piece)
        made.append(time.thread_time() - begun)
        pieces.append(sent)
        begun = time.thread_time()
    chosen = np.unique(np.linspace(0, len(pieces) - 1, MEASURED).round().astype(int))
    flown, returned = [], []
    for at in chosen:
        begun = time.thread_time()
        piece = pickle.loads(pieces[at])
        returned.append(pickle.dumps((piece.shards, piece.places, fly(piece.fleet, piece.blocks))))
        flown.append(time.thread_time() - begun)
    a_piece = float(np.median([_spent(lambda row=row: pickle.loads(row)) for row in returned]))
    return Measured(
        np.array(made),
        a_piece + _of_shards(returned[0], len(shards)) / len(pieces),
        np.interp(np.arange(len(pieces)), chosen, flown),
        np.array([len(sent) for sent in pieces]),
        float(np.median([len(row) for row in returned])),
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
    """Share of the time in which the workers fly, the one thread works, and the network carries to them."""

    workers: float
    thread: float
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
    """Fly the range again and again. An event is a piece that has been flown; those that wait for a line keep their order."""
    number = RANGES * len(measured.made)
    thread, scheduler, there, back = (_Line() for _ in range(4))
    free = [0.0] * workers  # when each of them is
    under_way: list[float] = []

    def dispatch(now: float, piece: int) -> None:
        at = piece % len(measured.made)
        sent = scheduler.do(thread.do(now, measured.made[at]), TASK)
        arrived = there.do(sent, measured.sent[at] / NETWORK) + LATENCY
        flown = max(heapq.heappop(free), arrived) + measured.flown[at]
        heapq.heappush(free, flown)
        heapq.heappush(under_way, flown)

    ahead = min(AHEAD * workers, number)
    for piece in range(ahead):
        dispatch(0.0, piece)
    for piece in range(ahead, ahead + number):
        arrived = back.do(heapq.heappop(under_way), measured.returned / NETWORK) + LATENCY
        taken = thread.do(arrived, measured.taken)
        if piece < number:
            dispatch(taken, piece)
    return Simulated(RANGES * measured.flown.sum() / (workers * thread.free), thread.worked / thread.free, there.worked / thread.free)


def main() -> None:
    """Measure and print."""
    measured = measure()
    first = measured.made > 20.0 * np.median(measured.made)
    print(f"a design at two speeds: {1e3 * measured.made[first].sum() / DESIGNS:.2f} ms to pack and trim")
    print(
        f"a piece of {np.median(measured.flown):.3f} s of flights: {1e3 * np.median(measured.made):.2f} ms to cut and send, "
        f"{1e-3 * np.median(measured.sent):.0f} kB there, {1e-3 * measured.returned:.0f} kB back, "
        f"{1e3 * measured.taken:.2f} ms to take in"
    )
    print("\n| workers | they fly | the one thread works | the network carries |")
    print("|---|---|---|---|")
    for workers in [int(text) for text in sys.argv[1:]] or [1, 16, 64, 256]:
        share = simulate(measured, workers)
        print(f"| {workers} | {share.workers:.0%} | {share.thread:.0%} | {share.network:.0%} |")


if __name__ == "__main__":
    main()

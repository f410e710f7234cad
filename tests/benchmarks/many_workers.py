"""Whether one computer keeps many workers of a cluster busy: a simulation of the scheduler with measured times and messages.

    python -m tests.benchmarks.many_workers [WORKERS ...]

A range of designs is packed, trimmed, cut into pieces, pickled, flown and put into shards here, by the code that does it, and
every step is timed by the processor. Then 1, 16, 64 and 256 workers are simulated, event by event: one thread packs, cuts and
sends pieces and takes in rows, one network carries both ways, and a piece waits for all three. As joblib does, twice as many
pieces are under way as there are workers; one goes out when one comes back. What a scheduler takes for a task is judgement.
"""

from __future__ import annotations

import heapq
import pickle
import sys
import tempfile
import time
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
    """Of one range of designs: s to make each of its pieces (packing where it is due), to take in its rows, and to fly it;
    bytes of each on its way there and back.
    """

    made: np.ndarray
    taken: np.ndarray
    flown: np.ndarray
    sent: np.ndarray
    returned: np.ndarray


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
    took, rows = [], []
    for at in chosen:
        begun = time.thread_time()
        piece = pickle.loads(pieces[at])
        result = pickle.dumps((piece.shards, piece.places, fly(piece.fleet, piece.blocks)))
        took.append(time.thread_time() - begun)
        rows.append(result)
    taken = [_take_in(result) for result in rows]
    return Measured(
        np.array(made),
        np.full(len(pieces), np.median(taken)),
        np.interp(np.arange(len(pieces)), chosen, took),
        np.array([len(sent) for sent in pieces]),
        np.full(len(pieces), np.median([len(result) for result in rows])),
    )


def _take_in(result: bytes) -> float:
    """s to read the rows of a piece and to write them, as a share of a shard of their designs, but for the disk."""
    begun = time.thread_time()
    shards, _, flown = pickle.loads(result)
    rows = flights._table(shards[0]._replace(last=shards[0].first + len(flown.status)), *flown)
    as_parquet(rows)
    return time.thread_time() - begun


class Simulated(NamedTuple):
    """Share of the time in which the workers fly, the one thread works, and the network carries."""

    workers: float
    thread: float
    network: float


def simulate(measured: Measured, workers: int) -> Simulated:
    """Fly the range again and again. An event is a piece that has come back; resources are when each is next free."""
    number = RANGES * len(measured.made)
    thread = network = 0.0
    busy = carried = worked = 0.0
    free = [0.0] * workers  # when each worker is
    heapq.heapify(free)
    back: list[tuple[float, int]] = []
    sent = 0
    end = 0.0

    def dispatch(now: float) -> None:
        nonlocal thread, network, busy, carried, worked, sent
        at = sent % len(measured.made)
        work = measured.made[at] + TASK
        thread, busy = max(thread, now) + work, busy + work
        there = measured.sent[at] / NETWORK
        network, carried = max(network, thread) + there, carried + there
        starts = max(heapq.heappop(free), network + LATENCY)
        heapq.heappush(free, starts + measured.flown[at])
        worked += measured.flown[at]
        heapq.heappush(back, (starts + measured.flown[at], at))
        sent += 1

    for _ in range(min(AHEAD * workers, number)):
        dispatch(0.0)
    while back:
        flown, at = heapq.heappop(back)
        here = measured.returned[at] / NETWORK
        network, carried = max(network, flown) + here, carried + here
        arrived = max(network, flown) + LATENCY
        thread, busy = max(thread, arrived) + measured.taken[at], busy + measured.taken[at]
        end = max(end, thread)
        if sent < number:
            dispatch(arrived)
    return Simulated(worked / (workers * end), busy / end, carried / end)


def main() -> None:
    """Measure and print."""
    measured = measure()
    per = DESIGNS
    first = np.flatnonzero(measured.made > 20.0 * np.median(measured.made))
    print(f"a design of two speeds: {1e3 * measured.made[first].sum() / per:.2f} ms to pack and trim")
    print(
        f"a piece of {np.median(measured.flown):.3f} s of flights: {1e3 * np.median(measured.made):.2f} ms to cut and send, "
        f"{1e-3 * np.median(measured.sent):.0f} kB there, {1e-3 * np.median(measured.returned):.0f} kB back, "
        f"{1e3 * np.median(measured.taken):.2f} ms to take in"
    )
    print("\n| workers | they fly | the one thread works | the network carries |")
    print("|---|---|---|---|")
    for workers in [int(text) for text in sys.argv[1:]] or [1, 16, 64, 256]:
        share = simulate(measured, workers)
        print(f"| {workers} | {share.workers:.0%} | {share.thread:.0%} | {share.network:.0%} |")


if __name__ == "__main__":
    main()

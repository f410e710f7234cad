"""How long a worker idles at the end of the demo's flights: `python -m tests.benchmarks.tail [WORKERS]` (2 by default).

On a shared machine the clock tells little, so that the same is also reckoned from the processor time of every piece.
"""

from __future__ import annotations

import sys
import threading
import time
from typing import Any, NamedTuple

from sweep.campaign.campaign import load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out
from sweep.flying import flights
from sweep.flying.work import Work
from sweep.results.shard_plan import plan_shards
from tests.benchmarks.kernel import DEMO


class Flown(NamedTuple):
    """A piece: which thread flew it, when it was done, and the processor time that it took, s."""

    thread: int
    done: float
    taken: float


def fly_demo(workers: int) -> tuple[float, list[Flown]]:
    """When it began, and its pieces in the order in which they were done."""
    campaign = load_campaign(DEMO)
    designs, conditions = lay_out(campaign), list_conditions(campaign)
    flights.warm_up(campaign, designs, conditions)
    pieces: list[Flown] = []
    usual = flights._do

    def watched(*arguments: Any) -> Any:
        begun = time.thread_time()
        result = usual(*arguments)
        pieces.append(Flown(threading.get_ident(), time.perf_counter(), time.thread_time() - begun))
        return result

    flights._do = watched
    begun = time.perf_counter()
    plan = plan_shards(len(designs), len(conditions), campaign.replicates)
    for _ in flights.fly_shards(Work(campaign, designs, conditions, workers), plan):
        pass
    flights._do = usual
    return begun, pieces


def main() -> None:
    """Fly and print."""
    workers = int(sys.argv[1]) if len(sys.argv) > 1 else 2
    begun, pieces = fly_demo(workers)
    ends = [max(piece.done for piece in pieces if piece.thread == thread) for thread in {piece.thread for piece in pieces}]
    busy = [0.0] * workers
    for piece in pieces:
        busy[busy.index(min(busy))] += piece.taken
    longest = max(piece.taken for piece in pieces)
    print(f"{len(pieces)} pieces, {sum(busy):.1f} s of processor, the longest {longest:.2f} s")
    print(f"by the clock: the first worker idles for {max(ends) - min(ends):.2f} of {max(ends) - begun:.1f} s")
    print(f"by processor time: for {max(busy) - min(busy):.2f} of {max(busy):.1f} s")


if __name__ == "__main__":
    main()

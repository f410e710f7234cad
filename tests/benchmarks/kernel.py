"""How fast the model flies: simulated seconds a processor second, for the demo's craft in the demo's chop.

    python -m tests.benchmarks.kernel

Medians of repeated runs in turn; every case in one run, so that ratios mean something on a shared machine.
"""

from __future__ import annotations

import math
import statistics
import time
from collections.abc import Callable
from pathlib import Path

from sweep.campaign.campaign import load_campaign
from sweep.campaign.designs import craft_of, lay_out
from sweep.model.block import Block, make_block
from sweep.model.compiled import LANES
from sweep.model.flight import fly
from sweep.model.onboard.noise import generator
from sweep.model.pack.fleet import Fleet, build_fleets
from sweep.model.physics.spectra import Spectrum
from sweep.model.physics.water import fresh_water
from sweep.model.physics.waves import draw_components, flat_sea

DEMO = Path(__file__).parents[2] / "configs" / "courier-chop.yaml"
LENGTH = 30.0
DEPTH = 4.0


def demo_fleet(strips: int, step: float | None = None) -> Fleet:
    """The demo's first designs, as many as fly side by side."""
    return fleet_of(list(range(LANES)), strips, step)


def fleet_of(designs: list[int], strips: int, step: float | None = None) -> Fleet:
    """Designs of the demo, by their numbers."""
    campaign = load_campaign(DEMO)
    crafts = [craft_of(campaign, row) for _, row in lay_out(campaign).iloc[designs].iterrows()]
    fleets = build_fleets(crafts, fresh_water(288.15, DEPTH), 4.0, strips, step)
    return max((fleet for _, fleet in fleets), key=lambda fleet: fleet.size)


def chop(components: int) -> Block:
    """A JONSWAP sea of 6 cm and 1.1 s met head on, of so many components; 0 for calm water."""
    sea = flat_sea(DEPTH)
    if components:
        sea = draw_components(Spectrum(0.06, 1.1, 3.3), math.pi, DEPTH, generator(1, "benchmark", 0, "sea"), components)
    return make_block(sea, 1, "benchmark", 0, LENGTH, 5.0)


def rates(cases: dict[str, Callable[[], float]], rounds: int = 7) -> dict[str, list[float]]:
    """Simulated seconds a processor second of every case, in turn, `rounds` times; each case returns what it simulated."""
    found: dict[str, list[float]] = {name: [] for name in cases}
    for case in cases.values():
        case()
    for _ in range(rounds):
        for name, case in cases.items():
            begin = time.process_time()
            simulated = case()
            found[name].append(simulated / (time.process_time() - begin))
    return found


def flying(fleet: Fleet, block: Block) -> Callable[[], float]:
    """A case: fly a fleet through a block."""

    def case() -> float:
        fly(fleet, block)
        return fleet.size * block.length

    return case


def main() -> None:
    """Measure and print."""
    two = demo_fleet(strips=2)
    cases = {
        "32 components, 2 strips": flying(two, chop(32)),
        "16 components": flying(two, chop(16)),
        "64 components": flying(two, chop(64)),
        "calm water": flying(two, chop(0)),
        "4 strips": flying(demo_fleet(strips=4), chop(32)),
        "step 2.5 ms": flying(demo_fleet(strips=2, step=0.0025), chop(32)),
        "one design (the other lanes idle)": flying(two.part(0, 1), chop(32)),
    }
    found = rates(cases)
    first = statistics.median(next(iter(found.values())))
    print(f"{'case':36} {'x real time':>12} {'spread':>8} {'ratio':>7}")
    for name, values in found.items():
        middle = statistics.median(values)
        spread = (max(values) - min(values)) / middle
        print(f"{name:36} {middle:12.0f} {spread:7.0%} {middle / first:7.2f}")


if __name__ == "__main__":
    main()

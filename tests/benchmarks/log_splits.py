"""How often the split of water and set-up holds what was planted, and how often it finds an effect where there is none: flown.

    python -m tests.benchmarks.log_splits [PAIRS]

Each pair: two passes of 45 s with each set-up, every set-up in a Gaussian sea of its own. Both set-ups fly every block, so that
the water's part is known: what the first would have measured in the second's waves. The seas are told by the logs alone.
"""

from __future__ import annotations

import sys
from math import pi

import numpy as np

from sweep.logs.aboard import fly_aboard
from sweep.logs.compare import Pass, split
from sweep.logs.expect import Case, Expected, expect
from sweep.logs.judge import sea_of_record
from sweep.logs.measure import measures
from sweep.model.spectra import Spectrum
from sweep.model.waves import draw_components
from tests.model.crafts import WATER, block_of, changed, courier

LENGTH, PASSES, DEPTH, SPEED = 45.0, 2, 5.0, 4.0
SEAS = (Spectrum(0.035, 0.95, 3.3), Spectrum(0.058, 1.2, 3.3))


def expected() -> Expected:
    """What the model expects of the first set-up in these seas."""
    return expect(courier(), WATER, Case(SPEED, pi, DEPTH, LENGTH), SEAS)


def pair(number: int, gain: float, model: Expected) -> tuple[bool, bool] | None:
    """Whether the water's part is inside its interval, and whether the set-ups are told apart; None if a pass ended early."""
    random = np.random.default_rng([7, number])
    first = courier()
    second = changed(first, {"control.height.proportional": gain * first.control.height.proportional})
    passes, plain = [], {}
    for at, setup in enumerate("ab"):
        height, period = random.uniform(0.038, 0.055), random.uniform(0.98, 1.17)
        plain[setup] = []
        for i in range(PASSES):
            draws = np.random.default_rng([number, at, i])
            sea = draw_components(Spectrum(height, period, 3.3), pi, DEPTH, draws, count=64, rayleigh=True)
            block = block_of(sea, LENGTH + 5.0, 5.0, replicate=100 * number + 10 * at + i)
            both = fly_aboard([first, second], WATER, block, SPEED)
            if any(flown.ended for flown in both):
                return None
            values = [measures(flown.log, first)["sensed_error"] for flown in both]
            plain[setup].append(values[0])
            found = sea_of_record(both[at].log, first, SPEED, pi, DEPTH, first.rangefinders.latency)
            assert found is not None
            passes.append(Pass(setup, values[at], found.height.value, found.period.value, 0))
    parts = split(passes, [model], "sensed_error", "a", "b")
    truth = float(np.mean(plain["a"]) - np.mean(plain["b"]))
    return parts.water.low <= truth <= parts.water.high, parts.verdict != "not told apart"


def main() -> None:
    """Fly and print."""
    pairs = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    model = expected()
    for said, gain in (("no effect", 1.0), ("half the height gain", 0.5)):
        found: list[tuple[bool, bool]] = []
        for number in range(pairs):
            one = pair(number, gain, model)
            found += [one] if one is not None else []
            if number % 10 == 9 or number == pairs - 1:
                inside, apart = (sum(each[i] for each in found) for i in (0, 1))
                print(f"{said:22} {len(found)} pairs: inside {inside}, told apart {apart}", flush=True)


if __name__ == "__main__":
    main()

"""How near the sea told by a log is to the one that was flown: seas x headings x speeds, five minutes each.

    python -m tests.benchmarks.log_seas

Height and peak period are held against those that wavespectra has of the spectrum flown. Outside the stated band (waves from
behind whose peak is met slower than 0.45 Hz) they must be within 10 %.
"""

from __future__ import annotations

from itertools import product
from math import cos, radians

import numpy as np

from sweep.logs.compare.simulated_log import fly_aboard
from sweep.logs.sea.judge import sea_of_record
from sweep.logs.sea.sea_state import FOLLOWING_FLOOR, SLOW_BAND
from sweep.logs.sea.spectrum import met
from sweep.model.physics.spectra import Spectrum
from sweep.model.physics.waves import draw_components
from tests.logs.test_sea import theirs
from tests.model.crafts import WATER, block_of, courier

SEAS = ((0.03, 0.8), (0.05, 1.1), (0.08, 1.8))
HEADINGS = (180, 135, 90, 45, 0)
SPEEDS = (3.2, 4.0, 5.0)
LENGTH, DEPTH = 320.0, 5.0
LINES = 256  # of equal energy
DRAWS = 2  # of each sea


def hides(period: float, heading: float, speed: float) -> bool:
    """Whether a sea is in the band in which nothing is promised."""
    peak = float(met(np.array([2 * np.pi / period]), speed, heading, DEPTH)[0])
    return cos(heading) > 0.1 and peak < FOLLOWING_FLOOR + SLOW_BAND


def main() -> None:
    """Fly, tell and print; all seas and headings of a speed side by side."""
    worst, counted = np.zeros(2), 0
    cases = list(product(range(DRAWS), SEAS, HEADINGS))
    for speed in SPEEDS:
        blocks = []
        for draw, (height, period), degrees in cases:
            draws = np.random.default_rng([draw, degrees])
            sea = draw_components(Spectrum(height, period, 3.3), radians(degrees), DEPTH, draws, LINES)
            blocks.append(block_of(sea, LENGTH, 5.0, replicate=draw))
        for (_, (height, period), degrees), flown in zip(
            cases, fly_aboard([courier()] * len(cases), WATER, blocks, speed), strict=True
        ):
            hs, tp = theirs(height, period)[2:]
            heading = radians(degrees)
            if flown.ended:
                print(f"{height} m {period} s, {degrees:3} deg, {speed} m/s: the craft did not stay up", flush=True)
                continue
            found = sea_of_record(flown.log, courier(), speed, heading, DEPTH, courier().rangefinders.latency)
            assert found is not None
            off = np.array([found.height.value / hs - 1.0, found.period.value / tp - 1.0])
            band = hides(period, heading, speed)
            if not band:
                worst, counted = np.maximum(worst, np.abs(off)), counted + 1
            said = f"{found.verdict:6} height {100 * off[0]:+5.1f} %, period {100 * off[1]:+5.1f} %, {found.length:.0f} s"
            print(f"{height} m {period} s, {degrees:3} deg, {speed} m/s: {said}{' (in the band)' if band else ''}", flush=True)
    print(f"worst of {counted} outside the band: height {100 * worst[0]:.1f} %, period {100 * worst[1]:.1f} %")


if __name__ == "__main__":
    main()

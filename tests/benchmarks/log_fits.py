"""How often the intervals of a fit hold what was planted: logs of a craft with other numbers, flown and fitted again and again.

    python -m tests.benchmarks.log_fits [COUNT] [NAMES]

Each log is a pass of 90 s into the waves and one with them, in a Gaussian sea of 5 cm and 1.1 s.
"""

from __future__ import annotations

import sys
from math import pi

import numpy as np

from sweep.logs.aboard import fly_aboard
from sweep.logs.fit import Fitting, Result, fit
from sweep.logs.judge import sea_of_record
from sweep.logs.numbers import changed
from sweep.model.spectra import Spectrum
from sweep.model.waves import draw_components
from tests.model.crafts import WATER, block_of, courier

PLANTED = {
    "lift": 0.93,
    "drag": 1.2,
    "range_lag": 0.08,
    "range_noise": 0.004,
    "servo_delay": 0.02,
    "servo_bandwidth": 0.7,
    "inertia": 1.1,
}
LENGTH, DEPTH, SPEED = 90.0, 5.0, 4.0


def fitted(number: int, names: list[str], headings: tuple[float, ...] = (pi, 0.0), length: float = LENGTH) -> Result:
    """The fit to one day's logs."""
    planted = changed(courier(), names, [PLANTED[name] for name in names])
    logs = []
    for at, heading in enumerate(headings):
        sea = draw_components(
            Spectrum(0.05, 1.1, 3.3), heading, DEPTH, np.random.default_rng([number, at]), count=64, rayleigh=True
        )
        logs.append(fly_aboard([planted], WATER, block_of(sea, length + 5.0, 5.0, replicate=10 * number + at), SPEED)[0].log)

    def seas(late: float) -> list[Spectrum]:
        found = sea_of_record(logs[0], courier(), SPEED, headings[0], DEPTH, late)
        assert found is not None
        return [found.spectrum] * len(logs)

    first = seas(courier().rangefinders.latency)[0]
    runs = [Fitting(log, first, SPEED, heading, DEPTH, length) for log, heading in zip(logs, headings, strict=True)]
    return fit(courier(), WATER, runs, names, seas=seas)


def main() -> None:
    """Fit and print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    names = sys.argv[2].split(",") if len(sys.argv) > 2 else ["lift", "drag", "range_lag", "range_noise"]
    inside = dict.fromkeys(names, 0)
    for number in range(count):
        result = fitted(number, names)
        for each in result.numbers:
            inside[each.name] += each.low <= PLANTED[each.name] <= each.high
            print(
                f"{number:3} {each.name:16} planted {PLANTED[each.name]:.4f} fitted {each.value:.4f} "
                f"({each.low:.4f} to {each.high:.4f})",
                flush=True,
            )
    for name, held in inside.items():
        print(f"{name:16} inside the stated interval in {held} of {count}")


if __name__ == "__main__":
    main()

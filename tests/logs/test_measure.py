"""What a run measures has an interval of its own: as wide as a pass of its length leaves to chance."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from sweep.logs.read.channels import Series
from sweep.logs.sea.measure import doubt_of, freedom_of, intervals, measures
from tests.logs.made import flown, synthesised
from tests.logs.test_sea import theirs
from tests.model.crafts import courier


@pytest.mark.parametrize(("heading", "speed", "height", "period"), [(pi, 4.0, 0.05, 1.1), (0.0, 4.0, 0.05, 1.1)])
def test_intervals_hold_the_long_run(heading: float, speed: float, height: float, period: float) -> None:
    """Passes of 45 s in one Gaussian sea: at least 51 of 60 at 95 % (fewer has a chance of 0.3 %), and no wider than needed.

    Of 150, 139 to 143 held. So many components that a pass does not tell them apart: else the sea is not Gaussian.
    """
    omega, density, *_ = theirs(height, period, count=3000)
    found = [
        intervals(synthesised(omega, density, speed, heading, 45.0, seed=seed), courier())["sensed_error"] for seed in range(60)
    ]
    truth = float(np.sqrt(np.mean([each.value**2 for each in found])))
    assert sum(each.low <= truth <= each.high for each in found) >= 51
    scatter = float(np.std(np.log([each.value for each in found])))
    assert np.mean([doubt_of(each) for each in found]) == pytest.approx(scatter, rel=0.25)


def test_white_noise_has_as_many_degrees_as_readings_and_a_tone_few() -> None:
    """The variance of n independent readings has n - 1; of a sine that lasts, its bin and what the tapers smear it over."""
    time, random = np.arange(0.0, 100.0, 0.05), np.random.default_rng(0)
    assert freedom_of(Series(time, random.standard_normal(len(time)))) == pytest.approx(len(time) - 1, rel=0.1)
    assert freedom_of(Series(time, np.sin(2 * pi * time))) < 20


def test_the_middle_of_an_interval_is_what_is_measured() -> None:
    record = flown().log
    plain, found = measures(record, courier()), intervals(record, courier())
    assert set(found) == {"sensed_error", "acceleration", "pitch", "roll"}
    for name, each in found.items():
        assert each.value == pytest.approx(plain[name])
        assert each.low < each.value < each.high

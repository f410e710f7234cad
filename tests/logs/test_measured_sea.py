"""The sea told of a record from the water: elevation at a fixed place, 40 minutes, of a swell and a wind sea together.

`sea.dat` of the package py3wafo (GPL; only its data are read): measured, 4 Hz; its documentation gives a significant height of
1.9 m and peaks at 11.5 s and 5.6 s. Froude's scale brings it to this craft's size: lengths by 25, times by 5.
"""

from __future__ import annotations

from functools import cache
from importlib.metadata import distribution

import numpy as np
import pytest

from sweep.logs.read.channels import Record, Series
from sweep.logs.report.sentences import sea_sentences
from sweep.logs.sea.judge import noise_of
from sweep.logs.sea.sea_state import BAD_FIT, SeaEstimate, estimate_sea
from sweep.logs.sea.spectrum import encounter_of
from sweep.logs.sea.surface import SLOWEST, measured_surface
from tests.model.crafts import GRAVITY, courier

HEIGHT, SWELL, WIND_SEA = 1.9, 11.5, 5.6
LENGTHS, TIMES = 25.0, 5.0
WHOLE = slice(None)
BETWEEN = 0.125  # Hz: the valley between the two peaks
DEEP = 8.0  # m
LATE = courier().rangefinders.latency


@cache
def measured() -> tuple[np.ndarray, np.ndarray]:
    """Time (s) and elevation (m) at the craft's size."""
    path = distribution("py3wafo").locate_file("wafo/data/sea.dat")
    time, elevation = np.loadtxt(str(path)).T
    return (time - time[0]) / TIMES, (elevation - elevation.mean()) / LENGTHS


def adrift(time: np.ndarray, elevation: np.ndarray) -> Record:
    """The log of a courier that lies still over this water."""
    tick = np.arange(0.0, time[-1] + 0.1, 0.01)
    still = np.zeros_like(tick)
    return {
        "range": Series(time + LATE, 0.3 - elevation),
        "pitch": Series(tick, still),
        "force_z": Series(tick, still - GRAVITY),
    }


def told(elevation: np.ndarray, some: slice = WHOLE) -> SeaEstimate:
    record = adrift(measured()[0][some] - measured()[0][some][0], elevation[some])
    surface = measured_surface(record, courier(), LATE)
    return estimate_sea([encounter_of(surface, 0.0, 0.0, DEEP, noise_of(courier(), record), SLOWEST)])


@pytest.mark.parametrize("some", [slice(None), slice(0, 6000), slice(3500, None)])
def test_a_measured_sea_has_its_published_height_and_is_no_single_wind_sea(some: slice) -> None:
    """Five minutes and more, within 10 %; the mixture is said to be one."""
    found = told(measured()[1], some)
    assert found.length > 290.0
    assert found.verdict == "measured"
    assert found.height.value * LENGTHS == pytest.approx(HEIGHT, rel=0.10)
    assert found.misfit > BAD_FIT
    assert any("not that of one wind sea" in sentence for sentence in sea_sentences(found))


def test_its_wind_sea_alone_has_its_published_period() -> None:
    """Without what is slower than the valley between the peaks: within 10 % of 5.6 s, and of the height that is left."""
    spectrum, frequency = np.fft.rfft(measured()[1]), np.fft.rfftfreq(len(measured()[1]), 0.05)
    spectrum[frequency < BETWEEN * TIMES] = 0.0
    left = np.fft.irfft(spectrum, len(measured()[1]))
    found = told(left)
    assert found.verdict == "measured"
    assert found.misfit < BAD_FIT
    assert found.period.value * TIMES == pytest.approx(WIND_SEA, rel=0.10)
    assert found.height.value == pytest.approx(4.0 * left.std(), rel=0.10)

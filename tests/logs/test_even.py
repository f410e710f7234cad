"""Readings of a sensor that wait for the rows of a coarse log."""

from __future__ import annotations

import numpy as np
import pytest

from sweep.logs.read.channels import Series
from sweep.logs.sea.even import evened


@pytest.mark.parametrize("row", [0.02, 0.04])
@pytest.mark.parametrize("lost", [0.0, 0.1])
def test_waits_are_taken_away(row: float, lost: float) -> None:
    """A sensor of 20 Hz that drifts past rows of 50 or 25 Hz: its ticks come back, within a hundredth of their step."""
    ticks = 0.013 + 0.05 * np.arange(1200)
    ticks = ticks[np.random.default_rng(1).random(len(ticks)) >= lost]
    log = Series(np.ceil(ticks / row) * row, ticks)
    found = evened(log, row, 20.0)
    assert len(found.time) == len(ticks)
    off = found.time - found.value
    assert np.abs(off - off.mean()).max() < 0.0005
    assert 0.0 <= off.min() < row


@pytest.mark.parametrize("row", [0.02, 0.04])
@pytest.mark.parametrize("lost", [0.0, 0.1])
def test_readings_that_race_with_their_rows_keep_a_tick_each(row: float, lost: float) -> None:
    """Sensor and log on one clock: a reading that comes with a row stands now in it and now in the next. None is dropped."""
    random = np.random.default_rng(2)
    ticks = 0.05 * np.arange(1200)
    ticks = ticks[random.random(len(ticks)) >= lost]
    raced = ticks + random.uniform(-1e-4, 1e-4, len(ticks)) * row
    log = Series(np.ceil(raced / row) * row, ticks)
    found = evened(log, row, 20.0)
    assert len(found.time) == len(ticks)
    off = found.time - found.value
    assert np.abs(off - off.mean()).max() < 0.0005


def test_a_sensor_of_another_rate_than_the_file_s_is_left_alone() -> None:
    """One of 25 Hz in rows of 25 Hz is even as it stands; one of 10 Hz is not put on ticks of 20 Hz."""
    for rate in (25.0, 10.0):
        log = Series(np.arange(0.0, 60.0, 1.0 / rate), np.zeros(round(60.0 * rate)))
        assert np.allclose(np.diff(evened(log, 0.04, 20.0).time), 1.0 / rate)

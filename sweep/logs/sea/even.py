"""Readings that wait for a coarse row of the log, put back on the even ticks of their sensor."""

from __future__ import annotations

import numpy as np

from sweep.logs.read.channels import Series
from sweep.model.physics.spectra import Floats

COARSE = 0.1
"""Share of a sensor's own step, from which on a row's wait is put right (judgement)."""
WINDOW = 24
"""Readings, over which sensor and log are taken not to drift apart (judgement)."""
WAITS = 1.2
"""Times the step between rows, that a reading waits at most (judgement)."""
FITS = 0.8
"""Share of the windows whose waits must be so short, for a sensor's rate to be believed (judgement)."""
FEWEST, MOST = 0.6, 1.02
"""Readings for each tick of the sensor: fewer or more are those of a sensor of another rate (judgement)."""


def evened(readings: Series, row: float, rate: float) -> Series:
    """The readings at the ticks of their sensor, each no later than it stands in the log; as they are, where that cannot be.

    row: usual step (s) between the rows of the log; rate: of the sensor, by the craft file, Hz. A reading stands in the row
    after it came: waits, up to a row long, are all that parts the times from even ones.
    """
    time = readings.time
    if len(time) < 2 * WINDOW or row < COARSE / rate:
        return readings
    steps = np.diff(time)
    usual = float(np.median(steps))
    for period in (1.0 / rate, float(steps[steps < 2.5 * usual].mean())):
        share = len(time) * period / float(time[-1] - time[0])
        if row < period and FEWEST < share < MOST and (found := _on_ticks(time, row, period)) is not None:
            tick, first = np.unique(found, return_index=True)
            return Series(tick, readings.value[first])
    return readings


def _on_ticks(time: Floats, row: float, period: float) -> Floats | None:
    """The ticks of a sensor of this period (s) that the readings are of; None if they are not."""
    parts, fits = [], 0
    windows = np.array_split(time, len(time) // WINDOW)
    for part in windows:
        phase = np.sort(part % period)
        gaps = np.append(np.diff(phase), phase[0] + period - phase[-1])
        widest = int(np.argmax(gaps))
        fits += bool(period - gaps[widest] <= WAITS * row)
        begin = float(phase[(widest + 1) % len(phase)])
        parts.append(begin + period * np.floor((part - begin) / period + 1e-6))
    return np.concatenate(parts) if fits >= FITS * len(windows) else None

"""Readings that wait for a coarse row of the log, put back on the even ticks of their sensor."""

from __future__ import annotations

import numpy as np

from sweep.logs.read.channels import Series
from sweep.model.physics.spectra import Floats

COARSE = 0.1
"""Share of a sensor's own step, from which on a row's wait is put right (judgement)."""
WINDOWS = (240, 24)
"""Readings, over which sensor and log are taken not to drift apart (judgement): the more the better, where they do not."""
WAITS = 1.2
"""Times the step between rows, that a reading waits at most (judgement)."""
ALIKE = 0.02
"""Share of a step, by which waits that would do as well may differ (judgement)."""
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
    if len(time) < 2 * WINDOWS[-1] or row < COARSE / rate:
        return readings
    steps = np.diff(time)
    usual = float(np.median(steps))
    for period in (1.0 / rate, float(steps[steps < 2.5 * usual].mean())):
        share = len(time) * period / float(time[-1] - time[0])
        if row < period and FEWEST < share < MOST:
            for window in WINDOWS:
                if (found := _on_ticks(time, row, period, window)) is not None:
                    tick, first = np.unique(found, return_index=True)
                    return Series(tick, readings.value[first])
    return readings


def _on_ticks(time: Floats, row: float, period: float, window: int) -> Floats | None:
    """The ticks of a sensor of this period (s) that the readings are of; None if they are not.

    A sensor has one reading a tick: of the ticks that the waits allow, those which the fewest readings share are taken, and of
    these the nearest to the last window's. Where a reading comes with its row, and stands now in it and now in the next, the
    waits alone tell nothing: at 20 Hz in rows of 25 Hz they are five, a fifth of the sensor's step apart.
    """
    parts, fits = [], 0
    begin: float | None = None
    windows = np.array_split(time, max(len(time) // window, 1))
    for part in windows:
        phase = np.sort(part % period)
        gaps = np.append(np.diff(phase), phase[0] + period - phase[-1])
        widest = np.flatnonzero(gaps > gaps.max() - ALIKE * period)
        begins = phase[(widest + 1) % len(phase)]
        ticks = [np.floor((part - each) / period + 1e-6) for each in begins]
        apart = np.array([len(np.unique(each)) for each in ticks])
        turned = np.remainder(begins - (begins[0] if begin is None else begin) + 0.5 * period, period) - 0.5 * period
        best = int(np.lexsort((np.abs(turned), -apart))[0])
        begin = float(begins[best])
        fits += bool(period - gaps.max() <= WAITS * row)
        parts.append(begin + period * ticks[best])
    return np.concatenate(parts) if fits >= FITS * len(windows) else None

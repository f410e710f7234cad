"""Rows that share one value of a clock that counts in coarse steps: their times lie evenly between its values."""

from __future__ import annotations

import numpy as np

from sweep.model.physics.spectra import Floats

TOGETHER = 400
"""Rows, over which the usual step between two is taken (judgement): some seconds, so that a coarse clock shows it."""


def spread_out(time: Floats, follows: float | None) -> tuple[Floats, int]:
    """Times (s) that go up from row to row, and how many rows shared the clock's value with the row before.

    time: as the log has it, never going down; follows: the clock's next value after these rows, None if there is none. Each
    row comes the usual step after the one before, unless the clock says that it was sooner or later.
    """
    first = np.flatnonzero(np.diff(time, prepend=-np.inf) > 0.0)
    shared = len(time) - len(first)
    if not shared:
        return time, 0
    values = np.append(time[first], follows) if follows is not None and follows > time[-1] else time[first]
    if len(values) < 2:
        return time[:1], shared
    count = float(np.diff(values).min())
    reach = min(TOGETHER, len(time) - 1)
    step = float(np.median(time[reach:] - time[:-reach])) / reach if reach > 1 else float(values[-1] - values[0]) / len(time)
    now = max(values[0], values[1] - float(np.sum(time == time[0])) * step)
    found = np.empty(len(time))
    for row, value in enumerate(time):
        now = min(max(now, value), value + count)
        found[row] = now
        now += step
    return np.maximum.accumulate(found), shared

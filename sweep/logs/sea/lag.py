"""Clocks: how far a second log's clock is ahead of the first's, with its interval, by a quantity that both have."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np
from scipy.signal import correlate

from sweep.logs.read.channels import Series
from sweep.logs.sea.sea_state import Estimate

RATE = 200.0
"""Hz, at which two series are laid over each other (judgement)."""
PIECE_REACH = 0.3
"""s, how far about the whole record's offset that of a piece is looked for (judgement)."""


class Aligned(NamedTuple):
    """Seconds by which a second clock is ahead of the first, how much it gains (s/s), and the correlation, 0 ... 1."""

    ahead: Estimate
    gains: float
    alike: float


def align(first: Series, second: Series, furthest: float = 5.0) -> Aligned | None:
    """How far the second series' clock is ahead of the first's, both of one quantity; None if they do not correlate.

    furthest: s. The interval comes from pieces of the record, each aligned by itself.
    """
    begin = max(first.time[0], second.time[0] - furthest)
    end = min(first.time[-1], second.time[-1] + furthest)
    if end - begin < 10.0:
        return None
    whole, alike = _ahead(first, second, (begin, end), 0.0, furthest)
    if alike < 0.5:
        return None
    pieces = np.linspace(begin, end, 7)
    middles, values = [], []
    for low, high in pairwise(pieces):
        value, good = _ahead(first, second, (low, high), whole, PIECE_REACH)
        if good > 0.5:
            middles.append(0.5 * (low + high))
            values.append(value)
    if len(values) < 3:
        return Aligned(Estimate(whole, whole - 0.02, whole + 0.02), 0.0, alike)
    line = np.polyfit(middles, values, 1)
    left = np.array(values) - np.polyval(line, middles)
    reach = max(2.0 * float(np.std(left)) / np.sqrt(len(values)), 0.5 / RATE)
    mean = float(np.mean(values))
    return Aligned(Estimate(mean, mean - reach, mean + reach), float(line[0]), alike)


def _ahead(first: Series, second: Series, stretch: tuple[float, float], about: float, furthest: float) -> tuple[float, float]:
    """Offset (s) of best correlation within `furthest` of `about`, by a parabola through its top; and the correlation.

    stretch: of the first series, from and to, s.
    """
    (begin, end), rate = stretch, RATE
    time = np.arange(begin, end, 1.0 / rate)
    ours = first.at(time)
    ours = ours - ours.mean()
    shifts = np.arange(round((about - furthest) * rate), round((about + furthest) * rate) + 1) / rate
    theirs = second.at(np.arange(begin + shifts[0], end + shifts[-1] + 1.5 / rate, 1.0 / rate))
    n = len(ours)
    theirs = theirs - theirs.mean()
    products = correlate(theirs, ours, mode="valid", method="fft")[: len(shifts)]
    running = np.concatenate([[0.0], np.cumsum(theirs**2)])
    squares = (running[n:] - running[:-n])[: len(shifts)]
    alike = products / np.sqrt(np.maximum(squares * float(ours @ ours), 1e-18))
    top = int(alike.argmax())
    if 0 < top < len(alike) - 1:
        before, here, after = alike[top - 1 : top + 2]
        bend = before - 2.0 * here + after
        return float(shifts[top] + (0.5 * (before - after) / bend if bend < 0.0 else 0.0) / rate), float(here)
    return float(shifts[top]), float(alike[top])

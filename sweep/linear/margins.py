"""How far a loop is from instability, by its frequency response: gain, phase and delay margins, peak of sensitivity."""

from __future__ import annotations

from collections.abc import Callable
from math import inf
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweep.linear.differences import Complexes, Floats

Gain = Callable[[Floats], Complexes]
Reals = NDArray[np.floating[Any]]

ZOOMS, SHARES = 2, np.linspace(0.0, 1.0, 9)
"""Many frequencies cost little more than one, so finer grids beat a search step by step."""


class Margins(NamedTuple):
    """Margins of a loop.

    gain: largest factor on the loop gain, inf if any will do; least_gain: the smallest one, 0 if any will do;
    phase: rad, of the unity crossing nearest to -1, negative past -180 degrees; delay: s, the most that may be added;
    sensitivity: largest |1 / (1 + L)|; gain_frequency, phase_frequency: where gain and phase margin are taken, rad/s.
    """

    gain: float
    least_gain: float
    phase: float
    delay: float
    sensitivity: float
    gain_frequency: float
    phase_frequency: float


def margins(loop: Gain, grid: Floats, found: Complexes | None = None) -> Margins:
    """Margins of a loop L(frequency in rad/s), negative feedback, by its crossings within a grid of frequencies that rise.

    They say how far a loop is from losing stability or, if it is unstable, from gaining it. Eigenvalues say which of the two.
    found: the loop on the grid, if it is known.
    """
    found = loop(grid) if found is None else found
    turns = _crossings(grid, found.imag, np.imag, loop)
    there = loop(turns)
    turns, there = turns[there.real < 0.0], there[there.real < 0.0]
    factors = 1.0 / np.abs(there)
    up, down = factors[factors >= 1.0], factors[factors < 1.0]
    nearest = turns[int(np.argmin(np.abs(np.log(factors))))] if len(turns) else np.nan
    units = _crossings(grid, np.abs(found) - 1.0, lambda value: np.abs(value) - 1.0, loop)
    angles = np.angle(-loop(units))
    first = int(np.argmin(np.abs(angles))) if len(units) else -1
    return Margins(
        gain=float(up.min(initial=inf)),
        least_gain=float(down.max(initial=0.0)),
        phase=float(angles[first]) if len(units) else inf,
        delay=min((float(angle % (2.0 * np.pi) / f) for angle, f in zip(angles, units, strict=True)), default=inf),
        sensitivity=_peak(grid, np.abs(1.0 / (1.0 + found)), loop),
        gain_frequency=float(nearest),
        phase_frequency=float(units[first]) if len(units) else np.nan,
    )


def _crossings(grid: Floats, values: Reals, part: Callable[[Complexes], Reals], loop: Gain) -> Floats:
    """Frequencies, rad/s, at which a part of the loop's response changes sign: all at once, by finer and finer grids."""
    spans = np.flatnonzero(np.sign(values[1:]) * np.sign(values[:-1]) < 0)
    low, high, column = grid[spans], grid[spans + 1], np.arange(len(spans))
    if not len(spans):
        return low
    for _ in range(ZOOMS):
        finer = low + (high - low) * SHARES[:, None]
        seen = part(loop(finer.ravel())).reshape(finer.shape)
        after = np.argmax(np.sign(seen) != np.sign(seen[0]), axis=0)
        low, high = finer[after - 1, column], finer[after, column]
    before, behind = seen[after - 1, column], seen[after, column]
    return np.asarray(low + (high - low) * before / (before - behind))


def _peak(grid: Floats, values: Reals, loop: Gain) -> float:
    """The largest of `values` and of those on finer grids around it."""
    for _ in range(ZOOMS):
        top = int(np.argmax(values))
        if top in (0, len(grid) - 1):
            break
        grid = grid[top - 1] + (grid[top + 1] - grid[top - 1]) * SHARES
        values = np.abs(1.0 / (1.0 + loop(grid)))
    return float(values.max())

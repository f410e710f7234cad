"""How far a loop is from instability, by its frequency response: gain, phase and delay margins, peak of sensitivity."""

from __future__ import annotations

from collections.abc import Callable
from math import inf
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq, minimize_scalar

from sweep.linear.differences import Complexes, Floats

Gain = Callable[[Floats], Complexes]
Reals = NDArray[np.floating[Any]]


class Margins(NamedTuple):
    """gain: largest factor the loop gain may grow by, inf if any; least_gain: the one it may shrink to, 0 if any;

    phase: rad, of the unity crossing nearest to -1, negative if it lies past -180 degrees; delay: s, that may be added;
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

    They say how far it is from losing (or, of an unstable loop, from gaining) stability; which it is, eigenvalues tell.
    found: the loop on the grid, if it is known.
    """
    found = loop(grid) if found is None else found
    turns = [f for f in _crossings(grid, found.imag, lambda value: value.imag, loop) if _at(loop, f).real < 0.0]
    factors = np.array([1.0 / abs(_at(loop, f)) for f in turns])
    up, down = factors[factors >= 1.0], factors[factors < 1.0]
    nearest = turns[int(np.argmin(np.abs(np.log(factors))))] if turns else np.nan
    units = _crossings(grid, np.abs(found) - 1.0, lambda value: abs(value) - 1.0, loop)
    angles = np.array([np.angle(-_at(loop, f)) for f in units])
    first = int(np.argmin(np.abs(angles))) if units else -1
    return Margins(
        gain=float(up.min(initial=inf)),
        least_gain=float(down.max(initial=0.0)),
        phase=float(angles[first]) if units else inf,
        delay=min((float(angle % (2.0 * np.pi) / f) for angle, f in zip(angles, units, strict=True)), default=inf),
        sensitivity=_peak(grid, np.abs(1.0 / (1.0 + found)), loop),
        gain_frequency=float(nearest),
        phase_frequency=units[first] if units else np.nan,
    )


def _at(loop: Gain, frequency: float) -> complex:
    return complex(loop(np.array([frequency]))[0])


def _crossings(grid: Floats, values: Reals, part: Callable[[complex], float], loop: Gain) -> list[float]:
    """Frequencies, rad/s, at which a part of the loop's response changes its sign."""
    spans = np.flatnonzero(np.sign(values[1:]) * np.sign(values[:-1]) < 0)
    return [float(brentq(lambda f: part(_at(loop, f)), grid[i], grid[i + 1], rtol=1e-6)) for i in spans]


def _peak(grid: Floats, values: Reals, loop: Gain) -> float:
    top = int(np.argmax(values))
    if top in (0, len(grid) - 1):
        return float(values[top])
    span = (grid[top - 1], grid[top + 1])
    found = minimize_scalar(lambda f: -abs(1.0 / (1.0 + _at(loop, f))), bounds=span, method="bounded", options={"xatol": 1e-6})
    return float(max(-found.fun, values[top]))

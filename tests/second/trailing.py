"""The second model's wakes: MODEL.md's velocities integrated numerically over each strip, node by node."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from itertools import pairwise

import numpy as np
from scipy.integrate import quad

from tests.second.sea import Vector

NODES = (0.0, 0.03, 0.1, 0.22, 0.42, 0.75, 1.3, 2.4, 5.0, 12.0)
CORE = np.pi / 4.0 * np.exp(0.25 - np.pi**2 / 4.0)  # of the span
LEAST = 3e-3
POINTS, WEIGHTS = np.polynomial.legendre.leggauss(80)


def over(low: float, high: float) -> tuple[Vector, Vector]:
    """Points and weights of an integral from low to high."""
    half = 0.5 * (high - low)
    return 0.5 * (low + high) + half * POINTS, half * WEIGHTS


def endless_sheet(y: float, z: float, span: float) -> float:
    """Downwash of an endless elliptic sheet, over that in its middle: the flow about a falling plate, turned over."""
    place = complex(y, z) / (span / 2.0)
    return float((1.0 - place / (np.sqrt(place - 1.0) * np.sqrt(place + 1.0))).real)


def endless_pair(y: float, z: float, span: float) -> float:
    """Downwash of an endless pair of unit circulation with solid cores, times 2 pi."""
    total = 0.0
    for side in (1.0, -1.0):
        off = side * np.pi * span / 8.0 - y
        total += side * off / max(off**2 + z**2, (CORE * span) ** 2)
    return total


def mean(function: Callable[[float], float], low: float, high: float, breaks: list[float]) -> float:
    """Mean of a function between low and high, which may be singular at the breaks."""
    ends = [low, *sorted(b for b in breaks if low < b < high), high]
    pieces = [quad(function, a, b, epsabs=1e-11, epsrel=1e-10, limit=200)[0] for a, b in pairwise(ends)]
    return float(sum(pieces) / (high - low))


def strip_influences(l: float, low: float, high: float, z: float, span: float, chord: float) -> tuple[float, float]:  # noqa: E741
    """Downwash angles of sheet and pair at a unit lift coefficient, averaged from low to high; l aft, z apart, all m."""
    length = np.hypot(l, chord / 4.0)
    circulation = 2.0 / np.pi * chord
    y, y_weight = over(low, high)
    angle, angle_weight = over(0.0, np.pi)
    y0 = span / 2.0 * np.cos(angle)
    off = y0[None, :] - y[:, None]
    away = np.sqrt(length**2 + off**2 + z**2)
    begun = -(l / length) * off / (away * (away + length))  # what the beginning takes from the endless vortices
    trailing = (begun * np.cos(angle) / (4.0 * np.pi)) @ angle_weight
    bound = (np.sin(angle) ** 2 * span / 2.0 * l / (4.0 * np.pi * away**3)) @ angle_weight
    near = circulation * (y_weight @ bound) / (high - low)
    sheet = circulation * (y_weight @ trailing) / (high - low) + near
    share = (1.0 + l / length) / 2.0
    tips, cores = [-span / 2.0, span / 2.0], [s * np.pi * span / 8.0 + t * CORE * span for s in (-1, 1) for t in (-1, 0, 1)]
    sheet += share * circulation / span * mean(lambda at: endless_sheet(at, z, span), low, high, tips)
    pair = share * circulation / (2.0 * np.pi) * mean(lambda at: endless_pair(at, z, span), low, high, cores) + near
    for side in (1.0, -1.0):
        gap = side * np.pi * span / 8.0 - y
        reach = np.sqrt(length**2 + gap**2 + z**2)
        lost = -(l / length) * gap / (reach * (reach + length))
        pair += circulation * side * (y_weight @ lost) / (4.0 * np.pi) / (high - low)
    return float(sheet), float(pair)


@lru_cache(maxsize=512)
def tables(l: float, ends: tuple[float, ...], span: float, chord: float) -> Vector:  # noqa: E741
    """(2, strips, nodes): sheet and pair at the nodes, nothing at the last of them."""
    found = np.zeros((2, len(ends) - 1, len(NODES)))
    for s in range(len(ends) - 1):
        for k, node in enumerate(NODES[:-1]):
            found[:, s, k] = strip_influences(l, ends[s], ends[s + 1], node * span / 2.0, span, chord)
    return found


def between(row: Vector, apart: float, span: float) -> float:
    """A table's value at a vertical distance, m."""
    return float(np.interp(abs(apart) / (span / 2.0), NODES, row))

"""Hollow sections: what a wall has of a solid section's area, bending and torsion (MODEL.md, M18.11 and M18.12)."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import NamedTuple

import numpy as np

NODES, WEIGHTS = np.polynomial.legendre.leggauss(16)
FATTEST = math.sqrt(0.2998)  # square root of the place of the largest thickness, in chords
HALVINGS = 60  # to the last bit of a double


class Shares(NamedTuple):
    """Of a solid section: area, second moment of area, and torsion constant before Roark's reduction, (n,) each."""

    area: np.ndarray
    bending: np.ndarray
    torsion: np.ndarray


def half_thickness(root: np.ndarray) -> np.ndarray:
    """Half the thickness of a NACA four-digit section over its largest one, at the square root of a share of the chord."""
    x = root**2
    return np.asarray(5.0 * (0.2969 * root + x * (-0.1260 + x * (-0.3516 + x * (0.2843 - 0.1015 * x)))))


def shares_of(wall: np.ndarray, flap: float | None = None) -> Shares:
    """The shares of sections with a wall over their largest thickness, (n,). Only what is ahead of a flap bears."""
    front = _crossing(wall, 0.0)
    whole, cubed = (float(_integral(np.zeros(1), np.ones(1), power, np.zeros(1))[0]) for power in (1, 3))
    back, last = _crossing(wall, 1.0), math.sqrt(1.0 - (flap or 0.0))
    area = 1.0 - _integral(front, back, 1, wall) / whole
    end = np.maximum(np.minimum(back, last), front)
    ahead = _integral(np.zeros(1), np.full(1, last), 3, np.zeros(1))
    length, middle = end**2 - front**2, 2.0 * _integral(front, end, 1, 0.5 * wall)
    tube = 2.0 * middle**2 * wall / np.maximum(length, 1e-12) + 2.0 / 3.0 * length * wall**3
    rest = 8.0 / 3.0 * (ahead - _integral(front, end, 3, np.zeros(1)))
    return Shares(area, (ahead - _integral(front, end, 3, wall)) / cubed, (rest + tube) / (8.0 / 3.0 * cubed))


def area_share(wall: float | None, thickness: float) -> float:
    """Share of a solid section's area that its wall has (m both); 1 of a solid one, without a wall."""
    return 1.0 if wall is None else float(shares_of(np.array([wall / thickness])).area[0])


def _crossing(wall: np.ndarray, end: float) -> np.ndarray:
    """Where half the thickness is the wall, between the fattest place and an end; one of these if nowhere."""
    thin, thick = np.full_like(wall, end), np.full_like(wall, FATTEST)
    for _ in range(HALVINGS):
        middle = 0.5 * (thin + thick)
        solid = half_thickness(middle) < wall
        thin, thick = np.where(solid, middle, thin), np.where(solid, thick, middle)
    return 0.5 * (thin + thick)


def _integral(start: np.ndarray, end: np.ndarray, power: int, wall: np.ndarray) -> np.ndarray:
    """Integral along the chord of (half thickness - wall)^power between two square roots of places, (n,): Gauss's, exact."""
    total = np.zeros(np.broadcast_shapes(start.shape, end.shape, wall.shape))
    stops = (start, np.clip(FATTEST, start, end), end)
    for one, other in pairwise(stops):
        root = 0.5 * ((one + other)[:, None] + (other - one)[:, None] * NODES)
        inside = (half_thickness(root) - wall[:, None]) ** power * 2.0 * root
        total += 0.5 * (other - one) * (inside @ WEIGHTS)
    return total

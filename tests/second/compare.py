"""How far two answers are apart: pointwise loads and rates, and trajectories with their order in the time step."""

from __future__ import annotations

import numpy as np

from tests.second.sea import Vector

# What counts as one unit of difference: position 1 m, angles 1 rad, velocity 1 m/s, rates 1 rad/s are of like size
# in a flight of a second or two at a few m/s; the rates of a short craft are larger.
SCALES = np.array([1.0] * 3 + [1.0] * 3 + [1.0] * 3 + [5.0] * 3)


def relative_difference(found: Vector, wanted: Vector) -> float:
    """Largest difference of two vectors over the largest element of the wanted one (1e-6 at least)."""
    found, wanted = np.asarray(found, dtype=float), np.asarray(wanted, dtype=float)
    if found.shape != wanted.shape:
        raise ValueError(f"shape {found.shape}, wanted {wanted.shape}")
    size = max(float(np.max(np.abs(wanted), initial=0.0)), 1e-6)
    return float(np.max(np.abs(found - wanted), initial=0.0)) / size


def trajectory_difference(found: Vector, wanted: Vector) -> float:
    """Largest scaled difference of two time histories, shape (times, 12)."""
    if found.shape != wanted.shape:
        raise ValueError(f"shape {found.shape}, wanted {wanted.shape}")
    difference = np.max(np.abs(found - wanted) / SCALES)
    return float(difference) if np.isfinite(difference) else np.inf


def observed_orders(differences: list[float]) -> Vector:
    """Order of convergence seen between neighbours of a list in which the step halves each time."""
    values = np.asarray(differences)
    return np.asarray(np.log2(values[:-1] / values[1:]))

"""Linear waves for the second model: a plain sum over components, evaluated at one point at a time."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

GRAVITY = 9.81
Vector = NDArray[np.float64]


class Water(NamedTuple):
    """Density kg/m^3, kinematic viscosity m^2/s, vapour pressure Pa, depth m."""

    density: float
    viscosity: float
    vapour_pressure: float
    depth: float


class Sea(NamedTuple):
    """Components: amplitude m, omega rad/s, wave numbers kx and ky 1/m, phase rad; settle s (0: no ramp).

    wind: of the air 10 m up, along X and along Y, m/s.
    """

    amplitude: Vector
    omega: Vector
    kx: Vector
    ky: Vector
    phase: Vector
    settle: float = 0.0
    wind: tuple[float, float] = (0.0, 0.0)


NOTHING = np.zeros(0)
FLAT = Sea(NOTHING, NOTHING, NOTHING, NOTHING, NOTHING)


def cross(left: Vector, right: Vector) -> Vector:
    """Cross product of two vectors (3,): numpy's own, for arrays of any shape, took a third of the time of a flight."""
    (a, b, c), (x, y, z) = left, right
    return np.array([b * z - c * y, c * x - a * z, a * y - b * x])


def smoothstep(share: float) -> float:
    """0 below 0, 1 above 1, 3 s^2 - 2 s^3 between."""
    s = min(max(share, 0.0), 1.0)
    return s * s * (3.0 - 2.0 * s)


def ramp(sea: Sea, time: float) -> float:
    """Share of the full sea at a time, s: it grows over the first half of the settling time."""
    return smoothstep(time / (sea.settle / 2.0)) if sea.settle > 0.0 else 1.0


def phases(sea: Sea, x: float, y: float, time: float) -> Vector:
    """Phase of every component at an earth point, rad."""
    return sea.kx * x + sea.ky * y - sea.omega * time + sea.phase


def elevation(sea: Sea, x: float, y: float, time: float) -> float:
    """Surface above the calm level, m, positive up."""
    if not sea.amplitude.size:
        return 0.0
    return ramp(sea, time) * float(sea.amplitude @ np.cos(phases(sea, x, y, time)))


def orbital_velocity(sea: Sea, water: Water, x: float, y: float, depth: float, time: float) -> Vector:
    """Velocity of the water at a depth (m) under the surface: earth axes, z down, shape (3,), m/s."""
    if not sea.amplitude.size:
        return np.zeros(3)
    k = np.hypot(sea.kx, sea.ky)
    d = max(depth, 0.0)
    below, mirrored = np.exp(-k * d), np.exp(-2.0 * k * water.depth + k * d)
    bottom = 1.0 - np.exp(-2.0 * k * water.depth)
    speed = ramp(sea, time) * sea.amplitude * sea.omega
    phase = phases(sea, x, y, time)
    along = speed * (below + mirrored) / bottom * np.cos(phase)
    upward = speed * (below - mirrored) / bottom * np.sin(phase)
    return np.array([along @ (sea.kx / k), along @ (sea.ky / k), -upward.sum()])


def wave_number(omega: float, depth: float) -> float:
    """The k of omega^2 = g k tanh(k depth), 1/m."""
    deep = omega**2 / GRAVITY
    return float(brentq(lambda k: k * np.tanh(k * depth) - deep, 0.5 * deep, deep + 10.0 / depth, xtol=1e-14))


def make_sea(amplitude: Vector, omega: Vector, direction: Vector, phase: Vector, depth: float, settle: float) -> Sea:
    """A sea of components that go towards `direction` (rad, earth, 0 along X, positive to Y)."""
    k = np.array([wave_number(w, depth) for w in omega])
    return Sea(amplitude, omega, k * np.cos(direction), k * np.sin(direction), phase, settle)


def regular_sea(height: float, period: float, direction: float, depth: float, settle: float = 0.0, phase: float = 0.0) -> Sea:
    """One wave train: height m, period s."""
    one = np.ones(1)
    return make_sea(one * height / 2.0, one * 2.0 * np.pi / period, one * direction, one * phase, depth, settle)


def jonswap_sea(
    height: float, period: float, direction: float, depth: float, seed: int, settle: float = 0.0, count: int = 24
) -> Sea:
    """Irregular sea with the JONSWAP shape (Hasselmann et al. 1973, gamma 3.3), scaled to the significant height."""
    generator = np.random.default_rng(seed)
    peak = 1.0 / period
    f = peak * (0.6 + 2.2 * (np.arange(count) + generator.uniform(0.2, 0.8, count)) / count)
    width = np.where(f <= peak, 0.07, 0.09)
    shape = f**-5.0 * np.exp(-1.25 * (peak / f) ** 4) * 3.3 ** np.exp(-0.5 * ((f - peak) / (width * peak)) ** 2)
    amplitude = height / 4.0 * np.sqrt(2.0 * shape / shape.sum())
    spread = direction + generator.normal(0.0, 0.25, count)
    return make_sea(amplitude, 2.0 * np.pi * f, spread, generator.uniform(0.0, 2.0 * np.pi, count), depth, settle)

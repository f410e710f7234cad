"""What gravity adds to the downwash behind a lifting line under water: the waves of a linear free surface, deep water.

The image of the same circulation holds at infinite speed. At speed U, U^2 phi_xx + g phi_z = 0 on the calm surface (Kelvin,
Havelock). Of each wave number (q, k) of the line and its flat wake, K = sqrt(q^2 + k^2), the surface sends back
(K + q^2 / k_0) / (K - q^2 / k_0) times the potential, k_0 = g / U^2: -1 at infinite speed, the image of the same circulation;
+1 at none, that of a rigid wall. What is beyond the first, 2 K / (K - q^2 / k_0), is integrated here; its pole is the wave that
stands to the foil, and lies above the path of integration, so that waves trail behind. Axes and arrangements as in `wakes`.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import quad
from scipy.special import j1

from tests.second.wakes import Arrangement, bound_at, sheet_at, strength, strip_mean

GRAVITY = 9.81
NODES = 80
DECAYED = 45.0
"""Exponents beyond which nothing is left."""

Kernel = Callable[[float, float, float, float], float]
"""Of a wave number k across (1/m), the distance aft (m), the height above the image (m), and k_0 (1/m); 1/m."""

Loading = Callable[[Arrangement, NDArray[np.float64]], NDArray[np.float64]]


def waves(place: Arrangement, speed: float, kernel: Kernel | None = None, loading: Loading | None = None) -> float:
    """Downwash, rad per unit of lift coefficient, that gravity adds at a speed (m/s) to that under the image."""
    kernel, loading = kernel or gravity_kernel, loading or elliptic
    height, k_0 = 2 * place.depth + place.below, GRAVITY / speed**2
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    top = np.sqrt(DECAYED / height)
    root = 0.5 * top * (nodes + 1)  # k = root^2: waves turn with the root of k
    k, step = root**2, top * weights * root
    found = np.array([kernel(each, place.aft, height, k_0) for each in k])
    return -float(np.sum(step * _strip(place, k) * loading(place, k) * found)) / np.pi


def image(place: Arrangement) -> float:
    """Downwash of the image alone, rad per unit of lift coefficient, by the quadrature of Biot and Savart."""
    up = -place.below - 2 * place.depth
    return strip_mean(place, lambda y: bound_at(place, y, up) + sheet_at(place, y, up))


def elliptic(place: Arrangement, k: NDArray[np.float64]) -> NDArray[np.float64]:
    """Transform of the circulation over U, m^2 per unit of lift coefficient, at wave numbers k (1/m)."""
    return strength(place) * np.pi * j1(0.5 * k * place.span) / k


def legs(place: Arrangement, k: NDArray[np.float64]) -> NDArray[np.float64]:
    """The same of a rolled-up wake: all the circulation between two vortices pi/4 of the span apart."""
    return strength(place) * 2 * np.sin(k * np.pi / 8 * place.span) / k


def standing(k: float, k_0: float) -> tuple[float, float, float]:
    """Of the wave that stands to the foil: its wave number along (1/m), its whole one, and sqrt(k_0^2 + 4 k^2)."""
    root = float(np.hypot(k_0, 2 * k))
    whole = 0.5 * (k_0 + root)
    return float(np.sqrt(k_0 * whole)), whole, root


def gravity_kernel(k: float, aft: float, height: float, k_0: float) -> float:
    """Upward velocity that gravity adds: principal value along q, half the pole of the step in x at q = 0, half the wave's."""
    along, whole, root = standing(k, k_0)
    wave = whole**2 * np.exp(-whole * height) * np.cos(along * aft) / root
    return _principal_value(k, aft, height, k_0) / np.pi + 0.5 * k * np.exp(-k * height) - wave


def _principal_value(k: float, aft: float, height: float, k_0: float) -> float:
    """Of K^2 exp(-K height) / (K - q^2 / k_0) sin(q aft) / q over q from 0."""
    along, whole, root = standing(k, k_0)
    lower = 2 * k_0 * k**2 / (k_0 + root)  # along^2 - k_0^2

    def over_pole(q: float) -> float:
        """The integrand times q - along, by K - q^2/k_0 = -(q^2 - along^2) (q^2 + lower) / (k_0 (q^2 + k_0 K))."""
        K = np.hypot(q, k)
        decay = K**2 * np.exp(-K * height) * aft * np.sinc(q * aft / np.pi)
        return -k_0 * decay * (q**2 + k_0 * K) / ((q + along) * (q**2 + lower))

    end = max(DECAYED / height, 10 * k)
    if whole * height > DECAYED:
        return quad(lambda q: over_pole(q) / (q - along), 0, min(end, 0.99 * along), limit=400, epsabs=1e-9)[0]
    near = quad(over_pole, 0, 2 * along, weight="cauchy", wvar=along, limit=400, epsabs=1e-6, epsrel=1e-6)[0]
    return (
        near
        + quad(lambda q: over_pole(q) / (q - along), 2 * along, max(3 * along, end), limit=400, epsabs=1e-6, epsrel=1e-6)[0]
    )


def slender_kernel(k: float, aft: float, height: float, k_0: float) -> float:
    """The same if all changes across the stream are quicker than along it: water that rises and falls aft / U after the foil.

    Its swing is that of deep water, omega^2 = g k.
    """
    return k * np.exp(-k * height) * (1 - np.cos(np.sqrt(k_0 * k) * aft))


def image_kernel(k: float, aft: float, height: float, k_0: float) -> float:
    """Upward velocity of the image alone in the same form: to check the transform, and for the ends of the range of speeds."""
    del k_0
    part = quad(
        lambda q: np.hypot(q, k) * np.exp(-np.hypot(q, k) * height) * aft * np.sinc(q * aft / np.pi),
        0, DECAYED / height, limit=400, epsabs=1e-9,
    )[0]  # fmt: skip
    return part / (2 * np.pi) + 0.25 * k * np.exp(-k * height)


def wave_drag(place: Arrangement, speed: float) -> float:
    """Drag over density and U^2 per unit of lift coefficient squared (m^2) that the waves carry off: Gamma times their upwash.

    What is left of the surface's upwash at the line itself when that of a rigid wall is taken out.
    """
    k_0 = GRAVITY / speed**2
    k = np.linspace(1e-6, DECAYED / (2 * place.depth), 20001)
    whole = 0.5 * (k_0 + np.hypot(k_0, 2 * k))
    power = elliptic(place, k) ** 2 * whole**2 * np.exp(-2 * whole * place.depth) / np.hypot(k_0, 2 * k)
    return float(np.trapezoid(power, k)) / np.pi


def _strip(place: Arrangement, k: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean of cos(k y) over the strip."""
    start, end = place.side + place.start, place.side + place.end
    return (np.sin(k * end) - np.sin(k * start)) / (k * (end - start))

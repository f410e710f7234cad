"""Wave spectra: the energy of a sea by frequency and direction, and the sea that a wind raises.

Frequencies are angular, rad/s; spectra S(omega) are one-sided, m2 s, and integrate to the variance of the elevation.
"""

from __future__ import annotations

from functools import cache
from math import gamma as gamma_function
from math import inf, pi, sqrt, tanh
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

GRAVITY = 9.81  # m/s2: within 0.03 of the value anywhere at sea (standard: 9.80665, CGPM 1901)


class WindSea(NamedTuple):
    """A wind sea: significant height, m, and peak period, s."""

    significant_height: float
    peak_period: float


class Spectrum(NamedTuple):
    """A sea by its significant height, m (4 sqrt(m0)), peak period, s, and peak enhancement (1: Bretschneider)."""

    significant_height: float
    peak_period: float
    gamma: float = 1.0

    @property
    def peak(self) -> float:
        """Angular frequency of the peak, rad/s."""
        return 2 * pi / self.peak_period

    @property
    def variance(self) -> float:
        """m0, m2."""
        return self.significant_height**2 / 16

    def density(self, omega: Floats) -> Floats:
        """S(omega), m2 s."""
        return jonswap(omega, self.significant_height, self.peak_period, self.gamma)


def bretschneider(omega: Floats, significant_height: float, peak_period: float) -> Floats:
    """S(omega), m2 s, of the ITTC two-parameter spectrum (ITTC 7.5-02-07-01.1; M3.4)."""
    peak = 2 * pi / peak_period
    x = np.maximum(omega / peak, 0.2)  # below this the exponential is exactly zero; this avoids a division by zero
    return 5 / 16 * significant_height**2 / peak * x**-5.0 * np.exp(-1.25 * x**-4.0)


def jonswap(omega: Floats, significant_height: float, peak_period: float, gamma: float = 3.3) -> Floats:
    """S(omega), m2 s: the JONSWAP shape (Hasselmann et al. 1973), its integral exactly significant_height^2 / 16; M3.4."""
    peaked = gamma ** _enhancement(omega * peak_period / (2 * pi))
    return _normaliser(gamma) * bretschneider(omega, significant_height, peak_period) * peaked


def _enhancement(x: Floats) -> Floats:
    """The exponent of the peak enhancement at x = omega / peak."""
    width = np.where(x <= 1, 0.07, 0.09)
    return np.exp(-0.5 * ((x - 1) / width) ** 2)


@cache
def _normaliser(gamma: float) -> float:
    """Factor that makes the significant height exact, by integration: published fits of it are up to 2 % off."""
    nodes, weights = np.polynomial.legendre.leggauss(96)
    raised = 0.0
    for low, high in ((0.3, 1.0), (1.0, 1.9)):  # ten widths either side of the peak; its width changes there
        x = 0.5 * (high + low) + 0.5 * (high - low) * nodes
        shape = 5 * x**-5 * np.exp(-1.25 * x**-4)
        raised += 0.5 * (high - low) * float(weights @ (shape * (gamma ** _enhancement(x) - 1)))
    return 1 / (1 + raised)


def spreading(angle: Floats, exponent: float) -> Floats:
    """D(angle), 1/rad, about the mean direction: cos^2s of the half angle, s the exponent (Mitsuyasu et al. 1975; M3.5)."""
    scale = gamma_function(exponent + 1) / (2 * sqrt(pi) * gamma_function(exponent + 0.5))
    return scale * np.abs(np.cos(angle / 2)) ** (2 * exponent)


def jonswap_growth(wind_speed: float, fetch: float) -> WindSea:
    """Fetch-limited sea in deep water; fetch in m, wind at 10 m in m/s: Hasselmann et al., Dt. Hydrogr. Z. A8(12), 1973.

    Measured for fetches from 1 km; below that it is an extrapolation.
    """
    x = GRAVITY * fetch / wind_speed**2
    return _wind_sea(wind_speed, 1.6e-7 * x, 3.5 * x**-0.33)


def young_verhagen(wind_speed: float, fetch: float, depth: float) -> WindSea:
    """Fetch-limited sea in finite depth; fetch, depth in m, wind at 10 m in m/s: Young & Verhagen, Coastal Eng. 29 (1996).

    Their eqs 25-27. Measured for fetches from 1 km; below that it is an extrapolation.
    """
    x, d = GRAVITY * fetch / wind_speed**2, GRAVITY * depth / wind_speed**2
    a1, b1 = 0.493 * d**0.75, 3.13e-3 * x**0.57
    a2, b2 = 0.331 * d**1.01, 5.215e-4 * x**0.73
    energy = 3.64e-3 * (tanh(a1) * tanh(b1 / tanh(a1))) ** 1.74
    return _wind_sea(wind_speed, energy, 0.133 * (tanh(a2) * tanh(b2 / tanh(a2))) ** -0.37)


def wind_sea(wind_speed: float, fetch: float, depth: float) -> WindSea:
    """The sea that a wind (m/s at 10 m) raises over a fetch (m) of this depth (m); M3.6.

    Young & Verhagen 1996, with JONSWAP 1973 as the upper limit: finite depth makes waves neither higher nor longer.
    """
    shallow, deep = young_verhagen(wind_speed, fetch, depth), jonswap_growth(wind_speed, fetch)
    return WindSea(*map(min, shallow, deep))


def _wind_sea(wind_speed: float, energy: float, peak: float) -> WindSea:
    """The sea of a dimensionless energy g^2 m0 / U^4 and a dimensionless peak frequency f U / g, f in Hz."""
    return WindSea(4 * sqrt(energy) * wind_speed**2 / GRAVITY, wind_speed / (GRAVITY * peak))


_CODE_HEIGHTS = (0.0, 0.0, 0.1, 0.5, 1.25, 2.5, 4.0, 6.0, 9.0, 14.0, inf)  # m, WMO code table 3700


def sea_state_code_bounds(code: int) -> tuple[float, float]:
    """Least and largest significant height, m, of a sea-state code 0 ... 9 (WMO code table 3700)."""
    if not 0 <= code <= 9:
        raise ValueError(f"sea-state code is {code}; wanted 0 to 9")
    return _CODE_HEIGHTS[code], _CODE_HEIGHTS[code + 1]

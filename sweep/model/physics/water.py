"""The water: its density, viscosity and vapour pressure from its temperature (M3.1).

Published correlations at one atmosphere, 0 to 40 degC. Sea water is of salinity 35 (35.165 g of salt a kg).
"""

from __future__ import annotations

from math import exp
from typing import NamedTuple

import numpy as np

FREEZING = 273.15  # K, by the definition of the degree Celsius
WARMEST = 313.15  # K: 40 degC, the upper end of the formulas' range
PRACTICAL_SALINITY = 35.0  # of standard sea water (practical salinity scale 1978)
SALT_SHARE = 0.03516504  # kg of salt per kg of sea water at that salinity (TEOS-10 reference composition)


class Water(NamedTuple):
    """Density kg/m3, kinematic viscosity m2/s, vapour pressure Pa (absolute), depth of the water m."""

    density: float
    viscosity: float
    vapour_pressure: float
    depth: float


def fresh_water(temperature: float, depth: float) -> Water:
    """Fresh water at a temperature (K) and a depth (m, may be infinite).

    Raises ValueError outside 0 ... 40 degC or for a depth that is not positive.
    """
    _check(temperature, depth)
    density = _fresh_density(temperature)
    return Water(density, _fresh_dynamic_viscosity(temperature) / density, _fresh_vapour_pressure(temperature), depth)


def sea_water(temperature: float, depth: float) -> Water:
    """Sea water of salinity 35 at a temperature (K) and a depth (m, may be infinite).

    Raises ValueError outside 0 ... 40 degC or for a depth that is not positive.
    """
    _check(temperature, depth)
    density = _sea_density(temperature)
    return Water(density, _sea_dynamic_viscosity(temperature) / density, _sea_vapour_pressure(temperature), depth)


def _check(temperature: float, depth: float) -> None:
    if not FREEZING <= temperature <= WARMEST:
        raise ValueError(f"water temperature is {temperature - FREEZING:g} degC; wanted 0 to 40 degC")
    if not depth > 0:
        raise ValueError(f"water depth is {depth:g} m; wanted more than 0 m")


def _fresh_density(temperature: float) -> float:
    """kg/m3. Tanaka et al., Metrologia 38 (2001) 301, p. 305; 0 to 40 degC, 1e-6."""
    t = temperature - FREEZING
    return 999.974950 * (1 - (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881)))


def _fresh_dynamic_viscosity(temperature: float) -> float:
    """Pa s. Liquid water at 0.1 MPa, IAPWS SR6-08 (Patek et al. 2009), 253 to 383 K, 1 %."""
    x = temperature / 300
    return 1e-6 * float(280.68 * x**-1.9 + 511.45 * x**-7.7 + 61.131 * x**-19.6 + 0.45903 * x**-40.0)


def _fresh_vapour_pressure(temperature: float) -> float:
    """Pa. Wagner & Pruss, J. Phys. Chem. Ref. Data 31 (2002) 387, eq. 2.5; 0.03 %."""
    v = 1 - temperature / 647.096
    terms = (
        -7.85951783 * v + 1.84408259 * v**1.5 - 11.7866497 * v**3
        + 22.6807411 * v**3.5 - 15.9618719 * v**4 + 1.80122502 * v**7.5
    )  # fmt: skip
    return 22.064e6 * exp(647.096 / temperature * terms)


def _sea_density(temperature: float) -> float:
    """kg/m3. Salt terms of Millero & Poisson, Deep-Sea Res. 28A (1981) 625, on fresh water; 1e-5."""
    t, salinity = temperature - FREEZING, PRACTICAL_SALINITY
    linear = np.polyval([5.3875e-9, -8.2467e-7, 7.6438e-5, -4.0899e-3, 0.824493], t)
    root = np.polyval([-1.6546e-6, 1.0227e-4, -5.72466e-3], t)
    return _fresh_density(temperature) + float(linear * salinity + root * salinity**1.5 + 4.8314e-4 * salinity**2)


def _sea_dynamic_viscosity(temperature: float) -> float:
    """Pa s. Sharqawy, Lienhard & Zubair, Desalin. Water Treat. 16 (2010) 354, eqs 22 and 23; 1.5 %."""
    t = temperature - FREEZING
    pure = 4.2844e-5 + 1 / (0.157 * (t + 64.993) ** 2 - 91.296)
    linear = 1.541 + 1.998e-2 * t - 9.52e-5 * t**2
    square = 7.974 - 7.561e-2 * t + 4.724e-4 * t**2
    return pure * (1 + linear * SALT_SHARE + square * SALT_SHARE**2)


def _sea_vapour_pressure(temperature: float) -> float:
    """Pa. Raoult's law, as in Sharqawy, Lienhard & Zubair (2010)."""
    return _fresh_vapour_pressure(temperature) / (1 + 0.57357 * SALT_SHARE / (1 - SALT_SHARE))

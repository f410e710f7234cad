"""Water against two libraries over the whole range: CoolProp (IAPWS-95, IAPWS R12-08) and gsw (TEOS-10)."""

from __future__ import annotations

import gsw
import numpy as np
import pytest

from sweep.model.physics.water import fresh_water, sea_water

TEMPERATURES = np.arange(1.0, 40.1, 3.0)
ATMOSPHERE = 101325.0


@pytest.mark.parametrize("celsius", TEMPERATURES)
def test_fresh_water_is_that_of_iapws(celsius: float) -> None:
    from CoolProp.CoolProp import PropsSI  # which takes 2 s to load

    kelvin = 273.15 + celsius
    water = fresh_water(kelvin, depth=1.0)
    density = PropsSI("D", "T", kelvin, "P", ATMOSPHERE, "Water")
    assert water.density == pytest.approx(density, rel=2e-6)
    assert water.viscosity == pytest.approx(PropsSI("V", "T", kelvin, "P", ATMOSPHERE, "Water") / density, rel=1e-4)
    assert water.vapour_pressure == pytest.approx(PropsSI("P", "T", kelvin, "Q", 0, "Water"), rel=1e-4)


@pytest.mark.parametrize("celsius", TEMPERATURES)
def test_sea_water_is_as_dense_as_teos_10_says(celsius: float) -> None:
    outside = gsw.rho(35.16504, gsw.CT_from_t(35.16504, celsius, 0.0), 0.0)
    assert sea_water(273.15 + celsius, depth=1.0).density == pytest.approx(outside, rel=1e-5)


@pytest.mark.parametrize("celsius", TEMPERATURES)
def test_salt_thickens_water_and_holds_its_vapour_back(celsius: float) -> None:
    fresh, sea = fresh_water(273.15 + celsius, depth=1.0), sea_water(273.15 + celsius, depth=1.0)
    assert 1.02 < sea.density / fresh.density < 1.03
    assert 1.02 < sea.viscosity / fresh.viscosity < 1.07
    assert 0.97 < sea.vapour_pressure / fresh.vapour_pressure < 0.99

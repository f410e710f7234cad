"""Water against the ITTC tables and IAPWS (tests/references/water.toml)."""

from __future__ import annotations

from collections.abc import Callable
from math import inf, nan

import pytest

from sweep.model.physics.water import Water, fresh_water, sea_water
from tests.references import reference

FRESH = reference("water", "fresh")


@pytest.mark.parametrize("row", FRESH.rows, ids=lambda row: f"{row['temperature degC']:g} degC")
def test_fresh_water(row: dict[str, float]) -> None:
    water = fresh_water(273.15 + row["temperature degC"], depth=4.0)
    for value, name in zip(water, ("density kg/m3", "viscosity m2/s", "vapour pressure Pa"), strict=False):
        assert value == pytest.approx(row[name], rel=FRESH.tolerance[name]), name


@pytest.mark.parametrize(
    ("table", "column", "field"),
    [
        ("sea_density", "density kg/m3", "density"),
        ("sea_density_at_the_surface", "density kg/m3", "density"),
        ("sea_viscosity", "viscosity m2/s", "viscosity"),
        ("sea_vapour_pressure", "vapour pressure Pa", "vapour_pressure"),
    ],
)
def test_sea_water(table: str, column: str, field: str) -> None:
    outside = reference("water", table)
    for row in outside.rows:
        water = sea_water(273.15 + row["temperature degC"], depth=4.0)
        assert getattr(water, field) == pytest.approx(row[column], rel=outside.tolerance), row


def test_cavitation_number() -> None:
    water = fresh_water(288.15, depth=4.0)
    outside = reference("water", "cavitation_number")
    for row in outside.rows:
        pressure = 101325 + water.density * 9.81 * 0.1 - water.vapour_pressure
        number = pressure / (0.5 * water.density * row["speed m/s"] ** 2)
        assert number == pytest.approx(row["cavitation number"], rel=outside.tolerance)


def test_the_depth_passes_through() -> None:
    assert fresh_water(288.15, depth=4.0).depth == 4.0
    assert sea_water(288.15, depth=inf).depth == inf


@pytest.mark.parametrize("make", [fresh_water, sea_water])
@pytest.mark.parametrize("temperature", [273.14, 313.16, 18.0, nan])
def test_a_temperature_outside_the_correlations_is_refused(make: Callable[..., Water], temperature: float) -> None:
    with pytest.raises(ValueError, match="wanted 0 to 40 degC"):
        make(temperature, depth=4.0)


@pytest.mark.parametrize("make", [fresh_water, sea_water])
@pytest.mark.parametrize("depth", [0.0, -1.0, nan])
def test_a_depth_that_is_not_positive_is_refused(make: Callable[..., Water], depth: float) -> None:
    with pytest.raises(ValueError, match="wanted more than 0 m"):
        make(288.15, depth=depth)


def test_a_refusal_tells_the_temperature_as_it_was_given() -> None:
    with pytest.raises(ValueError, match=r"water temperature is 45 degC; wanted"):
        fresh_water(318.15, depth=4.0)

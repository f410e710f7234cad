"""The table of checks: the outside values are those of tests/references, and the model meets them."""

from __future__ import annotations

import math
from typing import Any

import pytest

from sweep.checks import Check, list_checks
from tests.references import reference

# Quantity -> topic, table, the row's column and value, the column of the value, its tolerance's name.
WHERE: dict[str, tuple[str, str, dict[str, Any], str]] = {
    "density of fresh water, 15 °C": ("water", "fresh", {"temperature degC": 15.0}, "density kg/m3"),
    "viscosity of fresh water, 15 °C": ("water", "fresh", {"temperature degC": 15.0}, "viscosity m2/s"),
    "vapour pressure of fresh water, 15 °C": ("water", "fresh", {"temperature degC": 15.0}, "vapour pressure Pa"),
    "density of sea water, 15 °C": ("water", "sea_density", {"temperature degC": 15.0}, "density kg/m3"),
    "viscosity of sea water, 15 °C": ("water", "sea_viscosity", {"temperature degC": 15.0}, "viscosity m2/s"),
    "depth over wave length, at 0.1 of the deep one": ("dispersion", "table_c1", {"d/L0": 0.1}, "d/L"),
    "group speed over deep wave speed, there": ("dispersion", "table_c1", {"d/L0": 0.1}, "Cg/C0"),
    "water speed half way down, 0.2 m wave in 1 m": ("orbital_velocity", "airy", {"z m": -0.5}, "horizontal m/s"),
    "waves of 1 s met head on at 5 m/s": ("encounter", "frequency", {"speed m/s": 5.0, "period s": 1.0}, "head Hz"),
    "height over length at breaking, kd = 1": ("dispersion", "breaking", {"kd": 1.0}, "height over length"),
    "zero-crossing over peak period": ("spectra", "bretschneider_moments", {}, "Tz/Tp"),
    "mean over peak period, peakedness 3.3": ("spectra", "jonswap_periods", {"gamma": 3.3}, "T1/Tp"),
    "JONSWAP at 1 Hz, 10 cm and 1.5 s": ("spectra", "ordinates", {"frequency Hz": 1.0}, "jonswap 3.3 m2/Hz"),
    "sea of 21.9 m/s over 53.9 km, 7 m deep": ("growth", "young_verhagen_example", {}, "Hm0 m"),
    "peak of the spreading, exponent 10": ("spreading", "peak", {"exponent": 10.0}, "peak 1/rad"),
    "lift slope, aspect ratio 6, deep": ("lift_slope", "rectangular", {"aspect ratio": 6.0}, "vortex lattice"),
    "lift of an endless foil half a chord deep, over deep": ("depth_effect", "flat_plate", {"h/c": 0.5}, "flat plate"),
    "biplane factor, gap 0.2 of the span": ("depth_effect", "biplane", {"gap over span": 0.2}, "sigma"),
    "lift one chord deep, aspect ratio 4, fast, over deep": (
        "depth_effect", "rectangular_infinite_froude", {"aspect ratio": 4.0, "h/c": 1.0}, "lift ratio",
    ),
    "the same, aspect ratio 6, Froude number 3": (
        "depth_effect", "rectangular_froude", {"aspect ratio": 6.0, "h/c": 1.0, "froude": 3.0}, "lift ratio",
    ),
    "lift one chord travelled after a step": ("indicial_lift", "jones", {"s": 2.0}, "6"),
    "added mass of a plate 1 : 6": ("added_mass", "rectangular_plate", {"b/a": 6.0}, "factor"),
    "side-force slope, aspect ratio 2": ("lift_slope", "rectangular", {"aspect ratio": 2.0}, "helmbold"),
    "friction at Reynolds number 1e6": ("friction", "ittc_57", {"reynolds": 1e6}, "friction"),
    "form factor, thickness 15 %": ("friction", "form_factor", {"thickness over chord": 0.15}, "form factor"),
    "junction drag on thickness², 12 %": ("friction", "junction", {"thickness over chord": 0.12}, "drag coefficient"),
    "spray of a 6 mm strut at 5 m/s": ("friction", "spray", {"speed m/s": 5.0}, "drag N"),
    "water entry of a wedge of 20°": ("planing", "water_entry", {"deadrise deg": 20.0}, "von karman"),
    "best efficiency at thrust coefficient 1": ("propulsor", "actuator_disc", {"thrust coefficient": 1.0}, "efficiency"),
}  # fmt: skip
CLOSED_FORM = {"overshoot of a servo of damping 0.4": math.exp(-math.pi * 0.4 / math.sqrt(1.0 - 0.4**2))}
CHECKS = {check.quantity: check for check in list_checks()}


def test_every_check_has_its_reference() -> None:
    assert set(CHECKS) == set(WHERE) | set(CLOSED_FORM)
    assert len(CHECKS) == len(list_checks()) >= 25


@pytest.mark.parametrize("quantity", WHERE)
def test_outside_values_are_those_of_the_references(quantity: str) -> None:
    topic, table, place, column = WHERE[quantity]
    outside = reference(topic, table)
    (row,) = [row for row in outside.rows if place.items() <= row.items()]
    check = CHECKS[quantity]
    assert check.published == row[column]
    allowed = outside.tolerance[column] if isinstance(outside.tolerance, dict) else outside.tolerance
    # A tolerance that is absolute in the references is absolute here, and relative where it is relative, or tighter.
    assert (check.tolerance if check.absolute else check.tolerance * abs(check.published)) <= 1.001 * max(
        allowed, allowed * abs(check.published)
    )


@pytest.mark.parametrize("quantity", CLOSED_FORM)
def test_outside_values_are_those_of_their_formula(quantity: str) -> None:
    assert CHECKS[quantity].published == pytest.approx(CLOSED_FORM[quantity], abs=5e-6)


@pytest.mark.parametrize("quantity", CHECKS)
def test_the_model_meets_it(quantity: str) -> None:
    check = CHECKS[quantity]
    assert check.kept, f"{check.ours} for {check.published}, off by {check.deviation}, allowed {check.tolerance}"


def test_a_deviation_is_a_share_unless_it_is_absolute() -> None:
    relative = Check("", "", "", 200.0, 0.01, False, 203.0)
    assert (relative.deviation, relative.kept) == (pytest.approx(0.015), False)
    absolute = Check("", "", "", 200.0, 4.0, True, 203.0)
    assert (absolute.deviation, absolute.kept) == (pytest.approx(3.0), True)

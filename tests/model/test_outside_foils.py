"""Foils and struts against tests/references: lift slope, depth, indicial lift, added mass, friction."""

from __future__ import annotations

from math import exp, inf, pi, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sweep.model.physics.foil import (
    biplane_factor,
    froude_factor,
    indicial_coefficients,
    lift_slope,
    plate_added_mass,
    surface_factor,
)
from sweep.model.physics.strut import form_factor, friction_line, helmbold_slope, junction_drag_area
from tests.references import reference

THIN_AEROFOIL = 2 * pi
CHORD = 0.03  # m: the ratios do not depend on it


def ratio_at_depth(aspect_ratio: float, chords_deep: float, froude: float) -> float:
    """Our lift at a depth and depth Froude number over our lift in deep water."""
    depth = chords_deep * CHORD
    speed_squared = froude**2 * 9.81 * depth
    slow = froude_factor(chords_deep, aspect_ratio, speed_squared, depth)
    gap = 2 * chords_deep / aspect_ratio
    here = lift_slope(THIN_AEROFOIL, aspect_ratio, surface_factor(chords_deep), biplane_factor(gap), slow)
    return float(here / lift_slope(THIN_AEROFOIL, aspect_ratio, 1.0, 0.0, 1.0))


# In deep water


@pytest.mark.parametrize("table", ["rectangular", "other_lattice"])
def test_lift_slope_against_vortex_lattices(table: str) -> None:
    """The section's slope is the craft's default, 0.95 of a thin aerofoil's."""
    outside = reference("lift_slope", table)
    tolerance = outside.tolerance["vortex lattice"] if table == "rectangular" else outside.tolerance
    for row in outside.rows:
        ours = lift_slope(0.95 * THIN_AEROFOIL, row["aspect ratio"], 1.0, 0.0, 1.0)
        assert ours == pytest.approx(row["vortex lattice"], rel=tolerance), row


@given(section=st.floats(4.0, 7.0), surface=st.floats(0.5, 1.0), biplane=st.floats(0.0, 1.0), froude=st.floats(0.5, 1.0))
def test_an_endless_foil_has_its_sections_slope(section: float, surface: float, biplane: float, froude: float) -> None:
    assert lift_slope(section, 1e9, surface, biplane, froude) == pytest.approx(section * surface * froude, rel=1e-7)


def test_strut_slope() -> None:
    outside = reference("lift_slope", "rectangular")
    for row in outside.rows:
        ours = helmbold_slope(row["aspect ratio"])
        assert ours == pytest.approx(row["helmbold"], rel=outside.tolerance["helmbold"])
        assert ours == pytest.approx(row["vortex lattice"], rel=outside.tolerance["vortex lattice"])
    assert helmbold_slope(0.0) == 0.0


# Under the surface


def test_surface_factor_is_that_of_a_flat_plate() -> None:
    outside = reference("depth_effect", "flat_plate")
    for row in outside.rows:
        assert surface_factor(row["h/c"]) == pytest.approx(row["flat plate"], abs=outside.tolerance), row


def test_surface_factor_is_not_the_one_vortex_formula_close_to_the_surface() -> None:
    """Hough & Moran's formula is 7 % low at a quarter chord and good from one chord on."""
    for row in reference("depth_effect", "flat_plate").rows:
        over = surface_factor(row["h/c"]) / row["one vortex"] - 1
        assert over > 0
        assert (over > 0.02) == (row["h/c"] <= 0.5)


@given(near=st.floats(0.0, 20.0), step=st.floats(1e-3, 5.0))
def test_deeper_is_never_worse(near: float, step: float) -> None:
    assert 0.5 <= surface_factor(near) < surface_factor(near + step) < 1.0
    assert 1.0 >= biplane_factor(near) > biplane_factor(near + step) > 0.0


def test_biplane_factor_is_that_of_prandtl() -> None:
    outside = reference("depth_effect", "biplane")
    for row in outside.rows:
        assert biplane_factor(row["gap over span"]) == pytest.approx(row["sigma"], rel=outside.tolerance), row
    assert biplane_factor(0.0) == pytest.approx(1.0)  # the image on the wing itself: the induced drag of a doubled span load


def test_lift_of_a_finite_span_at_high_speed() -> None:
    outside = reference("depth_effect", "rectangular_infinite_froude")
    compared = [row for row in outside.rows if row["h/c"] >= 0.5]
    assert len(compared) == 7
    for row in compared:
        ours = ratio_at_depth(row["aspect ratio"], row["h/c"], froude=1e6)
        assert ours == pytest.approx(row["lift ratio"], rel=outside.tolerance), row


def test_induced_drag_under_the_surface() -> None:
    """(1 + sigma) against the lattice's, within a tenth."""
    for row in reference("depth_effect", "rectangular_infinite_froude").rows:
        gap = 2 * row["h/c"] / row["aspect ratio"]
        assert 1 + biplane_factor(gap) == pytest.approx(row["induced drag ratio"], rel=0.1), row


def test_lift_of_a_finite_span_at_finite_speed() -> None:
    outside = reference("depth_effect", "rectangular_froude")
    for row in outside.rows:
        ours = ratio_at_depth(row["aspect ratio"], row["h/c"], row["froude"])
        assert ours == pytest.approx(row["lift ratio"], rel=outside.tolerance), row


def test_the_two_dimensional_froude_effect_stays_off_a_short_foil() -> None:
    """One chord deep at Froude 3, aspect ratio 4: 0.879; the two-dimensional 0.732 is nowhere near."""
    two_dimensional = next(row for row in reference("depth_effect", "two_dimensional_froude").rows if row["h/c"] == 1.0)
    assert ratio_at_depth(4.0, 1.0, 3.0) > 1.1 * two_dimensional["3"]


@given(
    chords_deep=st.floats(0.05, 10.0),
    aspect_ratio=st.floats(2.0, 12.0),
    froude=st.floats(1.5, 50.0),
)
def test_slow_is_never_above_fast(chords_deep: float, aspect_ratio: float, froude: float) -> None:
    depth = chords_deep * CHORD
    slow, fast = (froude_factor(chords_deep, aspect_ratio, f**2 * 9.81 * depth, depth) for f in (froude, 1.1 * froude))
    assert 0.5 <= slow <= fast < 1.0


# Unsteady


@pytest.mark.parametrize("aspect_ratio", [3, 4, 6, 8])
def test_lift_grows_as_an_unsteady_lattice_says(aspect_ratio: int) -> None:
    outside = reference("indicial_lift", "finite_span")
    a, b = indicial_coefficients(float(aspect_ratio))
    for row in outside.rows:
        assert 1 - a * exp(-b * row["s"]) == pytest.approx(row[str(aspect_ratio)], abs=outside.tolerance), row


@pytest.mark.parametrize("aspect_ratio", [3, 6])
def test_lift_grows_as_jones_says(aspect_ratio: int) -> None:
    outside = reference("indicial_lift", "jones")
    a, b = indicial_coefficients(float(aspect_ratio))
    for row in outside.rows:
        assert 1 - a * exp(-b * row["s"]) == pytest.approx(row[str(aspect_ratio)], abs=outside.tolerance), row


def test_a_short_foil_lags_less_than_an_endless_one() -> None:
    wagner = {row["s"]: row["phi"] for row in reference("indicial_lift", "wagner").rows}
    for aspect_ratio in (2.0, 3.0, 5.0, 8.0, 12.0):
        a, b = indicial_coefficients(aspect_ratio)
        assert all(1 - a * exp(-b * s) > phi for s, phi in wagner.items())


def test_added_mass_of_plates() -> None:
    outside = reference("added_mass", "rectangular_plate")
    for row in outside.rows:
        assert plate_added_mass(row["b/a"]) == pytest.approx(row["factor"], abs=outside.tolerance), row


@given(aspect_ratio=st.floats(1.0, 60.0), step=st.floats(0.01, 5.0))
def test_added_mass_grows_to_that_of_an_endless_plate(aspect_ratio: float, step: float) -> None:
    """And lies between the two usual factors AR/(1+AR) and AR/sqrt(1+AR^2), which are too low and too high."""
    factor = plate_added_mass(aspect_ratio)
    assert factor < plate_added_mass(aspect_ratio + step) < 1.0
    assert aspect_ratio / (1 + aspect_ratio) < factor < aspect_ratio / sqrt(1 + aspect_ratio**2)
    assert plate_added_mass(inf) == pytest.approx(1.0, abs=1e-6)


# Friction


def test_friction_line() -> None:
    outside = reference("friction", "ittc_57")
    for row in outside.rows:
        assert friction_line(row["reynolds"]) == pytest.approx(row["friction"], abs=outside.tolerance), row


def test_friction_is_above_laminar_and_near_the_plate_line() -> None:
    for row in reference("friction", "laminar").rows:
        assert friction_line(row["reynolds"]) > row["friction"]
    for row in reference("friction", "schoenherr").rows:
        assert friction_line(row["reynolds"]) == pytest.approx(row["friction"], rel=0.17)


def test_form_factor() -> None:
    outside = reference("friction", "form_factor")
    for row in outside.rows:
        assert form_factor(row["thickness over chord"]) == pytest.approx(row["form factor"], abs=outside.tolerance)


def test_junction_drag() -> None:
    outside = reference("friction", "junction")
    for row in outside.rows:
        thickness = 0.006
        area = junction_drag_area(thickness, thickness / row["thickness over chord"])
        assert area / thickness**2 == pytest.approx(row["drag coefficient"], rel=outside.tolerance)
    assert junction_drag_area(0.001, 0.1) == 0.0

"""The vee bottom against water entry of wedges and planing (tests/references/planing.toml)."""

from __future__ import annotations

from math import inf, radians, sin, sqrt, tan

import numpy as np
import pytest

from sweep.model.physics.hull import buoyancy_per_length, cross_flow_per_length, impact_per_length, wedge_area
from tests.references import reference

DENSITY = 999.1


@pytest.mark.parametrize("row", reference("planing", "water_entry").rows, ids=lambda row: f"deadrise {row['deadrise deg']:g}")
def test_a_wedge_that_drops_in_meets_von_karmans_force(row: dict[str, float]) -> None:
    """At constant speed, chine dry; true boundary-element forces lie above it and under Wagner's."""
    speed, time = 1.5, 0.01
    force = impact_per_length(DENSITY, speed * time, 1.0, tan(radians(row["deadrise deg"])), speed)
    ours = force / (DENSITY * speed**3 * time)
    assert ours == pytest.approx(row["von karman"], rel=reference("planing", "water_entry").tolerance)
    assert ours < row["boundary elements"] < row["wagner"]


def test_nothing_hits_on_the_way_out_or_with_the_chines_well_under() -> None:
    slope = tan(radians(14))
    chine = 0.5 * 0.16 * slope
    assert impact_per_length(DENSITY, 0.01, 0.16, slope, -1.0) == 0.0
    just_wet, fading, well_under = (impact_per_length(DENSITY, share * chine, 0.16, slope, 1.0) for share in (1.0, 1.25, 1.5))
    assert fading == pytest.approx(0.5 * just_wet)
    assert well_under == 0.0


@pytest.mark.parametrize("trim", [3.0, 4.0, 6.0])
@pytest.mark.parametrize("deadrise", [14.0, 20.0])
@pytest.mark.parametrize("speed_coefficient", [3.0, 5.0])
def test_planing_lift_is_of_the_size_of_savitskys(trim: float, deadrise: float, speed_coefficient: float) -> None:
    """A prism whose chine just stays dry at the transom, dynamic lift only: 1 to 1.8 times Savitsky's (1964).

    Slices of von Karman's added mass know of no flow along the hull, so they lift too much, the more the steeper
    the trim: good enough for touching down, not for the design of a planing hull.
    """
    beam, slope, angle = 0.16, tan(radians(deadrise)), radians(trim)
    speed = speed_coefficient * sqrt(9.81 * beam)
    depth = (np.arange(400) + 0.5) / 400 * 0.5 * beam * slope
    step = 0.5 * beam * slope / 400 / tan(angle)
    ours = 0.0
    for d in depth:
        _, half_breadth, _ = wedge_area(d, beam, slope)
        ours += step * impact_per_length(DENSITY, d, beam, slope, speed * sin(angle))
        ours += step * cross_flow_per_length(DENSITY, half_breadth, speed * sin(angle))
    wetted = 0.5 * 0.5 * slope / tan(angle)  # mean wetted length over beam, in the dry-chine limit
    theirs = with_deadrise(flat_lift(trim, wetted, inf), deadrise)  # at endless speed: the rest of it is buoyancy
    assert 1.0 < ours / (0.5 * DENSITY * speed**2 * beam**2) / theirs < 1.8


def flat_lift(trim: float, wetted: float, speed_coefficient: float) -> float:
    """Savitsky's lift coefficient of a flat bottom."""
    return trim**1.1 * (0.0120 * wetted**0.5 + 0.0055 * wetted**2.5 / speed_coefficient**2)


def with_deadrise(flat: float, deadrise: float) -> float:
    return flat - 0.0065 * deadrise * flat**0.6


def test_our_reading_of_savitsky_is_his() -> None:
    for row in reference("planing", "savitsky").rows:
        lift = flat_lift(row["trim deg"], row["wetted length over beam"], row["speed coefficient"])
        assert lift == pytest.approx(row["lift coefficient"], rel=1e-6)


def test_our_reading_of_savitsky_s_deadrise_is_his() -> None:
    outside = reference("planing", "savitsky_deadrise")
    for row in outside.rows:
        assert with_deadrise(0.1, row["deadrise deg"]) == pytest.approx(row["lift coefficient"], rel=outside.tolerance)


def test_our_reading_of_savitsky_on_a_small_pontoon_is_his() -> None:
    outside = reference("planing", "pontoon")
    (row,) = outside.rows
    speed_coefficient = 3.0 / sqrt(9.81 * 0.08)
    lift = flat_lift(4.0, 1.5, speed_coefficient)
    assert speed_coefficient == pytest.approx(row["speed coefficient"], rel=outside.tolerance)
    assert lift == pytest.approx(row["lift coefficient"], rel=outside.tolerance)
    assert lift * 0.5 * DENSITY * 9.0 * 0.08**2 == pytest.approx(row["lift N"], rel=outside.tolerance)


def test_a_wedge_floats_by_its_immersed_area() -> None:
    """Archimedes, by the geometry of the section: a triangle to the chine, a rectangle above."""
    slope, beam = tan(radians(14)), 0.16
    chine = 0.5 * beam * slope
    assert wedge_area(0.5 * chine, beam, slope) == pytest.approx((0.5 * chine * 0.25 * beam, 0.25 * beam, 0.0))
    area, half_breadth, above = wedge_area(chine + 0.02, beam, slope)
    assert (area, half_breadth, above) == pytest.approx((0.5 * beam * chine + 0.02 * beam, 0.5 * beam, 0.02))
    assert buoyancy_per_length(DENSITY, area) == pytest.approx(DENSITY * 9.81 * area)

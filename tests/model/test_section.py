"""Sections reduced to what the kernel reads: made-up polars come back, and pressures are those of potential flow."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy import stats

from sweep.model.physics.section import (
    NODES,
    SectionNodes,
    SectionNumbers,
    _least_squares,
    constant_section,
    four_digit_speeds,
    four_digit_suction,
    reduce_polar,
)
from tests.references import reference
from tests.references.panels import Flow, four_digit_outline

AT = 10.0 ** np.array(NODES)
ANGLES = np.radians(np.arange(-10.0, 17.0))


def made_up(reynolds: tuple[float, ...] = (3e4, 1e5, 1e6), rough: float = 0.0) -> dict[str, np.ndarray]:
    """A polar of slope 5.5 and zero-lift angle -2 deg that stalls at 0.2 more lift a decade, drag falling as Re^-1/2."""
    random = np.random.default_rng(4)
    columns: dict[str, list[np.ndarray]] = {name: [] for name in ("reynolds", "angle", "lift", "drag", "moment", "suction")}
    for one in reynolds:
        most = 1.0 + 0.2 * math.log10(one / 1e5)
        lift = 5.5 * (ANGLES + math.radians(2.0))
        lift = np.where(lift > most, 0.6, np.where(lift < -most, -0.5, lift))
        off = lift - 0.25
        columns["reynolds"].append(np.full_like(ANGLES, one))
        columns["angle"].append(ANGLES)
        columns["lift"].append(lift)
        columns["drag"].append((0.01 * math.sqrt(1e5 / one) + 0.012 * off**2 + 0.02 * off**4) * random.normal(1.0, rough, 27))
        columns["moment"].append(np.full_like(ANGLES, -0.05))
        columns["suction"].append(0.4 + 0.5 * lift + 3.0 * lift**2)
    return {name: np.concatenate(parts) for name, parts in columns.items()}


def test_a_made_up_polar_comes_back() -> None:
    section = reduce_polar(**made_up())
    assert section.lift_slope == pytest.approx([5.5] * 5, rel=1e-9)
    assert section.zero_lift_angle == pytest.approx([math.radians(-2.0)] * 5, abs=1e-9)
    assert section.lift_of_least_drag == pytest.approx([0.25] * 5, abs=0.02)  # one of the lifts that are tried
    assert np.exp(section.log_drag) == pytest.approx(0.01 * np.sqrt(1e5 / AT), rel=0.01)
    assert section.drag_rise == pytest.approx([0.012] * 5, rel=0.05)
    assert section.drag_steep == pytest.approx([0.02] * 5, rel=0.1)
    assert section.suction == pytest.approx((0.4, 0.5, 3.0), rel=1e-6)
    assert section.moment == pytest.approx(-0.05)
    assert (section.reynolds_low, section.reynolds_high) == (3e4, 1e6)
    assert (section.angle_low, section.angle_high) == (ANGLES[0], ANGLES[-1])


def test_the_largest_lift_is_the_last_before_the_stall() -> None:
    """To a row of the table, 1 degree, and never the higher lift that comes after a stall."""
    table = made_up()
    most = 1.0 + 0.2 * (np.array(NODES) - 5.0)
    found = np.array(reduce_polar(**table).lift_max)
    assert np.all((most - found > -0.02) & (most - found < 5.5 * math.radians(1.0)))
    table["lift"] = np.where(table["angle"] == ANGLES[-1], 2.0, table["lift"])
    assert reduce_polar(**table).lift_max == pytest.approx(found)


def test_a_dent_is_no_stall() -> None:
    table = made_up((1e5, 1e6))
    table["lift"] = np.where(np.isclose(table["angle"], math.radians(5.0)), 0.97 * table["lift"], table["lift"])
    assert reduce_polar(**table).lift_max == pytest.approx(reduce_polar(**made_up((1e5, 1e6))).lift_max)


def test_one_bad_row_turns_the_fit_little() -> None:
    """A lift of two fifths too much at 3 degrees moves the slope by under 1.5 %; plain least squares, by over 4 %."""
    table = made_up()
    wrong = np.isclose(table["angle"], math.radians(3.0))
    table["lift"] = np.where(wrong, 1.4 * table["lift"], table["lift"])
    assert reduce_polar(**table).lift_slope == pytest.approx([5.5] * 5, rel=0.015)
    inside = (table["reynolds"] == 1e6) & (table["lift"] > -0.2) & (table["lift"] < 0.8)
    plain = np.polyfit(table["angle"][inside], table["lift"][inside], 1)[0]
    assert abs(plain / 5.5 - 1.0) > 0.04


def test_an_outlier_pulls_a_fit_as_huber_has_it() -> None:
    """By hand: of seven rows about nothing and one far off, the seven pull by 7 m against the one's 1.345 deviations.

    A standard deviation is the median distance over that of a normal law, 0.6745 (Huber 1964); here the median is 2, wherever m
    is between 0 and 1.
    """
    rows = np.array([-3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0, 30.0])
    wanted = 1.345 * 2.0 / float(stats.norm.ppf(0.75)) / 7.0
    assert _least_squares(np.ones((8, 1)), rows) == pytest.approx([wanted], rel=1e-4)


def test_scatter_of_the_drag_averages_out() -> None:
    section = reduce_polar(**made_up(rough=0.05))
    for lift in (0.0, 0.3, 0.6):
        off = lift - np.array(section.lift_of_least_drag)
        drag = np.exp(section.log_drag) + section.drag_rise * off**2 + section.drag_steep * off**4
        smooth = 0.01 * np.sqrt(1e5 / AT) + 0.012 * (lift - 0.25) ** 2 + 0.02 * (lift - 0.25) ** 4
        assert drag == pytest.approx(smooth, rel=0.06)


def test_the_order_of_rows_is_nothing() -> None:
    table = made_up(rough=0.05)
    order = np.random.default_rng(1).permutation(len(table["angle"]))
    shuffled = reduce_polar(**{name: column[order] for name, column in table.items()})
    for one, two in zip(shuffled, reduce_polar(**table), strict=True):
        assert one == pytest.approx(two, rel=1e-12)


def test_beyond_the_table_a_section_is_constant() -> None:
    section = reduce_polar(**made_up((1e5, 3e5)))
    assert section.log_drag[0] == section.log_drag[1] == pytest.approx(math.log(0.01), rel=0.01)
    assert section.log_drag[3] == section.log_drag[4] < section.log_drag[2] < section.log_drag[1]
    assert (section.reynolds_low, section.reynolds_high) == (1e5, 3e5)


@pytest.mark.parametrize(
    ("change", "wanted"),
    [
        ({"lift": lambda table: np.abs(table["lift"]) + 0.1}, "never rises"),
        ({"lift": lambda table: -table["angle"]}, "never rises"),
    ],
)
def test_a_polar_without_zero_lift_is_refused(change: dict[str, Any], wanted: str) -> None:
    table = made_up()
    with pytest.raises(ValueError, match=wanted):
        reduce_polar(**(table | {name: of(table) for name, of in change.items()}))


def constant(**changed: float) -> SectionNodes:
    """The section of a craft file that says nothing of it."""
    given: dict[str, float] = {
        "lift_slope": 5.97, "lift_max": 1.1, "drag_min": 0.0117, "reynolds": 1.6e5, "drag_rise": 0.012,
        "lift_of_least_drag": 0.2, "moment": -0.03, "zero_lift_angle": -0.035, "thickness_ratio": 0.12,
    }  # fmt: skip
    return constant_section(SectionNumbers(**(given | changed)))


def test_a_constant_section_has_drag_by_a_power_law() -> None:
    section = constant()
    assert np.exp(section.log_drag) == pytest.approx(0.0117 * np.sqrt(1.6e5 / AT), rel=1e-12)
    halfway = 10.0 ** (0.5 * (NODES[1] + NODES[2]))
    assert math.exp(0.5 * (section.log_drag[1] + section.log_drag[2])) == pytest.approx(0.0117 * math.sqrt(1.6e5 / halfway))
    assert section.lift_slope == (5.97,) * 5
    assert section.drag_steep == (0.0,) * 5
    assert section.angle_low == -math.inf


# Pressure


def test_speeds_of_the_four_digit_form_against_the_printed_table() -> None:
    outside = reference("sections", "speeds_0012")
    place, speed, added = (column[::-1] for column in four_digit_speeds(0.12))
    for row in outside.rows:
        x = row["chords from nose"]
        assert np.interp(x, place, speed) ** 2 == pytest.approx(row["speed squared"], rel=outside.tolerance["speed squared"]), x
        assert np.interp(x, place, added) == pytest.approx(row["added"], rel=outside.tolerance["added"]), x


@pytest.mark.parametrize("thickness", ["06", "12", "18"])
def test_suction_against_vortex_panels(thickness: str) -> None:
    """The panels' own error near the nose falls with their number: 2 to 4 % of suction at 480, a lift of 1."""
    flow = Flow(*four_digit_outline(f"00{thickness}", panels=480))
    s0, s1, s2 = four_digit_suction(int(thickness) / 100)
    for lift in (0.2, 0.5, 0.8, 1.0):
        assert s0 + s1 * lift + s2 * lift**2 == pytest.approx(flow.suction(lift), rel=0.06, abs=0.01), lift


def test_vortex_panels_know_thin_aerofoil_theory() -> None:
    """NACA 2412: zero-lift angle -2.077 deg and moment -0.0531 about the quarter chord as a thin line; within 5 %."""
    flow = Flow(*four_digit_outline("2412"))
    zero = flow.angle_of(0.0)
    assert math.degrees(zero) == pytest.approx(-2.0772, rel=0.05)
    assert flow.moment(zero) == pytest.approx(-0.05312, rel=0.05)
    assert flow.lift(zero + 0.01) / 0.01 == pytest.approx(2 * math.pi * (1 + 0.77 * 0.12), rel=0.01)


def test_a_thicker_section_takes_more_lift_before_it_sucks_hard() -> None:
    at_rest = [four_digit_suction(thickness)[0] for thickness in (0.06, 0.09, 0.12, 0.18)]
    loaded = [sum(four_digit_suction(thickness)) for thickness in (0.06, 0.09, 0.12, 0.18)]
    assert at_rest == sorted(at_rest)
    assert loaded == sorted(loaded, reverse=True)

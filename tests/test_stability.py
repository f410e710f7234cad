"""The words of stability: what a check and a design's page say of modes, margins and the speed limit."""

from __future__ import annotations

from math import inf, log, nan, pi, radians

import pytest

from sweep.flights import water_of
from sweep.linear.margins import Margins
from sweep.linear.table import speed_limit, stability_table
from sweep.outlook import Reach
from sweep.stability import (
    edge_words,
    few_speeds,
    growth_words,
    limit_words,
    margin_words,
    row_words,
    stability_text,
    swing_words,
)
from tests.linear.crafts import courier
from tests.model.crafts import WATER
from tests.test_flights import campaign

REACH = Reach(2.0, 8.0, "foil travel", "thrust")


def spare(**values: float) -> Margins:
    usual = {"gain": 2.1, "least_gain": 0.0, "phase": radians(38.0), "delay": 0.07, "sensitivity": 1.6}
    return Margins(**(usual | {"gain_frequency": 9.0, "phase_frequency": 9.0} | values))


def test_modes_in_words() -> None:
    assert growth_words(-log(2.0) / 1.2) == "halves in 1.2 s"
    assert growth_words(log(2.0) / 0.4) == "doubles in 0.4 s"
    assert growth_words(0.0) == growth_words(-1e-9) == "stays as it is"
    assert swing_words(complex(-0.12, 0.9928) * 2.4 * 2 * pi) == "2.4 Hz, 12 % damped"
    assert swing_words(0.0) == "none"


def test_margins_in_words() -> None:
    assert margin_words(spare()) == "×2.1, 38 deg, 70 ms"
    assert margin_words(spare(gain=inf, phase=inf)) == "not judged"
    assert edge_words(spare(least_gain=0.93)) == "edge at ×0.93"
    assert edge_words(spare()) == ""


@pytest.mark.parametrize(
    ("speeds", "chosen"),
    [([4.0], [2.2, 4.0, 7.6]), ([2.1, 4.0], [2.1, 4.0, 7.6]), ([3, 4, 5, 6, 9], [3, 5, 6]), ([1.0], [2.2, 7.6])],
)
def test_three_speeds_within_the_reach(speeds: list[float], chosen: list[float]) -> None:
    assert few_speeds(REACH, speeds) == pytest.approx(chosen)


def test_the_limit_in_words() -> None:
    assert "up to 7.5 m/s; faster" in limit_words(7.53, REACH)
    assert "up to 8 m/s, as fast as it flies" in limit_words(inf, REACH)
    assert "grow at every one" in limit_words(nan, REACH)


def test_the_table_of_a_check() -> None:
    """A line a speed under its headings; the courier's pitch loop is the one over its edge at its top speed."""
    craft, water = campaign().craft, water_of(campaign())
    reach = Reach(2.3, 8.4, "foil travel", "thrust")
    first, heads, *rows, last = stability_text(craft, water, reach, [4.0])
    assert "small motions" in first.lower()
    assert heads.split("  ")[-1] == "heading"
    assert [row.split()[0] for row in rows] == ["2.5", "4", "8"]
    assert "doubles" in rows[-1]
    assert "edge at ×0.9" in rows[-1][heads.index("pitch") : heads.index("roll")]
    assert rows[-1][heads.index("height") : heads.index("pitch")].strip() == ""
    assert "stable up to 7." in last


def test_what_is_known_is_not_worked_out_again() -> None:
    """The courier is unstable at 8 m/s; told that it is not, the table believes it."""
    assert speed_limit(courier(), WATER, [4.0, 8.0], {4.0: -0.2}) == pytest.approx(7.5, abs=0.1)
    assert speed_limit(courier(), WATER, [4.0, 8.0], {4.0: -0.2, 8.0: -0.1}) == inf


def test_a_speed_without_a_trim_says_so() -> None:
    (row,) = stability_table(courier(), WATER, [1.0])
    assert row_words(row) == ["has no trim", ""]

"""The words of stability: what a check and a design's page say of modes, margins and the speed limit."""

from __future__ import annotations

from math import inf, log, pi, radians

import pytest

from sweep.campaign.draws import water_of
from sweep.linear.margins import Margins
from sweep.linear.reach import Reach
from sweep.linear.stability import (
    edge_words,
    few_speeds,
    growth_words,
    limit_words,
    margin_words,
    row_words,
    slowest_words,
    span_words,
    spans_within,
    stability_text,
    swing_words,
)
from sweep.linear.table import stability_table, stable_spans
from sweep.linear.ticks import Mode
from tests.flying.test_flights import campaign
from tests.linear.crafts import courier, shipped
from tests.model.crafts import WATER

REACH = Reach(2.0, 8.0, "foil travel", "thrust")


def spare(**values: float) -> Margins:
    usual = {"gain": 2.1, "least_gain": 0.0, "phase": radians(38.0), "delay": 0.07, "sensitivity": 1.6}
    return Margins(**(usual | {"gain_frequency": 9.0, "phase_frequency": 9.0} | values))


def test_modes_in_words() -> None:
    assert growth_words(-log(2.0) / 1.2) == "halves in 1.2 s"
    assert growth_words(log(2.0) / 0.4) == "doubles in 0.4 s"
    assert growth_words(0.0) == growth_words(-1e-9) == "stays as it is"
    assert swing_words(Mode(complex(-0.12, 0.9928) * 2.4 * 2 * pi, "rolling")) == "rolling, 2.4 Hz, 12 % damped"
    assert swing_words(Mode(0.0, "")) == "none"
    assert slowest_words(Mode(-log(2.0) / 1.2, "up and down")) == "up and down, halves in 1.2 s"


def test_margins_in_words() -> None:
    assert margin_words(spare()) == "×2.1, 38 deg, 70 ms"
    assert margin_words(spare(gain=inf, phase=inf)) == "not judged"
    assert edge_words(spare(least_gain=0.93)) == "limit at ×0.93"
    assert edge_words(spare()) == ""


@pytest.mark.parametrize(
    ("speeds", "chosen"),
    [([4.0], [2.2, 4.0, 7.6]), ([2.1, 4.0], [2.1, 4.0, 7.6]), ([3, 4, 5, 6, 9], [3, 5, 6]), ([1.0], [2.2, 7.6])],
)
def test_three_speeds_within_the_reach(speeds: list[float], chosen: list[float]) -> None:
    assert few_speeds(REACH, speeds) == pytest.approx(chosen)


def test_the_limit_in_words() -> None:
    """Both ends are told, rounded to what is stable."""
    assert "stable from 2.7 to 4.5 m/s, and unstable at the other speeds" in limit_words([(2.64, 4.56)], REACH)
    assert "stable from 2 to 4.5 m/s, and unstable at the other" in limit_words([(2.0, 4.56)], REACH)
    assert "from 2 to 3 and from 3.5 to 8 m/s" in limit_words([(2.0, 3.01), (3.45, 8.0)], REACH)
    assert "stable at all speeds that it flies at, 2 to 8 m/s" in limit_words([(2.0, 8.0)], REACH)
    assert "unstable at every speed" in limit_words([], REACH)
    least = "Under 2.2 m/s the foils only just carry it: noise alone can drop it, even in a calm."
    assert limit_words([(2.0, 8.0)], REACH).endswith(least)
    assert "noise" not in limit_words([(2.64, 4.56)], REACH)


def test_shares_in_words() -> None:
    assert span_words((0.766, 1.57)) == "0.77 to 1.5"
    assert span_words((0.125, 1.57)) == "up to 1.5"
    assert span_words((0.766, 4.0)) == "0.77 or more"
    assert span_words((0.125, 4.0)) == "any"
    assert span_words(None) == "none"


def test_the_tables_of_a_check() -> None:
    """A line a speed under their headings; the courier's pitch loop is the one over its edge at its top speed."""
    craft, water = campaign().craft, water_of(campaign())
    reach = Reach(2.35, 8.4, "foil travel", "thrust")
    first, heads, *rows, gains, names, low, middle, high, last = stability_text(craft, water, reach, [4.0])
    assert "small motions" in first.lower()
    assert heads.split("  ")[-1] == "heading"
    assert [row.split()[0] for row in rows] == ["2.6", "4", "8"]
    assert "doubles" in rows[-1]
    assert "limit at ×0.9" in rows[-1][heads.index("pitch") : heads.index("roll")]
    assert rows[-1][heads.index("height") : heads.index("pitch")].strip() == ""
    assert gains.startswith("Factors on these gains that keep it stable, tried from 0.125 to 4")
    assert names.split("  ")[-1] == "all gains"
    assert low[names.index("all gains") :].strip().startswith("0.")
    assert middle[names.index("height") : names.index("pitch")].strip() == "any"
    assert high[names.index("all gains") :].strip().startswith("up to 0.9")
    assert "stable from 2.35 to 7." in last


def test_the_lowest_stable_speed_of_the_classroom_craft_is_told() -> None:
    """It flies from 1.8 m/s, and is steady only much faster: released at either side of what is told, it is as told."""
    craft = shipped("classroom")
    (told,) = spans_within(craft, WATER, Reach(1.83, 5.48, "foil travel", "thrust"), {})
    slow, fast = stability_table(craft, WATER, [told[0] - 0.1, told[0] + 0.1])
    assert 2.4 < told[0] < 2.9
    assert (slow.stable, fast.stable) == (False, True)


def test_what_is_known_is_not_worked_out_again() -> None:
    """The courier is unstable at 8 m/s; told that it is not, the table believes it."""
    ((low, high),) = stable_spans(courier(), WATER, [4.0, 8.0], {4.0: -0.2})
    assert (low, high) == (4.0, pytest.approx(7.5, abs=0.1))
    assert stable_spans(courier(), WATER, [4.0, 8.0], {4.0: -0.2, 8.0: -0.1}) == ((4.0, 8.0),)


def test_a_speed_without_a_trim_says_so() -> None:
    (row,) = stability_table(courier(), WATER, [1.0])
    assert row_words(row) == ["has no trim", ""]

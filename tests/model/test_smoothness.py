"""Results are smooth in strips and lengths: a few of the arrangements of tests.benchmarks.smoothness, and foils in line."""

from __future__ import annotations

from math import inf

import pytest

from sweep.campaign.craft import Craft
from tests.benchmarks.smoothness import (
    KINDS,
    SPEED,
    arrangement,
    converges,
    in_line,
    judge,
    length_kind,
    length_violations,
    lowest_speed,
    neighbours,
    report,
    steady,
    strip_violations,
    trims,
)

SEED, NUMBERS = 17, (0, 1, 2, 3, 4, 7)


@pytest.fixture(scope="module")
def crafts() -> dict[int, Craft]:
    return {number: arrangement(SEED, number) for number in NUMBERS}


def test_random_arrangements_are_smooth(crafts: dict[int, Craft]) -> None:
    judged = judge(crafts)
    assert not judged.violations, report(crafts, judged)
    assert judged.counts["trims"] >= 6
    assert judged.counts["pitch_rms"] >= 2


@pytest.mark.parametrize("ratio", [1.0, 1.5, 1.565, 1.6, 2.0])
def test_foils_in_line_are_smooth_in_every_length(ratio: float) -> None:
    """Concentrated vortices sampled at two points a span flip the downwash where a point passes one: near a ratio of pi / 2."""
    craft = in_line(ratio)
    assert trims(craft, SPEED)
    found, trim, _ = length_violations(0, craft)
    assert not found
    assert trim > 0.0


@pytest.mark.parametrize("ratio", [1.5, 1.6])
def test_foils_in_line_settle_with_strips(ratio: float) -> None:
    """All but how fast they fall over: in the middle plane alone they cannot hold the boat upright."""
    craft = in_line(ratio)
    values = steady(craft)
    assert len(values) == 3
    assert {each.measure for each in strip_violations(0, craft, values)} <= {"slowest mode"}


def test_what_does_not_settle_is_told() -> None:
    assert converges(1.0, 1.1, 1.15)
    assert not converges(1.0, 1.1, 1.2)
    assert converges(1.0, 1.1, 1.109)
    assert converges(inf, inf, inf)
    assert not converges(1.0, 1.0, inf)
    assert converges(0.0, 0.0, 0.004, 0.5)
    (found,) = strip_violations(3, in_line(1.5), [{"trim of m1": value} for value in (0.1, 0.11, 0.13)])
    assert found.number == 3
    assert found.kind == "wake edge"


def test_arrangements_are_drawn_anew_by_number_alone(crafts: dict[int, Craft]) -> None:
    assert arrangement(SEED, NUMBERS[-1]) == crafts[NUMBERS[-1]]
    assert len({len(craft.foils) for craft in crafts.values()}) >= 3
    assert arrangement(SEED + 1, 0) != crafts[0]


def test_every_length_is_moved_and_has_its_kinds(crafts: dict[int, Craft]) -> None:
    craft = crafts[NUMBERS[0]]
    near = neighbours(craft)
    assert len(near) >= 2 + 3 * len(craft.foils)
    assert all(other != craft for other in near.values())
    assert {length_kind(craft, length) for length in near} <= set(KINDS)


def test_the_lowest_speed_is_where_trim_ends() -> None:
    craft = in_line(1.0)
    lowest = lowest_speed(craft)
    assert 0.0 < lowest < SPEED
    assert trims(craft, lowest)
    assert not trims(craft, 0.995 * lowest)
    assert lowest_speed(craft, None, 1.02 * lowest) == pytest.approx(lowest, rel=2e-3)
    assert lowest_speed(craft, None, 2.0 * lowest) == pytest.approx(lowest, rel=2e-3)

"""Wands that strike a strut, by trigonometry of the arm, and faults of rangefinders that some designs have not."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from sweep.campaign.addresses import replace_values
from sweep.campaign.campaign import load_campaign
from sweep.campaign.craft import Craft
from sweep.preflight.forecast import doubts
from sweep.preflight.in_the_way import struck
from tests.campaign.files import load
from tests.preflight.test_doubts import FEW, SPEEDS

CONFIGS = Path(__file__).parents[2] / "configs"


@pytest.fixture(scope="module")
def courier() -> Craft:
    """The courier with a wand at its bow, clear of all struts."""
    return load_campaign(CONFIGS / "courier-wand.yaml").craft


def test_shipped_wands_swing_free() -> None:
    for name in ("courier-wand", "courier-linkage"):
        craft = load_campaign(CONFIGS / f"{name}.yaml").craft
        assert craft.wands
        assert not list(struck(craft)), name


@pytest.mark.parametrize(("ahead", "height"), [(0.15, 0.0), (0.25, 0.0), (0.2, -0.03), (0.1, 0.1)])
def test_the_tip_meets_the_strut_where_the_arm_just_reaches_it(courier: Craft, ahead: float, height: float) -> None:
    """Swinging up, the tip comes to the leading edge: the cosine of the angle is the distance over the arm, 30 cm."""
    edge = courier.foils["port"].x + 0.5 * courier.struts.chord
    beside = {"wands.bow.y": courier.foils["port"].y + 0.004, "wands.bow.x": edge + ahead, "wands.bow.height": height}
    (found,) = struck(replace_values(courier, beside | {"struts.height": 0.35}))
    assert (found.wand, found.part) == ("bow", "the strut of port")
    assert found.angle == pytest.approx(math.acos(ahead / 0.3), abs=2e-3)


@pytest.mark.parametrize(
    "clear",
    [
        {"wands.bow.y": -0.15},  # beside it
        {"wands.bow.arm": 0.19},  # too short to reach
        {"wands.bow.x": 0.1},  # the hinge is behind it
        {"wands.bow.height": 0.4, "wands.bow.most_angle": 0.5},  # over the keel all the way
        {"wands.bow.least_angle": 1.0},  # its upper stop holds it clear
    ],
    ids=["beside", "short", "behind", "over", "stopped"],
)
def test_a_wand_that_does_not_come_to_the_strut_strikes_nothing(courier: Craft, clear: dict[str, float]) -> None:
    craft = replace_values(courier, {"wands.bow.y": -0.17, "wands.bow.x": 0.435, "struts.height": 0.35})
    assert [each.angle for each in struck(craft)] == [pytest.approx(math.acos(0.2 / 0.3), abs=2e-3)]
    assert not list(struck(replace_values(craft, clear)))


def test_a_check_says_which_fault_does_nothing_in_which_designs(tmp_path: Path) -> None:
    """Three of four designs, the base craft with its one among them, have fewer than three; a fault of all is none of these."""
    counts = (FEW[0], "  rangefinders.count: [1, 2, 3]\n")
    for where, said in (("3", True), ("1", False), ("*", False)):
        fault = f"replicates: 4\n  faults: [none, {{silent: {{where: rangefinders.{where}, from: 10 s}}}}]"
        told = doubts(load(tmp_path, counts, SPEEDS, ("replicates: 4", fault)))
        found = [each for each in told if "does nothing there" in each]
        assert len(found) == said
        assert all(f"3 of 4 designs have no rangefinder {where}" in each for each in found)

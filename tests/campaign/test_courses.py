"""Courses of a campaign file: their legs as the model has them, and what is wrong in one, said where it stands."""

from __future__ import annotations

from math import pi, radians
from pathlib import Path

import numpy as np
import pytest

from sweep.campaign.conditions import condition_table, list_conditions
from sweep.campaign.draws import draw_block, drawn_by
from sweep.campaign.text.problems import CampaignError
from sweep.results.fingerprint import conditions_digest
from tests.campaign.files import load

REPLICATES = "  replicates: 4"
LEGS = """\
  courses:
    straight: []
    round:
      - {time: 6 s}
      - {distance: 20 m, turn: 90 deg, radius: 8 m, speed: 4 m/s}
      - {stop: 5 s}
      - {time: 5 s, heading: following, rate: 20 deg/s}
      - {time: 5 s, heading: head}
"""


def legs(*lines: str) -> tuple[str, str]:
    """A campaign's conditions with one course of these legs."""
    return REPLICATES, "\n".join(["  courses:", "    round:", *(f"      - {line}" for line in lines), REPLICATES])


def test_every_condition_once_along_each_course(tmp_path: Path) -> None:
    campaign = load(tmp_path, (REPLICATES, LEGS + REPLICATES))
    conditions = list_conditions(campaign)
    assert len(conditions) == 36
    assert [condition.name for condition in conditions][4:6] == ["chop 4 cm, head, 3.5 m/s", "chop 4 cm, head, 3.5 m/s, round"]
    assert condition_table(conditions)["course"].tolist() == ["straight", "round"] * 18


def test_legs_in_the_model_s_numbers(tmp_path: Path) -> None:
    """Head seas at 3.5 m/s: the waves go aft, and stay so while the craft turns; half a turn is to starboard."""
    met = list_conditions(load(tmp_path, (REPLICATES, LEGS + REPLICATES)))[5]
    assert np.array(met.legs) == pytest.approx(
        np.array(
            [
                [6.0, 0.0, 0.0, 0.0, 3.5, 0.0],
                [0.0, 20.0, pi / 2, 4.0 / 8.0, 4.0, 0.0],
                [5.0, 0.0, pi / 2, 0.0, 3.5, 1.0],
                [5.0, 0.0, pi, radians(20.0), 3.5, 0.0],
                [5.0, 0.0, 2.0 * pi, 0.0, 3.5, 0.0],
            ]
        )
    )
    assert met.speeds == (3.5, 3.5, 4.0, 3.5, 3.5, 3.5)


def test_a_straight_course_is_none(tmp_path: Path) -> None:
    """The same waves and noise as without the key, and a course has waves of its own, of more components."""
    plain, named = load(tmp_path), load(tmp_path, (REPLICATES, LEGS + REPLICATES))
    before, now = list_conditions(plain), list_conditions(named)
    assert [drawn_by(each) for each in before] == [drawn_by(each) for each in now[::2]]
    block, along = draw_block(named, now[4], 0), draw_block(named, now[5], 0)
    assert len(block.omegas) == 32
    assert len(along.omegas) == 64
    assert block.course.shape == (0, 6)
    assert along.course.shape == (5, 6)
    assert conditions_digest(plain) != conditions_digest(named)


WRONG = {
    "no end": (["{turn: 90 deg}"], "a leg with one of time, distance or stop"),
    "two ends": (["{time: 5 s, distance: 20 m}"], "a leg with one of time, distance or stop"),
    "a stop that turns": (
        ["{time: 5 s}", "{stop: 5 s, turn: 90 deg}"],
        "a stop by itself: the leg after it turns, at its speed",
    ),
    "turn and heading": (["{time: 5 s, turn: 90 deg, heading: beam}"], "turn or heading, not both"),
    "a rate of no turn": (["{time: 5 s, rate: 20 deg/s}"], "turn or heading beside it"),
    "rate and radius": (["{time: 5 s, turn: 90 deg, rate: 20 deg/s, radius: 5 m}"], "rate or radius, not both"),
    "a leg after the flight": (
        ["{distance: 100 m}", "{time: 5 s}"],
        "a leg that begins within the flight, which ends at 40 s",
    ),
    "an unknown word": (["{time: 5 s, port: 90 deg}"], "distance"),
}


@pytest.mark.parametrize("name", WRONG)
def test_what_is_wrong_is_said_where_it_stands(name: str, tmp_path: Path) -> None:
    lines, wanted = WRONG[name]
    with pytest.raises(CampaignError) as error:
        load(tmp_path, legs(*lines))
    (problem,) = error.value.problems
    assert wanted in problem.wanted
    assert problem.address.startswith("conditions.courses.round")
    assert problem.line == 20 + len(lines)


def test_a_slow_leg_begins_late(tmp_path: Path) -> None:
    """80 m at 2.5 m/s take 32 s, and the flight ends 35 s after settling."""
    load(tmp_path, legs("{distance: 80 m}", "{time: 5 s}"))
    with pytest.raises(CampaignError, match=r"one that begins at about 41 s, at 2\.5 m/s"):
        load(tmp_path, legs("{distance: 90 m}", "{time: 5 s}"))


def test_a_packet_meets_only_what_goes_straight(tmp_path: Path) -> None:
    """It stands once, without the course that has legs; without a straight one it is refused."""
    packet = ("    calm: {kind: flat}", "    wake: {kind: packet, height: 10 cm, period: 1.5 s, waves: 4, arrives: 20 s}")
    conditions = list_conditions(load(tmp_path, packet, (REPLICATES, LEGS + REPLICATES)))
    assert {each.course.name for each in conditions if each.sea.name == "wake"} == {"straight"}
    assert {each.course.name for each in conditions if each.sea.name != "wake"} == {"straight", "round"}
    with pytest.raises(CampaignError, match="for the packet of waves, which meets only a craft that goes straight"):
        load(tmp_path, packet, legs("{time: 5 s}"))

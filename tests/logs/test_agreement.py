"""Mistakes that only sensors beside each other show: the right explanation first, and no sea where it cannot be right."""

from __future__ import annotations

import re
from math import pi, radians
from pathlib import Path

import pytest

from sweep.logs.compare.agreement import agreement_doubts
from sweep.logs.read.channels import Series
from sweep.logs.read.mapping import load_mapping
from sweep.logs.read.runs import Run
from sweep.logs.report.day import judge_day
from tests.logs.made import flown, write_day
from tests.logs.wrong_kinds import KINDS, write_kind
from tests.model.crafts import WATER

TOLD = (
    "pitch half as much",
    "roll 20 deg off",
    "forward acceleration upside down",
    "speed in m/s that is kn",
    "all runs into the waves",
    "port foil upside down",
    "port and aft foil swapped",
    "mass of 5 kg for 3",
)
WITHHELD = ("pitch half as much", "pitch in rad that is deg", "downward a fifth too much", "range in cm that is mm")


@pytest.mark.parametrize("kind", TOLD)
def test_the_right_explanation_is_the_first(kind: str, tmp_path: Path) -> None:
    doubts = judge_day(load_mapping(write_kind(tmp_path, KINDS[kind]))).doubts
    assert re.search(KINDS[kind].told, doubts[0]), doubts


@pytest.mark.parametrize("kind", WITHHELD)
def test_what_no_sea_can_rest_on_is_withheld(kind: str, tmp_path: Path) -> None:
    day = judge_day(load_mapping(write_kind(tmp_path, KINDS[kind])))
    assert day.grave
    assert day.sea() is None


def test_the_right_mapping_of_that_day_is_not_doubted(tmp_path: Path) -> None:
    assert judge_day(load_mapping(write_kind(tmp_path, None))).doubts == ()


@pytest.mark.parametrize(
    ("off", "told", "grave"), [(1.2, False, False), (-1.2, False, False), (-2.2, True, False), (12, True, True)]
)
def test_an_angle_is_another_only_beyond_what_the_inertial_unit_levels_off(
    off: float, told: bool, grave: bool, tmp_path: Path
) -> None:
    """0.7 deg is the standard deviation of the courier's: its gyro's bias, 0.003 rad/s, over the 4 s in which it levels."""
    log = flown(pi, 0.05, 1.1).log
    foils = {name: Series(each.time, each.value + radians(off)) for name, each in log.items() if name.startswith("foil_")}
    run = Run("flying", "a", "a", 0.0, 70.0, 4.0, None, pi, log | foils)
    said = [text for text in agreement_doubts([run], load_mapping(write_day(tmp_path)), WATER) if "mass" in text]
    assert bool(said) == told
    assert any("far off" in text for text in said) == grave
    assert all(re.search(r"its pitch [\d.]+ deg off|speed written", text) for text in said)

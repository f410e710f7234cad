"""Mistakes that only sensors beside each other show: the right explanation first, and no sea where it cannot be right."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from sweep.logs.read.mapping import load_mapping
from sweep.logs.report.day import judge_day
from tests.logs.wrong_kinds import KINDS, write_kind

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

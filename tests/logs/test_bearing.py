"""A wrong bearing of the waves, by another boat and logger: told before any sign is doubted, what rests on it withheld."""

from __future__ import annotations

import re
from math import radians
from pathlib import Path

import pytest

from sweep.logs.read.mapping import load_mapping
from sweep.logs.report.day import Day, compare_day, judge_day
from sweep.logs.report.sentences import day_sea_sentences, run_rows
from tests.logs.foreign import Logger, Sea, log_of, write_foreign

SEAS = ((0.03, 0.8), (0.054, 1.1), (0.08, 1.6))


def day_of(folder: Path, ways: tuple[float, ...], bearing: int, sea: tuple[float, float] = SEAS[1], first: int = 0) -> Day:
    """Passes at these angles (degrees) to waves that come from 0 deg, with a mapping that says from where."""
    passes = [log_of(Sea(*sea, first + number), 4.0, radians(way), 45.0, Logger()) for number, way in enumerate(ways)]
    path = write_foreign(folder, passes, ["one", "other"] * (len(ways) // 2))
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("bearing: 0 deg", f"bearing: {bearing} deg"), encoding="utf-8")
    return judge_day(load_mapping(path))


@pytest.mark.parametrize("sea", SEAS)
@pytest.mark.parametrize("ways", [(180.0, 0.0), (135.0, -45.0), (90.0, -90.0)])
def test_the_right_bearing_is_not_doubted(ways: tuple[float, ...], sea: tuple[float, float], tmp_path: Path) -> None:
    assert not day_of(tmp_path, ways, 0, sea, 40).grave


@pytest.mark.parametrize(("bearing", "told"), [(180, "is it where they go"), (90, "is it right"), (300, "is it right")])
def test_a_wrong_bearing_is_told_first_and_what_rests_on_it_withheld(bearing: int, told: str, tmp_path: Path) -> None:
    day = day_of(tmp_path, (180.0, 0.0), bearing)
    assert day.doubts[0] == day.grave
    assert f"no one sea from {bearing} deg" in day.grave
    assert told in day.grave
    assert not any("sign turned" in doubt for doubt in day.doubts)
    assert day.sea() is None
    assert day_sea_sentences(day) == ["The sea is withheld: see what looks wrong."]
    assert all("withheld" in row for row in run_rows(day.runs))
    with pytest.raises(ValueError, match="withheld until"):
        compare_day(day)


def test_runs_of_one_way_cannot_tell(tmp_path: Path) -> None:
    """Into the waves only: other bearings explain them as well, and nothing is said."""
    assert not day_of(tmp_path, (180.0, 180.0), 40).grave


def test_the_true_bearing_is_named(tmp_path: Path) -> None:
    """Within the 15 degrees between those tried; out and back along one line, one on each side of it is as good."""
    said = day_of(tmp_path, (135.0, -45.0), 180).grave
    told = re.findall(r"(\d+)(?: to (\d+))?", said.split("one from about")[1].split(" deg")[0])
    ways = [(int(low), int(high or low)) for low, high in told]
    assert any((15 - low) % 360 <= (high - low) % 360 + 30 for low, high in ways), said


def test_a_pitch_that_goes_the_other_way_in_waves_withholds_the_sea(tmp_path: Path) -> None:
    """With the forward accelerometer turned as well nothing but the waves tells it, and the heights are a quarter off."""
    passes = [log_of(Sea(*SEAS[1], 60 + way), 4.0, radians(180 * way), 45.0, Logger()) for way in (1, 0)]
    turned = [each.assign(trim=-each["trim"], ax=-each["ax"]) for each in passes]
    day = judge_day(load_mapping(write_foreign(tmp_path, turned)))
    assert "pitch: moves the other way" in day.grave
    assert day.sea() is None

"""A wrong bearing of the waves, by another boat and logger: told before any sign is doubted, what rests on it withheld."""

from __future__ import annotations

import re
from math import radians
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binom

from sweep.logs.read.mapping import load_mapping
from sweep.logs.report.day import Day, compare_day, judge_day
from sweep.logs.report.sentences import day_sea_sentences, run_rows
from sweep.logs.sea.bearing import better_bearings, turned
from sweep.logs.sea.sea_state import best_fit, chance_misfit, slowest_for
from sweep.logs.sea.spectrum import Encounter, Noise, encounter_of
from sweep.logs.sea.surface import SLOWEST, Surface
from tests.logs.foreign import Logger, Sea, log_of, sample, waves_met, write_foreign

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


SHORT_DAYS, NOISE = 50, 0.003


def short_passes(day: int) -> list[Encounter]:
    """What two passes of 25 s met, by the sums of lines that are drawn from wavespectra's spectrum."""
    ways, time, found = ((180.0, 0.0), (180.0, 90.0), (90.0, -90.0))[day % 3], np.arange(0.0, 25.0, 0.05), []
    for number, way in enumerate(map(radians, ways)):
        amplitude, phase, met, _ = waves_met(Sea(*SEAS[1], 9000 + 2 * day + number), 4.0, way)
        water = sample(((amplitude * np.exp(1j * phase))[:, None], met), time)[:, 0]
        water += NOISE * np.random.default_rng([79, day, number]).standard_normal(len(time))
        surface = Surface(water - water.mean(), np.ones(len(time), dtype=bool), 20.0, 0, 0)
        found.append(encounter_of(surface, 4.0, way, 5.0, Noise(NOISE, 0.0, 100.0), slowest_for(way, SLOWEST)))
    return found


def test_chance_in_short_runs_is_no_doubt_of_the_bearing() -> None:
    """Of seas that wavespectra's spectrum draws as many misfit beyond a level of chance as it says; wrong bearings are told."""
    days = [short_passes(day) for day in range(SHORT_DAYS)]
    beyond = sum(best_fit(runs)[0] > chance_misfit(runs, 0.8) for runs in days)
    assert 0.001 < binom.cdf(beyond, SHORT_DAYS, 0.2) < 0.999
    assert not any(better_bearings(runs) for runs in days)
    assert all(better_bearings([turned(run, 90) for run in runs]) for runs in days[::9])


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

"""Clocks: a second log's is aligned to 5 ms, with an interval that holds."""

from __future__ import annotations

from math import pi
from pathlib import Path

import numpy as np
import pytest

from sweep.logs.read.channels import Series
from sweep.logs.sea.lag import align
from tests.logs.made import MAPPING, flown, head_pass, judged


@pytest.mark.parametrize("ahead", [0.0, 0.037, -1.234, 3.3])
def test_a_clock_is_aligned_to_5_ms(ahead: float) -> None:
    """Marks on a strut in video at 30 pictures a second, 2 mm rough, against the rangefinder's height."""
    random = np.random.default_rng(2)
    truth = flown().truth
    time = np.arange(3.0, 65.0, 1 / 30)
    video = Series(
        time + ahead, np.interp(time, truth["time"], truth["ride_height"]) + 0.002 * random.standard_normal(len(time))
    )
    ours = Series(truth["time"][::5], truth["ride_height"][::5] + 0.003 * random.standard_normal(len(truth["time"][::5])))
    found = align(ours, video)
    assert found is not None
    assert found.ahead.value == pytest.approx(ahead, abs=0.005)
    assert found.ahead.low - 0.002 <= ahead <= found.ahead.high + 0.002


def test_a_clock_that_runs_fast_is_told() -> None:
    truth = flown().truth
    time = np.arange(3.0, 65.0, 1 / 30)
    video = Series(time * 1.0005, np.interp(time, truth["time"], truth["ride_height"]))
    found = align(Series(truth["time"], truth["ride_height"]), video)
    assert found is not None
    assert found.gains == pytest.approx(0.0005, abs=0.0002)


def test_two_that_have_nothing_to_do_with_each_other() -> None:
    random = np.random.default_rng(3)
    time = np.arange(0.0, 60.0, 0.05)
    assert align(Series(time, random.standard_normal(len(time))), Series(time, random.standard_normal(len(time)))) is None


def test_a_log_beside_becomes_the_witness(tmp_path: Path) -> None:
    """Its clock is 0.8 s ahead; what it tells is the true ride height error, not the sensed one."""
    truth = flown().truth
    time = np.arange(0.0, 69.0, 1 / 30)
    height = np.interp(time, truth["time"], truth["ride_height"])
    rows = [f"{at + 0.8:.4f},{100 * value:.2f}" for at, value in zip(time, height, strict=True)]
    (tmp_path / "video.csv").write_text("\n".join(["seconds,mark_cm", *rows]) + "\n", encoding="utf-8")
    beside = "beside: {file: video.csv, clock: {column: seconds}, column: mark_cm, unit: cm}\n"
    day = judged(tmp_path, MAPPING + beside, head_pass())
    assert day.aligned is not None
    assert day.aligned.ahead.value == pytest.approx(0.8, abs=0.005)
    (run,) = day.runs
    wanted = float(np.sqrt(np.mean((truth["ride_height"] - 0.095) ** 2)))
    assert run.measures["witness_error"] == pytest.approx(wanted, rel=0.05)


def test_waves_by_compass(tmp_path: Path) -> None:
    (run,) = judged(tmp_path, MAPPING.replace("bearing: 180 deg", "bearing: 0 deg")).runs
    assert abs(run.waves) == pytest.approx(0.0, abs=0.05)
    (run,) = judged(tmp_path, MAPPING.replace("bearing: 180 deg", "bearing: 90 deg")).runs
    assert abs(run.waves) == pytest.approx(pi / 2, abs=0.05)

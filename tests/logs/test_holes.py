"""Logs with holes, stalls, jitter and coarse clocks, by another logger, against the same pass logged without a fault."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from sweep.logs.read.channels import Series
from sweep.logs.read.mapping import load_mapping
from sweep.logs.read.runs import cut_runs
from sweep.logs.read.table import LogTally, read_chunks
from sweep.logs.report.day import Day, judge_day
from sweep.logs.sea.elsewhere import height_at
from sweep.logs.sea.holes import bridge, holes_of, step_responses
from sweep.logs.sea.surface import passed_by
from tests.logs.foreign import HEAD, Logger, Sea, log_of, write_foreign

SEA, SPEED, LENGTH = Sea(0.054, 1.1, 5), 4.0, 60.0

FAULTS = {
    "holes of 0.1 s": Logger(hole=0.1),
    "holes of 0.2 s": Logger(hole=0.2),
    "holes of 0.4 s": Logger(hole=0.4),
    "holes every 3 s": Logger(hole=0.2, every=3.0),
    "stands still for 0.4 s": Logger(hole=0.4, stalls=True),
    "samples of 0": Logger(zeros=6.0),
    "one row in five lost": Logger(lost=0.2),
    "jitter": Logger(jitter=0.3),
    "a clock of 20 ms": Logger(quantum=0.02),
    "50 Hz": Logger(rate=50.0),
    "50 Hz with holes": Logger(rate=50.0, hole=0.2),
    "25 Hz with holes": Logger(rate=25.0, hole=0.2),
    "200 Hz": Logger(rate=200.0),
    "speed once in two seconds": Logger(speed_rate=0.5),
    "wrong ranges": Logger(spikes=10.0),
}


def day_of(folder: Path, logger: Logger, sea: Sea = SEA) -> Day:
    return judge_day(load_mapping(write_foreign(folder, [log_of(sea, SPEED, HEAD, LENGTH, logger)])))


@cache
def clean(folder: Path) -> tuple[float, float]:
    (run,) = day_of(folder, Logger()).runs
    assert run.sea is not None
    return run.sea.height.value, run.sea.period.value


@pytest.fixture(scope="module")
def without(tmp_path_factory: pytest.TempPathFactory) -> tuple[float, float]:
    return clean(tmp_path_factory.mktemp("clean"))


def test_another_boat_and_logger_are_understood(without: tuple[float, float]) -> None:
    """The sea that wavespectra drew, by a minute of it, which has some 10 % of chance."""
    assert without[0] == pytest.approx(SEA.height, rel=0.15)
    assert without[1] == pytest.approx(SEA.period, rel=0.10)


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_of_the_log_is_no_other_sea(fault: str, without: tuple[float, float], tmp_path: Path) -> None:
    """Within 6 % of the height and of the period that the same pass shows without the fault."""
    (run,) = day_of(tmp_path, FAULTS[fault]).runs
    assert run.sea is not None, run.why
    assert run.sea.verdict == "measured"
    assert run.sea.height.value == pytest.approx(without[0], rel=0.06)
    assert run.sea.period.value == pytest.approx(without[1], rel=0.06)


def test_accelerations_at_10_hz_are_no_sea(tmp_path: Path) -> None:
    (run,) = day_of(tmp_path, Logger(rate=10.0)).runs
    assert run.sea is None
    assert run.why == "force_z at 10 Hz, and a sea needs 20 Hz"


def test_steps_over_holes_are_found_again() -> None:
    """Planted steps of velocity and place, in water of two slow periods, are told within what the draws say."""
    random, gap, rate = np.random.default_rng(3), 0.01, 20.0
    time = np.arange(0.0, 120.0, 1.0 / rate)
    phases = random.uniform(0.0, 2.0 * np.pi, 60)
    water = 0.01 * np.cos(2.0 * np.pi * np.outer(time, random.normal(2.2, 0.3, 60)) + phases).sum(axis=1) / np.sqrt(30.0)
    passed = passed_by(np.fft.rfftfreq(12_000, gap), 0.25)
    responses = step_responses(gap, passed, 12_000)
    acceleration = np.delete(np.arange(0.0, 120.0, gap), np.r_[3000:3040, 7000:7020, 7300:7340])
    swings = np.sin(2.0 * np.pi * 2.2 * acceleration) * 2.0
    holes = holes_of(Series(acceleration, swings))
    assert holes.middle == pytest.approx([30.2, 70.1, 73.2], abs=0.02)
    sizes = [(0.25, 0.01), (-0.1, 0.0), (0.3, -0.02)]
    drift = sum(
        v * np.interp(time - at, responses[0], responses[1]) + p * np.interp(time - at, responses[0], responses[2])
        for at, (v, p) in zip(holes.middle, sizes, strict=True)
    )
    found = bridge(Series(time, water - drift), rate, holes, responses)
    left = found.heave - drift
    assert np.std(left) < 0.1 * np.std(drift)
    assert np.sqrt(np.mean(left**2)) < 1e-4 + 2.0 * np.sqrt(np.mean(found.off**2))


def test_too_few_readings_tell_no_step_and_leave_it_unsure() -> None:
    """A second of readings about a hole: nothing is added, and what the hole may do is in the draws."""
    acceleration = np.delete(np.arange(0.0, 40.0, 0.01), np.r_[2000:2040])
    holes = holes_of(Series(acceleration, 2.0 * np.sin(14.0 * acceleration)))
    responses = step_responses(0.01, passed_by(np.fft.rfftfreq(4_000, 0.01), 0.25), 4_000)
    for time in (np.arange(20.5, 21.5, 0.05), np.arange(20.5, 20.7, 0.05)):
        found = bridge(Series(time, np.zeros(len(time))), 20.0, holes, responses)
        assert not found.heave.any()
        assert np.std(found.off) > 0.01


def test_the_height_at_another_place_is_bridged_too(tmp_path: Path) -> None:
    """Beside the same pass without holes: off by less than an eighth of its swing at half of the times, and alike in shape.

    In the holes themselves nobody knows it.
    """
    seen = []
    for logger in (Logger(), Logger(hole=0.4)):
        mapping = load_mapping(write_foreign(tmp_path, [log_of(SEA, SPEED, HEAD, LENGTH, logger)]))
        (run,) = cut_runs(read_chunks(mapping.files[0], mapping, LogTally()), mapping, 0)
        seen.append((run.begin, height_at(run, mapping.craft, 0.0, 0.06, mapping.water.depth)))
        logged = run.record["force_z"].time
    (begin, whole), (other, holed) = seen
    steps = np.diff(logged, append=np.inf)[np.maximum(np.searchsorted(logged, holed.time, side="right") - 1, 0)]
    inner = holed.time[(holed.time > 6.0) & (holed.time < 50.0) & (steps < 0.1)]
    ours, theirs = holed.at(inner), whole.at(inner + other - begin)
    assert np.median(np.abs(ours - theirs)) < 0.125 * np.std(theirs)
    assert np.corrcoef(ours, theirs)[0, 1] > 0.85


def test_no_holes_in_even_accelerations() -> None:
    time = np.arange(0.0, 30.0, 0.01)
    assert not len(holes_of(Series(time, np.sin(12.0 * time))).middle)

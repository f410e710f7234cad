"""Reading: rates that differ, cells that are empty, held readings, runs cut; memory that does not grow."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sweep.logs.read.coarse_clock import spread_out
from sweep.logs.read.mapping import load_mapping
from sweep.logs.read.rows import BLOCK
from sweep.logs.read.runs import LONGEST_RUN, cut_runs
from sweep.logs.read.table import SAMPLE_SIZE, Chunk, LogTally, ReadingTally, read_chunks
from tests.logs.made import MAPPING, head_pass, write_day

SMALL = """\
title: Small
craft: craft.yaml
waves: {heading: head}
speed: 4 m/s
clock: {column: t, unit: s}
columns:
  range: {column: r, unit: cm, missing: [-1]}
  pitch: {column: p, unit: deg, sign: -1}
logs: {file: small.csv, begin: 1 s}
"""


def small(folder: Path, rows: str, text: str = SMALL) -> tuple[list, LogTally]:
    path = write_day(folder, text.replace("small.csv", "pass.csv"))
    (folder / "pass.csv").write_text(rows, encoding="utf-8")
    found = LogTally()
    mapping = load_mapping(path)
    return joined(list(read_chunks(mapping.files[0], mapping, found))), found


def joined(chunks: list[Chunk]) -> list[Chunk]:
    """Chunks between which the clock goes on, as one."""
    whole: list[Chunk] = []
    for chunk in chunks:
        if chunk.afresh or not whole:
            whole.append(chunk)
        else:
            values = {name: np.concatenate([whole[-1].values[name], each]) for name, each in chunk.values.items()}
            whole[-1] = Chunk(np.concatenate([whole[-1].time, chunk.time]), values, whole[-1].afresh)
    return whole


def test_units_signs_and_words_for_nothing(tmp_path: Path) -> None:
    (chunk,), found = small(tmp_path, "t,r,p,more\n0,10,5,x\n0.1,-1,,x\n0.2,12,-5,x\n")
    assert chunk.time == pytest.approx([0.0, 0.1, 0.2])
    assert chunk.values["range"] == pytest.approx([0.10, np.nan, 0.12], nan_ok=True)
    assert np.degrees(chunk.values["pitch"]) == pytest.approx([-5.0, np.nan, 5.0], nan_ok=True)
    assert found.channels["range"].empty == 1


@pytest.mark.parametrize(("word", "sign"), [("semicolon", ";"), ("tab", "\t"), ("bar", "|"), ("space", "  ")])
def test_delimiters(word: str, sign: str, tmp_path: Path) -> None:
    rows = "t,r,p\n0,10,5\n0.1,11,4\n".replace(",", sign)
    (chunk,), _ = small(tmp_path, rows, SMALL + f"delimiter: {word}\n")
    assert chunk.values["range"] == pytest.approx([0.10, 0.11])


def test_decimal_commas_lines_before_the_headings_and_a_byte_order_mark(tmp_path: Path) -> None:
    rows = "\ufeffLogger 3\nt;r;p\n0;10,5;5\n0,1;11,5;4\n"
    (chunk,), _ = small(tmp_path, rows, SMALL + "delimiter: semicolon\ndecimal: comma\nskip: 1\n")
    assert chunk.values["range"] == pytest.approx([0.105, 0.115])


def test_held_readings_count_once(tmp_path: Path) -> None:
    rows = "t,r,p\n" + "".join(f"{0.01 * i:.2f},{10 + i // 5},0\n" for i in range(100))
    (chunk,), found = small(tmp_path, rows, SMALL.replace("missing: [-1]", "rate: 20 Hz"))
    assert found.channels["range"].came == 20
    assert chunk.values["range"][np.isfinite(chunk.values["range"])] == pytest.approx(0.10 + 0.01 * np.arange(20))


def test_a_log_written_newest_first_is_the_same_log(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Also where it is read in many blocks, and where its last line does not end."""
    assert BLOCK > 1_000_000
    monkeypatch.setattr("sweep.logs.read.rows.BLOCK", 1000)
    rows = [f"{0.02 * i:.2f},{10 + i % 7},{i % 5}" for i in range(2_000)]
    (forward,), counted = small(tmp_path, "\n".join(["t,r,p", *rows]))
    (backward,), found = small(tmp_path, "\n".join(["t,r,p", *rows[::-1]]))
    assert (found.rows, found.backwards) == (counted.rows, 0)
    assert np.array_equal(backward.time, forward.time)
    assert np.array_equal(backward.values["range"], forward.values["range"])


@pytest.mark.parametrize(("counts", "far"), [(0.02, 0.011), (0.1, 0.02), (1.0, 0.03)])
def test_a_clock_that_counts_in_coarse_steps_is_spread_out(counts: float, far: float) -> None:
    """Rows every 10 ms with a hole; the clock rounds down. Every row is told nearly where it was."""
    time = 3.337 + 0.01 * np.arange(6_000)
    time[4_000:] += 7.0
    for cut in (time, time[:4_000]):
        told, shared = spread_out(np.floor(cut / counts + 1e-9) * counts, None)
        assert shared > 0.4 * len(cut)
        assert (np.diff(told) >= 0.0).all()
        assert np.abs(told - cut)[:-1].max() < far + 0.5 * counts
        assert np.median(np.abs(told - told[0] - (cut - cut[0]))) < far


def test_a_clock_that_is_fine_is_left_alone() -> None:
    time = np.cumsum(np.random.default_rng(0).uniform(0.005, 0.015, 500))
    told, shared = spread_out(time, None)
    assert shared == 0
    assert told is time


def test_a_log_that_stands_still_has_no_readings_then(tmp_path: Path) -> None:
    """A row that repeats the one before in every column is none; another channel's change makes it one."""
    text = SMALL.replace("  pitch:", "  force_z: {column: a, unit: m/s^2}\n  pitch:")
    rows = "t,r,a,p\n0,10,-9.8,1\n0.1,10,-9.8,1\n0.2,10,-9.8,1\n0.3,10,-9.7,1\n"
    (chunk,), found = small(tmp_path, rows, text)
    assert found.stood == 2
    assert np.isfinite(chunk.values["force_z"]).tolist() == [True, False, False, True]


def test_a_range_that_is_held_counts_where_it_changes(tmp_path: Path) -> None:
    """Five rows a reading and no word on it in the mapping: as if empty between."""
    rows = "t,r,p\n" + "".join(f"{0.01 * i:.2f},{10 + (i // 5) % 9},0\n" for i in range(1_000))
    (chunk,), found = small(tmp_path, rows)
    assert found.channels["range"].came == 200
    assert np.flatnonzero(np.isfinite(chunk.values["range"])).tolist() == list(range(0, 1_000, 5))
    assert found.channels["range"].evenly


def test_a_tally_stays_small() -> None:
    tally = ReadingTally()
    for _ in range(60):
        tally.keep(np.arange(5_000.0))
    assert SAMPLE_SIZE / 4 < len(tally.sample()) <= 2 * SAMPLE_SIZE


def test_runs_are_foilborne_at_one_speed_and_straight(tmp_path: Path) -> None:
    """70 s: taxiing, turning and a change of speed are cut out; times of the log's clock."""
    log = head_pass()

    def with_(name: str, change) -> dict:
        return log | {name: type(log[name])(log[name].time, change(log[name].time, log[name].value))}

    def cut(record: dict) -> list:
        mapping = load_mapping(write_day(tmp_path, MAPPING, record))
        return list(cut_runs(read_chunks(mapping.files[0], mapping, LogTally()), mapping, 0))

    (whole,) = cut(log)
    assert whole.length == pytest.approx(67.0, abs=2.5)
    first, second = cut(with_("heading", lambda t, v: np.where(t < 35.0, v, v + 1.0)))
    assert first.length + second.length < 67.0
    assert second.begin == pytest.approx(36.0, abs=1.5)
    slow, fast = cut(with_("speed", lambda t, v: np.where(t < 30.0, 2.5, v)))
    assert (slow.speed, fast.speed) == (pytest.approx(2.5, abs=0.01), pytest.approx(4.0, abs=0.05))
    assert fast.begin == pytest.approx(31.0, abs=1.5)
    (afloat,) = cut(with_("range", lambda t, v: np.where(t < 40.0, 0.02, v)))
    assert afloat.begin == pytest.approx(41.0, abs=1.5)


def test_a_run_that_never_ends_is_cut(tmp_path: Path) -> None:
    """So that memory does not grow with the log."""
    rows = "t,r,p\n" + "".join(f"{0.1 * i:.1f},9.5,{i % 3}\n" for i in range(13_000))
    mapping = load_mapping(write_day(tmp_path, SMALL.replace("small.csv", "pass.csv")))
    (tmp_path / "pass.csv").write_text(rows, encoding="utf-8")
    runs = list(cut_runs(read_chunks(mapping.files[0], mapping, LogTally()), mapping, 0))
    assert len(runs) == 3
    assert max(run.length for run in runs) <= LONGEST_RUN


def test_progress_ends_at_the_size(tmp_path: Path) -> None:
    mapping = load_mapping(write_day(tmp_path))
    told: list[int] = []
    list(read_chunks(mapping.files[0], mapping, LogTally(), told.append))
    assert told[-1] == mapping.files[0].stat().st_size

"""Wrong columns, units, signs and clocks: each kind is refused in words that say what would be right, or visibly doubted."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.text.problems import CampaignError
from sweep.logs.read.channels import Series
from sweep.logs.read.mapping import load_mapping
from sweep.logs.read.table import ReadingTally, _numbers
from sweep.logs.report.day import judge_day
from tests.logs.made import MAPPING, head_pass, judged, write_day


def wrong(old: str, new: str) -> str:
    assert old in MAPPING
    return MAPPING.replace(old, new)


REFUSED = {
    "a column that is not there": (wrong("column: bow_mm", "column: bow"), "no column 'bow', for range", "bow_mm"),
    "a channel that is none": (wrong("  range:", "  rnge:"), "the channel 'rnge'", "perhaps range"),
    "a unit of another kind": (wrong("bow_mm, unit: mm", "bow_mm, unit: deg"), "'deg'", "the unit of a length"),
    "a unit that is none": (wrong("bow_mm, unit: mm", "bow_mm, unit: furlong"), "'furlong'", "the unit of a length"),
    "no unit": (wrong("{column: bow_mm, unit: mm}", "{column: bow_mm}"), "no unit", "cm, mm"),
    "a clock in no time": (wrong("t_ms, unit: ms", "t_ms, unit: m"), "'m'", "the unit of a time"),
    "no clock": (wrong("clock: {column: t_ms, unit: ms}\n", ""), "no clock", "mapping of column"),
    "no rangefinder": (wrong("  range: {column: bow_mm, unit: mm}\n", ""), "none for range", "distance to the water"),
    "a column twice": (wrong("column: roll_deg", "column: nose_down_deg"), "again, already pitch", "of its own"),
    "a sign that is none": (wrong("sign: -1", "sign: down"), "'down'", "1 or -1"),
    "a bearing without compass": (
        wrong("  heading: {column: compass_deg, unit: deg}\n", ""), "180 deg", "a column for heading"),
    "waves from nowhere": (wrong("{bearing: 180 deg}", "{}"), "mapping", "either of heading"),
    "a log that is not there": (wrong("file: pass.csv", "file: lost.csv"), "'lost.csv', where there is no file", "a CSV"),
    "the wrong delimiter": (MAPPING + "delimiter: semicolon\n", "is the delimiter right", "a column that is there"),
    "a craft that is not there": (wrong("craft: craft.yaml", "craft: boat.yaml"), "no such file", "craft file's path"),
    "no speed at all": (wrong("  speed: {column: gps_kn, unit: kn}\n", ""), "neither", "speed: 4 m/s"),
    "a log beside in no length": (
        MAPPING + "beside: {file: pass.csv, clock: {column: t_ms, unit: ms}, column: bow_mm, unit: s}\n",
        "beside.unit: found 's'", "the unit of a length"),
    "a log beside without its column": (
        MAPPING + "beside: {file: pass.csv, clock: {column: t_ms, unit: ms}, column: mark, unit: cm}\n",
        "no column 'mark'", "a column that is there"),
    "one log under two set-ups": (
        wrong("{file: pass.csv}", "[{file: pass.csv, setup: one}, {file: ./pass.csv, setup: two, begin: 9 s}]"),
        "'./pass.csv' again", "every stretch of a log once"),
    "a foil that it has not": (wrong("foil_port:", "foil_left:"), "'foil_left'", "a channel"),
}  # fmt: skip


@pytest.mark.parametrize("kind", REFUSED)
def test_refused(kind: str, tmp_path: Path) -> None:
    text, found, wanted = REFUSED[kind]
    with pytest.raises(CampaignError) as caught:
        judged(tmp_path, text)
    assert found in str(caught.value)
    assert wanted in str(caught.value)
    assert str(tmp_path) in str(caught.value)


def test_every_mistake_at_once(tmp_path: Path) -> None:
    text = (
        wrong("bow_mm, unit: mm", "bow_mm, unit: deg").replace("t_ms, unit: ms", "t_ms, unit: kg").replace("foil_aft", "foil_b")
    )
    with pytest.raises(CampaignError) as caught:
        load_mapping(write_day(tmp_path, text))
    assert len(caught.value.problems) == 3
    assert all(problem.line > 0 for problem in caught.value.problems)


DOUBTED = {
    "range in the wrong unit": (wrong("bow_mm, unit: mm", "bow_mm, unit: cm"), "is it written in mm?"),
    "range upside down": (wrong("bow_mm, unit: mm", "bow_mm, unit: mm, sign: -1"), "is its sign right?"),
    "pitch in rad that is degrees": (wrong("nose_down_deg, unit: deg", "nose_down_deg, unit: rad"), "mapped as rad?"),
    "pitch upside down": (wrong("unit: deg, sign: -1", "unit: deg"), "pitch and pitch_rate go against each other"),
    "gravity upside down": (wrong("az_g, unit: g0", "az_g, unit: g0, sign: -1"), "its sign is turned"),
    "acceleration in the wrong unit": (wrong("az_g, unit: g0", "az_g, unit: m/s^2"), "is it written in g0?"),
    "speed in the wrong unit": (wrong("gps_kn, unit: kn", "gps_kn, unit: km/h"), "has no trim at"),
    "foils in the wrong unit": (wrong("foil_p_deg, unit: deg", "foil_p_deg, unit: rad"), "foil_port: "),
    "foils upside down": (
        MAPPING.replace("_p_deg, unit: deg", "_p_deg, unit: deg, sign: -1")
        .replace("_s_deg, unit: deg", "_s_deg, unit: deg, sign: -1")
        .replace("_a_deg, unit: deg", "_a_deg, unit: deg, sign: -1"), "foils: moves the other way"),
    "clock in s that is ms": (wrong("t_ms, unit: ms", "t_ms, unit: s"), "is the clock's unit right?"),
    "clock in us that is ms": (wrong("t_ms, unit: ms", "t_ms, unit: us"), "is the clock's unit right"),
    "rate beyond the rows": (wrong("bow_mm, unit: mm", "bow_mm, unit: mm, rate: 400 Hz"), "the rows come at 100 Hz"),
    "another lag": (wrong("bow_mm, unit: mm", "bow_mm, unit: mm, late: 200 ms"), "ms earlier in the log than the files say"),
    "two columns swapped": (
        MAPPING.replace("column: roll_deg, unit: deg", "column: compass_deg, unit: deg").replace(
            "heading: {column: compass_deg, unit: deg}", "heading: {column: roll_deg, unit: deg}"), "roll"),
}  # fmt: skip


@pytest.mark.parametrize("kind", DOUBTED)
def test_doubted(kind: str, tmp_path: Path) -> None:
    text, said = DOUBTED[kind]
    doubts = "\n".join(judged(tmp_path, text).doubts)
    assert said in doubts, doubts


def test_a_right_mapping_raises_no_doubt(tmp_path: Path) -> None:
    assert judged(tmp_path).doubts == ()


def cells(folder: Path, change) -> str:
    """The doubts about a log whose lines were changed."""
    path = write_day(folder)
    lines = (folder / "pass.csv").read_text(encoding="utf-8").splitlines()
    (folder / "pass.csv").write_text("\n".join(change(lines)) + "\n", encoding="utf-8")
    return "\n".join(judge_day(load_mapping(path)).doubts)


def test_a_clock_that_jumps_back(tmp_path: Path) -> None:
    assert "the clock jumps back one time:" in cells(tmp_path, lambda lines: [lines[0], *lines[3000:], *lines[1:3000]])


def test_gaps_are_told_and_not_filled(tmp_path: Path) -> None:
    said = cells(tmp_path, lambda lines: [*lines[:2500], *lines[2700:]])
    assert "a gap in the clock" in said
    assert "nothing is filled in" in said


def test_words_among_numbers(tmp_path: Path) -> None:
    def spoil(lines: list[str]) -> list[str]:
        return [*lines[:500], lines[500].rsplit(",", 1)[0] + ",err", *lines[501:]]

    assert "one cell is no number, as 'err'; it counts as missing" in cells(tmp_path, spoil)


def test_a_number_beyond_all_bounds_is_a_word() -> None:
    """Found by the command `fuzz`: 400 digits in a column of whole numbers ended in a traceback."""
    tally = ReadingTally()
    numbers = _numbers(pd.Series([1, 10**400, "err", 2], dtype=object), tally)
    np.testing.assert_array_equal(numbers, [1.0, np.nan, np.nan, 2.0])
    assert tally.words == 2
    assert tally.first_word == "1" + 39 * "0"


def test_torn_rows(tmp_path: Path) -> None:
    assert "one row has too many cells and was left out" in cells(
        tmp_path, lambda lines: [*lines[:500], lines[500] + ",1,2,3", *lines[501:]]
    )


def test_a_stuck_rangefinder(tmp_path: Path) -> None:
    log = head_pass()
    stuck = log | {"range": Series(log["range"].time, np.full_like(log["range"].value, 0.0951))}
    assert "range: never changes" in "\n".join(judged(tmp_path, record=stuck).doubts)


def test_an_empty_log(tmp_path: Path) -> None:
    path = write_day(tmp_path)
    head = (tmp_path / "pass.csv").read_text(encoding="utf-8").splitlines()[0]
    (tmp_path / "pass.csv").write_text(head + "\n", encoding="utf-8")
    with pytest.raises(CampaignError, match="no row under them"):
        judge_day(load_mapping(path))

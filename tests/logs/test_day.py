"""A day with two set-ups, from files to sentences and to the rows of the page; the model flies few flights here."""

from __future__ import annotations

from math import pi
from pathlib import Path

import pytest

from sweep.logs.read.channels import Record, Series
from sweep.logs.read.mapping import load_mapping
from sweep.logs.report.day import Day, compare_day, judge_day, passes_of
from sweep.logs.report.demo import HIDDEN, hidden_craft, write_csv
from sweep.logs.report.sentences import comparison_sentences, split_sentences
from sweep.report.pages.logs import account
from tests.logs.made import MAPPING, flown, write_day
from tests.model.crafts import courier

TWO = MAPPING.replace("logs: {file: pass.csv}", "logs: [{file: a.csv, setup: soft}, {file: b.csv, setup: firm}]")


def turned(height: float) -> Record:
    log = flown(pi, height, 1.1, 40.0).log
    return log | {"heading": Series(log["heading"].time, log["heading"].value + pi)}


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory) -> Day:
    """The same craft twice, in 6 cm and in 4 cm: whatever differs is the water."""
    folder = tmp_path_factory.mktemp("day")
    path = write_day(folder, TWO)
    for name, height in (("a.csv", 0.06), ("b.csv", 0.04)):
        write_csv(folder / name, turned(height))
    return judge_day(load_mapping(path))


def test_the_difference_is_the_water(day: Day) -> None:
    found = compare_day(day, flights=10)["firm"]
    split = found.splits["sensed_error"]
    assert split.difference > 0.002
    assert split.water.low <= split.difference <= split.water.high
    assert split.verdict == "not told apart"
    assert split.further is not None or split.why
    said = " ".join([*comparison_sentences(found), *split_sentences(split, "sensed_error")])
    assert "the model's sensed error" in said
    assert "cannot tell the two set-ups apart" in said
    assert found.flatters != pytest.approx(1.0, abs=1e-3)
    rows = account(day, {"firm": found}).table
    assert [row.setup for row in rows] == ["soft", "firm"]
    assert all(row.low < row.predicted < row.high for row in rows)
    assert all(row.height_low < row.height < row.height_high for row in rows)


def test_a_pass_without_a_sea_borrows_one(day: Day) -> None:
    blind = day.runs[1]._replace(encounter=None, sea=None)
    found, borrowed, left_out = passes_of(day._replace(runs=(day.runs[0], blind)))
    assert (len(found), borrowed, left_out) == (2, 1, 0)
    assert found[1][1].height.value == pytest.approx(found[0][1].height.value)
    found, _, left_out = passes_of(day._replace(runs=(blind,)))
    assert (found, left_out) == ([], 1)


def test_one_set_up_is_not_compared(day: Day) -> None:
    with pytest.raises(ValueError, match="one set-up only"):
        compare_day(day._replace(runs=day.runs[:1]))


def test_the_hidden_craft_of_the_demo_is_another_one() -> None:
    hidden = hidden_craft(courier(), 1.0)
    assert hidden.rangefinders.latency == HIDDEN["range_lag"] != courier().rangefinders.latency
    assert hidden.foils["aft"].section.lift_slope < courier().foils["aft"].section.lift_slope
    assert hidden.rangefinders.dropout > 0.0


def test_the_demo_says_that_it_is_one() -> None:
    text = (Path(__file__).parents[2] / "configs" / "log" / "afternoon.yaml").read_text(encoding="utf-8")
    assert "made_up: true" in text
    assert "not from the water" in text

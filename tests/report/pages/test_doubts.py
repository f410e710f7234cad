"""Counters on a design's page: silent until they go beyond what is stated, then told in words with where."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest

from sweep.report.display import design_table
from sweep.report.pages import doubts
from sweep.results.store import Results
from tests.site_results import results

QUIET = {**dict.fromkeys(doubts.COUNTERS, 0.0), "cavitation_margin": 3.0}


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Results:
    return results(tmp_path_factory.mktemp("campaign"), areas=2)


def with_values(told: Results, values: dict[str, float], condition: int = 1) -> Results:
    """The counters at rest everywhere, and at these values in one condition."""
    flights = told.flights.assign(**QUIET)
    flights.loc[flights["condition"] == condition, list(values)] = list(values.values())
    return dataclasses.replace(told, flights=flights)


def test_a_quiet_design_has_nothing_to_say(told: Results) -> None:
    rows = doubts.of_design(with_values(told, {}), 3)
    assert [row.over for row in rows] == [False] * len(doubts.COUNTERS)
    assert doubts.sentences(rows) == []


@pytest.mark.parametrize("name", doubts.COUNTERS)
def test_a_counter_is_told_just_beyond_its_limit_and_not_before(told: Results, name: str) -> None:
    limit, step = doubts.COUNTERS[name].limit, -0.01 if name == "cavitation_margin" else 0.01
    before = doubts.of_design(with_values(told, {name: limit - step}), 3)
    beyond = doubts.of_design(with_values(told, {name: limit + step}), 3)
    assert doubts.sentences(before) == []
    [sentence] = doubts.sentences(beyond)
    assert told.conditions["name"][1] in sentence
    assert doubts.COUNTERS[name].said in sentence


def test_values_have_the_unit_that_people_read(told: Results) -> None:
    rows = doubts.of_design(with_values(told, {"beyond_polar": 0.12, "blind_readings": 0.2}), 3)
    values = {row.title: (row.value, row.limit) for row in rows if row.over}
    assert values == {"beyond polar": ("12 %", "over 5 %"), "blind readings": ("12 /min", "over 6 /min")}


def test_the_table_of_all_designs_has_the_counters_that_tell_designs_apart(told: Results) -> None:
    _, table = design_table(told)
    responses = told.responses.assign(beyond_polar=0.0)
    columns, wider = doubts.with_counters(dataclasses.replace(told, responses=responses), table)
    assert "beyond_polar" not in [column.key for column in columns]
    shown = wider.set_index("design")["blind_readings"]
    expected = 60.0 * told.responses.set_index("design")["blind_readings"]
    assert shown.sort_index().to_numpy() == pytest.approx(expected.sort_index().to_numpy(), rel=1e-3)


def test_results_without_counters_are_told_nothing(told: Results, tmp_path: Path) -> None:
    bare = dataclasses.replace(told, flights=told.flights.drop(columns=list(doubts.COUNTERS)))
    assert doubts.of_design(bare, 3) == []

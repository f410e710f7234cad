"""What the results rest on: counts, statistics, warnings and checks."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.budget import Budget
from sweep.checks.check_list import list_checks, list_scope
from sweep.insight.scores import flight_scores
from sweep.model.quantities import STATUS_NAMES
from sweep.report.headline import against_base
from sweep.report.pages.evidence import STUDIES
from sweep.report.pages.sure import COUNTERS, SECTIONS, UNCHECKED, check_table, first_of_each_replicate, sure_page
from sweep.results.store import Results
from tests.site_results import results


def with_flights(told: Results, **columns: object) -> Results:
    return dataclasses.replace(told, flights=told.flights.assign(**columns))


def test_statuses_are_counted(told: Results) -> None:
    rows = dict(sure_page(told).flights)
    counts = told.flights["status"].value_counts()
    assert rows["flew to the end"] == str(counts[0])
    assert rows["could not start: no trim within foil travel and thrust at this speed"] == str(
        counts[STATUS_NAMES.index("no-trim")]
    )
    assert not any("its code" in name or "own code" in name for name in rows), "of those that few campaigns have, what there is"
    lost = with_flights(told, status=np.int8(STATUS_NAMES.index("link-lost")))
    assert dict(sure_page(lost).flights)["stopped by its code: the link was lost"] == str(len(told.flights))
    assert any("“no-trim”" in warning for warning in sure_page(told).warnings)
    assert not any("“not-a-number”" in warning for warning in sure_page(told).warnings)


def test_a_good_run_has_nothing_to_be_wary_of(told: Results) -> None:
    quiet = with_flights(told, status=np.int8(0), encounters=80.0, **dict.fromkeys(COUNTERS, 0.0))
    calm = dataclasses.replace(quiet, campaign=told.campaign.model_copy(update={"warnings": ()}))
    assert sure_page(calm).warnings == []
    assert sure_page(calm).counters == []


def test_troubles_are_told_with_where_they_are_worst(told: Results) -> None:
    blind = np.where(told.flights["condition"] == 2, 0.5, 0.1)
    (row,) = sure_page(with_flights(told, **dict.fromkeys(COUNTERS, 0.0) | {"blind_readings": blind})).counters
    assert row[:3] == ("blind readings", "12 /min", "30 /min in chop, head, 4 m/s")


def test_few_waves_are_told(told: Results) -> None:
    met = np.where(told.flights["condition"] == 1, 12.0, 60.0)
    found = " ".join(sure_page(with_flights(told, encounters=met)).warnings)
    assert "In one condition a flight meets fewer than 50 waves, the fewest in ripple, following, 4 m/s: 12." in found


def test_a_campaigns_own_warnings_are_shown(told: Results) -> None:
    warned = told.campaign.model_copy(update={"warnings": ("the sea is steep",)})
    assert "the sea is steep" in sure_page(dataclasses.replace(told, campaign=warned)).warnings


def test_columns_of_a_newer_program_may_be_missing(told: Results) -> None:
    older = dataclasses.replace(told, flights=told.flights.drop(columns=[*COUNTERS, "encounters"]))
    assert sure_page(older).counters == []


def test_each_replicate_alone_names_its_best(told: Results) -> None:
    flights = told.flights.assign(score=flight_scores(told.flights, told.campaign.score, 16.0))
    winners = first_of_each_replicate(told)
    for replicate, rows in flights.groupby("replicate"):
        assert winners[replicate] == rows.groupby("design")["score"].mean().idxmin()
    shown = dict(sure_page(told).statistics)
    assert shown["designs that come first in one replicate alone"] == str(winners.nunique())
    assert shown["blocks, each flown by every design"] == "12"


def test_pairing_is_shown_to_tell_more(told: Results) -> None:
    shown = dict(sure_page(told).statistics)
    own = (told.standings["score_high"] - told.standings["score_low"]).median() / 2
    assert float(shown["half of the scores are known within"].removeprefix("±")) == pytest.approx(own, rel=0.06)


def test_one_replicate_claims_no_interval(tmp_path: Path) -> None:
    one = results(tmp_path, leaders=0, replicates=1, areas=2)
    found = sure_page(one)
    assert "One replicate gives an order, but no interval." in found.sentences
    assert len(found.statistics) == 2


def test_every_check_is_shown_with_its_tolerance(told: Results) -> None:
    rows = {(row.quantity, row.source): row for row in sure_page(told).checks}
    assert len(rows) >= 70
    of = {quantity: row for (quantity, _), row in rows.items()}
    assert of["viscosity of fresh water"].published.endswith("·10⁻⁶ m²/s")
    assert of["viscosity of fresh water"].place.endswith(", the worst of 6")
    assert of["lift slope of a foil, deep"].tolerance == "±8 %"
    assert of["lift slope of a foil, deep"].reason.startswith("a formula for all aspect ratios")
    assert of["friction line"].tolerance == "±1·10⁻⁶"
    assert of["wave speed, worked example"].place == "10 s over 3 m"
    assert all(row.kept for row in rows.values())


def test_all_rows_are_in_the_csv() -> None:
    table = check_table()
    assert len(table) == len(list_checks())
    assert (table["deviation"].abs() <= table["tolerance"]).all()


def test_what_is_not_checked_says_why(told: Results) -> None:
    scope = {part.topic: part for part in sure_page(told).scope}
    assert "Dispersion" not in scope
    assert "deep water" in scope["Waves"].checked
    assert dict(scope["Seas"].left)["Beaufort numbers"] == "a campaign gives its wind in units of speed"
    assert all(part.checked or part.left for part in scope.values())


def test_the_first_paragraph_says_what_nobody_outside_has_checked(told: Results, tmp_path: Path) -> None:
    for each in (told, results(tmp_path, leaders=0, replicates=1, areas=2)):
        first = sure_page(each).sentences[0]
        assert "No experiment has checked the ride in waves" in first
        assert "no outside check" in first


def test_measured_values_are_counted(told: Results) -> None:
    (tows,) = (study for study in sure_page(told).studies if study.title == STUDIES["tows"])
    rows = tows.tables[0].rows
    met = sum(row[3] == "agrees" for row in rows)
    assert 0 < met < len(rows)
    assert any(f"{met} of {len(rows)} that they measured on towed" in each for each in sure_page(told).sentences)


def test_nothing_flown_is_told_without_falling_over(told: Results) -> None:
    empty = dataclasses.replace(told, flights=told.flights.head(0), standings=told.standings.head(0))
    found = sure_page(empty)
    assert isinstance(found.flights, list)
    assert pd.isna(found.sentences).sum() == 0


def test_the_page_opens_with_how_surely_the_best_is_told(told: Results) -> None:
    some = told.standings.assign(may_be_best=told.standings["place"] <= 3)
    first = sure_page(dataclasses.replace(told, standings=some)).sentences[0]
    best, *others = some["design"].head(3)
    assert first.startswith(
        f"May be the best, by these flights: designs {best}, {others[0]} or {others[1]}; the best is one of"
    )
    assert first.endswith(f"{against_base(some)[0]} {UNCHECKED}")
    many = dataclasses.replace(told, standings=told.standings.assign(may_be_best=True))
    assert " designs may be the best, by these flights; it is one of them, 95 % sure. " in sure_page(many).sentences[0]
    alone = dataclasses.replace(told, standings=told.standings.assign(may_be_best=told.standings["place"] == 1))
    assert sure_page(alone).sentences[0].startswith(f"Design {best} is the best of all")


def test_every_section_of_the_scope_has_a_name():
    assert {row.section.partition(".")[0] for row in list_scope()} == set(SECTIONS)


def test_flights_of_leading_designs_beyond_the_campaigns_are_told_as_the_table_has_them(told: Results) -> None:
    """Also of a race: 'up to two replicates of each design' stood over a table of blocks flown beyond."""
    own = told.campaign.replicates * len(told.conditions)
    table = told.standings.assign(flights=own + 40 * (told.standings["place"] == 1))
    for budget, most in ((None, ""), (Budget(simulated="1 h"), "up to ")):
        campaign = told.campaign.model_copy(update={"budget": budget})
        page = sure_page(dataclasses.replace(told, standings=table, campaign=campaign))
        assert f" in all: {most}three replicates of each design in each of four conditions, and" in page.sentences[1]
        assert page.sentences[1].endswith(", and up to 40 flights more of each leading one.")
        assert ("blocks that leading designs flew beyond these", "up to 40") in page.statistics
    assert "more of each" not in sure_page(told).sentences[1]

"""Tables for people: units, levels, samples."""

from __future__ import annotations

import dataclasses

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.designs import significant
from sweep.insight.scores import flight_scores
from sweep.model.history import FOIL_UNIT, RECORD_UNITS, RECORDED
from sweep.model.quantities import FLEW, SCALES, STATUS_NAMES
from sweep.report.charts.ride import panels
from sweep.report.display import (
    COARSER,
    DECIMALS,
    condition_table,
    design_table,
    every_so_many,
    ride_headings,
    ride_table,
    thinned,
    worth_exploring,
)
from sweep.report.pages import causes, matters
from sweep.results.store import Results
from tests.site_results import HOSTILE_LABEL


def test_four_digits_are_kept() -> None:
    rounded = significant(pd.Series([0.0123456, 123456.0, -2.0, np.nan]))
    assert rounded.tolist()[:3] == [0.01235, 123500.0, -2.0]
    assert np.isnan(rounded[3])
    assert significant(pd.Series([123456])).tolist() == [123456]


def test_factors_come_in_the_unit_that_the_file_wrote(told: Results) -> None:
    columns, table = design_table(told)
    area, gain, layout = columns[:3]
    assert (area.title, area.unit, area.levels) == (HOSTILE_LABEL, "cm^2", (36, 43.5, 50, 51, 58.5, 66))
    assert (gain.unit, gain.decimals) == ("deg/cm", 3)
    assert (layout.word, layout.levels) == (True, ("bow", "across bow", "over foils"))
    base = table[table["design"] == 0].iloc[0]
    assert (base[area.key], base[gain.key], base[layout.key]) == (50.0, 0.4, "bow")


def test_responses_come_in_their_shown_unit(told: Results) -> None:
    columns, table = design_table(told)
    assert [column.key for column in columns if column.role == "response"] == [
        "ride_height_error", "outside_window", "touchdowns", "upsets", "vertical_acceleration",
    ]  # fmt: skip
    flights = told.flights[told.flights["design"] == table.loc[0, "design"]]
    assert table.loc[0, "ride_height_error"] == pytest.approx(100.0 * flights["ride_height_error"].mean(), rel=1e-3)
    assert table.loc[0, "touchdowns"] == pytest.approx(60.0 * flights["touchdowns"].mean(), rel=1e-3)


def test_designs_are_grouped_by_what_they_are(told: Results) -> None:
    _, table = design_table(told)
    groups = table.set_index("design")["group"]
    standings = told.standings.set_index("design").loc[groups.index]
    assert groups[0] == "base craft"
    rest = groups.index != 0
    assert ((groups == "refused") == (standings["verdict"] == "broken"))[rest].all()
    assert ((groups == "good enough") == standings["good_enough"])[rest].all()


def test_columns_without_a_choice_are_left_out(told: Results) -> None:
    columns, table = design_table(told)
    kept = worth_exploring(columns, table.assign(price=1.0))
    assert "price" not in {column.key for column in kept}
    assert "mass" in {column.key for column in kept}


def test_a_sample_keeps_order_spread_and_all_that_have_a_page() -> None:
    table = pd.DataFrame({"design": range(1000), "page": ""})
    table.loc[997, "page"] = "design-997.html"
    kept = thinned(table, 100)
    assert len(kept) == 101
    assert kept["design"].is_monotonic_increasing
    assert kept["design"].diff().max() == 10
    assert 997 in kept["design"].tolist()
    assert thinned(table, 1000) is table


def test_scores_by_condition_are_means_of_its_flights(told: Results) -> None:
    design = int(told.standings.iloc[-1]["design"])
    table = condition_table(told, design)
    flights = told.flights[told.flights["design"] == design]
    scores = pd.Series(flight_scores(flights, told.campaign.score, 16.0), index=flights.index)
    np.testing.assert_allclose(table["score"], scores.groupby(flights["condition"]).mean(), rtol=1e-3)
    assert (table["ended"] + table["stopped"]).sum() == (flights["status"] != 0).sum() > 0
    assert table["stopped"].sum() == 0


def test_flights_that_the_code_stopped_are_not_said_to_have_ended_early(told: Results) -> None:
    stopped = told.flights.assign(
        status=told.flights["status"].mask(told.flights["status"] != FLEW, STATUS_NAMES.index("link-lost"))
    )
    results = dataclasses.replace(told, flights=stopped)
    design = int(told.standings.iloc[-1]["design"])
    table, before = condition_table(results, design), condition_table(told, design)
    assert table["ended"].sum() == 0
    assert table["stopped"].tolist() == before["ended"].tolist()
    said, otherwise = (" ".join(matters.sentences(each)) for each in (results, told))
    assert "ended early, were stopped by the boat's own code or did not start" in said
    assert "ended early or did not start" in otherwise
    event = {
        "design": design,
        "condition": 0,
        "replicate": 0,
        "begin": 9.0,
        "end": 9.0,
        "kind": "ended",
        "cause": "not clear",
        "why": "",
    }
    for each, wanted in ((told, "a loss of flight or an early end."), (results, "an early end or a stop by its code.")):
        troubles, _ = causes.of_design(dataclasses.replace(each, troubles=pd.DataFrame([event])), design)
        assert troubles is not None
        assert wanted in troubles.which
    assert table["flights"].tolist() == [3, 3, 3, 3]


def test_conditions_that_were_not_flown_stay_empty(told: Results) -> None:
    early = dataclasses.replace(told, flights=told.flights[told.flights["condition"] < 2])
    table = condition_table(early, 1)
    assert table["flights"].tolist() == [3, 3, 0, 0]
    assert table["score"].isna().tolist() == [False, False, True, True]


def test_long_rides_are_thinned_evenly(told: Results) -> None:
    history = ride_table(told.leaders[0])
    kept = every_so_many(history, len(history) // 3)
    assert len(history) / 3 <= len(kept) + 4
    assert len(kept) <= len(history) / 3 + 4
    for condition, rows in kept.groupby("condition"):
        assert rows["time"].iloc[0] == history.loc[history["condition"] == condition, "time"].iloc[0]
        assert np.ptp(np.diff(rows["time"])) < 1e-9
    assert every_so_many(history, len(history)).equals(history)
    assert every_so_many(history.head(0), 10).empty


def test_rides_come_in_centimetres_and_degrees(told: Results) -> None:
    history = told.leaders[0]
    table = ride_table(history)
    np.testing.assert_allclose(table["keel_height"], 100.0 * history["keel_height"], rtol=0, atol=0.00501)
    np.testing.assert_allclose(table["foil_aft"], np.degrees(history["foil_aft"]), rtol=0, atol=0.00501)
    assert list(table)[:2] == ["condition", "time"]
    headings = ride_headings(table)
    assert (headings["time"], headings["surface"], headings["foil_aft"], headings["hull_load"]) == (
        "time, s", "surface, cm", "foil_aft, deg", "hull_load, %",
    )  # fmt: skip
    assert "condition" not in headings


def test_every_column_of_a_record_is_read_in_its_unit() -> None:
    """In the record's order; what is no column of it, or of a foil, is left out."""
    history = pd.DataFrame({"condition": [0], "odd": [1.0]} | dict.fromkeys(RECORDED, 0.25) | {"foil_aft": [0.25]})
    table = ride_table(history)
    assert list(table) == ["condition", *RECORDED, "foil_aft"]
    for name, unit in RECORD_UNITS.items():
        half = 0.5 * 10.0 ** -COARSER.get(name, DECIMALS.get(unit, 2))
        assert table[name].item() == pytest.approx(0.25 * SCALES[unit], rel=5e-4, abs=half + 1e-5), name
        assert ride_headings(table).get(name, name) == (f"{name}, {unit}" if unit else name)


def test_lines_of_a_panel_share_its_unit() -> None:
    for panel in panels(pd.DataFrame(columns=[*RECORDED, "foil_aft"])):
        assert {RECORD_UNITS.get(name, FOIL_UNIT) for name in panel.lines} == {panel.unit}

"""Where it rides, in tables and sentences: limits, failures an hour, and what a few flights can show."""

from __future__ import annotations

import dataclasses
import math
from pathlib import Path

import pandas as pd
import pytest

from sweep.report.pages.rides import HEADINGS, headings_of, reach, ride_table, rides_page, sea_of
from sweep.results.store import Results
from tests.site_results import results


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Results:
    return results(tmp_path_factory.mktemp("campaign"))


def rides(told: Results, **columns: object) -> Results:
    """One design, four wave heights from ahead at 4 m/s."""
    rows = pd.DataFrame(
        {
            "design": 0, "speed": 4.0, "height": [0.02, 0.04, 0.06, 0.08], "period": 1.0, "heading": math.pi,
            "heading_name": "head", "flights": 20, "clean": [20, 18, 17, 19], "share_low": 0.5, "share_high": 1.0, **columns,
        }
    )  # fmt: skip
    return dataclasses.replace(told, rides=rows)


def sentence(told: Results, **columns: object) -> str:
    some = rides(told, **columns)
    said: str = rides_page(some, ride_table(some)).sentences[0]
    return said


def test_a_limit_ends_at_the_first_gap(told: Results) -> None:
    """18 of 20 is nine in ten; 19 of 20 beyond 17 of 20 is luck, not a second band."""
    table = ride_table(rides(told))
    found = reach(table)
    assert (found.height, found.least, found.whole, found.flown) == (4.0, 2.0, False, True)
    assert reach(table[table["height"] < 5.0]).whole
    assert math.isnan(reach(table[table["height"] == 6.0]).height)
    assert not reach(table.assign(flights=0, share=math.nan)).flown


def test_failures_an_hour_follow_a_steady_rate(told: Results) -> None:
    """exp(-rate x 16 s) = 0.9: 23.7 an hour. Twenty of twenty leave a bound: exp(-rate x 16 s) = 0.8316, 41.5 an hour."""
    bounds = {"share_low": [0.8316, 0.7, 0.7, 0.7], "share_high": [1.0, 0.9, 0.9, 0.1684]}
    table = ride_table(rides(told, clean=[20, 18, 17, 0], **bounds))
    assert table["failures"].tolist()[1] == pytest.approx(23.7, abs=0.05)
    assert table["hourly"].tolist() == ["under 41", "24", "37", "over 400"]
    assert table["failures"].tolist()[0] == 0.0
    assert math.isnan(table["failures"].tolist()[3]), "no flight was clean: there is no rate, only a bound"


def test_the_sentence_names_the_best_and_the_worst_heading(told: Results) -> None:
    base = rides(told)
    astern = base.rides.assign(heading=0.0, heading_name="following", clean=[20, 10, 5, 0])
    both = dataclasses.replace(base, rides=pd.concat([base.rides, astern], ignore_index=True))
    assert rides_page(both, ride_table(both)).sentences[0] == (
        "The base craft (design 0) keeps nine flights in ten clean up to 4 cm in head seas at 4 m/s, and up to 2 cm in "
        "following seas."
    )
    rough = dataclasses.replace(both, rides=both.rides.assign(clean=[20, 18, 17, 19, 10, 10, 5, 0]))
    assert rides_page(rough, ride_table(rough)).sentences[0].endswith(", but not even 2 cm in following seas.")
    alike = dataclasses.replace(both, rides=both.rides.assign(clean=[20, 20, 5, 0] * 2))
    assert "up to 4 cm from every direction at 4 m/s." in rides_page(alike, ride_table(alike)).sentences[0]


def test_the_ends_of_the_map_are_told_as_such(told: Results) -> None:
    assert "up to 8 cm, the highest tried, in head seas at 4 m/s." in sentence(told, clean=20)
    assert "in none of these seas at 4 m/s, not even in waves of 2 cm." in sentence(told, clean=0)
    assert "cannot fly level at 4 m/s." in sentence(told, flights=0, clean=0, share_low=math.nan, share_high=math.nan)
    assert "in seas at 120 deg at 4 m/s" in sentence(told, heading_name="120 deg", heading=2.1)


def test_the_budget_says_what_a_few_flights_can_show(told: Results) -> None:
    """Six of six: (1 - 0.95)/2 = share^6, so 54.1 % (Clopper & Pearson 1934)."""
    found = rides_page(told, ride_table(told))
    assert told.campaign.map is not None
    cells = len(told.campaign.map.cells())
    assert "Each cell is six flights of 20 s, of which the last 16 s count" in found.budget
    assert f"in {cells} cells" in found.budget
    assert "If all six are clean, then at least 54 % of all such flights are" in found.budget
    assert "not finished" not in found.budget
    begun = dataclasses.replace(told, rides=told.rides.iloc[: 4 * (cells - 2)])
    assert "The map is not finished: two cells are missing." in rides_page(begun, ride_table(begun)).budget


def test_nine_in_ten_is_told_by_the_hour(told: Results) -> None:
    """16 s each: 16 / -ln 0.9 = 152 s, 23.7 an hour; and that no outing follows from them."""
    meaning = rides_page(told, ride_table(told)).meaning
    assert (
        "one failure in about 2.5 minutes of such flight, or 24 an hour. They do not tell how often a whole outing" in meaning
    )


def test_half_a_minute_each_is_an_event_in_five_minutes(told: Results) -> None:
    longer = told.campaign.model_copy(update={"flight": told.campaign.flight.model_copy(update={"length": 34.0})})
    other = dataclasses.replace(told, campaign=longer)
    assert "one failure in about 4.7 minutes of such flight, or 13 an hour" in rides_page(other, ride_table(other)).meaning


def test_the_step_runs_between_enough_and_too_few(told: Results) -> None:
    table = ride_table(told)
    for _, cells in table.groupby(["design", "heading_name"]):
        share = {(row.speed, row.height): row.share >= 90.0 for row in cells.itertuples()}
        speeds, heights = sorted({key[0] for key in share}), sorted({key[1] for key in share})
        for row in cells.itertuples():
            up = [height for height in heights if height > row.height][:1]
            right = [speed for speed in speeds if speed > row.speed][:1]
            here = share[row.speed, row.height]
            assert row.above == any(share[row.speed, height] != here for height in up)
            assert row.beside == any(share[speed, row.height] != here for speed in right)


def test_designs_come_in_the_order_of_the_standings(told: Results) -> None:
    found = rides_page(told, ride_table(told))
    order = [design for design in told.standings["design"] if design in told.leaders]
    assert [part.design for part in found.designs][: len(order)] == order
    assert found.sentences[0] == found.designs[0].sentence
    assert headings_of(told) == ["head", "beam", "following"]
    assert [sea_of(name) for name in ("head", "120 deg")] == ["Head seas", "Seas at 120 deg"]


def test_a_speed_without_trim_is_told(told: Results) -> None:
    base = next(part for part in rides_page(told, ride_table(told)).designs if part.design == 0)
    slowest = base.limits[0]
    assert slowest[0] == "3.2 m/s"
    assert {cell[0] for cell in slowest[1]} == {"cannot fly"}


def test_no_map_says_how_to_get_one(told: Results, tmp_path: Path) -> None:
    wanted = dataclasses.replace(told, rides=pd.DataFrame())
    assert "Run foilsweep run with the same campaign: it flies the map" in rides_page(wanted, ride_table(wanted)).sentences[0]
    without = dataclasses.replace(wanted, campaign=told.campaign.model_copy(update={"map": None}))
    assert "map: {replicates: 0}" in rides_page(without, ride_table(without)).sentences[0]
    assert set(HEADINGS) <= set(ride_table(without))

"""Where it rides, in tables and sentences: outings, clean short flights by count, and what a few can show."""

from __future__ import annotations

import dataclasses
import math
from pathlib import Path

import pandas as pd

from sweep.report.pages.rides import HEADINGS, headings_of, reach, ride_table, rides_page, sea_of
from sweep.results.store import Results


def rides(told: Results, **columns: object) -> Results:
    """One design, four wave heights from ahead at 4 m/s."""
    rows = pd.DataFrame(
        {
            "design": 0, "speed": 4.0, "height": [0.02, 0.04, 0.06, 0.08], "period": 1.0, "heading": math.pi,
            "heading_name": "head", "flights": 20, "clean": [20, 18, 17, 19], "share_low": 0.5, "share_high": 1.0, **columns,
        }
    )  # fmt: skip
    return dataclasses.replace(told, rides=rows)


def short(some: Results) -> str:
    """What is said of the short flights of the first design."""
    said: str = rides_page(some, ride_table(some)).designs[0].sentence
    return said


def test_a_column_ends_at_the_first_failure(told: Results) -> None:
    """All 20 are clean at 2 cm; 18 of 20 at 4 cm is not all, and 20 of 20 at 8 cm is no second band."""
    table = ride_table(rides(told, clean=[20, 18, 17, 20]))
    found = reach(table)
    assert (found.height, found.least, found.whole, found.flown) == (2.0, 2.0, False, True)
    assert (found.clean, found.beyond) == (20, "4 cm: 18 of 20")
    assert reach(table[table["height"] < 3.0]).whole
    assert math.isnan(reach(table[table["height"] == 6.0]).height)
    assert not reach(table.assign(flights=0, clean=0, share=math.nan)).flown
    assert table["said"].tolist() == ["20/20", "18/20", "17/20", "20/20"]


def test_the_sentence_counts_the_best_and_the_worst_heading(told: Results) -> None:
    base = rides(told, clean=[20, 20, 17, 19])
    astern = base.rides.assign(heading=0.0, heading_name="following", clean=[20, 10, 5, 0])
    both = dataclasses.replace(base, rides=pd.concat([base.rides, astern], ignore_index=True))
    assert short(both) == (
        "The base craft (design 0) at 4 m/s: all 40 clean up to 4 cm in head seas, and all 20 clean up to 2 cm in following "
        "seas."
    )
    rough = dataclasses.replace(both, rides=both.rides.assign(clean=[20, 20, 17, 19, 10, 10, 5, 0]))
    assert short(rough).endswith(", and not all clean in following seas, 2 cm: 10 of 20.")


def test_the_ends_of_the_map_are_told_as_such(told: Results) -> None:
    assert "all 80 clean up to 8 cm, the highest tried, in head seas." in short(rides(told, clean=20))
    assert "not all clean in head seas, 2 cm: 0 of 20." in short(rides(told, clean=0))
    assert "in seas at 120 deg" in short(rides(told, heading_name="120 deg", heading=2.1))
    unflown = rides(told, flights=0, clean=0, share_low=math.nan, share_high=math.nan)
    (rider,) = rides_page(unflown, ride_table(unflown)).designs
    assert rider.sentence == "The base craft (design 0) has no trim at 4 m/s, and was not flown."
    assert (rider.limits, rider.without) == ([], "It has no trim at 4 m/s: nothing was flown there.")


def test_short_flights_are_told_as_what_they_are(told: Results) -> None:
    """No share of them is made into a promise: outings come first, and are not shown where none was flown."""
    found = rides_page(told, ride_table(told))
    assert found.sentences[0].endswith(": not shown.")
    assert found.sentences[0].startswith("Clean outings of design ")
    said = "These short flights of 20 s promise nothing of an outing. A model's estimate is no permission to go."
    assert said in found.sentences
    assert found.short == "short flights of 20 s, begun in trim and straight"
    rest = told.campaign.model_copy(update={"flight": told.campaign.flight.model_copy(update={"start": "rest"})})
    assert "from rest and straight" in rides_page(dataclasses.replace(told, campaign=rest), ride_table(told)).short


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


def test_designs_come_in_the_order_of_the_standings(told: Results) -> None:
    found = rides_page(told, ride_table(told))
    order = [design for design in told.standings["design"] if design in told.leaders]
    assert [part.design for part in found.designs][: len(order)] == order
    assert found.sentences[0].startswith(f"Clean outings of design {found.designs[0].design} and the base craft (design 0): ")
    assert headings_of(told) == ["head", "beam", "following"]
    assert [sea_of(name) for name in ("head", "120 deg")] == ["Head seas", "Seas at 120 deg"]


def test_a_speed_without_trim_has_no_row(told: Results) -> None:
    base = next(part for part in rides_page(told, ride_table(told)).designs if part.design == 0)
    assert [speed for speed, _ in base.limits] == ["4 m/s", "5 m/s"]
    assert base.without == "It has no trim at 3.2 m/s: nothing was flown there."


def test_no_map_says_how_to_get_one(told: Results, tmp_path: Path) -> None:
    wanted = dataclasses.replace(told, rides=pd.DataFrame())
    assert "Run foilsweep run with the same campaign: it flies the map" in rides_page(wanted, ride_table(wanted)).sentences[0]
    without = dataclasses.replace(wanted, campaign=told.campaign.model_copy(update={"map": None}))
    assert "map: {replicates: 0}" in rides_page(without, ride_table(without)).sentences[0]
    assert set(HEADINGS) <= set(ride_table(without))

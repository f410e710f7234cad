"""What is said of what is not known of the boat: on Standings, on How sure, before a flight."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import pandas as pd

from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out
from sweep.campaign.unknowns import Unknown, Unknowns
from sweep.insight.hanging import COLUMNS
from sweep.preflight.unknown_price import unknown_sentences
from sweep.report.headline import result
from sweep.report.pages.sure import sure_page
from sweep.report.single_flight import choose, fly_chosen, outcome
from sweep.report.unknown_words import hanging_sentences
from sweep.results.form_check import checked
from sweep.results.store import Results
from tests.flying.test_flights import campaign

WAKE = Unknown(label="wake.strength", addresses=("wake.strength",), way="times", low=0.75, high=1.25, described=(1.0,))
LATE = Unknown(
    label="rangefinders.latency",
    addresses=("rangefinders.latency",),
    way="to",
    low=0.0,
    high=0.04,
    described=(0.06,),
    unit="ms",
)
UNKNOWNS = Unknowns(each=(WAKE, LATE))
ROW = {"unknown": "wake.strength", "draws": 20, "changes": 0.4, "gain": 0.04, "gain_low": 0.013, "chance": 0.0025, "told": True,
       "below": 3, "above": 5}  # fmt: skip
NOT = ROW | {"unknown": "rangefinders.latency", "changes": 0.1, "gain": -0.01, "gain_low": -0.03, "chance": 0.6, "told": False}


def doubtful(told: Results, *rows: dict[str, object], unknowns: Unknowns = UNKNOWNS) -> Results:
    table = pd.DataFrame(rows, columns=list(COLUMNS))
    return dataclasses.replace(told, campaign=told.campaign.model_copy(update={"unknowns": unknowns}), hanging=table)


def test_nothing_is_said_where_all_is_known(told: Results) -> None:
    assert "draw" not in " ".join(result(told))
    assert sure_page(told).hanging == []
    assert "draw" not in " ".join(map(str, sure_page(told).statistics))
    assert unknown_sentences(campaign(), lay_out(campaign()), list_conditions(campaign())) == []


def test_standings_say_over_how_many_draws_of_what(told: Results) -> None:
    said = " ".join(result(doubtful(told, ROW)))
    assert (
        "Scores are means over three draws of what is not known of the boat: wake.strength (+- 25 %) and rangefinders.latency "
        "(0 to 40 ms)." in said
    )
    more = doubtful(dataclasses.replace(told, standings=told.standings.assign(flights=told.standings["flights"] + 8)), ROW)
    assert "over three draws, of leading designs over up to five, of what" in " ".join(result(more)).replace(
        "up to 5", "up to five"
    )
    pairs = UNKNOWNS.model_copy(update={"waves": 2, "shared": 2})
    assert "over two draws" in " ".join(result(doubtful(told, ROW, unknowns=pairs)))


def test_what_to_measure_first_is_named_with_what_it_would_change(told: Results) -> None:
    (first, *_) = sure_page(doubtful(told, NOT, ROW)).hanging
    assert first == (
        "Measure wake.strength first: known, it would change the choice in 4 of 10 cases, by 0.1 of score in these; that is "
        "0.04 over all cases, and at least 0.013. With little of it design 3 is the best, with much of it design 5."
    )


def test_several_stand_in_the_order_of_their_gain(told: Results) -> None:
    said = hanging_sentences(doubtful(told, ROW, ROW | {"unknown": "rangefinders.latency", "gain": 0.09}))
    assert [sentence.split(":")[0] for sentence in said[:2]] == ["Measure rangefinders.latency first", "Then wake.strength"]


def test_where_none_is_shown_it_says_so_and_where_draws_are_few_how_many_it_takes(told: Results) -> None:
    assert "In 20 draws no unknown is shown to change which boat is best." in hanging_sentences(doubtful(told, NOT))[0]
    nothing = {"draws": 4, "changes": float("nan"), "gain": float("nan"), "chance": float("nan"), "told": False}
    few = doubtful(told, ROW | nothing)
    assert re.search("not told: it takes 12 draws.*there are 4 draws.*replicates: 12", hanging_sentences(few)[0])


def test_the_statistics_and_the_method_say_that_draws_are_the_units(told: Results) -> None:
    page = sure_page(doubtful(told, ROW))
    assert ("draws of what is not known", "3") in page.statistics
    assert ("not known, and drawn", "wake.strength (+- 25 %)") in page.statistics
    assert "draws are then the independent units" in page.method


def test_the_table_has_the_form_that_folders_are_checked_by(told: Results, tmp_path: Path) -> None:
    for rows in ((ROW, NOT), (ROW | dict.fromkeys(("changes", "gain", "gain_low", "chance"), float("nan")),), ()):
        table = pd.DataFrame(list(rows), columns=list(COLUMNS))
        assert len(checked(tmp_path / "hanging.parquet", table, "hanging")) == len(rows)


def test_the_price_is_said_before_a_flight() -> None:
    chosen = campaign(unknowns=UNKNOWNS.model_copy(update={"waves": 2, "shared": 6}), replicates=6)
    said = " ".join(unknown_sentences(chosen, lay_out(chosen), list_conditions(chosen)))
    assert "Three draws in six replicates, a draw for every 2 of them" in said
    assert "How much wider they get is not known before." in said
    assert "In doubt: three draws. Plan 8 at least, which is “replicates: 16”" in said
    assert "2.4 standard errors" in said, "Student's factor for 7 degrees of freedom, 2.365 in every table"
    assert "with 3 it is 4.3" in said, "for 2 degrees of freedom, 4.303"
    enough = campaign(unknowns=UNKNOWNS, replicates=8)
    assert "In doubt" not in " ".join(unknown_sentences(enough, lay_out(enough), list_conditions(enough)))


def test_a_single_flight_says_what_it_was_drawn_as() -> None:
    chosen = campaign(unknowns=UNKNOWNS, replicates=4)
    wake, late = UNKNOWNS.numbers(chosen.flight.seed, 3)
    flight = choose(chosen, 7, "0", 3)
    said = outcome(flight, fly_chosen(chosen, flight, 10.0))
    assert said.endswith(
        f"What is not known is drawn as wake.strength {100.0 * wake:.4g} % of what the craft has and rangefinders.latency "
        f"{1000.0 * late:.4g} ms."
    )
    assert choose(campaign(), 7, "0", 3).drawn == ""

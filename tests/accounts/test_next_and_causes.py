"""What the pages say of causes and of changes, from tables made up for it."""

from __future__ import annotations

import dataclasses

import pandas as pd
import pytest

from sweep.accounts import causes, changes
from sweep.changes import COLUMNS
from sweep.insight.causes import CAUSES, UNCLEAR
from sweep.store import Results
from tests.site_results import results


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Results:
    return results(tmp_path_factory.mktemp("campaign"))


def row(
    group: str, label: str, becomes: str, predicted: float, gain: float, half: float, clean: float = 1.0
) -> tuple[object, ...]:
    span = (predicted, predicted - 0.05, predicted + 0.05)
    return (group, 7, label, "0 cm", becomes, *span, gain, gain - half, gain + half, clean, 1.0, 24)


def with_changes(told: Results, *rows: tuple[object, ...]) -> Results:
    leader = told.standings["design"].eq(7)
    standings = told.standings.assign(score=told.standings["score"].where(~leader, 1.0))
    return dataclasses.replace(told, standings=standings, changes=pd.DataFrame(rows, columns=list(COLUMNS)))


def test_every_cause_has_plain_words() -> None:
    assert {*CAUSES, UNCLEAR} == set(causes.PLAIN)


def test_causes_are_counted_and_listed(told: Results) -> None:
    events = pd.DataFrame(
        {
            "condition": [0, 1, 1],
            "kind": ["touchdown", "foil out", "ended"],
            "begin": [6.0, 8.0, 9.0],
            "end": [6.1, 8.2, 9.0],
            "cause": ["ventilation", "drop-out", "drop-out"],
            "why": ["one", "two", "three"],
        }
    )
    found = causes.tables(told, events)
    assert found["sentence"] == (
        "Three things went wrong in these flights, by readings that did not come, or misled (2) and foils that draw air (1)."
    )
    assert found["rows"][0] == (told.conditions["name"][0], "6.0 s", "the hull touched the water", "foils that draw air", "one")
    assert causes.tables(told, events.head(0))["sentence"] == "Nothing went wrong in these flights."


def test_a_change_is_told_as_predicted_and_as_flown(told: Results) -> None:
    some = with_changes(
        told, row("next", "struts.height", "22 cm", 0.12, 0.1, 0.05), row("next", "foils.*.area", "45 cm²", 0.02, -0.01, 0.05)
    )
    found = changes.tables(some, 7)["changes"]["next"]
    assert found["sentences"] == ["struts.height from 0 cm to 22 cm: predicted 0.12 better, ± 0.05, flown 0.1 better, ± 0.05."]
    assert found["rows"][1][2:4] == ("0.02 ± 0.05", "-0.01 ± 0.05")
    assert changes.tables(some, 3) == {"changes": None}


def test_what_is_not_sure_is_said_to_be_chance(told: Results) -> None:
    some = with_changes(told, row("next", "struts.height", "22 cm", 0.12, 0.01, 0.05))
    first, second = changes.tables(some, 7)["changes"]["next"]["sentences"]
    assert "which may be chance" in first
    assert second.startswith("None of the changes is surely better")


def test_the_poorest_that_still_does_stops_at_the_first_that_costs_too_much(told: Results) -> None:
    """A tenth of a score of 1 is 0.1: 0.05 ± 0.03 surely costs less, 0.08 ± 0.03 may not, and spoilt flights count too."""
    some = with_changes(
        told,
        row("poorer", "rangefinders.latency", "90 ms", 0.0, -0.05, 0.03),
        row("poorer", "rangefinders.latency", "120 ms", 0.0, -0.08, 0.03),
        row("poorer", "rangefinders.latency", "180 ms", 0.0, -0.01, 0.03),
        row("poorer", "servos.rate", "75 deg/s", 0.0, 0.0, 0.01, clean=0.9),
        row("poorer", "servos.travel", "5 deg", 0.0, 0.0, 0.01),
    )
    found = {property_: (does, beyond) for property_, _, does, beyond in changes.tables(some, 7)["changes"]["poorer"]}
    assert found["rangefinders.latency"][0] == "90 ms"
    assert found["rangefinders.latency"][1].startswith("120 ms: 0.08 worse, ± 0.03")
    assert found["servos.rate"][0] == "no worse than it is"
    assert found["servos.travel"] == ("5 deg", "all that was tried still does")


def test_the_balance_is_told_in_millimetres_up_to_the_first_that_does_not(told: Results) -> None:
    places = {"-5 cm": -0.2, "-2 cm": -0.01, "2 cm": -0.01, "5 cm": 0.0}
    some = with_changes(told, *(row("balance", "body.x", to, 0.0, gain, 0.01) for to, gain in places.items()))
    said = changes.tables(some, 7)["changes"]["balance"]
    assert "moved 20 mm aft and 50 mm forward" in said
    assert "tried up to 50 mm either way" in said

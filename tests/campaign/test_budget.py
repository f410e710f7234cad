"""Budgets as files write them: simulated seconds, time on the clock, a time of day."""

import os
import time
from datetime import datetime, timedelta

import pytest
from pydantic import TypeAdapter, ValidationError

from sweep.campaign.budget import Budget, BudgetFile

READ = TypeAdapter(BudgetFile).validate_python


@pytest.fixture
def paris(monkeypatch):
    """A place where clocks change: on 29 March 2026 from 02:00 to 03:00, on 25 October from 03:00 to 02:00."""
    if not hasattr(time, "tzset"):
        pytest.skip("this system's zone cannot be set")
    before = os.environ.get("TZ")
    monkeypatch.setenv("TZ", "CET-1CEST,J88,J298/3")
    time.tzset()
    yield
    monkeypatch.undo()
    assert os.environ.get("TZ") == before
    time.tzset()


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ("20 min", Budget(clock="20 min")),
        ("until 07:00", Budget(until="07:00")),
        ({"until": "7:05"}, Budget(until="7:05")),
        ({"simulated": "1000 s"}, Budget(simulated="1000 s")),
    ],
)
def test_each_way_to_write_it(written, read):
    assert READ(written) == read


@pytest.mark.parametrize(
    "written", ["until", "until 25:00", "until 7", "until 07:60", {}, {"clock": "1 h", "until": "07:00"}, "soon"]
)
def test_what_is_no_budget_is_refused(written):
    with pytest.raises(ValidationError):
        READ(written)


def test_a_time_of_day_is_the_next_one():
    budget, evening = Budget(until="07:00"), datetime(2026, 6, 1, 22, 30).astimezone()
    assert budget.ends(evening) == datetime(2026, 6, 2, 7, 0).astimezone()
    assert budget.seconds(evening) == 8.5 * 3600.0
    assert budget.seconds(datetime(2026, 6, 2, 6, 59).astimezone()) == 60.0
    assert budget.seconds(datetime(2026, 6, 2, 7, 0).astimezone()) == 24.0 * 3600.0


@pytest.mark.usefixtures("paris")
def test_a_night_in_which_clocks_change_is_an_hour_shorter_or_longer():
    budget = Budget(until="07:00")
    assert budget.seconds(datetime(2026, 3, 28, 22, 0).astimezone()) == 8.0 * 3600.0
    assert budget.seconds(datetime(2026, 10, 24, 22, 0).astimezone()) == 10.0 * 3600.0
    assert budget.ends(datetime(2026, 3, 28, 22, 0).astimezone()).utcoffset() == timedelta(hours=2)


def test_only_a_clock_takes_seconds():
    now = datetime(2026, 6, 1, 22, 30).astimezone()
    assert Budget(clock="20 min").seconds(now) == 1200.0
    assert Budget(simulated="20 s").seconds(now) is None
    assert [Budget(clock="1 s").on_clock, Budget(until="07:00").on_clock, Budget(simulated="1 s").on_clock] == [
        True,
        True,
        False,
    ]

"""The clock of a run: what is left, what it learns, what is set aside; by a clock that the test moves."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from sweep.campaign.budget import Budget
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out
from sweep.campaign.follow_up_plan import SHARE_ON_CLOCK, plan_tail
from sweep.flying import clock as clocks
from sweep.flying.clock import FINISH, Clock, after_flights, start_clock, trim_tail
from sweep.flying.work import Work
from sweep.results.claim import begin
from sweep.results.journal import RACE, Decision, Journal, journal_digest, write_journal
from sweep.results.manifest import read_manifest, write_manifest
from tests.flying.test_flights import campaign


@pytest.fixture
def now(monkeypatch):
    """A clock in a list, which a test moves."""
    held = [1000.0]
    monkeypatch.setattr(clocks.time, "monotonic", lambda: held[0])
    monkeypatch.setattr(clocks, "how_busy", lambda: 2.0)
    return held


def test_what_is_left_goes_with_the_clock(now):
    clock = Clock(600.0, 500.0, rate=4000.0, ahead=30.0, busy=2.0)
    assert (clock.left, clock.elapsed, clock.aside, clock.for_flights) == (500.0, 100.0, 60.0, 440.0)
    now[0] += 450.0
    assert (clock.left, clock.elapsed, clock.for_flights) == (50.0, 550.0, -10.0)


@pytest.mark.usefixtures("now")
def test_pace_and_the_load_of_the_machine_are_learnt():
    """Flights that go at half the pace, of processors that two others want: in a few heats both are known."""
    clock = Clock(600.0, 600.0, rate=4000.0, ahead=30.0, busy=1.0)
    for _ in range(25):
        clock.learn(simulated=20_000.0, seconds=10.0)
    assert clock.rate == pytest.approx(2000.0, rel=1e-3)
    assert clock.busy == pytest.approx(2.0, rel=1e-3)
    assert clock.simulated(10.0) == pytest.approx(20_000.0, rel=1e-3)
    clock.learn(0.0, 0.0)
    assert clock.busy == pytest.approx(2.0, rel=1e-3)


def test_the_end_is_noted_once_and_a_resumed_run_has_what_its_journal_left(tmp_path):
    chosen = campaign(budget=Budget(clock="600 s"), fly_on="usual")
    designs, conditions = lay_out(chosen), list_conditions(chosen)
    begin(tmp_path, chosen, designs, conditions)
    work = Work(chosen, designs, conditions)
    first = start_clock(work, tmp_path, clocks.time.monotonic() - 20.0)
    assert 0.0 < 600.0 - 20.0 - first.left < 30.0
    noted = read_manifest(tmp_path).clock
    assert (noted.seconds, noted.ends, noted.spare) == (600.0, "", 600.0 * SHARE_ON_CLOCK)
    decided = Decision(RACE, "a round", (0, 1), ((0, 0),), 400.0)
    write_journal(tmp_path, Journal(journal_digest(read_manifest(tmp_path)), (decided,)))
    again = start_clock(work, tmp_path, clocks.time.monotonic())
    assert 0.0 < 200.0 - again.left < 10.0
    assert read_manifest(tmp_path).clock == noted


def test_a_time_of_day_stays_where_it_was_noted(tmp_path):
    chosen = campaign(budget=Budget(until="07:00"), fly_on="usual")
    designs, conditions = lay_out(chosen), list_conditions(chosen)
    begin(tmp_path, chosen, designs, conditions)
    work, begun = Work(chosen, designs, conditions), clocks.time.monotonic()
    start_clock(work, tmp_path, begun)
    manifest = read_manifest(tmp_path)
    ends = datetime.fromisoformat(manifest.clock.ends)
    assert (ends.hour, ends.minute) == (7, 0)
    assert ends.utcoffset() is not None
    past = datetime.now().astimezone() - timedelta(hours=1)
    write_manifest(tmp_path, replace(manifest, clock=replace(manifest.clock, ends=past.isoformat(timespec="seconds"))))
    assert start_clock(work, tmp_path, begun).left < -3590.0


def test_how_busy_a_machine_is_is_never_less_than_not_at_all():
    assert 1.0 <= clocks.how_busy() < 1000.0


@pytest.mark.usefixtures("now")
def test_where_little_is_left_the_pages_come_first(tmp_path):
    chosen = campaign(budget=Budget(clock="600 s"))
    begin(tmp_path, chosen, lay_out(chosen), list_conditions(chosen))
    write_manifest(tmp_path, replace(read_manifest(tmp_path), clock=clocks.Deadline(600.0, "", 60.0)))
    trim_tail(Clock(600.0, 300.0, 4000.0, 30.0, 1.0), tmp_path)
    assert read_manifest(tmp_path).spare == 60.0
    trim_tail(Clock(600.0, FINISH + 10.0, 4000.0, 30.0, 1.0), tmp_path)
    assert 9.0 < read_manifest(tmp_path).spare < 10.0
    trim_tail(Clock(600.0, -5.0, 4000.0, 30.0, 1.0), tmp_path)
    assert read_manifest(tmp_path).spare == 0.0
    least = plan_tail(chosen.model_copy(update={"map": None}), 13, 2, 0.0)
    assert (least.recorded, least.explained, least.changed) == (1, 0, 0)


def test_what_is_set_aside_grows_with_what_is_asked_for():
    chosen = campaign()
    few = after_flights(chosen.model_copy(update={"map": None}), 13, 2, 8000.0, 6.0)
    mapped = after_flights(chosen, 13, 2, 8000.0, 6.0)
    built = after_flights(chosen.model_copy(update={"tolerances": "usual"}), 13, 2, 8000.0, 6.0)
    assert FINISH < few < mapped < built
    assert few < FINISH + 12.0

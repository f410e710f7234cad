"""The clock of a run: what is left, what it learns, what is set aside; by a clock that the test moves."""

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest

from sweep.campaign.budget import Budget
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out
from sweep.campaign.follow_up_plan import MOST_CHANGED_ON_CLOCK, PACE, REPLICATES, SHARE_ON_CLOCK, first_fresh, plan_tail
from sweep.flying import clock as clocks
from sweep.flying.changes import MOST_A_ROUND, SHARE_A_ROUND, known_rounds, timed_rounds
from sweep.flying.clock import (
    A_SHARD,
    LOOKS,
    RANKED_SHARD,
    RANKING,
    REMEMBERED,
    SITE,
    TAIL_PACE,
    Ahead,
    Clock,
    after_flights,
    start_clock,
    trim_tail,
)
from sweep.flying.follow_up import note_early
from sweep.flying.heats import Heats
from sweep.flying.settle import ALL_FLOWN, DECIDED
from sweep.flying.work import Work
from sweep.results.claim import begin
from sweep.results.journal import CHANGES, RACE, Decision, Journal, journal_digest, read_journal, write_journal
from sweep.results.manifest import read_manifest, write_manifest
from tests.flying.test_flights import campaign

AHEAD = Ahead(0.0, 0.0, 30.0)


@pytest.fixture
def now(monkeypatch):
    """A clock in a list, which a test moves."""
    held = [1000.0]
    monkeypatch.setattr(clocks.time, "monotonic", lambda: held[0])
    monkeypatch.setattr(clocks, "how_slow", lambda times=1: 2.0)
    return held


def test_what_is_left_goes_with_the_clock(now):
    clock = Clock(600.0, 500.0, rate=4000.0, ahead=AHEAD, slow=2.0)
    assert (clock.left, clock.elapsed, clock.aside, clock.for_flights) == (500.0, 100.0, 60.0, 440.0)
    now[0] += 450.0
    assert (clock.left, clock.elapsed, clock.for_flights) == (50.0, 550.0, -10.0)


@pytest.mark.usefixtures("now")
def test_pace_and_the_load_of_the_machine_are_learnt():
    """Flights that go at half the pace, of processors that two others want: in a few heats both are known."""
    clock = Clock(600.0, 600.0, rate=4000.0, ahead=AHEAD, slow=1.0)
    for _ in range(25):
        clock.learn(simulated=60_000.0, seconds=30.0)
    assert clock.rate == pytest.approx(2000.0, rel=1e-3)
    assert clock.slow == pytest.approx(2.0, rel=1e-3)
    assert clock.simulated(10.0) == pytest.approx(20_000.0, rel=1e-3)
    clock.learn(0.0, 0.0)
    assert clock.slow == pytest.approx(2.0, rel=1e-3)


@pytest.mark.usefixtures("now")
def test_what_is_set_aside_follows_the_pace_that_is_seen():
    """By hand: 24 000 simulated seconds at 0.6 of the pace of flights take 10 s, then 20 s; pages take 20 s, then two each."""
    clock = Clock(600.0, 600.0, rate=4000.0, ahead=Ahead(14_400.0, 9_600.0, 20.0), slow=1.0)
    assert clock.aside == pytest.approx(10.0 + 20.0)
    for _ in range(25):
        clock.learn(simulated=60_000.0, seconds=30.0)
    assert clock.aside == pytest.approx(20.0 + 40.0, rel=1e-2)
    clock.learn_later(simulated=6_000.0, seconds=10.0)
    assert clock.aside == pytest.approx(40.0 + 40.0, rel=1e-2)


@pytest.mark.usefixtures("now")
def test_what_nobody_asked_for_never_takes_more_of_the_clock_than_its_share():
    """On a machine ten times as busy it would take 200 s of 300; it is trimmed at the end, so that flights get theirs."""
    clock = Clock(300.0, 300.0, rate=400.0, ahead=Ahead(0.0, 48_000.0, 10.0), slow=10.0)
    assert clock.aside == pytest.approx(100.0 + SHARE_ON_CLOCK * 300.0)


@pytest.mark.usefixtures("now")
def test_a_look_at_the_machine_gives_back_what_was_set_aside_for_a_busy_one():
    clock = Clock(300.0, 100.0, rate=4000.0, ahead=Ahead(0.0, 0.0, 20.0), slow=6.0)
    assert clock.for_flights < 0.0
    for _ in range(8):
        clock.look()
    assert clock.for_flights == pytest.approx(60.0, rel=0.1)


@pytest.mark.usefixtures("now")
def test_a_machine_that_gets_slower_leaves_a_reserve_until_it_stays_as_it_is():
    """Pages cannot be ended early, so that a load that has just come may come again; one that went leaves none."""
    clock, steady = (Clock(600.0, 600.0, 4000.0, Ahead(0.0, 0.0, clocks.RANKING + 20.0), slow) for slow in (1.0, 2.0))
    clock.look()
    assert clock.pages > 1.3 * 20.0 * clock.slow
    for _ in range(16):
        clock.look()
        steady.look()
    assert clock.pages == pytest.approx(40.0, rel=0.02)
    assert steady.pages == pytest.approx(40.0)
    faster = Clock(600.0, 600.0, 4000.0, Ahead(0.0, 0.0, clocks.RANKING + 20.0), 4.0)
    faster.look()
    assert faster.pages == pytest.approx(20.0 * faster.slow)


def test_looks_that_scatter_are_not_taken_for_a_machine_that_gets_slower(monkeypatch):
    """One that others crowd: a piece is undisturbed, or waits for some turns of others; its mean of 3 stays as it is."""
    random, asides = np.random.default_rng(3), []

    def waits(times=1):
        return float(np.mean(1.0 + random.exponential(6.0, times) * (random.random(times) < 1.0 / 3.0)))

    monkeypatch.setattr(clocks, "how_slow", waits)
    for _ in range(200):
        clock = Clock(600.0, 600.0, 4000.0, Ahead(0.0, 0.0, clocks.RANKING + 20.0), waits(LOOKS))
        for _ in range(60):
            clock.learn(simulated=12_000.0, seconds=3.0)
        clock.look()
        asides.append(clock.pages)
    assert np.mean(asides) < 1.2 * 60.0
    assert np.quantile(asides, 0.95) < 1.8 * 60.0


@pytest.mark.usefixtures("now")
def test_what_ranking_and_pages_read_is_set_aside_as_it_grows():
    clock = Clock(600.0, 600.0, 4000.0, Ahead(0.0, 0.0, 20.0), 2.0)
    before, pages = clock.aside, clock.pages
    clock.shards = 1000
    assert clock.pages - pages == pytest.approx(2000.0 * A_SHARD)
    assert clock.aside - before == pytest.approx(2000.0 * (A_SHARD + RANKED_SHARD))


@pytest.mark.parametrize(
    ("left", "why", "told"),
    [
        (100.0, DECIDED, "About 70 s of the 10 min that the run may take are left. Nothing more was telling: every design is"),
        (
            100.0,
            f"{ALL_FLOWN}; three designs are still open",
            "All had flown as often as it may: no more replicates; three",
        ),
        (100.0, "the time is spent", "More had been set aside for what follows the flights than it took."),
        (50.0, DECIDED, ""),
    ],
)
@pytest.mark.usefixtures("now")
def test_a_run_that_ends_early_says_so_and_why(tmp_path, left, why, told):
    """30 s are for the pages; 30 s are a twentieth of the time."""
    chosen = campaign(budget=Budget(clock="600 s"))
    begin(tmp_path, chosen, lay_out(chosen), list_conditions(chosen))
    write_manifest(tmp_path, replace(read_manifest(tmp_path), clock=clocks.Deadline(600.0, "", 60.0)))
    said = note_early(tmp_path, Clock(600.0, left, 4000.0, Ahead(0.0, 0.0, clocks.RANKING + 30.0), 1.0), why)
    assert told in said
    assert bool(told) == bool(said)
    assert read_manifest(tmp_path).clock.early == said


def test_what_is_left_at_the_end_is_flown_but_for_the_pages(now):
    clock = Clock(600.0, 100.0, rate=4000.0, ahead=Ahead(0.0, 0.0, clocks.RANKING + 20.0), slow=1.0)
    weight = LOOKS / (LOOKS + REMEMBERED)
    slow, reserve = 1.0 + weight, 1.0 + weight  # the machine is looked at again: twice as slow, which is a surprise
    pages = slow * reserve * 20.0
    assert clock.last() == pytest.approx(((100.0 - pages) * TAIL_PACE * 4000.0, pages))
    clock.shards = 100  # which the pages read
    reserve += weight * (2.0 / slow - reserve)
    pages = (2.0 - (1.0 - weight) ** 2) * reserve * (20.0 + 100 * A_SHARD)
    assert clock.last()[1] == pytest.approx(pages)
    now[0] += 80.0
    assert clock.last()[0] < 0.0


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


def test_how_slow_a_machine_is_is_told_by_work_that_takes_as_long_as_it_says():
    """Between a processor ten times as fast as the one that it was measured on, and a very busy one."""
    assert 0.1 < clocks.how_slow() < 1000.0


@pytest.mark.usefixtures("now")
def test_where_little_is_left_the_pages_come_first(tmp_path):
    chosen = campaign(budget=Budget(clock="600 s"))
    begin(tmp_path, chosen, lay_out(chosen), list_conditions(chosen))
    write_manifest(tmp_path, replace(read_manifest(tmp_path), clock=clocks.Deadline(600.0, "", 60.0)))
    ahead = Ahead(24_000.0, 8_000.0, 20.0)  # what is asked takes 10 s, the pages 20 s
    trim_tail(Clock(600.0, 300.0, 4000.0, ahead, 1.0), tmp_path)
    assert read_manifest(tmp_path).spare == 60.0
    trim_tail(Clock(600.0, 50.0, 4000.0, ahead, 1.0), tmp_path)
    assert read_manifest(tmp_path).spare == pytest.approx(20.0 * 4000.0 * TAIL_PACE / PACE, abs=0.1)
    trim_tail(Clock(600.0, 25.0, 4000.0, ahead, 1.0), tmp_path)
    assert read_manifest(tmp_path).spare == 0.0
    least = plan_tail(chosen.model_copy(update={"map": None}), 13, 2, 0.0)
    assert (least.recorded, least.explained, least.changed) == (1, 0, 0)


def test_what_is_set_aside_grows_with_what_is_asked_for():
    chosen = campaign()
    few = after_flights(chosen.model_copy(update={"map": None}), 13, 2, 8000.0, 6.0)
    mapped = after_flights(chosen, 13, 2, 8000.0, 6.0)
    built = after_flights(chosen.model_copy(update={"tolerances": "usual"}), 13, 2, 8000.0, 6.0)
    assert RANKING + SITE < few < mapped < built
    assert few < RANKING + SITE + 12.0


def test_changes_get_the_time_that_is_left_and_a_resumed_run_repeats_them(tmp_path, now):
    """By hand: 25 s less 20 s for pages leave 5 s at 2 400 a second; a block of 30 flights, of 20 s more, costs so much."""
    chosen = campaign(budget=Budget(clock="600 s"))
    designs, conditions = lay_out(chosen), list_conditions(chosen)
    begin(tmp_path, chosen, designs, conditions)
    work, groups = Work(chosen, designs, conditions), [[None] * 19, [None] * 9]
    cost, count = 30 * chosen.flight.length + 20.0, len(conditions)
    tail = plan_tail(chosen, len(designs), count, 60.0)

    def heats(left):
        return Heats(work, tmp_path, set(), clock=Clock(600.0, left, 4000.0, Ahead(0.0, 0.0, clocks.RANKING + 10.0), 2.0))

    at_first = heats(25.0)
    assert known_rounds(work, at_first, tail) is None
    flown = []
    for each in timed_rounds(work, at_first, 3, groups):
        flown.append(each)
        now[0] += count * len(each.replicates) * cost / 2400.0
    first = flown[0].replicates
    assert len(first) == int(SHARE_A_ROUND * 5.0 * 2400.0 / cost) // count > REPLICATES
    assert first[0] == first_fresh(chosen)
    everything = [replicate for each in flown for replicate in each.replicates]
    assert everything == list(range(first[0], first[0] + len(everything)))
    assert len(everything) == MOST_CHANGED_ON_CLOCK or at_first.clock.left < 20.0 + count * cost / 2400.0
    assert at_first.clock.left >= 20.0 - 1e-6
    decided = read_journal(tmp_path).of(CHANGES)
    assert [len(each.blocks) for each in decided] == [count * len(each.replicates) for each in flown] + [0]
    now[0] += 1000.0
    again = known_rounds(work, heats(-500.0), tail)
    assert [(each.conditions, each.replicates) for each in again] == [(each.conditions, each.replicates) for each in flown]
    assert read_journal(tmp_path).of(CHANGES) == decided


def test_a_long_night_of_changes_goes_in_rounds_that_a_kill_may_cost(tmp_path, now):
    chosen = campaign(budget=Budget(clock="9000 s"))
    designs, conditions = lay_out(chosen), list_conditions(chosen)
    begin(tmp_path, chosen, designs, conditions)
    work = Work(chosen, designs, conditions)
    clock = Clock(9000.0, 8000.0, 4000.0, Ahead(0.0, 0.0, clocks.RANKING + 10.0), 2.0)
    rounds = list(timed_rounds(work, Heats(work, tmp_path, set(), clock=clock), 3, [[None] * 19]))
    assert {len(each.replicates) for each in rounds} == {MOST_A_ROUND}
    assert sum(len(each.replicates) for each in rounds) == MOST_CHANGED_ON_CLOCK


def test_a_run_killed_between_two_rounds_of_changes_takes_the_first_as_it_was(tmp_path, now):
    chosen = campaign(budget=Budget(clock="600 s"))
    designs, conditions = lay_out(chosen), list_conditions(chosen)
    begin(tmp_path, chosen, designs, conditions)
    work, groups = Work(chosen, designs, conditions), [[None] * 19]
    clock = Clock(600.0, 60.0, 4000.0, Ahead(0.0, 0.0, clocks.RANKING + 10.0), 2.0)
    first = next(timed_rounds(work, Heats(work, tmp_path, set(), clock=clock), 3, groups))
    now[0] += 100.0
    tail, again = plan_tail(chosen, len(designs), len(conditions), 60.0), Heats(work, tmp_path, set(), clock=clock)
    assert known_rounds(work, again, tail) is None
    assert list(timed_rounds(work, again, 3, groups)) == [first]
    assert [bool(each.blocks) for each in read_journal(tmp_path).of(CHANGES)] == [True, False]


def test_without_a_clock_changes_are_those_planned(tmp_path):
    chosen = campaign()
    designs, conditions = lay_out(chosen), list_conditions(chosen)
    begin(tmp_path, chosen, designs, conditions)
    work, tail = Work(chosen, designs, conditions), plan_tail(chosen, len(designs), len(conditions))
    (planned,) = known_rounds(work, Heats(work, tmp_path, set()), tail)
    assert (len(planned.conditions), len(planned.replicates)) == (tail.changed, tail.replicates)
    assert read_journal(tmp_path).decisions == ()

"""The safe state as flights have it: when it begins and ends, what it commands, and how such a flight ends."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from sweep.campaign.craft import Craft
from sweep.campaign.faults import FaultFile, named_faults
from sweep.model import layout as at
from sweep.model.elementary import wrapped
from sweep.model.kernels.frame import turn
from sweep.model.onboard import faults as kinds
from sweep.model.onboard.control import Tick, control
from sweep.model.onboard.faults import apply_faults
from sweep.model.onboard.safety import LINK_LOST, RANGE_LOST, SWITCHED_OFF, TILTED
from sweep.model.onboard.sensors import READINGS
from sweep.model.pack.control import range_patience
from sweep.model.quantities import STATUS_NAMES
from tests.model.crafts import (
    CASCADED,
    Bench,
    block_of,
    calm,
    changed,
    courier,
    fleet_of,
    fly,
    history,
    in_all_lanes,
    jonswap,
    response,
    silent,
    with_each,
)
from tests.second.safety import Known, patience, stops

PERIOD = 0.01
QUIET = in_all_lanes(silent(calm(3.0)).noise)
WORDS = {0.0: "", SWITCHED_OFF: "switch", LINK_LOST: "link", RANGE_LOST: "rangefinder", TILTED: "lean"}
THREE = {"bow": {"y": 0.0}, "port": {"x": 0.1, "y": -0.15, "rate": 12.0}, "aft": {"x": -0.3, "y": 0.1, "trust": 0.0}}
BLOCK = block_of(jonswap(math.pi, 0.02), 10.0, 1.0)


class Board:
    """The control code of a craft, tick by tick, on readings that a test makes up."""

    def __init__(self, craft: Craft) -> None:
        self.craft, self.bench, self.moves = craft, Bench(craft), False
        self.slots, self.counts = self.bench.slots, self.bench.counts
        self.commands = np.zeros((self.counts.foils + 1, 64, self.slots.shape[1]))
        self.readings = np.full((self.counts.rangefinders * READINGS, self.slots.shape[1]), np.nan)
        self.slots[at.RANGE_LAST : at.RANGE_LAST + at.MAX_RANGEFINDERS] = np.nan
        self.slots[at.RANGE_RATE : at.RANGE_RATE + at.MAX_RANGEFINDERS] = 1e15
        self.slots[at.RANGE_LATENCY : at.RANGE_LATENCY + at.MAX_RANGEFINDERS] = 0.0

    def tick(self, number: int, heard: tuple[int, ...] = (), faults: np.ndarray | None = None) -> None:
        """A tick at which these rangefinders have read."""
        apply_faults(self.bench.flat, np.zeros((0, kinds.COLUMNS)) if faults is None else faults, 3, number * PERIOD)
        for sensor in heard:
            next_one = int(self.slots[at.RANGE_TICK + sensor, 0])
            self.readings[sensor * READINGS + (next_one & (READINGS - 1))] = 0.12
            self.slots[at.RANGE_TICK + sensor] += 1.0
        turn(self.bench.flat, at.STATE.phi, at.ROTATION.first)
        control(self.bench.flat, self.commands, self.readings, QUIET, self.counts, Tick(number, PERIOD))
        self.moves = bool(self.commands[:, number & 63].any() or self.slots[[at.THROTTLE, at.SIDE_THROTTLE]].any())

    @property
    def stopped_by(self) -> str:
        """Of the first lane, and so of every one."""
        (one,) = {float(each) for each in self.slots[at.STOPPED_BY]}
        return WORDS[one]


def drawn(seed: int, sensors: int) -> tuple[np.ndarray, list[tuple[int, ...]], np.ndarray]:
    """Faults, what reads at which of 600 ticks, and rates of roll (rad/s) that turn the estimate over; by a seed."""
    draw = np.random.default_rng([seed, 61])
    faults = np.zeros((6, kinds.COLUMNS))
    for row in faults:
        begin = draw.uniform(0.0, 5.5)
        row[:4] = [draw.choice([kinds.LOST_LINK, kinds.DISARMED]), -1.0, begin, begin + draw.choice([0.1, 0.45, 0.8])]
    silences = [[(begin, begin + draw.choice([0.6, 1.8])) for begin in draw.uniform(0.0, 6.0, 2)] for _ in range(sensors)]
    heard = [
        tuple(s for s in range(sensors) if n % 5 == s % 5 and not any(a <= n * PERIOD < b for a, b in silences[s]))
        for n in range(600)
    ]
    rolls = np.zeros(600)
    begin = int(draw.integers(0, 500))
    rolls[begin : begin + 60], rolls[begin + 60 : begin + 95] = 2.0 * draw.choice([-1.0, 1.0]), 0.0
    return faults, heard, rolls


def test_every_tick_stops_for_what_the_second_model_stops_for() -> None:
    """Drawn links, switches, silences and rates of roll, on a boat with three rangefinders, one of which does not count."""
    assert {word for seed in range(5) for word in agreed(seed)} == {*WORDS.values()}


def agreed(seed: int) -> list[str]:
    """What a drawn boat is stopped by at every tick, as both models have it."""
    craft = with_each(THREE)
    board, (faults, heard, rolls) = Board(craft), drawn(seed, 3)
    rates, trust = craft.rangefinders.own_rates(), craft.rangefinders.of_each("trust")
    known, found = [], []
    for number in range(600):
        board.slots[at.STATE.p] = rolls[number]
        board.tick(number, heard[number], faults)
        acting = [row for row in faults if row[2] <= number * PERIOD < row[3]]
        age = max((number * PERIOD - row[2] for row in acting if row[0] == kinds.LOST_LINK), default=0.0)
        on = all(row[0] != kinds.DISARMED for row in acting)
        roll, pitch = (float(board.slots[slot, 0]) for slot in (at.ROLL_ESTIMATE, at.PITCH_ESTIMATE))
        known.append(Known(on, age, heard[number], roll, pitch))
        found.append(board.stopped_by)
        assert board.moves is (found[-1] == "")
    assert found == list(stops(known, {0, 1}, patience(rates, trust, PERIOD)))
    return found


def test_the_second_model_knows_how_long_a_rangefinder_may_be_silent() -> None:
    for rate, sensors in ((20.0, 1), (50.0, 1), (8.0, 1), (2.0, 1), (20.0, 3)):
        craft = changed(courier(), {"rangefinders.rate": rate, "rangefinders.count": sensors})
        finders = craft.rangefinders
        ticks = patience(finders.own_rates(), finders.of_each("trust"), PERIOD)
        assert Bench(craft).get(at.RANGE_PATIENCE) == pytest.approx((ticks - 0.5) * PERIOD)
        assert range_patience(finders) == pytest.approx(ticks * PERIOD, abs=0.5 * PERIOD)


def test_armed_again_it_begins_anew_on_the_heading_that_it_has() -> None:
    board = Board(changed(courier(), CASCADED))
    switch = np.zeros((1, kinds.COLUMNS))
    switch[0, :4] = [kinds.DISARMED, -1.0, 0.05, 0.1]
    for number in range(5):
        board.tick(number, (0,))
    for slot in (at.HEIGHT_INTEGRAL, at.PITCH_INTEGRAL, at.ROLL_INTEGRAL, at.SPEED_INTEGRAL, at.QUICK_TIME, at.ROLL_HELD.rate):
        board.slots[slot] = 0.02
    board.slots[at.HEADING_READING], board.slots[at.NAVIGATION_TICK] = 2.0 * math.pi + 0.3, 1e15
    for number in range(5, 10):
        board.tick(number, (0,), switch)
        assert (board.stopped_by, float(board.slots[at.COURSE, 0])) == ("switch", 0.0)
    board.tick(10, (0,), switch)
    assert board.stopped_by == ""
    course = float(board.slots[at.COURSE, 0])
    assert 0.0 < course < 0.3  # it has begun to turn back, the shorter way, from where the boat points
    assert course == pytest.approx(0.3 - board.craft.control.turn_rate * PERIOD, abs=1e-9)
    assert abs(float(board.slots[at.HEIGHT_INTEGRAL, 0])) < 0.002
    assert float(board.slots[at.SPEED_INTEGRAL, 0]) == pytest.approx(0.0, abs=1e-2)


@pytest.mark.parametrize("turns", [-2.0, -1.0, 1.0, 3.0])
def test_whole_turns_change_nothing(turns: float) -> None:
    """Rudder and throttle by a heading that is whole turns off are those of the heading itself."""
    board, other = Board(courier()), Board(courier())
    for each, more in ((board, 0.0), (other, 2.0 * math.pi * turns)):
        each.slots[at.HEADING_READING], each.slots[at.NAVIGATION_TICK] = 0.2 + more, 1e15
        each.tick(0, (0,))
    assert np.abs(board.commands[3]).max() > 0.01
    assert np.allclose(board.commands, other.commands, atol=1e-12)


def test_an_angle_within_half_a_turn_is_itself() -> None:
    for kind in (np.float32, np.float64):
        angles = np.array([-np.pi, -3.0, -1e-9, 0.0, 0.1, 3.14, np.pi], dtype=kind)
        assert all(wrapped(each) == each for each in angles)
        assert np.allclose([wrapped(kind(each + 4.0 * np.pi)) for each in angles[1:-1]], angles[1:-1], atol=3e-6)


def faulty(written: dict[str, Any]) -> Any:
    """The block with faults as a campaign writes them."""
    (fault,) = named_faults((FaultFile.model_validate(written),), courier())
    return BLOCK._replace(faults=np.array(fault.rows))


ENDS = {
    "a lost link": ({"lost_link": {"from": "4 s"}}, "link-lost", 4.5),
    "a switch": ({"disarmed": {"from": "4 s"}}, "disarmed", 4.0),
    "a silent rangefinder": ({"silent": {"from": "4 s"}}, "range-lost", 4.5),
}


@pytest.mark.parametrize("name", ENDS)
def test_a_stopped_boat_comes_down_and_says_why(name: str) -> None:
    written, status, when = ENDS[name]
    flown, sound = fly(fleet_of(courier()), faulty(written)), fly(fleet_of(courier()), BLOCK)
    assert STATUS_NAMES[int(flown.status[0])] == status
    assert STATUS_NAMES[int(sound.status[0])] == "flew"
    assert response(flown, "touchdowns")[0] > 0.0
    assert response(flown, "lost_flights")[0] == 1.0
    assert response(flown, "time_foilborne")[0] < when + 3.5
    assert response(flown, "time_flown")[0] == response(sound, "time_flown")[0]
    ride = history(fleet_of(courier()), faulty(written))
    still = ride["time"][0] > when + 0.03
    begins = ride["time"][0, np.flatnonzero(ride["stopped_by"][0])[0]]
    assert begins == pytest.approx(when, abs=0.08 if name == "a silent rangefinder" else 0.021)
    assert not ride["throttle"][0, still].any()
    assert ride["clearance"][0, -1] < 0.0


def test_a_link_that_is_back_in_time_changes_nothing() -> None:
    flown, sound = (fly(fleet_of(courier()), each) for each in (faulty({"lost_link": {"from": "4 s", "to": "4.5 s"}}), BLOCK))
    assert np.array_equal(flown.responses, sound.responses, equal_nan=True)


def test_lanes_stop_by_themselves() -> None:
    """Three boats whose rangefinders may be silent for unlike times, side by side and each alone: to the bit."""
    crafts = [changed(courier(), {"rangefinders.rate": rate}) for rate in (20.0, 15.0, 8.0)]
    block = faulty({"silent": {"from": "2 s", "to": "2.9 s"}, "disarmed": {"from": "4 s", "to": "4.2 s"}})
    together, alone = fly(fleet_of(crafts), block), [fly(fleet_of(craft), block) for craft in crafts]
    assert np.array_equal(together.responses, np.concatenate([each.responses for each in alone]), equal_nan=True)
    rides = history(fleet_of(crafts), block)
    begins = [rides["time"][i, np.flatnonzero(rides["stopped_by"][i])[0]] for i in range(3)]
    assert begins == pytest.approx([2.5, 2.67, 4.0], abs=0.1)


def test_a_boat_that_is_armed_again_takes_off_again() -> None:
    """Its loss of flight counts; at the end it runs, so the flight has flown to the end."""
    rested = {"lost_link": {"from": "2 s", "to": "4 s"}, "disarmed": {"from": "4 s", "to": "4.5 s"}}
    longer = faulty(rested)._replace(length=30.0)
    longer = block_of(jonswap(math.pi, 0.02), 30.0, 1.0)._replace(faults=longer.faults)
    flown = fly(fleet_of(courier()), longer)
    assert STATUS_NAMES[int(flown.status[0])] == "flew"
    assert response(flown, "lost_flights")[0] >= 1.0
    assert response(flown, "take_offs")[0] >= 1.0

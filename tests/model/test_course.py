"""Courses: each leg begins when it should, turns as it says, and a stop is a landing and another take-off."""

from __future__ import annotations

from math import inf, pi

import numpy as np
import pandas as pd
import pytest

from sweep.insight.legs import legs_of
from sweep.model import layout as at
from sweep.model.block import Block
from sweep.model.flight import fly
from sweep.model.onboard.control import follow_course
from sweep.model.onboard.course import COLUMNS, follow_legs
from sweep.model.pack.fleet import fleets_at, pack_crafts
from sweep.model.physics import waves
from tests.model.crafts import (
    WATER,
    Bench,
    block_of,
    calm,
    changed,
    courier,
    fleet_of,
    history,
    jonswap,
    quiet,
    response,
    silent,
)
from tests.model.test_symmetry import fleets, mirror_sea
from tests.second.course import Leg, wanted

PERIOD = 0.01
SPEED = 4.0
FIGURE = (
    Leg(1.5, False, 0.0, None, 4.0, stops=False),
    Leg(6.0, True, 1.2, 0.9, 3.5, stops=False),
    Leg(0.8, False, 1.2, None, 4.0, stops=True),
    Leg(4.0, True, -0.7, None, 4.5, stops=False),
    Leg(1.0, False, 5.9, 2.0, 4.0, stops=False),
)


def rows(legs: tuple[Leg, ...]) -> np.ndarray:
    """As the kernels read them."""
    table = [
        [0.0 if leg.by_path else leg.length, leg.length * leg.by_path, leg.heading, leg.rate or 0.0, leg.speed, leg.stops]
        for leg in legs
    ]
    return np.array(table, dtype=float).reshape(-1, COLUMNS)


def along(block: Block, *legs: Leg) -> Block:
    return block._replace(course=rows(legs))


def test_what_is_wanted_at_every_tick_is_what_the_second_model_wants() -> None:
    """For readings that come in steps, as those of a satellite receiver do, and differ from lane to lane."""
    draws = np.random.default_rng(4)
    readings = np.repeat(draws.uniform(2.0, 5.0, size=(140, 32)), 10, axis=0)
    bench, found = Bench(courier()), []
    for tick, reading in enumerate(readings):
        bench.put(at.SPEED_READING, reading[None, :])
        follow_legs(bench.flat, rows(FIGURE), 500 + tick, PERIOD)
        for lane in range(32):
            follow_course(bench.flat, lane, PERIOD)
        found.append(bench.slots[[at.LEG, at.COURSE, at.WANTED_SPEED, at.AT_REST]].copy())
    for lane in (0, 7, 31):
        told = np.array(wanted(FIGURE, readings[:, lane].tolist(), PERIOD, courier().control.turn_rate), dtype=float)
        assert np.abs(np.array(found)[:, :, lane] - told).max() < 3e-7
    assert np.array(found)[-1, 0].min() == len(FIGURE)
    assert np.ptp(np.argmax(np.array(found)[:, 0] == 3, axis=0)) > 0  # some are there before others


def test_a_flight_steers_what_the_second_model_wants() -> None:
    legs = tuple(leg for leg in FIGURE if not leg.by_path)
    flown = history(fleet_of(quiet(courier())), along(silent(calm(4.0, settle=1.0)), *legs), precise=True)
    ticks = int(3.0 / PERIOD)
    told = wanted(legs, [4.0] * ticks, PERIOD, courier().control.turn_rate)
    assert np.abs(flown["wanted_heading"][0, 100 : 100 + ticks] - [each.course for each in told]).max() < 3e-7
    assert flown["leg"][0, 100 : 100 + ticks].tolist() == [each.leg for each in told]
    assert not flown["leg"][0, :100].any()


def test_no_course_and_one_straight_leg_are_the_same_to_the_bit() -> None:
    block = block_of(jonswap(pi, height=0.06), 8.0)
    fleet = fleet_of(courier())
    straight = fly(fleet, along(block, Leg(inf, False, 0.0, None, SPEED, stops=False)))
    assert np.array_equal(straight.responses, fly(fleet, block).responses, equal_nan=True)


@pytest.mark.parametrize("precise", [True, False], ids=["double", "single"])
def test_a_course_to_the_other_side_is_the_mirror_image(precise: bool) -> None:
    ship, image = fleets(courier())
    sea = jonswap(pi / 4, height=0.05)
    block, other = (silent(block_of(each, 8.0, settle=1.0)) for each in (sea, mirror_sea(sea)))
    there = Leg(3.0, False, 0.5, 0.4, SPEED, stops=False), Leg(9.0, True, -0.4, None, 3.6, stops=False)
    back = tuple(leg._replace(heading=-leg.heading) for leg in there)
    one, two = history(ship, along(block, *there), precise=precise), history(image, along(other, *back), precise=precise)
    within = 1e-8 if precise else 2e-5
    for name in ("y", "heading", "roll", "wanted_heading"):
        assert np.abs(one[name] + two[name]).max() < within, name
    for name in ("x", "speed", "leg"):
        assert np.abs(one[name] - two[name]).max() < within, name
    assert np.ptp(one["heading"]) > 0.7


def test_a_craft_goes_on_when_it_is_there_itself_whoever_flies_beside_it() -> None:
    crafts = [changed(courier(), {"body.mass": 3.0 + 0.1 * at}) for at in range(6)]
    block = along(calm(10.0)._replace(from_rest=True), *(Leg(9.0, True, each, None, SPEED, stops=False) for each in (0.0, 1.0)))
    together = fly(fleet_of(crafts), block)
    for place in (0, 5):
        alone = fly(fleet_of(crafts[place]), block)
        assert np.array_equal(alone.responses[0], together.responses[place], equal_nan=True)
    begun = [np.argmax(leg == 2) for leg in history(fleet_of(crafts), block)["leg"]]
    assert sorted(begun) == begun
    assert begun[-1] > begun[0] > 0


def test_a_stop_is_a_landing_and_another_take_off_and_no_event() -> None:
    legs = [Leg(length, False, 0.0, None, SPEED, stops=length == 8.0) for length in (8.0, 8.0001, 8.0, 20.0)]
    block = along(calm(40.0, settle=2.0)._replace(from_rest=True), *legs)
    flown, record = fly(fleet_of(courier()), block), history(fleet_of(courier()), block, rate=10.0)
    assert flown.status[0] == 0
    assert response(flown, "take_offs")[0] == 2
    for name in ("touchdowns", "lost_flights", "broaches", "upsets", "headings_lost"):
        assert response(flown, name)[0] == 0.0, name
    lying = record["leg"][0] == 3
    assert record["throttle"][0, lying].max() == 0.0
    assert record["hull_load"][0, lying][-10:].mean() == pytest.approx(1.0, abs=0.02)  # Archimedes
    assert response(flown, "before_loss")[0] == pytest.approx(response(flown, "time_flown")[0])


def test_time_before_the_first_event_is_that_of_the_record() -> None:
    """A craft whose foils lose their lift falls back: it loses its flight once the hull has carried it for a second."""
    from sweep.model.onboard import faults as kinds

    weed = np.array([[kinds.WEED, -1, 6.0, 1e9, 0.0, 0.9, 0.0]])
    block = calm(12.0, settle=2.0)._replace(faults=weed)
    flown, record = fly(fleet_of(courier()), block), history(fleet_of(courier()), block)
    touched = record["time"][0, np.argmax(record["clearance"][0] < 0.0)]
    assert response(flown, "before_touchdown")[0] == pytest.approx(touched - 2.0, abs=0.02)
    heavy = record["time"][0, np.argmax((record["hull_load"][0] > 0.5) & (record["time"][0] > touched))]
    assert response(flown, "before_loss")[0] >= heavy + 1.0 - 2.0 - 0.02
    assert response(flown, "lost_flights")[0] == 1


def test_energy_is_by_the_path_and_not_by_the_way_made_good() -> None:
    """Out and back: it ends near where it began, and takes as much for a metre as one that goes straight."""
    fleet, block = fleet_of(courier()), calm(41.0, settle=1.0)
    back = along(block, Leg(19.0, False, 0.0, None, SPEED, stops=False), Leg(30.0, False, pi, 1.0, SPEED, stops=False))
    there, straight = fly(fleet, back), fly(fleet, block)
    record = history(fleet, back, rate=10.0)
    away = np.hypot(record["x"][0, -1] - record["x"][0, 10], record["y"][0, -1])
    assert away < 20.0
    assert response(there, "speed_mean")[0] * 40.0 == pytest.approx(160.0, rel=0.03)
    assert response(there, "energy_per_metre")[0] == pytest.approx(response(straight, "energy_per_metre")[0], rel=0.05)


def test_path_and_energy_of_the_legs_add_up_to_those_of_the_flight() -> None:
    """The path is the length of the track, from the record's places; the energy that of its power, by the trapezium rule."""
    legs = (
        Leg(7.0, False, 0.0, None, SPEED, stops=False),
        Leg(5.0, False, 1.2, 0.6, 3.6, stops=False),
        Leg(3.0, False, 1.2, None, SPEED, stops=True),
        Leg(30.0, False, 0.3, None, SPEED, stops=False),
    )
    block = along(block_of(jonswap(pi / 2, height=0.03), 32.0, settle=2.0)._replace(from_rest=True), *legs)
    fleet = fleet_of(courier())
    flown, record = fly(fleet, block), history(fleet, block)
    scored = record["time"][0] >= 2.0
    time, power = record["time"][0, scored], record["power"][0, scored]
    track = np.hypot(np.diff(record["x"][0, scored]), np.diff(record["y"][0, scored])).sum()
    assert response(flown, "speed_mean")[0] * response(flown, "time_flown")[0] == pytest.approx(track, rel=2e-3)
    energy = np.trapezoid(power, time)
    assert response(flown, "energy_per_metre")[0] == pytest.approx(energy / track, rel=5e-3)
    names = ("time", "leg", "stopped", "speed", "power")
    parts = legs_of(pd.DataFrame({name: record[name][0] for name in names}), shortest=0.9)
    assert parts["leg"].tolist() == [1, 2, 3, 4]
    assert parts["path"].sum() == pytest.approx(track, rel=5e-3)
    assert parts["energy"].sum() == pytest.approx(energy, rel=5e-3)
    ends = np.hypot(*(record[name][0, -1] - record[name][0, scored][0] for name in "xy"))
    assert ends < 0.95 * track, "a craft that turns goes further than from end to end"


def test_the_trim_of_a_leg_is_that_of_its_speed() -> None:
    """And beyond the step that its own speed needs, the fleet takes that of the fastest leg."""
    packed = pack_crafts([courier()], WATER)
    ((_, slow),), ((_, fast),) = fleets_at(packed, 3.5), fleets_at(packed, 5.0)
    ((_, both),) = fleets_at(packed, 3.5, legs=(3.5, 5.0))
    trims = both.parameters[0, at.LEG_TRIM.first : at.LEG_TRIM.first + 3 * at.LEG_TRIM.width].reshape(3, -1)
    assert np.array_equal(trims[0], slow.parameters[0, at.TRIM.slots()])
    assert trims[1] == pytest.approx(fast.parameters[0, at.TRIM.slots()], abs=1e-9)
    assert np.array_equal(trims[2], trims[0])
    ((_, never),) = fleets_at(packed, 3.5, legs=(25.0,))
    assert not never.feasible[0]
    block = along(calm(14.0), *(Leg(6.0, False, 0.0, None, speed, stops=False) for speed in (3.5, 5.0)))
    assert history(both, block)["speed"][0, -100:].mean() == pytest.approx(5.0, abs=0.1)


def test_seas_along_a_course_need_no_more_room() -> None:
    """Four seas at once, the most that a campaign may have."""
    assert 4 * waves.ALONG_A_COURSE <= at.MAX_COMPONENTS

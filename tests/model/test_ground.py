"""Water that ends: where the craft's lowest part is, and that touching the ground ends a flight."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sweep.campaign.craft import Craft
from sweep.linear.reach import Depths, depths
from sweep.model import layout as at
from sweep.model.block import Block
from sweep.model.flight import fly
from sweep.model.kernels.frame import turn
from sweep.model.onboard import faults as kinds
from sweep.model.pack.fleet import Fleet, build_fleets
from sweep.model.pack.ground import find_lowest, lowest_part, reach_of
from sweep.model.pack.mass import mass_properties
from sweep.model.physics.water import fresh_water
from tests.model.crafts import (
    RIDE,
    Bench,
    block_of,
    calm,
    changed,
    courier,
    fleet_of,
    history,
    jonswap,
    on_propellers,
    quiet,
    response,
    silent,
    statuses,
)
from tests.second.courier import FRESH
from tests.second.ground import depth_of_lowest
from tests.second.second_model import State, build

STEP = 0.005


def over_ground(depth: float, craft: Craft | None = None, speed: float = 4.0) -> Fleet:
    """A quiet craft, the courier if none is given, in water of this depth (m)."""
    ((_, fleet),) = build_fleets([quiet(craft or courier())], fresh_water(288.15, depth), speed)
    return fleet


def needs(craft: Craft | None = None) -> Depths:
    """Water that a quiet craft needs."""
    return depths(quiet(craft or courier()), over_ground(5.0, craft))


def craft_of(dihedral: float, propellers: int, height: float) -> Craft:
    """The courier with dihedral of either sign on its forward foils, on one propeller or two, low or high."""
    craft = changed(courier(), {"foils.port.dihedral": dihedral, "foils.starboard.dihedral": dihedral})
    return changed(on_propellers(craft, 2) if propellers == 2 else craft, {"propulsor.height": height})


@settings(max_examples=60, deadline=None)
@given(
    dihedral=st.floats(-0.6, 0.6), propellers=st.integers(1, 2), height=st.floats(-0.35, -0.05),
    z=st.floats(-0.3, 0.3), roll=st.floats(-0.7, 0.7), pitch=st.floats(-0.8, 0.8), yaw=st.floats(-3.0, 3.0),
)  # fmt: skip
def test_the_lowest_part_is_that_of_the_second_model(
    dihedral: float, propellers: int, height: float, z: float, roll: float, pitch: float, yaw: float
) -> None:
    """Of the kernel, and of the formula that looks ahead; and it is no further off than the craft's reach."""
    craft = craft_of(dihedral, propellers, height)
    nothing = np.zeros(0)
    state = State(np.array([3.0, -2.0, z]), np.array([roll, pitch, yaw]), nothing, nothing, nothing, nothing, 0.0, 0.0)
    wanted = depth_of_lowest(build(craft, FRESH), state)
    bench = Bench(craft)
    bench.put(at.MID, [3.0, -2.0, z, roll, pitch, yaw])
    turn(bench.flat, at.MID.phi, at.ROTATION.first)
    find_lowest(bench.flat, bench.counts)
    assert bench.get(at.LOWEST) == pytest.approx(wanted, abs=1e-6)
    properties = mass_properties(craft)
    keel = -z - np.cos(roll) * np.cos(pitch) * properties.centre[2]
    assert lowest_part(craft, np.array(keel), np.array(pitch), np.array(roll)) == pytest.approx(wanted, abs=1e-6)
    assert wanted - z <= reach_of(craft, properties) + 1e-9


def test_the_courier_needs_the_water_that_its_struts_say() -> None:
    """Its foils hang their struts' height under the keel, less the ride height in flight and more its draught afloat."""
    riding, afloat = needs().riding, needs().afloat
    craft = courier()
    tip = 0.5 * craft.propulsor.diameter - craft.propulsor.height
    assert riding == pytest.approx(max(craft.struts.height, tip) - RIDE, abs=1e-9)
    hull = craft.hulls["main"]
    chine = 0.5 * hull.beam * np.tan(hull.deadrise)
    weight = mass_properties(craft).mass / fresh_water(288.15, 5.0).density / hull.length  # Archimedes: area of a section
    full = 0.25 * hull.beam**2 * np.tan(hull.deadrise)
    draught = chine + (weight - full) / hull.beam if weight > full else np.sqrt(weight * np.tan(hull.deadrise))
    assert afloat == pytest.approx(max(craft.struts.height, tip) + draught, abs=1e-6)


@pytest.mark.parametrize(("spare", "status", "flown"), [(5e-3, "flew", 4.0), (-1e-4, "aground", 0.0), (-0.03, "aground", 0.0)])
def test_foils_in_the_ground_end_a_flight_at_once(spare: float, status: str, flown: float) -> None:
    """In calm water, as deep as the craft needs and so much more; what is left is a row that says why."""
    flights = fly(over_ground(needs().riding + spare), silent(calm(5.0)))
    assert statuses(flights) == [status]
    assert response(flights, "time_flown")[0] == pytest.approx(flown)
    assert response(flights, "upsets")[0] == (status == "aground")
    assert np.isnan(response(flights, "ride_height_error")[0]) == (status == "aground")


@pytest.mark.parametrize(("spare", "status"), [(8e-2, "flew"), (-1e-3, "aground")])
def test_a_draught_deeper_than_the_water_does_not_take_off(spare: float, status: str) -> None:
    flights = fly(over_ground(needs().afloat + spare), silent(calm(12.0, settle=2.0))._replace(from_rest=True))
    assert statuses(flights) == [status]
    assert np.isfinite(response(flights, "take_off_time")[0]) == (status == "flew")
    assert response(flights, "time_flown")[0] == pytest.approx(10.0 if status == "flew" else 0.0)


def falling(length: float = 10.0) -> Block:
    """Calm water in which half of the thrust is lost after three seconds."""
    fault = np.array([[kinds.NO_THRUST, -1.0, 3.0, 1e9, 0.9, 0.0, 0.0]])
    return silent(calm(length))._replace(faults=fault)


def test_a_boat_that_falls_touches_where_its_lowest_part_meets_the_ground() -> None:
    """The flight is that over deep water up to there, and ends at the step in which the second formula crosses the depth."""
    craft, water = quiet(courier()), 0.5 * (needs().riding + needs().afloat)
    deep, shallow = (history(over_ground(depth), falling(), rate=1.0 / STEP) for depth in (5.0, water))
    flown = np.isfinite(shallow["time"][0])
    assert 3.0 < shallow["time"][0][flown][-1] < 9.0
    for name in ("x", "keel_height", "pitch", "roll", "speed"):
        np.testing.assert_array_equal(shallow[name][0][flown], deep[name][0][: flown.sum()])
    lowest = lowest_part(craft, deep["keel_height"][0], deep["pitch"][0], deep["roll"][0])
    assert flown.sum() == np.flatnonzero(lowest >= water)[0] + 1
    assert statuses(fly(over_ground(water), falling())) == ["aground"]
    assert statuses(fly(over_ground(needs().afloat + 0.05), falling())) == ["flew"]


def test_waves_bring_a_craft_to_the_ground_where_calm_water_does_not() -> None:
    """The ground is flat under the calm level: a craft that follows a trough touches it."""
    fleet = over_ground(needs().riding + 0.02)
    assert statuses(fly(fleet, silent(calm(15.0)))) == ["flew"]
    rough = block_of(jonswap(np.pi, height=0.08, period=1.8, depth=0.3), 15.0)
    assert statuses(fly(fleet, silent(rough))) == ["aground"]


def test_lanes_over_other_ground_do_not_mind() -> None:
    """A flight that touches ends alone; the one beside it is the same to the bit as over deep water."""
    crafts = [quiet(courier()), changed(quiet(courier()), {"struts.height": 0.25})]
    ((_, both),) = build_fleets(crafts, fresh_water(288.15, needs().riding + 0.02), 4.0)
    flights, alone = fly(both, silent(calm(5.0))), fly(fleet_of(crafts[0]), silent(calm(5.0)))
    assert statuses(flights) == ["flew", "aground"]
    np.testing.assert_array_equal(flights.responses[0], alone.responses[0])

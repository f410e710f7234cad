"""What a craft without a trim is short of: followed literally, it trims."""

from __future__ import annotations

import math

import pytest

from sweep.campaign.addresses import replace_values
from sweep.campaign.craft import Craft
from sweep.campaign.draws import water_of
from sweep.linear.reach import trimmed
from sweep.linear.shortfall import Short, nearest, shortfalls
from sweep.model.pack.mass import mass_properties
from sweep.preflight.lacking import lacking
from tests.flying.test_flights import campaign

WATER = water_of(campaign())


def courier(**changes: float) -> Craft:
    return replace_values(campaign().craft, {address.replace("__", "."): value for address, value in changes.items()})


def short(craft: Craft, speed: float) -> Short:
    (found,) = shortfalls(craft, WATER, [speed])
    return found


def trims(craft: Craft, speed: float) -> bool:
    return bool(trimmed(craft, WATER, speed).feasible[0])


def test_a_craft_in_trim_lacks_nothing() -> None:
    assert short(courier(), 4.0).lack == 0.0


def test_the_missing_thrust_is_what_must_be_added() -> None:
    """A thrust that falls in a straight line with speed: what full throttle gives at 4 m/s is known by hand."""
    weak = courier(propulsor__static_thrust=4.0)
    lacks = short(weak, 4.0)
    assert not lacks.beyond
    assert weak.propulsor.no_thrust_speed is not None
    share = 1.0 - 4.0 / weak.propulsor.no_thrust_speed
    for times, enough in ((1.02, True), (0.9, False)):
        assert trims(courier(propulsor__static_thrust=4.0 + times * lacks.thrust / share), 4.0) is enough
    assert lacking(lacks) == f"thrust is short by {lacks.thrust:.2g} N at full throttle"


def test_the_missing_travel_is_what_must_be_added() -> None:
    stiff = courier(servos__travel=math.radians(1.15))
    lacks = short(stiff, 4.0)
    most = max(abs(each.angle) for each in lacks.beyond)
    assert [each.name for each in lacks.beyond] == ["port", "starboard"]
    assert trims(courier(servos__travel=1.001 * most), 4.0)
    assert not trims(courier(servos__travel=0.99 * most), 4.0)
    assert "foils port and starboard would each need 1.4 deg up and have 1.15 either way" in lacking(lacks)


def test_what_it_carries_is_the_mass_with_which_it_trims() -> None:
    """Not quite, for its foils must also balance it: within a fifth."""
    lacks, whole = short(courier(), 2.0), mass_properties(courier()).mass
    assert 0.5 < lacks.carried < 1.0
    for times, enough in ((0.8, True), (1.05, False)):
        lighter = courier().body.mass - whole * (1.0 - times * lacks.carried)
        assert trims(courier(body__mass=lighter), 2.0) is enough
    assert "lift is short" in lacking(lacks)
    assert "76 % of its 31.4 N" in lacking(lacks)


@pytest.mark.parametrize("shift", [-0.9, 1.3])
def test_a_centre_of_gravity_out_of_reach_is_told_by_how_far(shift: float) -> None:
    """Its foils carry it and cannot hold it level: moved as far as is said, and a third more, it trims."""
    craft = courier(body__x=courier().body.x + shift)
    lacks = short(craft, 4.0)
    assert lacks.moment * shift < 0.0  # too far aft: bow up
    lever = lacks.moment / lacks.weight
    share = mass_properties(craft).mass / craft.body.mass
    assert not trims(courier(body__x=craft.body.x + 0.8 * lever * share), 4.0)
    assert trims(courier(body__x=craft.body.x + 1.33 * lever * share), 4.0)
    said = lacking(lacks)
    assert ("further forward" if shift < 0.0 else "further aft") in said
    assert ("bow up" if shift < 0.0 else "bow down") in said


def test_foils_that_cannot_be_turned_down_enough_carry_too_much() -> None:
    lacks = short(courier(servos__travel=math.radians(1.15)), 12.0)
    assert lacks.carried > 1.0
    assert "turned down to its end the foils still carry" in lacking(lacks)


def test_a_control_code_without_a_trim_is_told_apart() -> None:
    assert "its control code has none" in lacking(short(courier(), 4.0))


def test_the_nearest_speed_is_named() -> None:
    heavy = courier(body__mass=60.0)
    found = nearest(heavy, WATER, [4.0])
    assert found.lack == min(each.lack for each in shortfalls(heavy, WATER, [4.0, found.speed]))
    assert found.speed > 4.0

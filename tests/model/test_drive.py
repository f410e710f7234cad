"""The drive in the craft: limits, power, two propellers, and steering by them; range."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from sweep.campaign.craft import Craft
from sweep.model import probe
from sweep.model.flight import fly
from sweep.model.onboard import faults as kinds
from sweep.model.physics.propeller_series import series_curves
from sweep.model.physics.propulsion import cubic, ideal_power
from tests.model.crafts import (
    WATER,
    calm,
    changed,
    courier,
    fleet_of,
    history,
    on_propellers,
    quiet,
    response,
    silent,
    state_of,
    statuses,
)
from tests.second.cases import random_moment, trimmed
from tests.second.sea import FLAT
from tests.second.second_model import Pose, battery_power, build, propulsor_load, rotation

MOTOR = 0.75


def drive(craft: Craft, speed: float, throttle: float, side: float = 0.0) -> tuple[np.ndarray, float]:
    """Force and moment of the drive (6,), and battery power, upright at the ride height in calm water."""
    height = craft.control.ride_height + 0.05
    state = state_of(craft, [0.0, 0.0, -height], velocity=[speed, 0.0, 0.0], thrust=throttle) | {"side": side}
    found = probe.derivative(craft, probe.Surroundings(WATER), state, np.zeros(len(craft.foils)), 0.0, 0.0)
    return found["drive"], float(found["power"][0])


def test_at_rest_the_battery_bounds_the_thrust() -> None:
    """Thrust at rest goes as power to the 2/3 (J is 0); a limit that does not bite changes nothing."""
    free = drive(on_propellers(courier(), 1), 0.0, 1.0)[0][0]
    electronics = courier().propulsor.electronics
    ample = on_propellers(courier(), 1, {"power": 400.0 / MOTOR + electronics + 1.0})
    assert drive(ample, 0.0, 1.0)[0][0] == pytest.approx(free, rel=1e-12)
    curves = series_curves(3, 1.0, 0.5)
    for power in (60.0, 120.0, 240.0):
        craft = on_propellers(courier(), 1, {"power": power})
        thrust, drawn = drive(craft, 0.0, 1.0)
        shaft = (power - electronics) * MOTOR
        turns = (shaft / (2.0 * pi * WATER.density * 0.045**5 * curves.torque[0])) ** (1.0 / 3.0)
        assert thrust[0] == pytest.approx(WATER.density * turns**2 * 0.045**4 * curves.thrust[0], rel=2e-3)
        assert drawn == pytest.approx(power, rel=2e-3)
        assert thrust[0] < free


@pytest.mark.parametrize("limit", ["motor", "battery"])
def test_within_limits_both_models_say_the_same(limit: str) -> None:
    """To what the kernel's steps leave of the equation of power; at a third of the power the limit bites in half the states."""
    craft = trimmed("tender")[0].craft
    if limit == "motor":
        craft = changed(craft, {"propulsor.propeller.shaft_power": 25.0})
    else:
        craft = changed(craft, {"battery.power": 70.0})
    model, bitten = build(craft, trimmed("tender")[0].water), 0
    for seed in range(12):
        state, inputs, time = random_moment("tender", "flying", seed)
        table = np.zeros((len(model.foils), len(model.foils)))
        given = state._asdict() | {"downwash": table}
        found = probe.derivative(craft, probe.Surroundings(model.water), given, inputs.foil_angles, 0.0, time)
        pose = Pose(model, FLAT, time, state, rotation(state.angles))
        free = propulsor_load(replace(pose, model=trimmed("tender")[0]))
        wanted = propulsor_load(pose)
        size = np.abs(free).max()
        assert np.abs(found["drive"] - wanted).max() < 2e-3 * size
        assert found["power"][0] == pytest.approx(battery_power(pose), rel=2e-3)
        bitten += bool(np.abs(free - wanted).max() > 0.02 * size)
    assert 2 < bitten < 12


@pytest.mark.parametrize("count", [1, 2])
@pytest.mark.parametrize("speed", [3.5, 4.0, 5.0])
def test_trim_finds_a_point_of_the_open_water_diagram(speed: float, count: int) -> None:
    craft = on_propellers(courier(), count)
    fleet = fleet_of(craft, speed)
    assert fleet.feasible[0]
    propulsor, throttle = craft.propulsor, float(fleet.trim[0, 2])
    assert propulsor.propeller is not None
    force, power = drive(craft, speed, throttle)
    curves = series_curves(3, 1.0, 0.5)
    turns = propulsor.propeller.top_speed / (2.0 * pi) * throttle
    advance = speed / (turns * propulsor.diameter)
    efficiency = advance * cubic(advance, curves.thrust) / (2.0 * pi * cubic(advance, curves.torque))
    assert 0.4 * curves.no_thrust < advance < curves.no_thrust
    shaft = (power - propulsor.electronics) * MOTOR
    assert force[0] * speed / shaft == pytest.approx(efficiency, rel=1e-9)
    assert 0.4 < efficiency < 0.75  # the diagram's best is 0.71 (tests/references/propeller_series.toml)


def test_a_trim_is_found_as_far_as_the_power_reaches() -> None:
    """With 2 % more than trimmed flight takes, and with ten times as much; not with 2 % less."""
    craft = on_propellers(courier(), 1)
    for speed in (3.5, 4.5):
        fleet = fleet_of(craft, speed)
        power = (drive(craft, speed, float(fleet.trim[0, 2]))[1] - craft.propulsor.electronics) * MOTOR
        within = [1.02, 1.2, 10.0, 0.98, 0.5]
        found = fleet_of([changed(craft, {"propulsor.propeller.shaft_power": share * power}) for share in within], speed)
        assert found.feasible.tolist() == [True, True, True, False, False]
        assert found.trim[:3] == pytest.approx(np.tile(fleet.trim, (3, 1)), rel=1e-6)


def test_no_more_comes_out_than_goes_in() -> None:
    """Thrust power, that of the best propeller there can be, shaft power, battery power: each at most the next."""
    craft = on_propellers(courier(), 1, {"power": 150.0})
    disc = 2.0 * WATER.density * pi / 4.0 * craft.propulsor.diameter**2
    pushing = 0
    for speed in (0.0, 1.0, 2.0, 4.0, 6.0):
        for throttle in (0.1, 0.3, 0.6, 0.8, 1.0):
            force, power = drive(craft, speed, throttle)
            battery = power - craft.propulsor.electronics
            assert battery >= 0.0
            if force[0] > 0.0:
                pushing += 1
                ideal = float(ideal_power(force[0], speed, disc))
                assert force[0] * speed <= ideal <= battery * MOTOR <= battery
    assert pushing > 10


def test_two_propellers_are_one_of_twice_the_thrust() -> None:
    two = on_propellers(courier(), 2)
    one = on_propellers(courier(), 1)
    one = changed(one, {"propulsor.diameter": two.propulsor.diameter})
    for speed, throttle in ((0.0, 0.5), (3.0, 0.7), (4.0, 0.9)):
        (single, alone), (double, both) = drive(one, speed, throttle), drive(two, speed, throttle)
        assert double == pytest.approx(2.0 * single, rel=1e-12, abs=1e-12)
        electronics = one.propulsor.electronics
        assert both - electronics == pytest.approx(2.0 * (alone - electronics), rel=1e-12)


def test_two_simple_propellers_fly_straight_as_one() -> None:
    """The same thrust in all; for less power, as their discs are twice as large."""
    usual = quiet(courier())
    description = usual.model_dump()
    description["propulsor"] |= {"count": 2, "spacing": 0.2}
    twin = Craft.model_validate(description, context={"si": True})
    first, second = (history(fleet_of(craft), silent(calm(4.0)), precise=True) for craft in (usual, twin))
    for column in ("x", "keel_height", "pitch", "speed", "throttle", "foils"):
        assert second[column] == pytest.approx(first[column], abs=1e-9), column
    assert np.all(second["power"] < first["power"] - 0.5)


@pytest.mark.parametrize("curves", [True, False], ids=["curves", "simple"])
def test_the_side_throttle_turns_either_way_alike(curves: bool) -> None:
    """More to port turns to starboard; at half the throttle of each nothing is lost of the thrust of simple ones."""
    if curves:
        craft = on_propellers(courier(), 2)
    else:
        description = courier().model_dump()
        description["propulsor"] |= {"count": 2, "spacing": 0.24}
        craft = Craft.model_validate(description, context={"si": True})
    (port, _), (level, _), (starboard, _) = (drive(craft, 3.0, 0.7, side) for side in (-0.2, 0.0, 0.2))
    assert starboard[5] > 0.1
    assert starboard[5] == pytest.approx(-port[5], rel=1e-12)
    assert starboard[[0, 2, 4]] == pytest.approx(port[[0, 2, 4]], rel=1e-12)
    assert level[[3, 5]] == pytest.approx([0.0, 0.0], abs=1e-12)
    arm = 0.12
    (lopsided, _), shut = drive(craft, 3.0, 0.5, 0.5), drive(craft, 3.0, 0.0)[0]
    assert lopsided[5] == pytest.approx(arm * (lopsided[0] - shut[0]), rel=1e-9)  # one side alone pushes


def turned(craft: Craft, by: float, length: float = 10.0) -> dict[str, np.ndarray]:
    """A calm flight with a change of course at 2 s, to starboard if positive."""
    rows = np.array([[kinds.TURN, -1.0, 2.0, 1e9, by, 0.0, 0.0]])
    return history(fleet_of(quiet(craft)), silent(calm(length))._replace(faults=rows), precise=True)


def test_propellers_steer_a_craft_without_a_rudder() -> None:
    """Through a turn of 30 degrees to within 3, both ways alike; without the side throttle it goes straight on."""
    twin = on_propellers(courier(), 2)
    by = pi / 6.0
    right, left = turned(twin, by), turned(twin, -by)
    assert right["heading"][0, -50:] == pytest.approx(by, abs=0.05)
    assert left["heading"] == pytest.approx(-right["heading"], abs=1e-6)
    assert left["side_throttle"] == pytest.approx(-right["side_throttle"], abs=1e-6)
    assert right["side_throttle"][0].max() > 0.02
    assert np.all(right["side_throttle"][0, right["time"][0] < 2.0] == pytest.approx(0.0, abs=1e-9))
    assert np.ptp(right["rudder"]) == 0.0
    without = turned(changed(twin, {"steering.differential": 0.0}), by)
    assert np.abs(without["heading"]).max() < 0.02


def test_propellers_hold_the_course_against_weed_on_one_side() -> None:
    weed = np.array([[kinds.WEED, 1.0, 2.0, 1e9, 2e-4, 0.0, 0.0]])
    twin = quiet(on_propellers(courier(), 2))
    steered, free = (
        history(fleet_of(craft), silent(calm(8.0))._replace(faults=weed))["heading"][0]
        for craft in (twin, changed(twin, {"steering.differential": 0.0}))
    )
    assert steered[-1] > 1e-4  # weed to starboard
    assert np.abs(steered).max() < 0.3 * np.abs(free).max()


def test_the_range_is_the_battery_by_the_metre() -> None:
    """Twice the energy, twice the range; a craft whose battery says nothing has none."""
    full = on_propellers(courier(), 1, {"energy": 36e3})
    flown = fly(fleet_of([full, changed(full, {"battery.energy": 72e3})]), calm(6.0))
    assert statuses(flown) == ["flew", "flew"]
    ranges, each = response(flown, "battery_range"), response(flown, "energy_per_metre")
    assert ranges == pytest.approx([36e3 / each[0], 72e3 / each[1]], rel=1e-9)
    assert each[0] == each[1]
    assert np.isnan(response(fly(fleet_of(on_propellers(courier(), 1)), calm(6.0)), "battery_range")[0])

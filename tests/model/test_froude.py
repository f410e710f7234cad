"""Froude scaling: lengths times four, times and speeds times two, forces times 64: the same flight, only larger.

Powers of two scale without rounding, so records agree almost to the last digits. Viscosity is scaled so that Reynolds
numbers are equal; then only the small floors that are not written in the craft's own measures tell the sizes apart.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from sweep.campaign.addresses import value_at
from sweep.campaign.craft import Craft
from sweep.model import layout as at
from sweep.model.block import Block
from sweep.model.flight import fly
from sweep.model.onboard import faults as kinds
from sweep.model.pack.fleet import Fleet, build_fleets, fleets_at, pack_crafts
from sweep.model.physics import waves
from tests.model.crafts import (
    CASCADED,
    HEADINGS,
    WATER,
    block_of,
    changed,
    courier,
    history,
    jonswap,
    on_propellers,
    quiet,
    response,
    statuses,
)
from tests.references import reference

LENGTH, TIME, FORCE = 4.0, 2.0, 64.0
MASS, SPEED, AREA, POWER, ANGLE = 64.0, 2.0, 16.0, 128.0, 1.0

# How many times larger everything with a dimension is on the larger craft. What is not named here has none.
SCALES: dict[str, float] = {
    "body.mass": MASS, "body.x": LENGTH, "body.height": LENGTH,
    "body.roll_radius": LENGTH, "body.pitch_radius": LENGTH, "body.yaw_radius": LENGTH,
    **{f"hulls.main.{name}": LENGTH for name in ("length", "beam", "depth", "x", "y")},
    **{f"foils.{foil}.{name}": LENGTH for foil in ("port", "starboard", "aft") for name in ("x", "y")},
    **{f"foils.{foil}.area": AREA for foil in ("port", "starboard", "aft")},
    **{f"foils.{foil}.ventilation.washout": 1.0 for foil in ("port", "starboard", "aft")},  # the model scales it
    "struts.height": LENGTH, "struts.chord": LENGTH, "struts.thickness": LENGTH,
    "servos.bandwidth": 1 / TIME, "servos.rate": 1 / TIME,
    "servos.mass": MASS, "steering.servo.mass": MASS, "steering.servo.bandwidth": 1 / TIME, "steering.servo.rate": 1 / TIME,
    **{f"rangefinders.{name}": LENGTH for name in ("x", "height", "spacing", "noise", "resolution", "blind", "far")},
    "rangefinders.spike_size": LENGTH, "rangefinders.spray_height": LENGTH, "rangefinders.burst": TIME,
    "rangefinders.rate": 1 / TIME, "rangefinders.latency": TIME, "rangefinders.mass": MASS,
    "inertial.x": LENGTH, "inertial.y": LENGTH, "inertial.height": LENGTH,
    "inertial.gyro_noise": 1 / TIME, "inertial.gyro_bias": 1 / TIME, "inertial.levelling_time": TIME,
    "navigation.rate": 1 / TIME, "navigation.speed_noise": SPEED,
    "propulsor.x": LENGTH, "propulsor.height": LENGTH, "propulsor.diameter": LENGTH, "propulsor.static_thrust": FORCE,
    "propulsor.no_thrust_speed": SPEED, "propulsor.lag": TIME, "propulsor.electronics": POWER,
    "control.rate": 1 / TIME, "control.delay": TIME, "control.ride_height": LENGTH,
    "control.height.proportional": 1 / LENGTH, "control.height.integral": 1 / LENGTH / TIME,
    "control.height.derivative": TIME / LENGTH, "control.height.smoothing": TIME,
    **{f"control.{loop}.integral": 1 / TIME for loop in ("pitch", "roll")},
    **{f"control.{loop}.derivative": TIME for loop in ("pitch", "roll", "heading")},
    "control.speed.proportional": 1 / SPEED, "control.speed.integral": 1 / SPEED / TIME,
    "control.throttle_share": 1 / LENGTH, "control.pitch_share": 1 / LENGTH, "control.corner": 1 / TIME,
    **{f"control.cascade.{axis}.{loop}.filter": 1 / TIME for axis in ("pitch", "roll") for loop in ("angle", "rate")},
    **{f"control.cascade.{axis}.angle.{key}": 1 / TIME for axis in ("pitch", "roll") for key in ("proportional", "limit")},
    **{f"control.cascade.{axis}.rate.proportional": TIME for axis in ("pitch", "roll")},
    **{f"control.cascade.{axis}.rate.derivative": TIME**2 for axis in ("pitch", "roll")},
    "control.gate": LENGTH, "window.clearance": LENGTH, "control.turn_rate": 1 / TIME,
    "propulsor.spacing": LENGTH, "propulsor.propeller.top_speed": 1 / TIME, "propulsor.propeller.shaft_power": POWER,
    "battery.power": POWER, "battery.energy": FORCE * LENGTH,
    "windage.area": AREA, "windage.x": LENGTH, "windage.height": LENGTH, "inertial.vibration": 1.0,
}  # fmt: skip
RECORD_SCALES = {
    "time": TIME, "x": LENGTH, "y": LENGTH, "keel_height": LENGTH, "surface": LENGTH, "ride_height": LENGTH,
    "sensed_height": LENGTH, "pitch": 1.0, "roll": 1.0, "heading": 1.0, "speed": SPEED, "throttle": 1.0, "rudder": 1.0,
    "side_throttle": 1.0, "hull_load": 1.0, "power": POWER, "clearance": LENGTH, "submergence": LENGTH, "foils": 1.0,
}  # fmt: skip
RESPONSE_SCALES = {
    **dict.fromkeys(("ride_height_error", "ride_height_bias", "level_height_deviation"), LENGTH),
    **dict.fromkeys(("clearance_p01", "submergence_p01"), LENGTH),
    **dict.fromkeys(("ride_height_error_p99", "level_height_error_p99", "clearance_least", "submergence_least"), LENGTH),
    **dict.fromkeys(("touchdowns", "licks", "foil_outs", "plunges", "broaches", "servo_travel", "blind_readings"), 1 / TIME),
    **dict.fromkeys(("outside_window", "wet_share", "hull_impulse", "lost_flights", "upsets", "pitch_rms", "roll_rms"), 1.0),
    **dict.fromkeys(("vertical_acceleration", "servo_at_limit", "encounters", "roll_peak", "lean_peak", "beyond_polar"), 1.0),
    **dict.fromkeys(("time_flown", "time_foilborne"), TIME),
    **dict.fromkeys(("power_mean", "power_peak"), POWER),
    "speed_mean": SPEED,
    "energy_per_metre": FORCE,
}  # fmt: skip


TWIN = on_propellers(courier(), 2, {"power": 60.0, "energy": 3e5})
EXACT = {"rangefinders.resolution": 0.0, "servos.quantum": 0.0, "steering.servo.quantum": 0.0}


def larger(craft: Craft) -> Craft:
    values = {address: value_at(craft, address) for address in SCALES}
    return changed(craft, {address: value * SCALES[address] for address, value in values.items() if value is not None})


def larger_sea(sea: waves.Sea) -> waves.Sea:
    """Four times as high and long, half as quick: the same wave steepness in deep and shallow water."""
    return waves.Sea(
        sea.amplitude * LENGTH,
        sea.omega / TIME,
        sea.wave_number / LENGTH,
        sea.kx / LENGTH,
        sea.ky / LENGTH,
        sea.phase,
        sea.depth * LENGTH,
    )


def pair(craft: Craft, step: float = 0.01) -> tuple[Fleet, Fleet]:
    viscous = WATER._replace(viscosity=WATER.viscosity * LENGTH * SPEED, depth=WATER.depth * LENGTH)
    ((_, small),) = build_fleets([craft], WATER, 4.0, step=step)
    ((_, large),) = build_fleets([larger(craft)], viscous, 4.0 * SPEED, step=step * TIME)
    return small, large


def course_pair(craft: Craft, speeds: tuple[float, ...]) -> tuple[Fleet, Fleet]:
    """The same with the trims of a course's legs (m/s on the small craft)."""
    viscous = WATER._replace(viscosity=WATER.viscosity * LENGTH * SPEED, depth=WATER.depth * LENGTH)
    ((_, small),) = fleets_at(pack_crafts([craft], WATER), 4.0, step=0.01, legs=speeds)
    twice = tuple(SPEED * speed for speed in speeds)
    ((_, large),) = fleets_at(pack_crafts([larger(craft)], viscous), 4.0 * SPEED, step=0.01 * TIME, legs=twice)
    return small, large


def blocks(sea: waves.Sea, length: float, settle: float = 2.0) -> tuple[Block, Block]:
    """The same draws of noise, tick by tick."""
    small = block_of(sea, length, settle)
    large = block_of(larger_sea(sea), length * TIME, settle * TIME)
    return small, large


def test_the_scales_are_those_of_model_tanks() -> None:
    """The powers of the length that these scales are, beside the published factors of a craft ten times as long."""
    ours = {
        "speed": SPEED, "time": TIME, "angular rate": 1 / TIME, "acceleration": LENGTH / TIME**2, "force": FORCE,
        "moment": FORCE * LENGTH, "power": POWER, "viscosity at equal Reynolds number": LENGTH * SPEED,
    }  # fmt: skip
    outside = reference("rotation", "froude")
    for row in outside.rows:
        power = np.log(ours[row["quantity"]]) / np.log(LENGTH)
        assert 10.0**power == pytest.approx(row["factor"], rel=outside.tolerance), row
    assert (MASS, AREA) == (FORCE, LENGTH**2)


@pytest.mark.parametrize("craft", [courier(), TWIN], ids=["courier", "two propellers"])
def test_the_scales_name_everything_that_has_a_dimension(craft: Craft) -> None:
    """Every number of the larger craft is the smaller one's times a power of two (or of its root), but for logarithms."""
    small, large = (fleet.parameters[0] for fleet in pair(craft))
    told = np.isfinite(small) & (np.abs(small) > 1e-12)
    told[[*at.TRIM, *at.START_TRIM]] = False
    told[[at.WIND_SHARE, at.AIR_PRESSURE]] = False  # the air does not scale
    told[[i * at.FOIL.width + at.FOIL.section.chord_log for i in range(3)]] = False
    told[[i * at.STRUT.width + at.STRUT.chord_log for i in range(3)]] = False
    told[[i * at.STATION.width + at.STATION.length_log for i in range(6)]] = False
    powers = 2.0 * np.log2(np.abs(large[told] / small[told]))
    assert np.abs(powers - np.rint(powers)).max() < 1e-9
    assert np.abs(large[np.abs(small) <= 1e-12]).max() < 1e-12
    assert set(np.rint(powers[powers != 0.0])) >= {-4.0, -2.0, 2.0, 4.0, 8.0, 12.0, 20.0}  # 1/lengths ... inertias


@pytest.mark.parametrize(("precise", "within"), [(True, 1e-6), (False, 1e-4)], ids=["double", "single"])
@pytest.mark.parametrize("heading", ["head", "quartering", "following"])
def test_the_larger_craft_flies_the_same_flight(heading: str, precise: bool, within: float) -> None:
    """State to state through a steep sea, with every size of noise scaled too; nothing is rounded to a quantum here.

    In single precision the two are rounded otherwise, and the loops magnify it.
    """
    small, large = pair(changed(courier(), EXACT))
    first, second = blocks(jonswap(HEADINGS[heading], height=0.06, period=1.1), 4.0)
    records = history(small, first, precise=precise), history(large, second, 50.0, precise=precise)
    for name, scale in RECORD_SCALES.items():
        size = max(np.abs(records[0][name]).max(), 1e-3)
        apart = np.abs(records[1][name] / scale - records[0][name]).max() / size
        assert apart < within, f"{name} differs by {apart:.1e}"


def test_the_larger_craft_on_two_propellers_turns_the_same_turn() -> None:
    """At the power that its battery has, steered by its propellers, with its bow's preview."""
    small, large = pair(changed(TWIN, EXACT | {"control.preview": 0.4}))
    first, second = blocks(jonswap(HEADINGS["head"], height=0.04, period=1.4), 4.0)
    turn = np.array([[kinds.TURN, -1.0, 1.5, 1e9, 0.4, 0.0, 0.0]])
    later = turn * np.where(np.arange(kinds.COLUMNS) == kinds.START, TIME, 1.0)
    records = (
        history(small, first._replace(faults=turn), precise=True),
        history(large, second._replace(faults=later), 50.0, precise=True),
    )
    assert np.abs(records[0]["side_throttle"]).max() > 0.02
    for name, scale in RECORD_SCALES.items():
        size = max(np.abs(records[0][name]).max(), 1e-3)
        apart = np.abs(records[1][name] / scale - records[0][name]).max() / size
        assert apart < 1e-6, f"{name} differs by {apart:.1e}"


def test_the_larger_craft_is_stopped_and_begins_anew_alike() -> None:
    """By its switch: the times after which a link and a rangefinder are stale are the same on a craft of any size."""
    small, large = pair(changed(courier(), EXACT))
    first, second = blocks(jonswap(HEADINGS["quartering"], height=0.06, period=1.1), 4.0)
    off = np.array([[kinds.DISARMED, -1.0, 1.0, 1.35, 0.0, 0.0, 0.0]])
    later = off * np.where(np.isin(np.arange(kinds.COLUMNS), (kinds.START, kinds.STOP)), TIME, 1.0)
    records = (
        history(small, first._replace(faults=off), precise=True),
        history(large, second._replace(faults=later), 50.0, precise=True),
    )
    assert set(records[0]["stopped_by"][0]) == {0.0, 1.0}
    for name, scale in (RECORD_SCALES | {"stopped_by": 1.0}).items():
        size = max(np.abs(records[0][name]).max(), 1e-3)
        apart = np.abs(records[1][name] / scale - records[0][name]).max() / size
        assert apart < 1e-6, f"{name} differs by {apart:.1e}"


LEG_SCALES = np.array([TIME, LENGTH, 1.0, 1.0 / TIME, SPEED, 1.0])
OF_LEGS = {"leg": 1.0, "stopped": 1.0, "wanted_heading": 1.0}


def along(legs: list[list[float]], sea: waves.Sea, length: float, rest: bool = False) -> tuple[Block, Block]:
    """Both blocks along the same course, rows as the kernels read them: paths four times as long, times twice."""
    course, (first, second) = np.array(legs), blocks(sea, length)
    return (
        first._replace(from_rest=rest, course=course),
        second._replace(from_rest=rest, course=course * LEG_SCALES),
    )


@pytest.mark.parametrize(("precise", "within"), [(True, 1e-6), (False, 5e-4)], ids=["double", "single"])
def test_the_larger_craft_follows_the_same_course(precise: bool, within: float) -> None:
    """Legs by path and by time, turns at rates of their own and at other speeds: each begins at the same tick."""
    legs = [[0.0, 6.0, 0.0, 0.0, 4.0, 0.0], [1.5, 0.0, 0.6, 0.8, 3.6, 0.0], [0.0, 30.0, -0.2, 0.0, 4.4, 0.0]]
    small, large = course_pair(changed(courier(), EXACT), (4.0, 3.6, 4.4))
    first, second = along(legs, jonswap(HEADINGS["head"], height=0.03, period=1.1), 8.0)
    records = history(small, first, precise=precise), history(large, second, 50.0, precise=precise)
    for name, scale in (RECORD_SCALES | OF_LEGS).items():
        size = max(np.abs(records[0][name]).max(), 1e-3)
        apart = np.abs(records[1][name] / scale - records[0][name]).max() / size
        assert apart < within, f"{name} differs by {apart:.1e}"
    assert set(records[0]["leg"][0]) == {0.0, 1.0, 2.0, 3.0}


def test_the_larger_craft_starts_stops_and_starts_again_alike() -> None:
    """Afloat the floors of the speed along a chord and of Reynolds numbers (M4.1, M4.3), which are not scaled, are felt: it
    agrees within a hundredth. Once it flies on flat water the two forget it."""
    legs = [[0.0, 20.0, 0.0, 0.0, 4.0, 0.0], [1.5, 0.0, 0.0, 0.0, 4.0, 1.0], [12.0, 0.0, 0.4, 0.0, 4.0, 0.0]]
    small, large = course_pair(changed(courier(), EXACT), (4.0, 4.0, 4.0))
    first, second = along(legs, waves.flat_sea(WATER.depth), 20.0, rest=True)
    records = history(small, first, precise=True), history(large, second, 50.0, precise=True)
    for name in ("x", "keel_height", "speed", "throttle", "leg", "heading"):
        size = np.abs(records[0][name]).max()
        apart = np.abs(records[1][name] / (RECORD_SCALES | OF_LEGS)[name] - records[0][name]) / size
        assert apart.max() < 1e-2, f"{name} differs by {apart.max():.1e}"
        assert name == "x" or apart[0, -100:].max() < 1e-5, name
    flown = fly(small, first), fly(large, second)
    assert response(flown[0], "take_offs")[0] == response(flown[1], "take_offs")[0] == 2
    for name, scale in {"energy_per_metre": FORCE, "power_mean": POWER, "speed_mean": SPEED, "take_off_time": TIME}.items():
        assert response(flown[1], name)[0] / scale == pytest.approx(response(flown[0], name)[0], rel=2e-3), name


@pytest.mark.parametrize(
    "law",
    [
        {"control.law": "fused-height"},
        CASCADED,
        {"control.law": "each-foil", "rangefinders.count": 3, "rangefinders.layout": "over-foils"},
        {"rangefinders.count": 3, "rangefinders.layout": "over-foils", "control.combine": "plane", "control.median": 3},
        {"rangefinders.count": 3, "rangefinders.layout": "across-bow", "control.combine": "vote", "control.gate": 0.05},
    ],
    ids=["fused height", "cascaded", "each foil", "plane of medians", "gated vote"],
)
def test_the_larger_craft_flies_the_same_flight_under_every_law(law: dict[str, Any]) -> None:
    small, large = pair(changed(courier(), EXACT | law))
    first, second = blocks(jonswap(HEADINGS["quartering"], height=0.06, period=1.1), 3.0)
    records = history(small, first, precise=True), history(large, second, 50.0, precise=True)
    for name, scale in RECORD_SCALES.items():
        size = max(np.abs(records[0][name]).max(), 1e-3)
        apart = np.abs(records[1][name] / scale - records[0][name]).max() / size
        assert apart < 1e-6, f"{name} differs by {apart:.1e}"


@pytest.mark.parametrize("heading", ["head", "following"])
def test_the_larger_craft_has_the_larger_responses(heading: str) -> None:
    """Low over a steep sea: also the events, whose times scale, and the widths of the histograms."""
    low = EXACT | {"control.height.proportional": 0.25, "control.ride_height": 0.05 if heading == "head" else 0.06}
    small, large = pair(quiet(changed(courier(), low)))
    first, second = blocks(jonswap(HEADINGS[heading], height=0.10, period=1.3, seed=4), 12.0)
    flights = fly(small, first), fly(large, second)
    assert statuses(flights[0]) == statuses(flights[1]) == ["flew"]
    found = {name: response(flights[1], name)[0] / scale for name, scale in RESPONSE_SCALES.items()}
    wanted = {name: response(flights[0], name)[0] for name in RESPONSE_SCALES}
    assert found == pytest.approx(wanted, rel=1e-3, abs=1e-6)
    assert wanted["touchdowns"] > 0.3
    assert wanted["blind_readings"] > 0.5
    assert wanted["foil_outs" if heading == "following" else "licks"] > 0.0

"""Sensors: what they read, against trigonometry and kinematics by the textbook, and when the control code learns of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import atan2, cos, floor, isnan, radians, sin
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sweep.campaign.craft import Craft
from sweep.model import layout as at
from sweep.model.block import Block
from sweep.model.compiled import LANES
from sweep.model.flight import fly
from sweep.model.kernels import sea as compiled_sea
from sweep.model.kernels.frame import turn
from sweep.model.onboard.motion_sensors import navigate, read_inertial
from sweep.model.onboard.noise import LaneNoise, draw_tables
from sweep.model.onboard.sensors import (
    READINGS,
    aim,
    any_beam,
    any_range_due,
    look,
    look_single,
    range_reading,
    see_ranges,
    take_ranges,
)
from sweep.model.physics import waves
from tests.model.crafts import (
    GRAVITY,
    Bench,
    block_of,
    calm,
    changed,
    courier,
    fleet_of,
    in_all_lanes,
    jonswap,
    quiet,
    response,
    rotation,
    silent,
)

WIDE = {"rangefinders.far": 50.0, "rangefinders.blind": 0.0, "rangefinders.tilt_limit": 1.5}
QUIET = in_all_lanes(silent(calm(10.0)).noise)
LAYOUTS: dict[str, dict[str, Any]] = {
    "bow": {"rangefinders.count": 1},
    "across": {"rangefinders.count": 3, "rangefinders.layout": "across-bow", "rangefinders.spacing": 0.4},
    "over": {"rangefinders.count": 4, "rangefinders.layout": "over-foils", "rangefinders.height": 0.03},
}


def pose(bench: Bench, position: Sequence[float], angles: Sequence[float]) -> np.ndarray:
    """Put the craft somewhere; returns its rotation by the textbook."""
    bench.put(at.STATE, [*position, *angles])
    turn(bench.flat, at.STATE.phi, at.ROTATION.first)
    return rotation(*angles)


def put_sea(bench: Bench, block: Block) -> None:
    """Give every lane the sea of a block."""
    compiled_sea.put_sea(bench.flat, np.ones(LANES, dtype=bool), block.components, block.omegas, block.phases)


def inertial(bench: Bench, noise: LaneNoise, tick: int) -> tuple[np.ndarray, np.ndarray]:
    """What the gyro and the accelerometer of lane 0 read."""
    read_inertial(bench.flat, noise, tick)
    return bench.get(at.GYRO_READING), bench.get(at.FORCE_READING)


def read(bench: Bench, turn: int = 0, noise: LaneNoise = QUIET, time: float = 0.0, sea: Block | None = None) -> np.ndarray:
    """Take the next reading of one rangefinder; (rangefinders, READINGS, lanes)."""
    count = bench.counts.rangefinders
    readings = np.full((count * READINGS, LANES), np.nan)
    bench.put(at.RANGE_TURN, float(turn))
    aim(bench.flat)
    bench.put(at.RANGE_SEA, 0.0)
    if sea is not None:
        put_sea(bench, sea)
        compiled_sea.elevation(bench.flat, len(sea.omegas), time, 1.0, at.RANGE_SEA)
    take_ranges(bench.flat, readings, noise, count)
    return readings.reshape(count, READINGS, LANES)


# Rangefinders: geometry


@pytest.mark.parametrize("angles", [(0.0, 0.0, 0.0), (0.5, 0.0, 1.0), (0.0, -0.6, 0.0), (-0.45, 0.5, 2.0), (0.6, 0.6, -1.0)])
@pytest.mark.parametrize("layout", LAYOUTS)
def test_distance_along_the_beam_is_that_of_trigonometry(layout: str, angles: tuple[float, float, float]) -> None:
    """A beam from each mounting along the craft's own down, to the flat water."""
    craft = quiet(changed(courier(), LAYOUTS[layout] | WIDE))
    for turns in range(craft.rangefinders.count):
        bench = Bench(craft)
        turned = pose(bench, [3.0, 1.0, -0.9], angles)
        place = bench.get(at.RANGE_PLACE, further=turns * at.RANGE_PLACE.width)
        depth, down = -0.9 + (turned @ place)[2], turned[2, 2]
        assert read(bench, turns)[turns, 0, 0] == pytest.approx(-depth / down, abs=1e-9)


def test_the_mountings_are_where_the_craft_has_them() -> None:
    bench = Bench(changed(courier(), LAYOUTS["across"]))
    places = [bench.get(at.RANGE_PLACE, further=i * at.RANGE_PLACE.width) for i in range(3)]
    assert [place[1] for place in places] == pytest.approx([-0.2, 0.0, 0.2])
    assert [place[2] for place in places] == pytest.approx([bench.get(at.KEEL)] * 3)
    assert [place[0] - bench.get(bench.foil(0) + at.FOIL.middle.x) for place in places] == pytest.approx([0.35 - 0.22] * 3)
    over = Bench(changed(courier(), LAYOUTS["over"]))
    places = [over.get(at.RANGE_PLACE, further=i * at.RANGE_PLACE.width) for i in range(4)]
    assert [place[1] - places[2][1] for place in places] == pytest.approx([-0.17, 0.17, 0.0, -0.17])
    assert [place[0] - places[2][0] for place in places] == pytest.approx([0.62, 0.62, 0.0, 0.62])
    assert [over.get(at.KNOWN_PLACE.height + i * at.KNOWN_PLACE.width) for i in range(4)] == pytest.approx([0.03] * 4)


def test_it_reads_the_wave_under_its_foot() -> None:
    sea = jonswap(radians(200.0), height=0.06)
    bench = Bench(quiet(courier()))
    block, time = block_of(sea, 10.0), 2.35
    angles = (0.2, -0.3, 0.5)
    turned = pose(bench, [5.0, -2.0, -0.25], angles)
    place = np.array([5.0, -2.0, -0.25]) + turned @ bench.get(at.RANGE_PLACE)
    beam = turned[:, 2]
    foot = place - place[2] / beam[2] * beam
    surface = float(waves.elevation(sea, foot[0], foot[1], time))
    found = read(bench, time=time, sea=block)[0, 0, 0]
    assert found == pytest.approx((-place[2] - surface) / beam[2], abs=1e-8)
    assert abs(surface) > 1e-3  # or the wave would not be seen


@pytest.mark.parametrize(("see", "tolerance"), [(look, 1e-8), (look_single, 1e-6)])
@pytest.mark.parametrize("footprint", ["mean", "nearest"])
def test_a_beam_sees_the_water_within_its_cone(footprint: str, see: Callable[..., None], tolerance: float) -> None:
    """30 degrees wide, 40 cm up: a circle of 10.7 cm about its foot, told by its centre and four points on it."""
    sea = jonswap(radians(200.0), height=0.05, period=0.8)
    craft = quiet(changed(courier(), {"rangefinders.beam": radians(30.0), "rangefinders.footprint": footprint}))
    bench = Bench(craft)
    block, time = block_of(sea, 10.0), 2.35
    turned = pose(bench, [5.0, -2.0, -0.40], (0.0, 0.0, 0.0))
    x, y, z = np.array([5.0, -2.0, -0.40]) + turned @ bench.get(at.RANGE_PLACE)
    bench.put(at.RANGE_TURN, 0.0)
    aim(bench.flat)
    put_sea(bench, block)
    see(bench.flat, len(block.omegas), time, 1.0, True)
    radius = -z * np.tan(radians(15.0))
    rim = [(0.0, 0.0), (radius, 0.0), (-radius, 0.0), (0.0, radius), (0.0, -radius)]
    seen = np.array([float(waves.elevation(sea, x + along, y + across, time)) for along, across in rim])
    assert bench.get(at.RANGE_SEA) == pytest.approx(seen.mean() if footprint == "mean" else seen.max(), abs=tolerance)
    assert np.ptp(seen) > 2e-3
    assert any_beam(bench.flat, 1)
    assert not any_beam(Bench(courier()).flat, 1)


# Rangefinders: what can go wrong


@pytest.mark.parametrize("angles", [(0.3, 0.0, 0.0), (0.0, -0.3, 1.0), (0.2, 0.22, 0.0)])
def test_tilted_too_far_it_gets_no_echo(angles: tuple[float, float, float]) -> None:
    """The tilt of its beam from the vertical against the limit, whichever way it leans."""
    tilt = float(np.arccos(rotation(*angles)[2, 2]))
    for limit, echo in ((tilt - 0.01, False), (tilt + 0.01, True)):
        bench = Bench(quiet(changed(courier(), {"rangefinders.tilt_limit": limit})))
        pose(bench, [0.0, 0.0, -0.3], angles)
        assert isnan(read(bench)[0, 0, 0]) != echo
        assert bench.get(at.FAULT_READINGS) == float(not echo)


def test_silent_and_frozen_rangefinders() -> None:
    bench = Bench(quiet(changed(courier(), LAYOUTS["across"])))
    pose(bench, [0.0, 0.0, -0.3], (0.0, 0.0, 0.0))
    bench.put(at.RANGE_SILENT + 1, 1.0)
    bench.put(at.RANGE_STUCK + 2, 1.0)
    bench.put(at.RANGE_LAST, [0.2, 0.2, 0.123])
    found = [read(bench, turn)[turn, 0, 0] for turn in range(3)]
    assert found[0] == pytest.approx(0.3 - bench.get(at.KEEL), abs=1e-9)
    assert isnan(found[1])
    assert found[2] == 0.123


def reading(craft: Craft, true: float, normal: float = 0.0, uniform: Sequence[float] = (1.0, 1.0, 0.5)) -> tuple[float, Bench]:
    """One reading of a true distance, and the bench that counted it."""
    bench = Bench(craft)
    bench.put(at.RANGE_TURN, 0.0)
    bench.put(at.RANGE_DOWN, 1.0)
    return float(range_reading(bench.flat, 0, true, normal, np.array(uniform))), bench


@given(true=st.floats(0.03, 0.9), normal=st.floats(-3.0, 3.0))
def test_noise_and_resolution(true: float, normal: float) -> None:
    found, _ = reading(courier(), true, normal)  # 3 mm and 1 mm
    assert found == pytest.approx(round((true + 0.003 * normal) * 1000.0) / 1000.0, abs=1e-12)


def test_without_resolution_it_tells_all() -> None:
    assert reading(changed(courier(), {"rangefinders.resolution": 0.0}), 0.1234567)[0] == 0.1234567


def test_closer_than_the_blind_range_it_reads_that() -> None:
    found, bench = reading(courier(), 0.013)
    assert found == pytest.approx(0.02)
    assert bench.get(at.BLIND_READINGS) == 1.0
    assert bench.get(at.FAULT_READINGS) == 0.0


def test_farther_than_the_far_limit_it_reads_nothing() -> None:
    found, bench = reading(courier(), 1.001)
    assert isnan(found)
    assert bench.get(at.FAULT_READINGS) == 1.0
    assert reading(courier(), 0.999)[0] == pytest.approx(0.999)


def test_drop_outs_and_spikes() -> None:
    faulty = changed(courier(), {"rangefinders.dropout": 0.1, "rangefinders.spikes": 0.2, "rangefinders.spike_size": 0.30})
    assert isnan(reading(faulty, 0.5, uniform=(0.09, 1.0, 0.5))[0])
    assert reading(faulty, 0.5, uniform=(0.11, 1.0, 0.5))[0] == pytest.approx(0.5)
    assert reading(faulty, 0.5, uniform=(1.0, 0.19, 1.0))[0] == pytest.approx(0.8)
    assert reading(faulty, 0.5, uniform=(1.0, 0.19, 0.0))[0] == pytest.approx(0.2)
    assert reading(faulty, 0.5, uniform=(1.0, 0.21, 0.0))[0] == pytest.approx(0.5)


@pytest.mark.parametrize("share", [0.0, 0.1, 0.4])
def test_the_share_of_faulty_readings_is_as_set(share: float) -> None:
    """Over 60 s at 50 Hz: 3000 readings, within four standard deviations of the binomial."""
    craft = changed(courier(), {"rangefinders.dropout": share, "rangefinders.rate": 50.0})
    found = response(fly(fleet_of(craft), calm(63.0, settle=3.0)), "rangefinder_faults")[0] / 50.0
    assert abs(found - share) <= 4.0 * np.sqrt(share * (1.0 - share) / 3000.0)


# Rangefinders: time


def when_seen(craft: Craft, length: float) -> list[tuple[float, int, int]]:
    """Fly ticks of a control code at 100 Hz; which tick of the rangefinders (its number is its reading) was last seen when.

    Returns (time, sensor, tick) at every change.
    """
    bench = Bench(craft)
    count, rate = craft.rangefinders.count, craft.rangefinders.rate
    readings, taken = np.full((count * READINGS, LANES), np.nan), 0
    seen: list[tuple[float, int, int]] = []
    last = [-1] * count
    for n in range(round(length * 100.0)):
        time = n * 0.01
        while any_range_due(bench.flat, time, count):
            assert taken / rate <= time + 1e-9 < taken / rate + 0.01 + 1e-9  # at the first step at or after it
            aim(bench.flat)
            take_ranges(bench.flat, readings, QUIET, count)
            sensor, turn = taken % count, taken // count
            assert bench.get(at.RANGE_TURN) == sensor
            readings[sensor * READINGS + (turn & (READINGS - 1))] = float(taken)
            taken += 1
        see_ranges(bench.flat, 0, readings, count, time)
        for sensor in range(count):
            newest = bench.get(at.RANGE_LAST + sensor)
            if not isnan(newest) and int(newest) != last[sensor]:
                last[sensor] = int(newest)
                seen.append((time, sensor, int(newest)))
    return seen


@pytest.mark.parametrize("latency", [0.0, 0.013, 0.06, 0.3])
@pytest.mark.parametrize("rate", [20.0, 33.0, 100.0])
def test_a_reading_is_known_its_latency_after_its_tick(rate: float, latency: float) -> None:
    """Tick k is due at k / rate, taken at the first step from then on, known at the first control tick from its latency on."""
    craft = quiet(changed(courier(), {"rangefinders.rate": rate, "rangefinders.latency": latency}))
    seen = when_seen(craft, 1.5)
    assert len(seen) > 1.1 * rate
    for time, _, tick in seen:
        due = tick / rate + latency
        assert due <= time + 1e-9
        newest = floor((time - latency) * rate + 1e-9)
        assert tick == newest or newest / rate > time - 0.01  # the newest was taken in this very step
    assert [tick for _, _, tick in seen] == sorted(tick for _, _, tick in seen)


def test_several_rangefinders_take_turns() -> None:
    """At 20 pings a second three sensors have 6.7 each: tick k belongs to sensor k mod 3."""
    seen = when_seen(quiet(changed(courier(), LAYOUTS["across"])), 3.0)
    assert all(tick % 3 == sensor for _, sensor, tick in seen)
    per_sensor = [sum(s == sensor for _, s, _ in seen) for sensor in range(3)]
    assert per_sensor == pytest.approx([19.7] * 3, abs=1.0)  # (3 s - 60 ms) x 20 / 3


def test_what_does_not_come_leaves_the_last_reading() -> None:
    bench = Bench(quiet(courier()))
    readings = np.full((READINGS, LANES), np.nan)
    readings[0], readings[1] = 0.11, 0.12
    bench.put(at.RANGE_TICK, 4.0)
    for time, wanted in ((0.05, np.nan), (0.06, 0.11), (0.11, 0.12), (0.16, 0.12), (0.26, 0.12)):
        see_ranges(bench.flat, 0, readings, 1, time)
        assert bench.get(at.RANGE_LAST) == pytest.approx(wanted, nan_ok=True)


def test_the_median_of_recent_readings_drops_a_spike() -> None:
    bench = Bench(quiet(changed(courier(), {"control.median": 3, "rangefinders.latency": 0.0})))
    readings = np.full((READINGS, LANES), np.nan)
    values = [0.10, 0.11, 0.70, 0.12, 0.13, 0.01, 0.14]
    bench.put(at.RANGE_TICK, float(len(values)))
    for tick, value in enumerate(values):
        readings[tick] = value
        see_ranges(bench.flat, 0, readings, 1, tick / 20.0)
        recent = sorted(values[max(tick - 2, 0) : tick + 1])
        assert bench.get(at.RANGE_LAST) == recent[(len(recent) - 1) // 2]


def test_the_gate_refuses_three_jumps_and_believes_the_fourth() -> None:
    bench = Bench(quiet(changed(courier(), {"control.gate": 0.05, "rangefinders.latency": 0.0})))
    readings = np.full((READINGS, LANES), np.nan)
    values = [0.10, 0.30, 0.14, 0.30, 0.31, 0.32, 0.33, 0.34]
    wanted = [0.10, 0.10, 0.14, 0.14, 0.14, 0.14, 0.33, 0.34]
    bench.put(at.RANGE_TICK, float(len(values)))
    for tick, value in enumerate(values):
        readings[tick] = value
        see_ranges(bench.flat, 0, readings, 1, tick / 20.0)
        assert bench.get(at.RANGE_LAST) == wanted[tick]
    assert bench.get(at.REFUSED) == 4.0


def test_a_jump_as_large_as_the_gate_passes_and_a_step_more_does_not() -> None:
    """Wherever it is: differences of whole millimetres in binary numbers lie either side of the gate, and none comes to it."""
    gate = 10
    bench = Bench(changed(courier(), {"control.gate": 0.001 * gate, "rangefinders.latency": 0.0}))
    readings = np.full((READINGS, LANES), np.nan)
    for low in range(20, 900, 7):
        for jump, passes in ((gate, True), (gate + 1, False)):
            bench.put(at.RANGE_LAST, low * 0.001)
            bench.put(at.REFUSED_IN_A_ROW, 0.0)
            bench.put(at.RANGE_TICK, 1.0)
            bench.put(at.SEEN_TICK, 0.0)
            readings[0] = (low + jump) * 0.001
            see_ranges(bench.flat, 0, readings, 1, 0.0)
            assert (bench.get(at.RANGE_LAST) == (low + jump) * 0.001) == passes


# Inertial unit


def test_at_rest_the_accelerometer_reads_gravity_upwards() -> None:
    """Specific force: a body held still is pushed up by its support, so z (down) reads -g; tilted, its share of it."""
    for angles in ((0.0, 0.0, 0.0), (0.3, 0.0, 1.0), (0.0, -0.4, 0.0), (-0.5, 0.6, 2.0)):
        bench = Bench(courier())
        turned = pose(bench, [0.0, 0.0, 0.0], angles)
        bench.put(at.STATE.u, [0.0] * 6)
        bench.put(at.RATE.u, [0.0] * 6)
        assert inertial(bench, QUIET, 0)[1] == pytest.approx(turned.T @ [0.0, 0.0, -GRAVITY], abs=2e-9)


def test_in_free_fall_it_reads_nothing() -> None:
    bench = Bench(changed(courier(), {"inertial.x": 0.3, "inertial.y": -0.1}))
    turned = pose(bench, [0.0, 0.0, 0.0], (0.4, 0.2, 0.1))
    velocity = np.array([3.0, 0.5, -1.0])
    bench.put(at.STATE.u, [*velocity, 0.0, 0.0, 0.0])
    bench.put(at.RATE.u, [*(turned.T @ [0.0, 0.0, GRAVITY]), 0.0, 0.0, 0.0])
    assert inertial(bench, QUIET, 0)[1] == pytest.approx([0.0, 0.0, 0.0], abs=2e-9)


def test_the_lever_arm_feels_turning_and_its_change() -> None:
    """Rigid-body kinematics: a = a_G + w' x r + w x (w x r), with a_G = V' + w x V in turning axes."""
    bench = Bench(changed(courier(), {"inertial.x": 0.25, "inertial.y": -0.12, "inertial.height": 0.20}))
    turned = pose(bench, [0.0, 0.0, 0.0], (0.1, -0.2, 0.7))
    arm = bench.get(at.INERTIAL_PLACE)
    assert arm[2] < 0.0
    velocity, omega = np.array([4.0, -0.3, 0.5]), np.array([1.2, -0.8, 2.0])
    change, spin = np.array([0.4, -1.0, 2.0]), np.array([-3.0, 5.0, 7.0])
    bench.put(at.STATE.u, [*velocity, *omega])
    bench.put(at.RATE.u, [*change, *spin])
    felt = change + np.cross(omega, velocity) + np.cross(spin, arm) + np.cross(omega, np.cross(omega, arm))
    felt -= turned.T @ [0.0, 0.0, GRAVITY]
    assert inertial(bench, QUIET, 0)[1] == pytest.approx(felt, abs=1e-8)


def test_gyro_and_accelerometer_add_bias_and_noise() -> None:
    noise = draw_tables(1, "x", 0, length=1.0)
    bench = Bench(courier())
    pose(bench, [0.0, 0.0, 0.0], (0.0, 0.0, 0.0))
    bench.put(at.STATE.u, [0.0, 0.0, 0.0, 0.1, -0.2, 0.3])
    bench.put(at.RATE.u, [0.0] * 6)
    exact = inertial(bench, QUIET, 0)[1]
    for tick in (0, 7):
        gyro = np.array([0.1, -0.2, 0.3]) + 0.005 * noise.gyro[tick] + 0.003 * noise.gyro_bias
        assert inertial(bench, in_all_lanes(noise), tick)[0] == pytest.approx(gyro, abs=1e-13)
        force = np.array(exact) + 0.1 * noise.accelerometer[tick] + 0.03 * noise.accelerometer_bias
        assert inertial(bench, in_all_lanes(noise), tick)[1] == pytest.approx(force, abs=1e-13)


def test_the_drive_shakes_the_accelerometer_as_the_throttle_is_open() -> None:
    """Independent shakes add as squares."""
    noise = draw_tables(1, "x", 0, length=1.0)
    bench = Bench(changed(courier(), {"inertial.vibration": 2.0, "inertial.accelerometer_bias": 0.0}))
    pose(bench, [0.0, 0.0, 0.0], (0.0, 0.0, 0.0))
    for throttle, spread in ((0.0, 0.1), (0.5, np.hypot(0.1, 1.0)), (1.0, np.hypot(0.1, 2.0))):
        bench.put(at.THROTTLE, throttle)
        shaken = np.array(inertial(bench, in_all_lanes(noise), 3)[1]) - inertial(bench, QUIET, 3)[1]
        assert shaken == pytest.approx(spread * noise.accelerometer[3], rel=1e-9)


# Speed and heading


def test_speed_over_ground_and_heading_are_held_between_fixes() -> None:
    noise = draw_tables(2, "y", 0, length=2.0)
    bench = Bench(courier())
    angles = (0.1, 0.2, 0.4)
    turned = pose(bench, [0.0, 0.0, 0.0], angles)
    velocity = np.array([4.0, 1.0, 0.7])
    bench.put(at.STATE.u, velocity)
    ground = float(np.hypot(*(turned @ velocity)[:2]))
    for step in range(100):
        navigate(bench.flat, 0, in_all_lanes(noise), step * 0.01)
        fix = step // 10  # 10 Hz
        assert bench.get(at.SPEED_READING) == pytest.approx(ground + 0.05 * noise.speed[fix], abs=1e-9)
        assert bench.get(at.HEADING_READING) == pytest.approx(0.4 + 0.01 * noise.heading[fix], abs=1e-15)


def test_levelling_reads_the_angle_of_gravity() -> None:
    """What a level-seeking filter takes from the accelerometer, at any attitude at rest: roll and pitch themselves."""
    for roll, pitch in ((0.3, 0.0), (0.0, 0.4), (-0.5, 0.6)):
        bench = Bench(courier())
        pose(bench, [0.0, 0.0, 0.0], (roll, pitch, 1.0))
        bench.put(at.STATE.u, [0.0] * 6)
        bench.put(at.RATE.u, [0.0] * 6)
        fx, fy, fz = inertial(bench, QUIET, 0)[1]
        assert atan2(-fy, -fz) == pytest.approx(roll, abs=1e-9)
        assert atan2(fx, np.hypot(fy, fz)) == pytest.approx(pitch, abs=1e-9)
        assert fz == pytest.approx(-GRAVITY * cos(roll) * cos(pitch), abs=2e-9)
        assert fx == pytest.approx(GRAVITY * sin(pitch), abs=2e-9)

"""The control code on board: mixer, estimates, loops and their limits, and that everything pushes the right way."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from math import pi, radians, sqrt
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sweep.campaign.craft import Craft
from sweep.model import layout as at
from sweep.model import probe
from sweep.model.kernels.frame import turn
from sweep.model.onboard.control import (
    HEIGHT_LOOP,
    PITCH_LOOP,
    Tick,
    control,
    pressure_share,
    quantised,
    run_loop,
    throttle_command,
)
from sweep.model.pack.control import bank_limit
from sweep.model.pack.foils import mixer
from sweep.model.pack.mass import mass_properties, to_body
from sweep.model.physics.section import section_of
from tests.model.crafts import (
    RIDE,
    WATER,
    Bench,
    calm,
    changed,
    courier,
    in_all_lanes,
    quiet,
    silent,
    state_of,
    with_foils,
)

QUIET = in_all_lanes(silent(calm(3.0)).noise)
PERIOD = 0.01

ARRANGEMENTS: dict[str, Mapping[str, Mapping[str, Any]]] = {
    "two ahead, one aft": {"port": {"x": 0.22, "y": -0.17}, "starboard": {"x": 0.22, "y": 0.17}, "aft": {"x": -0.40}},
    "one ahead, two aft": {"bow": {"x": 0.42}, "port": {"x": -0.20, "y": -0.2}, "starboard": {"x": -0.20, "y": 0.2}},
    "four corners": {
        name: {"x": x, "y": y}
        for name, x, y in (("fp", 0.3, -0.2), ("fs", 0.3, 0.2), ("ap", -0.35, -0.15), ("as", -0.35, 0.15))
    },
    "unequal": {
        "port": {"x": 0.25, "y": -0.15, "area": 30e-4},
        "starboard": {"x": 0.18, "y": 0.20, "area": 45e-4, "aspect_ratio": 4.0},
        "aft": {"x": -0.40, "y": 0.05, "area": 70e-4, "aspect_ratio": 9.0},
    },
    "canard": {"bow": {"x": 0.42, "area": 20e-4}, "main": {"x": -0.08, "area": 120e-4, "aspect_ratio": 9.0}},
    "tandem": {"fore": {"x": 0.25, "area": 75e-4}, "aft": {"x": -0.30, "area": 75e-4}},
}  # fmt: skip


# Mixer


def effect(craft: Craft) -> np.ndarray:
    """Lift, bow-up moment and starboard-down moment over dynamic pressure of one radian on each foil: (3, foils).

    Helmbold's slope of a finite wing (1942) by its section's.
    """
    properties = mass_properties(craft)
    columns = []
    for foil in craft.foils.values():
        x, y, _ = to_body(properties, foil.x, foil.y, 0.0)
        ratio = foil.section.lift_slope / (pi * foil.span_length / foil.chord)
        lift = foil.area * foil.section.lift_slope / (sqrt(1.0 + ratio**2) + ratio)
        columns.append([lift, lift * x, -lift * y])
    return np.array(columns).T


def mix_of(craft: Craft) -> np.ndarray:
    properties = mass_properties(craft)
    foils = list(craft.foils.values())
    places = [to_body(properties, foil.x, foil.y, -craft.struts.height) for foil in foils]
    return mixer(foils, [section_of(craft, foil) for foil in foils], places)


def test_the_bank_brings_the_outermost_tip_to_half_a_chord() -> None:
    """By trigonometry on the courier: level, its foils are at ride height under the surface; the ahead ones reach furthest."""
    craft = courier()
    port, depth = craft.foils["port"], craft.struts.height - craft.control.ride_height
    reach = abs(port.y) + 0.5 * port.span_length
    bank = bank_limit(craft)
    assert depth - reach * np.tan(bank) == pytest.approx(0.5 * port.chord)
    assert bank_limit(changed(craft, {"control.ride_height": craft.struts.height - 0.01})) == 0.0


@pytest.mark.parametrize("name", ARRANGEMENTS)
def test_every_command_does_its_own_work_and_none_of_the_others(name: str) -> None:
    craft = with_foils(courier(), ARRANGEMENTS[name])
    levers = effect(craft)
    done = levers @ mix_of(craft)
    wanted = np.diag(np.abs(levers).sum(axis=1))
    if np.allclose([foil.y for foil in craft.foils.values()], 0.0):
        wanted[2, 2] = 0.0  # foils in line cannot roll the craft: no command moves them for it
    assert np.abs(done - wanted).max() < 1e-9


def test_on_equal_foils_height_moves_all_alike() -> None:
    """Two ahead and one aft: equal lift without pitch needs unequal angles unless the levers balance."""
    craft = with_foils(
        courier(),
        {"fp": {"x": 0.3, "y": -0.2}, "fs": {"x": 0.3, "y": 0.2}, "ap": {"x": -0.3, "y": -0.2}, "as": {"x": -0.3, "y": 0.2}},
    )
    craft = changed(craft, {"rangefinders.mass": 0.0})
    assert mix_of(craft)[:, 0] == pytest.approx([1.0] * 4, abs=1e-9)
    assert mix_of(craft)[:, 1] == pytest.approx([1.0, 1.0, -1.0, -1.0], abs=1e-9)
    assert mix_of(craft)[:, 2] == pytest.approx([1.0, -1.0, 1.0, -1.0], abs=1e-9)


@pytest.mark.parametrize("name", ["port", "starboard", "aft-port", "aft-starboard"])
@pytest.mark.parametrize("area", [18e-4, 24e-4, 31e-4])
def test_no_command_reaches_a_fixed_foil(name: str, area: float) -> None:
    """Not by rounding either: its travel is exactly nothing. The other three do all that is wanted."""
    places = {"port": (0.30, -0.11), "starboard": (0.30, 0.11), "aft-port": (-0.37, -0.10), "aft-starboard": (-0.37, 0.10)}
    foils = {each: {"x": x, "y": y, "area": 18e-4} for each, (x, y) in places.items()}
    foils["starboard"]["area"] = area
    craft = changed(with_foils(courier(), foils), {f"foils.{name}.mounting": "fixed"})
    levers, mix, fixed = effect(craft), mix_of(craft), [*foils].index(name)
    assert mix[fixed].tolist() == [0.0, 0.0, 0.0]
    levers[:, fixed] = 0.0
    assert levers @ mix == pytest.approx(np.diag(np.abs(levers).sum(axis=1)), abs=1e-9)


# Loops and limits


@settings(deadline=None)  # the first call compiles
@given(errors=st.lists(st.floats(-1.0, 1.0), min_size=1, max_size=60), rate=st.floats(-1.0, 1.0))
def test_a_loop_is_pid_within_its_limit(errors: list[float], rate: float) -> None:
    """Against the plain law, integral clamped: it never winds up beyond the limit."""
    bench = BENCH
    bench.put(at.PITCH_GAINS, [1.2, 3.0, 0.06, 0.10])
    bench.put(at.PITCH_INTEGRAL, 0.0)
    integral = 0.0
    for error in errors:
        found = run_loop(bench.flat, 0, PITCH_LOOP, error, rate, PERIOD)
        assert found == pytest.approx(np.clip(1.2 * error + integral - 0.06 * rate, -0.10, 0.10), abs=1e-14)
        integral = float(np.clip(integral + 3.0 * error * PERIOD, -0.10, 0.10))
        assert bench.get(at.PITCH_INTEGRAL) == pytest.approx(integral, abs=1e-14)


BENCH = Bench(courier())


def test_after_a_long_error_the_integral_lets_go_in_the_time_it_takes_to_cross() -> None:
    """A minute of error, then the opposite error: the command changes sign within limit / (Ki e) seconds, not a minute."""
    bench = Bench(courier())
    bench.put(at.HEIGHT_GAINS, [0.5, 1.0, 0.0, 0.10])
    for _ in range(6000):
        run_loop(bench.flat, 0, HEIGHT_LOOP, 0.1, 0.0, PERIOD)
    commands = [run_loop(bench.flat, 0, HEIGHT_LOOP, -0.1, 0.0, PERIOD) for _ in range(200)]
    assert commands[0] == pytest.approx(0.05)  # 0.10 of integral less 0.5 x 0.1
    assert np.argmax(np.array(commands) < 0.0) * PERIOD == pytest.approx(0.5, abs=0.02)


def test_the_throttle_stays_within_its_stops_and_its_integral_waits() -> None:
    bench = Bench(courier())
    bench.put(at.SPEED_READING, 1.0)  # 3 m/s slow: 0.3 x 3 is past the stop already
    for _ in range(1000):
        assert throttle_command(bench.flat, 0, 0.0, PERIOD) == 1.0
    assert bench.get(at.SPEED_INTEGRAL) == 0.0
    bench.put(at.SPEED_READING, 3.9)
    trim = bench.get(at.TRIM.throttle)
    found = [throttle_command(bench.flat, 0, 0.0, PERIOD) for _ in range(100)]
    assert found[0] == pytest.approx(trim + 0.3 * 0.1)
    assert found[-1] - found[0] == pytest.approx(0.15 * 0.1 * 0.99)
    bench.put(at.SPEED_READING, 12.0)
    assert throttle_command(bench.flat, 0, 0.0, PERIOD) == 0.0
    bench.put(at.SPEED_INTEGRAL, -0.7)  # at the lower stop, but the error now pushes up: the integral moves
    bench.put(at.SPEED_READING, 3.5)
    before = bench.get(at.SPEED_INTEGRAL)
    assert throttle_command(bench.flat, 0, 0.0, PERIOD) == 0.0
    assert bench.get(at.SPEED_INTEGRAL) == pytest.approx(before + 0.15 * 0.5 * PERIOD)


@pytest.mark.parametrize(
    ("reference", "speed", "share"), [(None, 2.0, 1.0), (4.0, 4.0, 1.0), (4.0, 8.0, 0.25), (4.0, 20.0, 0.2), (4.0, 1.0, 4.0)]
)
def test_scheduled_angles_follow_the_dynamic_pressure(reference: float | None, speed: float, share: float) -> None:
    bench = Bench(changed(courier(), {"control.scheduled_at": reference}))
    bench.put(at.SPEED_READING, speed)
    assert pressure_share(bench.flat, 0) == pytest.approx(share)


# All of it


def tick_of(craft: Craft, speed: float = 4.0, sensed: float | None = None, **memory: float) -> tuple[np.ndarray, Bench]:
    """Angles that one control tick commands to a craft in trim, rudder last; `sensed` is what every rangefinder last read."""
    bench = Bench(craft, speed)
    turn(bench.flat, at.STATE.phi, at.ROTATION.first)
    bench.put(at.RATE.u, [0.0] * 6)
    readings = np.full((64, 32), np.nan)
    if sensed is not None:
        bench.put(at.RANGE_LAST, [sensed] * int(bench.counts.rangefinders))
    for name, value in memory.items():
        bench.put(getattr(at, name), value)
    control(bench.flat, bench.lanes.commands, readings, QUIET, bench.counts, Tick(0, PERIOD))
    return bench.lanes.commands[:, 0, 0].copy(), bench


def trimmed(craft: Craft) -> np.ndarray:
    bench = Bench(craft)
    return np.append([bench.get(bench.foil(i) + at.FOIL.servo.angle) for i in range(len(craft.foils))], 0.0)


def test_in_trim_the_commands_are_the_trim() -> None:
    craft = quiet(courier())
    assert tick_of(craft, sensed=RIDE)[0] == pytest.approx(trimmed(craft), abs=1e-9)
    coarse = courier()
    quantum = coarse.servos.quantum
    found = tick_of(coarse, sensed=RIDE)[0][:-1]
    assert found == pytest.approx(np.rint(trimmed(coarse)[:-1] / quantum) * quantum, abs=1e-12)


def test_commands_stop_at_the_travel() -> None:
    """Gains of sixty degrees a centimetre and limits out of the way."""
    craft = changed(courier(), {"control.height.proportional": 100.0, "control.height.limit": 3.0})
    assert np.abs(tick_of(craft, sensed=0.03)[0][:-1]).max() == pytest.approx(radians(9.0))
    assert quantised(0.5, 0.0026, 0.157) == 0.157


def test_the_height_limit_holds() -> None:
    craft = quiet(
        changed(courier(), {"control.height.proportional": 100.0, "control.height.limit": 0.03, "control.pitch_share": 0.0})
    )
    moved = tick_of(craft, sensed=0.03)[0][:-1] - trimmed(craft)[:-1]
    assert moved == pytest.approx(mix_of(craft)[:, 0] * 0.03, abs=1e-9)


PUSHES: dict[str, tuple[dict[str, float], int, float]] = {
    # what the control code believes; which acceleration must answer; its sign
    "too low": ({"sensed": RIDE - 0.02}, 2, -1.0),  # up is negative z
    "too high": ({"sensed": RIDE + 0.02}, 2, 1.0),
    "bow down": ({"sensed": RIDE, "PITCH_ESTIMATE": -0.05}, 4, 1.0),
    "bow up": ({"sensed": RIDE, "PITCH_ESTIMATE": 0.05}, 4, -1.0),
    "starboard down": ({"sensed": RIDE, "ROLL_ESTIMATE": 0.05}, 3, -1.0),
    "port down": ({"sensed": RIDE, "ROLL_ESTIMATE": -0.05}, 3, 1.0),
}


@pytest.mark.parametrize("name", PUSHES)
def test_every_error_is_answered_by_a_push_against_it(name: str) -> None:
    """Commanded angles, put on the foils: the acceleration they add at trim, of one axis alone."""
    memory, axis, sign = PUSHES[name]
    craft = quiet(changed(courier(), {"control.pitch_share": 0.0}))
    angles, bench = tick_of(craft, **memory)
    state = state_of(craft, bench.get(at.STATE.x, 3), velocity=bench.get(at.STATE.u, 3), thrust=bench.get(at.TRIM.throttle))
    state["lift_lag"] = np.array([bench.get(i * at.STRIP.width + at.STRIP.lag) for i in range(6)])
    state["downwash"] = np.array([bench.get(bench.foil(i) + at.FOIL.downwash, 3) for i in range(3)])
    pushed = probe.derivative(craft, probe.Surroundings(WATER), state, angles[:-1], angles[-1], 0.0)["nu_dot"]
    assert pushed[axis] * sign > 0.5
    others = [a for a in (2, 3, 4) if a != axis]
    assert np.abs(pushed[others]).max() < 0.25 * abs(pushed[axis])


@pytest.mark.parametrize("rudder", ["aft", "bow"])
def test_the_rudder_turns_back_to_the_course(rudder: str) -> None:
    """Wherever the rudder is: heading to starboard of the course gives a yaw acceleration to port."""
    foils = {"bow": {"x": 0.40}, "port": {"x": -0.1, "y": -0.17}, "starboard": {"x": -0.1, "y": 0.17}, "aft": {"x": -0.40}}
    craft = quiet(changed(with_foils(courier(), foils), {"steering.rudder": rudder}))
    bench = Bench(craft)
    turn(bench.flat, at.STATE.phi, at.ROTATION.first)
    bench.put(at.STATE.psi, 0.1)
    control(bench.flat, bench.lanes.commands, np.full((64, 32), np.nan), QUIET, bench.counts, Tick(0, PERIOD))
    angle = bench.lanes.commands[-1, 0, 0]
    assert abs(angle) == pytest.approx(0.1)
    state = state_of(craft, bench.get(at.STATE.x, 3), velocity=bench.get(at.STATE.u, 3))
    yaw = [
        probe.derivative(craft, probe.Surroundings(WATER), state, trimmed(craft)[:-1], turned, 0.0)["nu_dot"][5]
        for turned in (0.0, angle)
    ]
    assert yaw[1] - yaw[0] < -0.5


def test_each_foil_answers_its_own_rangefinder() -> None:
    values = {"control.law": "each-foil", "rangefinders.count": 3, "rangefinders.layout": "over-foils"}
    craft = quiet(changed(courier(), values))
    bench = Bench(craft)
    turn(bench.flat, at.STATE.phi, at.ROTATION.first)
    bench.put(at.RANGE_LAST, [RIDE - 0.010, RIDE, RIDE + 0.005])
    control(bench.flat, bench.lanes.commands, np.full((64, 32), np.nan), QUIET, bench.counts, Tick(0, PERIOD))
    moved = bench.lanes.commands[:3, 0, 0] - trimmed(craft)[:3]
    assert np.degrees(moved) == pytest.approx([0.4, 0.0, -0.2], abs=1e-6)  # 0.4 deg/cm


def test_a_lane_that_no_longer_flies_is_left_alone() -> None:
    bench = Bench(courier())
    bench.slots[at.ALIVE, 5] = 0.0
    before = bench.slots[: at.COMMANDED, 5].copy(), bench.lanes.commands[:, :, 5].copy()
    control(bench.flat, bench.lanes.commands, np.full((64, 32), np.nan), QUIET, bench.counts, Tick(0, PERIOD))
    assert np.array_equal(bench.slots[: at.COMMANDED, 5], before[0], equal_nan=True)
    assert np.array_equal(bench.lanes.commands[:, :, 5], before[1])


def test_commands_are_new_at_every_tick_and_remembered() -> None:
    """Ring of commands: tick n at row n mod 64."""
    bench = Bench(courier())
    turn(bench.flat, at.STATE.phi, at.ROTATION.first)
    for tick in range(70):
        bench.put(at.RANGE_LAST, RIDE - 0.03 + 0.0005 * tick)
        control(bench.flat, bench.lanes.commands, np.full((64, 32), np.nan), QUIET, bench.counts, Tick(tick, PERIOD))
    port = bench.lanes.commands[0, :, 0]
    in_order = np.concatenate([port[6:], port[:6]])
    assert all(later <= earlier + 1e-3 for earlier, later in pairwise(in_order))
    assert in_order[0] - in_order[-1] > 0.01

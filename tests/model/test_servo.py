"""Servos: the exact second order of textbooks and scipy, and the limits that a real one has."""

from __future__ import annotations

from collections.abc import Callable
from math import exp, pi, radians, sqrt
from typing import Any

import numpy as np
import pytest
from scipy import signal
from scipy.linalg import expm

from sweep.model import layout as at
from sweep.model.compiled import LANES
from sweep.model.onboard.control import quantised
from sweep.model.onboard.servo import RING, hold, move_half, reach_back, slack, transition
from tests.model.crafts import WATER, Bench, changed, courier

WIDE = {"servos.rate": 1e3, "servos.travel": 0.69, "servos.quantum": 0.0, "control.delay": 0.0}


def drive(values: dict[str, Any], command: Callable[[int], float], ticks: int, steps_per_tick: int = 1) -> np.ndarray:
    """Angle (rad) at the start and after every half step under a command (rad) given at every control tick of 10 ms."""
    bench = Bench(changed(courier(), WIDE | values), step=0.01 / steps_per_tick)
    commands = np.zeros((RING, LANES))
    slot, foil = bench.foil(0) + at.FOIL.servo.angle, bench.foil(0)
    bench.put(slot, [0.0, 0.0])
    share = 1.0 / (2 * steps_per_tick)
    angles = [0.0]
    for half in range(2 * steps_per_tick * ticks):
        tick = half // (2 * steps_per_tick)
        commands[tick & (RING - 1)] = command(tick)
        reach_back(bench.flat, half * share, share, 0.01)
        hold(bench.flat, foil, WATER.density)
        move_half(bench.flat, slot, at.SERVO.first, commands, 0.01 * share)
        angles.append(bench.get(slot))
    assert np.ptp(bench.slots[slot]) == 0.0  # every lane alike
    return np.array(angles)


@pytest.mark.parametrize("damping", [0.3, 0.8, 1.0, 1.5])
@pytest.mark.parametrize("steps_per_tick", [1, 4])
def test_step_response_is_that_of_second_order(damping: float, steps_per_tick: int) -> None:
    bandwidth = 50.0
    found = drive({"servos.bandwidth": bandwidth, "servos.damping": damping}, lambda tick: 0.1, 30, steps_per_tick)
    system = signal.TransferFunction([bandwidth**2], [1.0, 2.0 * damping * bandwidth, bandwidth**2])
    times = np.arange(len(found)) * 0.005 / steps_per_tick
    _, wanted = signal.step(system, T=times)
    assert np.abs(found - 0.1 * wanted).max() < 2e-6


def test_step_response_does_not_depend_on_the_step() -> None:
    coarse, fine = (drive({}, lambda tick: 0.1 * (-1) ** (tick // 5), 40, steps) for steps in (1, 8))
    assert np.abs(coarse - fine[::8]).max() < 1e-12


@pytest.mark.parametrize(("damping", "overshoot"), [(0.2, 0.5266), (0.4, 0.2538), (0.6, 0.0948), (0.8, 0.0152)])
def test_overshoot_of_the_textbook(damping: float, overshoot: float) -> None:
    """exp(-pi zeta / sqrt(1 - zeta^2)); values from tables of the step response of second order."""
    found = drive({"servos.damping": damping}, lambda tick: 0.1, 60, 10)
    assert overshoot == pytest.approx(exp(-pi * damping / sqrt(1.0 - damping**2)), abs=1e-4)
    assert found.max() / 0.1 - 1.0 == pytest.approx(overshoot, abs=2e-4)


@pytest.mark.parametrize("damping", [0.2, 0.9999999, 1.0, 1.0000001, 1.9])
def test_transition_is_the_exponential_of_the_system(damping: float) -> None:
    bandwidth, time = 40.0, 0.005
    matrix = np.array([[0.0, 1.0], [-(bandwidth**2), -2.0 * damping * bandwidth]])
    wanted = expm(matrix * time).ravel()
    error = np.abs((transition(bandwidth, damping, time) - wanted) / [1.0, 1.0 / 40.0, 40.0, 1.0])
    assert error.max() < 2e-6  # two equal eigenvalues are parted by 1e-5


def test_a_rate_limit_makes_a_triangle() -> None:
    """400 deg/s a square wave of 5 Hz too large to reach: 100 ms each way, so 40 deg from peak to peak, 20 deg either side."""
    values = {"servos.bandwidth": 500.0, "servos.rate": radians(400.0)}
    found = np.degrees(drive(values, lambda tick: 0.6 if (tick + 5) // 10 % 2 == 0 else -0.6, 200))[100:]
    assert np.ptp(found) / 2.0 == pytest.approx(20.0, rel=1e-6)
    assert np.abs(np.diff(found)).max() <= 400.0 * 0.005 + 1e-9


def test_the_rate_limit_holds_and_is_reached() -> None:
    found = drive({"servos.rate": 2.6}, lambda tick: 0.3, 30)
    assert np.diff(found).max() == pytest.approx(2.6 * 0.005, rel=1e-9)
    slow = drive({"servos.rate": 2.6}, lambda tick: 0.01, 30)  # 0.01 rad of 50 rad/s: a quarter of it a time constant
    assert np.diff(slow).max() < 0.5 * 2.6 * 0.005


def test_the_travel_stops_it() -> None:
    found = drive({"servos.travel": 0.157, "servos.damping": 0.3}, lambda tick: 0.15 if tick < 20 else -0.6, 60)
    assert found.max() == 0.157  # the overshoot of 37 % ends at the stop
    assert found.min() == -0.157
    assert found[-1] == -0.157


@pytest.mark.parametrize("steps_per_tick", [1, 4])
@pytest.mark.parametrize("delay", [0.0, 0.004, 0.01, 0.0137, 0.1])
def test_the_command_arrives_its_delay_late(delay: float, steps_per_tick: int) -> None:
    """A ramp through a delay: in the end the same staircase, later by the delay to a fraction of a tick.

    The servo's answer to the staircase is linear in the command, so its mean lag is the delay plus half a tick of the staircase
    plus 2 zeta / omega of the servo.
    """
    found = drive({"control.delay": delay}, lambda tick: 1e-3 * tick, 80, steps_per_tick)
    times = np.arange(len(found)) * 0.005 / steps_per_tick
    last = slice(-40 * steps_per_tick, None)
    lag = np.mean(times[last] - found[last] / 0.1)
    assert lag == pytest.approx(delay + 0.005 + 2.0 * 0.8 / 50.0, abs=3e-4)


def test_before_the_delay_is_over_nothing_moves() -> None:
    found = drive({"control.delay": 0.0137}, lambda tick: 0.1 if tick >= 10 else 0.0, 14)
    moving = np.flatnonzero(found > 0.0)[0]
    assert 0.1 + 0.0137 <= moving * 0.005 <= 0.1 + 0.0137 + 0.005
    # the half step from 110 to 115 ms sees the new command for 1.3 ms of its 5: a quarter of it, as its mean
    first = drive({}, lambda tick: 0.1 * 1.3 / 5.0, 1)[1]
    assert found[moving] == pytest.approx(first, rel=1e-9)


def hinge(pivot: float, torque: float | None, lift: float = 0.5, speed: float = 4.0) -> np.ndarray:
    """Angle of a foil's servo, over time, under the hinge moment of a lift coefficient at a speed (m/s)."""
    values = WIDE | {"foils.port.pivot": pivot, "servos.torque": torque, "servos.linkage": 2.0}
    bench = Bench(changed(courier(), values), step=0.01)
    slot, foil = bench.foil(0) + at.FOIL.servo.angle, bench.foil(0)
    bench.put(slot, [0.0, 0.0])
    bench.put(foil + at.FOIL.lift_mean, lift)
    bench.put(at.MID.u, speed)
    commands = np.full((RING, LANES), 0.1)
    angles = []
    for half in range(40):
        reach_back(bench.flat, 0.5 * half, 0.5, 0.01)
        hold(bench.flat, foil, WATER.density)
        move_half(bench.flat, slot, at.SERVO.first, commands, 0.005)
        angles.append(bench.get(slot))
    return np.array(angles)


def test_a_servo_stalls_when_the_hinge_moment_is_over_its_torque() -> None:
    """Dynamic pressure x chord x area x (Cm + CL x pivot): 8 kPa x 28.9 mm x 50 cm^2 x (-0.03 + 0.5 x 0.2) = 81 mN m.

    The servo turns twice for the foil's once, so half of that is enough.
    """
    moment = 0.5 * WATER.density * 4.0**2 * 0.0288675 * 50e-4 * (-0.03 + 0.5 * 0.2)
    assert moment == pytest.approx(0.081, rel=0.01)
    assert hinge(0.2, 0.51 * moment)[-1] == pytest.approx(0.1, abs=1e-3)
    assert np.abs(hinge(0.2, 0.49 * moment)).max() == 0.0
    assert hinge(0.2, 0.49 * moment, speed=3.9)[-1] == pytest.approx(0.1, abs=1e-3)  # 5 % less dynamic pressure
    assert hinge(0.2, None)[-1] == pytest.approx(0.1, abs=1e-3)


def test_a_stuck_servo_stays() -> None:
    bench = Bench(changed(courier(), WIDE))
    slot, foil = bench.foil(0) + at.FOIL.servo.angle, bench.foil(0)
    bench.put(slot, [0.02, 0.5])
    bench.put(foil + at.FOIL.stuck, 1.0)
    reach_back(bench.flat, 0.0, 0.5, 0.01)
    hold(bench.flat, foil, WATER.density)
    move_half(bench.flat, slot, at.SERVO.first, np.full((RING, LANES), 0.1), 0.005)
    assert bench.get(slot, 2).tolist() == [0.02, 0.0]


def test_backlash_is_taken_up_before_the_foil_moves() -> None:
    """A slack of 2 deg in all: the foil trails its servo by one degree, on the side that pushes it."""
    bench = Bench(changed(courier(), {"servos.backlash": radians(2.0)}))
    foil = bench.foil(0)
    found = []
    for angle in (0.0, 0.5, 3.0, 2.5, 1.5, 0.0, -3.0, -2.0):
        bench.put(foil + at.FOIL.servo.angle, radians(angle))
        if angle == 0.0 and not found:
            bench.put(foil + at.FOIL.link, 0.0)
        slack(bench.flat, foil + at.FOIL.link, foil + at.FOIL.servo.angle, foil + at.FOIL.moved_by.first)
        found.append(np.degrees(bench.get(foil + at.FOIL.link)))
    assert found == pytest.approx([0.0, 0.0, 2.0, 2.0, 2.0, 1.0, -2.0, -2.0], abs=1e-12)


@pytest.mark.parametrize(
    ("command", "wanted"),
    [(0.0, 0.0), (0.4, 0.0), (0.5, 0.0), (0.51, 1.0), (1.5, 2.0), (-0.51, -1.0), (2.5, 2.0), (80.0, 60.0), (-80.0, -60.0)],
)  # fmt: skip
def test_commands_are_whole_quanta_within_the_travel(command: float, wanted: float) -> None:
    quantum = radians(0.15)
    assert quantised(command * quantum, quantum, 60.0 * quantum) == pytest.approx(wanted * quantum, abs=1e-15)


def test_without_a_quantum_commands_are_taken_as_they_are() -> None:
    assert quantised(0.0123456, 0.0, 0.1) == 0.0123456
    assert quantised(0.2, 0.0, 0.1) == 0.1

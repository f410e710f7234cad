"""One fixed step of every lane: two stages of the explicit midpoint rule, the servos, ventilation.

The craft's states are integrated to second order. The servos and the lags of lift, downwash and thrust are solved exactly for
an input that is constant over the step.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel
from sweep.model.elementary import exp_negative
from sweep.model.kernels.frame import copy_rows, kinematics, turn
from sweep.model.kernels.rigid_body import evaluate_again, take_speed
from sweep.model.layout import alike, row
from sweep.model.onboard.servo import hold, let_go, move_half, reach_back, slack, turn_rudders
from sweep.model.onboard.wand import lead, move_wands

RUNAWAY = 1e4  # sum of the sizes of all twelve rates of change (SI) at which a flight has left the model: judgement


class Span(NamedTuple):
    """A step, or half of one.

    ticks: its start, in control ticks since the flight began; tick_share: its length in control ticks; length: the same in s.
    """

    ticks: float
    tick_share: float
    length: float


@kernel
def predict(workspace: np.ndarray, ahead: float) -> None:
    """Set the PREDICTED pose, `ahead` seconds on, from the STATE and its rates; set the ROTATION of the STATE (M3.12)."""
    turn(workspace, at.STATE.phi, at.ROTATION.xx)
    kinematics(workspace, at.STATE.first)
    for i in range(at.PREDICTED.width):
        out = row(at.PREDICTED.first + i)
        state = row(at.STATE.first + i)
        rate = row(at.RATE.first + i)
        for lane in range(LANES):
            workspace[out + lane] = workspace[state + lane] + ahead * workspace[rate + lane]
    turn(workspace, at.PREDICTED.phi, at.PREDICTED_ROTATION.xx)


@kernel
def thrust_lag(workspace: np.ndarray, time: float) -> None:
    """Set THRUST_MID and SIDE_THRUST_MID: the lagged throttles after `time` (s) at the present commands (M9.1)."""
    for lane in range(LANES):
        left = workspace[row(at.THRUST_LEFT) + lane]
        throttle = workspace[row(at.THROTTLE) + lane] * left
        aside = workspace[row(at.SIDE_THROTTLE) + lane] * left
        fade = exp_negative(-time / workspace[row(at.THRUST_LAG) + lane])
        workspace[row(at.THRUST_MID) + lane] = throttle + (workspace[row(at.THRUST) + lane] - throttle) * fade
        workspace[row(at.SIDE_THRUST_MID) + lane] = aside + (workspace[row(at.SIDE_THRUST) + lane] - aside) * fade


@kernel
def to_start(workspace: np.ndarray, counts: at.PartCounts) -> None:
    """Set everything at MID that `evaluate` reads to its value at the start of the step."""
    copy_rows(workspace, at.MID.first, at.STATE.first, at.MOTION.width)
    copy_rows(workspace, at.THRUST_MID, at.THRUST, at.ONE)
    copy_rows(workspace, at.SIDE_THRUST_MID, at.SIDE_THRUST, at.ONE)
    copy_rows(workspace, at.VOLTAGE_MID, at.VOLTAGE, at.ONE)
    copy_rows(workspace, at.RUDDER_MID, at.RUDDER_LINK, at.ONE)
    turn_rudders(workspace, counts)
    for foil in range(counts.foils):
        place = foil * at.FOIL.width
        copy_rows(workspace, place + at.FOIL.servo_mid, place + at.FOIL.link, at.ONE)
        copy_rows(workspace, place + at.FOIL.downwash_mid, place + at.FOIL.downwash, at.MAX_FOILS)
    for strip in range(counts.strips):
        place = strip * at.STRIP.width
        copy_rows(workspace, place + at.STRIP.lag_mid, place + at.STRIP.lag, at.ONE)


@kernel
def servos_half(workspace: np.ndarray, commands: np.ndarray, counts: at.PartCounts, half: Span, density: float) -> None:
    """Advance every servo by half a step. density in kg/m3, for the hinge moments."""
    reach_back(workspace, half.ticks, half.tick_share, half.length / half.tick_share)
    for foil in range(counts.foils):
        place = foil * at.FOIL.width
        hold(workspace, place, density)
        move_half(workspace, place + at.FOIL.servo.angle, place + at.FOIL.moved_by.first, commands[foil], half.length)
        if counts.wands > 0:
            lead(workspace, place)
        slack(workspace, place + at.FOIL.link, place + at.FOIL.servo.angle, place + at.FOIL.moved_by.first)
    let_go(workspace)
    move_half(workspace, at.RUDDER.angle, at.RUDDER_SERVO.first, commands[counts.foils], half.length)
    slack(workspace, at.RUDDER_LINK, at.RUDDER.angle, at.RUDDER_SERVO.first)
    for i in range(counts.rudder_servos):
        place, own = i * at.OWN_SERVO.width, commands[counts.foils + 1 + i]
        move_half(workspace, place + at.OWN_SERVO.angle, place + at.OWN_SERVO.moved_by.first, own, half.length)
        slack(workspace, place + at.OWN_SERVO.link, place + at.OWN_SERVO.angle, place + at.OWN_SERVO.moved_by.first)


@kernel
def stop_runaways(workspace: np.ndarray) -> None:
    """End the flight of every lane whose rates have run away, and mark it BROKEN."""
    for lane in range(LANES):
        workspace[row(at.SCRATCH) + lane] = 0.0
    for i in range(at.MOTION.width):
        rate = row(at.RATE.first + i)
        for lane in range(LANES):
            workspace[row(at.SCRATCH) + lane] += abs(workspace[rate + lane])
    for lane in range(LANES):
        alive = workspace[row(at.ALIVE) + lane]
        runs = alive if not workspace[row(at.SCRATCH) + lane] < RUNAWAY else 0.0
        workspace[row(at.ALIVE) + lane] = alive - runs
        workspace[row(at.BROKEN) + lane] += runs


@kernel
def move_on(workspace: np.ndarray, step: float) -> None:
    """Advance the STATE by a whole step (s) with the RATE, in the lanes that fly.

    The next step corrects the rounding error of this one (M12.3). Without it, single precision would lose small steps of a
    long distance.
    """
    for i in range(at.MOTION.width):
        state = row(at.STATE.first + i)
        rate = row(at.RATE.first + i)
        rounded = row(at.ROUNDED.first + i)
        for lane in range(LANES):
            before = workspace[state + lane]
            gained = step * workspace[rate + lane] - workspace[rounded + lane]
            after = before + gained
            flies = workspace[row(at.ALIVE) + lane] > 0.0
            workspace[rounded + lane] = (after - before) - gained if flies else workspace[rounded + lane]
            workspace[state + lane] = after if flies else before


@kernel
def finish(workspace: np.ndarray, counts: at.PartCounts, step: float) -> None:
    """Advance from the start to the end of the step (s) with the rates of its middle, in the lanes that fly; thrust too.

    A lane whose rates have run away ends its flight, BROKEN, at its last good state.
    """
    thrust_lag(workspace, step)
    stop_runaways(workspace)
    move_on(workspace, step)
    copy_rows(workspace, at.THRUST, at.THRUST_MID, at.ONE)
    copy_rows(workspace, at.SIDE_THRUST, at.SIDE_THRUST_MID, at.ONE)
    copy_rows(workspace, at.VOLTAGE, at.VOLTAGE_MID, at.ONE)
    for foil in range(counts.foils):
        place = foil * at.FOIL.width
        copy_rows(workspace, place + at.FOIL.downwash, place + at.FOIL.downwash_mid, at.MAX_FOILS)
    for strip in range(counts.strips):
        place = strip * at.STRIP.width
        copy_rows(workspace, place + at.STRIP.lag, place + at.STRIP.lag_mid, at.ONE)


@kernel
def ventilate_struts(workspace: np.ndarray, struts: int, step: float) -> None:
    """Ventilate struts at a large side angle. Air leaves once the angle has stayed under half of that for the wash-out time.

    step in s. M11.2.
    """
    for strut in range(struts):
        s = row(strut * at.STRUT.width)
        for lane in range(LANES):
            angle = workspace[s + row(at.STRUT.angle) + lane]
            most = workspace[row(at.STRUT_VENTILATION.angle) + lane]
            calm = workspace[s + row(at.STRUT.washing) + lane] + step if angle < 0.5 * most else 0.0
            washed = calm >= workspace[row(at.STRUT_VENTILATION.washout) + lane] * workspace[row(at.TIME_SCALE) + lane]
            still = 0.0 if washed else workspace[s + row(at.STRUT.ventilated) + lane]
            workspace[s + row(at.STRUT.washing) + lane] = calm
            workspace[s + row(at.STRUT.ventilated) + lane] = 1.0 if angle > most else still


@kernel
def air_over(workspace: np.ndarray, foil: int, struts: int) -> None:
    """Set SCRATCH: 1 where a strut of this foil is ventilated, else 0."""
    for lane in range(LANES):
        workspace[row(at.SCRATCH) + lane] = 0.0
    this = alike(workspace, foil)
    for strut in range(struts):
        s = row(strut * at.STRUT.width)
        for lane in range(LANES):
            carries = workspace[s + row(at.STRUT.foil) + lane] == this
            air = workspace[s + row(at.STRUT.ventilated) + lane] if carries else 0.0
            workspace[row(at.SCRATCH) + lane] = max(workspace[row(at.SCRATCH) + lane], air)


@kernel
def ventilate(workspace: np.ndarray, foils: int, struts: int, step: float) -> None:
    """Ventilate a loaded foil that is shallow or under a ventilated strut. The air leaves after a while deep under water.

    M11.1. Sets the lift factor, weed included. step in s; wash-out times are scaled by TIME_SCALE.
    """
    for foil in range(foils):
        f = row(foil * at.FOIL.width)
        air_over(workspace, foil, struts)
        for lane in range(LANES):
            piped = workspace[row(at.SCRATCH) + lane] > 0.0
            chords = 0.0 if piped else workspace[f + row(at.FOIL.tip_depth) + lane] / workspace[f + row(at.FOIL.chord) + lane]
            deep = chords > workspace[f + row(at.FOIL.air.rewet_depth) + lane]
            washing = workspace[f + row(at.FOIL.washing) + lane] + step if deep else 0.0
            washed = washing >= workspace[f + row(at.FOIL.air.washout) + lane] * workspace[row(at.TIME_SCALE) + lane]
            loaded = workspace[f + row(at.FOIL.loaded) + lane] > workspace[f + row(at.FOIL.air.angle) + lane]
            caught = loaded and chords < workspace[f + row(at.FOIL.air.depth) + lane]
            still = 0.0 if deep and washed else workspace[f + row(at.FOIL.ventilated) + lane]
            ventilated = 1.0 if caught else still
            workspace[f + row(at.FOIL.washing) + lane] = washing
            workspace[f + row(at.FOIL.ventilated) + lane] = ventilated
            left = workspace[f + row(at.FOIL.air.lift_left) + lane] if ventilated > 0.0 else 1.0
            workspace[f + row(at.FOIL.lift_factor) + lane] = left * workspace[f + row(at.FOIL.weed_lift) + lane]


@kernel
def half_way(workspace: np.ndarray, half: float) -> None:
    """Set MID half a step (s) on from the start, with the rates of the start; thrust too. Servos do not move."""
    for i in range(at.MOTION.width):
        mid = row(at.MID.first + i)
        state = row(at.STATE.first + i)
        rate = row(at.RATE.first + i)
        for lane in range(LANES):
            workspace[mid + lane] = workspace[state + lane] + half * workspace[rate + lane]
    thrust_lag(workspace, half)


@kernel
def step_craft(workspace: np.ndarray, commands: np.ndarray, counts: at.PartCounts, step: Span, density: float) -> None:
    """Advance every lane by one step in the sea sampled for it; MID and RATE are then those of the middle (M12.2).

    density in kg/m3.
    """
    first = Span(step.ticks, 0.5 * step.tick_share, 0.5 * step.length)
    second = Span(step.ticks + first.tick_share, first.tick_share, first.length)
    to_start(workspace, counts)
    take_speed(workspace, counts.foils, first.length)
    evaluate_again(workspace, counts, density, first.length)
    half_way(workspace, first.length)
    move_wands(workspace, counts.wands, at.MID.first, at.MID_STEP, first.length)
    servos_half(workspace, commands, counts, first, density)
    for foil in range(counts.foils):
        place = foil * at.FOIL.width
        copy_rows(workspace, place + at.FOIL.servo_mid, place + at.FOIL.link, at.ONE)
    copy_rows(workspace, at.RUDDER_MID, at.RUDDER_LINK, at.ONE)
    turn_rudders(workspace, counts)
    evaluate_again(workspace, counts, density, step.length)
    finish(workspace, counts, step.length)
    move_wands(workspace, counts.wands, at.STATE.first, at.END_STEP, second.length)
    servos_half(workspace, commands, counts, second, density)
    ventilate_struts(workspace, counts.struts, step.length)
    ventilate(workspace, counts.foils, counts.struts, step.length)

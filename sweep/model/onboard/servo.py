"""Servos: second order, with a speed limit and a travel limit, solved exactly over half a step."""

from __future__ import annotations

import math

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel
from sweep.model.elementary import clip
from sweep.model.kernels.frame import copy_rows
from sweep.model.layout import row

RING = 64  # control ticks whose commands are stored; a power of two
ALMOST = 1e-5  # of a tick: a time this little before it counts as reached, as delays are rounded (single precision: 4e-6)


def transition(bandwidth: float, damping: float, time: float) -> np.ndarray:
    """The transition matrix of (angle - command, speed) over a time (s) under a constant command (M13.2).

    bandwidth in rad/s; damping ratio below, at or above 1. Returns a11, a12, a21, a22.
    """
    eigenvalues = np.roots([1.0, 2.0 * damping * bandwidth, bandwidth * bandwidth]).astype(complex)
    first, second = eigenvalues
    if abs(first - second) < 1e-6 * bandwidth:  # critical damping: separate the roots a little to avoid a division by zero
        second = first * (1.0 + 1e-5)
    e1, e2 = np.exp(first * time), np.exp(second * time)
    gap = first - second
    terms = np.array(
        [
            (first * e2 - second * e1) / gap,
            (e1 - e2) / gap,
            first * second * (e2 - e1) / gap,
            (first * e1 - second * e2) / gap,
        ]
    )
    return np.real(terms)


@kernel
def reach_back(workspace: np.ndarray, ticks: float, share: float, period: float) -> None:
    """Find the delayed commands that act on the servos over a span of `share` ticks from `ticks` control ticks on (M13.3).

    Sets COMMAND_TICK, the tick of the newer of two commands, and COMMAND_NEWER, the share of the span over which it acts. The
    span is at most one tick. period: of control ticks, s.
    """
    for lane in range(LANES):
        end = ticks - workspace[row(at.DELAY) + lane] / period + share
        tick = math.floor(end + ALMOST)
        newer = end - tick
        newer = newer if newer > 0.0 else 0.0
        workspace[row(at.COMMAND_TICK) + lane] = tick
        workspace[row(at.COMMAND_NEWER) + lane] = (newer if newer < share else share) / share


@kernel
def take_command(workspace: np.ndarray, commands: np.ndarray) -> None:
    """Set COMMANDED: the mean command over the span of `reach_back`.

    commands: (RING, lanes), command k at row k mod RING.
    """
    first = workspace[row(at.COMMAND_TICK)]
    alike = 0
    for lane in range(LANES):
        alike += workspace[row(at.COMMAND_TICK) + lane] == first
    if alike == LANES:
        newer = commands[int(first) & (RING - 1)]
        older = commands[(int(first) - 1) & (RING - 1)]
        for lane in range(LANES):
            workspace[row(at.COMMAND_AFTER) + lane] = newer[lane]
            workspace[row(at.COMMAND_BEFORE) + lane] = older[lane]
    else:  # delays differ: each lane looks up its own command
        for lane in range(LANES):
            tick = int(workspace[row(at.COMMAND_TICK) + lane])
            workspace[row(at.COMMAND_AFTER) + lane] = commands[tick & (RING - 1), lane]
            workspace[row(at.COMMAND_BEFORE) + lane] = commands[(tick - 1) & (RING - 1), lane]
    for lane in range(LANES):
        share = workspace[row(at.COMMAND_NEWER) + lane]
        after, before = workspace[row(at.COMMAND_AFTER) + lane], workspace[row(at.COMMAND_BEFORE) + lane]
        workspace[row(at.COMMANDED) + lane] = share * after + (1.0 - share) * before


@kernel
def hold(workspace: np.ndarray, slot: int, density: float) -> None:
    """Set SERVO_AT_WORK.held: 1 if a foil's servo cannot move, being stuck or with a hinge moment over its torque (M13.5).

    Hinge moment, N m: dynamic pressure x chord x area x the sum of four terms: a constant, and terms in the lift coefficient,
    the effective angle and the servo's angle; see `flap.hinge_terms`. slot: where the foil's row begins; density in kg/m3.
    """
    foil = row(slot)
    for lane in range(LANES):
        u = workspace[row(at.MID.u) + lane]
        load = (
            workspace[foil + row(at.FOIL.hinge.constant) + lane]
            + workspace[foil + row(at.FOIL.lift_mean) + lane] * workspace[foil + row(at.FOIL.hinge.by_lift) + lane]
        )
        load += (
            workspace[foil + row(at.FOIL.turned) + lane] * workspace[foil + row(at.FOIL.hinge.by_turned) + lane]
            + workspace[foil + row(at.FOIL.servo_mid) + lane] * workspace[foil + row(at.FOIL.hinge.by_angle) + lane]
        )
        chord = workspace[foil + row(at.FOIL.chord) + lane]
        moment = 0.5 * density * u * u * chord * chord * workspace[foil + row(at.FOIL.span) + lane] * load
        over = abs(moment) > workspace[foil + row(at.FOIL.moved_by.torque) + lane]
        held = 1.0 if over else 0.0
        workspace[row(at.SERVO_AT_WORK.held) + lane] = 1.0 if workspace[foil + row(at.FOIL.stuck) + lane] > 0.0 else held


@kernel
def slack(workspace: np.ndarray, link_slot: int, angle_slot: int, servo: int) -> None:
    """Backlash: a foil or rudder follows its servo once the slack of the linkage is taken up (M13.4).

    link_slot: slot of its angle; angle_slot: of the servo's; servo: of the servo's constants.
    """
    link, turned, constants = row(link_slot), row(angle_slot), row(servo)
    for lane in range(LANES):
        half = 0.5 * workspace[constants + row(at.SERVO_CONSTANTS.backlash) + lane]
        angle = workspace[turned + lane]
        workspace[link + lane] = clip(workspace[link + lane], angle - half, angle + half)


@kernel
def turn_rudders(workspace: np.ndarray, counts: at.PartCounts) -> None:
    """Turn the struts and rudders that servos beside the first rudder's move, as far as these have turned (M7.8)."""
    if counts.rudder_servos == 0:
        return
    for strut in range(counts.struts):
        s = row(strut * at.STRUT.width)
        for lane in range(LANES):
            own = row(int(workspace[s + row(at.STRUT.own_servo) + lane]) * at.OWN_SERVO.width)
            turned = workspace[own + row(at.OWN_SERVO.link) + lane]
            workspace[s + row(at.STRUT.own_angle) + lane] = workspace[s + row(at.STRUT.steers_own) + lane] * turned


@kernel
def let_go(workspace: np.ndarray) -> None:
    """Clear SERVO_AT_WORK.held for the rudders' servos, which are never stuck."""
    for lane in range(LANES):
        workspace[row(at.SERVO_AT_WORK.held) + lane] = 0.0


@kernel
def move_half(workspace: np.ndarray, angle_slot: int, servo: int, commands: np.ndarray, half: float) -> None:
    """Advance a servo's angle and speed by half a step (s). Call after `reach_back` and `hold` or `let_go`.

    angle_slot: slot of the angle, with the speed in the next; servo: slot of its constants.
    """
    take_command(workspace, commands)
    copy_rows(workspace, at.SERVO_AT_WORK.first, angle_slot, at.SERVO_STATE.width)
    move_at_work(workspace, servo, half)
    copy_rows(workspace, angle_slot, at.SERVO_AT_WORK.first, at.SERVO_STATE.width)


@kernel
def move_at_work(workspace: np.ndarray, servo: int, half: float) -> None:
    """Advance the servo at work by half a step (s; M13.2). servo: slot of its constants."""
    s = row(servo)
    for lane in range(LANES):
        command = workspace[row(at.COMMANDED) + lane]
        angle = workspace[row(at.SERVO_AT_WORK.angle) + lane]
        speed = workspace[row(at.SERVO_AT_WORK.speed) + lane]
        held = workspace[row(at.SERVO_AT_WORK.held) + lane] > 0.0
        rate = workspace[s + row(at.SERVO_CONSTANTS.rate) + lane]
        travel = workspace[s + row(at.SERVO_CONSTANTS.travel) + lane]
        off = angle - command
        moved = (
            command
            + workspace[s + row(at.SERVO_CONSTANTS.transition.angle_by_angle) + lane] * off
            + workspace[s + row(at.SERVO_CONSTANTS.transition.angle_by_speed) + lane] * speed
        )
        new_speed = (
            workspace[s + row(at.SERVO_CONSTANTS.transition.speed_by_angle) + lane] * off
            + workspace[s + row(at.SERVO_CONSTANTS.transition.speed_by_speed) + lane] * speed
        )
        moved = clip(moved, angle - rate * half, angle + rate * half)
        workspace[row(at.SERVO_AT_WORK.angle) + lane] = angle if held else clip(moved, -travel, travel)
        workspace[row(at.SERVO_AT_WORK.speed) + lane] = 0.0 if held else clip(new_speed, -rate, rate)

"""Servos: second order, with a speed limit and a travel limit, solved exactly over half a step."""

from __future__ import annotations

import math

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import clip
from sweep.model.kernels.frame import copy_rows

RING = 64  # control ticks that are remembered; a power of two


def transition(bandwidth: float, damping: float, time: float) -> np.ndarray:
    """The four terms that carry (angle - command, speed) over a time (s) under a constant command.

    bandwidth in rad/s; damping as a share of critical (under, at or over 1). Returns a11, a12, a21, a22.
    """
    eigenvalues = np.roots([1.0, 2.0 * damping * bandwidth, bandwidth * bandwidth]).astype(complex)
    first, second = eigenvalues
    if abs(first - second) < 1e-6 * bandwidth:  # critical: part them a little rather than divide by nothing
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
    """Which commands the servos feel over a span that begins `ticks` control ticks after the start and is `share` ticks long.

    COMMAND_TICK: the tick of the newer one; COMMAND_NEWER: for what share of the span (at most one tick) it is felt.
    period: of the control code, s.
    """
    for lane in range(LANES):
        end = ticks - workspace[at.DELAY * LANES + lane] / period + share
        tick = math.floor(end + 1e-9)
        newer = end - tick
        newer = newer if newer > 0.0 else 0.0
        workspace[at.COMMAND_TICK * LANES + lane] = tick
        workspace[at.COMMAND_NEWER * LANES + lane] = (newer if newer < share else share) / share


@kernel
def take_command(workspace: np.ndarray, commands: np.ndarray) -> None:
    """COMMANDED: mean of the command over the span that `reach_back` looked at.

    commands: (RING, lanes), command k at row k mod RING.
    """
    for lane in range(LANES):
        tick = int(workspace[at.COMMAND_TICK * LANES + lane])
        newer = workspace[at.COMMAND_NEWER * LANES + lane]
        workspace[at.COMMANDED * LANES + lane] = (
            newer * commands[tick & (RING - 1), lane] + (1.0 - newer) * commands[(tick - 1) & (RING - 1), lane]
        )


@kernel
def hold(workspace: np.ndarray, foil: int, density: float) -> None:
    """Third slot of SERVO_AT_WORK: whether a foil's servo cannot move, stuck or with a hinge moment over its torque.

    Hinge moment, N m: dynamic pressure x chord x area x (constant + by lift coefficient + by what the angle counts for + by the
    angle), see `flap.hinge_terms`. foil: index of lane 0 of the foil's row.
    """
    for lane in range(LANES):
        f = foil + lane
        u = workspace[(at.MID + 6) * LANES + lane]
        load = workspace[f + at.HINGE * LANES] + workspace[f + at.LIFT_MEAN * LANES] * workspace[f + (at.HINGE + 1) * LANES]
        load += (
            workspace[f + at.TURNED * LANES] * workspace[f + (at.HINGE + 2) * LANES]
            + workspace[f + at.SERVO_MID * LANES] * workspace[f + (at.HINGE + 3) * LANES]
        )
        chord = workspace[f + at.CHORD * LANES]
        moment = 0.5 * density * u * u * chord * chord * workspace[f + at.SPAN * LANES] * load
        over = abs(moment) > workspace[(at.SERVO + 7) * LANES + lane]
        held = 1.0 if over else 0.0
        workspace[(at.SERVO_AT_WORK + 2) * LANES + lane] = 1.0 if workspace[f + at.STUCK * LANES] > 0.0 else held


@kernel
def slack(workspace: np.ndarray, foil: int) -> None:
    """LINK: the foil follows its servo once the slack of the linkage is taken up. foil: index of lane 0 of its row."""
    for lane in range(LANES):
        half = 0.5 * workspace[(at.SERVO + 8) * LANES + lane]
        angle = workspace[foil + at.SERVO_ANGLE * LANES + lane]
        workspace[foil + at.LINK * LANES + lane] = clip(workspace[foil + at.LINK * LANES + lane], angle - half, angle + half)


@kernel
def move_half(
    workspace: np.ndarray, angle_slot: int, servo: int, commands: np.ndarray, half: float, density: float, foil: int
) -> None:
    """Carry angle and speed (two neighbouring slots) over half a step (s), after `reach_back`.

    servo: slot of its constants; foil: index of lane 0 of the row of the foil that it moves, negative for the rudder.
    """
    take_command(workspace, commands)
    copy_rows(workspace, at.SERVO_AT_WORK, angle_slot, at.SERVO_STATES)
    if foil >= 0:
        hold(workspace, foil, density)
    else:
        for lane in range(LANES):
            workspace[(at.SERVO_AT_WORK + 2) * LANES + lane] = 0.0
    if servo == at.SERVO:
        move_at_work(workspace, at.SERVO, half)
    else:
        move_at_work(workspace, at.RUDDER_SERVO, half)
    copy_rows(workspace, angle_slot, at.SERVO_AT_WORK, at.SERVO_STATES)


@part
def move_at_work(workspace: np.ndarray, servo: int, half: float) -> None:
    """Carry the servo at work over half a step (s); servo: slot of its constants."""
    a = at.SERVO_AT_WORK * LANES
    s = servo * LANES
    for lane in range(LANES):
        command = workspace[at.COMMANDED * LANES + lane]
        angle = workspace[a + lane]
        speed = workspace[a + LANES + lane]
        held = workspace[a + 2 * LANES + lane] > 0.0
        rate = workspace[s + 4 * LANES + lane]
        travel = workspace[s + 5 * LANES + lane]
        off = angle - command
        moved = command + workspace[s + lane] * off + workspace[s + LANES + lane] * speed
        new_speed = workspace[s + 2 * LANES + lane] * off + workspace[s + 3 * LANES + lane] * speed
        moved = clip(moved, angle - rate * half, angle + rate * half)
        workspace[a + lane] = angle if held else clip(moved, -travel, travel)
        workspace[a + LANES + lane] = 0.0 if held else clip(new_speed, -rate, rate)

"""Servos: second order, with a speed limit and a travel limit, solved exactly over half a step."""

from __future__ import annotations

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import clip
from sweep.model.layout import row

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
def delayed_command(commands: np.ndarray, lane: int, begin: float, share: float) -> float:
    """Mean of the command over a span that begins `begin` ticks after the first one and is `share` ticks long (at most 1).

    commands: (RING, lanes), command k at row k mod RING.
    """
    end = begin + share
    tick = int(np.floor(end + 1e-9))
    newer = min(max(end - tick, 0.0), share) / share
    return newer * commands[tick & (RING - 1), lane] + (1.0 - newer) * commands[(tick - 1) & (RING - 1), lane]


@part
def holds(workspace: np.ndarray, foil: int, servo: int, lane: int, density: float) -> bool:
    """Whether a foil's servo cannot move: it is stuck, or the hinge moment is over its torque.

    Hinge moment: dynamic pressure x chord x area x (moment coefficient + lift coefficient x pivot offset in chords), N m.
    foil: index of lane 0 of the foil's row.
    """
    f = foil + lane
    u = workspace[(at.MID + 6) * LANES + lane]
    pitching = (
        workspace[f + at.PITCHING * LANES] + workspace[f + at.LIFT_MEAN * LANES] * workspace[f + (at.PITCHING + 1) * LANES]
    )
    chord = workspace[f + at.CHORD * LANES]
    moment = 0.5 * density * u * u * chord * chord * workspace[f + at.SPAN * LANES] * pitching
    return workspace[f + at.STUCK * LANES] > 0.0 or abs(moment) > workspace[servo + 7 * LANES + lane]


@kernel
def slack(workspace: np.ndarray, foil: int) -> None:
    """LINK: the foil follows its servo once the slack of the linkage is taken up. foil: index of lane 0 of its row."""
    for lane in range(LANES):
        half = 0.5 * workspace[(at.SERVO + 8) * LANES + lane]
        angle = workspace[foil + at.SERVO_ANGLE * LANES + lane]
        workspace[foil + at.LINK * LANES + lane] = clip(workspace[foil + at.LINK * LANES + lane], angle - half, angle + half)


@kernel
def move_half(
    workspace: np.ndarray,
    angle_slot: int,
    servo: int,
    commands: np.ndarray,
    ticks: float,
    tick_share: float,
    half: float,
    density: float,
    foil: int,
) -> None:
    """Carry angle and speed (two neighbouring slots) over half a step.

    servo: slot of its constants; ticks: control ticks since the start; tick_share: half a step in ticks; half: in s;
    foil: index of lane 0 of the row of the foil that it moves, negative for the rudder.
    """
    a = row(angle_slot)
    s = row(servo)
    period = half / tick_share
    for lane in range(LANES):
        late = workspace[at.DELAY * LANES + lane] / period
        workspace[at.COMMANDED * LANES + lane] = delayed_command(commands, lane, ticks - late, tick_share)
    for lane in range(LANES):
        command = workspace[at.COMMANDED * LANES + lane]
        angle = workspace[a + lane]
        speed = workspace[a + LANES + lane]
        rate = workspace[s + 4 * LANES + lane]
        travel = workspace[s + 5 * LANES + lane]
        off = angle - command
        moved = command + workspace[s + lane] * off + workspace[s + LANES + lane] * speed
        new_speed = workspace[s + 2 * LANES + lane] * off + workspace[s + 3 * LANES + lane] * speed
        moved = clip(moved, angle - rate * half, angle + rate * half)
        held = foil >= 0 and holds(workspace, foil, s, lane, density)
        workspace[a + lane] = angle if held else clip(moved, -travel, travel)
        workspace[a + LANES + lane] = 0.0 if held else clip(new_speed, -rate, rate)

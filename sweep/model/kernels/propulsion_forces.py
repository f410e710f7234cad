"""Thrust and power of one propeller, or of two side by side, and the air that it may suck."""

from __future__ import annotations

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import clip
from sweep.model.kernels.frame import add_force, point_depth
from sweep.model.physics.propulsion import cubic, ideal_power, limited_speed, shaft_power

PROPELLER_KINDS = ("simple", "curves")
CURVES = 1  # the place of its kind

_V = (at.MID + 6) * LANES


@part
def propeller_share(workspace: np.ndarray, lane: int, side: float) -> float:
    """Share of its thrust that a propeller keeps: it sucks air as its hub comes within a radius of the surface (judgement).

    side: -1 to port, +1 to starboard of the craft's middle.
    """
    hub = point_depth(
        workspace,
        lane,
        workspace[at.THRUST_X * LANES + lane],
        workspace[at.THRUST_Y * LANES + lane] + side * workspace[at.HALF_SPACING * LANES + lane],
        workspace[at.THRUST_Z * LANES + lane],
    )
    depth = hub + workspace[at.PROPELLER_SEA * LANES + lane]
    return clip(depth / workspace[at.PROPELLER_RADIUS * LANES + lane], 0.0, 1.0)


@part
def throttle_of(workspace: np.ndarray, lane: int, side: float) -> float:
    """Throttle as the propeller on this side feels it; 0 ... 1."""
    return clip(
        workspace[at.THRUST_MID * LANES + lane] - side * workspace[at.SIDE_THRUST_MID * LANES + lane],
        0.0,
        1.0,
    )


@part
def push(workspace: np.ndarray, lane: int, side: float, thrust: float, power: float) -> None:
    """Gather the thrust (N) of the propeller on this side; POWER grows by its battery power (W)."""
    x = workspace[at.THRUST_X * LANES + lane]
    y = workspace[at.THRUST_Y * LANES + lane] + side * workspace[at.HALF_SPACING * LANES + lane]
    z = workspace[at.THRUST_Z * LANES + lane]
    add_force(workspace, lane, x, y, z, thrust, 0.0, 0.0)
    workspace[at.POWER * LANES + lane] += power / workspace[at.EFFICIENCY * LANES + lane]


@kernel
def drive(workspace: np.ndarray, kind: int, density: float) -> None:
    """Thrust of the propellers and POWER from the battery. A single propeller is two halves at one place.

    kind: index in PROPELLER_KINDS.
    """
    for lane in range(LANES):
        workspace[at.POWER * LANES + lane] = workspace[at.ELECTRONICS * LANES + lane]
    for half in range(2):
        side = 2.0 * half - 1.0
        if kind == CURVES:
            turn_propeller(workspace, side, density)
        else:
            pull(workspace, side)


@kernel
def pull(workspace: np.ndarray, side: float) -> None:
    """A thrust that falls with speed in a straight line, at the power of an ideal propeller over an efficiency."""
    for lane in range(LANES):
        u = workspace[_V + lane]
        thrust = (
            0.5
            * workspace[at.STATIC_THRUST * LANES + lane]
            * throttle_of(workspace, lane, side)
            * (1.0 - u / workspace[at.NO_THRUST_SPEED * LANES + lane])
            * propeller_share(workspace, lane, side)
        )
        push(workspace, lane, side, thrust, ideal_power(thrust, u, workspace[at.DISC * LANES + lane]))


@kernel
def turn_propeller(workspace: np.ndarray, side: float, density: float) -> None:
    """Thrust and torque by the propeller's curves, at a shaft speed that follows the throttle within the motor's power."""
    for lane in range(LANES):
        u = workspace[_V + lane]
        diameter = workspace[at.PROPELLER_DIAMETER * LANES + lane]
        most = workspace[at.MOST_ADVANCE * LANES + lane]
        kt0 = workspace[at.THRUST_CURVE * LANES + lane]
        kt1 = workspace[(at.THRUST_CURVE + 1) * LANES + lane]
        kt2 = workspace[(at.THRUST_CURVE + 2) * LANES + lane]
        kt3 = workspace[(at.THRUST_CURVE + 3) * LANES + lane]
        kq0 = workspace[at.TORQUE_CURVE * LANES + lane]
        kq1 = workspace[(at.TORQUE_CURVE + 1) * LANES + lane]
        kq2 = workspace[(at.TORQUE_CURVE + 2) * LANES + lane]
        kq3 = workspace[(at.TORQUE_CURVE + 3) * LANES + lane]
        limit = workspace[at.SHAFT_LIMIT * LANES + lane]
        wanted = workspace[at.TOP_SPEED * LANES + lane] * throttle_of(workspace, lane, side)
        turns = limited_speed(wanted, u, diameter, density, most, limit, kq0, kq1, kq2, kq3)
        advance = clip(u / (turns * diameter), 0.0, most)
        share = propeller_share(workspace, lane, side) * workspace[at.PROPELLER_COUNT * LANES + lane] * 0.5
        thrust = share * density * turns * turns * diameter**4 * cubic(advance, kt0, kt1, kt2, kt3)
        power = share * shaft_power(turns, diameter, density, cubic(advance, kq0, kq1, kq2, kq3))
        push(workspace, lane, side, thrust, power if power > 0.0 else 0.0)

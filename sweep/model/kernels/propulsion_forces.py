"""Thrust and power of one propeller or of two side by side, with the thrust lost when a propeller draws air."""

from __future__ import annotations

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import clip, exp_negative
from sweep.model.kernels.frame import Triple, add_force, point_depth, vector
from sweep.model.layout import alike, row
from sweep.model.physics.propulsion import (
    LEAST_TURNS,
    NEWTON_STEPS,
    Curve,
    Screw,
    cubic,
    ideal_power,
    loaded_voltage,
    shaft_power,
    slowed,
)

PROPELLER_KINDS = ("simple", "curves")
CURVES = 1  # index in PROPELLER_KINDS


@part
def hub(workspace: np.ndarray, lane: int, side: float) -> Triple:
    """Position of a propeller hub, body axes, m. side: -1 port, +1 starboard of the centreline."""
    x, y, z = vector(workspace, row(at.THRUST_PLACE.x) + lane)
    return x, y + side * workspace[row(at.HALF_SPACING) + lane], z


@part
def propeller_share(workspace: np.ndarray, lane: int, side: float) -> float:
    """Share of its thrust that a propeller keeps: it draws air once its hub is within a radius of the surface (judgement).

    M9.2.
    """
    depth = point_depth(workspace, lane, hub(workspace, lane, side)) + workspace[row(at.PROPELLER_SEA) + lane]
    return clip(depth / workspace[row(at.PROPELLER_RADIUS) + lane], 0.0, 1.0)


@part
def throttle_of(workspace: np.ndarray, lane: int, side: float) -> float:
    """Lagged throttle of the propeller on this side, 0 ... 1 (M9.1)."""
    return clip(
        workspace[row(at.THRUST_MID) + lane] - side * workspace[row(at.SIDE_THRUST_MID) + lane],
        0.0,
        1.0,
    )


@part
def push(workspace: np.ndarray, lane: int, side: float, thrust: float, power: float) -> None:
    """Add the thrust (N) of the propeller on this side to the forces, and its battery power (W) to POWER."""
    add_force(workspace, lane, hub(workspace, lane, side), (thrust, 0.0, 0.0))
    workspace[row(at.POWER) + lane] += power / workspace[row(at.EFFICIENCY) + lane]


@kernel
def drive(workspace: np.ndarray, kind: int, density: float, lag_time: float) -> None:
    """Add the thrust of the propellers; set POWER, drawn from the battery. A single propeller is two halves at one place.

    Then let the voltage follow that power for lag_time (s). kind: index in PROPELLER_KINDS; density in kg/m3.
    """
    for lane in range(LANES):
        workspace[row(at.POWER) + lane] = workspace[row(at.ELECTRONICS) + lane]
    for side in (-1.0, 1.0):
        if kind == CURVES:
            turn_propeller(workspace, alike(workspace, side), density)
        else:
            pull(workspace, alike(workspace, side))
    if workspace[row(at.SAGS)] > 0.0:
        sag(workspace, lag_time)


@kernel
def sag(workspace: np.ndarray, lag_time: float) -> None:
    """Advance the voltage by lag_time (s) towards what the battery has at this power, as the thrust lags (M9.8, M9.9)."""
    for lane in range(LANES):
        rest = workspace[row(at.SAG.rest) + lane]
        voltage = loaded_voltage(rest, workspace[row(at.SAG.resistance) + lane], workspace[row(at.POWER) + lane])
        goal = voltage / workspace[row(at.SAG.given) + lane]
        fade = exp_negative(-lag_time / workspace[row(at.THRUST_LAG) + lane])
        workspace[row(at.VOLTAGE_MID) + lane] = goal + (workspace[row(at.VOLTAGE) + lane] - goal) * fade


@kernel
def pull(workspace: np.ndarray, side: float) -> None:
    """Thrust that falls linearly with speed; its power is an ideal propeller's over an efficiency (M9.3, M9.4)."""
    for lane in range(LANES):
        u = workspace[row(at.MID.u) + lane]
        voltage = workspace[row(at.VOLTAGE_MID) + lane]
        thrust = (
            0.5
            * workspace[row(at.STATIC_THRUST) + lane]
            * throttle_of(workspace, lane, side)
            * voltage
            * (voltage - u / workspace[row(at.NO_THRUST_SPEED) + lane])
            * propeller_share(workspace, lane, side)
        )
        push(workspace, lane, side, thrust, ideal_power(thrust, u, workspace[row(at.DISC) + lane]))


@part
def curve(workspace: np.ndarray, first: int) -> Curve:
    """Coefficients of a propeller's thrust or torque curve in one lane. first: workspace index of the first coefficient."""
    return (
        workspace[first + row(at.CUBIC.c0)],
        workspace[first + row(at.CUBIC.c1)],
        workspace[first + row(at.CUBIC.c2)],
        workspace[first + row(at.CUBIC.c3)],
    )


@part
def screw_of(workspace: np.ndarray, lane: int) -> Screw:
    """Diameter, largest advance ratio and torque curve of a lane's propeller."""
    return Screw(
        workspace[row(at.PROPELLER_DIAMETER) + lane],
        workspace[row(at.MOST_ADVANCE) + lane],
        curve(workspace, row(at.TORQUE_CURVE.first) + lane),
    )


@kernel
def limit_turns(workspace: np.ndarray, side: float, density: float) -> None:
    """Set SHAFT_TURNS: shaft speed (1/s) that the throttle asks for, within the motor's power (M9.6); see `limited_speed`."""
    for lane in range(LANES):
        most = workspace[row(at.TOP_SPEED) + lane] * workspace[row(at.VOLTAGE_MID) + lane]
        wanted = most * throttle_of(workspace, lane, side)
        workspace[row(at.SHAFT_TURNS) + lane] = wanted if wanted > LEAST_TURNS else LEAST_TURNS
    for _ in range(NEWTON_STEPS):
        for lane in range(LANES):
            turns, u = workspace[row(at.SHAFT_TURNS) + lane], workspace[row(at.MID.u) + lane]
            limit = workspace[row(at.SHAFT_LIMIT) + lane]
            workspace[row(at.SHAFT_TURNS) + lane] = slowed(turns, u, density, screw_of(workspace, lane), limit)


@kernel
def turn_propeller(workspace: np.ndarray, side: float, density: float) -> None:
    """Add the thrust and power from the propeller's thrust and torque curves at SHAFT_TURNS (M9.7)."""
    limit_turns(workspace, side, density)
    for lane in range(LANES):
        screw = screw_of(workspace, lane)
        turns = workspace[row(at.SHAFT_TURNS) + lane]
        advance = clip(workspace[row(at.MID.u) + lane] / (turns * screw.diameter), 0.0, screw.most_advance)
        share = propeller_share(workspace, lane, side) * workspace[row(at.PROPELLER_COUNT) + lane] * 0.5
        pushing = cubic(advance, curve(workspace, row(at.THRUST_CURVE.first) + lane))
        thrust = share * density * turns * turns * screw.diameter**4 * pushing
        power = share * shaft_power(turns, screw.diameter, density, cubic(advance, screw.torque))
        push(workspace, lane, side, thrust, power if power > 0.0 else 0.0)

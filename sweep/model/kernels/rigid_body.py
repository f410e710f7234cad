"""Accelerations of the craft at one state: all forces on it, and the terms of its own momentum.

Every function works on all lanes of the workspace (see `layout`) at the MID state.
"""

from __future__ import annotations

import math

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel
from sweep.model.elementary import clip, logarithm
from sweep.model.kernels.foil_forces import foil_forces, sections_now
from sweep.model.kernels.frame import add_force, kinematics, turn, vector
from sweep.model.kernels.hull_forces import hull_forces, hull_wet
from sweep.model.kernels.propulsion_forces import drive
from sweep.model.kernels.strut_forces import strut_forces
from sweep.model.layout import row
from sweep.model.physics.spectra import GRAVITY

AIR_DENSITY = 1.225  # kg/m3, 15 degC at sea level (ISO 2533)
LEAST_FRICTION_SPEED = 0.5  # m/s
MOST_FRICTION_SPEED = 50.0  # m/s: the friction line takes speeds between the two (judgement)


@kernel
def start(workspace: np.ndarray) -> None:
    """Set the rotation of the MID state, and zero the force sums."""
    turn(workspace, at.MID.phi, at.ROTATION.xx)
    for slot in range(at.FORCE.width):
        f = row(at.FORCE.first + slot)
        for lane in range(LANES):
            workspace[f + lane] = 0.0
    for lane in range(LANES):
        workspace[row(at.HULL_LIFT) + lane] = 0.0


@kernel
def take_speed(workspace: np.ndarray, foils: int, later: float) -> None:
    """Set what goes by Reynolds numbers: the logarithm of speed that friction needs, and the foils' section values.

    The speed is that of the MID state, and `later` seconds on with the last RATE (M12.2).
    """
    for lane in range(LANES):
        foreseen = workspace[row(at.MID.u) + lane] + later * workspace[row(at.RATE.u) + lane]
        ahead = clip(foreseen, LEAST_FRICTION_SPEED, MOST_FRICTION_SPEED)
        workspace[row(at.FRICTION_LOG) + lane] = logarithm(ahead)
    sections_now(workspace, foils)


@kernel
def wind_and_payload(workspace: np.ndarray) -> None:
    """Add the air drag of the craft above the water, and the weight of a payload that is not in its mass properties.

    M10.1, M10.4.
    """
    for lane in range(LANES):
        u = workspace[row(at.MID.u) + lane]
        v = workspace[row(at.MID.v) + lane]
        share = workspace[row(at.WIND_SHARE) + lane]
        over_x = share * workspace[row(at.WIND.x) + lane]
        over_y = share * workspace[row(at.WIND.y) + lane]
        air_x = workspace[row(at.ROTATION.xx) + lane] * over_x + workspace[row(at.ROTATION.yx) + lane] * over_y - u
        air_y = workspace[row(at.ROTATION.xy) + lane] * over_x + workspace[row(at.ROTATION.yy) + lane] * over_y - v
        drag = 0.5 * AIR_DENSITY * workspace[row(at.WINDAGE.area) + lane] * math.sqrt(air_x * air_x + air_y * air_y)
        centre = (workspace[row(at.WINDAGE.x) + lane], 0.0, workspace[row(at.WINDAGE.z) + lane])
        add_force(workspace, lane, centre, (drag * air_x, drag * air_y, 0.0))
        weight = GRAVITY * workspace[row(at.PAYLOAD.mass) + lane]
        x = workspace[row(at.PAYLOAD.x) + lane] - workspace[row(at.CENTRE.x) + lane]
        y = workspace[row(at.PAYLOAD.y) + lane] - workspace[row(at.CENTRE.y) + lane]
        down_x, down_y, down_z = vector(workspace, row(at.ROTATION.zx) + lane)
        add_force(workspace, lane, (x, y, 0.0), (weight * down_x, weight * down_y, weight * down_z))


@kernel
def accelerate(workspace: np.ndarray) -> None:
    """Add weight and the momentum terms of rotating axes; then set RATE, the derivatives of all twelve states (M12.1)."""
    for lane in range(LANES):
        u = workspace[row(at.MID.u) + lane]
        v = workspace[row(at.MID.v) + lane]
        w = workspace[row(at.MID.w) + lane]
        p = workspace[row(at.MID.p) + lane]
        q = workspace[row(at.MID.q) + lane]
        r = workspace[row(at.MID.r) + lane]
        mass = workspace[row(at.MASS) + lane]
        weight = mass * GRAVITY
        ixx = workspace[row(at.INERTIA.xx) + lane]
        iyy = workspace[row(at.INERTIA.yy) + lane]
        izz = workspace[row(at.INERTIA.zz) + lane]
        ixy = workspace[row(at.INERTIA.xy) + lane]
        ixz = workspace[row(at.INERTIA.xz) + lane]
        iyz = workspace[row(at.INERTIA.yz) + lane]
        hx = ixx * p + ixy * q + ixz * r
        hy = ixy * p + iyy * q + iyz * r
        hz = ixz * p + iyz * q + izz * r
        workspace[row(at.FORCE.x) + lane] += weight * workspace[row(at.ROTATION.zx) + lane] - mass * (q * w - r * v)
        workspace[row(at.FORCE.y) + lane] += weight * workspace[row(at.ROTATION.zy) + lane] - mass * (r * u - p * w)
        workspace[row(at.FORCE.z) + lane] += weight * workspace[row(at.ROTATION.zz) + lane] - mass * (p * v - q * u)
        workspace[row(at.FORCE.k) + lane] -= q * hz - r * hy
        workspace[row(at.FORCE.m) + lane] -= r * hx - p * hz
        workspace[row(at.FORCE.n) + lane] -= p * hy - q * hx
    for i in range(at.LOAD.width):
        rate = row(at.RATE.u + i)
        inverse = row(at.INVERSE.first + i * at.INVERSE.width)
        for lane in range(LANES):
            workspace[rate + lane] = (
                workspace[inverse + row(at.LOAD.x) + lane] * workspace[row(at.FORCE.x) + lane]
                + workspace[inverse + row(at.LOAD.y) + lane] * workspace[row(at.FORCE.y) + lane]
                + workspace[inverse + row(at.LOAD.z) + lane] * workspace[row(at.FORCE.z) + lane]
                + workspace[inverse + row(at.LOAD.k) + lane] * workspace[row(at.FORCE.k) + lane]
                + workspace[inverse + row(at.LOAD.m) + lane] * workspace[row(at.FORCE.m) + lane]
                + workspace[inverse + row(at.LOAD.n) + lane] * workspace[row(at.FORCE.n) + lane]
            )
    kinematics(workspace, at.MID.first)


@kernel
def evaluate(workspace: np.ndarray, counts: at.PartCounts, density: float, lag_time: float) -> None:
    """Set RATE at the MID state from all forces; advance the lags by lag_time (s). density in kg/m3."""
    take_speed(workspace, counts.foils, 0.0)
    evaluate_again(workspace, counts, density, lag_time)


@kernel
def evaluate_again(workspace: np.ndarray, counts: at.PartCounts, density: float, lag_time: float) -> None:
    """As `evaluate`, with the Reynolds numbers of the last `take_speed`."""
    start(workspace)
    foil_forces(workspace, counts, density, lag_time)
    strut_forces(workspace, counts.struts, density)
    if hull_wet(workspace, counts.stations):
        hull_forces(workspace, counts.stations, density)
    wind_and_payload(workspace)
    drive(workspace, counts.propeller, density, lag_time)
    accelerate(workspace)

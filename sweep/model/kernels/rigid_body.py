"""The accelerations of the craft at its state of the moment: all forces on it, and its own momentum.

Every function works on all lanes of the workspace (see `layout`) at the MID state.
"""

from __future__ import annotations

import math

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel
from sweep.model.elementary import clip, logarithm
from sweep.model.kernels.foil_forces import foil_forces
from sweep.model.kernels.frame import add_force, kinematics, turn
from sweep.model.kernels.hull_forces import hull_forces, hull_wet
from sweep.model.kernels.propulsion_forces import drive
from sweep.model.kernels.strut_forces import strut_forces
from sweep.model.layout import row
from sweep.model.physics.spectra import GRAVITY

AIR_DENSITY = 1.225  # kg/m3, 15 degC at sea level (ISO 2533)
LEAST_FRICTION_SPEED = 0.5  # m/s
MOST_FRICTION_SPEED = 50.0  # m/s: between the two the friction line is asked (judgement)

_R = at.ROTATION * LANES
_V = (at.MID + 6) * LANES
_W = (at.MID + 9) * LANES
_F = at.FORCE * LANES


@kernel
def start(workspace: np.ndarray) -> None:
    """Rotation of the MID state, empty force sums, the logarithm that friction needs."""
    turn(workspace, at.MID + 3, at.ROTATION)
    for slot in range(7):
        f = row(at.FORCE + slot)
        for lane in range(LANES):
            workspace[f + lane] = 0.0
    for lane in range(LANES):
        ahead = clip(workspace[_V + lane], LEAST_FRICTION_SPEED, MOST_FRICTION_SPEED)
        workspace[at.FRICTION_LOG * LANES + lane] = logarithm(ahead)


@kernel
def wind_and_payload(workspace: np.ndarray) -> None:
    """Air drag of the craft above the water, and the weight of a payload that was not there when it was measured."""
    for lane in range(LANES):
        u = workspace[_V + lane]
        v = workspace[_V + LANES + lane]
        share = workspace[at.WIND_SHARE * LANES + lane]
        over_x = share * workspace[at.WIND * LANES + lane]
        over_y = share * workspace[(at.WIND + 1) * LANES + lane]
        air_x = workspace[_R + lane] * over_x + workspace[_R + 3 * LANES + lane] * over_y - u
        air_y = workspace[_R + LANES + lane] * over_x + workspace[_R + 4 * LANES + lane] * over_y - v
        drag = 0.5 * AIR_DENSITY * workspace[at.WINDAGE * LANES + lane] * math.sqrt(air_x * air_x + air_y * air_y)
        x = workspace[(at.WINDAGE + 1) * LANES + lane]
        z = workspace[(at.WINDAGE + 2) * LANES + lane]
        add_force(workspace, lane, x, 0.0, z, drag * air_x, drag * air_y, 0.0)
        weight = GRAVITY * workspace[at.PAYLOAD * LANES + lane]
        x = workspace[(at.PAYLOAD + 1) * LANES + lane] - workspace[at.CENTRE_X * LANES + lane]
        y = workspace[(at.PAYLOAD + 2) * LANES + lane] - workspace[at.CENTRE_Y * LANES + lane]
        fx = weight * workspace[_R + 6 * LANES + lane]
        fy = weight * workspace[_R + 7 * LANES + lane]
        fz = weight * workspace[_R + 8 * LANES + lane]
        add_force(workspace, lane, x, y, 0.0, fx, fy, fz)


@kernel
def accelerate(workspace: np.ndarray) -> None:
    """Weight and the turning body's own momentum; then RATE: the derivatives of all twelve states."""
    for lane in range(LANES):
        u = workspace[_V + lane]
        v = workspace[_V + LANES + lane]
        w = workspace[_V + 2 * LANES + lane]
        p = workspace[_W + lane]
        q = workspace[_W + LANES + lane]
        r = workspace[_W + 2 * LANES + lane]
        mass = workspace[at.MASS * LANES + lane]
        weight = mass * GRAVITY
        ixx = workspace[at.INERTIA * LANES + lane]
        iyy = workspace[(at.INERTIA + 1) * LANES + lane]
        izz = workspace[(at.INERTIA + 2) * LANES + lane]
        ixy = workspace[(at.INERTIA + 3) * LANES + lane]
        ixz = workspace[(at.INERTIA + 4) * LANES + lane]
        iyz = workspace[(at.INERTIA + 5) * LANES + lane]
        hx = ixx * p + ixy * q + ixz * r
        hy = ixy * p + iyy * q + iyz * r
        hz = ixz * p + iyz * q + izz * r
        workspace[_F + lane] += weight * workspace[_R + 6 * LANES + lane] - mass * (q * w - r * v)
        workspace[_F + LANES + lane] += weight * workspace[_R + 7 * LANES + lane] - mass * (r * u - p * w)
        workspace[_F + 2 * LANES + lane] += weight * workspace[_R + 8 * LANES + lane] - mass * (p * v - q * u)
        workspace[_F + 3 * LANES + lane] -= q * hz - r * hy
        workspace[_F + 4 * LANES + lane] -= r * hx - p * hz
        workspace[_F + 5 * LANES + lane] -= p * hy - q * hx
    for i in range(6):
        rate = row(at.RATE + 6 + i)
        inverse = row(at.INVERSE + 6 * i)
        for lane in range(LANES):
            workspace[rate + lane] = (
                workspace[inverse + lane] * workspace[_F + lane]
                + workspace[inverse + LANES + lane] * workspace[_F + LANES + lane]
                + workspace[inverse + 2 * LANES + lane] * workspace[_F + 2 * LANES + lane]
                + workspace[inverse + 3 * LANES + lane] * workspace[_F + 3 * LANES + lane]
                + workspace[inverse + 4 * LANES + lane] * workspace[_F + 4 * LANES + lane]
                + workspace[inverse + 5 * LANES + lane] * workspace[_F + 5 * LANES + lane]
            )
    kinematics(workspace, at.MID, at.ROTATION)


@kernel
def evaluate(workspace: np.ndarray, counts: np.ndarray, density: float, lag_time: float) -> None:
    """Accelerations at the MID state; lags move on by lag_time (s).

    counts: as `fleet.Structure.counts`.
    """
    start(workspace)
    foil_forces(workspace, counts, density, lag_time)
    strut_forces(workspace, counts[2], density)
    if hull_wet(workspace, counts[3]):
        hull_forces(workspace, counts[3], density)
    wind_and_payload(workspace)
    drive(workspace, counts[6], density)
    accelerate(workspace)

"""The craft's axes: rotation, places and velocities of its points, and the sum of forces at its centre of gravity.

Everything stands at the MID state of the workspace (see `layout`). Forces are in body axes, newtons and newton metres.
"""

from __future__ import annotations

import math

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import sine_cosine
from sweep.model.layout import row

LEAST_SPEED = 0.1  # m/s: floor of the forward speed in angles of attack

_R = at.ROTATION * LANES
_V = (at.MID + 6) * LANES
_W = (at.MID + 9) * LANES
_F = at.FORCE * LANES


@kernel
def turn(workspace: np.ndarray, angles: int, rotation: int) -> None:
    """Rotation matrix (body to earth, row by row) of the angles phi, theta, psi in three slots; rad."""
    a = row(angles)
    r = row(rotation)
    for lane in range(LANES):
        sin_phi, cos_phi = sine_cosine(workspace[a + lane])
        sin_theta, cos_theta = sine_cosine(workspace[a + LANES + lane])
        sin_psi, cos_psi = sine_cosine(workspace[a + 2 * LANES + lane])
        workspace[r + lane] = cos_psi * cos_theta
        workspace[r + LANES + lane] = cos_psi * sin_theta * sin_phi - sin_psi * cos_phi
        workspace[r + 2 * LANES + lane] = cos_psi * sin_theta * cos_phi + sin_psi * sin_phi
        workspace[r + 3 * LANES + lane] = sin_psi * cos_theta
        workspace[r + 4 * LANES + lane] = sin_psi * sin_theta * sin_phi + cos_psi * cos_phi
        workspace[r + 5 * LANES + lane] = sin_psi * sin_theta * cos_phi - cos_psi * sin_phi
        workspace[r + 6 * LANES + lane] = -sin_theta
        workspace[r + 7 * LANES + lane] = cos_theta * sin_phi
        workspace[r + 8 * LANES + lane] = cos_theta * cos_phi


@kernel
def kinematics(workspace: np.ndarray, state: int, rotation: int) -> None:
    """RATE of position (earth, m/s) and Euler angles (rad/s) of a state."""
    m = row(state)
    r = row(rotation)
    out = row(at.RATE)
    for lane in range(LANES):
        u = workspace[m + 6 * LANES + lane]
        v = workspace[m + 7 * LANES + lane]
        w = workspace[m + 8 * LANES + lane]
        p = workspace[m + 9 * LANES + lane]
        q = workspace[m + 10 * LANES + lane]
        yaw = workspace[m + 11 * LANES + lane]
        workspace[out + lane] = workspace[r + lane] * u + workspace[r + LANES + lane] * v + workspace[r + 2 * LANES + lane] * w
        workspace[out + LANES + lane] = (
            workspace[r + 3 * LANES + lane] * u + workspace[r + 4 * LANES + lane] * v + workspace[r + 5 * LANES + lane] * w
        )
        workspace[out + 2 * LANES + lane] = (
            workspace[r + 6 * LANES + lane] * u + workspace[r + 7 * LANES + lane] * v + workspace[r + 8 * LANES + lane] * w
        )
        sin_phi, cos_phi = sine_cosine(workspace[m + 3 * LANES + lane])
        sin_theta = -workspace[r + 6 * LANES + lane]
        cos_theta = math.sqrt(max(1.0 - sin_theta * sin_theta, 1e-6))
        turning = (q * sin_phi + yaw * cos_phi) / cos_theta
        workspace[out + 3 * LANES + lane] = p + turning * sin_theta
        workspace[out + 4 * LANES + lane] = q * cos_phi - yaw * sin_phi
        workspace[out + 5 * LANES + lane] = turning


@part
def point_depth(workspace: np.ndarray, lane: int, x: float, y: float, z: float) -> float:
    """Depth of a body point below the calm level (m) at the MID state."""
    return (
        workspace[(at.MID + 2) * LANES + lane]
        + workspace[_R + 6 * LANES + lane] * x
        + workspace[_R + 7 * LANES + lane] * y
        + workspace[_R + 8 * LANES + lane] * z
    )


@part
def relative_velocity(
    workspace: np.ndarray, lane: int, x: float, y: float, z: float, water_x: float, water_y: float, water_z: float
) -> tuple[float, float, float]:
    """Velocity of a body point through the water (m/s, body axes), given the water's own in earth axes."""
    p = workspace[_W + lane]
    q = workspace[_W + LANES + lane]
    r = workspace[_W + 2 * LANES + lane]
    u = workspace[_V + lane] + q * z - r * y
    v = workspace[_V + LANES + lane] + r * x - p * z
    w = workspace[_V + 2 * LANES + lane] + p * y - q * x
    u -= (
        workspace[_R + lane] * water_x + workspace[_R + 3 * LANES + lane] * water_y + workspace[_R + 6 * LANES + lane] * water_z
    )
    v -= (
        workspace[_R + LANES + lane] * water_x
        + workspace[_R + 4 * LANES + lane] * water_y
        + workspace[_R + 7 * LANES + lane] * water_z
    )
    w -= (
        workspace[_R + 2 * LANES + lane] * water_x
        + workspace[_R + 5 * LANES + lane] * water_y
        + workspace[_R + 8 * LANES + lane] * water_z
    )
    return u, v, w


@part
def add_force(workspace: np.ndarray, lane: int, x: float, y: float, z: float, fx: float, fy: float, fz: float) -> None:
    """Gather a force (N) that acts at a body point (m)."""
    workspace[_F + lane] += fx
    workspace[_F + LANES + lane] += fy
    workspace[_F + 2 * LANES + lane] += fz
    workspace[_F + 3 * LANES + lane] += y * fz - z * fy
    workspace[_F + 4 * LANES + lane] += z * fx - x * fz
    workspace[_F + 5 * LANES + lane] += x * fy - y * fx


@part
def add_moment(workspace: np.ndarray, lane: int, about_y: float, about_z: float) -> None:
    """Gather a moment (N m) that acts with no force."""
    workspace[_F + 4 * LANES + lane] += about_y
    workspace[_F + 5 * LANES + lane] += about_z


@kernel
def copy_rows(workspace: np.ndarray, to: int, source: int, slots: int) -> None:
    """Copy neighbouring slots of all lanes: they lie one after the other, so it is one plain run of numbers."""
    target = row(to)
    origin = row(source)
    for i in range(slots * LANES):
        workspace[target + i] = workspace[origin + i]

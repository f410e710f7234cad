"""The craft's axes: rotation, positions and velocities of its points, and the sum of forces about its centre of gravity.

Everything refers to the MID state of the workspace (see `layout`). Forces (N) and moments (N m) are in body axes.
"""

from __future__ import annotations

import math
from typing import TypeAlias

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import sine_cosine
from sweep.model.layout import row

LEAST_SPEED = 0.1  # m/s: floor of the forward speed in angles of attack

Triple: TypeAlias = tuple[float, float, float]


@part
def vector(workspace: np.ndarray, first: int) -> Triple:
    """Three consecutive slots of one lane, as a vector. first: workspace index of the first of them."""
    return workspace[first + row(at.VECTOR.x)], workspace[first + row(at.VECTOR.y)], workspace[first + row(at.VECTOR.z)]


@kernel
def turn(workspace: np.ndarray, angles: int, rotation: int) -> None:
    """Rotation matrix from body to earth axes, row by row, from the angles phi, theta, psi (rad) in three slots (M1.1).

    angles, rotation: first slot of each.
    """
    a = row(angles)
    r = row(rotation)
    for lane in range(LANES):
        sin_phi, cos_phi = sine_cosine(workspace[a + row(at.ANGLES.phi) + lane])
        sin_theta, cos_theta = sine_cosine(workspace[a + row(at.ANGLES.theta) + lane])
        sin_psi, cos_psi = sine_cosine(workspace[a + row(at.ANGLES.psi) + lane])
        workspace[r + row(at.MATRIX.xx) + lane] = cos_psi * cos_theta
        workspace[r + row(at.MATRIX.xy) + lane] = cos_psi * sin_theta * sin_phi - sin_psi * cos_phi
        workspace[r + row(at.MATRIX.xz) + lane] = cos_psi * sin_theta * cos_phi + sin_psi * sin_phi
        workspace[r + row(at.MATRIX.yx) + lane] = sin_psi * cos_theta
        workspace[r + row(at.MATRIX.yy) + lane] = sin_psi * sin_theta * sin_phi + cos_psi * cos_phi
        workspace[r + row(at.MATRIX.yz) + lane] = sin_psi * sin_theta * cos_phi - cos_psi * sin_phi
        workspace[r + row(at.MATRIX.zx) + lane] = -sin_theta
        workspace[r + row(at.MATRIX.zy) + lane] = cos_theta * sin_phi
        workspace[r + row(at.MATRIX.zz) + lane] = cos_theta * cos_phi


@part
def kinematics(workspace: np.ndarray, state: int) -> None:
    """RATE of position (earth axes, m/s) and of the Euler angles (rad/s); ROTATION must be that of this state (M1.1)."""
    m = row(state)
    r = row(at.ROTATION.first)
    for lane in range(LANES):
        u = workspace[m + row(at.MOTION.u) + lane]
        v = workspace[m + row(at.MOTION.v) + lane]
        w = workspace[m + row(at.MOTION.w) + lane]
        p = workspace[m + row(at.MOTION.p) + lane]
        q = workspace[m + row(at.MOTION.q) + lane]
        yaw = workspace[m + row(at.MOTION.r) + lane]
        workspace[row(at.RATE.x) + lane] = (
            workspace[r + row(at.MATRIX.xx) + lane] * u
            + workspace[r + row(at.MATRIX.xy) + lane] * v
            + workspace[r + row(at.MATRIX.xz) + lane] * w
        )
        workspace[row(at.RATE.y) + lane] = (
            workspace[r + row(at.MATRIX.yx) + lane] * u
            + workspace[r + row(at.MATRIX.yy) + lane] * v
            + workspace[r + row(at.MATRIX.yz) + lane] * w
        )
        zx, zy, zz = vector(workspace, r + row(at.MATRIX.zx) + lane)
        workspace[row(at.RATE.z) + lane] = zx * u + zy * v + zz * w
        sin_theta, across, down = -zx, zy, zz  # the last two are sin(phi) cos(theta), cos(phi) cos(theta)
        steep = 1.0 / math.sqrt(max(1.0 - sin_theta * sin_theta, 1e-6))
        turning = (q * across + yaw * down) * steep * steep
        workspace[row(at.RATE.phi) + lane] = p + turning * sin_theta
        workspace[row(at.RATE.theta) + lane] = (q * down - yaw * across) * steep
        workspace[row(at.RATE.psi) + lane] = turning


@part
def point_depth(workspace: np.ndarray, lane: int, place: Triple) -> float:
    """Depth below the calm level (m) of a point in body axes (m), at the MID state (M1.3)."""
    x, y, z = place
    return (
        workspace[row(at.MID.z) + lane]
        + workspace[row(at.ROTATION.zx) + lane] * x
        + workspace[row(at.ROTATION.zy) + lane] * y
        + workspace[row(at.ROTATION.zz) + lane] * z
    )


@part
def relative_velocity(workspace: np.ndarray, lane: int, place: Triple, water: Triple) -> Triple:
    """Velocity of a body point (m) relative to the water (m/s, body axes). water: the water's velocity, earth axes (M1.4)."""
    x, y, z = place
    water_x, water_y, water_z = water
    p = workspace[row(at.MID.p) + lane]
    q = workspace[row(at.MID.q) + lane]
    r = workspace[row(at.MID.r) + lane]
    u = workspace[row(at.MID.u) + lane] + q * z - r * y
    v = workspace[row(at.MID.v) + lane] + r * x - p * z
    w = workspace[row(at.MID.w) + lane] + p * y - q * x
    u -= (
        workspace[row(at.ROTATION.xx) + lane] * water_x
        + workspace[row(at.ROTATION.yx) + lane] * water_y
        + workspace[row(at.ROTATION.zx) + lane] * water_z
    )
    v -= (
        workspace[row(at.ROTATION.xy) + lane] * water_x
        + workspace[row(at.ROTATION.yy) + lane] * water_y
        + workspace[row(at.ROTATION.zy) + lane] * water_z
    )
    w -= (
        workspace[row(at.ROTATION.xz) + lane] * water_x
        + workspace[row(at.ROTATION.yz) + lane] * water_y
        + workspace[row(at.ROTATION.zz) + lane] * water_z
    )
    return u, v, w


@part
def add_force(workspace: np.ndarray, lane: int, place: Triple, force: Triple) -> None:
    """Add a force (N) that acts at a body point (m) to the sum."""
    x, y, z = place
    fx, fy, fz = force
    workspace[row(at.FORCE.x) + lane] += fx
    workspace[row(at.FORCE.y) + lane] += fy
    workspace[row(at.FORCE.z) + lane] += fz
    workspace[row(at.FORCE.k) + lane] += y * fz - z * fy
    workspace[row(at.FORCE.m) + lane] += z * fx - x * fz
    workspace[row(at.FORCE.n) + lane] += x * fy - y * fx


@part
def add_moment(workspace: np.ndarray, lane: int, about_y: float, about_z: float) -> None:
    """Add a pure moment (N m), without a force, to the sum."""
    workspace[row(at.FORCE.m) + lane] += about_y
    workspace[row(at.FORCE.n) + lane] += about_z


@kernel
def copy_rows(workspace: np.ndarray, to: int, source: int, slots: int) -> None:
    """Copy consecutive slots of all lanes: they are contiguous in memory, so one loop copies them."""
    target = row(to)
    origin = row(source)
    for i in range(row(slots)):
        workspace[target + i] = workspace[origin + i]

"""The inertial unit and navigation: their readings of the true state."""

from __future__ import annotations

import math

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import wrapped
from sweep.model.layout import row
from sweep.model.onboard.noise import LaneNoise
from sweep.model.physics.spectra import GRAVITY


@kernel
def read_inertial(workspace: np.ndarray, noise: LaneNoise, tick: int) -> None:
    """Set GYRO_READING (rad/s) and FORCE_READING (m/s2, body axes: acceleration less gravity at the unit) of a tick.

    M14.6.
    """
    for lane in range(LANES):
        table = noise.of_lane[lane]
        for axis in range(at.VECTOR.width):
            workspace[row(at.GYRO_READING.x + axis) + lane] = (
                workspace[row(at.GYRO_NOISE) + lane] * noise.gyro[table, tick, axis]
                + workspace[row(at.GYRO_BIAS) + lane] * noise.gyro_bias[table, axis]
            )
            workspace[row(at.FORCE_READING.x + axis) + lane] = noise.accelerometer[table, tick, axis]
            workspace[row(at.BIAS_DRAWN.x + axis) + lane] = noise.accelerometer_bias[table, axis]
    add_motion(workspace)


@kernel
def add_motion(workspace: np.ndarray) -> None:
    """Add the inertial unit's true readings to the noise already in their slots (M14.6)."""
    for lane in range(LANES):
        x = workspace[row(at.INERTIAL_PLACE.x) + lane]
        y = workspace[row(at.INERTIAL_PLACE.y) + lane]
        z = workspace[row(at.INERTIAL_PLACE.z) + lane]
        u = workspace[row(at.STATE.u) + lane]
        v = workspace[row(at.STATE.v) + lane]
        w = workspace[row(at.STATE.w) + lane]
        p = workspace[row(at.STATE.p) + lane]
        q = workspace[row(at.STATE.q) + lane]
        r = workspace[row(at.STATE.r) + lane]
        dp = workspace[row(at.RATE.p) + lane]
        dq = workspace[row(at.RATE.q) + lane]
        dr = workspace[row(at.RATE.r) + lane]
        fx = workspace[row(at.RATE.u) + lane] + q * w - r * v - GRAVITY * workspace[row(at.ROTATION.zx) + lane]
        fy = workspace[row(at.RATE.v) + lane] + r * u - p * w - GRAVITY * workspace[row(at.ROTATION.zy) + lane]
        fz = workspace[row(at.RATE.w) + lane] + p * v - q * u - GRAVITY * workspace[row(at.ROTATION.zz) + lane]
        fx += dq * z - dr * y + q * (p * y - q * x) - r * (r * x - p * z)
        fy += dr * x - dp * z + r * (q * z - r * y) - p * (p * y - q * x)
        fz += dp * y - dq * x + p * (r * x - p * z) - q * (q * z - r * y)
        shaking = workspace[row(at.VIBRATION) + lane] * workspace[row(at.THROTTLE) + lane]
        quiet = workspace[row(at.ACCELEROMETER_NOISE) + lane]
        spread = math.sqrt(quiet * quiet + shaking * shaking)
        bias = workspace[row(at.ACCELEROMETER_BIAS) + lane]
        workspace[row(at.GYRO_READING.x) + lane] += p
        workspace[row(at.GYRO_READING.y) + lane] += q
        workspace[row(at.GYRO_READING.z) + lane] += r
        workspace[row(at.FORCE_READING.x) + lane] = (
            fx + spread * workspace[row(at.FORCE_READING.x) + lane] + bias * workspace[row(at.BIAS_DRAWN.x) + lane]
        )
        workspace[row(at.FORCE_READING.y) + lane] = (
            fy + spread * workspace[row(at.FORCE_READING.y) + lane] + bias * workspace[row(at.BIAS_DRAWN.y) + lane]
        )
        workspace[row(at.FORCE_READING.z) + lane] = (
            fz + spread * workspace[row(at.FORCE_READING.z) + lane] + bias * workspace[row(at.BIAS_DRAWN.z) + lane]
        )


@part
def navigate(workspace: np.ndarray, lane: int, noise: LaneNoise, time: float) -> None:
    """Update SPEED_READING (m/s over ground), HEADING_READING (rad) and its rate (rad/s) at their own ticks. Needs ROTATION.

    M14.7.
    """
    tick = workspace[row(at.NAVIGATION_TICK) + lane]
    if tick > time * workspace[row(at.NAVIGATION_RATE) + lane] + 1e-9:
        return
    k = min(int(tick), noise.speed.shape[1] - 1)
    table = noise.of_lane[lane]
    u = workspace[row(at.STATE.u) + lane]
    v = workspace[row(at.STATE.v) + lane]
    w = workspace[row(at.STATE.w) + lane]
    along_x = (
        workspace[row(at.ROTATION.xx) + lane] * u
        + workspace[row(at.ROTATION.xy) + lane] * v
        + workspace[row(at.ROTATION.xz) + lane] * w
    )
    along_y = (
        workspace[row(at.ROTATION.yx) + lane] * u
        + workspace[row(at.ROTATION.yy) + lane] * v
        + workspace[row(at.ROTATION.yz) + lane] * w
    )
    speed = math.sqrt(along_x * along_x + along_y * along_y)
    workspace[row(at.SPEED_READING) + lane] = speed + workspace[row(at.SPEED_NOISE) + lane] * noise.speed[table, k]
    heading = workspace[row(at.STATE.psi) + lane] + workspace[row(at.HEADING_NOISE) + lane] * noise.heading[table, k]
    turned = wrapped(heading - workspace[row(at.HEADING_READING) + lane]) if tick > 0.0 else 0.0
    workspace[row(at.HEADING_RATE) + lane] = turned * workspace[row(at.NAVIGATION_RATE) + lane]
    workspace[row(at.HEADING_READING) + lane] = heading
    workspace[row(at.NAVIGATION_TICK) + lane] = tick + 1.0

"""What the control code makes of its readings: attitude, and height over the water with its rate. Angles in rad."""

from __future__ import annotations

import math

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import clip, direction, sine_cosine
from sweep.model.onboard.choices import PLANE, VOTE
from sweep.model.physics.spectra import GRAVITY


@kernel
def estimate_attitude(workspace: np.ndarray, period: float) -> None:
    """Complementary filter: the gyro's rates, levelled by the accelerometer over LEVELLING_TIME (s).

    Leaves sine and cosine of the estimates.
    """
    for lane in range(LANES):
        phi = workspace[at.ROLL_ESTIMATE * LANES + lane]
        theta = workspace[at.PITCH_ESTIMATE * LANES + lane]
        p = workspace[at.GYRO_READING * LANES + lane]
        q = workspace[(at.GYRO_READING + 1) * LANES + lane]
        r = workspace[(at.GYRO_READING + 2) * LANES + lane]
        fx = workspace[at.FORCE_READING * LANES + lane]
        fy = workspace[(at.FORCE_READING + 1) * LANES + lane]
        fz = workspace[(at.FORCE_READING + 2) * LANES + lane]
        levelled_phi = direction(-fy, -fz)
        levelled_theta = direction(fx, math.sqrt(fy * fy + fz * fz))
        share = period / workspace[at.LEVELLING_TIME * LANES + lane]
        sine, cosine = sine_cosine(phi)
        rise, run = sine_cosine(clip(theta, -1.4, 1.4))
        phi_rate = p + (q * sine + r * cosine) * (rise / run)
        theta_rate = q * cosine - r * sine
        flies = workspace[at.ALIVE * LANES + lane] > 0.0
        phi = phi + period * phi_rate + share * (levelled_phi - phi) if flies else phi
        theta = theta + period * theta_rate + share * (levelled_theta - theta) if flies else theta
        workspace[at.ROLL_ESTIMATE * LANES + lane] = phi
        workspace[at.PITCH_ESTIMATE * LANES + lane] = theta
        sine, cosine = sine_cosine(phi)
        workspace[at.ROLL_SINE * LANES + lane] = sine
        workspace[(at.ROLL_SINE + 1) * LANES + lane] = cosine
        sine, cosine = sine_cosine(theta)
        workspace[at.PITCH_SINE * LANES + lane] = sine
        workspace[(at.PITCH_SINE + 1) * LANES + lane] = cosine


@part
def height_here(workspace: np.ndarray, lane: int, sensor: int) -> float:
    """Height of the reference point (m) by one rangefinder's last reading and the estimated attitude; NaN before the first."""
    sin_phi = workspace[at.ROLL_SINE * LANES + lane]
    cos_phi = workspace[(at.ROLL_SINE + 1) * LANES + lane]
    sin_theta = workspace[at.PITCH_SINE * LANES + lane]
    cos_theta = workspace[(at.PITCH_SINE + 1) * LANES + lane]
    place = (at.KNOWN_PLACE + 3 * sensor) * LANES + lane
    slant = workspace[(at.RANGE_LAST + sensor) * LANES + lane] - workspace[place + 2 * LANES]
    across = sin_phi * cos_theta
    return slant * cos_phi * cos_theta - sin_theta * workspace[place] + across * workspace[place + LANES]


@part
def middle(workspace: np.ndarray, lane: int, count: int) -> float:
    """Median of the heights by all rangefinders that have read (m); the mean of the middle two of an even number."""
    low = math.nan
    high = math.nan
    known = 0
    for i in range(count):
        known += height_here(workspace, lane, i) == height_here(workspace, lane, i)
    for i in range(count):
        value = height_here(workspace, lane, i)
        below = 0
        equal = 0
        for j in range(count):
            below += height_here(workspace, lane, j) < value
            equal += height_here(workspace, lane, j) == value
        if below <= (known - 1) // 2 < below + equal:
            low = value
        if below <= known // 2 < below + equal:
            high = value
    return 0.5 * (low + high)


@part
def measure_height(workspace: np.ndarray, lane: int, count: int) -> float:
    """Height of the reference point above the water (m) by all rangefinders; NaN before the first reading."""
    total = 0.0
    planar = 0.0
    known = 0
    for i in range(count):
        height = height_here(workspace, lane, i)
        if height == height:
            total += height
            planar += workspace[(at.PLANE_WEIGHT + i) * LANES + lane] * height
            known += 1
    how = workspace[at.COMBINE * LANES + lane]
    if known == 0:
        return math.nan
    if how == VOTE:
        return middle(workspace, lane, count)
    return planar if how == PLANE and known == count else total / known


@part
def upward(workspace: np.ndarray, lane: int) -> float:
    """Upward acceleration (m/s2) by the accelerometer and the estimated attitude."""
    sin_phi = workspace[at.ROLL_SINE * LANES + lane]
    cos_phi = workspace[(at.ROLL_SINE + 1) * LANES + lane]
    sin_theta = workspace[at.PITCH_SINE * LANES + lane]
    cos_theta = workspace[(at.PITCH_SINE + 1) * LANES + lane]
    fx = workspace[at.FORCE_READING * LANES + lane]
    fy = workspace[(at.FORCE_READING + 1) * LANES + lane]
    fz = workspace[(at.FORCE_READING + 2) * LANES + lane]
    return sin_theta * fx - cos_theta * (sin_phi * fy + cos_phi * fz) - GRAVITY


@part
def estimate_height(workspace: np.ndarray, lane: int, measured: float, acceleration: float, fuse: bool, period: float) -> float:
    """HEIGHT_ESTIMATE (m), and the rate (m/s) that goes with it.

    Fused with the accelerometer, or the measurement itself, smoothed for its rate.
    """
    if not fuse:
        if measured == measured:
            workspace[at.HEIGHT_ESTIMATE * LANES + lane] = measured
        height = workspace[at.HEIGHT_ESTIMATE * LANES + lane]
        smooth = workspace[at.SMOOTHED_HEIGHT * LANES + lane]
        rate = (height - smooth) / workspace[(at.HEIGHT_GAINS + 4) * LANES + lane]
        workspace[at.SMOOTHED_HEIGHT * LANES + lane] = smooth + period * rate
        return rate
    return fuse_height(workspace, lane, measured, acceleration, period)


@part
def fuse_height(workspace: np.ndarray, lane: int, measured: float, acceleration: float, period: float) -> float:
    """HEIGHT_ESTIMATE (m), what it was before, and the rate (m/s) of now.

    A second-order complementary filter of damping 0.7, which is the steady Kalman filter of an accelerometer and a
    rangefinder; below its corner the rangefinder rules, above it the accelerometer. A reading is old: it is held against
    the estimate of its own time, and what that was off by moves every estimate from there to now.
    """
    estimate = at.HEIGHT_ESTIMATE * LANES + lane
    rate = workspace[at.FUSED_RATE * LANES + lane]
    corner = workspace[at.CORNER * LANES + lane]
    age = int(clip(workspace[at.KNOWN_AGE * LANES + lane], 0.0, at.HEIGHT_TICKS - 1.0))
    off = measured - workspace[estimate + age * LANES] if measured == measured else 0.0
    raised = period * 1.4 * corner * off
    quickened = period * corner * corner * off
    for back in range(age, 0, -1):
        before = workspace[estimate + (back - 1) * LANES]
        workspace[estimate + back * LANES] = before + raised + (age - back) * period * quickened
    workspace[estimate] += period * rate + raised + age * period * quickened
    workspace[at.FUSED_RATE * LANES + lane] = rate + period * acceleration + quickened
    return workspace[at.FUSED_RATE * LANES + lane]

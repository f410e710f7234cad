"""The control code's estimates from its readings: attitude, height over the water and its rate. Angles in rad."""

from __future__ import annotations

import math

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import clip, direction, sine_cosine, wrapped
from sweep.model.layout import alike, row
from sweep.model.onboard.choices import PLANE, TRUSTED, VOTE
from sweep.model.physics.spectra import GRAVITY

MOST_AGE = at.HEIGHT_TICKS - 1.0


@kernel
def estimate_attitude(workspace: np.ndarray, period: float) -> None:
    """Complementary filter: integrates the gyro's rates, levelled by the accelerometer over LEVELLING_TIME (s; M15.5).

    Also sets the sine and cosine of the estimates. period: of control ticks, s.
    """
    for lane in range(LANES):
        phi = workspace[row(at.ROLL_ESTIMATE) + lane]
        theta = workspace[row(at.PITCH_ESTIMATE) + lane]
        p = workspace[row(at.GYRO_READING.x) + lane]
        q = workspace[row(at.GYRO_READING.y) + lane]
        r = workspace[row(at.GYRO_READING.z) + lane]
        fx = workspace[row(at.FORCE_READING.x) + lane]
        fy = workspace[row(at.FORCE_READING.y) + lane]
        fz = workspace[row(at.FORCE_READING.z) + lane]
        levelled_phi = direction(-fy, -fz)
        levelled_theta = direction(fx, math.sqrt(fy * fy + fz * fz))
        share = period / workspace[row(at.LEVELLING_TIME) + lane]
        sine, cosine = sine_cosine(phi)
        rise, run = sine_cosine(clip(theta, -1.4, 1.4))
        phi_rate = p + (q * sine + r * cosine) * (rise / run)
        theta_rate = q * cosine - r * sine
        flies = workspace[row(at.ALIVE) + lane] > 0.0
        phi = wrapped(phi + period * phi_rate + share * wrapped(levelled_phi - phi)) if flies else phi
        theta = wrapped(theta + period * theta_rate + share * (levelled_theta - theta)) if flies else theta
        workspace[row(at.ROLL_ESTIMATE) + lane] = phi
        workspace[row(at.PITCH_ESTIMATE) + lane] = theta
        sine, cosine = sine_cosine(phi)
        workspace[row(at.ROLL_TURN.sine) + lane] = sine
        workspace[row(at.ROLL_TURN.cosine) + lane] = cosine
        sine, cosine = sine_cosine(theta)
        workspace[row(at.PITCH_TURN.sine) + lane] = sine
        workspace[row(at.PITCH_TURN.cosine) + lane] = cosine


@part
def height_here(workspace: np.ndarray, lane: int, sensor: int) -> float:
    """Height of the reference point (m) from one rangefinder's last reading and the estimated attitude; NaN before the first.

    M15.6.
    """
    sin_phi = workspace[row(at.ROLL_TURN.sine) + lane]
    cos_phi = workspace[row(at.ROLL_TURN.cosine) + lane]
    sin_theta = workspace[row(at.PITCH_TURN.sine) + lane]
    cos_theta = workspace[row(at.PITCH_TURN.cosine) + lane]
    place = row(sensor * at.KNOWN_PLACE.width)
    look = row(sensor * at.KNOWN_LOOK.width)
    reading = workspace[row(at.RANGE_LAST + sensor) + lane]
    slant = reading * workspace[look + row(at.KNOWN_LOOK.z) + lane] - workspace[place + row(at.KNOWN_PLACE.height) + lane]
    ahead = workspace[place + row(at.KNOWN_PLACE.x) + lane] + reading * workspace[look + row(at.KNOWN_LOOK.x) + lane]
    aside = workspace[place + row(at.KNOWN_PLACE.y) + lane] + reading * workspace[look + row(at.KNOWN_LOOK.y) + lane]
    across = sin_phi * cos_theta
    arm = workspace[row(at.KNOWN_ARM + sensor) + lane]
    if arm != 0.0:
        if arm > 0.0:  # a wand, which trails aft
            ahead -= math.sqrt(max(arm * arm - reading * reading, 0.0))
        else:  # a tap under water, whose reading is upright at any attitude
            slant -= reading * (1.0 / (cos_phi * cos_theta) - 1.0)
    return slant * cos_phi * cos_theta - sin_theta * ahead + across * aside


@part
def middle(workspace: np.ndarray, lane: int, count: int) -> float:
    """Median height (m) over the trusted rangefinders that have a reading; for an even number, the mean of the middle two."""
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
def by_trust(workspace: np.ndarray, lane: int, count: int, plane: bool) -> float:
    """Mean height (m) by trust over the rangefinders that have a reading, or the plane's where all trusted ones have."""
    total = 0.0
    planar = 0.0
    known = 0.0
    trusted = 0.0
    for i in range(count):
        height = height_here(workspace, lane, i)
        trust = workspace[row(at.KNOWN_TRUST + i) + lane]
        trusted += trust
        if height == height:
            total += trust * height
            planar += workspace[row(at.PLANE_WEIGHT + i) + lane] * height
            known += trust
    return planar if plane and known == trusted else total / known


@part
def measure_height(workspace: np.ndarray, lane: int, count: int) -> float:
    """Height of the reference point above the water (m) from all rangefinders; NaN before the first reading (M15.6)."""
    total = 0.0
    planar = 0.0
    known = 0
    for i in range(count):
        height = height_here(workspace, lane, i)
        if height == height:
            total += height
            planar += workspace[row(at.PLANE_WEIGHT + i) + lane] * height
            known += 1
    how = workspace[row(at.COMBINE) + lane]
    if known == 0:
        return math.nan
    if how == VOTE:
        return middle(workspace, lane, count)
    if how >= TRUSTED:
        return by_trust(workspace, lane, count, how == TRUSTED + PLANE)
    return planar if how == PLANE and known == count else total / known


@part
def upward(workspace: np.ndarray, lane: int) -> float:
    """Upward acceleration (m/s2) from the accelerometer and the estimated attitude."""
    sin_phi = workspace[row(at.ROLL_TURN.sine) + lane]
    cos_phi = workspace[row(at.ROLL_TURN.cosine) + lane]
    sin_theta = workspace[row(at.PITCH_TURN.sine) + lane]
    cos_theta = workspace[row(at.PITCH_TURN.cosine) + lane]
    fx = workspace[row(at.FORCE_READING.x) + lane]
    fy = workspace[row(at.FORCE_READING.y) + lane]
    fz = workspace[row(at.FORCE_READING.z) + lane]
    return sin_theta * fx - cos_theta * (sin_phi * fy + cos_phi * fz) - GRAVITY


@part
def estimate_height(workspace: np.ndarray, lane: int, measured: float, acceleration: float, fuse: bool, period: float) -> float:
    """Update HEIGHT_ESTIMATE (m); return its rate, positive up (m/s; M15.7).

    With `fuse`, the measurement (m) is combined with the upward acceleration (m/s2). Without it, the estimate is the
    measurement, and the rate is taken from the smoothed measurement. period: of control ticks, s.
    """
    if not fuse:
        if measured == measured:
            workspace[row(at.HEIGHT_ESTIMATE) + lane] = measured
        height = workspace[row(at.HEIGHT_ESTIMATE) + lane]
        smooth = workspace[row(at.SMOOTHED_HEIGHT) + lane]
        rate = (height - smooth) / workspace[row(at.HEIGHT_GAINS.smoothing) + lane]
        workspace[row(at.SMOOTHED_HEIGHT) + lane] = smooth + period * rate
        return rate
    return fuse_height(workspace, lane, measured, acceleration, period)


@part
def fuse_height(workspace: np.ndarray, lane: int, measured: float, acceleration: float, period: float) -> float:
    """Update HEIGHT_ESTIMATE (m) and its past values; return the present rate, positive up (m/s; M15.8).

    A second-order complementary filter of damping 0.7, which is the steady Kalman filter of an accelerometer and a
    rangefinder. Below its corner frequency the rangefinder dominates, above it the accelerometer. A reading is late: it is
    compared with the estimate for its own time, and the difference corrects every estimate from then to now.
    """
    rate = workspace[row(at.FUSED_RATE) + lane]
    corner = workspace[row(at.CORNER) + lane]
    age = int(clip(workspace[row(at.KNOWN_AGE) + lane], 0.0, MOST_AGE))
    off = measured - workspace[row(at.HEIGHT_ESTIMATE + age) + lane] if measured == measured else 0.0
    raised = period * 1.4 * corner * off
    quickened = period * corner * corner * off
    for back in range(age, 0, -1):
        before = workspace[row(at.HEIGHT_ESTIMATE + back - 1) + lane]
        since = alike(workspace, age - back)
        workspace[row(at.HEIGHT_ESTIMATE + back) + lane] = before + raised + since * period * quickened
    workspace[row(at.HEIGHT_ESTIMATE) + lane] += period * rate + raised + alike(workspace, age) * period * quickened
    workspace[row(at.FUSED_RATE) + lane] = rate + period * acceleration + quickened
    return workspace[row(at.FUSED_RATE) + lane]

"""The control code on board: attitude filter, height, pitch, roll, heading and speed loops, and the mixer.

It runs once a control tick, lane by lane, and knows only what the sensors have said by then. Angles in rad.
"""

from __future__ import annotations

import math

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import clip, nearest
from sweep.model.noise import NoiseTables
from sweep.model.sensors import navigate, rates, see_ranges, specific_force
from sweep.model.servo import RING

SHARED_PITCH_LIMIT = 0.09  # rad, about 5 degrees: the most pitch that missing height may ask for; judgement


@part
def estimate_attitude(workspace: np.ndarray, lane: int, gyro: tuple[float, float, float], force: tuple[float, float, float], period: float) -> None:
    """Complementary filter: the gyro's rates, levelled by the accelerometer over LEVELLING_TIME (s)."""
    phi = workspace[at.ROLL_ESTIMATE * LANES + lane]
    theta = workspace[at.PITCH_ESTIMATE * LANES + lane]
    p, q, r = gyro
    fx, fy, fz = force
    levelled_phi = math.atan2(-fy, -fz)
    levelled_theta = math.atan2(fx, math.sqrt(fy * fy + fz * fz))
    share = period / workspace[at.LEVELLING_TIME * LANES + lane]
    sine = math.sin(phi)
    cosine = math.cos(phi)
    phi_rate = p + (q * sine + r * cosine) * math.tan(clip(theta, -1.4, 1.4))
    theta_rate = q * cosine - r * sine
    workspace[at.ROLL_ESTIMATE * LANES + lane] = phi + period * phi_rate + share * (levelled_phi - phi)
    workspace[at.PITCH_ESTIMATE * LANES + lane] = theta + period * theta_rate + share * (levelled_theta - theta)


@part
def measure_height(workspace: np.ndarray, lane: int, count: int) -> None:
    """HEIGHT_ESTIMATE: height of the reference point above the water (m), the mean over the rangefinders that have read."""
    phi = workspace[at.ROLL_ESTIMATE * LANES + lane]
    theta = workspace[at.PITCH_ESTIMATE * LANES + lane]
    sin_theta = math.sin(theta)
    across = math.sin(phi) * math.cos(theta)
    level = math.cos(phi) * math.cos(theta)
    total = 0.0
    known = 0.0
    for i in range(count):
        reading = workspace[(at.RANGE_LAST + i) * LANES + lane]
        if reading == reading:
            x = workspace[(at.RANGE_PLACE + 4 * i) * LANES + lane]
            y = workspace[(at.RANGE_PLACE + 4 * i + 1) * LANES + lane]
            mounted = workspace[(at.RANGE_PLACE + 4 * i + 3) * LANES + lane]
            total += (reading - mounted) * level - sin_theta * x + across * y
            known += 1.0
    if known > 0.0:
        workspace[at.HEIGHT_ESTIMATE * LANES + lane] = total / known


@part
def loop(workspace: np.ndarray, lane: int, gains: int, integral: int, error: float, rate: float, period: float) -> float:
    """Proportional, integral, derivative on a measured rate; command and integral kept within the loop's limit."""
    limit = workspace[(gains + 3) * LANES + lane]
    gathered = workspace[integral * LANES + lane]
    command = workspace[gains * LANES + lane] * error + gathered - workspace[(gains + 2) * LANES + lane] * rate
    workspace[integral * LANES + lane] = clip(
        gathered + workspace[(gains + 1) * LANES + lane] * error * period, -limit, limit
    )
    return clip(command, -limit, limit)


@part
def height_command(workspace: np.ndarray, lane: int, missing: float, period: float) -> float:
    """Foil angle common to all foils, from the height that is missing (m) and the rate of the smoothed height."""
    height = workspace[at.HEIGHT_ESTIMATE * LANES + lane]
    smooth = workspace[at.SMOOTHED_HEIGHT * LANES + lane]
    rate = (height - smooth) / workspace[(at.HEIGHT_GAINS + 4) * LANES + lane]
    workspace[at.SMOOTHED_HEIGHT * LANES + lane] = smooth + period * rate
    return loop(workspace, lane, at.HEIGHT_GAINS, at.HEIGHT_INTEGRAL, missing, rate, period)


@part
def throttle_command(workspace: np.ndarray, lane: int, missing: float, period: float) -> float:
    """Throttle, 0 ... 1: its integral waits while the throttle is at a stop and the error pushes further."""
    error = workspace[at.WANTED_SPEED * LANES + lane] - workspace[at.SPEED_READING * LANES + lane]
    gathered = workspace[at.SPEED_INTEGRAL * LANES + lane]
    wanted = (
        workspace[at.TRIM_THROTTLE * LANES + lane]
        + workspace[at.SPEED_GAINS * LANES + lane] * error
        + gathered
        + workspace[at.THROTTLE_SHARE * LANES + lane] * missing
    )
    throttle = clip(wanted, 0.0, 1.0)
    if throttle == wanted or (wanted - throttle) * error < 0.0:
        workspace[at.SPEED_INTEGRAL * LANES + lane] = gathered + workspace[(at.SPEED_GAINS + 1) * LANES + lane] * error * period
    return throttle


@part
def quantised(command: float, quantum: float, travel: float) -> float:
    """What a servo takes of a command: whole quanta within its travel (rad)."""
    if quantum > 0.0:
        command = nearest(command / quantum) * quantum
    return clip(command, -travel, travel)


@part
def send(workspace: np.ndarray, lane: int, foils: int, commands: np.ndarray, row: int, height: float, pitch: float, roll: float) -> None:
    """Mix the three commands (rad) into foil angles around the trim."""
    height += workspace[at.TRIM_HEIGHT * LANES + lane]
    pitch += workspace[at.TRIM_PITCH * LANES + lane]
    for foil in range(foils):
        mix = (at.FOIL + foil * at.FOIL_STRIDE + at.MIX) * LANES + lane
        angle = workspace[mix] * height + workspace[mix + LANES] * pitch + workspace[mix + 2 * LANES] * roll
        commands[foil, row, lane] = quantised(
            angle, workspace[(at.SERVO + 6) * LANES + lane], workspace[(at.SERVO + 5) * LANES + lane]
        )


@kernel
def control(
    workspace: np.ndarray, commands: np.ndarray, readings: np.ndarray, noise: NoiseTables, foils: int, rangefinders: int, tick: int, period: float
) -> None:
    """One control tick of every lane that is still flying; period in s, needs ROTATION of the STATE.

    commands: (foils + 1, RING, lanes), the rudder last; readings as `sensors.take_ranges` fills them.
    """
    time = tick * period
    slot = tick & (RING - 1)
    sample = min(tick, noise.gyro.shape[0] - 1)
    for lane in range(LANES):
        if workspace[at.ALIVE * LANES + lane] == 0.0:
            continue
        gyro = rates(workspace, lane, noise, sample)
        estimate_attitude(workspace, lane, gyro, specific_force(workspace, lane, noise, sample), period)
        see_ranges(workspace, lane, readings, rangefinders, time)
        measure_height(workspace, lane, rangefinders)
        navigate(workspace, lane, noise, time)
        missing = workspace[at.RIDE_HEIGHT * LANES + lane] - workspace[at.HEIGHT_ESTIMATE * LANES + lane]
        height = height_command(workspace, lane, missing, period)
        bow_up = clip(workspace[at.PITCH_SHARE * LANES + lane] * missing, -SHARED_PITCH_LIMIT, SHARED_PITCH_LIMIT)
        wanted = workspace[at.PITCH_TRIM * LANES + lane] + bow_up
        pitch_error = wanted - workspace[at.PITCH_ESTIMATE * LANES + lane]
        pitch = loop(workspace, lane, at.PITCH_GAINS, at.PITCH_INTEGRAL, pitch_error, gyro[1], period)
        roll = loop(workspace, lane, at.ROLL_GAINS, at.ROLL_INTEGRAL, -workspace[at.ROLL_ESTIMATE * LANES + lane], gyro[0], period)
        send(workspace, lane, foils, commands, slot, height, pitch, roll)
        turning = (
            -workspace[at.HEADING_GAINS * LANES + lane] * workspace[at.HEADING_READING * LANES + lane]
            - workspace[(at.HEADING_GAINS + 1) * LANES + lane] * gyro[2]
        )
        limit = workspace[(at.HEADING_GAINS + 2) * LANES + lane]
        rudder = workspace[at.RUDDER_SIDE * LANES + lane] * clip(turning, -limit, limit)
        commands[foils, slot, lane] = quantised(
            rudder, workspace[(at.RUDDER_SERVO + 6) * LANES + lane], workspace[(at.RUDDER_SERVO + 5) * LANES + lane]
        )
        workspace[at.THROTTLE * LANES + lane] = throttle_command(workspace, lane, missing, period)

"""The control code on board: height, pitch, roll, heading and speed loops, and the mixer; `estimates` has its filters.

It runs once a control tick, lane by lane, and knows only what the sensors have said by then. Angles in rad.
"""

from __future__ import annotations

import math

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import clip, nearest
from sweep.model.onboard.choices import EACH_FOIL, FUSED_HEIGHT
from sweep.model.onboard.estimates import estimate_attitude, estimate_height, measure_height, upward
from sweep.model.onboard.noise import LaneNoise
from sweep.model.onboard.sensors import navigate, read_inertial, see_ranges
from sweep.model.onboard.servo import RING
from sweep.model.physics.spectra import GRAVITY

FLYING_HEIGHT = 0.75  # of the wanted height and speed: when the control code takes the craft to fly; judgement
LANDED_HEIGHT, LANDED_SPEED = 0.25, 0.5
QUICK, LONG = 0.9, 2.0  # of the wanted speed; times the time over which the attitude is levelled
SHARED_PITCH_LIMIT = 0.09  # rad, about 5 degrees: the most pitch that missing height may ask for; judgement


@part
def loop(workspace: np.ndarray, lane: int, gains: int, integral: int, error: float, rate: float, time: float) -> float:
    """Proportional, integral, derivative on a measured rate; command and integral kept within the loop's limit.

    time: s, over which the integral gathers the error; 0 and it waits.
    """
    limit = workspace[(gains + 3) * LANES + lane]
    gathered = workspace[integral * LANES + lane]
    command = workspace[gains * LANES + lane] * error + gathered - workspace[(gains + 2) * LANES + lane] * rate
    workspace[integral * LANES + lane] = clip(gathered + workspace[(gains + 1) * LANES + lane] * error * time, -limit, limit)
    return clip(command, -limit, limit)


@part
def pressure_share(workspace: np.ndarray, lane: int) -> float:
    """What scheduled angles are multiplied by: dynamic pressure of the gains' speed over that of now, 0.2 to 4; 1 if fixed."""
    reference = workspace[at.SCHEDULE_SPEED * LANES + lane]
    if reference == 0.0:
        return 1.0
    share = reference / max(workspace[at.SPEED_READING * LANES + lane], 0.3)
    return clip(share * share, 0.2, 4.0)


@part
def throttle_command(workspace: np.ndarray, lane: int, missing: float, period: float) -> float:
    """Throttle, 0 ... 1: its integral waits while the throttle is at a stop and the error pushes further."""
    if workspace[at.AT_REST * LANES + lane] > 0.0:
        return 0.0
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
def send(
    workspace: np.ndarray, lane: int, foils: int, commands: np.ndarray, row: int, height: float, pitch: float, roll: float
) -> None:
    """Mix the three commands (rad) into foil angles around the trim."""
    height += workspace[at.TRIM_HEIGHT * LANES + lane]
    pitch += workspace[at.TRIM_PITCH * LANES + lane]
    for foil in range(foils):
        mix = (at.FOIL + foil * at.FOIL_STRIDE + at.MIX) * LANES + lane
        angle = workspace[mix] * height + workspace[mix + LANES] * pitch + workspace[mix + 2 * LANES] * roll
        commands[foil, row, lane] = quantised(
            angle, workspace[(at.SERVO + 6) * LANES + lane], workspace[(at.SERVO + 5) * LANES + lane]
        )


@part
def send_own(workspace: np.ndarray, lane: int, foils: int, count: int, commands: np.ndarray, row: int, share: float) -> None:
    """Every foil answers the rangefinder that goes with it, in proportion, around the trim; no inertial unit."""
    gain = workspace[at.HEIGHT_GAINS * LANES + lane]
    limit = workspace[(at.HEIGHT_GAINS + 3) * LANES + lane]
    for foil in range(foils):
        sensor = foil % count
        mounted = workspace[(at.KNOWN_PLACE + 3 * sensor + 2) * LANES + lane]
        height = workspace[(at.RANGE_LAST + sensor) * LANES + lane] - mounted
        missing = workspace[at.RIDE_HEIGHT * LANES + lane] - height if height == height else 0.0
        mix = (at.FOIL + foil * at.FOIL_STRIDE + at.MIX) * LANES + lane
        trim = (
            workspace[mix] * workspace[at.TRIM_HEIGHT * LANES + lane]
            + workspace[mix + LANES] * workspace[at.TRIM_PITCH * LANES + lane]
        )
        commands[foil, row, lane] = quantised(
            trim + share * clip(gain * missing, -limit, limit),
            workspace[(at.SERVO + 6) * LANES + lane],
            workspace[(at.SERVO + 5) * LANES + lane],
        )


@part
def follow_course(workspace: np.ndarray, lane: int, period: float) -> float:
    """Move COURSE towards the one wanted at the turn rate; returns the bank (rad) for it, starboard down positive."""
    course = workspace[at.COURSE * LANES + lane]
    most = workspace[at.TURN_RATE * LANES + lane] * period
    turned = clip(workspace[at.COURSE_WANTED * LANES + lane] - course, -most, most)
    workspace[at.COURSE * LANES + lane] = course + turned
    lean = math.atan(workspace[at.SPEED_READING * LANES + lane] * turned / (period * GRAVITY)) if turned != 0.0 else 0.0
    limit = workspace[at.BANK_LIMIT * LANES + lane]
    bank = clip(workspace[at.BANK_SHARE * LANES + lane] * lean, -limit, limit)
    workspace[at.BANK_WANTED * LANES + lane] = bank
    return bank


@part
def steer(workspace: np.ndarray, lane: int, turning: float, commands: np.ndarray, channel: int, row: int, share: float) -> None:
    """Rudder, or propellers against each other, for the course, with the rate of turning (rad/s) held against it."""
    wanted = (
        workspace[at.HEADING_GAINS * LANES + lane]
        * (workspace[at.COURSE * LANES + lane] - workspace[at.HEADING_READING * LANES + lane])
        - workspace[(at.HEADING_GAINS + 1) * LANES + lane] * turning
    )
    limit = workspace[(at.HEADING_GAINS + 2) * LANES + lane]
    command = clip(share * wanted, -limit, limit)
    workspace[at.SIDE_THROTTLE * LANES + lane] = workspace[at.DIFFERENTIAL * LANES + lane] * command
    rudder = workspace[at.RUDDER_SIDE * LANES + lane] * command
    commands[channel, row, lane] = quantised(
        rudder, workspace[(at.RUDDER_SERVO + 6) * LANES + lane], workspace[(at.RUDDER_SERVO + 5) * LANES + lane]
    )


@part
def foresee(workspace: np.ndarray, lane: int, rate: float, tick: int, period: float) -> float:
    """Angle of all foils (rad) for the water that the rangefinder saw ahead and that now comes to the foils.

    rate: of the height above it (m/s), remembered until the craft has gone the distance. The angle that matches a rate is
    rate / speed; PREVIEW is the share of it that is given.
    """
    workspace[(at.PREVIEW_RING + (tick & (at.PREVIEW_TICKS - 1))) * LANES + lane] = rate
    speed = max(workspace[at.SPEED_READING * LANES + lane], 0.5)
    late = workspace[at.KNOWN_LATENCY * LANES + lane] + workspace[(at.HEIGHT_GAINS + 4) * LANES + lane]
    ahead = workspace[at.PREVIEW_DISTANCE * LANES + lane] / speed - late
    back = int(clip(ahead / period, 0.0, 1.0 * min(tick, at.PREVIEW_TICKS - 1)))
    then = workspace[(at.PREVIEW_RING + ((tick - back) & (at.PREVIEW_TICKS - 1))) * LANES + lane]
    return -workspace[at.PREVIEW * LANES + lane] * then / speed


@part
def flies(workspace: np.ndarray, lane: int, period: float) -> bool:
    """Whether the craft flies, as far as the control code can tell by its own readings: FLYING.

    It takes off when it is nearly as high as wanted, and lands when it is both low and slow. Afloat and on its way over the
    hump an integral would gather what the hull carries, and speeding up tilts the attitude that is taken for level, which
    takes its time to fade. One that has been quick for longer and stays low has a wrong trim, which is what integrals are for.
    """
    height = workspace[at.HEIGHT_ESTIMATE * LANES + lane] / workspace[at.RIDE_HEIGHT * LANES + lane]
    speed = workspace[at.SPEED_READING * LANES + lane] / workspace[at.WANTED_SPEED * LANES + lane]
    quick = workspace[at.QUICK_TIME * LANES + lane] + period if speed > QUICK else 0.0
    workspace[at.QUICK_TIME * LANES + lane] = quick
    if workspace[at.AT_REST * LANES + lane] > 0.0 or (height < LANDED_HEIGHT and speed < LANDED_SPEED):
        workspace[at.FLYING * LANES + lane] = 0.0
    elif height > FLYING_HEIGHT or quick > LONG * workspace[at.LEVELLING_TIME * LANES + lane]:
        workspace[at.FLYING * LANES + lane] = 1.0
    return workspace[at.FLYING * LANES + lane] > 0.0


@part
def level(
    workspace: np.ndarray,
    lane: int,
    rate: float,
    foils: int,
    commands: np.ndarray,
    row: int,
    share: float,
    bank: float,
    ahead: float,
    period: float,
) -> None:
    """Height, pitch and roll loops and the mixer; bank: the roll that is wanted, ahead: what `foresee` adds (rad).

    Integrals gather in flight alone, see `flies`.
    """
    gathered = period if flies(workspace, lane, period) else 0.0
    rolling = workspace[at.GYRO_READING * LANES + lane]
    pitching = workspace[(at.GYRO_READING + 1) * LANES + lane]
    missing = workspace[at.RIDE_HEIGHT * LANES + lane] - workspace[at.HEIGHT_ESTIMATE * LANES + lane]
    height = loop(workspace, lane, at.HEIGHT_GAINS, at.HEIGHT_INTEGRAL, missing, rate, gathered)
    bow_up = clip(workspace[at.PITCH_SHARE * LANES + lane] * missing, -SHARED_PITCH_LIMIT, SHARED_PITCH_LIMIT)
    pitch_error = workspace[at.PITCH_TRIM * LANES + lane] + bow_up - workspace[at.PITCH_ESTIMATE * LANES + lane]
    pitch = loop(workspace, lane, at.PITCH_GAINS, at.PITCH_INTEGRAL, pitch_error, pitching, gathered)
    roll_error = bank - workspace[at.ROLL_ESTIMATE * LANES + lane]
    roll = loop(workspace, lane, at.ROLL_GAINS, at.ROLL_INTEGRAL, roll_error, rolling, gathered)
    limit = workspace[(at.HEIGHT_GAINS + 3) * LANES + lane]
    height = clip(share * height + ahead, -limit, limit) if ahead != 0.0 else share * height
    send(workspace, lane, foils, commands, row, height, share * pitch, share * roll)


@kernel
def control(
    workspace: np.ndarray,
    commands: np.ndarray,
    readings: np.ndarray,
    noise: LaneNoise,
    counts: np.ndarray,
    tick: int,
    period: float,
) -> None:
    """One control tick of every lane that is still flying; period in s, needs ROTATION of the STATE.

    commands: (foils + 1, RING, lanes), the rudder last; readings as `sensors.take_ranges` fills them; counts end in the number
    of rangefinders and the law.
    """
    time = tick * period
    slot = tick & (RING - 1)
    sample = min(tick, noise.gyro.shape[1] - 1)
    foils = counts[0]
    rangefinders = counts[4]
    law = counts[5]
    read_inertial(workspace, noise, sample)
    estimate_attitude(workspace, period)
    for lane in range(LANES):
        if workspace[at.ALIVE * LANES + lane] == 0.0:
            continue
        see_ranges(workspace, lane, readings, rangefinders, time)
        navigate(workspace, lane, noise, time)
        measured = measure_height(workspace, lane, rangefinders)
        rate = estimate_height(workspace, lane, measured, upward(workspace, lane), law == FUSED_HEIGHT, period)
        share = pressure_share(workspace, lane)
        bank = follow_course(workspace, lane, period)
        if law == EACH_FOIL:
            send_own(workspace, lane, foils, rangefinders, commands, slot, share)
            steer(workspace, lane, workspace[at.HEADING_RATE * LANES + lane], commands, foils, slot, share)
        else:
            previews = workspace[at.PREVIEW * LANES + lane] > 0.0
            ahead = foresee(workspace, lane, rate, tick, period) if previews else 0.0
            level(workspace, lane, rate, foils, commands, slot, share, bank, ahead, period)
            steer(workspace, lane, workspace[(at.GYRO_READING + 2) * LANES + lane], commands, foils, slot, share)
        missing = workspace[at.RIDE_HEIGHT * LANES + lane] - workspace[at.HEIGHT_ESTIMATE * LANES + lane]
        workspace[at.THROTTLE * LANES + lane] = throttle_command(workspace, lane, missing, period)

"""The control code on board: height, pitch, roll, heading and speed loops, and the mixer; `estimates` has its filters.

It runs once a control tick, lane by lane, and knows only the sensors' readings up to then. Angles in rad.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import clip, nearest
from sweep.model.layout import row
from sweep.model.onboard.choices import EACH_FOIL, FUSED_HEIGHT
from sweep.model.onboard.estimates import estimate_attitude, estimate_height, measure_height, upward
from sweep.model.onboard.noise import LaneNoise
from sweep.model.onboard.sensors import navigate, read_inertial, see_ranges
from sweep.model.onboard.servo import RING
from sweep.model.physics.spectra import GRAVITY

FLYING_HEIGHT = 0.75  # of the wanted height and speed: when the control code takes the craft to fly; judgement
LANDED_HEIGHT, LANDED_SPEED = 0.25, 0.5  # of the same: under both the craft is down again; judgement
QUICK, LONG = 0.9, 2.0  # of the wanted speed; times the time over which the attitude is levelled
SHARED_PITCH_LIMIT = 0.09  # rad, about 5 degrees: the most pitch that missing height may ask for; judgement


class Loop(NamedTuple):
    """Slots of a loop's gains and of its integral."""

    gains: int
    integral: int


HEIGHT_LOOP = Loop(at.HEIGHT_GAINS.first, at.HEIGHT_INTEGRAL)
PITCH_LOOP = Loop(at.PITCH_GAINS.first, at.PITCH_INTEGRAL)
ROLL_LOOP = Loop(at.ROLL_GAINS.first, at.ROLL_INTEGRAL)


class Wish(NamedTuple):
    """Commands to all foils together, rad: lift of the craft, bow up, starboard down."""

    height: float
    pitch: float
    roll: float


class Guidance(NamedTuple):
    """What the loops of the attitude go by at a control tick.

    rate: of the height, m/s; bank: the roll that is wanted, rad; ahead: angle for the water to come, see `foresee`, rad;
    share: of the angles, see `pressure_share`.
    """

    rate: float
    bank: float
    ahead: float
    share: float


class Tick(NamedTuple):
    """A control tick. period: from one to the next, s."""

    number: int
    period: float


@part
def run_loop(workspace: np.ndarray, lane: int, loop: Loop, error: float, rate: float, time: float) -> float:
    """Proportional, integral, derivative on a measured rate; command and integral kept within the loop's limit (M15.9).

    time: s, over which the integral gathers the error; 0 and it waits.
    """
    limit = workspace[row(loop.gains + at.GAINS.limit) + lane]
    gathered = workspace[row(loop.integral) + lane]
    command = (
        workspace[row(loop.gains + at.GAINS.proportional) + lane] * error
        + gathered
        - workspace[row(loop.gains + at.GAINS.derivative) + lane] * rate
    )
    workspace[row(loop.integral) + lane] = clip(
        gathered + workspace[row(loop.gains + at.GAINS.integral) + lane] * error * time, -limit, limit
    )
    return clip(command, -limit, limit)


@part
def pressure_share(workspace: np.ndarray, lane: int) -> float:
    """Factor on scheduled angles: dynamic pressure of the gains' speed over that of now, 0.2 to 4; 1 if fixed.

    M15.3.
    """
    reference = workspace[row(at.SCHEDULE_SPEED) + lane]
    if reference == 0.0:
        return 1.0
    share = reference / max(workspace[row(at.SPEED_READING) + lane], 0.3)
    return clip(share * share, 0.2, 4.0)


@part
def throttle_command(workspace: np.ndarray, lane: int, missing: float, period: float) -> float:
    """Throttle, 0 ... 1: its integral waits while the throttle is at a stop and the error pushes further (M15.17)."""
    if workspace[row(at.AT_REST) + lane] > 0.0:
        return 0.0
    error = workspace[row(at.WANTED_SPEED) + lane] - workspace[row(at.SPEED_READING) + lane]
    gathered = workspace[row(at.SPEED_INTEGRAL) + lane]
    wanted = (
        workspace[row(at.TRIM.throttle) + lane]
        + workspace[row(at.SPEED_GAINS.proportional) + lane] * error
        + gathered
        + workspace[row(at.THROTTLE_SHARE) + lane] * missing
    )
    throttle = clip(wanted, 0.0, 1.0)
    if throttle == wanted or (wanted - throttle) * error < 0.0:
        workspace[row(at.SPEED_INTEGRAL) + lane] = gathered + workspace[row(at.SPEED_GAINS.integral) + lane] * error * period
    return throttle


@part
def quantised(command: float, quantum: float, travel: float) -> float:
    """The command as a servo takes it: whole quanta within its travel (rad; M13.1)."""
    if quantum > 0.0:
        command = nearest(command / quantum) * quantum
    return clip(command, -travel, travel)


@part
def send(workspace: np.ndarray, lane: int, foils: int, orders: np.ndarray, wish: Wish) -> None:
    """Mix the three commands into foil angles about the trim (M15.13). orders: (foils + 1, lanes), commands of this tick."""
    height = wish.height + workspace[row(at.TRIM.height) + lane]
    pitch = wish.pitch + workspace[row(at.TRIM.pitch) + lane]
    for foil in range(foils):
        f = row(foil * at.FOIL.width)
        angle = (
            workspace[f + row(at.FOIL.mix.height) + lane] * height
            + workspace[f + row(at.FOIL.mix.pitch) + lane] * pitch
            + workspace[f + row(at.FOIL.mix.roll) + lane] * wish.roll
        )
        orders[foil, lane] = quantised(angle, workspace[row(at.SERVO.quantum) + lane], workspace[row(at.SERVO.travel) + lane])


@part
def send_own(workspace: np.ndarray, lane: int, foils: int, rangefinders: int, orders: np.ndarray, share: float) -> None:
    """Every foil answers its own rangefinder in proportion, about the trim, without an inertial unit (M15.4).

    orders: (foils + 1, lanes), commands of this tick; share: of the angles, see `pressure_share`.
    """
    gain = workspace[row(at.HEIGHT_GAINS.proportional) + lane]
    limit = workspace[row(at.HEIGHT_GAINS.limit) + lane]
    for foil in range(foils):
        sensor = foil % rangefinders
        mounted = workspace[row(at.KNOWN_PLACE.height + sensor * at.KNOWN_PLACE.width) + lane]
        height = workspace[row(at.RANGE_LAST + sensor) + lane] - mounted
        missing = workspace[row(at.RIDE_HEIGHT) + lane] - height if height == height else 0.0
        f = row(foil * at.FOIL.width)
        trim = (
            workspace[f + row(at.FOIL.mix.height) + lane] * workspace[row(at.TRIM.height) + lane]
            + workspace[f + row(at.FOIL.mix.pitch) + lane] * workspace[row(at.TRIM.pitch) + lane]
        )
        orders[foil, lane] = quantised(
            trim + share * clip(gain * missing, -limit, limit),
            workspace[row(at.SERVO.quantum) + lane],
            workspace[row(at.SERVO.travel) + lane],
        )


@part
def follow_course(workspace: np.ndarray, lane: int, period: float) -> float:
    """Move COURSE towards the one wanted at the turn rate; returns the bank (rad) for it, starboard down positive (M15.12)."""
    course = workspace[row(at.COURSE) + lane]
    most = workspace[row(at.TURN_RATE) + lane] * period
    turned = clip(workspace[row(at.COURSE_WANTED) + lane] - course, -most, most)
    workspace[row(at.COURSE) + lane] = course + turned
    lean = math.atan(workspace[row(at.SPEED_READING) + lane] * turned / (period * GRAVITY)) if turned != 0.0 else 0.0
    limit = workspace[row(at.BANK_LIMIT) + lane]
    bank = clip(workspace[row(at.BANK_SHARE) + lane] * lean, -limit, limit)
    workspace[row(at.BANK_WANTED) + lane] = bank
    return bank


@part
def steer(workspace: np.ndarray, lane: int, turning: float, order: np.ndarray, share: float) -> None:
    """Command of the rudder, or of propellers against each other, for the course, less for the rate of turning (M15.16).

    turning: rad/s; order: (lanes,), the rudder's command of this tick; share: of the angles, see `pressure_share`.
    """
    wanted = (
        workspace[row(at.HEADING_GAINS.proportional) + lane]
        * (workspace[row(at.COURSE) + lane] - workspace[row(at.HEADING_READING) + lane])
        - workspace[row(at.HEADING_GAINS.derivative) + lane] * turning
    )
    limit = workspace[row(at.HEADING_GAINS.limit) + lane]
    command = clip(share * wanted, -limit, limit)
    workspace[row(at.SIDE_THROTTLE) + lane] = workspace[row(at.DIFFERENTIAL) + lane] * command
    rudder = workspace[row(at.RUDDER_SIDE) + lane] * command
    order[lane] = quantised(
        rudder, workspace[row(at.RUDDER_SERVO.quantum) + lane], workspace[row(at.RUDDER_SERVO.travel) + lane]
    )


@part
def foresee(workspace: np.ndarray, lane: int, rate: float, tick: int, period: float) -> float:
    """Angle of all foils (rad) for the water that the rangefinder saw ahead and that now comes to the foils (M15.15).

    rate: of the height above it (m/s), remembered until the craft has gone the distance. The angle that matches a rate is
    rate / speed; PREVIEW is the share of it that is given.
    """
    workspace[row(at.PREVIEW_RING + (tick & (at.PREVIEW_TICKS - 1))) + lane] = rate
    speed = max(workspace[row(at.SPEED_READING) + lane], 0.5)
    late = workspace[row(at.KNOWN_LATENCY) + lane] + workspace[row(at.HEIGHT_GAINS.smoothing) + lane]
    ahead = workspace[row(at.PREVIEW_DISTANCE) + lane] / speed - late
    back = int(clip(ahead / period, 0.0, 1.0 * min(tick, at.PREVIEW_TICKS - 1)))
    then = workspace[row(at.PREVIEW_RING + ((tick - back) & (at.PREVIEW_TICKS - 1))) + lane]
    return -workspace[row(at.PREVIEW) + lane] * then / speed


@part
def flies(workspace: np.ndarray, lane: int, period: float) -> bool:
    """Whether the craft flies, as far as the control code can tell by its own readings: FLYING (M15.10).

    It takes off when it is nearly as high as wanted, and lands when it is both low and slow. Afloat and on its way over the
    hump an integral would gather what the hull carries, and speeding up tilts the attitude that is taken for level, which
    takes its time to fade. One that has been quick for longer and stays low has a wrong trim, which is what integrals are for.
    """
    height = workspace[row(at.HEIGHT_ESTIMATE) + lane] / workspace[row(at.RIDE_HEIGHT) + lane]
    speed = workspace[row(at.SPEED_READING) + lane] / workspace[row(at.WANTED_SPEED) + lane]
    quick = workspace[row(at.QUICK_TIME) + lane] + period if speed > QUICK else 0.0
    workspace[row(at.QUICK_TIME) + lane] = quick
    if workspace[row(at.AT_REST) + lane] > 0.0 or (height < LANDED_HEIGHT and speed < LANDED_SPEED):
        workspace[row(at.FLYING) + lane] = 0.0
    elif height > FLYING_HEIGHT or quick > LONG * workspace[row(at.LEVELLING_TIME) + lane]:
        workspace[row(at.FLYING) + lane] = 1.0
    return workspace[row(at.FLYING) + lane] > 0.0


@part
def level(workspace: np.ndarray, lane: int, foils: int, orders: np.ndarray, guidance: Guidance, period: float) -> None:
    """Height, pitch and roll loops and the mixer (M15.11). Integrals gather in flight alone, see `flies`.

    orders: (foils + 1, lanes), commands of this tick; period: of control ticks, s.
    """
    share, ahead = guidance.share, guidance.ahead
    gathered = period if flies(workspace, lane, period) else 0.0
    rolling = workspace[row(at.GYRO_READING.x) + lane]
    pitching = workspace[row(at.GYRO_READING.y) + lane]
    missing = workspace[row(at.RIDE_HEIGHT) + lane] - workspace[row(at.HEIGHT_ESTIMATE) + lane]
    height = run_loop(workspace, lane, HEIGHT_LOOP, missing, guidance.rate, gathered)
    bow_up = clip(workspace[row(at.PITCH_SHARE) + lane] * missing, -SHARED_PITCH_LIMIT, SHARED_PITCH_LIMIT)
    pitch_error = workspace[row(at.PITCH_TRIM) + lane] + bow_up - workspace[row(at.PITCH_ESTIMATE) + lane]
    pitch = run_loop(workspace, lane, PITCH_LOOP, pitch_error, pitching, gathered)
    roll_error = guidance.bank - workspace[row(at.ROLL_ESTIMATE) + lane]
    roll = run_loop(workspace, lane, ROLL_LOOP, roll_error, rolling, gathered)
    limit = workspace[row(at.HEIGHT_GAINS.limit) + lane]
    height = clip(share * height + ahead, -limit, limit) if ahead != 0.0 else share * height
    send(workspace, lane, foils, orders, Wish(height, share * pitch, share * roll))


@kernel
def control(
    workspace: np.ndarray,
    commands: np.ndarray,
    readings: np.ndarray,
    noise: LaneNoise,
    counts: at.PartCounts,
    tick: Tick,
) -> None:
    """One control tick of every lane that is still flying; needs ROTATION of the STATE.

    commands: (foils + 1, RING, lanes), the rudder last; readings as `sensors.take_ranges` fills them.
    """
    number, period = tick
    time = number * period
    orders = commands[:, number & (RING - 1)]
    rudder = orders[counts.foils]
    sample = min(number, noise.gyro.shape[1] - 1)
    foils = counts.foils
    rangefinders = counts.rangefinders
    law = counts.law
    read_inertial(workspace, noise, sample)
    estimate_attitude(workspace, period)
    for lane in range(LANES):
        if workspace[row(at.ALIVE) + lane] == 0.0:
            continue
        see_ranges(workspace, lane, readings, rangefinders, time)
        navigate(workspace, lane, noise, time)
        measured = measure_height(workspace, lane, rangefinders)
        rate = estimate_height(workspace, lane, measured, upward(workspace, lane), law == FUSED_HEIGHT, period)
        share = pressure_share(workspace, lane)
        bank = follow_course(workspace, lane, period)
        if law == EACH_FOIL:
            send_own(workspace, lane, foils, rangefinders, orders, share)
            steer(workspace, lane, workspace[row(at.HEADING_RATE) + lane], rudder, share)
        else:
            previews = workspace[row(at.PREVIEW) + lane] > 0.0
            ahead = foresee(workspace, lane, rate, number, period) if previews else 0.0
            level(workspace, lane, foils, orders, Guidance(rate, bank, ahead, share), period)
            steer(workspace, lane, workspace[row(at.GYRO_READING.z) + lane], rudder, share)
        missing = workspace[row(at.RIDE_HEIGHT) + lane] - workspace[row(at.HEIGHT_ESTIMATE) + lane]
        workspace[row(at.THROTTLE) + lane] = throttle_command(workspace, lane, missing, period)

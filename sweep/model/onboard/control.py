"""The control code on board: height, pitch, roll, heading and speed loops, and the mixer. Its filters are in `estimates`.

It runs once a control tick and uses only the sensors' readings up to then. Angles in rad.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import clip, direction, nearest, wrapped
from sweep.model.layout import alike, keep, row
from sweep.model.onboard.cascade import PITCH_CASCADE, ROLL_CASCADE, Attitude, run_cascade
from sweep.model.onboard.choices import CASCADED, EACH_FOIL, FUSED_HEIGHT
from sweep.model.onboard.estimates import estimate_attitude, estimate_height, measure_height, upward
from sweep.model.onboard.motion_sensors import navigate, read_inertial
from sweep.model.onboard.noise import LaneNoise
from sweep.model.onboard.safety import runs, watch
from sweep.model.onboard.sensors import see_ranges
from sweep.model.onboard.servo import RING
from sweep.model.physics.spectra import GRAVITY

FLYING_HEIGHT = 0.75  # of the wanted height: above it the control code takes the craft to be flying; judgement
LANDED_HEIGHT, LANDED_SPEED = 0.25, 0.5  # of the wanted height and speed: below both the craft has landed; judgement
MOST_BACK = at.PREVIEW_TICKS - 1.0
QUICK, LONG = 0.9, 2.0  # share of the wanted speed; multiple of the attitude filter's levelling time
SHARED_PITCH_LIMIT = 0.09  # rad, about 5 degrees: the largest pitch commanded for missing height; judgement


class Loop(NamedTuple):
    """Slots of a loop's gains and of its integral."""

    gains: int
    integral: int


HEIGHT_LOOP = Loop(at.HEIGHT_GAINS.first, at.HEIGHT_INTEGRAL)
PITCH_LOOP = Loop(at.PITCH_GAINS.first, at.PITCH_INTEGRAL)
ROLL_LOOP = Loop(at.ROLL_GAINS.first, at.ROLL_INTEGRAL)


class Tick(NamedTuple):
    """A control tick. number: ticks since the start; period: time between ticks, s."""

    number: int
    period: float


@part
def run_loop(workspace: np.ndarray, lane: int, loop: Loop, error: float, rate: float, time: float) -> float:
    """PID command, its derivative term on the measured rate. Command and integral stay within the loop's limit (M15.9).

    time: s, over which the error is integrated; 0 freezes the integral.
    """
    limit = workspace[row(loop.gains + at.GAINS.limit) + lane]
    gathered = workspace[row(loop.integral) + lane]
    command = (
        workspace[row(loop.gains + at.GAINS.proportional) + lane] * error
        + gathered
        - workspace[row(loop.gains + at.GAINS.derivative) + lane] * rate
    )
    gathered += workspace[row(loop.gains + at.GAINS.integral) + lane] * error * time
    keep(workspace, loop.integral, lane, clip(gathered, -limit, limit))
    return clip(command, -limit, limit)


@part
def pressure_share(workspace: np.ndarray, lane: int) -> float:
    """Gain-schedule factor on commanded angles: dynamic pressure at the gains' speed over that now, 0.2 to 4; 1 if fixed.

    M15.3.
    """
    reference = workspace[row(at.SCHEDULE_SPEED) + lane]
    speed = workspace[row(at.SPEED_READING) + lane]
    share = reference / (speed if speed > 0.3 else 0.3)
    return clip(share * share, 0.2, 4.0) if reference > 0.0 else 1.0


@part
def throttle_command(workspace: np.ndarray, lane: int, missing: float, period: float) -> float:
    """Throttle, 0 ... 1. The integral stops while the throttle is at a limit and the error pushes it further (M15.17).

    0 before the craft is told to go, and in the safe state.

    missing: wanted less estimated height, m; period in s.
    """
    error = workspace[row(at.WANTED_SPEED) + lane] - workspace[row(at.SPEED_READING) + lane]
    gathered = workspace[row(at.SPEED_INTEGRAL) + lane]
    wanted = (
        workspace[row(at.TRIM.throttle) + lane]
        + workspace[row(at.SPEED_GAINS.proportional) + lane] * error
        + gathered
        + workspace[row(at.THROTTLE_SHARE) + lane] * missing
    )
    throttle = clip(wanted, 0.0, 1.0)
    waits = workspace[row(at.AT_REST) + lane] > 0.0
    pushes = (wanted - throttle) * error > 0.0
    more = workspace[row(at.SPEED_GAINS.integral) + lane] * error * period
    keep(workspace, at.SPEED_INTEGRAL, lane, gathered if waits or pushes else gathered + more)
    return 0.0 if waits else runs(workspace, lane) * throttle


@part
def quantised(command: float, quantum: float, travel: float) -> float:
    """The command as the servo resolves it: rounded to whole quanta, within its travel (rad; M13.1)."""
    whole = nearest(command / (quantum if quantum > 0.0 else 1.0)) * quantum
    return clip(whole if quantum > 0.0 else command, -travel, travel)


@kernel
def send(workspace: np.ndarray, foils: int, commands: np.ndarray, newest: int) -> None:
    """Mix the commands in WISH into foil angles about the trim (M15.13). newest: row of `commands` for this tick."""
    for foil in range(foils):
        f = row(foil * at.FOIL.width)
        order = commands[foil, newest]
        for lane in range(LANES):
            height = workspace[row(at.WISH.height) + lane] + workspace[row(at.TRIM.height) + lane]
            pitch = workspace[row(at.WISH.pitch) + lane] + workspace[row(at.TRIM.pitch) + lane]
            angle = (
                workspace[f + row(at.FOIL.mix.height) + lane] * height
                + workspace[f + row(at.FOIL.mix.pitch) + lane] * pitch
                + workspace[f + row(at.FOIL.mix.roll) + lane] * workspace[row(at.WISH.roll) + lane]
            )
            quantum = workspace[f + row(at.FOIL.moved_by.quantum) + lane]
            angle = quantised(runs(workspace, lane) * angle, quantum, workspace[f + row(at.FOIL.moved_by.travel) + lane])
            order[lane] = angle if workspace[row(at.ALIVE) + lane] > 0.0 else order[lane]


@kernel
def send_own(workspace: np.ndarray, foils: int, rangefinders: int, commands: np.ndarray, newest: int) -> None:
    """Command each foil in proportion to its own rangefinder's height error, about the trim; no inertial unit (M15.4)."""
    for foil in range(foils):
        f = row(foil * at.FOIL.width)
        sensor = foil % rangefinders
        mounted = row(at.KNOWN_PLACE.height + sensor * at.KNOWN_PLACE.width)
        down = row(at.KNOWN_LOOK.z + sensor * at.KNOWN_LOOK.width)
        last = row(at.RANGE_LAST + sensor)
        order = commands[foil, newest]
        for lane in range(LANES):
            limit = workspace[row(at.HEIGHT_GAINS.limit) + lane]
            height = workspace[last + lane] * workspace[down + lane] - workspace[mounted + lane]
            missing = workspace[row(at.RIDE_HEIGHT) + lane] - height if height == height else 0.0
            trim = (
                workspace[f + row(at.FOIL.mix.height) + lane] * workspace[row(at.TRIM.height) + lane]
                + workspace[f + row(at.FOIL.mix.pitch) + lane] * workspace[row(at.TRIM.pitch) + lane]
            )
            answer = clip(workspace[row(at.HEIGHT_GAINS.proportional) + lane] * missing, -limit, limit)
            angle = quantised(
                runs(workspace, lane) * (trim + workspace[row(at.ANGLE_SHARE) + lane] * answer),
                workspace[f + row(at.FOIL.moved_by.quantum) + lane],
                workspace[f + row(at.FOIL.moved_by.travel) + lane],
            )
            order[lane] = angle if workspace[row(at.ALIVE) + lane] > 0.0 else order[lane]


@part
def follow_course(workspace: np.ndarray, lane: int, period: float) -> float:
    """Move COURSE towards the wanted one at the turn rate; return the bank for it (rad, positive starboard down; M15.12).

    In the safe state it stays where it is.
    """
    course = workspace[row(at.COURSE) + lane]
    asked = workspace[row(at.LEG_RATE) + lane]
    most = (asked if asked > 0.0 else workspace[row(at.TURN_RATE) + lane]) * period
    wanted = workspace[row(at.COURSE_WANTED) + lane] + workspace[row(at.LEG_HEADING) + lane]
    turned = runs(workspace, lane) * clip(wanted - course, -most, most)
    keep(workspace, at.COURSE, lane, course + turned)
    lean = direction(workspace[row(at.SPEED_READING) + lane] * turned / (period * GRAVITY), 1.0)
    limit = workspace[row(at.BANK_LIMIT) + lane]
    bank = clip(workspace[row(at.BANK_SHARE) + lane] * lean, -limit, limit)
    keep(workspace, at.BANK_WANTED, lane, bank)
    return bank


@kernel
def steer(workspace: np.ndarray, turning: int, order: np.ndarray) -> None:
    """Command the rudder, or a difference in throttle, by the course error, damped by the yaw rate (M15.16).

    Propellers stand still until the craft is told to go, the rudder does not.
    turning: slot of the yaw rate, rad/s; order: (lanes,), the rudder's command of this tick.
    """
    rate = row(turning)
    for lane in range(LANES):
        wanted = (
            workspace[row(at.HEADING_GAINS.proportional) + lane]
            * wrapped(workspace[row(at.COURSE) + lane] - workspace[row(at.HEADING_READING) + lane])
            - workspace[row(at.HEADING_GAINS.derivative) + lane] * workspace[rate + lane]
        )
        limit = workspace[row(at.HEADING_GAINS.limit) + lane]
        command = runs(workspace, lane) * clip(workspace[row(at.ANGLE_SHARE) + lane] * wanted, -limit, limit)
        goes = 1.0 - workspace[row(at.AT_REST) + lane]
        keep(workspace, at.SIDE_THROTTLE, lane, goes * workspace[row(at.DIFFERENTIAL) + lane] * command)
        rudder = workspace[row(at.RUDDER_SIDE) + lane] * command
        travel = workspace[row(at.RUDDER_SERVO.travel) + lane]
        workspace[row(at.RUDDER_WISH) + lane] = clip(rudder, -travel, travel)
        rudder = quantised(rudder, workspace[row(at.RUDDER_SERVO.quantum) + lane], travel)
        order[lane] = rudder if workspace[row(at.ALIVE) + lane] > 0.0 else order[lane]


@kernel
def steer_others(workspace: np.ndarray, counts: at.PartCounts, commands: np.ndarray, newest: int) -> None:
    """Command every further servo what the first rudder's is, rounded to its own steps (M13.7). Call after `steer`."""
    for i in range(counts.rudder_servos):
        own, order = row(i * at.OWN_SERVO.width), commands[counts.foils + 1 + i, newest]
        for lane in range(LANES):
            quantum = workspace[own + row(at.OWN_SERVO.moved_by.quantum) + lane]
            travel = workspace[own + row(at.OWN_SERVO.moved_by.travel) + lane]
            angle = quantised(workspace[row(at.RUDDER_WISH) + lane], quantum, travel)
            order[lane] = angle if workspace[row(at.ALIVE) + lane] > 0.0 else order[lane]


@part
def foresee(workspace: np.ndarray, lane: int, rate: float, tick: int, period: float) -> float:
    """Preview: angle of all foils (rad) for the water that the rangefinder saw ahead and that now reaches the foils (M15.15).

    rate: present rate of the height above the water ahead, m/s. It is stored until the craft has covered the distance. The
    matching angle is rate / speed; PREVIEW is the share of it that is commanded.
    """
    workspace[row(at.PREVIEW_RING + (tick & (at.PREVIEW_TICKS - 1))) + lane] = rate
    speed = max(workspace[row(at.SPEED_READING) + lane], 0.5)
    late = workspace[row(at.KNOWN_LATENCY) + lane] + workspace[row(at.HEIGHT_GAINS.smoothing) + lane]
    ahead = workspace[row(at.PREVIEW_DISTANCE) + lane] / speed - late
    back = min(int(clip(ahead / period, 0.0, MOST_BACK)), tick)
    then = workspace[row(at.PREVIEW_RING + ((tick - back) & (at.PREVIEW_TICKS - 1))) + lane]
    return -workspace[row(at.PREVIEW) + lane] * then / speed


@part
def flies(workspace: np.ndarray, lane: int, period: float) -> bool:
    """Whether the craft flies, judged by the control code from its own readings; sets FLYING (M15.10).

    It flies once it is near the wanted height, and has landed once it is both low and slow. Integrals must wait while the
    craft floats or crosses the hump: they would wind up by the load that the hull carries. Acceleration also tilts the
    estimated attitude, and that error takes time to fade. A craft that is fast for longer than that and still low has a wrong
    trim, which the integrals should correct: it counts as flying too.
    """
    height = workspace[row(at.HEIGHT_ESTIMATE) + lane] / workspace[row(at.RIDE_HEIGHT) + lane]
    speed = workspace[row(at.SPEED_READING) + lane] / workspace[row(at.WANTED_SPEED) + lane]
    quick = workspace[row(at.QUICK_TIME) + lane] + period if speed > QUICK else 0.0
    down = workspace[row(at.AT_REST) + lane] > 0.0 or (height < LANDED_HEIGHT and speed < LANDED_SPEED)
    up = height > FLYING_HEIGHT or quick > LONG * workspace[row(at.LEVELLING_TIME) + lane]
    flying = 1.0 if up else workspace[row(at.FLYING) + lane]
    flying = 0.0 if down else flying
    keep(workspace, at.QUICK_TIME, lane, quick)
    keep(workspace, at.FLYING, lane, flying)
    return flying > 0.0


@part
def lift(workspace: np.ndarray, lane: int, missing: float, time: float) -> float:
    """Set WISH.height by the loop of height; return the bow-up pitch (rad) for missing height (m; M15.11).

    time: s, over which the error is integrated.
    """
    share, ahead = workspace[row(at.ANGLE_SHARE) + lane], workspace[row(at.AHEAD) + lane]
    height = run_loop(workspace, lane, HEIGHT_LOOP, missing, workspace[row(at.HEIGHT_RATE) + lane], time)
    limit = workspace[row(at.HEIGHT_GAINS.limit) + lane]
    with_preview = clip(share * height + ahead, -limit, limit)
    workspace[row(at.WISH.height) + lane] = with_preview if ahead != 0.0 else share * height
    return clip(workspace[row(at.PITCH_SHARE) + lane] * missing, -SHARED_PITCH_LIMIT, SHARED_PITCH_LIMIT)


@kernel
def level(workspace: np.ndarray, period: float) -> None:
    """Set WISH by the loops of height, pitch and roll (M15.11). Integrals run only in flight. period: of control ticks, s."""
    for lane in range(LANES):
        gathered = period if flies(workspace, lane, period) else 0.0
        share = workspace[row(at.ANGLE_SHARE) + lane]
        missing = workspace[row(at.RIDE_HEIGHT) + lane] - workspace[row(at.HEIGHT_ESTIMATE) + lane]
        bow_up = lift(workspace, lane, missing, gathered)
        pitch_error = workspace[row(at.PITCH_TRIM) + lane] + bow_up - workspace[row(at.PITCH_ESTIMATE) + lane]
        pitch = run_loop(workspace, lane, PITCH_LOOP, pitch_error, workspace[row(at.GYRO_READING.y) + lane], gathered)
        roll_error = workspace[row(at.BANK_WANTED) + lane] - workspace[row(at.ROLL_ESTIMATE) + lane]
        roll = run_loop(workspace, lane, ROLL_LOOP, roll_error, workspace[row(at.GYRO_READING.x) + lane], gathered)
        workspace[row(at.WISH.pitch) + lane] = share * pitch
        workspace[row(at.WISH.roll) + lane] = share * roll


@kernel
def level_by_rates(workspace: np.ndarray, period: float) -> None:
    """The same by cascaded loops of pitch and roll (M15.20)."""
    for lane in range(LANES):
        gathered = period if flies(workspace, lane, period) else 0.0
        share = workspace[row(at.ANGLE_SHARE) + lane]
        missing = workspace[row(at.RIDE_HEIGHT) + lane] - workspace[row(at.HEIGHT_ESTIMATE) + lane]
        bow_up = lift(workspace, lane, missing, gathered)
        off = workspace[row(at.PITCH_TRIM) + lane] - workspace[row(at.PITCH_ESTIMATE) + lane]
        pitching = Attitude(bow_up, off, workspace[row(at.GYRO_READING.y) + lane])
        pitch = run_cascade(workspace, lane, PITCH_CASCADE, pitching, period, gathered)
        banked, lean = workspace[row(at.BANK_WANTED) + lane], workspace[row(at.ROLL_ESTIMATE) + lane]
        rolling = Attitude(banked, -lean, workspace[row(at.GYRO_READING.x) + lane])
        roll = run_cascade(workspace, lane, ROLL_CASCADE, rolling, period, gathered)
        workspace[row(at.WISH.pitch) + lane] = share * pitch
        workspace[row(at.WISH.roll) + lane] = share * roll


@kernel
def sense(workspace: np.ndarray, readings: np.ndarray, noise: LaneNoise, counts: at.PartCounts, tick: Tick) -> None:
    """Take the sensors' readings that have arrived, in the lanes that fly; set HEIGHT_RATE and AHEAD from them."""
    time, period = tick.number * tick.period, alike(workspace, tick.period)
    fuses = counts.law == FUSED_HEIGHT or counts.law == CASCADED
    for lane in range(LANES):
        if workspace[row(at.ALIVE) + lane] == 0.0:
            continue
        see_ranges(workspace, lane, readings, counts.rangefinders, time)
        navigate(workspace, lane, noise, time)
        measured = measure_height(workspace, lane, counts.rangefinders)
        rate = estimate_height(workspace, lane, measured, upward(workspace, lane), fuses, period)
        previews = workspace[row(at.PREVIEW) + lane] > 0.0 and counts.law != EACH_FOIL
        workspace[row(at.HEIGHT_RATE) + lane] = rate
        workspace[row(at.AHEAD) + lane] = foresee(workspace, lane, rate, tick.number, period) if previews else 0.0


@kernel
def control(
    workspace: np.ndarray,
    commands: np.ndarray,
    readings: np.ndarray,
    noise: LaneNoise,
    counts: at.PartCounts,
    tick: Tick,
) -> None:
    """Run one control tick in every lane whose flight has not ended. ROTATION must be that of the STATE.

    commands: (foils + 1 + rudder_servos, RING, lanes), the rudders last; readings as `sensors.take_ranges` fills them.
    """
    period, newest = alike(workspace, tick.period), tick.number & (RING - 1)
    read_inertial(workspace, noise, min(tick.number, noise.gyro.shape[1] - 1))
    estimate_attitude(workspace, period)
    sense(workspace, readings, noise, counts, tick)
    watch(workspace, counts.rangefinders, tick.number * tick.period)
    for lane in range(LANES):
        workspace[row(at.ANGLE_SHARE) + lane] = pressure_share(workspace, lane)
        follow_course(workspace, lane, period)
    if counts.law == EACH_FOIL:
        send_own(workspace, counts.foils, counts.rangefinders, commands, newest)
        steer(workspace, at.HEADING_RATE, commands[counts.foils, newest])
    else:
        if counts.law == CASCADED:
            level_by_rates(workspace, period)
        else:
            level(workspace, period)
        send(workspace, counts.foils, commands, newest)
        steer(workspace, at.GYRO_READING.z, commands[counts.foils, newest])
    steer_others(workspace, counts, commands, newest)
    for lane in range(LANES):
        missing = workspace[row(at.RIDE_HEIGHT) + lane] - workspace[row(at.HEIGHT_ESTIMATE) + lane]
        keep(workspace, at.THROTTLE, lane, throttle_command(workspace, lane, missing, period))

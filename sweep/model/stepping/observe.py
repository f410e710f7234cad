"""What a flight adds up as it goes: sums, histograms and events of every lane, in the middle of each step.

The ride is judged while foilborne; power, speed, wet share and hull load over all scored time.

Sums live in an array (lanes, SUMS); events keep clocks there. Times of events are in units of TIME_SCALE (Froude scaling).
What counts as an event is judgement; MODEL.md lists it.
"""

from __future__ import annotations

import math

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.layout import row
from sweep.model.physics.spectra import GRAVITY
from sweep.model.quantities import AGROUND, FLEW, NOT_A_NUMBER, UNDER_WATER, UPSET
from sweep.model.stepping.measure import measure

BINS = 1024  # of each histogram; judgement
BIN_WIDTH = 0.0005  # m, for a hull of 0.9 m
HISTOGRAMS = 4  # size of the ride-height error, of the level-height error; clearance, submergence
OFFSET = 128  # bins of clearance and submergence below zero
# Judgement
UPSET_ROLL = math.radians(35.0)
UPSET_PITCH = math.radians(45.0)
LOST_HEADING = math.radians(20.0)

# Sums, by their places
STEPS = 0
ERROR = 1
ERROR_SQUARED = 2
LEVEL = 3
LEVEL_SQUARED = 4
OUTSIDE = 5
WET = 6
HULL_LOAD = 7
FOILBORNE_STEPS = 8
ACCELERATION_SQUARED = 9
PITCH = 10
PITCH_SQUARED = 11
ROLL_SQUARED = 12
SPEED = 13
POWER = 14
TRAVEL = 15
AT_LIMIT = 16
LEAST_CLEARANCE = 17
LEAST_SUBMERGENCE = 18
MOST_ROLL = 19
TOUCHDOWNS = 20
LICKS = 21
FOIL_OUTS = 22
PLUNGES = 23
HEADINGS_LOST = 24
LOST_FLIGHTS = 25
UPCROSSINGS = 26
STATUS = 27
FAULTS_AT_START = 30
BLIND_AT_START = 31
# Clocks (s) and states of events
FOILBORNE = 32
LIGHT_CLOCK = 33
HEAVY_CLOCK = 34
DRY_CLOCK = 35
TOUCHING = 36
TOUCH_CLOCK = 37
TOUCH_PEAK = 38
TIP_CLOCK = 39
TIP_OUT = 40
TIP_DEEP_CLOCK = 41
PLUNGE_CLOCK = 42
RUDDER_CLOCK = 43
HEADING_OUT = 44
UNDER_CLOCK = 45
LAST_ELEVATION = 46
ENDED_AT = 47
VENTILATIONS = 48
BROACHES = 49
AIR = 50
BROACHED = 51
REFUSED_AT_START = 52
TAKE_OFF_TIME = 53
TAKE_OFF_PATH = 54
MOST_POWER = 55
TOUCH_SCORED = 56
AIR_STEPS = 57
STRUT_VENTILATIONS = 58
STRUT_AIR = 59
BEYOND_POLAR = 60
LEAST_CAVITATION = 61
MOST_LEAN = 62
SUMS = 63


@part
def bin_of(value: float, width: float) -> int:
    """The bin of a value; values beyond the ends go to the end bins."""
    return int(min(max(value / width, 0.0), BINS - 1.0))


@part
def hull_events(
    sums: np.ndarray, lane: int, load: float, wet: bool, mean_depth: float, step: float, scale: float, scored: bool
) -> None:
    """Foilborne or not, touchdowns and licks, plunges, loss of flight. load: hull lift over weight; times in s."""
    s = sums[lane]
    s[LIGHT_CLOCK] = s[LIGHT_CLOCK] + step if load < 0.05 else 0.0
    s[HEAVY_CLOCK] = s[HEAVY_CLOCK] + step if load > 0.5 else 0.0
    if s[FOILBORNE] == 0.0 and s[LIGHT_CLOCK] >= scale:
        s[FOILBORNE] = 1.0
    if s[FOILBORNE] == 1.0 and s[HEAVY_CLOCK] >= scale:
        s[FOILBORNE] = 0.0
        s[LOST_FLIGHTS] += scored
    foilborne = s[FOILBORNE] == 1.0
    if wet:
        if s[TOUCHING] == 0.0 and foilborne:
            s[TOUCHING] = 1.0
            s[TOUCH_CLOCK] = 0.0
            s[TOUCH_PEAK] = 0.0
            s[TOUCHDOWNS] += scored
            s[TOUCH_SCORED] = scored
        s[DRY_CLOCK] = 0.0
        s[TOUCH_CLOCK] += step
        s[TOUCH_PEAK] = max(s[TOUCH_PEAK], load)
    else:
        s[DRY_CLOCK] += step
        if s[TOUCHING] == 1.0 and s[DRY_CLOCK] >= 0.3 * scale:  # judgement: a new touch after this long dry
            s[TOUCHING] = 0.0
            if s[TOUCH_CLOCK] < 0.1 * scale and s[TOUCH_PEAK] < 0.05:
                s[LICKS] += s[TOUCH_SCORED]
    before = s[PLUNGE_CLOCK]
    s[PLUNGE_CLOCK] = before + step if mean_depth > 0.0 and foilborne else 0.0
    if before < 0.1 * scale <= s[PLUNGE_CLOCK]:
        s[PLUNGES] += scored


@part
def foil_events(sums: np.ndarray, lane: int, chords_to_half: float, step: float, scale: float, scored: bool) -> None:
    """Foil out: chords_to_half, how far (chords) the shallowest tip is under half a chord, negative for 50 ms."""
    s = sums[lane]
    if chords_to_half < 0.0:
        s[TIP_DEEP_CLOCK] = 0.0
        s[TIP_CLOCK] += step
        if s[TIP_OUT] == 0.0 and s[TIP_CLOCK] >= 0.05 * scale:
            s[TIP_OUT] = 1.0
            s[FOIL_OUTS] += scored
    else:
        s[TIP_CLOCK] = 0.0
        s[TIP_DEEP_CLOCK] += step
        if s[TIP_DEEP_CLOCK] >= 0.3 * scale:
            s[TIP_OUT] = 0.0


@part
def air_events(sums: np.ndarray, lane: int, ventilated: bool, strut: bool, scored: bool) -> None:
    """A foil or a strut ventilated; broach: a foil out or ventilated, counted when neither was before."""
    s = sums[lane]
    if strut and s[STRUT_AIR] == 0.0:
        s[STRUT_VENTILATIONS] += scored
    s[STRUT_AIR] = 1.0 if strut else 0.0
    if ventilated and s[AIR] == 0.0:
        s[VENTILATIONS] += scored
    s[AIR] = 1.0 if ventilated else 0.0
    broached = ventilated or s[TIP_OUT] == 1.0
    if broached and s[BROACHED] == 0.0:
        s[BROACHES] += scored
    s[BROACHED] = 1.0 if broached else 0.0


@part
def take_off(sums: np.ndarray, lane: int, time: float, step: float, power: float, scored: bool) -> None:
    """When (s) and after how long a path (m) the craft first flew after lying at rest, and the most power (W) it took."""
    s = sums[lane]
    if scored:
        s[MOST_POWER] = max(s[MOST_POWER], power)
        if s[TAKE_OFF_TIME] < 0.0 and s[LIGHT_CLOCK] == 0.0:
            s[TAKE_OFF_PATH] = s[SPEED] * step
        if s[FOILBORNE] == 1.0 and s[TAKE_OFF_TIME] < 0.0:
            s[TAKE_OFF_TIME] = time - s[LIGHT_CLOCK]


@part
def heading_events(
    sums: np.ndarray, lane: int, off: float, rudder_stopped: bool, step: float, scale: float, scored: bool
) -> None:
    """Heading lost: over 20 degrees off, or the rudder at its limit for half a second; over when neither holds."""
    s = sums[lane]
    s[RUDDER_CLOCK] = s[RUDDER_CLOCK] + step if rudder_stopped else 0.0
    lost = abs(off) > LOST_HEADING or s[RUDDER_CLOCK] >= 0.5 * scale
    if lost and s[HEADING_OUT] == 0.0:
        s[HEADINGS_LOST] += scored
    s[HEADING_OUT] = 1.0 if lost else 0.0


@part
def ending(
    sums: np.ndarray,
    lane: int,
    aground: bool,
    roll: float,
    pitch: float,
    mean_depth: float,
    hull_depth: float,
    step: float,
    scale: float,
) -> int:
    """Status with which the flight ends now; FLEW to fly on."""
    s = sums[lane]
    s[UNDER_CLOCK] = s[UNDER_CLOCK] + step if mean_depth > hull_depth else 0.0
    if aground:
        return AGROUND
    if abs(roll) > UPSET_ROLL or abs(pitch) > UPSET_PITCH:
        return UPSET
    return UNDER_WATER if s[UNDER_CLOCK] >= 0.5 * scale else FLEW


@part
def rudder_stopped(workspace: np.ndarray, lane: int) -> bool:
    """Whether the rudder, or what stands in for it, is at its limit."""
    limit = workspace[row(at.HEADING_GAINS.limit) + lane]
    differential = workspace[row(at.DIFFERENTIAL) + lane]
    if workspace[row(at.RUDDER_SIDE) + lane] == 0.0:
        return differential > 0.0 and abs(workspace[row(at.SIDE_THRUST_MID) + lane]) >= 0.98 * differential * limit
    limit = min(workspace[row(at.RUDDER_SERVO.travel) + lane], limit)
    return abs(workspace[row(at.RUDDER_MID) + lane]) >= 0.98 * limit


@part
def note_start(workspace: np.ndarray, sums: np.ndarray, lane: int) -> None:
    """Where the counts stand before the flight is scored."""
    s = sums[lane]
    s[FAULTS_AT_START] = workspace[row(at.FAULT_READINGS) + lane]
    s[BLIND_AT_START] = workspace[row(at.BLIND_READINGS) + lane]
    s[REFUSED_AT_START] = workspace[row(at.REFUSED) + lane]


@part
def add_passage(workspace: np.ndarray, sums: np.ndarray, lane: int, wet: bool, load: float) -> None:
    """What counts over all scored time: wet share, hull load, speed, power, largest roll."""
    s = sums[lane]
    s[STEPS] += 1.0
    s[WET] += wet
    s[HULL_LOAD] += max(load, 0.0)
    along_x = workspace[row(at.RATE.x) + lane]
    along_y = workspace[row(at.RATE.y) + lane]
    s[SPEED] += math.sqrt(along_x * along_x + along_y * along_y)
    s[POWER] += workspace[row(at.POWER) + lane]
    roll = workspace[row(at.MID.phi) + lane]
    s[MOST_ROLL] = max(s[MOST_ROLL], abs(roll))
    s[MOST_LEAN] = max(s[MOST_LEAN], abs(roll - workspace[row(at.BANK_WANTED) + lane]))


@part
def add_ride(
    workspace: np.ndarray,
    sums: np.ndarray,
    histograms: np.ndarray,
    counts: at.Counts,
    lane: int,
    level: float,
    deepest: float,
    chords: float,
) -> None:
    """What counts while foilborne. level: height of the keel over the wanted one, against the calm water, m."""
    s = sums[lane]
    error = level - workspace[row(at.REFERENCE_SEA) + lane]
    outside = -deepest < workspace[row(at.WINDOW_CLEARANCE) + lane] or chords < workspace[row(at.WINDOW_CHORDS) + lane]
    tip = workspace[row(at.SHALLOWEST) + lane]
    rise = workspace[row(at.VERTICAL_ACCELERATION) + lane]
    pitch = workspace[row(at.MID.theta) + lane]
    roll = workspace[row(at.MID.phi) + lane]
    s[FOILBORNE_STEPS] += 1.0
    s[ERROR] += error
    s[ERROR_SQUARED] += error * error
    s[LEVEL] += level
    s[LEVEL_SQUARED] += level * level
    s[OUTSIDE] += outside
    s[ACCELERATION_SQUARED] += rise * rise
    s[PITCH] += pitch
    s[PITCH_SQUARED] += pitch * pitch
    s[ROLL_SQUARED] += roll * roll
    s[TRAVEL] += workspace[row(at.SERVO_TRAVEL) + lane] / counts.foils
    s[AT_LIMIT] += workspace[row(at.SERVO_STOPPED) + lane]
    s[AIR_STEPS] += s[AIR]
    s[BEYOND_POLAR] += workspace[row(at.BEYOND_DATA) + lane]
    s[LEAST_CAVITATION] = min(s[LEAST_CAVITATION], workspace[row(at.CAVITATION_MARGIN) + lane])
    s[LEAST_CLEARANCE] = min(s[LEAST_CLEARANCE], -deepest)
    s[LEAST_SUBMERGENCE] = min(s[LEAST_SUBMERGENCE], tip)
    scale = workspace[row(at.TIME_SCALE) + lane]
    width = BIN_WIDTH * scale * scale
    histograms[0, lane, bin_of(abs(error), width)] += 1
    histograms[1, lane, bin_of(abs(level), width)] += 1
    histograms[2, lane, bin_of(-deepest + OFFSET * width, width)] += 1
    histograms[3, lane, bin_of(tip + OFFSET * width, width)] += 1


@part
def observe_lane(
    workspace: np.ndarray,
    sums: np.ndarray,
    histograms: np.ndarray,
    counts: at.Counts,
    lane: int,
    step: float,
    time: float,
    scored: bool,
) -> None:
    """Add the middle of this step to a lane that flies."""
    s = sums[lane]
    scale = workspace[row(at.TIME_SCALE) + lane]
    deepest, mean_depth = workspace[row(at.DEEPEST) + lane], workspace[row(at.MEAN_DEPTH) + lane]
    chords = workspace[row(at.SHALLOWEST_CHORDS) + lane]
    foil_air, strut_air = workspace[row(at.FOIL_AIR) + lane] > 0.0, workspace[row(at.STRUT_AIR) + lane] > 0.0
    load = workspace[row(at.HULL_LIFT) + lane] / (workspace[row(at.MASS) + lane] * GRAVITY)
    hull_events(sums, lane, load, deepest > 0.0, mean_depth, step, scale, scored)
    aloft = scored and s[FOILBORNE] == 1.0
    foil_events(sums, lane, chords - 0.5, step, scale, aloft)
    air_events(sums, lane, foil_air, strut_air, aloft)
    take_off(sums, lane, time, step, workspace[row(at.POWER) + lane], scored)
    off = workspace[row(at.MID.psi) + lane] - workspace[row(at.COURSE) + lane]
    heading_events(sums, lane, off, rudder_stopped(workspace, lane), step, scale, aloft)
    roll, pitch = workspace[row(at.MID.phi) + lane], workspace[row(at.MID.theta) + lane]
    hull_depth, aground = workspace[row(at.HULL_DEPTH) + lane], workspace[row(at.AGROUND) + lane] > 0.0
    status = ending(sums, lane, aground, roll, pitch, mean_depth, hull_depth, step, scale)
    if status != FLEW:
        s[STATUS] = status
        s[ENDED_AT] = time
        workspace[row(at.ALIVE) + lane] = 0.0
    eta = workspace[row(at.REFERENCE_SEA) + lane]
    if s[LAST_ELEVATION] < 0.0 <= eta:
        s[UPCROSSINGS] += scored
    s[LAST_ELEVATION] = eta
    if not scored:
        note_start(workspace, sums, lane)
        return
    add_passage(workspace, sums, lane, deepest > 0.0, load)
    if s[FOILBORNE] == 1.0:
        keel = workspace[row(at.ROTATION.zz) + lane] * workspace[row(at.KEEL) + lane]
        level = -workspace[row(at.MID.z) + lane] - keel - workspace[row(at.RIDE_HEIGHT) + lane]
        add_ride(workspace, sums, histograms, counts, lane, level, deepest, chords)


@kernel
def observe(
    workspace: np.ndarray, sums: np.ndarray, histograms: np.ndarray, counts: at.Counts, step: float, time: float, settle: float
) -> int:
    """Add the middle of this step to every lane that flies; returns how many did."""
    flying = 0
    measure(workspace, counts)
    for lane in range(LANES):
        if workspace[row(at.ALIVE) + lane] > 0.0:
            observe_lane(workspace, sums, histograms, counts, lane, step, time, time >= settle)
            flying += 1
        elif workspace[row(at.BROKEN) + lane] > 0.0 and sums[lane, STATUS] == FLEW:
            sums[lane, STATUS] = NOT_A_NUMBER
            sums[lane, ENDED_AT] = time
    return flying

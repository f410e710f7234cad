"""What a flight adds up as it goes: sums, histograms and events of every lane, in the middle of each step.

The ride is judged while foilborne; power, speed, wet share and hull load over all scored time.

Sums live in an array (lanes, sums): first those of `quantities.Sums`, then the clocks of events. Times of events are in units
of TIME_SCALE (Froude scaling). What counts as an event is in `events`, and in MODEL.md.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.events import (
    DEEP_TIME,
    DRY_TIME,
    HEAVY_LOAD,
    HEAVY_TIME,
    LICK_LOAD,
    LICK_TIME,
    LIGHT_LOAD,
    LIGHT_TIME,
    LOST_HEADING,
    OUT_DEPTH,
    OUT_TIME,
    PLUNGE_TIME,
    RUDDER_LIMIT,
    RUDDER_TIME,
    UNDER_TIME,
    UPSET_PITCH,
    UPSET_ROLL,
)
from sweep.model.layout import row
from sweep.model.physics.spectra import GRAVITY
from sweep.model.quantities import (
    AGROUND,
    BELOW_ZERO,
    BIN_WIDTH,
    BINS,
    FLEW,
    HISTOGRAM,
    NOT_A_NUMBER,
    SUM,
    UNDER_WATER,
    UPSET,
)
from sweep.model.stepping.measure import measure


class Event(NamedTuple):
    """Clocks (s) and states (0 or 1) of events: the place of each, after the sums."""

    foilborne: int
    light_clock: int
    heavy_clock: int
    dry_clock: int
    touching: int
    touch_clock: int
    touch_peak: int  # largest load of this touch, of the weight
    touch_scored: int
    tip_clock: int
    tip_out: int
    tip_deep_clock: int
    plunge_clock: int
    rudder_clock: int
    heading_out: int
    under_clock: int
    air: int
    strut_air: int
    broached: int
    last_elevation: int  # m


EVENT = Event(*range(len(SUM), len(SUM) + len(Event._fields)))


def start_sums(from_rest: bool) -> np.ndarray:
    """Before the first step, (LANES, sums)."""
    sums = np.zeros((LANES, len(SUM) + len(EVENT)))
    sums[:, [place for name, place in SUM._asdict().items() if name.endswith("_least")]] = np.inf
    sums[:, SUM.take_off_time] = -1.0
    sums[:, EVENT.foilborne] = 0.0 if from_rest else 1.0
    sums[:, EVENT.dry_clock] = 1e9
    return sums


def start_histograms() -> np.ndarray:
    """Before the first step, (histograms, LANES, BINS)."""
    return np.zeros((len(HISTOGRAM), LANES, BINS), dtype=np.int32)


@part
def bin_of(value: float, width: float) -> int:
    """The bin of a value; values beyond the ends go to the end bins."""
    return int(min(max(value / width, 0.0), BINS - 1.0))


class Tally(NamedTuple):
    """What flights add up: sums (lanes, sums), histograms (histograms, lanes, BINS)."""

    sums: np.ndarray
    histograms: np.ndarray


class Moment(NamedTuple):
    """The middle of a step. step: s; scale: TIME_SCALE of the lane; scored: whether it counts."""

    step: float
    scale: float
    scored: bool


@part
def hull_events(sums: np.ndarray, lane: int, load: float, wet: bool, mean_depth: float, moment: Moment) -> None:
    """Foilborne or not, touchdowns and licks, plunges, loss of flight (M17.2, M17.3).

    load: hull lift over weight; mean_depth: of the keel, m.
    """
    s = sums[lane]
    step, scale, scored = moment
    s[EVENT.light_clock] = s[EVENT.light_clock] + step if load < LIGHT_LOAD else 0.0
    s[EVENT.heavy_clock] = s[EVENT.heavy_clock] + step if load > HEAVY_LOAD else 0.0
    if s[EVENT.foilborne] == 0.0 and s[EVENT.light_clock] >= LIGHT_TIME * scale:
        s[EVENT.foilborne] = 1.0
    if s[EVENT.foilborne] == 1.0 and s[EVENT.heavy_clock] >= HEAVY_TIME * scale:
        s[EVENT.foilborne] = 0.0
        s[SUM.lost_flights] += scored
    foilborne = s[EVENT.foilborne] == 1.0
    if wet:
        if s[EVENT.touching] == 0.0 and foilborne:
            s[EVENT.touching] = 1.0
            s[EVENT.touch_clock] = 0.0
            s[EVENT.touch_peak] = 0.0
            s[SUM.touchdowns] += scored
            s[EVENT.touch_scored] = scored
        s[EVENT.dry_clock] = 0.0
        s[EVENT.touch_clock] += step
        s[EVENT.touch_peak] = max(s[EVENT.touch_peak], load)
    else:
        s[EVENT.dry_clock] += step
        if s[EVENT.touching] == 1.0 and s[EVENT.dry_clock] >= DRY_TIME * scale:
            s[EVENT.touching] = 0.0
            if s[EVENT.touch_clock] < LICK_TIME * scale and s[EVENT.touch_peak] < LICK_LOAD:
                s[SUM.licks] += s[EVENT.touch_scored]
    before = s[EVENT.plunge_clock]
    s[EVENT.plunge_clock] = before + step if mean_depth > 0.0 and foilborne else 0.0
    if before < PLUNGE_TIME * scale <= s[EVENT.plunge_clock]:
        s[SUM.plunges] += scored


@part
def foil_events(sums: np.ndarray, lane: int, chords_over: float, moment: Moment) -> None:
    """A foil out, or in again; chords_over: how much deeper (chords) than `OUT_DEPTH` the shallowest tip is (M17.4)."""
    s = sums[lane]
    step, scale, scored = moment
    if chords_over < 0.0:
        s[EVENT.tip_deep_clock] = 0.0
        s[EVENT.tip_clock] += step
        if s[EVENT.tip_out] == 0.0 and s[EVENT.tip_clock] >= OUT_TIME * scale:
            s[EVENT.tip_out] = 1.0
            s[SUM.foil_outs] += scored
    else:
        s[EVENT.tip_clock] = 0.0
        s[EVENT.tip_deep_clock] += step
        if s[EVENT.tip_deep_clock] >= DEEP_TIME * scale:
            s[EVENT.tip_out] = 0.0


@part
def air_events(sums: np.ndarray, lane: int, ventilated: bool, strut: bool, scored: bool) -> None:
    """A foil or a strut ventilated; broach: a foil out or ventilated, counted when neither was before (M17.5)."""
    s = sums[lane]
    if strut and s[EVENT.strut_air] == 0.0:
        s[SUM.strut_ventilations] += scored
    s[EVENT.strut_air] = 1.0 if strut else 0.0
    if ventilated and s[EVENT.air] == 0.0:
        s[SUM.ventilations] += scored
    s[EVENT.air] = 1.0 if ventilated else 0.0
    broached = ventilated or s[EVENT.tip_out] == 1.0
    if broached and s[EVENT.broached] == 0.0:
        s[SUM.broaches] += scored
    s[EVENT.broached] = 1.0 if broached else 0.0


@part
def take_off(sums: np.ndarray, lane: int, time: float, step: float, power: float, scored: bool) -> None:
    """When (s) and after how long a path (m) the craft first flew after lying at rest, and the most power (W) it took.

    M17.12.
    """
    s = sums[lane]
    if scored:
        s[SUM.power_peak] = max(s[SUM.power_peak], power)
        if s[SUM.take_off_time] < 0.0 and s[EVENT.light_clock] == 0.0:
            s[SUM.take_off_path] = s[SUM.speed] * step
        if s[EVENT.foilborne] == 1.0 and s[SUM.take_off_time] < 0.0:
            s[SUM.take_off_time] = time - s[EVENT.light_clock]


@part
def heading_events(sums: np.ndarray, lane: int, off: float, rudder_stopped: bool, moment: Moment) -> None:
    """Heading lost: too far off (rad), or the rudder at its limit for too long; over when neither holds (M17.6)."""
    s = sums[lane]
    step, scale, scored = moment
    s[EVENT.rudder_clock] = s[EVENT.rudder_clock] + step if rudder_stopped else 0.0
    lost = abs(off) > LOST_HEADING or s[EVENT.rudder_clock] >= RUDDER_TIME * scale
    if lost and s[EVENT.heading_out] == 0.0:
        s[SUM.headings_lost] += scored
    s[EVENT.heading_out] = 1.0 if lost else 0.0


@part
def ending(workspace: np.ndarray, sums: np.ndarray, lane: int, moment: Moment) -> int:
    """Status with which the flight ends now; FLEW to fly on (M17.7)."""
    s = sums[lane]
    under = workspace[row(at.MEAN_DEPTH) + lane] > workspace[row(at.HULL_DEPTH) + lane]
    s[EVENT.under_clock] = s[EVENT.under_clock] + moment.step if under else 0.0
    if workspace[row(at.AGROUND) + lane] > 0.0:
        return AGROUND
    if abs(workspace[row(at.MID.phi) + lane]) > UPSET_ROLL or abs(workspace[row(at.MID.theta) + lane]) > UPSET_PITCH:
        return UPSET
    return UNDER_WATER if s[EVENT.under_clock] >= UNDER_TIME * moment.scale else FLEW


@part
def rudder_stopped(workspace: np.ndarray, lane: int) -> bool:
    """Whether the rudder, or what stands in for it, is at its limit."""
    limit = workspace[row(at.HEADING_GAINS.limit) + lane]
    differential = workspace[row(at.DIFFERENTIAL) + lane]
    if workspace[row(at.RUDDER_SIDE) + lane] == 0.0:
        return differential > 0.0 and abs(workspace[row(at.SIDE_THRUST_MID) + lane]) >= RUDDER_LIMIT * differential * limit
    limit = min(workspace[row(at.RUDDER_SERVO.travel) + lane], limit)
    return abs(workspace[row(at.RUDDER_MID) + lane]) >= RUDDER_LIMIT * limit


@part
def note_start(workspace: np.ndarray, sums: np.ndarray, lane: int) -> None:
    """Where the counts stand before the flight is scored."""
    s = sums[lane]
    s[SUM.faulty_before] = workspace[row(at.FAULT_READINGS) + lane]
    s[SUM.blind_before] = workspace[row(at.BLIND_READINGS) + lane]
    s[SUM.refused_before] = workspace[row(at.REFUSED) + lane]


@part
def add_passage(workspace: np.ndarray, sums: np.ndarray, lane: int, wet: bool, load: float) -> None:
    """Adds what counts over all scored time: wet share, hull load, speed, power, largest roll (M17.8)."""
    s = sums[lane]
    s[SUM.steps] += 1.0
    s[SUM.wet] += wet
    s[SUM.hull_load] += max(load, 0.0)
    along_x = workspace[row(at.RATE.x) + lane]
    along_y = workspace[row(at.RATE.y) + lane]
    s[SUM.speed] += math.sqrt(along_x * along_x + along_y * along_y)
    s[SUM.power] += workspace[row(at.POWER) + lane]
    roll = workspace[row(at.MID.phi) + lane]
    s[SUM.roll_peak] = max(s[SUM.roll_peak], abs(roll))
    s[SUM.lean_peak] = max(s[SUM.lean_peak], abs(roll - workspace[row(at.BANK_WANTED) + lane]))


@part
def add_ride(workspace: np.ndarray, tally: Tally, foils: int, lane: int) -> None:
    """Adds what counts while foilborne (M17.8)."""
    s = tally.sums[lane]
    histograms = tally.histograms
    keel = workspace[row(at.ROTATION.zz) + lane] * workspace[row(at.KEEL) + lane]
    level = -workspace[row(at.MID.z) + lane] - keel - workspace[row(at.RIDE_HEIGHT) + lane]  # over that wanted, in calm water
    error = level - workspace[row(at.REFERENCE_SEA) + lane]
    deepest, chords = workspace[row(at.DEEPEST) + lane], workspace[row(at.SHALLOWEST_CHORDS) + lane]
    outside = -deepest < workspace[row(at.WINDOW_CLEARANCE) + lane] or chords < workspace[row(at.WINDOW_CHORDS) + lane]
    tip = workspace[row(at.SHALLOWEST) + lane]
    rise = workspace[row(at.VERTICAL_ACCELERATION) + lane]
    pitch = workspace[row(at.MID.theta) + lane]
    roll = workspace[row(at.MID.phi) + lane]
    s[SUM.foilborne_steps] += 1.0
    s[SUM.error] += error
    s[SUM.error_squared] += error * error
    s[SUM.level] += level
    s[SUM.level_squared] += level * level
    s[SUM.outside_window] += outside
    s[SUM.acceleration_squared] += rise * rise
    s[SUM.pitch] += pitch
    s[SUM.pitch_squared] += pitch * pitch
    s[SUM.roll_squared] += roll * roll
    s[SUM.servo_travel] += workspace[row(at.SERVO_TRAVEL) + lane] / foils
    s[SUM.servo_at_limit] += workspace[row(at.SERVO_STOPPED) + lane]
    s[SUM.ventilated] += s[EVENT.air]
    s[SUM.beyond_polar] += workspace[row(at.BEYOND_DATA) + lane]
    s[SUM.cavitation_least] = min(s[SUM.cavitation_least], workspace[row(at.CAVITATION_MARGIN) + lane])
    s[SUM.clearance_least] = min(s[SUM.clearance_least], -deepest)
    s[SUM.submergence_least] = min(s[SUM.submergence_least], tip)
    scale = workspace[row(at.TIME_SCALE) + lane]
    width = BIN_WIDTH * scale * scale
    histograms[HISTOGRAM.error, lane, bin_of(abs(error), width)] += 1
    histograms[HISTOGRAM.level, lane, bin_of(abs(level), width)] += 1
    histograms[HISTOGRAM.clearance, lane, bin_of(-deepest + BELOW_ZERO * width, width)] += 1
    histograms[HISTOGRAM.submergence, lane, bin_of(tip + BELOW_ZERO * width, width)] += 1


@part
def observe_lane(workspace: np.ndarray, tally: Tally, foils: int, lane: int, time: float, moment: Moment) -> None:
    """Add the middle of this step to a lane that flies; time: of the step's start, s (M17.1, M17.14)."""
    sums, scored = tally.sums, moment.scored
    s = sums[lane]
    deepest, mean_depth = workspace[row(at.DEEPEST) + lane], workspace[row(at.MEAN_DEPTH) + lane]
    chords = workspace[row(at.SHALLOWEST_CHORDS) + lane]
    foil_air, strut_air = workspace[row(at.FOIL_AIR) + lane] > 0.0, workspace[row(at.STRUT_AIR) + lane] > 0.0
    load = workspace[row(at.HULL_LIFT) + lane] / (workspace[row(at.MASS) + lane] * GRAVITY)
    hull_events(sums, lane, load, deepest > 0.0, mean_depth, moment)
    aloft = Moment(moment.step, moment.scale, scored and s[EVENT.foilborne] == 1.0)
    foil_events(sums, lane, chords - OUT_DEPTH, aloft)
    air_events(sums, lane, foil_air, strut_air, aloft.scored)
    take_off(sums, lane, time, moment.step, workspace[row(at.POWER) + lane], scored)
    off = workspace[row(at.MID.psi) + lane] - workspace[row(at.COURSE) + lane]
    heading_events(sums, lane, off, rudder_stopped(workspace, lane), aloft)
    status = ending(workspace, sums, lane, moment)
    if status != FLEW:
        s[SUM.status] = status
        workspace[row(at.ALIVE) + lane] = 0.0
    eta = workspace[row(at.REFERENCE_SEA) + lane]
    if s[EVENT.last_elevation] < 0.0 <= eta:
        s[SUM.encounters] += scored
    s[EVENT.last_elevation] = eta
    if not scored:
        note_start(workspace, sums, lane)
        return
    add_passage(workspace, sums, lane, deepest > 0.0, load)
    if s[EVENT.foilborne] == 1.0:
        add_ride(workspace, tally, foils, lane)


@kernel
def observe(workspace: np.ndarray, tally: Tally, counts: at.PartCounts, step: float, time: float, settle: float) -> int:
    """Add the middle of this step to every lane that flies; returns how many did.

    step: its length; time: of its start; settle: from when on it counts; s.
    """
    flying = 0
    measure(workspace, counts)
    for lane in range(LANES):
        if workspace[row(at.ALIVE) + lane] > 0.0:
            moment = Moment(step, workspace[row(at.TIME_SCALE) + lane], time >= settle)
            observe_lane(workspace, tally, counts.foils, lane, time, moment)
            flying += 1
        elif workspace[row(at.BROKEN) + lane] > 0.0 and tally.sums[lane, SUM.status] == FLEW:
            tally.sums[lane, SUM.status] = NOT_A_NUMBER
    return flying

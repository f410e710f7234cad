"""The running totals of a flight: sums, histograms and events of every lane, updated at the middle of each step.

The ride counts while foilborne; power, speed, wet share and hull load count over all scored time.

Sums are in double precision, a row of lanes each: first those of `quantities.Sums`, then the clocks of events. The time limits
of events are multiplied by TIME_SCALE (Froude scaling). `events` and MODEL.md define the events.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import wrapped
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
    DISARMED,
    FLEW,
    HISTOGRAM,
    NOT_A_NUMBER,
    SUM,
    UNDER_WATER,
    UPSET,
)
from sweep.model.stepping.measure import measure
from sweep.model.stepping.strength import add_strength

_LAST_BIN = float(BINS - 1)
_BELOW_ZERO = float(BELOW_ZERO)
_FLEW, _UPSET, _UNDER_WATER, _AGROUND, _NOT_A_NUMBER = (
    float(code) for code in (FLEW, UPSET, UNDER_WATER, AGROUND, NOT_A_NUMBER)
)
_STOPPED = float(DISARMED - 1)  # the status of a flight that its code keeps still is so much more than what it is stopped by


class Event(NamedTuple):
    """Clocks (s) and states (0 or 1) of events: the row of each, after the sums."""

    foilborne: int
    light_clock: int
    heavy_clock: int
    dry_clock: int
    touching: int
    touch_clock: int
    touch_peak: int  # largest hull load of this touch, as a share of the weight
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


class Tally(NamedTuple):
    """Running totals of flights: sums, row after row as in a workspace; histograms (histograms, lanes, BINS)."""

    sums: np.ndarray
    histograms: np.ndarray


class Moment(NamedTuple):
    """The middle of a step. time: start of the step, s; step: its length, s; scored: whether it counts."""

    time: float
    step: float
    scored: bool


def start_sums(from_rest: bool) -> np.ndarray:
    """Sums before the first step, (LANES, sums). In memory the lanes of one sum are contiguous."""
    sums = at.vector_zeros((len(SUM) + len(EVENT), LANES))
    sums[[place for name, place in SUM._asdict().items() if name.endswith("_least")]] = np.inf
    sums[[SUM.take_off_time, *(place for name, place in SUM._asdict().items() if name.endswith("_most"))]] = -1.0
    sums[EVENT.foilborne] = 0.0 if from_rest else 1.0
    sums[EVENT.dry_clock] = 1e9
    return sums.T


def start_histograms() -> np.ndarray:
    """Histograms before the first step, (histograms, LANES, BINS)."""
    return np.zeros((len(HISTOGRAM), LANES, BINS), dtype=np.int32)


@part
def counted(happens: bool) -> float:
    """1 if it happens, else 0."""
    return 1.0 if happens else 0.0


@kernel
def hull_events(workspace: np.ndarray, sums: np.ndarray, moment: Moment) -> None:
    """Decide from hull lift over weight whether the craft is foilborne; count losses of flight (M17.2)."""
    step, scored = moment.step, counted(moment.scored)
    for lane in range(LANES):
        load = workspace[row(at.HULL_LIFT) + lane] / (workspace[row(at.MASS) + lane] * GRAVITY)
        scale = workspace[row(at.TIME_SCALE) + lane]
        light = sums[row(EVENT.light_clock) + lane] + step if load < LIGHT_LOAD else 0.0
        heavy = sums[row(EVENT.heavy_clock) + lane] + step if load > HEAVY_LOAD else 0.0
        before = sums[row(EVENT.foilborne) + lane]
        down = workspace[row(at.AT_REST) + lane] > 0.0  # told to lie afloat: it lands, and loses no flight
        light = 0.0 if down else light
        up = 1.0 if light >= LIGHT_TIME * scale else before
        up = 0.0 if down else up
        lost = up if heavy >= HEAVY_TIME * scale else 0.0
        alive = workspace[row(at.ALIVE) + lane]
        sums[row(EVENT.light_clock) + lane] = light
        sums[row(EVENT.heavy_clock) + lane] = heavy
        sums[row(EVENT.foilborne) + lane] = up - lost
        sums[row(SUM.lost_flights) + lane] += scored * alive * lost
        sums[row(SUM.take_offs) + lane] += scored * alive * (1.0 - before) * (up - lost)
        workspace[row(at.LOAD_NOW) + lane] = load


@kernel
def water_events(workspace: np.ndarray, sums: np.ndarray, moment: Moment) -> None:
    """Count touchdowns, licks and plunges (M17.3). Call after `hull_events`."""
    step, scored = moment.step, counted(moment.scored)
    for lane in range(LANES):
        load, scale = workspace[row(at.LOAD_NOW) + lane], workspace[row(at.TIME_SCALE) + lane]
        alive, foilborne = workspace[row(at.ALIVE) + lane], sums[row(EVENT.foilborne) + lane]
        wet = counted(workspace[row(at.DEEPEST) + lane] > 0.0)
        touching = sums[row(EVENT.touching) + lane]
        begins = wet * (1.0 - touching) * foilborne
        dry = (1.0 - wet) * (sums[row(EVENT.dry_clock) + lane] + step)
        clock = (1.0 - begins) * sums[row(EVENT.touch_clock) + lane] + wet * step
        peak = (1.0 - begins) * sums[row(EVENT.touch_peak) + lane]
        peak = load if wet > 0.0 and load > peak else peak
        ends = touching * (1.0 - wet) * counted(dry >= DRY_TIME * scale)
        lick = ends * counted(clock < LICK_TIME * scale) * counted(peak < LICK_LOAD)
        counts = scored if begins > 0.0 else sums[row(EVENT.touch_scored) + lane]
        before = sums[row(EVENT.plunge_clock) + lane]
        under = before + step if workspace[row(at.MEAN_DEPTH) + lane] > 0.0 else 0.0
        under *= foilborne
        plunges = counted(before < PLUNGE_TIME * scale) * counted(under >= PLUNGE_TIME * scale)
        sums[row(EVENT.touching) + lane] = touching + begins - ends
        sums[row(EVENT.dry_clock) + lane] = dry
        sums[row(EVENT.touch_clock) + lane] = clock
        sums[row(EVENT.touch_peak) + lane] = peak
        sums[row(EVENT.touch_scored) + lane] = counts
        sums[row(EVENT.plunge_clock) + lane] = under
        sums[row(SUM.touchdowns) + lane] += scored * alive * begins
        sums[row(SUM.licks) + lane] += alive * counts * lick
        sums[row(SUM.plunges) + lane] += scored * alive * plunges


@kernel
def foil_events(workspace: np.ndarray, sums: np.ndarray, moment: Moment) -> None:
    """Count foils out of the water (M17.4), ventilations of foils and struts, and broaches (M17.5).

    A broach begins when a foil is out or ventilated and none was before.
    """
    step, scored = moment.step, counted(moment.scored)
    for lane in range(LANES):
        scale = workspace[row(at.TIME_SCALE) + lane]
        counts = scored * workspace[row(at.ALIVE) + lane] * sums[row(EVENT.foilborne) + lane]
        over = counted(workspace[row(at.SHALLOWEST_CHORDS) + lane] - OUT_DEPTH < 0.0)
        clock = over * (sums[row(EVENT.tip_clock) + lane] + step)
        deep = (1.0 - over) * (sums[row(EVENT.tip_deep_clock) + lane] + step)
        before = sums[row(EVENT.tip_out) + lane]
        goes = over * (1.0 - before) * counted(clock >= OUT_TIME * scale)
        out = (before + goes) * (1.0 - (1.0 - over) * counted(deep >= DEEP_TIME * scale))
        air, strut_air = workspace[row(at.FOIL_AIR) + lane], workspace[row(at.STRUT_AIR) + lane]
        broached = air if air > out else out
        sums[row(EVENT.tip_clock) + lane] = clock
        sums[row(EVENT.tip_deep_clock) + lane] = deep
        sums[row(EVENT.tip_out) + lane] = out
        sums[row(SUM.foil_outs) + lane] += counts * goes
        sums[row(SUM.ventilations) + lane] += counts * air * (1.0 - sums[row(EVENT.air) + lane])
        sums[row(SUM.strut_ventilations) + lane] += counts * strut_air * (1.0 - sums[row(EVENT.strut_air) + lane])
        sums[row(SUM.broaches) + lane] += counts * broached * (1.0 - sums[row(EVENT.broached) + lane])
        sums[row(EVENT.air) + lane] = air
        sums[row(EVENT.strut_air) + lane] = strut_air
        sums[row(EVENT.broached) + lane] = broached


@kernel
def take_off(workspace: np.ndarray, sums: np.ndarray, moment: Moment) -> None:
    """Record the time (s) and path (m) of the take-off from rest, and the largest power (W).

    M17.12. Call in scored time only, before `add_passage`.
    """
    for lane in range(LANES):
        alive = workspace[row(at.ALIVE) + lane] > 0.0
        power, most = workspace[row(at.POWER) + lane], sums[row(SUM.power_peak) + lane]
        light = sums[row(EVENT.light_clock) + lane]
        waits = alive and sums[row(SUM.take_off_time) + lane] < 0.0
        heavy = waits and light == 0.0
        flies = waits and sums[row(EVENT.foilborne) + lane] > 0.0
        path = sums[row(SUM.speed) + lane] * moment.step
        sums[row(SUM.power_peak) + lane] = power if alive and power > most else most
        sums[row(SUM.take_off_path) + lane] = path if heavy else sums[row(SUM.take_off_path) + lane]
        sums[row(SUM.take_off_time) + lane] = moment.time - light if flies else sums[row(SUM.take_off_time) + lane]


@part
def rudder_stopped(workspace: np.ndarray, lane: int) -> bool:
    """Whether the rudder is at its limit; without one, whether the difference in throttle that steers is."""
    limit = workspace[row(at.HEADING_GAINS.limit) + lane]
    differential = workspace[row(at.DIFFERENTIAL) + lane]
    travel = workspace[row(at.RUDDER_SERVO.travel) + lane]
    aside = abs(workspace[row(at.SIDE_THRUST_MID) + lane])
    turned = abs(workspace[row(at.RUDDER_MID) + lane])
    least = travel if travel < limit else limit
    least -= 0.5 * workspace[row(at.RUDDER_SERVO.backlash) + lane]
    steered = workspace[row(at.RUDDER_SIDE) + lane] != 0.0
    pushed = differential > 0.0 and aside >= RUDDER_LIMIT * differential * limit
    return turned >= RUDDER_LIMIT * least if steered else pushed


@kernel
def heading_events(workspace: np.ndarray, sums: np.ndarray, moment: Moment) -> None:
    """Count lost headings: too far off course, or the rudder too long at its limit. Each ends when neither is so (M17.6)."""
    step, scored = moment.step, counted(moment.scored)
    for lane in range(LANES):
        counts = scored * workspace[row(at.ALIVE) + lane] * sums[row(EVENT.foilborne) + lane]
        off = abs(wrapped(workspace[row(at.MID.psi) + lane] - workspace[row(at.COURSE) + lane]))
        clock = sums[row(EVENT.rudder_clock) + lane] + step if rudder_stopped(workspace, lane) else 0.0
        stopped = counted(clock >= RUDDER_TIME * workspace[row(at.TIME_SCALE) + lane])
        lost = 1.0 if off > LOST_HEADING else stopped
        sums[row(EVENT.rudder_clock) + lane] = clock
        sums[row(SUM.headings_lost) + lane] += counts * lost * (1.0 - sums[row(EVENT.heading_out) + lane])
        sums[row(EVENT.heading_out) + lane] = lost


@kernel
def end_flights(workspace: np.ndarray, sums: np.ndarray, step: float) -> None:
    """End the flights that are upset, under water or aground: set their status and clear ALIVE (M17.7). step in s.

    The status of one that goes on says what keeps its boat still, if anything does (M17.19).
    """
    for lane in range(LANES):
        alive = workspace[row(at.ALIVE) + lane]
        under = workspace[row(at.MEAN_DEPTH) + lane] > workspace[row(at.HULL_DEPTH) + lane]
        clock = sums[row(EVENT.under_clock) + lane] + step if under else 0.0
        stopped = workspace[row(at.STOPPED_BY) + lane]
        goes_on = _STOPPED + stopped if stopped > 0.0 else _FLEW
        status = _UNDER_WATER if clock >= UNDER_TIME * workspace[row(at.TIME_SCALE) + lane] else goes_on
        status = _UPSET if abs(workspace[row(at.MID.phi) + lane]) > UPSET_ROLL else status
        status = _UPSET if abs(workspace[row(at.MID.theta) + lane]) > UPSET_PITCH else status
        status = _AGROUND if workspace[row(at.AGROUND) + lane] > 0.0 else status
        ends = alive > 0.0 and status != goes_on
        broken = workspace[row(at.BROKEN) + lane] > 0.0
        sums[row(EVENT.under_clock) + lane] = clock
        code = workspace[row(at.BROKEN) + lane] - 1.0  # the kind of its failure, if it is over 0
        why = _AGROUND + code if code > 0.0 else _NOT_A_NUMBER
        ended = why if broken else sums[row(SUM.status) + lane]
        sums[row(SUM.status) + lane] = status if alive > 0.0 else ended
        workspace[row(at.ALIVE) + lane] = 0.0 if ends else alive


@kernel
def note_start(workspace: np.ndarray, sums: np.ndarray) -> None:
    """Record the counts of readings up to the start of the scored time."""
    for lane in range(LANES):
        sums[row(SUM.faulty_before) + lane] = workspace[row(at.FAULT_READINGS) + lane]
        sums[row(SUM.blind_before) + lane] = workspace[row(at.BLIND_READINGS) + lane]
        sums[row(SUM.refused_before) + lane] = workspace[row(at.REFUSED) + lane]


@kernel
def meet_waves(workspace: np.ndarray, sums: np.ndarray, scored: bool) -> None:
    """Count how often the water at the reference point rises through the calm level (M17.14)."""
    for lane in range(LANES):
        eta = workspace[row(at.REFERENCE_SEA) + lane]
        rises = scored and sums[row(EVENT.last_elevation) + lane] < 0.0 and eta >= 0.0
        sums[row(SUM.encounters) + lane] += workspace[row(at.ALIVE) + lane] * counted(rises)
        sums[row(EVENT.last_elevation) + lane] = eta


@kernel
def add_passage(workspace: np.ndarray, sums: np.ndarray) -> None:
    """Add to the sums over all scored time: wet share, hull load, speed, power, largest roll (M17.8), time to events."""
    for lane in range(LANES):
        alive = workspace[row(at.ALIVE) + lane] > 0.0
        load = workspace[row(at.LOAD_NOW) + lane]
        along_x = workspace[row(at.RATE.x) + lane]
        along_y = workspace[row(at.RATE.y) + lane]
        roll = workspace[row(at.MID.phi) + lane]
        lean = abs(roll - workspace[row(at.BANK_WANTED) + lane])
        roll = abs(roll)
        most_roll, most_lean = sums[row(SUM.roll_peak) + lane], sums[row(SUM.lean_peak) + lane]
        sums[row(SUM.steps) + lane] += 1.0 if alive else 0.0
        sums[row(SUM.wet) + lane] += 1.0 if alive and workspace[row(at.DEEPEST) + lane] > 0.0 else 0.0
        sums[row(SUM.before_touchdown) + lane] += 1.0 if alive and sums[row(SUM.touchdowns) + lane] == 0.0 else 0.0
        sums[row(SUM.before_broach) + lane] += 1.0 if alive and sums[row(SUM.broaches) + lane] == 0.0 else 0.0
        sums[row(SUM.before_loss) + lane] += 1.0 if alive and sums[row(SUM.lost_flights) + lane] == 0.0 else 0.0
        sums[row(SUM.hull_load) + lane] += load if alive and load > 0.0 else 0.0
        sums[row(SUM.speed) + lane] += math.sqrt(along_x * along_x + along_y * along_y) if alive else 0.0
        sums[row(SUM.power) + lane] += workspace[row(at.POWER) + lane] if alive else 0.0
        sums[row(SUM.roll_peak) + lane] = roll if alive and roll > most_roll else most_roll
        sums[row(SUM.lean_peak) + lane] = lean if alive and lean > most_lean else most_lean


@part
def bin_of(value: float, width: float) -> float:
    """Bin of a value: its whole part is the index. Values beyond the ends go to the end bins."""
    place = value / width
    place = place if place > 0.0 else 0.0
    return place if place < _LAST_BIN else _LAST_BIN


@kernel
def add_ride(workspace: np.ndarray, sums: np.ndarray) -> None:
    """Add to the sums over time foilborne; set BIN, the bin of each histogram, -1 where nothing counts (M17.8)."""
    for lane in range(LANES):
        rides = workspace[row(at.ALIVE) + lane] * sums[row(EVENT.foilborne) + lane] > 0.0
        keel = workspace[row(at.ROTATION.zz) + lane] * workspace[row(at.KEEL) + lane]
        level = (
            -workspace[row(at.MID.z) + lane] - keel - workspace[row(at.RIDE_HEIGHT) + lane]
        )  # m above the wanted height, over the calm level
        error = level - workspace[row(at.REFERENCE_SEA) + lane]
        clear, tip = -workspace[row(at.DEEPEST) + lane], workspace[row(at.SHALLOWEST) + lane]
        low = clear < workspace[row(at.WINDOW_CLEARANCE) + lane]
        high = workspace[row(at.SHALLOWEST_CHORDS) + lane] < workspace[row(at.WINDOW_CHORDS) + lane]
        rise = workspace[row(at.VERTICAL_ACCELERATION) + lane]
        pitch, roll = workspace[row(at.MID.theta) + lane], workspace[row(at.MID.phi) + lane]
        margin = workspace[row(at.CAVITATION_MARGIN) + lane]
        least_margin, least_clear = sums[row(SUM.cavitation_least) + lane], sums[row(SUM.clearance_least) + lane]
        least_tip = sums[row(SUM.submergence_least) + lane]
        scale = workspace[row(at.TIME_SCALE) + lane]
        width = BIN_WIDTH * scale * scale
        sums[row(SUM.foilborne_steps) + lane] += 1.0 if rides else 0.0
        sums[row(SUM.error) + lane] += error if rides else 0.0
        sums[row(SUM.error_squared) + lane] += error * error if rides else 0.0
        sums[row(SUM.level) + lane] += level if rides else 0.0
        sums[row(SUM.level_squared) + lane] += level * level if rides else 0.0
        sums[row(SUM.outside_window) + lane] += 1.0 if rides and (low or high) else 0.0
        sums[row(SUM.acceleration_squared) + lane] += rise * rise if rides else 0.0
        sums[row(SUM.pitch) + lane] += pitch if rides else 0.0
        sums[row(SUM.pitch_squared) + lane] += pitch * pitch if rides else 0.0
        sums[row(SUM.roll_squared) + lane] += roll * roll if rides else 0.0
        sums[row(SUM.servo_travel) + lane] += (
            workspace[row(at.SERVO_SHARE) + lane] * workspace[row(at.SERVO_TRAVEL) + lane] if rides else 0.0
        )
        sums[row(SUM.servo_at_limit) + lane] += workspace[row(at.SERVO_STOPPED) + lane] if rides else 0.0
        sums[row(SUM.ventilated) + lane] += sums[row(EVENT.air) + lane] if rides else 0.0
        sums[row(SUM.beyond_polar) + lane] += workspace[row(at.BEYOND_DATA) + lane] if rides else 0.0
        sums[row(SUM.cavitation_least) + lane] = margin if rides and margin < least_margin else least_margin
        sums[row(SUM.clearance_least) + lane] = clear if rides and clear < least_clear else least_clear
        sums[row(SUM.submergence_least) + lane] = tip if rides and tip < least_tip else least_tip
        workspace[row(at.BIN.error) + lane] = bin_of(abs(error), width) if rides else -1.0
        workspace[row(at.BIN.level) + lane] = bin_of(abs(level), width)
        workspace[row(at.BIN.clearance) + lane] = bin_of(clear + _BELOW_ZERO * width, width)
        workspace[row(at.BIN.submergence) + lane] = bin_of(tip + _BELOW_ZERO * width, width)


@kernel
def count_bins(workspace: np.ndarray, histograms: np.ndarray) -> None:
    """Count the bins that `add_ride` set in the histograms."""
    for lane in range(LANES):
        if workspace[row(at.BIN.error) + lane] >= 0.0:
            histograms[HISTOGRAM.error, lane, int(workspace[row(at.BIN.error) + lane])] += 1
            histograms[HISTOGRAM.level, lane, int(workspace[row(at.BIN.level) + lane])] += 1
            histograms[HISTOGRAM.clearance, lane, int(workspace[row(at.BIN.clearance) + lane])] += 1
            histograms[HISTOGRAM.submergence, lane, int(workspace[row(at.BIN.submergence) + lane])] += 1


@kernel
def observe(workspace: np.ndarray, tally: Tally, counts: at.PartCounts, moment: Moment) -> int:
    """Add the middle of this step to the totals of every lane that flies; return how many still fly (M17.1)."""
    sums = tally.sums
    measure(workspace, counts)
    hull_events(workspace, sums, moment)
    water_events(workspace, sums, moment)
    foil_events(workspace, sums, moment)
    heading_events(workspace, sums, moment)
    meet_waves(workspace, sums, moment.scored)
    if moment.scored:
        take_off(workspace, sums, moment)
        add_passage(workspace, sums)
        if workspace[row(at.MATERIAL)] > 0.0:
            add_strength(workspace, sums, counts)
        add_ride(workspace, sums)
        count_bins(workspace, tally.histograms)
    else:
        note_start(workspace, sums)
    end_flights(workspace, sums, moment.step)
    flying = 0
    for lane in range(LANES):
        flying += workspace[row(at.ALIVE) + lane] > 0.0
    return flying

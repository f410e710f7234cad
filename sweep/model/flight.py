"""Flights: batches of designs through one block, and the time history of a few."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple, TypeAlias

import numpy as np

from sweep.model import layout as at
from sweep.model.block import Block
from sweep.model.compiled import LANES, kernel
from sweep.model.history import RECORDED, HistoryRow
from sweep.model.kernels.rigid_body import evaluate
from sweep.model.kernels.sea import put_sea
from sweep.model.layout import alike, give_back, in_single_precision, row
from sweep.model.onboard.control import Tick, control
from sweep.model.onboard.course import follow_legs
from sweep.model.onboard.faults import COLUMNS, apply_faults
from sweep.model.onboard.noise import LaneNoise, side_by_side
from sweep.model.onboard.own import OwnCode, code_of, control_own
from sweep.model.onboard.sensors import READINGS, aim, any_beam, any_range_due, look, look_single, take_ranges
from sweep.model.onboard.servo import RING
from sweep.model.onboard.tap import any_tap, press
from sweep.model.onboard.wand import set_levels
from sweep.model.pack.control import servo_terms
from sweep.model.pack.fleet import Fleet
from sweep.model.pack.trim import FOREVER, load, passes, place_level
from sweep.model.physics.spectra import GRAVITY
from sweep.model.quantities import NO_TRIM, RESPONSE_NAMES
from sweep.model.responses import Counted, responses
from sweep.model.stepping.integrate import Span, predict, step_craft
from sweep.model.stepping.measure import measure
from sweep.model.stepping.observe import Moment, Tally, observe, start_histograms, start_sums
from sweep.model.stepping.sampling import blend_pair, sample_sea, sample_sea_single

SEA_EVERY = 2  # steps per sampling of the sea, which is most of the cost and changes more slowly than the craft


class Flown(NamedTuple):
    """Results of flights. status: (designs,), see quantities.STATUS_NAMES; responses: (designs, responses), SI."""

    status: np.ndarray
    responses: np.ndarray


GROWS_FOR = 0.5  # of the settling time, in which the sea grows to its full height (judgement)


@kernel
def ramp(time: float, settle: float) -> float:
    """Share of the sea's full height: it grows over `GROWS_FOR` of the settling time (s; M3.11)."""
    if settle <= 0.0:
        return 1.0
    s = min(time / (GROWS_FOR * settle), 1.0)
    return s * s * (3.0 - 2.0 * s)


@kernel
def release(workspace: np.ndarray) -> None:
    """Let a craft that lies at rest start its take-off."""
    for lane in range(LANES):
        workspace[row(at.AT_REST) + lane] = 0.0


@kernel
def record_lane(workspace: np.ndarray, counts: at.PartCounts, record: np.ndarray, lane: int, time: float) -> None:
    """Write one row of a lane's time history: a `HistoryRow`, then the foils' angles."""
    altitude = -workspace[row(at.MID.z) + lane] - workspace[row(at.ROTATION.zz) + lane] * workspace[row(at.KEEL) + lane]
    surface = workspace[row(at.REFERENCE_SEA) + lane]
    along_x = workspace[row(at.RATE.x) + lane]
    along_y = workspace[row(at.RATE.y) + lane]
    history = HistoryRow(
        time=alike(workspace, time),
        x=workspace[row(at.MID.x) + lane],
        y=workspace[row(at.MID.y) + lane],
        keel_height=altitude,
        surface=surface,
        ride_height=altitude - surface,
        sensed_height=workspace[row(at.HEIGHT_ESTIMATE) + lane],
        pitch=workspace[row(at.MID.theta) + lane],
        roll=workspace[row(at.MID.phi) + lane],
        heading=workspace[row(at.MID.psi) + lane],
        speed=math.sqrt(along_x * along_x + along_y * along_y),
        throttle=workspace[row(at.THROTTLE) + lane],
        rudder=workspace[row(at.RUDDER_MID) + lane],
        hull_load=workspace[row(at.HULL_LIFT) + lane] / (workspace[row(at.MASS) + lane] * GRAVITY),
        power=workspace[row(at.POWER) + lane],
        clearance=-workspace[row(at.DEEPEST) + lane],
        submergence=workspace[row(at.SHALLOWEST) + lane],
        ventilated=workspace[row(at.FOIL_AIR) + lane],
        faulty_readings=workspace[row(at.FAULT_READINGS) + lane],
        blind_readings=workspace[row(at.BLIND_READINGS) + lane],
        side_throttle=workspace[row(at.SIDE_THRUST_MID) + lane],
        wanted_heading=workspace[row(at.COURSE) + lane],
        leg=workspace[row(at.LEG) + lane],
        stopped=workspace[row(at.AT_REST) + lane],
        stopped_by=workspace[row(at.STOPPED_BY) + lane],
    )
    for column in range(len(history)):
        record[column] = history[column]
    record[0] = time  # in double precision
    for foil in range(counts.foils):
        record[len(history) + foil] = workspace[row(foil * at.FOIL.width + at.FOIL.servo_mid) + lane]


Wind: TypeAlias = tuple[float, float] | np.ndarray


class Lanes(NamedTuple):
    """Everything that a batch of up to LANES flights changes as it flies."""

    workspace: np.ndarray
    sums: np.ndarray  # (lanes, sums)
    histograms: np.ndarray  # (histograms, lanes, BINS)
    commands: np.ndarray  # (foils + 1, RING, lanes)
    readings: np.ndarray  # (rangefinders * READINGS, lanes)


class Run(NamedTuple):
    """Timing and surroundings of flights.

    period: of control ticks, s; density: of the water, kg/m3; waves: number of components of the sea; faults: (rows, columns),
    see `faults`; settle: time from which flights are scored, s; course: (legs, columns), see `course`; own: the builder's code.
    """

    steps: int
    steps_per_tick: int
    period: float
    density: float
    waves: int
    noise: LaneNoise
    faults: np.ndarray
    settle: float
    course: np.ndarray
    own: OwnCode


class History(NamedTuple):
    """The time history of lanes. rows: (rows, columns, lanes), with no rows if none is wanted; and the steps between rows."""

    rows: np.ndarray
    every: int


NO_HISTORY = History(np.empty((0, 1, LANES)), 1)


@kernel
def fly_lanes(lanes: Lanes, counts: at.PartCounts, run: Run, history: History, precise: bool | None = None) -> None:
    """Fly every lane on from its present state, in the precision of its workspace.

    precise: any value but None has the sea in double precision throughout. With None that code is not even compiled.
    """
    workspace, sums, histograms, commands, readings = lanes
    period, settle, waves, noise, faults, course = run.period, run.settle, run.waves, run.noise, run.faults, run.course
    steps_per_tick, density = run.steps_per_tick, alike(workspace, run.density)
    tally = Tally(sums.T.reshape(sums.size), histograms)
    step = period / steps_per_tick
    beams, taps = any_beam(workspace, counts.rangefinders), any_tap(workspace, counts.rangefinders)
    apply_faults(workspace, faults, counts.foils, 0.0)
    released = math.ceil(settle / step - 1e-9)
    for n in range(run.steps):
        time = n * step
        if faults.shape[0] > 0:
            apply_faults(workspace, faults, counts.foils, time)
        predict(workspace, alike(workspace, 0.5 * SEA_EVERY * step))
        while any_range_due(workspace, time, counts.rangefinders):
            aim(workspace)
            share = alike(workspace, ramp(time, settle))
            if taps:
                press(workspace, waves, time, share)
            if precise is None:
                look_single(workspace, waves, time, share, beams)
            else:
                look(workspace, waves, time, share, beams)
            take_ranges(workspace, readings, noise, counts.rangefinders)
        if n == released:
            release(workspace)
        if n % steps_per_tick == 0:
            if course.shape[0] > 0 and n >= released:
                follow_legs(workspace, course, n // steps_per_tick, period)
            if run.own.address != 0:
                control_own(workspace, commands, readings, (run.own, noise), counts, Tick(n // steps_per_tick, period))
            else:
                control(workspace, commands, readings, noise, counts, Tick(n // steps_per_tick, period))
        if n % SEA_EVERY == 0:
            middle = time + 0.5 * SEA_EVERY * step
            share = alike(workspace, ramp(middle, settle))
            if precise is None:
                sample_sea_single(workspace, waves, middle, share, counts)
            else:
                sample_sea(workspace, waves, middle, share, counts)
        blend_pair(workspace, counts, n % SEA_EVERY == 0)
        span = Span(n / steps_per_tick, 1.0 / steps_per_tick, alike(workspace, step))
        step_craft(workspace, commands, counts, span, density)
        if n % history.every == 0 and n // history.every < history.rows.shape[0]:
            measure(workspace, counts)
            for lane in range(LANES):
                if workspace[row(at.ALIVE) + lane] > 0.0:
                    record_lane(workspace, counts, history.rows[n // history.every, :, lane], lane, time + 0.5 * step)
        if observe(workspace, tally, counts, Moment(time, step, time >= settle)) == 0:
            break


def start_lanes(fleet: Fleet, from_rest: bool = False, wind: Wind = (0.0, 0.0)) -> Lanes:
    """Lanes at the start of their flights, in their own trim or afloat at rest, for a fleet of at most LANES designs.

    Spare lanes repeat the last design. wind: of the air along X and Y (m/s), one for all lanes or one for each.
    """
    structure = fleet.structure
    parameters = fleet.parameters.copy()
    servo_terms(parameters, structure.counts, 0.5 * structure.step)
    workspace = load(parameters, structure.counts)
    place_level(workspace, fleet.speed, at.STATE)
    place_level(workspace, fleet.speed, at.MID)
    slots = workspace.reshape(-1, LANES)
    commands = np.zeros((structure.foils + 1 + structure.rudder_servos, RING, LANES))
    for foil in range(structure.foils):
        first = foil * at.FOIL.width
        angle = (
            slots[first + at.FOIL.mix.height] * slots[at.START_TRIM.height]
            + slots[first + at.FOIL.mix.pitch] * slots[at.START_TRIM.pitch]
            + slots[first + at.FOIL.led] * slots[at.START_TRIM.height]
        )
        slots[first + at.FOIL.servo.angle] = angle
        slots[first + at.FOIL.servo_mid] = angle
        slots[first + at.FOIL.link] = angle
        commands[foil] = angle
    slots[[at.THROTTLE, at.THRUST, at.THRUST_MID]] = slots[at.START_TRIM.throttle]
    slots[at.PITCH_ESTIMATE] = slots[at.PITCH_TRIM]
    slots[at.HEIGHT_ESTIMATE : at.HEIGHT_ESTIMATE + at.HEIGHT_TICKS] = slots[at.RIDE_HEIGHT]
    slots[at.SMOOTHED_HEIGHT] = slots[at.RIDE_HEIGHT]
    slots[at.SPEED_READING] = fleet.speed
    slots[at.RANGE_LAST : at.RANGE_LAST + at.MAX_RANGEFINDERS] = np.nan
    slots[at.RECENT : at.RECENT + at.LONGEST_MEDIAN * at.MAX_RANGEFINDERS] = np.nan
    slots[[at.ALIVE, at.FLYING]] = 1.0
    slots[at.WIND.x], slots[at.WIND.y] = wind
    apply_faults(workspace, np.zeros((0, COLUMNS)), structure.foils, 0.0)
    for _ in range(passes(workspace, structure.foils)):
        evaluate(workspace, structure.counts, fleet.density, FOREVER)
    _settle_lags(slots, structure.foils, sum(structure.strips))
    if from_rest:
        _lay_at_rest(slots, structure.stations, fleet.density)
    set_levels(workspace, structure.wands)
    readings = np.full((structure.rangefinders * READINGS, LANES), np.nan)
    return Lanes(workspace, start_sums(from_rest), start_histograms(), commands, readings)


def _lay_at_rest(slots: np.ndarray, stations: int, density: float) -> None:
    """Put every lane afloat at rest, with a level keel and the throttle shut. density in kg/m3."""
    draft = floating_draft(slots, stations, density)
    for state in (at.STATE, at.MID):
        slots[state.slots()] = 0.0
        slots[state.z] = draft - slots[at.KEEL]
    slots[[at.THROTTLE, at.THRUST, at.THRUST_MID, at.SPEED_READING]] = 0.0
    slots[at.HEIGHT_ESTIMATE : at.HEIGHT_ESTIMATE + at.HEIGHT_TICKS] = -draft
    slots[at.SMOOTHED_HEIGHT] = -draft
    slots[at.AT_REST] = 1.0


def floating_draft(slots: np.ndarray, stations: int, density: float) -> np.ndarray:
    """Depth of the keel (m) at which the hulls alone carry each lane's weight, keel level; the hull's depth if they cannot.

    M16.2.
    """
    low, high = np.zeros(LANES), slots[at.HULL_DEPTH].copy()
    for _ in range(50):
        draft = 0.5 * (low + high)
        volume = np.zeros(LANES)
        for station in range(stations):
            first = station * at.STATION.width
            beam, slope = slots[first + at.STATION.beam], slots[first + at.STATION.slope]
            below = np.minimum(draft, 0.5 * beam * slope)
            volume += slots[first + at.STATION.slice] * (below * below / slope + beam * (draft - below))
        sinks = density * volume < slots[at.MASS]
        low, high = np.where(sinks, draft, low), np.where(sinks, high, draft)
    return 0.5 * (low + high)


def _settle_lags(slots: np.ndarray, foils: int, strips: int) -> None:
    slots[at.VOLTAGE] = slots[at.VOLTAGE_MID]
    for foil in range(foils):
        first = foil * at.FOIL.width
        for ahead in range(foils):
            slots[first + at.FOIL.downwash + ahead] = slots[first + at.FOIL.downwash_mid + ahead]
    for strip in range(strips):
        first = strip * at.STRIP.width
        slots[first + at.STRIP.lag] = slots[first + at.STRIP.lag_mid]


def blocks_of(block: Block | Sequence[Block], designs: int) -> list[Block]:
    """The block of each design, from one block for all or one for each.

    Raises ValueError if the numbers of blocks and designs differ, or if the blocks differ in more than sea, wind and noise.
    """
    blocks = [block] * designs if isinstance(block, Block) else list(block)
    shared = {(each.length, each.settle, each.from_rest, each.faults.tobytes(), each.course.tobytes()) for each in blocks}
    if len(blocks) != designs or len(shared) > 1:
        raise ValueError(
            f"{len(blocks)} blocks of {len(shared)} kinds for {designs} designs; wanted one each, alike in length, settling "
            "time, start, faults and course"
        )
    return blocks


def run_lanes(
    fleet: Fleet, block: Block | Sequence[Block], lanes: Lanes, history: History = NO_HISTORY, precise: bool = False
) -> None:
    """Fly lanes to the end of their blocks. Spare lanes fly through the last design's block.

    precise: in double precision throughout, for comparison.
    """
    structure, blocks = fleet.structure, blocks_of(block, fleet.size)
    first, of_lane = blocks[0], [*range(fleet.size), *[fleet.size - 1] * (LANES - fleet.size)]
    kinds = {id(each): each for each in blocks}
    which = np.array([list(kinds).index(id(blocks[design])) for design in of_lane])
    flown = lanes if precise else _in_single_precision(lanes, sum(structure.strips))
    for number, each in enumerate(kinds.values()):
        put_sea(flown.workspace, which == number, each.components, each.omegas, each.phases)
    run = Run(
        steps=round(first.length / structure.step),
        steps_per_tick=structure.steps_per_tick,
        period=structure.period,
        density=fleet.density,
        waves=max(len(each.omegas) for each in kinds.values()),
        noise=side_by_side([each.noise for each in kinds.values()], which),
        faults=first.faults,
        settle=first.settle,
        course=first.course,
        own=code_of(structure.own, lanes.workspace, structure.period),
    )
    fly_lanes(flown, structure.counts, run, history, *([True] if precise else []))
    if not precise:
        give_back(lanes.workspace, flown.workspace, sum(structure.strips))


def _in_single_precision(lanes: Lanes, strips: int) -> Lanes:
    """The same lanes in single precision; sums and histograms are shared, not copied."""
    with np.errstate(over="ignore"):  # overflow ends a flight with the status not-a-number
        commands, readings = lanes.commands.astype(np.float32), lanes.readings.astype(np.float32)
        return lanes._replace(workspace=in_single_precision(lanes.workspace, strips), commands=commands, readings=readings)


def _start(fleet: Fleet, blocks: Sequence[Block]) -> Lanes:
    winds = np.array([each.wind for each in blocks])
    return start_lanes(fleet, blocks[0].from_rest, winds[np.minimum(np.arange(LANES), fleet.size - 1)].T)


def fly(fleet: Fleet, block: Block | Sequence[Block], precise: bool = False) -> Flown:
    """Fly every design of a fleet through a block. A design without a trim gets a row of NaN, and its status says so.

    block: one for all or one for each, see `blocks_of`; precise: in double precision throughout, for comparison.
    """
    status = np.full(fleet.size, NO_TRIM, dtype=np.int8)
    table = np.full((fleet.size, len(RESPONSE_NAMES)), np.nan)
    ready, blocks = np.flatnonzero(fleet.feasible), blocks_of(block, fleet.size)
    for start in range(0, len(ready), LANES):
        some = ready[start : start + LANES]
        part, meets = fleet.some(some), [blocks[design] for design in some]
        lanes = _start(part, meets)
        run_lanes(part, meets, lanes, precise=precise)
        n = len(some)
        slots = lanes.workspace.reshape(-1, LANES)
        readings = slots[[at.FAULT_READINGS, at.BLIND_READINGS, at.REFUSED], :n].T
        counted = Counted(part.parameters, lanes.sums[:n], lanes.histograms[:, :n], readings)
        status[some], table[some] = responses(counted, fleet.structure.step, meets[0].settle, meets[0].from_rest)
    return Flown(status, table)


def fly_record(fleet: Fleet, block: Block | Sequence[Block], rate: float = 50.0, precise: bool = False) -> np.ndarray:
    """Time history of every design of a fleet of at most LANES: (designs, rows, columns), columns as RECORDED and the foils.

    block: as for `fly`; rate: rows per second, Hz. Rows after an early end are NaN, as are all rows of a design without a trim.
    """
    step, blocks = fleet.structure.step, blocks_of(block, fleet.size)
    every = max(round(1.0 / (rate * step)), 1)
    rows = math.ceil(round(blocks[0].length / step) / every)
    record = np.full((rows, len(RECORDED) + fleet.structure.foils, LANES), np.nan)
    run_lanes(fleet, blocks, _start(fleet, blocks), History(record, every), precise)
    record[:, :, : fleet.size][:, :, ~fleet.feasible] = np.nan
    return np.ascontiguousarray(record[:, :, : fleet.size].transpose(2, 0, 1))


def warm_up(fleet: Fleet, block: Block) -> None:
    """Compile what `fly` and `fly_record` need, by a flight of a few steps. Call before threads share the code."""
    fly(fleet.part(0, 1), block._replace(length=10.0 * fleet.structure.period, settle=0.0))

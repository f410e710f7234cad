"""A flight of the kernel, tick by tick: what the control code remembered, what it then knew, and what it commanded.

The order of the steps is that of `fly_lanes`; tests/export compares the two bit for bit.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from sweep.model import layout as at
from sweep.model.block import Block
from sweep.model.compiled import LANES
from sweep.model.flight import SEA_EVERY, Lanes, ramp, release, start_lanes
from sweep.model.kernels.sea import put_sea
from sweep.model.onboard.control import Tick, control
from sweep.model.onboard.faults import apply_faults
from sweep.model.onboard.noise import side_by_side
from sweep.model.onboard.sensors import READINGS, aim, any_beam, any_range_due, look, take_ranges
from sweep.model.onboard.servo import RING
from sweep.model.pack.control import moved_by_of
from sweep.model.pack.fleet import Fleet
from sweep.model.stepping.integrate import Span, predict, step_craft
from sweep.model.stepping.observe import Moment, Tally, observe
from sweep.model.stepping.sampling import blend_pair, sample_sea


class Given(NamedTuple):
    """What the control code is given at a tick.

    ranges: (sensor, m) in the order in which they are admitted; gyro: rad/s, force: m/s2, body axes; speed: m/s; heading,
    wanted_course: rad; is_new: whether speed and heading are; go: whether it was told to take off; link_age: s.
    """

    ranges: tuple[tuple[int, float], ...]
    gyro: tuple[float, ...]
    force: tuple[float, ...]
    speed: float
    heading: float
    is_new: bool
    go: bool
    wanted_course: float
    armed: bool
    link_age: float


class Commanded(NamedTuple):
    """Commands in rad and of throttle; then for the record: height m, course and bank rad, readings refused so far.

    stopped_by: one of those in `safety`, 0 while the law runs.
    """

    foils: tuple[float, ...]
    rudder: float
    throttle: float
    aside: float
    height: float
    course: float
    bank: float
    refused: int
    stopped_by: float


class FlownTick(NamedTuple):
    """before: (slots,), the lane's workspace as the tick began."""

    number: int
    before: np.ndarray
    given: Given
    commanded: Commanded


def without_quanta(fleet: Fleet) -> Fleet:
    """The same fleet on servos without a smallest step, so that commands are seen before they are rounded."""
    parameters = fleet.parameters.copy()
    for servo in (at.RUDDER_SERVO, *(moved_by_of(foil) for foil in range(fleet.structure.foils))):
        parameters[:, servo.quantum] = 0.0
    return fleet._replace(parameters=parameters)


def fly_ticks(fleet: Fleet, block: Block, lane: int = 0) -> Iterator[FlownTick]:
    """The control ticks of a lane, until its flight ends; in double precision.

    fleet: of at most LANES designs; block: for all of them.
    """
    structure, counts = fleet.structure, fleet.structure.counts
    lanes = start_lanes(fleet, block.from_rest, block.wind)
    put_sea(lanes.workspace, np.ones(LANES, dtype=bool), block.components, block.omegas, block.phases)
    noise, per_tick, step = (
        side_by_side([block.noise], np.zeros(LANES, dtype=np.int64)),
        structure.steps_per_tick,
        structure.step,
    )
    tally = Tally(lanes.sums.T.reshape(lanes.sums.size), lanes.histograms)
    work, slots = lanes.workspace, lanes.workspace.reshape(-1, LANES)
    beams, released = any_beam(work, counts.rangefinders), int(np.ceil(block.settle / step - 1e-9))
    apply_faults(work, block.faults, counts.foils, 0.0)
    for n in range(round(block.length / step)):
        time = n * step
        if len(block.faults):
            apply_faults(work, block.faults, counts.foils, time)
        predict(work, 0.5 * SEA_EVERY * step)
        while any_range_due(work, time, counts.rangefinders):
            aim(work)
            look(work, len(block.omegas), time, ramp(time, block.settle), beams)
            take_ranges(work, lanes.readings, noise, counts.rangefinders)
        if n == released:
            release(work)
        if n % per_tick == 0:
            before, tick = slots[:, lane].copy(), Tick(n // per_tick, structure.period)
            control(work, lanes.commands, lanes.readings, noise, counts, tick)
            given = _given(before, slots[:, lane], lanes.readings[:, lane], counts.rangefinders)
            yield FlownTick(tick.number, before, given, _commanded(lanes, lane, counts.foils, tick.number))
        if n % SEA_EVERY == 0:
            middle = time + 0.5 * SEA_EVERY * step
            sample_sea(work, len(block.omegas), middle, ramp(middle, block.settle), counts)
        blend_pair(work, counts, n % SEA_EVERY == 0)
        step_craft(work, lanes.commands, counts, Span(n / per_tick, 1.0 / per_tick, step), fleet.density)
        observe(work, tally, counts, Moment(time, step, time >= block.settle))
        if slots[at.ALIVE, lane] == 0.0:
            return


def _given(before: np.ndarray, after: np.ndarray, readings: np.ndarray, sensors: int) -> Given:
    """From a lane's slots around a tick, and its stored readings."""
    ranges = [
        (sensor, float(readings[sensor * READINGS + (number & (READINGS - 1))]))
        for sensor in range(sensors)
        for number in range(int(before[at.SEEN_TICK + sensor]), int(after[at.SEEN_TICK + sensor]))
    ]
    return Given(
        ranges=tuple((sensor, value) for sensor, value in ranges if value == value),
        gyro=tuple(after[at.GYRO_READING.slots()].tolist()),
        force=tuple(after[at.FORCE_READING.slots()].tolist()),
        speed=float(after[at.SPEED_READING]),
        heading=float(after[at.HEADING_READING]),
        is_new=bool(after[at.NAVIGATION_TICK] != before[at.NAVIGATION_TICK]),
        go=bool(after[at.AT_REST] == 0.0),
        wanted_course=float(after[at.COURSE_WANTED]),
        armed=bool(after[at.DISARMED] == 0.0),
        link_age=float(after[at.LINK_AGE]),
    )


def _commanded(lanes: Lanes, lane: int, foils: int, tick: int) -> Commanded:
    newest, slots = tick & (RING - 1), lanes.workspace.reshape(-1, LANES)
    return Commanded(
        foils=tuple(lanes.commands[:foils, newest, lane].tolist()),
        rudder=float(lanes.commands[foils, newest, lane]),
        throttle=float(slots[at.THROTTLE, lane]),
        aside=float(slots[at.SIDE_THROTTLE, lane]),
        height=float(slots[at.HEIGHT_ESTIMATE, lane]),
        course=float(slots[at.COURSE, lane]),
        bank=float(slots[at.BANK_WANTED, lane]),
        refused=int(slots[at.REFUSED, lane]),
        stopped_by=float(slots[at.STOPPED_BY, lane]),
    )

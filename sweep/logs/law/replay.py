"""A log's sensors through the kernel's own control code and servos, tick by tick, with other settings in every lane."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sweep.linear.sensing import SILENCE
from sweep.logs.law.inputs import Inputs
from sweep.model import layout as at
from sweep.model.compiled import LANES
from sweep.model.flight import start_lanes
from sweep.model.onboard.control import Tick, control
from sweep.model.onboard.sensors import READINGS
from sweep.model.onboard.servo import RING
from sweep.model.pack.fleet import Fleet, build_fleets
from sweep.model.physics.spectra import Floats
from sweep.model.physics.water import Water
from sweep.model.stepping.integrate import Span, servos_half

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft

NEVER = 1e15
"""A tick that does not come."""
LOOPS = (at.HEIGHT_INTEGRAL, at.PITCH_INTEGRAL, at.ROLL_INTEGRAL)
QUIET = (at.GYRO_NOISE, at.GYRO_BIAS, at.ACCELEROMETER_NOISE, at.ACCELEROMETER_BIAS, at.VIBRATION)


class Replayed(NamedTuple):
    """Foil angles, rad: commands of the code at its ticks, (ticks, foils, lanes), and what the servos reached.

    reached: (times, foils, lanes), at the times `moved`, s; no times where only the code ran.
    """

    commands: Floats
    moved: Floats
    reached: Floats


def declared(craft: Craft, water: Water, speed: float) -> Fleet:
    """The craft of the craft file in every lane, with its settings for a speed (m/s)."""
    ((_, fleet),) = build_fleets([craft], water, speed)
    return fleet.some(np.zeros(LANES, dtype=int))


def replay(
    fleet: Fleet, settings: Floats, slots: Sequence[int], inputs: Inputs, gathered: Floats, servos: bool = True
) -> Replayed:
    """Run the code on the inputs; servos: whether these run too, which the code knows nothing of.

    settings: (lanes, slots), of the parameters `slots`; gathered: the integrals of height, pitch and roll at the start, then
    what the trims of height and pitch have more, rad, (5, lanes).
    A limit of an integral holds from the first tick.
    """
    parameters = fleet.parameters.copy()
    parameters[:, at.START_TRIM.slots()] = np.nan_to_num(parameters[:, at.START_TRIM.slots()])
    parameters[:, at.TRIM.slots()] = np.nan_to_num(parameters[:, at.TRIM.slots()])
    structure = fleet.structure
    parameters[:, list(slots)] = settings
    for column, slot in enumerate(slots):
        if slot == at.SERVO.travel:  # of every foil's servo
            parameters[:, of_each_servo(slot, structure.foils)] = settings[:, column, None]
    lanes = start_lanes(fleet._replace(parameters=parameters))
    work = lanes.workspace.reshape(-1, LANES)
    _quieten(work, inputs, structure.foils)
    work[list(LOOPS)] = gathered[:3]
    work[[at.TRIM.height, at.TRIM.pitch]] += gathered[3:]
    count, foils = len(inputs.time), structure.foils
    steps = 2 * structure.steps_per_tick if servos else 0
    commands, reached = np.empty((count, foils, LANES)), np.empty((count * steps, foils, LANES))
    before = _attitude_before(inputs, structure.period)
    angles = [foil * at.FOIL.width + at.FOIL.servo.angle for foil in range(foils)]
    for tick in range(count):
        _put(work, lanes.readings, inputs, before, tick)
        control(lanes.workspace, lanes.commands, lanes.readings, SILENCE, structure.counts, Tick(tick + 1, structure.period))
        commands[tick] = lanes.commands[:foils, (tick + 1) & (RING - 1)]
        for part in range(steps):
            reached[tick * steps + part] = work[angles]
            span = Span(tick + 1 + part / steps, 1.0 / steps, structure.period / steps)
            servos_half(lanes.workspace, lanes.commands, structure.counts, span, fleet.density)
    moved = inputs.time[0] + structure.period / max(steps, 1) * np.arange(count * steps)
    return Replayed(commands, moved, reached)


def of_each_servo(slot: int, foils: int) -> list[int]:
    """The slots of a constant of each foil's servo; slot: that of `SERVO`, the one at work."""
    first = at.FOIL.moved_by.first + slot - at.SERVO.first
    return [first + foil * at.FOIL.width for foil in range(foils)]


def _quieten(work: Floats, inputs: Inputs, foils: int) -> None:
    """No noise, no motion of the model: what the code knows comes from the log alone."""
    work[list(QUIET)] = 0.0
    work[of_each_servo(at.SERVO.torque, foils)] = np.inf
    work[at.INERTIAL_PLACE.slots()] = 0.0
    work[at.STATE.slots()] = 0.0
    work[at.RATE.slots()] = 0.0
    work[at.ROTATION.first : at.ROTATION.first + at.ROTATION.width] = 0.0
    work[at.NAVIGATION_TICK], work[at.LEVELLING_TIME] = NEVER, np.inf
    work[at.RANGE_PATIENCE] = np.inf  # what a log lacks may have been there on board
    for sensor in range(len(inputs.readings)):
        work[at.RANGE_LATENCY + sensor], work[at.RANGE_RATE + sensor] = 0.0, NEVER
        work[at.RANGE_TICK + sensor], work[at.SEEN_TICK + sensor] = 0.0, 0.0
    first = inputs.readings[0][np.isfinite(inputs.readings[0])][:1]
    if first.size:  # the code had a reading before the stretch begins
        work[at.SMOOTHED_HEIGHT] = first[0] * np.cos(inputs.pitch[0]) * np.cos(inputs.roll[0]) - work[at.KNOWN_PLACE.height]


def _attitude_before(inputs: Inputs, period: float) -> tuple[Floats, Floats]:
    """Roll and pitch (rad) which the code's own integration of the rates takes to those that were logged (M15.5)."""
    p, q, r = inputs.rates
    roll, pitch = inputs.roll - period * p, inputs.pitch - period * q
    for _ in range(3):
        across, along = np.sin(roll), np.cos(roll)
        roll = inputs.roll - period * (p + (q * across + r * along) * np.tan(pitch))
        pitch = inputs.pitch - period * (q * np.cos(roll) - r * np.sin(roll))
    return roll, pitch


def _put(work: Floats, readings: Floats, inputs: Inputs, before: tuple[Floats, Floats], tick: int) -> None:
    """What the log has at a tick, where the code looks for it. Nothing has stopped the boat before."""
    work[at.STOPPED_BY] = 0.0
    work[at.ROLL_ESTIMATE], work[at.PITCH_ESTIMATE] = before[0][tick], before[1][tick]
    work[[at.STATE.p, at.STATE.q, at.STATE.r]] = inputs.rates[:, tick, None]
    work[[at.RATE.u, at.RATE.v, at.RATE.w]] = inputs.force[:, tick, None]
    work[at.SPEED_READING], work[at.HEADING_READING] = inputs.speed[tick], inputs.heading[tick]
    for sensor in np.flatnonzero(np.isfinite(inputs.readings[:, tick])):
        number = int(work[at.RANGE_TICK + sensor, 0])
        readings[sensor * READINGS + (number & (READINGS - 1))] = inputs.readings[sensor, tick]
        work[at.RANGE_TICK + sensor] = number + 1.0

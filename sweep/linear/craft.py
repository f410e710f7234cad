"""The linear companion of every design of a fleet: craft, sensors, control code and servos about its trim."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from sweep.linear.differences import NUDGE, Floats
from sweep.linear.leads import Lead, linearise_leads, with_tips
from sweep.linear.onboard import Code, linearise_code
from sweep.linear.plant import ACCELERATIONS, MOTION, Plant, linearise_plants
from sweep.linear.sensing import Sensing, linearise_sensing
from sweep.model import layout as at
from sweep.model.compiled import LANES
from sweep.model.flight import start_lanes
from sweep.model.pack.control import moved_by_of, own_servo_of
from sweep.model.pack.fleet import Fleet, Structure


class LinearCraft(NamedTuple):
    """One design about its trim at a speed (m/s); period and delay of the control code in s.

    servos: natural frequency (rad/s) and damping of each foil's and of the rudders', the first one's before others; pitch: of
    trim, rad; keel: under the centre of gravity, m.
    """

    plant: Plant
    sensing: Sensing
    code: Code
    servos: tuple[tuple[float, float], ...]
    speed: float
    period: float
    delay: float
    pitch: float
    keel: float
    leads: tuple[Lead, ...] = ()


class Moved(NamedTuple):
    """The craft with its servos: x' = a x + b commands + waves (points, 4); commands as in `Code`, the throttle last.

    direct: (16, states), MOTION and the accelerations; held: (held readings, states), the heading twice: itself and its rate.
    The plant's states come first, then angle and speed of each servo, the rudders' last.
    """

    a: Floats
    b: Floats
    waves: Floats
    direct: Floats
    held: Floats


def linearise(fleet: Fleet, nudge: float = NUDGE) -> tuple[LinearCraft | None, ...]:
    """Every design of a fleet about its trim at the fleet's speed, by central differences through the compiled model.

    nudge: of the differences, SI. None for a design without a trim. Left out: rate and travel limits of the servos, their
    quantum, slack and stall; limits of the loops; steering by two propellers; preview; the hull, which is dry in trim;
    ventilation; noise. A craft whose control code is set up for another craft is linear about its own trim too, at the
    wanted height: how far the wrong settings move it from there is left out.
    """
    found: list[LinearCraft | None] = [None] * fleet.size
    ready = np.flatnonzero(fleet.feasible)
    for start in range(0, len(ready), LANES):
        some = ready[start : start + LANES]
        part = fleet._replace(parameters=fleet.parameters[some], feasible=fleet.feasible[some], trim=fleet.trim[some])
        for index, craft in zip(some.tolist(), _linearise_lanes(part, nudge), strict=True):
            found[index] = craft
    return tuple(found)


def _linearise_lanes(fleet: Fleet, nudge: float) -> list[LinearCraft]:
    lanes = start_lanes(fleet)
    plants = linearise_plants(fleet, lanes, nudge)
    leads = linearise_leads(fleet, lanes, nudge) if fleet.structure.wands else [()] * fleet.size
    sensing = linearise_sensing(fleet, lanes, nudge)
    codes = linearise_code(fleet, lanes, nudge)
    return [
        LinearCraft(
            with_tips(plant, led),
            known,
            code,
            servos=tuple(_servos(row, fleet.structure)),
            leads=led,
            speed=fleet.speed,
            period=fleet.structure.period,
            delay=float(row[at.DELAY]),
            pitch=float(row[at.PITCH_TRIM]),
            keel=float(row[at.KEEL]),
        )
        for plant, led, known, code, row in zip(plants, leads, sensing, codes, fleet.parameters, strict=True)
    ]


def _servos(row: Floats, structure: Structure) -> Iterator[tuple[float, float]]:
    """Natural frequency (rad/s) and damping of every foil's servo, then of the rudders'."""
    of_foils = [moved_by_of(foil) for foil in range(structure.foils)]
    for servo in (*of_foils, at.RUDDER_SERVO, *(own_servo_of(i) for i in range(structure.rudder_servos))):
        yield float(row[servo.bandwidth]), float(row[servo.damping])


def with_servos(craft: LinearCraft) -> Moved:
    """The plant with commands as its input, instead of angles."""
    plant, code = craft.plant, craft.code
    states, surfaces = plant.angles.shape
    size = states + 2 * surfaces
    a, b = np.zeros((size, size)), np.zeros((size, surfaces + 1))
    a[:states, :states] = plant.a
    a[:states, states::2] = plant.angles
    for i in range(surfaces):
        bandwidth, damping = craft.servos[i]
        angle, speed = states + 2 * i, states + 2 * i + 1
        a[angle, speed] = 1.0
        a[speed, [angle, speed]] = [-(bandwidth**2), -2.0 * damping * bandwidth]
        b[speed, i] = bandwidth**2
    b[:states, -1] = plant.throttle
    for lead in craft.leads:
        angle, speed = states + 2 * lead.foil, states + 2 * lead.foil + 1
        b[speed, lead.foil] = 0.0
        a[speed, [angle, speed]] = [-(lead.bandwidth**2), -2.0 * lead.damping * lead.bandwidth]
        a[speed, : len(MOTION)] = lead.bandwidth**2 * lead.by_motion
    mixed = np.zeros((surfaces + 1, len(code.loops) + 1))
    mixed[: len(code.mix), : len(code.loops) - 1] = code.mix
    mixed[len(code.mix) : -1, -2] = 1.0
    mixed[-1, -1] = 1.0
    waves = np.zeros((size, *plant.waves.shape[1:]))
    waves[:states] = plant.waves
    for i, lead in enumerate(craft.leads):
        waves[states + 2 * lead.foil + 1, i - len(craft.leads), 0] = lead.bandwidth**2 * lead.by_water
    held = np.zeros((len(craft.sensing.held) + 1, size))
    held[:-1, : len(MOTION)] = craft.sensing.held
    held[-1] = held[-2]
    return Moved(a, b @ mixed, waves, np.vstack([np.eye(len(MOTION), size), a[ACCELERATIONS]]), held)

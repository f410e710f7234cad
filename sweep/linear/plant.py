"""The craft in the water, linear about its trim: motion, lags of lift and wake, thrust; moved by foils, rudder and waves."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sweep.linear.differences import Floats, slopes
from sweep.model import layout as at
from sweep.model.compiled import LANES
from sweep.model.flight import Lanes
from sweep.model.kernels.rigid_body import evaluate
from sweep.model.onboard.servo import turn_rudders
from sweep.model.pack.fleet import Fleet
from sweep.model.pack.trim import FOREVER
from sweep.model.records import Motion

MOTION = ("Z", "phi", "theta", "psi", "u", "v", "w", "p", "q", "r")
"""The rigid body's states that matter in calm water: m, rad, m/s, rad/s, deviations from trim."""

FIRST_MOTION = 2  # of the model's twelve: nothing depends on X and Y
ACCELERATIONS = slice(4, 10)  # rows of the derivatives of u ... r
_SHORT = 1e-3  # s: over which the speed of a lag is measured (judgement)


class Plant(NamedTuple):
    """x' = motion x + angles (foil angles, rudder servos) + throttle x throttle + waves (points, 4).

    a: (states, states); angles: (states, foils + rudder servos), per rad, the first rudder's before others; throttle:
    (states,); waves: (states, points, 4), per elevation (m) and velocity (m/s; along X, Y and Z) of the water at each point;
    places: (points, 3) of these points from the centre of gravity along X and Y (m), and the depth (m) whose velocity counts.
    State order: MOTION, a lift lag a strip (rad), the lift that a foil feels of each foil ahead of it, the voltage of a battery
    that sags (share), thrust (share).
    """

    a: Floats
    angles: Floats
    throttle: Floats
    waves: Floats
    places: Floats


def linearise_plants(fleet: Fleet, lanes: Lanes, nudge: float) -> list[Plant]:
    """One plant a design of a fleet of at most LANES, whose lanes are in trim; nudge: of the differences, SI."""
    structure, slots = fleet.structure, lanes.workspace.reshape(-1, LANES)
    lags = _lags(slots, structure.foils, sum(structure.strips))
    states = [[slot] for slot in moving(at.MID)] + [list(pair) for pair in lags] + [[at.THRUST_MID]]
    angles = [[i * at.FOIL.width + at.FOIL.servo_mid] for i in range(structure.foils)] + [[at.RUDDER_MID]]
    angles += [[at.OWN_SERVO.link + i * at.OWN_SERVO.width] for i in range(structure.rudder_servos)]
    seas, places = _water_places(fleet, slots)
    waves = [[sea + i] for sea in seas for i in range(4)]
    watched = [*moving(at.RATE), *(after for _, after in lags)]

    def settled() -> Floats:
        turn_rudders(lanes.workspace, structure.counts)
        evaluate(lanes.workspace, structure.counts, fleet.density, FOREVER)
        return slots[watched].copy()

    found = slopes(lanes.workspace, [*states, *angles, *waves], settled, nudge, fleet)
    speeds = _lag_speeds(fleet, lanes, lags, nudge)
    return [_plant(found[i], speeds[i], slots[:, i], places[i], len(states)) for i in range(fleet.size)]


def _plant(found: Floats, speeds: Floats, row: Floats, places: Floats, states: int) -> Plant:
    """found: slopes of the accelerations and of where the lags settle; speeds: of the lags, 1/s."""
    motion, lags = len(MOTION), len(speeds)
    rates = np.zeros((states, found.shape[1]))
    rates[:motion] = found[:motion]
    rates[motion:-1] = speeds[:, None] * found[motion:]
    at_lags = range(motion, motion + lags)
    rates[at_lags, at_lags] -= speeds
    rates[-1, states - 1] = -1.0 / row[at.THRUST_LAG]
    throttle = np.zeros(states)
    throttle[-1] = row[at.THRUST_LEFT] / row[at.THRUST_LAG]
    points = len(places)
    waves = rates[:, -4 * points :].reshape(states, points, 4).copy()
    waves[:, -1, 1:] = 0.0  # the propeller feels its depth only
    return Plant(rates[:, :states], rates[:, states : -4 * points], throttle, waves, places)


def moving(record: Motion) -> list[int]:
    """Slots of MOTION in a record of the model's twelve states, or of their rates."""
    return list(record)[FIRST_MOTION:]


def _lags(slots: Floats, foils: int, strips: int) -> list[tuple[int, int]]:
    """Slots (start of a step, now) of the lift lag of every strip, then of every wake that a strip of any lane feels.

    Where a battery sags, its voltage comes last.
    """
    found = []
    for strip in range(strips):
        first = strip * at.STRIP.width
        found.append((first + at.STRIP.lag, first + at.STRIP.lag_mid))
    for behind in range(foils):
        first = behind * at.FOIL.width
        for ahead in range(foils):
            if slots[at.WAKES + behind * at.MAX_FOILS + ahead].any():
                found.append((first + at.FOIL.downwash + ahead, first + at.FOIL.downwash_mid + ahead))
    if slots[at.SAGS].any():
        found.append((at.VOLTAGE, at.VOLTAGE_MID))
    return found


def _lag_speeds(fleet: Fleet, lanes: Lanes, lags: list[tuple[int, int]], nudge: float) -> Floats:
    """Inverse time constants of the lags at trim, (lanes, lags), 1/s, by how much of a nudge is left a little later."""

    def soon() -> Floats:
        evaluate(lanes.workspace, fleet.structure.counts, fleet.density, _SHORT)
        return lanes.workspace.reshape(-1, LANES)[[after for _, after in lags]].copy()

    left = np.diagonal(slopes(lanes.workspace, lags, soon, nudge, fleet), axis1=1, axis2=2)
    speeds: Floats = -np.log(left) / _SHORT
    if lags[-1] == (at.VOLTAGE, at.VOLTAGE_MID):  # it follows a power that follows it
        speeds[:, -1] = 1.0 / lanes.workspace.reshape(-1, LANES)[at.THRUST_LAG]
    return speeds


def _water_places(fleet: Fleet, slots: Floats) -> tuple[list[int], Floats]:
    """Slots of the water at every strip, strut and the propeller, and these points' places, (lanes, points, 3)."""
    structure = fleet.structure
    strips = [i * at.STRIP.width for i in range(sum(structure.strips))]
    struts = [i * at.STRUT.width for i in range(structure.struts)]
    seas = [first + at.STRIP.sea.eta for first in strips] + [first + at.STRUT.sea.eta for first in struts] + [at.PROPELLER_SEA]
    wheres = [first + at.STRIP.x for first in strips] + [first + at.STRUT.x for first in struts] + [at.THRUST_PLACE.first]
    rotation = slots[at.ROTATION.slots()].T.reshape(LANES, 3, 3)
    body = np.array([slots[first : first + at.VECTOR.width] for first in wheres])  # (points, 3, lanes)
    places = np.einsum("lij,pjl->lpi", rotation, body)
    places[:, :, 2] += slots[at.MID.z][:, None]
    places[:, len(strips) : -1, 2] *= 0.5  # a strut counts the water at half its foot's depth
    return seas, places

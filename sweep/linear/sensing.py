"""What the control code knows of the craft, and how old that is: rangefinders and navigation, linear about trim."""

from __future__ import annotations

from functools import lru_cache
from math import ceil
from typing import NamedTuple

import numpy as np

from sweep.linear.differences import Floats, slopes
from sweep.linear.plant import moving
from sweep.model import layout as at
from sweep.model.compiled import LANES
from sweep.model.flight import Lanes
from sweep.model.kernels.frame import turn
from sweep.model.onboard.choices import PRESSURE, WAND
from sweep.model.onboard.control import Tick, control
from sweep.model.onboard.noise import NoiseTables, side_by_side
from sweep.model.onboard.sensors import READINGS, aim, take_ranges
from sweep.model.onboard.wand import rest_on_water
from sweep.model.pack.fleet import Fleet, Structure

LEAST_TICKS = 1000  # control ticks over which ages are gathered: all phases of two rates that never meet (judgement)
_NOTHING = NoiseTables(*(np.zeros((1, *shape)) for shape in ((), (3,), (3,), (3,), (), (), (), ())))._replace(
    range_uniform=np.ones((1, 3)), gyro_bias=np.zeros(3), accelerometer_bias=np.zeros(3)
)
SILENCE = side_by_side([_NOTHING], np.zeros(LANES, dtype=np.int64))
"""No noise, no bias, no reading lost."""


class Ages(NamedTuple):
    """The age of what the control code knows at its ticks.

    ages, moments: s, and when the ticks that have each come after a reading of the sensor is due; shares: of the ticks.
    """

    ages: Floats
    moments: Floats
    shares: Floats

    @property
    def mean(self) -> float:
        """s."""
        return float(self.ages @ self.shares)

    def later(self, time: float) -> Ages:
        """The same, older by a time (s)."""
        return self._replace(ages=self.ages + time)


class Sensing(NamedTuple):
    """Readings that are held: of every rangefinder, then of speed and heading.

    held: (rangefinders + 2, motion), per state of MOTION; by_water: (rangefinders,), per elevation where each looks;
    feet: (rangefinders, 2), where that is from the centre of gravity along X and Y, m; footprint: (rangefinders,), its
    radius, m, 0 for a point; depths: (rangefinders,), at which a tap feels the water, m, 0 of other kinds; range_ages: of each
    rangefinder's readings, navigation_ages: of the others; range_periods, of each rangefinder, and navigation_period: s.
    """

    held: Floats
    by_water: Floats
    feet: Floats
    footprint: Floats
    depths: Floats
    range_ages: tuple[Ages, ...]
    navigation_ages: Ages
    range_periods: tuple[float, ...]
    navigation_period: float


def linearise_sensing(fleet: Fleet, lanes: Lanes, nudge: float) -> list[Sensing]:
    """One a design of a fleet of at most LANES, whose lanes are in trim; leaves the readings of trim in RANGE_LAST.

    Limits of range, drop-outs, resolution and gate are left out. The nearest point of a footprint is taken as its mean. A wand
    rests on the water at every instant, in water that does not flow. A tube makes a reading late by its lag.
    """
    slots = lanes.workspace.reshape(-1, LANES)
    sensors = fleet.structure.rangefinders
    every = np.arange(at.MAX_RANGEFINDERS)
    slots[at.RANGE_RESOLUTION + every] = slots[at.RANGE_ANGLE_STEP + every] = 0.0
    slots[at.RANGE_BLIND + every], slots[at.RANGE_FAR + every] = -np.inf, np.inf
    motion = [[slot] for slot in moving(at.STATE)]
    feet, (radius, depths) = np.empty((sensors, 2, LANES)), np.empty((2, sensors, LANES))
    ranges = np.empty((LANES, sensors, len(motion) + 1))
    readings = np.empty((sensors, LANES))
    for sensor in range(sensors):
        slots[at.RANGE_TURN] = sensor
        seen = slopes(lanes.workspace, [*motion, [at.RANGE_SEA]], lambda: _look(lanes, sensors), nudge, fleet)
        ranges[:, sensor] = seen[:, 0]
        readings[sensor] = _look(lanes, sensors)[0]
        feet[sensor], radius[sensor] = slots[[at.POINT.x, at.POINT.y]], slots[at.RANGE_AIM.radius]
        depths[sensor] = np.where(slots[at.RANGE_KIND + sensor] == PRESSURE, slots[at.POINT.z], 0.0)
    slots[at.RANGE_LAST : at.RANGE_LAST + sensors] = readings
    navigation = slopes(lanes.workspace, motion, lambda: _navigate(fleet, lanes), nudge, fleet)
    held = np.concatenate([ranges[:, :, :-1], navigation], axis=1)
    seen_by = (_Sight(ranges[i, :, -1], feet[:, :, i], radius[:, i], depths[:, i]) for i in range(fleet.size))
    return [_sensing(held[i], sight, fleet.parameters[i], fleet.structure) for i, sight in enumerate(seen_by)]


class _Sight(NamedTuple):
    """What `Sensing` has of the water where each rangefinder looks."""

    by_water: Floats
    feet: Floats
    footprint: Floats
    depths: Floats


def _sensing(held: Floats, sight: _Sight, row: Floats, structure: Structure) -> Sensing:
    count = structure.rangefinders
    slot_times = [1.0 / float(row[at.RANGE_RATE + sensor]) for sensor in range(count)]
    own_times = tuple(count * each for each in slot_times)
    behind = 0.5 * (float(row[at.MEDIAN]) - 1.0)  # readings: the median of a steady change is the middle one
    ages = tuple(
        known_ages(
            1.0 / slot_times[sensor], float(row[at.RANGE_LATENCY + sensor]), structure.period, structure.step, count, sensor
        ).later(behind * own_times[sensor] + float(row[at.RANGE_TUBE_LAG + sensor]))
        for sensor in range(count)
    )
    rate = float(row[at.NAVIGATION_RATE])
    navigation = known_ages(rate, 0.0, structure.period, structure.period, 1, 0)
    return Sensing(held, *sight, ages, navigation, own_times, 1.0 / rate)


@lru_cache(maxsize=256)
def known_ages(rate: float, latency: float, period: float, step: float, count: int, sensor: int) -> Ages:
    """Ages (s) of the readings of one of `count` sensors that take turns, as the control code knows them at its ticks.

    rate: readings a second of all together, Hz. Each is taken at the first step at or after its time and known `latency`
    later, so that ages differ between sensors whose turns do not fall on steps and ticks. period: of the control code;
    step: of the integration; all in s.
    """
    first = ceil((latency + (count + 1) / rate) / period)
    ticks = first + np.arange(max(LEAST_TICKS, ceil(20 * count / (rate * period))))
    known = np.floor((ticks * period - latency) * rate + 1e-9)
    own = known - (known - sensor) % count
    taken = np.ceil(own / rate / step - 1e-9) * step
    turns = np.round((ticks * period * rate - sensor) / count, 9) % 1.0
    seen = np.round(np.column_stack([ticks * period - taken, turns * count / rate]), 9)
    cases, times = np.unique(seen, axis=0, return_counts=True)
    return Ages(cases[:, 0], cases[:, 1], times / times.sum())


def _look(lanes: Lanes, count: int) -> Floats:
    """(1, lanes): the reading of the rangefinder in RANGE_TURN."""
    turn(lanes.workspace, at.STATE.phi, at.ROTATION.first)
    slots = lanes.workspace.reshape(-1, LANES)
    first = int(slots[at.RANGE_TURN, 0])
    aim(lanes.workspace)
    slots[at.TAP_SEA] = slots[at.TAP_HEAD] = slots[at.RANGE_SEA]
    _rest_wands(lanes.workspace, slots, first)
    take_ranges(lanes.workspace, lanes.readings, SILENCE, count)
    slots[at.RANGE_TICK + first] = 0.0
    return lanes.readings[first * READINGS : first * READINGS + 1].copy()


def _rest_wands(workspace: Floats, slots: Floats, sensor: int) -> None:
    """Let the wands that a rangefinder reads rest on the water, in any lane, and set POINT to their tips."""
    reads = slots[at.RANGE_KIND + sensor] == WAND
    for wand in np.unique(slots[at.RANGE_WAND + sensor][reads]).astype(int):
        first = int(wand) * at.WAND.width
        rest_on_water(workspace, first)
        mine = reads & (slots[at.RANGE_WAND + sensor] == wand)
        rotation = slots[at.ROTATION.slots()].reshape(3, 3, LANES)
        tips = np.einsum("ijl,jl->il", rotation, slots[at.WAND.tip.slots(first)])
        for point, state, tip in zip((at.POINT.x, at.POINT.y), (at.STATE.x, at.STATE.y), tips[:2], strict=True):
            slots[point, mine] = (slots[state] + tip)[mine]


def _navigate(fleet: Fleet, lanes: Lanes) -> Floats:
    """(2, lanes): speed and heading as they are read."""
    turn(lanes.workspace, at.STATE.phi, at.ROTATION.first)
    control(lanes.workspace, lanes.commands, lanes.readings, SILENCE, fleet.structure.counts, Tick(0, fleet.structure.period))
    return lanes.workspace.reshape(-1, LANES)[[at.SPEED_READING, at.HEADING_READING]].copy()

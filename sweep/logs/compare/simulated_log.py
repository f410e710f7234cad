"""The log that the sensors would have made of a flight of the model: the same channels as a log from the water.

It is made from the recorded pose, the block's own waves, and the same noise that the control code met.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from scipy.signal import lfilter

from sweep.logs.read.channels import Record, Series
from sweep.model import layout as at
from sweep.model.block import Block
from sweep.model.flight import blocks_of, fly_record
from sweep.model.history import RECORDED
from sweep.model.kernels import sea as column
from sweep.model.pack.fleet import build_fleets
from sweep.model.physics.spectra import GRAVITY, Floats
from sweep.model.physics.water import Water

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft

LOG_RATE = 100.0
"""Rows a second of a simulated log, Hz (judgement)."""
SETTLE = 5.0
"""s, before the log of such a flight begins (judgement)."""
LONGEST_FLIGHT = 120.0
"""s, that stands for a longer run (judgement)."""
SEED = 0
"""Of the waves and the noise of simulated logs: any number; what each flight meets is told apart by its content."""


class Pose(NamedTuple):
    """Of the centre of gravity over time (s), each (rows,): earth axes, Z down, m; rad."""

    time: Floats
    place: Floats  # (rows, 3)
    roll: Floats
    pitch: Floats
    heading: Floats

    def at(self, time: Floats) -> Pose:
        """The pose at other times."""
        place = np.column_stack([np.interp(time, self.time, axis) for axis in self.place.T])
        angles = (np.interp(time, self.time, angle) for angle in (self.roll, self.pitch, self.heading))
        return Pose(time, place, *angles)

    def turned(self) -> Floats:
        """(rows, 3, 3): body to earth: yaw, then pitch, then roll."""
        (sr, cr), (sp, cp), (sy, cy) = ((np.sin(a), np.cos(a)) for a in (self.roll, self.pitch, self.heading))
        rows = [
            [cy * cp, cy * sp * sr - sy * cr, cy * sp * cr + sy * sr],
            [sy * cp, sy * sp * sr + cy * cr, sy * sp * cr - cy * sr],
            [-sp, cp * sr, cp * cr],
        ]
        return np.moveaxis(np.array(rows), -1, 0)

    def of(self, point: Floats) -> Floats:
        """(rows, 3): where a point of the body (3,) is."""
        return self.place + self.turned() @ point


class Flown(NamedTuple):
    """A flight as logged, and as it was: history columns by name as RECORDED, (rows,).

    ended: before its time, or with a boat that its code kept still.
    """

    log: Record
    truth: dict[str, Floats]
    ended: bool


def fly_aboard(
    crafts: Sequence[Craft],
    water: Water,
    block: Block | Sequence[Block],
    speed: float,
    designed: Sequence[Craft] | None = None,
) -> list[Flown]:
    """Fly crafts (at most 32) at a speed (m/s); the log of each after settling, clocks from 0.

    block: one for all, or one for each, of the same length; designed: the craft that each control code is set up for, if
    another. A craft without a trim has an empty log.
    """
    found: list[Flown] = [Flown({}, {}, True)] * len(crafts)
    blocks = blocks_of(block, len(crafts))
    for indices, fleet in build_fleets(crafts, water, speed, designed=designed):
        records = fly_record(fleet, [blocks[i] for i in indices], LOG_RATE)
        for i, record, row in zip(indices.tolist(), records, fleet.parameters, strict=True):
            flown = record[~np.isnan(record[:, 0])]
            if len(flown) > LOG_RATE:
                found[i] = _logged(crafts[i], row, flown, blocks[i])
    return found


def _logged(craft: Craft, row: Floats, record: Floats, block: Block) -> Flown:
    truth = dict(zip([*RECORDED, *(f"foil_{name}" for name in craft.foils)], record.T, strict=True))
    level = np.cos(truth["roll"]) * np.cos(truth["pitch"])
    down = -truth["keel_height"] - level * row[at.KEEL]
    place = np.column_stack([truth["x"], truth["y"], down])
    pose = Pose(truth["time"], place, truth["roll"], truth["pitch"], truth["heading"])
    ticks = np.arange(1, int(truth["time"][-1] * craft.control.rate))
    log = {**_inertial(row, pose, block, ticks / craft.control.rate, ticks), **_ranges(craft, row, pose, block)}
    log |= _slow(craft, truth, block)
    begin = block.settle
    log = {name: Series(s.time[s.time >= begin] - begin, s.value[s.time >= begin]) for name, s in log.items()}
    kept = truth["time"] >= begin
    truth = {name: values[kept] for name, values in truth.items()} | {"time": truth["time"][kept] - begin}
    return Flown(log, truth, bool(record[-1, 0] < block.length - 0.1 or truth["stopped_by"][-1] > 0.0))


def _inertial(row: Floats, pose: Pose, block: Block, time: Floats, ticks: np.ndarray) -> Record:
    """Specific force at the unit's place by second differences, attitude by the filter of the control code."""
    now, gap, noise = pose.at(time), float(time[1] - time[0]), block.noise
    turned = now.turned()
    place = now.of(row[at.INERTIAL_PLACE.slots()])
    moved = np.gradient(np.gradient(place, gap, axis=0), gap, axis=0) - np.array([0.0, 0.0, GRAVITY])
    moved[1:-1, 2] = np.diff(place[:, 2], 2) / gap**2 - GRAVITY  # sharper; a long way along is rounded too coarsely for it
    force = np.einsum("tji,tj->ti", turned, moved)
    force += row[at.ACCELEROMETER_NOISE] * noise.accelerometer[ticks] + row[at.ACCELEROMETER_BIAS] * noise.accelerometer_bias
    drift = row[at.GYRO_NOISE] * noise.gyro[ticks] + row[at.GYRO_BIAS] * noise.gyro_bias
    share = gap / row[at.LEVELLING_TIME]
    level_pitch = np.arctan2(force[:, 0], np.hypot(force[:, 1], force[:, 2]))
    level_roll = np.arctan2(-force[:, 1], -force[:, 2])
    turns = np.gradient(now.heading, gap)
    pitching = np.gradient(now.pitch, gap) * np.cos(now.roll) + turns * np.sin(now.roll) * np.cos(now.pitch) + drift[:, 1]
    rolling = np.gradient(now.roll, gap) - turns * np.sin(now.pitch) + drift[:, 0]

    def levelled(rate: Floats, level: Floats, first: float) -> Floats:
        fade = np.array([1.0, share - 1.0])
        filtered: Floats = lfilter([1.0], fade, gap * rate + share * level, zi=np.array([(1.0 - share) * first]))[0]
        return filtered

    columns = {
        "pitch": levelled(pitching, level_pitch, float(now.pitch[0])),
        "roll": levelled(rolling, level_roll, float(now.roll[0])),
        "pitch_rate": pitching,
        "force_x": force[:, 0],
        "force_z": force[:, 2],
    }
    return {name: Series(time, values) for name, values in columns.items()}


def _ranges(craft: Craft, row: Floats, pose: Pose, block: Block) -> Record:
    """The first rangefinder's readings at the times when they come; the log's next row may be a little later."""
    noise, latency = block.noise, row[at.RANGE_LATENCY]
    turn = np.arange(0, int((pose.time[-1] - latency) * row[at.RANGE_RATE]), craft.rangefinders.number)
    time = turn / row[at.RANGE_RATE]
    now = pose.at(time)
    turned = now.turned()
    from_here = now.of(row[at.RANGE_PLACE.slots()])
    beam = turned @ row[at.RANGE_LOOK.slots()]
    upright = np.maximum(beam[:, 2], 0.2)
    reach = np.maximum(-from_here[:, 2], 0.0) / upright
    foot = from_here[:, :2] + reach[:, None] * beam[:, :2]
    seen = _seen(block, foot, time, reach * row[at.RANGE_BEAM], row[at.RANGE_NEAREST] > 0.0)
    reading = (-from_here[:, 2] - seen) / upright + row[at.RANGE_NOISE] * noise.range_normal[turn]
    lost, odd, size = noise.range_uniform[turn].T
    reading += np.where(odd < row[at.RANGE_SPIKES], row[at.RANGE_SPIKE_SIZE] * (2.0 * size - 1.0), 0.0)
    reading = np.maximum(reading, row[at.RANGE_BLIND])
    came = (
        ~_lost(row, (-from_here[:, 2] - seen), beam[:, 2], lost)
        & (reading <= row[at.RANGE_FAR])
        & (beam[:, 2] >= row[at.RANGE_TILT])
    )
    if row[at.RANGE_RESOLUTION] > 0.0:
        reading = np.round(reading / row[at.RANGE_RESOLUTION]) * row[at.RANGE_RESOLUTION]
    return {"range": Series(time[came] + latency, reading[came])}


def _lost(row: Floats, height: Floats, down: Floats, draws: Floats) -> np.ndarray:
    """Which readings are lost, one after the other (M14.12); height: over the water, m; down: cosine of the beam's tilt."""
    tilted = row[at.RANGE_TILT_LOSS] * np.minimum((1.0 - down**2) / (1.0 - row[at.RANGE_TILT] ** 2), 1.0)
    sprayed = row[at.RANGE_SPRAY_LOSS] * (1.0 - np.clip(height / row[at.RANGE_SPRAY_HEIGHT], 0.0, 1.0))
    alone, length = row[at.RANGE_DROPOUT], row[at.RANGE_BURST]
    shares = alone + (1.0 - alone) * (tilted + sprayed - tilted * sprayed)
    found = np.zeros(len(draws), dtype=bool)
    for i, (share, draw) in enumerate(zip(shares, draws, strict=True)):
        most = share
        if length * (1.0 - share) > 1.0:
            most = 1.0 - 1.0 / length if i and found[i - 1] else share / (length * (1.0 - share))
        found[i] = draw < most
    return found


def _seen(block: Block, foot: Floats, time: Floats, radius: Floats, nearest: bool) -> Floats:
    middle = elevation(block, foot, time)
    if not radius.any():
        return middle
    sides = np.array([[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]])
    seen = np.array([middle, *(elevation(block, foot + radius[:, None] * side, time) for side in sides)])
    result: Floats = seen.max(axis=0) if nearest else seen.mean(axis=0)
    return result


def elevation(block: Block, places: Floats, time: Floats) -> Floats:
    """Surface (m) at places (times, 2) and times (s,), with the ramp of a flight."""
    waves = block.components
    grown = np.minimum(time / (0.5 * block.settle), 1.0) if block.settle > 0.0 else np.ones_like(time)
    surface = np.zeros(len(time))
    for wave, omega, phase in zip(waves, block.omegas, block.phases, strict=True):
        along = wave[column.WAVE_X] * places[:, 0] + wave[column.WAVE_Y] * places[:, 1]
        surface += wave[column.AMPLITUDE] * np.cos(along - omega * time + phase)
    result: Floats = grown**2 * (3.0 - 2.0 * grown) * surface
    return result


def _slow(craft: Craft, truth: dict[str, Floats], block: Block) -> Record:
    """Speed and heading at their own rate; throttle, power and foil angles as they are, at half the log's rate."""
    navigation, noise = craft.navigation, block.noise
    fixes = np.arange(int(truth["time"][-1] * navigation.rate))
    time = fixes / navigation.rate

    def fixed(name: str, spread: float, draws: Floats) -> Series:
        return Series(time, np.interp(time, truth["time"], truth[name]) + spread * draws[fixes])

    found = {
        "speed": fixed("speed", navigation.speed_noise, noise.speed),
        "heading": fixed("heading", navigation.heading_noise, noise.heading),
    }
    for name in ("throttle", "power", *(f"foil_{foil}" for foil in craft.foils)):
        found[name] = Series(truth["time"][::2], truth[name][::2])
    return found

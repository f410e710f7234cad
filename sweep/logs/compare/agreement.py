"""What sensors of one craft must agree on, whatever the sea: pitch and its rate, forward force, lift and weight."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from sweep.linear.craft import LinearCraft, linearise
from sweep.logs.compare.bands import SIGNALS, measured_bands, predicted_each
from sweep.logs.read.channels import Record, Series
from sweep.logs.read.mapping import Mapping
from sweep.logs.read.runs import Run
from sweep.model.pack.fleet import Fleet, build_fleets
from sweep.model.physics.spectra import GRAVITY, Floats
from sweep.model.physics.water import Water
from sweep.words.numbers import number, with_unit

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft

# Judgement: from where on a doubt is told
AGAINST = -0.3  # correlation of the pitch's change and its rate
PUSHED = -0.15  # mean correlation of the forward force and the pitch: right ones came to 0.2 and more
SLOPE = 1.35  # times the rate that the pitch's change has, or less by so much
TILT = 0.4  # of what the pitch alone makes the forward accelerometer swing
TIPPED, HEELED = math.radians(3.5), math.radians(8.0)  # of the mean attitude
STIRS = 0.25  # of what the roll gain asks of the outer foils, one against the other
FAR = 2.0  # times that angle, or less by so much: no lift of a foil is so far off
LIFT = 1.25  # times the angle of attack that the craft file's craft flies at, or less by so much
SURE = 2.0  # standard deviations of the attitude's own error, within which an angle of attack is not another
SAME_SPEED = 0.1  # share of a speed within which runs carry the craft alike
APART = math.radians(4.0)  # of a foil's mean angle from the others'
SWAPPED = 0.35  # of the misfit that is left when two foils are exchanged
FAR_OFF = "far off"
"""Words of a doubt about speed or mass beyond what any foil's lift explains."""
SLOW = 0.3  # s, over which force and pitch are meant
UNITS = {"kn": 1852 / 3600, "m/s": 1.0, "km/h": 1 / 3.6, "mph": 0.44704}  # m/s


def agreement_doubts(runs: Sequence[Run], mapping: Mapping, water: Water, waves_known: bool = True) -> list[str]:
    """Doubts by runs in which two sensors, or a sensor and the craft file, cannot both be right.

    waves_known: whether it is known how the runs met the waves, on which rests how each foil should move.
    """
    some = [run for run in runs if {"range", "pitch", "force_z"} <= set(run.record)]
    if not some:
        return []
    said = [*_of_rates(some), *_of_attitude(some), *_of_forward(some), *_of_apart(some), *_of_roll(some, mapping)]
    for run in some[:1]:
        ((_, fleet),) = build_fleets([mapping.craft], water, round(run.speed, 1))
        (linear,) = linearise(fleet)
        if linear is None:
            continue
        foils = [text for text in said if text.startswith("foil")]
        if waves_known and not foils:
            foils = _of_each_foil(some, mapping, linear)
            said += foils
        if not foils:  # whose angles tell the lift
            said += [*_of_lift(some, mapping, fleet, linear)]
    return said


def _of_rates(runs: Sequence[Run]) -> Iterator[str]:
    slopes = []
    for run in runs:
        if "pitch_rate" not in run.record:
            continue
        rate = run.record["pitch_rate"]
        turned = np.gradient(run.record["pitch"].at(rate.time), rate.time)
        alike = float(np.corrcoef(turned, rate.value)[0, 1]) if np.ptp(turned) > 0.0 and np.ptp(rate.value) > 0.0 else 0.0
        if alike < AGAINST:
            yield f"{run.log}: pitch and pitch_rate go against each other: one of their signs is turned"
            return
        if alike > 0.8:
            slopes.append(float(np.std(turned) / np.std(rate.value)))
    if slopes and not 1.0 / SLOPE < (slope := float(np.median(slopes))) < SLOPE:
        yield f"pitch and pitch_rate: it changes {number(slope, 2)} times as fast as its rate says: is a unit or scale wrong?"


def _of_attitude(runs: Sequence[Run]) -> Iterator[str]:
    pitch = float(np.mean([run.record["pitch"].value.mean() for run in runs]))
    if abs(pitch) > TIPPED:
        way = "up" if pitch > 0.0 else "down"
        yield f"pitch: {number(math.degrees(abs(pitch)), 2)} deg bow {way} on the mean, which is no ride: is its zero right?"
    rolls = [float(run.record["roll"].value.mean()) for run in runs if "roll" in run.record]
    if rolls and abs(roll := float(np.mean(rolls))) > HEELED:
        yield f"roll: {number(math.degrees(abs(roll)), 2)} deg on the mean of straight runs: is its zero right, and its column?"


def _of_forward(runs: Sequence[Run]) -> Iterator[str]:
    alike: list[float] = []
    shares: list[float] = []
    for run in runs:
        if "force_x" not in run.record:
            continue
        pitch, force = run.record["pitch"], run.record["force_x"].at(run.record["pitch"].time)
        width = max(round(SLOW / float(np.median(np.diff(pitch.time)))), 1)
        box = np.ones(width) / width
        slow: list[Floats] = [np.convolve(each - each.mean(), box, mode="valid") for each in (pitch.value, force)]
        if all(float(np.ptp(each)) > 0.0 for each in slow):
            alike.append(float(np.corrcoef(slow[0], slow[1])[0, 1]))
            shares.append(float(np.std(force)) / max(GRAVITY * float(np.std(pitch.value)), 1e-9))
    if alike and float(np.mean(alike)) < PUSHED:
        yield "force_x and pitch go against each other: is the sign of force_x turned, or that of pitch?"
    if shares and min(shares) < TILT:
        yield f"force_x: swings {number(min(shares), 2)} times as much as the pitch alone makes it: is its unit right?"


def _of_lift(runs: Sequence[Run], mapping: Mapping, fleet: Fleet, linear: LinearCraft) -> Iterator[str]:
    """The mean angle of attack that carried the craft, beside that at which the craft file's would fly at this speed."""
    names, run = [f"foil_{name}" for name in mapping.craft.foils], runs[0]
    alike = [
        each.record for each in runs if abs(each.speed - run.speed) < SAME_SPEED * run.speed and {*names} <= {*each.record}
    ]
    if not alike:
        return
    zero = float(np.mean([foil.zero_lift_angle for foil in mapping.craft.foils.values()]))
    angles = [np.mean([record[name].value.mean() for name in names]) + record["pitch"].value.mean() for record in alike]
    flown, wanted = float(np.mean(angles)) - zero, float(fleet.trim[0, 0]) + linear.pitch - zero
    ratio, level = flown / wanted if wanted > 0.0 else math.inf, SURE * _levelled(mapping.craft)
    if wanted > 0.0 and abs(flown - wanted) < max(level, (LIFT - 1.0) * wanted):
        return
    column = next((column for column in mapping.columns if column.channel == "speed"), None)
    factor = math.sqrt(max(ratio, 1e-3))
    others = [name for name, unit in UNITS.items() if column and abs(math.log(unit / column.factor * factor)) < 0.12]
    speed = with_unit(run.speed, "m/s")
    far = "" if wanted / FAR - level < flown < wanted * FAR + level else f" ({FAR_OFF})"
    told = f"its foils flew at {number(ratio, 2)} times the angle at which the craft file's carry it at {speed}{far}"
    mass = with_unit(ratio * mapping.craft.body.mass, "kg", 2)
    if others:
        yield f"{run.log}: speed or mass: {told}: is speed written in {others[0]}, or the mass about {mass}?"
    else:
        off = with_unit(math.degrees(abs(flown - wanted)), "deg")
        yield f"{run.log}: mass or speed: {told}: is its mass about {mass}, its pitch {off} off, or the unit of speed another?"


def _levelled(craft: Craft) -> float:
    """Standard deviation (rad), from outing to outing, of where biases of its inertial unit have a craft level."""
    unit = craft.inertial
    return math.hypot(unit.gyro_bias * unit.levelling_time, unit.accelerometer_bias / GRAVITY)


def _of_roll(runs: Sequence[Run], mapping: Mapping) -> Iterator[str]:
    """The outer foils, one against the other, beside what the roll gain of the craft file asks of them for the roll logged."""
    sides = [next((name for name, foil in mapping.craft.foils.items() if way * foil.y > 0.0), None) for way in (-1, 1)]
    control = mapping.craft.control
    gain = abs(control.roll.proportional) if control.traits.levels and not control.traits.cascades else 0.0
    shares = []
    for run in runs:
        foils = [run.record.get(f"foil_{name}") for name in sides]
        if gain == 0.0 or "roll" not in run.record or foils[0] is None or foils[1] is None:
            return
        roll, against = run.record["roll"], 0.5 * (foils[0].value - foils[1].at(foils[0].time))
        shares.append(float(np.std(against)) / max(gain * float(np.std(roll.value)), 1e-9))
    if shares and (most := max(shares)) < STIRS:
        asked = "is its unit right, and its column?"
        yield f"roll: the outer foils answer {number(most, 2)} times as much as its gain in the craft file has them: {asked}"


def _of_apart(runs: Sequence[Run]) -> Iterator[str]:
    means: dict[str, float] = {}
    for run in runs[:1]:
        means = {name: float(series.value.mean()) for name, series in run.record.items() if name.startswith("foil_")}
    for name, mean in means.items():
        others = [other for key, other in means.items() if key != name]
        spread = max(others) - min(others) if others else 0.0
        if len(others) > 1 and abs(off := mean - float(np.mean(others))) > max(APART, 2.0 * spread):
            yield f"{name}: {number(math.degrees(abs(off)), 2)} deg off the other foils on the mean: is its zero or sign right?"


def _of_each_foil(runs: Sequence[Run], mapping: Mapping, linear: LinearCraft) -> list[str]:
    """Foils that move otherwise than the craft file's, each beside each: turned, or exchanged."""
    names = [f"foil_{name}" for name in mapping.craft.foils]
    if any(name not in runs[0].record for name in names):
        return []
    count = len(names)
    off: Floats = np.zeros((count, count))
    turned = np.zeros(count)
    for run in runs:
        measured = [_alone(run.record, name, mapping) for name in names]
        bands = measured_bands(run.record, mapping.craft)
        each = predicted_each(linear, mapping.craft, bands, run.waves, mapping.water.depth, mapping.late())[len(SIGNALS) :]
        for i in range(count):
            for j in range(count):
                with np.errstate(divide="ignore", invalid="ignore"):
                    ratio = measured[i] / each[j]
                ratio = ratio[np.isfinite(ratio) & (np.abs(ratio) > 0.0)]
                off[i, j] += float(np.mean(np.abs(np.log(ratio)) ** 2)) / len(runs) if len(ratio) else 0.0
                turned[i] += float(np.mean(np.cos(np.angle(ratio)))) / len(runs) if i == j and len(ratio) else 0.0
    upside = [name for name, mean in zip(names, turned, strict=True) if mean < -0.3]
    other = "moves the other way in waves than the craft file's craft would: is its sign turned?"
    if upside:
        return [f"{name}: {other}" for name in (upside if len(upside) < count else ["foils"])]
    for i, j in combinations(range(count), 2):
        now, then = off[i, i] + off[j, j], off[i, j] + off[j, i]
        if now > 0.3 and then < SWAPPED * now:
            return [f"{names[i]} and {names[j]} move as each other's would: are their columns exchanged?"]
    return []


def _alone(record: Record, name: str, mapping: Mapping) -> np.ndarray:
    """Ratio of one foil's angle to the acceleration, by band."""
    kept: dict[str, Series] = {key: series for key, series in record.items() if not key.startswith("foil_") or key == name}
    return np.asarray(measured_bands(kept, mapping.craft).ratio[SIGNALS.index("foils")])

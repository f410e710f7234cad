"""What looks wrong in a readable log: units, signs, clocks and columns that cannot be what the mapping says."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import NamedTuple

import numpy as np

from sweep.campaign.craft import Craft
from sweep.linear.craft import linearise
from sweep.logs.compare.agreement import FAR_OFF as FAR_OFF_SAID
from sweep.logs.compare.agreement import agreement_doubts
from sweep.logs.compare.bands import SIGNALS, edges, measured_bands, predicted_bands
from sweep.logs.compare.explanations import explained
from sweep.logs.read.channels import channel_kind
from sweep.logs.read.mapping import Mapping
from sweep.logs.read.runs import Run
from sweep.logs.read.table import LogTally
from sweep.logs.sea.measure import sensed_height
from sweep.model.pack.fleet import build_fleets
from sweep.model.physics.spectra import GRAVITY, Floats
from sweep.model.physics.water import Water
from sweep.words.numbers import count, number, with_unit
from sweep.words.phrases import listed
from sweep.words.units import from_unit

# Judgement: from where on a doubt is told
LATER = 0.045  # s, that readings stand later in the log than said
UPSIDE_DOWN = -0.4  # mean cosine of the phase off the model's
OFF_SCALE = 4.0  # times the size that the model has, or less by so much
SLOWER = 0.3  # of the rows repeat the one before: not a log that stood still, but one faster than its sensors
FAR = 10.0  # times the size that the model has, or less by so much: no craft is so far from its file
OFF_GAIN = 1.8  # times the size that the model has, of the foils' movement, whose gains are known
FAR_OFF = 0.02  # m of ride height


class Doubt(NamedTuple):
    """What looks wrong, in words; grave: no sea, comparison or fit can be right until it is mended."""

    text: str
    grave: bool = False


NO_SEA = (
    "is it written in mm",
    "is it written in cm",
    "is it written in m?",
    "sign",
    "mapped as rad?",
    "m/s^2",
    "gravity been taken off",
)
"""Words of doubts about units and signs on which the sea rests; a channel that hardly moves may be calm water."""


def column_doubts(logged: LogTally, mapping: Mapping, log: str) -> list[Doubt]:
    """Doubts about one log, from its counts; the grave ones first."""
    clock = [Doubt(text, "is the clock's unit right?" in text) for text in _of_the_clock(logged)]
    said = []
    for column in mapping.columns:
        values = logged.channels[column.channel].sample()
        if len(values) > 20:
            known = column.channel in ("range", "force_z", "pitch", "roll", "heading") and float(np.ptp(values)) > 0.0
            for text in _of_values(column.channel, values, mapping):
                said.append(Doubt(f"{column.channel}: {text}", known and any(words in text for words in NO_SEA)))
    others = [Doubt(text) for text in (*_of_the_cells(logged, mapping), *_twins(logged))]
    found = [*clock, *said, *others]
    return [Doubt(f"{log}: {each.text}", each.grave) for each in sorted(found, key=lambda each: not each.grave)]


def _of_the_clock(logged: LogTally) -> Iterator[str]:
    if logged.torn:
        yield f"{count(logged.torn, 'row has', 'rows have')} too many cells and {_were(logged.torn)} left out"
    if logged.clockless:
        yield f"{count(logged.clockless, 'row has', 'rows have')} no time and {_were(logged.clockless)} left out"
    stood = logged.stood - logged.twice
    if logged.twice:
        rows = count(logged.twice, "row has", "rows have")
        yield f"{rows} the time of the row before and nothing new, and {_were(logged.twice)} left out"
    if stood > SLOWER * logged.rows:
        yield f"{_repeat(stood)}: the sensors are read less often than rows are written"
    elif stood > 0:
        yield f"{_repeat(stood)} in every column: the log stood still there, and they count as missing"
    if logged.shared:
        rows = count(logged.shared, "row has", "rows have")
        yield f"{rows} the time of the row before: the clock's step is coarse, and their times are taken to lie evenly"
    if logged.swapped:
        yield f"{count(logged.swapped, 'row came', 'rows came')} after the next one, and {_were(logged.swapped)} put in order"
    if logged.backwards:
        yield f"the clock jumps back {count(logged.backwards, 'time', 'times')}: each jump ends a run"
    if logged.gaps:
        times = "a gap" if logged.gaps == 1 else f"{logged.gaps} gaps"
        yield f"{times} in the clock, the longest {with_unit(logged.longest_gap, 's')}: nothing is filled in"
    if logged.step > 0.5:
        yield f"a row only every {with_unit(logged.step, 's')}: is the clock's unit right?"
    elif 0.0 <= logged.step < 0.0008 and logged.rows > 20:
        yield f"a row every {with_unit(1e3 * logged.step, 'ms')}: is the clock's unit right, or its step too coarse?"
    elif logged.jitter > 0.5 * logged.step:
        yield f"the clock's steps vary by {with_unit(1e3 * logged.jitter, 'ms')} about {with_unit(1e3 * logged.step, 'ms')}"


def _repeat(amount: int) -> str:
    return f"{count(amount, 'row repeats', 'rows repeat')} the one before"


def _were(amount: int) -> str:
    return "was" if amount == 1 else "were"


def _of_the_cells(logged: LogTally, mapping: Mapping) -> Iterator[str]:
    for column in mapping.columns:
        tally = logged.channels[column.channel]
        cells = tally.came + tally.empty
        if tally.words:
            they = "it counts" if tally.words == 1 else "they count"
            cells_are = count(tally.words, "cell is", "cells are")
            yield f"{column.channel}: {cells_are} no number, as {tally.first_word!r}; {they} as missing"
        if not tally.came:
            yield f"{column.channel}: not one reading in column {column.column!r}"
            continue
        if tally.wild:
            kind = channel_kind(column.channel)
            unit = kind.kind.units[0]
            low, high = (from_unit("1", unit) and each / from_unit("1", unit) for each in (kind.low, kind.high))
            wild = count(tally.wild, "reading", "readings")
            yield f"{column.channel}: {wild} outside {number(low)} to {number(high)} {unit}, which none can be"
        if tally.held and not tally.evenly:
            yield (
                f"{column.channel}: most cells repeat the one before, and only changes count as readings: "
                "if they come at a rate of their own, give it (rate: 20 Hz)"
            )
        if column.rate is not None and logged.step > 0.0 and column.rate > 1.2 / logged.step:
            rows = number(1.0 / logged.step)
            yield f"{column.channel}: the mapping has a rate of {number(column.rate)} Hz, and the rows come at {rows} Hz"
        if column.rate is not None and tally.passed_over > tally.came:
            often = f"new readings come more often than at the {number(column.rate)} Hz of the mapping"
            yield f"{column.channel}: {often}: is its rate right?"
        if column.rate is None and cells > 200 and tally.empty > 0.995 * cells:
            yield f"{column.channel}: under one cell in two hundred has a reading"


def _of_values(channel: str, values: Floats, mapping: Mapping) -> Iterator[str]:
    spread, middle = float(np.std(values)), float(np.median(values))
    if np.ptp(values) == 0.0:
        yield f"never changes: {number(middle)} all the time"
    elif channel == "range":
        yield from _of_range(values, middle, mapping)
    elif channel == "force_z":
        yield from _of_gravity(middle)
    elif channel in ("pitch", "roll", "pitch_rate"):
        small, large = (0.0006, 0.12) if channel != "pitch_rate" else (0.004, 4.0)
        if spread > large:
            yield f"swings by {number(math.degrees(spread))} deg: is it written in degrees, and mapped as rad?"
        elif spread < small:
            yield f"swings by {number(math.degrees(spread))} deg only: is it written in rad, and mapped as deg?"
    elif channel == "speed":
        fastest = float(np.quantile(values, 0.9))
        if fastest > min(mapping.craft.propulsor.no_thrust_speed or math.inf, 3.0 * _usual_speed(mapping)):
            yield f"{number(fastest)} m/s is faster than this craft can go: is it written in km/h or kn?"
        elif 0.0 < fastest < 0.3 * _usual_speed(mapping):
            yield f"never over {number(fastest)} m/s, at which this craft does not fly"
    elif channel == "throttle" and (high := float(values.max())) < 0.012:
        yield f"never over {number(100 * high)} %: is it written as a share, 0 to 1, and mapped as %?"
    elif channel == "heading" and _unit_of(mapping, channel) == "rad" and float(np.abs(values).max()) > 7.0:
        yield f"up to {number(float(np.abs(values).max()))} rad: is it written in degrees, and mapped as rad?"
    elif channel == "heading" and spread > 0.02 and float(np.abs(values).max()) <= math.radians(6.4):
        yield "never over 6.4 deg: is it written in rad, and mapped as deg?"
    elif channel == "throttle" and float(np.quantile(values, 0.99)) > 1.05:
        yield f"up to {number(100 * float(values.max()))} %: is it written in %, and mapped as a share?"
    elif channel.startswith("foil_") and (high := float(np.quantile(np.abs(values), 0.99))) > 1.3 * _travel(mapping.craft):
        yield f"{number(math.degrees(high))} deg is beyond the servo's travel: is its unit right?"
    elif channel.startswith("foil_") and spread < 0.0003:
        yield f"moves by {number(math.degrees(spread))} deg only: is the unit right?"


def _travel(craft: Craft) -> float:
    """The largest travel of any foil's servo, rad."""
    return max(craft.servo_of(foil).travel for foil in craft.foils.values())


def _unit_of(mapping: Mapping, channel: str) -> str:
    return next((column.unit for column in mapping.columns if column.channel == channel), "")


def _usual_speed(mapping: Mapping) -> float:
    """m/s: at about this speed the foils carry the weight with a lift coefficient of 0.4."""
    craft = mapping.craft
    area = sum(foil.area for foil in craft.foils.values())
    return math.sqrt(2.0 * craft.body.mass * GRAVITY / (1000.0 * 0.4 * area))


def _of_range(values: Floats, middle: float, mapping: Mapping) -> Iterator[str]:
    sensors = mapping.craft.rangefinders
    nearest, farthest = sensors.first("blind"), sensors.first("far")
    if middle < 0.0:
        yield "mostly negative: is its sign right? It is a distance"
        return
    usual = mapping.craft.control.ride_height + max(sensors.first("height"), 0.0)
    if not (nearest <= middle <= farthest and 0.2 * usual < middle < 4.0 * usual):
        column = next(column for column in mapping.columns if column.channel == "range")
        raw = middle / column.factor
        fits = [unit for unit in ("mm", "cm", "m", "in") if 0.5 * usual <= raw * from_unit("1", unit) <= 2.0 * usual]
        told = f"usually {with_unit(middle, 'm')}, where {with_unit(usual, 'm')} is wanted"
        yield told + (f": is it written in {listed(fits)}?" if fits else "")
    blind = float(np.mean(values <= nearest))
    if blind > 0.2:
        yield f"{number(100 * blind, 2)} % of the readings are at its blind range"


def _of_gravity(middle: float) -> Iterator[str]:
    for value, said in (
        (GRAVITY, "usually +9.8 m/s^2: its sign is turned (down is positive, so gravity reads -9.8 at rest)"),
        (-1.0, "usually -1 m/s^2: is it written in g0?"),
        (1.0, "usually +1 m/s^2: is it written in g0, its sign turned?"),
        (0.0, "usually 0: has gravity been taken off already? It is wanted with gravity"),
        (-GRAVITY * GRAVITY, "usually -96 m/s^2: is it written in m/s^2, and mapped as g0?"),
    ):
        if abs(middle - value) < 0.25 * max(abs(value), 1.0):
            yield said
            return
    if abs(middle + GRAVITY) > 0.15 * GRAVITY:
        yield f"usually {number(middle)} m/s^2, where -9.8 is wanted"


def _twins(logged: LogTally) -> Iterator[str]:
    samples = {name: tally.sample() for name, tally in logged.channels.items()}
    for first, second in combinations(samples, 2):
        a, b = samples[first], samples[second]
        if len(a) == len(b) > 20 and np.ptp(a) > 0.0 and np.array_equal(a, b):
            yield f"{first} and {second} have exactly the same numbers"


def run_doubts(runs: Sequence[Run], mapping: Mapping, water: Water) -> list[Doubt]:
    """Doubts about runs beside the linear companion of the craft file: signs, scales and lags that contradict it."""
    said = agreement_doubts(runs, mapping, water)
    tipped = any(text.startswith("pitch: ") for text in said)  # which lifts the rangefinder
    found = [Doubt(text, _grave(text)) for text in said]
    found += [] if tipped else [Doubt(text) for run in runs[:1] for text in _of_ride(run, mapping)]
    whole = [run for run in runs if run.length > 25.0 and all(name in run.record for name in ("range", "force_z", "pitch"))]
    if not whole:
        return found
    told = explained(whole[:4], mapping, water) if not found else None
    found += [Doubt(told.text, told.text.startswith("rangefinder"))] if told else []
    rest = _against_model(whole[:4], mapping, water, told is None)
    return [*found, *(Doubt(text, _no_sea_by_model(text)) for text in rest)]


def _no_sea_by_model(text: str) -> bool:
    """Whether a doubt by the companion touches the sea: of the pitch's sign or scale, or of the sign of the acceleration."""
    return "force_z" in text or (text.startswith("pitch") and (FAR_OFF_SAID in text or "sign" in text))


def _grave(text: str) -> bool:
    """Whether a doubt by sensors that cannot both be right touches the sea: of the pitch, or of a speed beyond any lift."""
    return text.startswith("pitch") or "pitch and pitch_rate" in text or FAR_OFF_SAID in text


def _of_ride(run: Run, mapping: Mapping) -> Iterator[str]:
    off = float(np.mean(sensed_height(run.record, mapping.craft).value)) - mapping.craft.control.ride_height
    if abs(off) > FAR_OFF:
        yield (
            f"{run.log}: its own rangefinder has it ride {with_unit(100 * abs(off), 'cm', 2)} "
            f"{'above' if off > 0 else 'under'} the wanted height: is the mounting height in the craft file right?"
        )


def _against_model(runs: Sequence[Run], mapping: Mapping, water: Water, lag_too: bool) -> list[str]:
    turns: dict[str, list[complex]] = {name: [] for name in SIGNALS}
    lags = []
    middles = np.sqrt(edges()[1:] * edges()[:-1])
    for run in runs:
        ((_, fleet),) = build_fleets([mapping.craft], water, round(run.speed, 1))
        (linear,) = linearise(fleet)
        if linear is None:
            none = f"the craft file's craft has no trim at {with_unit(run.speed, 'm/s')}, at which this one flew"
            return [f"{run.log}: {none}: is speed in another unit, or the mass another?"]
        bands = measured_bands(run.record, mapping.craft)
        predicted = predicted_bands(linear, mapping.craft, bands, run.waves, mapping.water.depth, mapping.late())
        with np.errstate(invalid="ignore"):
            off = bands.ratio / predicted
        for name, row in zip(SIGNALS, off, strict=True):
            turns[name] += row[np.isfinite(row)].tolist()
        good = np.isfinite(off[0])
        if good.sum() > 2:
            lags.append(_lag(np.angle(off[0, good]), middles[good]))
    return [*_signs(turns), *(_late(lags) if lag_too else [])]


def _signs(turns: dict[str, list[complex]]) -> Iterator[str]:
    upside = []
    for name, found in turns.items():
        if len(found) < 3:
            continue
        size = float(np.exp(np.mean(np.log(np.abs(found) + 1e-12))))
        if size < 1e-6:  # it never changes, which another doubt says
            continue
        if float(np.mean(np.cos(np.angle(found)))) < UPSIDE_DOWN:
            upside.append(name)
        most = OFF_GAIN if name == "foils" else OFF_SCALE
        if not 1.0 / most < size < most:
            times = f"{number(size, 2)} times as much" + ("" if 1.0 / FAR < size < FAR else f" ({FAR_OFF_SAID})")
            if name == "foils" and 1.0 / OFF_SCALE < size < OFF_SCALE:
                yield f"foils: move {times} with the waves as by the craft file's gains: are those the gains that flew?"
                continue
            yield f"{name}: moves {times} with the waves as the craft file's craft would: is its unit right?"
    told = [name for name, found in turns.items() if len(found) >= 3]
    if len(upside) > 1 and len(upside) == len(told):
        yield "everything moves against the vertical acceleration: is the sign of force_z turned?"
    else:
        for name in upside:
            yield f"{name}: moves the other way in waves than the craft file's craft would: is its sign turned?"


def _late(lags: list[float]) -> Iterator[str]:
    if lags and abs(mean := float(np.median(lags))) > LATER:
        yield (
            f"range: its readings are about {number(1e3 * abs(mean), 2)} ms {'later' if mean > 0 else 'earlier'} in the log "
            f"than the files say: is its clock another, or its lag (late: 60 ms)? `log fit` finds it"
        )


def _lag(phase: Floats, frequency: Floats) -> float:
    """The lag, s, whose phase -2 pi f lag fits best."""
    tried = np.arange(-0.3, 0.3, 0.001)
    return float(tried[np.cos(phase + 2.0 * np.pi * tried[:, None] * frequency).sum(axis=1).argmax()])

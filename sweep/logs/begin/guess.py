"""What each column of a log is: by its heading, and by what its numbers can and cannot be."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd

from sweep.logs.begin.names import Heard, heard
from sweep.logs.read.channels import CHANNELS
from sweep.model.physics.spectra import GRAVITY, Floats
from sweep.words.numbers import number
from sweep.words.units import from_unit

FULL = (2048, 4096, 8192, 16384)
"""Counts a g0 of common 16-bit accelerometers (common practice, no source)."""
LEAST_NUMBERS = 12
"""Of a column that is one (judgement)."""
STEADY = 0.12
"""Share by which gravity may be off its value (judgement)."""


class Guess(NamedTuple):
    """One column taken for a channel: how, why, and what could not be told ("" if it is sure)."""

    channel: str
    column: str
    unit: str
    scale: float
    sign: int
    missing: tuple[float, ...]
    why: str
    question: str

    @property
    def factor(self) -> float:
        """SI value a number."""
        return self.sign * self.scale * from_unit("1", self.unit)


class Columns(NamedTuple):
    """Sampled rows: numbers of every column that has some, (rows,), its heading read; times, s."""

    values: dict[str, Floats]
    heard: dict[str, Heard]
    time: Floats


def columns_of(table: pd.DataFrame, units: tuple[str, ...], time: Floats) -> Columns:
    """Columns of a sample; units: the cells of a row of units, or none."""
    values, said = {}, {}
    for place, name in enumerate(table.columns):
        numbers = pd.to_numeric(table[name], errors="coerce").to_numpy(np.float64)
        if np.isfinite(numbers).sum() >= LEAST_NUMBERS:
            values[str(name)] = numbers
            said[str(name)] = heard(str(name), units[place] if place < len(units) else "")
    return Columns(values, said, time)


def guesses(columns: Columns, wanted_range: float | None) -> list[Guess]:
    """The channels found, the likeliest column for each. wanted_range: m, the rangefinder's distance at the ride height."""
    found: list[Guess] = []
    taken: set[str] = set()
    for channel in ("force_z", "force_x", "pitch", "roll", "pitch_rate", "heading", "speed", "range", "throttle", "power"):
        some = [name for name, said in columns.heard.items() if said.channel == channel and name not in taken]
        if channel == "force_z":
            some = some or _by_gravity(columns)
        some = [name for name in some if np.nanmin(columns.values[name]) < np.nanmax(columns.values[name])] or some[:1]
        if not some:
            continue
        guess = _guess(channel, some, columns, wanted_range)
        taken.add(guess.column)
        found.append(guess)
    return found if _named(columns) else found + _by_numbers(columns, taken, {each.channel for each in found}, wanted_range)


def _named(columns: Columns) -> bool:
    return any(not name.isdigit() for name in columns.values)


def _by_gravity(columns: Columns) -> list[str]:
    """Columns without a word that tells them whose middle is gravity in some unit, the steadiest first."""
    fits = []
    for name, values in columns.values.items():
        said = columns.heard[name]
        middle, spread = _middle(values)
        if said.channel == "" and abs(abs(middle) - GRAVITY) < STEADY * GRAVITY and 0.0 < spread < 0.5 * GRAVITY:
            fits.append((spread, name))
    return [name for _, name in sorted(fits)]


def _guess(channel: str, names: list[str], columns: Columns, wanted_range: float | None) -> Guess:
    name = names[0]
    values, said = columns.values[name], columns.heard[name]
    missing = _stand_ins(values)
    values = values.copy()
    values[np.isin(values, missing)] = np.nan
    sign = -1 if said.turned else 1
    why = f"named {' '.join(said.words)}" if not name.isdigit() else "by its numbers"
    unit, scale, told, question = _unit(channel, said, values, wanted_range)
    why = f"{why}; {told}" if told else why
    middle, _ = _middle(values)
    if channel == "force_z":
        sign = 1 if middle < 0.0 else -1
        why += "; at rest it reads " + (
            "-1 g0, so down is positive" if sign > 0 else "+1 g0, so up is positive, and ours is down"
        )
    elif channel == "range" and middle < 0.0:
        sign, why = -1, why + "; its numbers are negative, and a distance is not"
    if len(names) > 1:
        other = ", ".join(repr(each) for each in names[1:4])
        question = (
            f"{other} may be it as well"
            + (": which one steers?" if channel == "range" else "")
            + (f"; {question}" if question else "")
        )
    return Guess(channel, name, unit, scale, sign, missing, why, question)


def _unit(channel: str, said: Heard, values: Floats, wanted_range: float | None) -> tuple[str, float, str, str]:
    """Unit, units a number, why, and a question."""
    middle, spread = _middle(values)
    if channel in ("force_x", "force_z"):
        return _of_force(channel, said, abs(middle))
    if said.unit is not None and CHANNELS[channel].kind.suits(said.unit[0]):
        return *said.unit, f"its heading says {_worded(said.unit)}", ""
    top = float(np.nanmax(np.abs(values)))
    if channel in ("pitch", "roll"):
        if top > 60.0:
            return "deg", 0.01, f"up to {number(top)}, as hundredths of a degree", "are they hundredths of a degree?"
        if top > 0.8 or spread > 0.25:
            return "deg", 1.0, f"it swings to {number(top)}, which is too far in rad", ""
        return "rad", 1.0, f"it swings to {number(top)} only, as rad", "is it in rad, or in deg of a boat that hardly moves?"
    if channel == "heading":
        if top > 720.0:
            return "deg", 0.01, f"up to {number(top)}, as hundredths of a degree", "are they hundredths of a degree?"
        return (
            ("deg", 1.0, f"up to {number(top)}", "")
            if top > 6.5
            else ("rad", 1.0, f"never over {number(top)}", "is it in rad?")
        )
    if channel == "pitch_rate":
        return (
            ("deg/s", 1.0, f"up to {number(top)}", "is it in deg/s?")
            if top > 8.0
            else ("rad/s", 1.0, f"up to {number(top)}", "is it in rad/s?")
        )
    if channel == "speed":
        if top > 500.0:
            return "m/s", 0.001, f"up to {number(top)}, as mm/s", "is it in mm/s?"
        if top > 60.0:
            return "m/s", 0.01, f"up to {number(top)}, as cm/s", "is it in cm/s?"
        return "m/s", 1.0, "", "no word tells its unit: m/s, kn or km/h?"
    if channel == "range":
        return _of_range(abs(middle), wanted_range)
    if channel == "throttle":
        return ("%", 1.0, f"up to {number(top)}", "") if top > 1.2 else ("", 1.0, f"up to {number(top)}, a share", "")
    return "W", 1.0, "", "no word tells its unit"


def _of_force(channel: str, said: Heard, middle: float) -> tuple[str, float, str, str]:
    if channel == "force_x" and said.unit is not None and CHANNELS[channel].kind.suits(said.unit[0]):
        return *said.unit, f"its heading says {_worded(said.unit)}", ""
    for unit, scale, gravity, word in (
        ("m/s^2", 1.0, GRAVITY, "9.8"),
        ("ft/s^2", 1.0, GRAVITY / from_unit("1", "ft"), "32.2"),
        ("g0", 1.0, 1.0, "1"),
        ("g0", 0.001, 1000.0, "1000"),
        *(("g0", 1.0 / full, float(full), str(full)) for full in FULL),
    ):
        if abs(middle - gravity) < STEADY * gravity:
            return unit, scale, f"gravity reads {word}", ""
    if channel == "force_x":
        return "m/s^2", 1.0, "", "its unit is taken from force_z"
    question = f"usually {number(middle)}, which is gravity in no unit: has gravity been taken off? It is wanted with gravity"
    return "m/s^2", 1.0, "", question


def _of_range(middle: float, wanted: float | None) -> tuple[str, float, str, str]:
    units = ("m", "cm", "mm")
    if wanted is not None:
        off = {unit: abs(np.log(max(middle, 1e-9) * from_unit("1", unit) / wanted)) for unit in units}
        unit = min(off, key=off.__getitem__)
        if off[unit] < np.log(2.0):
            return unit, 1.0, f"usually {number(middle)} {unit}, where the craft's is {number(100 * wanted)} cm", ""
    likely = "m" if middle < 1.5 else "cm" if middle < 40.0 else "mm"
    return likely, 1.0, f"usually {number(middle)}", f"no word tells its unit: {', '.join(units)}?"


def _worded(unit: tuple[str, float]) -> str:
    return unit[0] if unit[1] == 1.0 else f"{number(unit[1])} {unit[0]}"


def _middle(values: Floats) -> tuple[float, float]:
    known = values[np.isfinite(values)]
    return float(np.median(known)), float(np.std(known))


def _stand_ins(values: Floats) -> tuple[float, ...]:
    """Numbers that come again and again, far off all others, or a negative one among positive ones: nothing came."""
    known = values[np.isfinite(values)]
    numbers, times = np.unique(known, return_counts=True)
    found = []
    for special in (-1.0, 0.0, 9999.0, 32767.0, 65535.0, -32768.0, -999.0, -9999.0):
        share = times[numbers == special].sum() / len(known)
        rest = known[known != special]
        if share < 0.01 or not len(rest):
            continue
        low, high = np.quantile(rest, [0.01, 0.99])
        apart = special < low - 0.5 * (high - low) or special > high + 0.5 * (high - low)
        if apart:
            found.append(special)
    return tuple(found)


def _by_numbers(columns: Columns, taken: set[str], known: set[str], wanted_range: float | None) -> list[Guess]:
    """Columns without names, by what they can be: each is a question, for numbers alone do not say."""
    free = [name for name in columns.values if name not in taken]
    force = next((name for name in taken if name in columns.values), None)
    likely: dict[str, str] = {}
    for name in free:
        values = columns.values[name]
        middle, spread = _middle(values)
        top = float(np.nanmax(np.abs(values)))
        share = float(np.isfinite(values).mean())
        if share < 0.8 and middle > 0.0:
            likely.setdefault("range", name)
        elif 30.0 < abs(middle) <= 360.0 and top <= 360.0 and spread < 60.0:
            likely.setdefault("heading", name)
        elif 1.0 < middle < 15.0 and spread < 0.2 * middle:
            likely.setdefault("speed", name)
    if force is not None:
        likely |= _tilts([name for name in free if name not in likely.values()], columns)
    found = []
    for channel, name in likely.items():
        if channel not in known:
            guess = _guess(channel, [name], columns, wanted_range)
            asked = f"it has no name: is it {CHANNELS[channel].meaning}?"
            found.append(guess._replace(question=f"{asked} {guess.question}".strip()))
    return found


def _tilts(free: list[str], columns: Columns) -> dict[str, str]:
    """Pitch and the forward accelerometer, which swing together about 0: forward it reads g0 x sin(pitch)."""
    about_zero = [name for name in free if abs(_middle(columns.values[name])[0]) < _middle(columns.values[name])[1]]
    best: tuple[float, str, str] = (0.3, "", "")
    for angle in about_zero:
        for force in about_zero:
            if angle != force:
                alike = abs(_alike(columns.values[angle], columns.values[force]))
                rough = [_roughness(columns.values[each]) for each in (angle, force)]
                if alike > best[0] and rough[0] < rough[1]:
                    best = (alike, angle, force)
    if not best[1]:
        return {}
    others = [name for name in about_zero if name not in best[1:]]
    found = {"pitch": best[1], "force_x": best[2]}
    return found | ({"roll": others[0]} if others else {})


def _alike(a: Floats, b: Floats) -> float:
    both = np.isfinite(a) & np.isfinite(b)
    return (
        float(np.corrcoef(a[both], b[both])[0, 1]) if both.sum() > 20 and np.ptp(a[both]) > 0 and np.ptp(b[both]) > 0 else 0.0
    )


def _roughness(values: Floats) -> float:
    """Share of the spread that changes from row to row."""
    known = values[np.isfinite(values)]
    return float(np.std(np.diff(known)) / max(float(np.std(known)), 1e-12))

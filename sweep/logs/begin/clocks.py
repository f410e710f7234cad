"""Which column is the clock, and how its cells are written."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd

from sweep.logs.begin.names import heard
from sweep.logs.read.clock import past_midnight, seconds
from sweep.model.physics.spectra import Floats
from sweep.words.numbers import number

RATES = (3.0, 1500.0)
"""Rows a second that a log may have (judgement)."""
SLOWEST, LEAST_ROWS = 0.2, 12
"""Rows a second that a receiver's own file may have, where its unit is told; rows that a file has (judgement)."""
ONE_WAY = 0.95
"""Share of a clock's steps that go one way: a row may have come late (judgement)."""
SINCE_1970 = {"s": 1e9, "ms": 1e12, "us": 1e15, "ns": 1e18}
"""A number of today in each unit has this size, up to four times as much."""
UNITS = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9}
"""Seconds in each."""


class ClockGuess(NamedTuple):
    """The clock's column and keys, seconds of the rows, why, and a question."""

    column: str
    unit: str
    written: str
    date: str
    dates: str
    time: Floats
    why: str
    question: str


def clock_of(table: pd.DataFrame, units: tuple[str, ...]) -> ClockGuess | None:
    """The likeliest clock of a sample of rows, or None if no column goes evenly on."""
    found = [each for each in (_written(table), *_numbers(table, units)) if each is not None]
    return min(found, key=lambda each: bool(each.question), default=None)


def _written(table: pd.DataFrame) -> ClockGuess | None:
    """A column of dates or times of day."""
    texts = {str(name): table[name].dropna().astype(str) for name in table if not pd.api.types.is_numeric_dtype(table[name])}
    dates = [name for name, cells in texts.items() if _share(cells, r"^\s*\d{1,4}[-./]\d{1,2}[-./]\d{1,4}\s*$")]
    for name, cells in texts.items():
        if _share(cells, r"^\s*\d{1,4}[-./]\d{1,2}[-./]\d{1,4}[T ]\s*\d"):
            order, asked = _order(cells)
            return _made(table[name], name, ("iso", "", order), "dates and times", asked)
        if _share(cells, r"^\s*\d{1,2}:\d{2}(:\d{1,2}([.,]\d*)?)?\s*$"):
            if dates:
                order, asked = _order(texts[dates[0]])
                joined = table[dates[0]].astype(str) + "T" + table[name].astype(str)
                return _made(joined, name, ("iso", dates[0], order), f"times of day, with the date in {dates[0]!r}", asked)
            return _made(table[name], name, ("time-of-day", "", "year-first"), "times of day", "")
    return None


def _share(cells: pd.Series, pattern: str) -> bool:
    return len(cells) > 0 and float(cells.head(500).str.match(pattern).mean()) > 0.9


def _order(cells: pd.Series) -> tuple[str, str]:
    parts = cells.str.extract(r"(\d{1,4})[-./](\d{1,2})[-./](\d{1,4})").astype(float)
    if parts[0].max() > 31:
        return "year-first", ""
    if parts[0].max() > 12:
        return "day-first", ""
    if parts[1].max() > 12:
        return "month-first", ""
    return "day-first", "does the day come first in its dates, or the month?"


def _made(cells: pd.Series, name: str, how: tuple[str, str, str], why: str, question: str) -> ClockGuess:
    written, date, dates = how
    time = seconds(cells, written, dates)
    if written == "time-of-day":
        time = past_midnight(time, np.nan)
    return ClockGuess(name, "s", written, date, dates, time, f"{why}, {_rate(time)}", question)


def _numbers(table: pd.DataFrame, units: tuple[str, ...]) -> list[ClockGuess]:
    """Columns of numbers that go evenly on, those that are named as a clock first."""
    found = []
    for place, name in enumerate(table.columns):
        if (
            not pd.api.types.is_numeric_dtype(table[name])
            and not pd.to_numeric(table[name], errors="coerce").notna().mean() > 0.9
        ):
            continue
        values = pd.to_numeric(table[name], errors="coerce").to_numpy(np.float64)
        known = values[np.isfinite(values)]
        steps = np.diff(known)
        moves = steps[steps != 0.0]
        if len(steps) < LEAST_ROWS or not len(moves) or not max((moves > 0.0).mean(), (moves < 0.0).mean()) > ONE_WAY:
            continue
        said = heard(str(name), units[place] if place < len(units) else "")
        unit, why, question = _unit(known, said.unit[0] if said.unit else "")
        counts = bool(np.all(steps == 1.0)) and said.channel != "clock"
        if unit and not counts:
            guess = ClockGuess(str(name), unit, "number", "", "year-first", values * UNITS[unit], why, question)
            found.append((said.channel != "clock", guess))
    return [guess for _, guess in sorted(found, key=lambda each: each[0])]


def _unit(known: Floats, told: str) -> tuple[str, str, str]:
    """Unit of a clock by its heading, its size or its step; why; and a question."""
    step = abs(float(known[-1] - known[0])) / (len(known) - 1)
    for unit, size in SINCE_1970.items():
        if size <= abs(known[0]) < 4.0 * size and SLOWEST < 1.0 / (step * UNITS[unit]) < RATES[1]:
            return unit, f"{unit} since 1970, {_times(1.0 / (step * UNITS[unit]))}", ""
    fits = [unit for unit, factor in UNITS.items() if RATES[0] < 1.0 / (step * factor) < RATES[1]]
    if told in fits or (told in UNITS and SLOWEST < 1.0 / (step * UNITS[told]) < RATES[0]):
        return told, f"its heading says {told}; {_times(1.0 / (step * UNITS[told]))}", ""
    if not fits:
        return "", "", ""
    question = f"in {' or '.join(fits)}?" if len(fits) > 1 else ""
    if told in UNITS:
        question = f"its heading says {told}, by which a row comes every {number(step * UNITS[told])} s?"
    return fits[-1], f"it goes on by {number(step)}, which in {fits[-1]} is {_times(1.0 / (step * UNITS[fits[-1]]))}", question


def _rate(time: Floats) -> str:
    known = time[np.isfinite(time)]
    return _times((len(known) - 1) / max(abs(float(known[-1] - known[0])), 1e-9)) if len(known) > 1 else "too few rows"


def _times(rate: float) -> str:
    return f"{number(rate)} rows a second"

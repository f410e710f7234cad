"""A log, chunk by chunk: numbers in SI at times in seconds. Missing and unreadable cells are counted, never filled in."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd

from sweep.logs.read.channels import FURTHER, channel_kind
from sweep.logs.read.clock import in_order, past_midnight, seconds
from sweep.logs.read.coarse_clock import spread_out
from sweep.logs.read.mapping import Column, Mapping
from sweep.logs.read.plain_bytes import refusal
from sweep.logs.read.rows import FIRST_ROWS, Wanted, rows_of
from sweep.model.physics.spectra import Floats

SAMPLE_SIZE = 20_000  # values of each channel that are kept, evenly spread (judgement)
MOST_REPEATED = 0.6  # of the cells, that repeat the one before: then the log holds each reading until the next (judgement)
LEAST_CHANGES = 0.02  # of the cells: with fewer it is stuck, and does not hold readings (judgement)
FELT = ("range", "pitch", "roll", "force_x", "force_z", "pitch_rate")  # whose changes tell when a reading came
MOST_BY_CHANCE = 0.01  # of the times of a log, at which a channel may have two readings (judgement)
SINCE_1970 = 1e8  # s: a clock beyond it counts from 1970 (judgement)
_SETUP = " set-up"  # of a row, beside the channels


class Chunk(NamedTuple):
    """Rows in order: time (s), channels by name (NaN where nothing came), and whether the clock restarted before them.

    setup: as a column of the log says; or "".
    """

    time: Floats
    values: dict[str, Floats]
    afresh: bool
    setup: str = ""


@dataclass
class ReadingTally:
    """Counts of one channel: readings, cells that are no number, impossible values; and some of the values.

    held: cells that repeat the one before where most do, which are no readings; evenly: whether the others come evenly;
    passed_over: new ones that the rate of the mapping leaves out.
    """

    came: int = 0
    empty: int = 0
    words: int = 0
    first_word: str = ""
    wild: int = 0
    held: int = 0
    evenly: bool = True
    passed_over: int = 0
    values: list[Floats] = field(default_factory=list)
    stride: int = 1

    def keep(self, values: Floats) -> None:
        """Keep some of the values, so that their number stays under 2 x SAMPLE_SIZE."""
        self.values.append(values[:: self.stride].copy())
        if sum(map(len, self.values)) > 2 * SAMPLE_SIZE:
            self.values = [np.concatenate(self.values)[::2]]
            self.stride *= 2

    def sample(self) -> Floats:
        """The kept values."""
        return np.concatenate(self.values) if self.values else np.zeros(0)


@dataclass
class LogTally:
    """Counts of a log: rows, torn rows, rows that repeat the one before (stood), what the clock does, and each channel.

    swapped: rows that came just after their follower; twice: rows with the time of the row before and nothing new; shared:
    rows that have the clock's value of the row before; left_out: rows that do not count by the mapping; origin: s, what is
    taken off the clock so that it begins at 0, None before the first row.
    """

    rows: int = 0
    torn: int = 0
    stood: int = 0
    shared: int = 0
    clockless: int = 0
    backwards: int = 0
    swapped: int = 0
    twice: int = 0
    gaps: int = 0
    longest_gap: float = 0.0
    step: float = 0.0
    jitter: float = 0.0
    first: float = 0.0
    last: float = 0.0
    left_out: int = 0
    origin: float | None = None
    channels: dict[str, ReadingTally] = field(default_factory=dict)


LONGEST_NUMBER = 100
"""Longest cell that may be a reading, in characters (judgement): a longer one does not fit a float."""


def wanted_columns(mapping: Mapping) -> Wanted:
    """The columns that a mapping reads, and what for."""
    found = {mapping.clock.column: "clock"} | {column.column: column.channel for column in mapping.columns}
    for column, purpose in ((mapping.time.date, "the date"), (mapping.setups, "setups")):
        found |= {column: purpose} if column else {}
    if mapping.rows:
        found.setdefault(mapping.rows.column, "rows")
    written = "time-of-day" if mapping.time.date is not None else mapping.time.written
    return Wanted(found, mapping.clock.column, written, mapping.time.dates)


def read_chunks(
    path: Path, mapping: Mapping, tally: LogTally, progress: Callable[[int], None] = lambda size: None
) -> Iterator[Chunk]:
    """The rows of a log; `tally` is filled on the way, `progress` is called with the number of bytes done.

    Raises CampaignError if it is not such a log.
    """
    reader, torn = _Reader(mapping, tally), [0]
    try:
        for table, done in rows_of(path, mapping.dialect, wanted_columns(mapping), torn):
            yield from reader.chunks(table)
            progress(done)
        yield from reader.rest()
    finally:
        tally.torn += torn[0]
    if not tally.rows:
        raise refusal(path, "headings and no row under them", "a log")


class _Reader:
    """Turns tables of text and numbers into chunks; remembers the last time and values from one to the next.

    The rows of the clock's last value wait for the next table, which may have more of them.
    """

    def __init__(self, mapping: Mapping, tally: LogTally) -> None:
        self.mapping, self.tally = mapping, tally
        self.last = -np.inf
        self.of_day = np.nan
        self.setups: dict[str, int] = {"": 0}
        self.setup_before = 0.0
        self.waiting: tuple[Floats, dict[str, Floats]] = (np.zeros(0), {})
        self.row_before: Floats = np.full(len(mapping.columns), np.inf)
        self.slots: dict[str, float] = {}
        self.latest: dict[str, float] = {}
        self.held: dict[str, bool] = {}
        for column in mapping.columns:
            tally.channels.setdefault(column.channel, ReadingTally())

    def chunks(self, table: pd.DataFrame) -> Iterator[Chunk]:
        time = self._time(table)
        order = in_order(time)
        table, time = table.iloc[order], time[order]
        self.tally.swapped += int((np.diff(order) < 0).sum())
        values = {column.channel: self._values(table[column.column], column) for column in self.mapping.columns}
        known = np.isfinite(time)
        self.tally.rows += len(time)
        self.tally.clockless += int((~known).sum())
        self._forget_repeats(values)
        self._leave_out(table, values)
        twice = np.all([np.isnan(each) for each in values.values()], axis=0) & (np.diff(time, prepend=np.nan) == 0.0)
        self.tally.twice += int(twice.sum())
        known &= ~twice
        if not known.any():
            return
        if self.mapping.setups:
            values[_SETUP] = self._setup_codes(table[self.mapping.setups])
        before, those = self.waiting
        time = np.concatenate([before, time[known]])
        values = {name: np.concatenate([those.get(name, np.zeros(0)), each[known]]) for name, each in values.items()}
        last = int(np.flatnonzero(np.append(True, time[1:] != time[:-1]))[-1])
        self.waiting = time[last:], {name: each[last:] for name, each in values.items()}
        yield from self._cut(time[:last], {name: each[:last] for name, each in values.items()}, float(time[-1]))

    def _time(self, table: pd.DataFrame) -> Floats:
        """Seconds; from the first row on where the clock has dates, times of day, or counts from 1970."""
        how, clock, tally = self.mapping.time, self.mapping.clock, self.tally
        cells = table[clock.column]
        if how.date is not None:
            cells = table[how.date].astype(str) + "T" + cells.astype(str).str.strip()
        written = "iso" if how.date is not None else how.written
        time = seconds(cells, written, how.dates) * (clock.factor if written == "number" else 1.0)
        if written == "time-of-day":
            time = past_midnight(time, self.of_day)
        some = time[np.isfinite(time)]
        if not len(some):
            return time
        self.of_day = float(some[-1])
        if tally.origin is None:
            tally.origin = 0.0 if written == "number" and abs(some[0]) < SINCE_1970 else float(some[0])
        return time - tally.origin

    def _leave_out(self, table: pd.DataFrame, values: dict[str, Floats]) -> None:
        """Rows that do not count have no readings; their clock goes on."""
        rows = self.mapping.rows
        if rows is None:
            return
        cells = table[rows.column]
        numbers = [float(each) for each in rows.are if not isinstance(each, str)]
        counts = cells.astype(str).str.strip().isin([each for each in rows.are if isinstance(each, str)])
        out = ~(counts | pd.to_numeric(cells, errors="coerce").isin(numbers)).to_numpy()
        self.tally.left_out += int(out.sum())
        for each in values.values():
            each[out] = np.nan

    def _setup_codes(self, cells: pd.Series) -> Floats:
        """A number for each row's set-up; an empty cell has that of the row before."""
        codes = cells.map(lambda cell: np.nan if pd.isna(cell) else self.setups.setdefault(str(cell).strip(), len(self.setups)))
        filled: Floats = np.asarray(codes.astype(float).ffill().fillna(self.setup_before), dtype=np.float64)
        self.setup_before = float(filled[-1])
        return filled

    def rest(self) -> Iterator[Chunk]:
        """The rows that waited."""
        yield from self._cut(*self.waiting, None)

    def _cut(self, time: Floats, values: dict[str, Floats], follows: float | None) -> Iterator[Chunk]:
        """Chunks of rows whose time goes on; follows: s, the clock after them, None at the end of a log."""
        if not len(time):
            return
        time, values = _together(time, values)
        changes = np.diff(time) < 0.0
        if _SETUP in values:
            changes |= np.diff(values[_SETUP]) != 0.0
        cuts = [0, *(np.flatnonzero(changes) + 1), len(time)]
        for first, last in pairwise(cuts):
            afresh = bool(time[first] < self.last)
            self.tally.backwards += afresh
            if afresh:
                self.slots.clear()
            part = {name: each[first:last] for name, each in values.items()}
            setup = list(self.setups)[int(part.pop(_SETUP)[0])] if _SETUP in part else ""
            own, shared = spread_out(time[first:last], follows if last == len(time) else None)
            self.tally.shared += shared
            yield self._chunk(own, {name: each[: len(own)] for name, each in part.items()}, afresh)._replace(setup=setup)

    def _forget_repeats(self, values: dict[str, Floats]) -> None:
        """A row like the one before in every channel has no reading: the log stood still, or is faster than its sensors."""
        if "force_z" not in values:  # whose noise makes every row another
            return
        rows = np.column_stack([self.row_before, np.array(list(values.values()))])
        self.row_before = rows[:, -1]
        same = (rows[:, 1:] == rows[:, :-1]) | (np.isnan(rows[:, 1:]) & np.isnan(rows[:, :-1]))
        repeats = same.all(axis=0)
        self.tally.stood += int(repeats.sum())
        for each in values.values():
            each[repeats] = np.nan

    def _values(self, cells: pd.Series, column: Column) -> Floats:
        tally = self.tally.channels[column.channel]
        numbers = _numbers(cells, tally)
        for word in column.missing:
            numbers = np.where(numbers == word, np.nan, numbers)
        with np.errstate(over="ignore"):
            scaled = numbers * column.factor + column.offset
        return np.where(np.isinf(scaled), np.nan, scaled)  # no sensor reads what no float holds

    def _chunk(self, time: Floats, values: dict[str, Floats], afresh: bool) -> Chunk:
        self._clock(time, afresh)
        for column in self.mapping.columns:
            each, tally = values[column.channel], self.tally.channels[column.channel]
            if column.rate is not None:
                each = values[column.channel] = self._once(column.channel, column.rate, time, each)
            elif column.channel in FELT or column.channel.startswith(FURTHER):
                each = values[column.channel] = self._changes(column.channel, each)
            kind = channel_kind(column.channel)
            wild = (each < kind.low) | (each > kind.high)
            tally.wild += int(wild.sum())
            came = np.isfinite(each)
            tally.came += int(came.sum())
            tally.empty += int((~came).sum())
            tally.keep(each[came])
        return Chunk(time, values, afresh)

    def _clock(self, time: Floats, afresh: bool) -> None:
        tally = self.tally
        steps = np.diff(time, prepend=time[0] if afresh or not np.isfinite(self.last) else self.last)
        if tally.step == 0.0 and len(time) > 2:
            tally.step, tally.first = float(np.median(np.diff(time))), float(time[0])
            tally.jitter = float(np.subtract(*np.quantile(np.diff(time), [0.9, 0.1])))
        wide = steps > max(5.0 * tally.step, 0.25)
        tally.gaps += int(wide.sum())
        tally.longest_gap = max(tally.longest_gap, float(steps.max(initial=0.0)))
        self.last = tally.last = float(time[-1])

    def _once(self, channel: str, rate: float, time: Floats, values: Floats) -> Floats:
        """The values where they first appear, NaN where the log repeats them: a repeat is not a reading."""
        came = np.flatnonzero(np.isfinite(values))
        slot = np.floor(time[came] * rate + 1e-6)
        first = slot > np.concatenate([[self.slots.get(channel, -np.inf)], slot[:-1]])
        found = np.full(len(values), np.nan)
        if not len(came):
            return found
        self.slots[channel] = float(slot[-1])
        found[came[first]] = values[came[first]]
        changes = np.flatnonzero(np.diff(values[came]) != 0.0) + 1
        self.tally.channels[channel].passed_over += int((~first[changes]).sum())
        return found

    def _changes(self, channel: str, values: Floats) -> Floats:
        """Of a channel whose cells mostly repeat the one before, the values where they change: a repeat is no reading.

        That is told by the first rows of the log, and goes for all of it.
        """
        came = np.flatnonzero(np.isfinite(values))
        changed = came[np.diff(values[came], prepend=self.latest.get(channel, np.inf)) != 0.0]
        if len(came):
            self.latest[channel] = float(values[came[-1]])
        tally = self.tally.channels[channel]
        if channel not in self.held and len(came) >= FIRST_ROWS:
            self.held[channel] = LEAST_CHANGES * len(came) < len(changed) < (1.0 - MOST_REPEATED) * len(came)
            tally.evenly = _steady(changed)
        if not self.held.get(channel, False):
            return values
        tally.held += len(came) - len(changed)
        only = np.full(len(values), np.nan)
        only[changed] = values[changed]
        return only


def _together(time: Floats, values: dict[str, Floats]) -> tuple[Floats, dict[str, Floats]]:
    """Neighbouring rows of one time as one, where hardly any channel has two readings then: each sensor has rows of its own."""
    first = np.flatnonzero(np.diff(time, prepend=-np.inf) != 0.0)
    if len(first) == len(time):
        return time, values
    count = {name: np.add.reduceat(np.isfinite(each), first, dtype=int) for name, each in values.items()}
    most = np.max([each for name, each in count.items() if name != _SETUP], axis=0)
    if np.mean(most > 1) > MOST_BY_CHANCE:  # a coarse clock, which several rows share
        return time, values
    sums = {name: np.add.reduceat(np.nan_to_num(each), first) for name, each in values.items()}
    return time[first], {name: np.where(count[name], sums[name] / np.maximum(count[name], 1), np.nan) for name in values}


def _steady(places: Floats) -> bool:
    """Whether changes at these rows come evenly."""
    gaps = np.diff(places)
    return len(gaps) > 10 and float(np.quantile(gaps, 0.9)) <= 1.5 * float(np.median(gaps))


def _numbers(cells: pd.Series, tally: ReadingTally) -> Floats:
    """Cells as numbers; any other cell is NaN, and is counted if it is a word."""
    if pd.api.types.is_numeric_dtype(cells):
        return cells.to_numpy(dtype=np.float64)
    try:
        numbers = pd.to_numeric(cells, errors="coerce")
    except OverflowError:  # a whole number of over 308 digits
        numbers = pd.to_numeric(cells.where(cells.astype(str).str.len() <= LONGEST_NUMBER), errors="coerce")
    words = numbers.isna() & cells.notna()
    tally.words += int(words.sum())
    if words.any() and not tally.first_word:
        tally.first_word = str(cells[words].iloc[0])[:40]
    return numbers.to_numpy(dtype=np.float64)

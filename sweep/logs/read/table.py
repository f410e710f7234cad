"""A log, chunk by chunk: numbers in SI at times in seconds. Missing and unreadable cells are counted, never filled in."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from io import BytesIO
from itertools import pairwise
from pathlib import Path
from typing import Any, BinaryIO, NamedTuple

import numpy as np
import pandas as pd

from sweep.campaign.text.explain import nearest
from sweep.campaign.text.problems import CampaignError, Problem
from sweep.logs.read.channels import channel_kind
from sweep.logs.read.coarse_clock import spread_out
from sweep.logs.read.mapping import Column, Mapping
from sweep.model.physics.spectra import Floats
from sweep.words.phrases import listed

CHUNK_ROWS = 50_000  # of a log that are read at a time (judgement)
SAMPLE_SIZE = 20_000  # values of each channel that are kept, evenly spread (judgement)
FIRST_ROWS = 200  # that show whether the log is written newest first (judgement)
MOST_REPEATED = 0.6  # of the cells, that repeat the one before: then the log holds each reading until the next (judgement)
LEAST_CHANGES = 0.02  # of the cells: with fewer it is stuck, and does not hold readings (judgement)
FELT = ("range", "pitch", "roll", "force_x", "force_z", "pitch_rate")  # whose changes tell when a reading came
BLOCK = 4_000_000  # bytes of such a log that are read at a time (judgement)
LONGEST_HEAD = 100_000  # bytes of the line of headings (judgement)


class Chunk(NamedTuple):
    """Rows in order: time (s), channels by name (NaN where nothing came), and whether the clock restarted before them."""

    time: Floats
    values: dict[str, Floats]
    afresh: bool


@dataclass
class ReadingTally:
    """Counts of one channel: readings, cells that are no number, impossible values; and some of the values.

    held: cells that repeat the one before where most do, which are no readings; evenly: whether the others come evenly.
    """

    came: int = 0
    empty: int = 0
    words: int = 0
    first_word: str = ""
    wild: int = 0
    held: int = 0
    evenly: bool = True
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

    shared: rows that have the clock's value of the row before.
    """

    rows: int = 0
    torn: int = 0
    stood: int = 0
    shared: int = 0
    clockless: int = 0
    backwards: int = 0
    gaps: int = 0
    longest_gap: float = 0.0
    step: float = 0.0
    jitter: float = 0.0
    first: float = 0.0
    last: float = 0.0
    channels: dict[str, ReadingTally] = field(default_factory=dict)


LONGEST_NUMBER = 100
"""Longest cell that may be a reading, in characters (judgement): a longer one does not fit a float."""


def headings(path: Path, mapping: Mapping) -> list[str]:
    """The headings of a CSV. Raises CampaignError if it has none, or lacks those of the mapping."""
    try:
        with path.open("rb") as stream:
            for _ in range(mapping.skip):
                stream.readline(LONGEST_HEAD)
            raw = stream.readline(LONGEST_HEAD)
    except OSError as error:
        raise _refusal(path, f"a file that cannot be read ({error.strerror})", "a CSV") from error
    try:
        line = raw.decode("utf-8-sig").strip("\r\n")
    except UnicodeDecodeError:
        raise _refusal(path, "headings that are not text in UTF-8", "a CSV in UTF-8") from None
    if not line.strip():
        raise _refusal(path, "no headings", "a CSV with headings in its first line (skip: lines before them)")
    names = line.split() if mapping.delimiter == r"\s+" else [name.strip().strip('"') for name in line.split(mapping.delimiter)]
    _refuse_other_columns(path, mapping, names)
    return names


def _refuse_other_columns(path: Path, mapping: Mapping, names: list[str]) -> None:
    problems = []
    for column in (mapping.clock, *mapping.columns):
        if column.column in names:
            continue
        near = nearest(column.column, names) or names[:6]
        one = " (the whole line is one heading: is the delimiter right?)" if len(names) == 1 else ""
        found = f"no column {column.column!r}, for {column.channel}{one}"
        problems.append(Problem(str(path), mapping.skip + 1, 0, "", found, f"a column that is there, as {listed(near)}"))
    twice = {column.column for column in (mapping.clock, *mapping.columns) if names.count(column.column) > 1}
    problems += [Problem(str(path), mapping.skip + 1, 0, "", f"two columns {name!r}", "every heading once") for name in twice]
    if problems:
        raise CampaignError(problems)


def _refusal(path: Path, found: str, wanted: str) -> CampaignError:
    return CampaignError([Problem(str(path), 0, 0, "", found, wanted)])


def read_chunks(
    path: Path, mapping: Mapping, tally: LogTally, progress: Callable[[int], None] = lambda size: None
) -> Iterator[Chunk]:
    """The rows of a CSV; `tally` is filled on the way, `progress` is called with the number of bytes done.

    Raises CampaignError if it is not such a CSV.
    """
    names = headings(path, mapping)
    reader = _Reader(mapping, tally)
    with path.open("rb") as stream:
        torn = [0]
        try:
            for table in _tables(stream, mapping, names, torn):
                yield from reader.chunks(table)
                progress(stream.tell())
            yield from reader.rest()
        except pd.errors.EmptyDataError:
            pass
        except pd.errors.ParserError as error:
            raise _refusal(path, f"rows that cannot be separated ({error})", "a CSV, every row with as many cells") from error
        tally.torn += torn[0]
    if not tally.rows:
        raise _refusal(path, "headings and no row under them", "a log")


def _tables(stream: BinaryIO, mapping: Mapping, names: list[str], torn: list[int]) -> Iterator[pd.DataFrame]:
    """The rows under the headings, oldest first, some at a time; `torn` counts those with too many cells."""
    delimiter = None if mapping.delimiter == r"\s+" else mapping.delimiter.encode()

    def parsed(source: BinaryIO, skipped: int = 0, **how: Any) -> Any:
        whole: Any = _Whole(source, delimiter, len(names) - 1, torn)
        return pd.read_csv(
            whole,
            sep=mapping.delimiter,
            decimal=mapping.decimal,
            skiprows=skipped,
            names=names,
            usecols=[mapping.clock.column, *(column.column for column in mapping.columns)],
            index_col=False,
            low_memory=False,
            encoding="utf-8",
            encoding_errors="replace",
            **how,
        )

    for _ in range(mapping.skip + 1):
        stream.readline()
    begin = stream.tell()
    first = b"".join(stream.readline(LONGEST_HEAD) for _ in range(FIRST_ROWS))
    if first.strip() and _newest_first(parsed(BytesIO(first)), mapping):
        torn[0] = 0
        for block in _from_the_end(stream, begin):
            yield parsed(BytesIO(block))[::-1]
        return
    torn[0] = 0
    stream.seek(0)
    yield from parsed(stream, mapping.skip + 1, chunksize=CHUNK_ROWS)


def _newest_first(rows: pd.DataFrame, mapping: Mapping) -> bool:
    """Whether the clock goes down from row to row."""
    steps = np.diff(_numbers(rows[mapping.clock.column], ReadingTally()))
    steps = steps[steps != 0.0]
    return len(steps) > 2 and float(np.mean(steps < 0.0)) > 0.9


def _from_the_end(stream: BinaryIO, begin: int) -> Iterator[bytes]:
    """Blocks of whole lines, the last first, down to the place `begin`."""
    end = stream.seek(0, 2)
    while end > begin:
        first = max(end - BLOCK, begin)
        stream.seek(first)
        if first > begin:
            stream.readline()
            first = stream.tell()
        if first >= end:  # a line longer than a block
            first = begin
        stream.seek(first)
        yield stream.read(end - first)
        end = first


class _Whole:
    """The bytes of a CSV without rows that have too many cells; these are counted in `torn`."""

    def __init__(self, stream: BinaryIO, delimiter: bytes | None, most: int, torn: list[int]) -> None:
        self.stream, self.delimiter, self.most, self.torn = stream, delimiter, most, torn

    def read(self, size: int = -1) -> bytes:
        block = self.stream.read(size) + self.stream.readline()
        delimiter, most = self.delimiter, self.most
        if delimiter is None or not block:
            return block
        lines = block.splitlines(keepends=True)
        good = [line for line in lines if b'"' in line or line.rstrip().rstrip(delimiter).count(delimiter) <= most]
        self.torn[0] += len(lines) - len(good)
        return b"".join(good)

    def __iter__(self) -> Iterator[bytes]:
        return iter(self.stream)


class _Reader:
    """Turns tables of text and numbers into chunks; remembers the last time and values from one to the next.

    The rows of the clock's last value wait for the next table, which may have more of them.
    """

    def __init__(self, mapping: Mapping, tally: LogTally) -> None:
        self.mapping, self.tally = mapping, tally
        self.last = -np.inf
        self.waiting: tuple[Floats, dict[str, Floats]] = (np.zeros(0), {})
        self.row_before: Floats = np.full(len(mapping.columns), np.inf)
        self.slots: dict[str, float] = {}
        self.latest: dict[str, float] = {}
        self.held: dict[str, bool] = {}
        for column in mapping.columns:
            tally.channels.setdefault(column.channel, ReadingTally())

    def chunks(self, table: pd.DataFrame) -> Iterator[Chunk]:
        clock = self.mapping.clock
        time = _numbers(table[clock.column], ReadingTally()) * clock.factor
        values = {column.channel: self._values(table[column.column], column) for column in self.mapping.columns}
        known = np.isfinite(time)
        self.tally.rows += len(time)
        self.tally.clockless += int((~known).sum())
        self._forget_repeats(values)
        if not known.any():
            return
        before, those = self.waiting
        time = np.concatenate([before, time[known]])
        values = {name: np.concatenate([those.get(name, np.zeros(0)), each[known]]) for name, each in values.items()}
        last = int(np.flatnonzero(np.append(True, time[1:] != time[:-1]))[-1])
        self.waiting = time[last:], {name: each[last:] for name, each in values.items()}
        yield from self._cut(time[:last], {name: each[:last] for name, each in values.items()}, float(time[-1]))

    def rest(self) -> Iterator[Chunk]:
        """The rows that waited."""
        yield from self._cut(*self.waiting, None)

    def _cut(self, time: Floats, values: dict[str, Floats], follows: float | None) -> Iterator[Chunk]:
        """Chunks of rows whose time goes on; follows: s, the clock after them, None at the end of a log."""
        if not len(time):
            return
        cuts = [0, *(np.flatnonzero(np.diff(time) < 0.0) + 1), len(time)]
        for first, last in pairwise(cuts):
            afresh = bool(time[first] < self.last)
            self.tally.backwards += afresh
            if afresh:
                self.slots.clear()
            part = {name: each[first:last] for name, each in values.items()}
            own, shared = spread_out(time[first:last], follows if last == len(time) else None)
            self.tally.shared += shared
            yield self._chunk(own, {name: each[: len(own)] for name, each in part.items()}, afresh)

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
        return numbers * column.factor + column.offset

    def _chunk(self, time: Floats, values: dict[str, Floats], afresh: bool) -> Chunk:
        self._clock(time, afresh)
        for column in self.mapping.columns:
            each, tally = values[column.channel], self.tally.channels[column.channel]
            if column.rate is not None:
                each = values[column.channel] = self._once(column.channel, column.rate, time, each)
            elif column.channel in FELT:
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
        slot = np.floor(time * rate + 1e-6)
        before = np.concatenate([[self.slots.get(channel, -np.inf)], slot[:-1]])
        self.slots[channel] = float(slot[-1])
        return np.where(slot > before, values, np.nan)

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

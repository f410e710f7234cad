"""A log, chunk by chunk: numbers in SI at times in seconds. Missing and unreadable cells are counted, never filled in."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any, BinaryIO, NamedTuple

import numpy as np
import pandas as pd

from sweep.campaign.text.explain import nearest
from sweep.campaign.text.problems import CampaignError, Problem
from sweep.logs.read.channels import channel_kind
from sweep.logs.read.mapping import Column, Mapping
from sweep.model.physics.spectra import Floats
from sweep.words.phrases import listed

CHUNK_ROWS = 50_000  # of a log that are read at a time (judgement)
SAMPLE_SIZE = 20_000  # values of each channel that are kept, evenly spread (judgement)
LONGEST_HEAD = 100_000  # bytes of the line of headings (judgement)


class Chunk(NamedTuple):
    """Rows in order: time (s), channels by name (NaN where nothing came), and whether the clock restarted before them."""

    time: Floats
    values: dict[str, Floats]
    afresh: bool


@dataclass
class ReadingTally:
    """Counts of one channel: readings, cells that are no number, impossible values; and some of the values."""

    came: int = 0
    empty: int = 0
    words: int = 0
    first_word: str = ""
    wild: int = 0
    repeated: int = 0
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
    """Counts of a log: rows, torn rows, what the clock does, and each channel."""

    rows: int = 0
    torn: int = 0
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
    wanted = [mapping.clock.column, *(column.column for column in mapping.columns)]
    reader = _Reader(mapping, tally)
    with path.open("rb") as stream:
        whole: Any = _Whole(stream, None if mapping.delimiter == r"\s+" else mapping.delimiter.encode(), len(names) - 1)
        try:
            tables = pd.read_csv(
                whole,
                sep=mapping.delimiter,
                decimal=mapping.decimal,
                skiprows=mapping.skip + 1,
                names=names,
                usecols=wanted,
                chunksize=CHUNK_ROWS,
                index_col=False,
                low_memory=False,
                encoding="utf-8",
                encoding_errors="replace",
            )
            for table in tables:
                yield from reader.chunks(table)
                progress(stream.tell())
        except pd.errors.EmptyDataError:
            pass
        except pd.errors.ParserError as error:
            raise _refusal(path, f"rows that cannot be separated ({error})", "a CSV, every row with as many cells") from error
        tally.torn += whole.torn
    if not tally.rows:
        raise _refusal(path, "headings and no row under them", "a log")


class _Whole:
    """The bytes of a CSV without rows that have too many cells; these are counted."""

    def __init__(self, stream: BinaryIO, delimiter: bytes | None, most: int) -> None:
        self.stream, self.delimiter, self.most = stream, delimiter, most
        self.torn = 0

    def read(self, size: int = -1) -> bytes:
        block = self.stream.read(size) + self.stream.readline()
        delimiter, most = self.delimiter, self.most
        if delimiter is None or not block:
            return block
        lines = block.splitlines(keepends=True)
        good = [line for line in lines if b'"' in line or line.rstrip().rstrip(delimiter).count(delimiter) <= most]
        self.torn += len(lines) - len(good)
        return b"".join(good)

    def __iter__(self) -> Iterator[bytes]:
        return iter(self.stream)


class _Reader:
    """Turns tables of text and numbers into chunks; remembers the last time and values from one to the next."""

    def __init__(self, mapping: Mapping, tally: LogTally) -> None:
        self.mapping, self.tally = mapping, tally
        self.last = -np.inf
        self.slots: dict[str, float] = {}
        for column in mapping.columns:
            tally.channels.setdefault(column.channel, ReadingTally())

    def chunks(self, table: pd.DataFrame) -> Iterator[Chunk]:
        clock = self.mapping.clock
        time = _numbers(table[clock.column], ReadingTally()) * clock.factor
        values = {column.channel: self._values(table[column.column], column) for column in self.mapping.columns}
        known = np.isfinite(time)
        self.tally.rows += len(time)
        self.tally.clockless += int((~known).sum())
        time, values = time[known], {name: each[known] for name, each in values.items()}
        if not len(time):
            return
        cuts = [0, *(np.flatnonzero(np.diff(time) < 0.0) + 1), len(time)]
        for first, last in pairwise(cuts):
            afresh = bool(time[first] < self.last)
            self.tally.backwards += afresh
            if afresh:
                self.slots.clear()
            part = {name: each[first:last] for name, each in values.items()}
            yield self._chunk(time[first:last], part, afresh)

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
            kind = channel_kind(column.channel)
            wild = (each < kind.low) | (each > kind.high)
            tally.wild += int(wild.sum())
            came = np.isfinite(each)
            tally.came += int(came.sum())
            tally.empty += int((~came).sum())
            tally.repeated += int((np.diff(each[came]) == 0.0).sum())
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

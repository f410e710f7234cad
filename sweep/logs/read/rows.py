"""The rows of a log as tables of cells, some thousand at a time, oldest first, of whatever format it is written in."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Iterator, Sequence
from io import BytesIO
from itertools import chain
from pathlib import Path
from typing import Any, BinaryIO, NamedTuple

import numpy as np
import pandas as pd
import pyarrow
import pyarrow.feather
import pyarrow.ipc
import pyarrow.parquet

from sweep.campaign.text.explain import nearest
from sweep.campaign.text.problems import CampaignError, Problem
from sweep.logs.read.clock import seconds
from sweep.logs.read.dialect import Dialect
from sweep.logs.read.plain_bytes import plain_bytes, refusal
from sweep.words.phrases import listed

CHUNK_ROWS = 50_000  # of a log that are read at a time (judgement)
FIRST_ROWS = 200  # that show whether the log is written newest first (judgement)
BLOCK = 4_000_000  # bytes of such a log that are read at a time (judgement)
LONGEST_HEAD = 100_000  # bytes of the line of headings (judgement)
Table = tuple[pd.DataFrame, int]


class Wanted(NamedTuple):
    """Columns to read, each with what it is for; and the clock's, which say how its cells are written."""

    columns: dict[str, str]
    clock: str
    written: str
    dates: str = "year-first"


def rows_of(path: Path, dialect: Dialect, wanted: Wanted, torn: list[int]) -> Iterator[Table]:
    """Tables of the wanted columns, with the bytes of the file that are done; `torn` counts rows that cannot be told apart.

    Raises CampaignError if the file is not such a log.
    """
    kind = dialect.format_of(path)
    reading = {"csv": _csv, "json-lines": _json_lines, "parquet": _parquet, "arrow": _arrow, "packed": _packed}[kind]
    with plain_bytes(path, dialect, kind in ("csv", "json-lines")) as (stream, share):
        try:
            for table, done in reading(path, stream, dialect, wanted, torn):
                yield table, round(done * share)
        except pd.errors.EmptyDataError:
            return
        except pd.errors.ParserError as error:
            raise refusal(path, f"rows that cannot be separated ({error})", "a CSV, every row with as many cells") from error
        except pyarrow.ArrowInvalid as error:
            raise refusal(path, f"what is no {kind} file ({str(error)[:100]})", "a whole one, or another format:") from error


def headings(path: Path, stream: BinaryIO, dialect: Dialect) -> list[str]:
    """The headings of a CSV; numbers from 1 where it has none. Raises CampaignError if there is no line for them."""
    stream.seek(0)
    for _ in range(dialect.skip):
        stream.readline(LONGEST_HEAD)
    raw = stream.readline(LONGEST_HEAD)
    mark = dialect.comments.encode()
    while mark and raw.startswith(mark) and not dialect.headings:
        raw = stream.readline(LONGEST_HEAD)
    try:
        line = raw.decode("utf-8-sig").strip("\r\n")
    except UnicodeDecodeError:
        raise refusal(path, "headings that are not text in UTF-8", "a CSV in UTF-8, or encoding: latin-1") from None
    if not line.strip():
        raise refusal(path, "no headings", "a CSV with headings in its first line (skip: lines before them)")
    names = cells_of(line, dialect)
    return names if dialect.headings else [str(number + 1) for number in range(len(names))]


def cells_of(line: str, dialect: Dialect) -> list[str]:
    """The cells of a line of a CSV, without quotes and spaces around them."""
    if dialect.delimiter == "space":
        return next(csv.reader([" ".join(line.split())], delimiter=" "), [])
    return [cell.strip() for cell in next(csv.reader([line], delimiter=dialect.separator, skipinitialspace=True), [])]


def refuse_other_columns(path: Path, line: int, wanted: Wanted, names: Sequence[str]) -> None:
    """Raises CampaignError where a wanted column is not there, or there twice."""
    problems = []
    for column, purpose in wanted.columns.items():
        if column in names:
            continue
        near = nearest(column, names) or names[:6]
        one = " (the whole line is one heading: is the delimiter right?)" if len(names) == 1 else ""
        found = f"no column {column!r}, for {purpose}{one}"
        problems.append(Problem(str(path), line, 0, "", found, f"a column that is there, as {listed(near)}"))
    twice = {column for column in wanted.columns if names.count(column) > 1}
    problems += [Problem(str(path), line, 0, "", f"two columns {name!r}", "every heading once") for name in twice]
    if problems:
        raise CampaignError(problems)


def _csv(path: Path, stream: BinaryIO, dialect: Dialect, wanted: Wanted, torn: list[int]) -> Iterator[Table]:
    names = headings(path, stream, dialect)
    refuse_other_columns(path, dialect.skip + 1, wanted, names)
    separator = dialect.separator
    delimiter = None if dialect.delimiter == "space" else separator.encode()
    comma = dialect.decimal == "comma"

    def parsed(source: BinaryIO, **how: Any) -> Any:
        whole: Any = _Whole(source, delimiter, len(names) - 1, torn, dialect.comments.encode())
        return pd.read_csv(
            whole,
            sep=separator,
            decimal=dialect.point,
            names=names,
            usecols=list(wanted.columns),
            index_col=False,
            low_memory=False,
            skipinitialspace=True,
            encoding="utf-8",
            encoding_errors="replace",
            dtype=None if wanted.written == "number" else {wanted.clock: str},
            **how,
        )

    stream.seek(0)
    for _ in range(dialect.lines_before):
        stream.readline()
    begin = stream.tell()
    first = b"".join(stream.readline(LONGEST_HEAD) for _ in range(FIRST_ROWS))
    head = parsed(BytesIO(first)) if first.strip() else pd.DataFrame()
    newest_first = len(head) > 0 and _newest_first(_pointed(head, comma), wanted)
    torn[0] = 0
    if newest_first:
        size = stream.seek(0, 2)
        for block, left in _from_the_end(stream, begin):
            yield _pointed(parsed(BytesIO(block))[::-1], comma), size - left
        return
    stream.seek(begin)
    for table in parsed(stream, chunksize=CHUNK_ROWS):
        yield _pointed(table, comma), stream.tell()


def _pointed(table: pd.DataFrame, comma: bool) -> pd.DataFrame:
    """Columns with a word in them are text, in which decimal commas are still to be read."""
    if not comma:
        return table
    texts = [name for name in table if not pd.api.types.is_numeric_dtype(table[name])]
    return table.assign(**{str(name): table[name].str.replace(",", ".") for name in texts})


def _newest_first(rows: pd.DataFrame, wanted: Wanted) -> bool:
    """Whether the clock goes down from row to row."""
    steps = np.diff(seconds(rows[wanted.clock], wanted.written, wanted.dates))
    steps = steps[np.isfinite(steps) & (steps != 0.0)]
    return len(steps) > 2 and float(np.mean(steps < 0.0)) > 0.9


def _from_the_end(stream: BinaryIO, begin: int) -> Iterator[tuple[bytes, int]]:
    """Blocks of whole lines, the last first, down to the place `begin`, each with where it begins."""
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
        yield stream.read(end - first), 0 if first == begin else first
        end = first


class _Whole:
    """The bytes of a CSV without comments and rows that have too many cells; the latter are counted in `torn`."""

    def __init__(self, stream: BinaryIO, delimiter: bytes | None, most: int, torn: list[int], comments: bytes) -> None:
        self.stream, self.delimiter, self.most, self.torn, self.comments = stream, delimiter, most, torn, comments

    def read(self, size: int = -1) -> bytes:
        block = self.stream.read(size) + self.stream.readline()
        delimiter, most = self.delimiter, self.most
        if not block or (delimiter is None and not self.comments):
            return block
        lines = block.splitlines(keepends=True)
        if self.comments:
            lines = [line for line in lines if not line.startswith(self.comments)] or [b"\n"]
        if delimiter is None:
            return b"".join(lines)
        good = [line for line in lines if b'"' in line or line.rstrip().rstrip(delimiter).count(delimiter) <= most]
        self.torn[0] += len(lines) - len(good)
        return b"".join(good)

    def __iter__(self) -> Iterator[bytes]:
        return iter(self.stream)


def _json_lines(path: Path, stream: BinaryIO, dialect: Dialect, wanted: Wanted, torn: list[int]) -> Iterator[Table]:
    """One object a line; the parts of an inner object or list are named with dots, as imu.ax or acc.2."""
    names, seen = list(wanted.columns), set[str]()
    rows: list[dict[str, Any]] = []
    head = [row for _, row in zip(range(FIRST_ROWS), _objects(stream, [0]), strict=False)]
    backwards = _newest_first(pd.DataFrame(head, columns=names), wanted)
    size = stream.seek(0, 2)
    stream.seek(0)
    done = 0
    for part, done in _lines_from_the_end(stream, size) if backwards else ((stream, 0),):
        for row in _objects(part, torn):
            seen.update(row)
            rows.append(row)
            if len(rows) == CHUNK_ROWS:
                yield pd.DataFrame(rows, columns=names), done or stream.tell()
                rows = []
    if seen:
        refuse_other_columns(path, 1, wanted, sorted(seen))
    elif torn[0]:
        raise refusal(path, "no line that is a JSON object", "JSON lines: one object a line")
    if rows:
        yield pd.DataFrame(rows, columns=names), done or stream.tell()


def _objects(lines: Iterable[bytes], torn: list[int]) -> Iterator[dict[str, Any]]:
    """The objects of lines as plain rows; a line that is none is counted in `torn`."""
    for line in lines:
        if line.strip():
            try:
                yield flat(json.loads(line))
            except (ValueError, RecursionError):
                torn[0] += 1


def _lines_from_the_end(stream: BinaryIO, size: int) -> Iterator[tuple[Iterable[bytes], int]]:
    """The lines of a file of so many bytes, the last first, block by block, with the bytes that are done."""
    for block, left in _from_the_end(stream, 0):
        yield reversed(block.splitlines()), size - left


def flat(value: Any, name: str = "") -> dict[str, Any]:
    """A JSON object as names with dots and plain values. Raises ValueError if it is none."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else None
    if inner is None:
        if not name:
            raise ValueError("no object")
        return {name: value}
    found: dict[str, Any] = {}
    for key, part in inner:
        found |= flat(part, f"{name}.{key}" if name else str(key))
    return found


def _parquet(path: Path, stream: BinaryIO, dialect: Dialect, wanted: Wanted, torn: list[int]) -> Iterator[Table]:
    file = pyarrow.parquet.ParquetFile(stream)
    refuse_other_columns(path, 0, wanted, file.schema_arrow.names)
    names, size, done = list(wanted.columns), stream.seek(0, 2), 0
    first = next(file.iter_batches(FIRST_ROWS, columns=names), None)
    backwards = first is not None and _newest_first(first.to_pandas(), wanted)
    groups = (file.read_row_group(group, columns=names) for group in reversed(range(file.num_row_groups)))
    for batch in map(_turned, groups) if backwards else file.iter_batches(CHUNK_ROWS, columns=names):
        for begin in range(0, batch.num_rows, CHUNK_ROWS):
            part = batch.slice(begin, CHUNK_ROWS)
            done += part.num_rows
            yield part.to_pandas(), size * done // max(file.metadata.num_rows, 1)


def _turned(rows: Any) -> Any:
    """A table or batch with its last row first."""
    return rows.take(pyarrow.array(np.arange(rows.num_rows)[::-1]))


def _arrow(path: Path, stream: BinaryIO, dialect: Dialect, wanted: Wanted, torn: list[int]) -> Iterator[Table]:
    """The file format and the stream format, by the mark at its begin."""
    marked = stream.read(6) == b"ARROW1"
    stream.seek(0)
    opened: Any = pyarrow.ipc.open_file(stream) if marked else pyarrow.ipc.open_stream(stream)
    refuse_other_columns(path, 0, wanted, opened.schema.names)
    numbers = range(opened.num_record_batches) if marked else range(0)
    batches = map(opened.get_batch, numbers) if marked else iter(opened)
    if (first := next(batches, None)) is None:
        return
    batches = chain([first], batches)
    if _newest_first(first.slice(0, FIRST_ROWS).select(list(wanted.columns)).to_pandas(), wanted):
        later = map(opened.get_batch, reversed(numbers)) if marked else reversed(list(batches))
        batches = map(_turned, later)
    for batch in batches:
        for begin in range(0, batch.num_rows, CHUNK_ROWS):
            yield batch.slice(begin, CHUNK_ROWS).select(list(wanted.columns)).to_pandas(), stream.tell()


def _packed(path: Path, stream: BinaryIO, dialect: Dialect, wanted: Wanted, torn: list[int]) -> Iterator[Table]:
    if dialect.layout is None:
        raise refusal(path, "packed records without a layout", "layout: {fields: [t u4, roll i2]} in the mapping")
    record = dialect.layout.record()
    refuse_other_columns(path, 0, wanted, list(record.names or ()))
    stream.seek(dialect.layout.header)
    while raw := stream.read(record.itemsize * CHUNK_ROWS):
        whole = len(raw) // record.itemsize
        torn[0] += whole * record.itemsize < len(raw)
        found = np.frombuffer(raw, record, whole)
        yield (
            pd.DataFrame({name: found[name].astype(found[name].dtype.newbyteorder("=")) for name in wanted.columns}),
            stream.tell(),
        )

"""A drafted mapping file: each guess with its reason beside its key, a question where unsure, a gap where nothing tells."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd

from sweep.campaign.craft import Craft
from sweep.campaign.text.problems import ChoiceError
from sweep.logs.begin.agree import agreed
from sweep.logs.begin.clocks import ClockGuess, clock_of
from sweep.logs.begin.foils import foils_of
from sweep.logs.begin.guess import Columns, Guess, columns_of, guesses
from sweep.logs.begin.sniff import Sniffed, sniff
from sweep.logs.read.channels import CHANNELS
from sweep.logs.read.clock import in_order
from sweep.logs.read.coarse_clock import spread_out
from sweep.logs.read.dialect import Dialect
from sweep.logs.read.plain_bytes import plain_bytes
from sweep.logs.read.rows import Wanted, headings, rows_of
from sweep.logs.read.table import SINCE_1970
from sweep.words.numbers import number

SAMPLE = 100_000
"""Rows that are looked at (judgement)."""
FILL = "TO FILL IN"
"""What a key has that no log tells: no reader takes it, and so none flies past it."""


class Draft(NamedTuple):
    """What a file was taken for."""

    path: Path
    sniffed: Sniffed
    clock: ClockGuess | None
    guesses: tuple[Guess, ...]
    columns: Columns
    others: tuple[str, ...]


class Answers(NamedTuple):
    """What no log tells, and the builder may say at once: the craft file, as the mapping names it; where waves came from;
    the paths of the logs, and of files beside them, as the mapping names them."""

    craft_path: str | None = None
    craft: Craft | None = None
    waves: str | None = None
    files: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()


def draft(path: Path, craft: Craft | None = None) -> Draft:
    """What a log is taken for. Raises CampaignError if it cannot be read at all, ChoiceError if its form cannot be told."""
    sniffed = sniff(path)
    if sniffed.untold:
        raise ChoiceError(f"{path}: cannot tell {sniffed.untold}")
    table = sample(path, sniffed.dialect)
    clock = clock_of(table, sniffed.units)
    if clock is None:
        raise ChoiceError(
            f"{path}: cannot tell its clock: no column goes evenly on, by 3 to 1500 rows a second in s, ms, us or ns"
        )
    order = np.arange(len(table))[:: -1 if clock.time[-1] < clock.time[0] else 1]
    order = order[in_order(clock.time[order])]
    time = clock.time[order]
    time = spread_out(time, None)[0] if np.all(np.diff(time) >= 0.0) else time
    columns = columns_of(table.iloc[order].drop(columns=[clock.column, *([clock.date] if clock.date else [])]), (), time)
    if sniffed.units:
        units = dict(zip(map(str, table.columns), sniffed.units, strict=False))
        rest = table.iloc[order].drop(columns=[clock.column])
        columns = columns_of(rest, tuple(units[str(name)] for name in rest.columns), time)
    wanted = craft.control.ride_height + max(craft.rangefinders.height, 0.0) if craft else None
    found = agreed(guesses(columns, wanted), columns)
    found += foils_of(columns, list(craft.foils) if craft else [], [guess.column for guess in found])
    taken = {clock.column, clock.date, *(guess.column for guess in found)}
    others = tuple(str(name) for name in table.columns if str(name) not in taken)
    return Draft(path, sniffed, clock, tuple(found), columns, others)


def sample(path: Path, dialect: Dialect) -> pd.DataFrame:
    """The first rows of a log, all columns."""
    kind = dialect.format_of(path)
    if kind == "csv":
        with plain_bytes(path, dialect) as (stream, _):
            names = headings(path, stream, dialect)
    else:
        names = _names(path, kind, dialect)
    wanted = Wanted(dict.fromkeys(names, "a look at it"), names[0], "number")
    tables, rows = [], 0
    for table, _ in rows_of(path, dialect, wanted, [0]):
        tables.append(table)
        rows += len(table)
        if rows >= SAMPLE:
            break
    if not tables:
        raise ChoiceError(f"{path}: no rows in it")
    return pd.concat(tables, ignore_index=True).head(SAMPLE)


def _names(path: Path, kind: str, dialect: Dialect) -> list[str]:
    import pyarrow.ipc
    import pyarrow.parquet

    from sweep.logs.read.rows import flat

    with plain_bytes(path, dialect, kind == "json-lines") as (stream, _):
        if kind == "parquet":
            return list(pyarrow.parquet.ParquetFile(stream).schema_arrow.names)
        if kind == "arrow":
            marked = stream.read(6) == b"ARROW1"
            stream.seek(0)
            return list((pyarrow.ipc.open_file(stream) if marked else pyarrow.ipc.open_stream(stream)).schema.names)
        found: dict[str, None] = {}
        for _, line in zip(range(500), stream, strict=False):
            try:
                found |= dict.fromkeys(flat(json.loads(line)))
            except ValueError:
                continue
        if not found:
            raise ChoiceError(f"{path}: no line of its first 500 is a JSON object")
        return list(found)


def without(other: Draft, log: Draft) -> Draft:
    """A file beside a log, without what the log has too. Raises ChoiceError where nothing is left."""
    has = {guess.channel for guess in log.guesses}
    left = tuple(guess for guess in other.guesses if guess.channel not in has)
    if not left:
        raise ChoiceError(f"{other.path}: has nothing that {log.path} has not: leave it out, or draft it alone")
    return other._replace(
        guesses=left, others=(*other.others, *(guess.column for guess in other.guesses if guess.channel in has))
    )


def clocks_agree(one: Draft, other: Draft) -> bool:
    """Whether both clocks count from 1970, so that no `off` is wanted but for a wrong clock."""
    return all(each.clock is not None and abs(float(each.clock.time[0])) > SINCE_1970 for each in (one, other))


def mapping_text(first: Draft, others: Sequence[Draft], answers: Answers) -> str:
    """The mapping file of logs that are written alike, and of others beside the one. Each guess has its reason beside it; a

    question begins with a ?.
    """
    assert first.clock is not None
    lines = [
        "# Drafted by `foilsweep log begin`. Each line says why; a line with ? is a guess that you must confirm or correct.",
        "title: A day on the water",
    ]
    lines += [f"craft: {_quoted(answers.craft_path)}" if answers.craft_path else f"craft: {FILL}   # its path, seen from here"]
    ways = "{bearing: 240 deg} that they came from, by compass; or {heading: head} where all runs went one way"
    lines += [f"waves: {answers.waves}" if answers.waves else f"waves: {FILL}   # {ways}"]
    lines += ["", *_dialect_lines(first.sniffed), *_clock_lines(first.clock), "columns:"]
    lines += [line for guess in first.guesses for line in _column_lines(guess)]
    lines += _gaps(first, {guess.channel for other in others for guess in other.guesses})
    lines += [f"# not read: {', '.join(first.others)}"] if first.others else []
    lines += ["", "# The set-up is what the gains were: give each its name, and logs of two set-ups are compared.", "logs:"]
    names = answers.files or (first.path.name,)
    if others:
        lines += [f"  - file: {_quoted(names[0])}", "    setup: as it is", "    also:"]
        lines += [line for other, name in zip(others, answers.beside, strict=True) for line in _beside(first, other, name)]
    else:
        lines += [f"  - {{file: {_quoted(name)}, setup: as it is}}" for name in names]
    return "\n".join(lines) + "\n"


def _beside(log: Draft, other: Draft, name: str) -> list[str]:
    """The entry of another file of an outing: its own dialect, clock and columns."""
    assert log.clock is not None
    assert other.clock is not None
    lines = [f"- file: {_quoted(name)}", *(f"  {line}" for line in _dialect_lines(other.sniffed))]
    if clocks_agree(log, other):
        lines += [f"  {line}" for line in _clock_lines(other.clock)]
    else:
        later = float(np.nanmin(other.clock.time)) - float(np.nanmin(log.clock.time))
        lines += [f"  {line}" for line in _clock_lines(other.clock, f"off: {FILL}")]
        lines.append(f"  # ? off: what this clock is ahead of the log's, as 0 s; its first row has {number(later)} s more")
    lines += ["  columns:", *(f"  {line}" for guess in other.guesses for line in _column_lines(guess))]
    lines += [f"  # not read: {', '.join(other.others)}"] if other.others else []
    return [f"      {line}" for line in lines]


def _dialect_lines(sniffed: Sniffed) -> list[str]:
    kept = sniffed.dialect.model_dump(exclude_defaults=True)
    if sniffed.dialect.format == "parquet" and kept:
        kept = {"format": "parquet"}
    return [f"{key}: {_word(value)}   # {sniffed.why.get(key, 'as the file is')}" for key, value in kept.items()]


def _word(value: object) -> str:
    return str(value).lower() if isinstance(value, bool) else _quoted(value) if isinstance(value, str) else str(value)


def _quoted(text: str) -> str:
    plain = text.replace("_", "").replace("-", "").replace(".", "").replace("/", "")
    return text if plain.isascii() and plain.isalpha() else json.dumps(text, ensure_ascii=False)


def _clock_lines(clock: ClockGuess, further: str = "") -> list[str]:
    keys = [f"column: {_quoted(clock.column)}"]
    keys += [f"unit: {clock.unit}"] if clock.written == "number" else [f"written: {clock.written}"]
    keys += [f"date: {_quoted(clock.date)}"] if clock.date else []
    keys += [f"dates: {clock.dates}"] if clock.dates != "year-first" else []
    keys += [further] if further else []
    return [f"clock: {{{', '.join(keys)}}}   # {clock.why}", *([f"# ? clock: {clock.question}"] if clock.question else [])]


def _column_lines(guess: Guess) -> list[str]:
    keys = [f"column: {_quoted(guess.column)}", f"unit: {_quoted(guess.unit)}"]
    keys += [f"scale: {guess.scale:.12g}"] if guess.scale != 1.0 else []
    keys += ["sign: -1"] if guess.sign < 0 else []
    keys += [f"missing: [{', '.join(f'{each:g}' for each in guess.missing)}]"] if guess.missing else []
    said = f"  {guess.channel}: {{{', '.join(keys)}}}   # {guess.why}"
    return [said, *([f"  # ? {guess.channel}: {guess.question}"] if guess.question else [])]


def _gaps(first: Draft, beside: set[str]) -> list[str]:
    """Channels that are needed and were not found: with words for what they are, and no guess."""
    known = beside | {guess.channel for guess in first.guesses}
    lines = []
    for name, why in (("range", "needed"), ("force_z", "without it no sea is told"), ("pitch", "without it no sea is told")):
        if name not in known:
            said = f"{name}: {{column: {FILL}, unit: {FILL}}}   # {why}: {CHANNELS[name].meaning}"
            lines.append(f"  {said}" if name == "range" else f"  # {said}")
    lines += [] if "speed" in known else [f"speed: {FILL}   # through the runs, as 4 m/s, for no column has it"]
    return lines

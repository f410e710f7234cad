"""Other files of the same outing, each with its clock and rate, as readings among the rows of the log."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from sweep.logs.read.channels import Record, Series
from sweep.logs.read.mapping import Mapping
from sweep.logs.read.table import Chunk, LogTally, read_chunks
from sweep.model.physics.spectra import Floats


def with_others(chunks: Iterator[Chunk], others: Sequence[Mapping], tally: LogTally) -> Iterator[Chunk]:
    """The chunks with the readings of the other files between their rows; nothing is interpolated. `tally` has theirs too."""
    if not others:
        yield from chunks
        return
    records: Record | None = None
    last = -np.inf
    for chunk in chunks:
        records = records if records is not None else _read(others, tally)
        begin = float(chunk.time[0]) - 1e-9 if chunk.afresh or not np.isfinite(last) else last + 1e-9
        last = float(chunk.time[-1])
        yield _among(chunk, {name: series.between(begin, last) for name, series in records.items()})


def _read(others: Sequence[Mapping], tally: LogTally) -> Record:
    """Whole, in the time of the log: clocks that count from 1970 or have dates agree with it, but for `off`."""
    found: Record = {}
    for mapping in others:
        own = LogTally()
        parts = list(read_chunks(mapping.files[0], mapping, own))
        apart = (own.origin or 0.0) - (tally.origin or 0.0) if own.origin and tally.origin else 0.0
        time = np.concatenate([part.time for part in parts]) + apart - mapping.time.off
        order = np.argsort(time, kind="stable")
        for column in mapping.columns:
            value = np.concatenate([part.values[column.channel] for part in parts])[order]
            some = np.isfinite(value)
            found[column.channel] = Series(time[order][some], value[some])
        tally.channels |= own.channels
    return found


def _among(chunk: Chunk, readings: Record) -> Chunk:
    time: Floats = np.unique(np.concatenate([chunk.time, *(series.time for series in readings.values())]))
    rows = np.searchsorted(time, chunk.time)
    values = {}
    for name in (*chunk.values, *readings):
        values[name] = np.full(len(time), np.nan)
        if name in readings:
            values[name][np.searchsorted(time, readings[name].time)] = readings[name].value
        else:
            values[name][rows] = chunk.values[name]
    return chunk._replace(time=time, values=values)

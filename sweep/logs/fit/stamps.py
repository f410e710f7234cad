"""When a log has the readings of a rangefinder: at its next row, later than they come. Flights of a fit are logged alike."""

from __future__ import annotations

import numpy as np

from sweep.logs.read.channels import Record, Series

MOST_READINGS = 0.9  # of which stand at a row, for the log to have them at rows (judgement)


def row_step(record: Record) -> float:
    """Usual time (s) from row to row of a log that has its readings at rows; 0 where they have times of their own."""
    rows, readings = record["force_z"].time, record["range"].time
    at_rows = float(np.mean(np.isin(readings, rows))) > MOST_READINGS
    return float(np.median(np.diff(rows))) if at_rows else 0.0


def stamped(record: Record, step: float, share: float, moved: float = 0.0) -> Record:
    """A record whose readings stand at the next row, of rows that come every `step` s; of two at one row, the later.

    share: of a step, by which the rows' clock stands off the readings'; moved: s, by which the readings come later in the log.
    """
    readings = record["range"]
    time, value = readings.time + moved, readings.value
    if step > 0.0:
        row = np.ceil(time / step - share - 1e-6)
        last = np.diff(row, append=np.inf) > 0.0
        time, value = (row[last] + share) * step, value[last]
    return record | {"range": Series(time, value)}

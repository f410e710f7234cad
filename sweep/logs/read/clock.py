"""Cells of a clock as seconds: numbers, dates and times as ISO 8601 has them, or the time of day."""

from __future__ import annotations

from typing import cast

import numpy as np
import pandas as pd

from sweep.model.physics.spectra import Floats

DAY = 86400.0
"""s."""
ORDERS = {"year-first": (0, 1, 2), "day-first": (2, 1, 0), "month-first": (2, 0, 1)}
"""Which of the three numbers of a date is year, month and day."""
_DATE = r"^\s*(\d{1,4})[-./ ](\d{1,2})[-./ ](\d{1,4})(.*)$"
_CLOCK = r"^\s*(\d{1,2}):(\d{1,2})(?::(\d{1,2}(?:[.,]\d*)?))?\s*$"


def seconds(cells: pd.Series, written: str, dates: str = "year-first") -> Floats:
    """Seconds, NaN where there is none: of numbers in their own unit, of dates since 1970, of times of day since midnight.

    written: number, iso or time-of-day (13:05:22.5, or 130522.5); dates: the order of a date that is not 2026-06-01.
    """
    if pd.api.types.is_datetime64_any_dtype(cells):
        return _since_1970(pd.to_datetime(cells, utc=True))
    if written == "iso":
        texts = cells.astype(str).str.strip()
        return _since_1970(pd.to_datetime(_as_iso(texts, dates), utc=True, errors="coerce", format="ISO8601"))
    if written == "time-of-day":
        return _of_day(cells)
    if pd.api.types.is_numeric_dtype(cells):
        return cells.to_numpy(dtype=np.float64)
    return cast(Floats, pd.to_numeric(cells, errors="coerce").to_numpy(dtype=np.float64))


def _since_1970(times: pd.Series) -> Floats:
    found = times.to_numpy(dtype="datetime64[ns]")
    return np.where(np.isnat(found), np.nan, found.astype(np.int64) / 1e9)


def _as_iso(texts: pd.Series, dates: str) -> pd.Series:
    """Dates with their numbers in the order of ISO 8601."""
    parts = texts.str.extract(_DATE)
    year, month, day = (parts[place].str.zfill(2) for place in ORDERS[dates])
    year = year.where(year.str.len() == 4, "20" + year)
    rest = parts[3].str.strip().str.lstrip("T").str.replace(",", ".")
    ordered = year + "-" + month + "-" + day + np.where(rest == "", "", "T") + rest
    return ordered.where(ordered.notna(), texts.str.replace(",", "."))


def _of_day(cells: pd.Series) -> Floats:
    texts = cells.astype(str)
    parts = texts.str.extract(_CLOCK)
    hours, minutes, rest = (pd.to_numeric(parts[place].str.replace(",", ".")).to_numpy(np.float64) for place in range(3))
    with_marks = 3600.0 * hours + 60.0 * minutes + np.nan_to_num(rest)
    run_together = pd.to_numeric(texts, errors="coerce").to_numpy(np.float64)
    whole = np.floor(run_together / 100.0)
    compact = 3600.0 * np.floor(whole / 100.0) + 60.0 * (whole % 100.0) + run_together % 100.0
    return np.where(np.isfinite(with_marks), with_marks, compact)


def in_order(time: Floats) -> np.ndarray:
    """The order of rows (rows,) in which one that came just after its follower stands before it.

    A clock that was set back is no such row: times go on from there, and the order stays.
    """
    found = np.arange(len(time))
    back = np.flatnonzero(np.diff(time) < 0.0)
    before = time[np.maximum(back - 1, 0)] <= time[back + 1]
    after = time[back] <= time[np.minimum(back + 2, len(time) - 1)]
    swapped = back[((back == 0) | before) & ((back + 2 == len(time)) | after)]
    found[swapped], found[swapped + 1] = found[swapped + 1], found[swapped]
    return found


def past_midnight(time: Floats, before: float) -> Floats:
    """Times of day that go on over midnight; before: the last one of the rows before, already so."""
    found = time.copy()
    good = np.flatnonzero(np.isfinite(time))
    if not len(good):
        return found
    base = np.floor(before / DAY) * DAY if np.isfinite(before) else 0.0
    first = found[good] + base
    steps = np.diff(first, prepend=before if np.isfinite(before) else first[0])
    found[good] = first + DAY * np.cumsum(steps < -0.5 * DAY)
    return found

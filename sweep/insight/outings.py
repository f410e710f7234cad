"""What whole outings show: the share of clean ones and failures an hour, counted, with exact intervals; never extrapolated."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd

from sweep.insight.intervals import TAIL
from sweep.insight.limits import rate_bounds, share_bounds

FEWEST = 10
"""Outings that show anything (judgement): ten clean ones of ten may still be seven clean ones in ten."""
COLUMNS = ("design", "outing", "sea", "heading_name", "speed", "status", "clean", "first_failure", "at_risk", "path", "energy")


class Counted(NamedTuple):
    """Outings of a design: clean ones of those flown; failed: the others. low, high: of the share of clean ones (Clopper &
    Pearson 1934). hours: at risk, each outing until its first failure; rate, rate_low, rate_high: failures a second (Garwood
    1936). first: what failed first and how often, the most frequent first. per_metre: battery energy over path, J/m.
    """

    clean: int
    flown: int
    low: float
    high: float
    hours: float
    rate: float
    rate_low: float
    rate_high: float
    first: tuple[tuple[str, int], ...]
    per_metre: float

    @property
    def shown(self) -> bool:
        """Whether they are enough to tell."""
        return self.flown >= FEWEST

    @property
    def failed(self) -> int:
        """Outings that were not clean."""
        return self.flown - self.clean


def count_outings(rows: pd.DataFrame) -> Counted:
    """Count some outings of one design; rows: with `COLUMNS`.

    The interval is that of independent outings of one chance. Where the chance differs between seas, it is on the safe side
    (Hoeffding 1956, Annals of Mathematical Statistics 27, 713-721).
    """
    clean, flown, risk = int(rows["clean"].sum()), len(rows), float(rows["at_risk"].sum())
    low, high = share_bounds(np.array([float(clean)]), np.array([float(flown)]), 1.0 - TAIL)
    failed = float(flown - clean)
    rate_low, rate_high = rate_bounds(np.array([failed]), np.array([risk]), 1.0 - TAIL)
    names = rows.loc[rows["clean"] == 0, "first_failure"].value_counts()
    first = sorted(((str(name), int(often)) for name, often in names.items()), key=lambda each: (-each[1], each[0]))
    path = float(rows["path"].sum())
    return Counted(
        clean,
        flown,
        float(low[0]),
        float(high[0]),
        risk / 3600.0,
        failed / risk if risk > 0.0 else np.nan,
        float(rate_low[0]),
        float(rate_high[0]),
        tuple(first),
        float(rows["energy"].sum()) / path if path > 0.0 else np.nan,
    )


def by_kind(rows: pd.DataFrame) -> list[tuple[str, str, Counted]]:
    """The outings of one design by each sea, heading and speed, where there is more than one: kind, value, count."""
    found = []
    for kind in ("sea", "heading_name", "speed"):
        groups = [(name, some) for name, some in rows.groupby(kind, sort=False) if name != ""]
        if len(groups) > 1:
            found += [(kind, str(name), count_outings(some)) for name, some in groups]
    return found

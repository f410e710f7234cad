"""From the sums of flights to their responses, in SI units and in the order of `quantities`."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sweep.model import layout as at
from sweep.model.quantities import NO_RESULT, NOT_A_NUMBER, RESPONSES, Histograms, Readings, Sums, Totals


class Counted(NamedTuple):
    """The sums and counts of flights, as the kernels return them.

    parameters: (flights, slots); sums: (flights, sums), as `quantities.SUM` places them; histograms: (histograms, flights,
    BINS); readings: (flights, 3), as `Readings`.
    """

    parameters: np.ndarray
    sums: np.ndarray
    histograms: np.ndarray
    readings: np.ndarray


def responses(counted: Counted, step: float, settle: float, from_rest: bool) -> tuple[np.ndarray, np.ndarray]:
    """How flights ended (flights,), see `quantities.STATUS_NAMES`, and their responses (flights, responses), SI.

    M17.10, M17.11, M17.13.
    step, settle in s. A flight that ended before it was scored has not-a-number for whatever needs a mean; its upset counts. A
    flight with a response beyond its declared range has none, and NOT_A_NUMBER for its status; one whose own code failed has
    none either.
    """
    totals = Totals(
        Sums(*counted.sums.T[: len(Sums._fields)]),
        Histograms(*counted.histograms),
        Readings(*counted.readings.T),
        step,
        settle,
        from_rest,
        counted.parameters[:, at.TIME_SCALE] ** 2,
        counted.parameters[:, at.BATTERY],
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        table = np.column_stack([response.becomes(totals) for response in RESPONSES])
    status = np.where(beyond_range(table), NOT_A_NUMBER, totals.sums.status)
    table[np.isin(status, NO_RESULT)] = np.nan
    return status, table


def beyond_range(table: np.ndarray) -> np.ndarray:
    """Which flights have a response outside its declared range (M17.17). table: (flights, responses), SI; NaN is inside."""
    lows, highs = np.array([(response.low, response.high) for response in RESPONSES]).T
    return np.asarray(((table < lows) | (table > highs)).any(axis=1))

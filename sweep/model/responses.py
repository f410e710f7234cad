"""From what flights added up to their responses, in SI units and the order of `quantities`."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sweep.model import layout as at
from sweep.model.events import REFERENCE_LENGTH
from sweep.model.quantities import (
    AGROUND,
    BIN_WIDTH,
    NOT_A_NUMBER,
    RESPONSES,
    UNDER_WATER,
    UPSET,
    Histograms,
    Sums,
)


class Readings(NamedTuple):
    """Of the rangefinders, since the start of each flight, (flights,)."""

    faulty: np.ndarray
    blind: np.ndarray
    refused: np.ndarray


class Counted(NamedTuple):
    """What flights counted, as the kernels leave it.

    parameters: (flights, slots); sums: (flights, sums), as `quantities.SUM` places them; histograms: (histograms, flights,
    BINS); readings: (flights, 3), as `Readings`.
    """

    parameters: np.ndarray
    sums: np.ndarray
    histograms: np.ndarray
    readings: np.ndarray


class Totals(NamedTuple):
    """What flights added up, and the ways in which that becomes a response; all results are (flights,), SI.

    step, settle: s; scale: times the reference hull's, the length of the longest hull; battery: J when full.
    """

    sums: Sums[np.ndarray]
    histograms: Histograms[np.ndarray]
    readings: Readings
    step: float
    settle: float
    from_rest: bool
    scale: np.ndarray
    battery: np.ndarray

    @property
    def time(self) -> np.ndarray:
        """Scored time flown."""
        return self.sums.steps * self.step

    @property
    def time_foilborne(self) -> np.ndarray:
        """Scored time foilborne."""
        return self.sums.foilborne_steps * self.step

    @property
    def path(self) -> np.ndarray:
        """Over ground; not-a-number for who has not gone a hull's length: it has no energy a metre."""
        path = self.sums.speed * self.step
        return np.where(path < REFERENCE_LENGTH * self.scale, np.nan, path)

    @property
    def energy(self) -> np.ndarray:
        """From the battery."""
        return self.sums.power * self.step

    @property
    def battery_range(self) -> np.ndarray:
        """Path on a full battery."""
        return np.where(self.energy > 0.0, self.battery * self.path / self.energy, np.nan)

    @property
    def upset(self) -> np.ndarray:
        """1 for a flight that ended in an upset, under water or aground, else 0."""
        return np.isin(self.sums.status, (UPSET, UNDER_WATER, AGROUND)).astype(float)

    @property
    def take_off_time(self) -> np.ndarray:
        """From the opening of the throttle."""
        return np.maximum(self.sums.take_off_time - self.settle, 0.0)

    def mean(self, total: np.ndarray) -> np.ndarray:
        """Over the steps foilborne."""
        return total / self.sums.foilborne_steps

    def mean_of_all_time(self, total: np.ndarray) -> np.ndarray:
        """Over all scored steps."""
        return total / self.sums.steps

    def root_mean_square(self, squares: np.ndarray) -> np.ndarray:
        """Over the steps foilborne."""
        return np.sqrt(self.mean(squares))

    def deviation(self, total: np.ndarray, squares: np.ndarray) -> np.ndarray:
        """Standard deviation over the steps foilborne."""
        return np.sqrt(np.maximum(self.mean(squares) - self.mean(total) ** 2, 0.0))

    def rate(self, events: np.ndarray) -> np.ndarray:
        """By the time foilborne."""
        return events / self.time_foilborne

    def reading_rate(self, readings: np.ndarray, before: np.ndarray) -> np.ndarray:
        """By the scored time, of those that came in it."""
        return (readings - before) / self.time

    def if_foilborne(self, value: np.ndarray) -> np.ndarray:
        """Not-a-number for a flight that was never foilborne."""
        return np.where(self.sums.foilborne_steps > 0, value, np.nan)

    def if_scored(self, value: np.ndarray) -> np.ndarray:
        """Not-a-number for a flight that ended before it was scored."""
        return np.where(self.sums.steps > 0, value, np.nan)

    def if_took_off(self, value: np.ndarray) -> np.ndarray:
        """Not-a-number for a flight that did not take off from rest."""
        return np.where(self.from_rest & (self.sums.take_off_time >= 0.0), value, np.nan)

    def percentile(self, histogram: np.ndarray, share: float, below: int = 0) -> np.ndarray:
        """The value below which a share lies, interpolated within its bin; (flights, BINS), of which `below` are negative."""
        width = BIN_WIDTH * self.scale
        running = np.cumsum(histogram, axis=1).astype(float)
        total = running[:, -1]
        wanted = share * total
        k = np.argmax(running >= wanted[:, None], axis=1)
        rows = np.arange(len(k))
        within = histogram[rows, k]
        before = running[rows, k] - within
        value = (k + (wanted - before) / np.maximum(within, 1)) * width
        return np.where(total > 0, value, np.nan) - below * width


def responses(counted: Counted, step: float, settle: float, from_rest: bool) -> tuple[np.ndarray, np.ndarray]:
    """How flights ended (flights,), see `quantities.STATUS_NAMES`, and their responses (flights, responses), SI.

    M17.10, M17.11, M17.13.
    step, settle in s. A flight that ended before it was scored has not-a-number for whatever needs a mean; its upset counts. A
    flight with a response beyond its declared range has none, and NOT_A_NUMBER for its status.
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
    table[status == NOT_A_NUMBER] = np.nan
    return status, table


def beyond_range(table: np.ndarray) -> np.ndarray:
    """Which flights have a response, of (flights, responses) in SI, outside of what is declared for it; NaN is not (M17.17)."""
    lows, highs = np.array([(response.low, response.high) for response in RESPONSES]).T
    return np.asarray(((table < lows) | (table > highs)).any(axis=1))

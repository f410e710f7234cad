"""Failures that have not shown yet: what a score may still hide behind a few clean flights."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import scipy
from numpy.typing import NDArray

from sweep.insight.intervals import CONFIDENCE, SHARED_FROM, Array

NEAR = 20
"""Designs, the nearest by their clean flights, that tell what is usual (judgement): what rides worse fails more often, so that
those far off tell of other boats."""
MOST = 60.0
"""Flights that the others count as, at most (judgement; in campaigns cut from long truths 200 were too many)."""
BEFOREHAND = 0.5
"""Failed flights that each design is given at least (Jeffreys): one frail design may stand among sound ones. With less, what
was promised broke in 15 % of made-up campaigns in which one of twenty designs fails in 3 % of its flights."""


class Failures(NamedTuple):
    """Flights that ended early or did not start.

    failed, flights: of each design, (designs,); points: mean score of a failed flight, NaN if none failed; clean: mean score
    over conditions of each design's other flights, (designs,), worked out from its score and `points` if it is not given. A
    condition in which all flights failed counts with `points`. places: designs, conditions and replicates of the failed
    flights, None where they are not known one by one.
    """

    failed: Array
    flights: Array
    points: float
    clean: Array | None = None
    places: tuple[NDArray[np.int64], ...] | None = None

    def share(self) -> Array:
        """Share of each design's flights that failed, NaN where none was flown, (designs,)."""
        none = np.full(len(self.flights), np.nan)
        return np.asarray(np.divide(self.failed, self.flights, out=none, where=self.flights > 0.0))

    def without(self, scores: Array) -> Array:
        """Scores, (designs, conditions, replicates), NaN where a flight failed; as they are if that is not known."""
        if self.places is None or not len(self.places[0]):
            return scores
        clean = scores.copy()
        clean[self.places] = np.nan
        return clean

    def some(self, rows: NDArray[np.int64]) -> Failures:
        """Those of some designs, without the places of their flights."""
        return Failures(self.failed[rows], self.flights[rows], self.points, None if self.clean is None else self.clean[rows])

    def failing(self, scores: Array) -> Failing:
        """What these counts leave room for in the designs' mean scores, (designs,); NaN where nothing was flown.

        Of many designs each is drawn to what is usual among those that ride like it (a beta prior by moments: Kleinman, Journal
        of the American Statistical Association 68, 1973, 46-54; cited from memory), of few it is told by its own flights alone.
        Where no flight failed at all, nothing is known of it but that it is rare, whatever the design: no room.
        """
        if not self.failed.sum() or not np.isfinite(self.points):
            return unfailing(len(scores))
        good, bad = self._prior(scores, np.nan_to_num(self.share()))
        return Failing(self.failed, self.flights, good, bad, np.nan_to_num(np.maximum(self.points - scores, 0.0)))

    def _prior(self, scores: Array, share: Array) -> tuple[Array, Array]:
        """Clean and failed flights that each design is given beforehand, by those that ride like it; (designs,)."""
        good, bad = np.full((2, len(share)), 0.5)  # Jeffreys' prior
        flown = np.flatnonzero((self.flights > 0.0) & np.isfinite(scores))
        if len(flown) < SHARED_FROM:
            return good, bad
        clean = self.clean
        if clean is None:
            with np.errstate(divide="ignore", invalid="ignore"):
                clean = np.where(share < 1.0, (scores - share * self.points) / (1.0 - share), np.inf)
        rows = flown[clean[flown].argsort(kind="stable")]
        near = min(NEAR, len(rows))
        first = np.clip(np.arange(len(rows)) - near // 2, 0, len(rows) - near)
        failed, flights, each, squared, few = (
            _windows(values[rows], first, near)
            for values in (self.failed, self.flights, share, share**2, 1.0 / np.maximum(self.flights, 1e-9))
        )
        usual = (failed + 0.5) / (flights + 1.0)
        spread = (squared - 2.0 * usual * each) / near + usual**2
        by_chance = usual * (1.0 - usual) * few / near
        weight = np.clip(usual * (1.0 - usual) / np.maximum(spread - by_chance, 1e-9) - 1.0, 0.5, MOST)
        good[rows], bad[rows] = (1.0 - usual) * weight, np.maximum(usual * weight, BEFOREHAND)
        return good, bad


class FailureCounts:
    """What failed so far, added up part by part."""

    def __init__(self, designs: int, conditions: int, season: Array | None = None) -> None:
        """season: how much each condition counts, (conditions,); by default all count alike."""
        self._places: list[tuple[NDArray[np.int64], ...]] = []
        self._failed, self._flown, self._clean = np.zeros((3, designs, conditions))
        self._points, self._season = np.zeros(conditions), np.ones(conditions) if season is None else season

    def add(self, places: tuple[NDArray[np.int64], ...], failed: NDArray[np.bool_], scores: Array) -> None:
        """Add flights: their designs, conditions and replicates, whether each failed, and its score."""
        self._places.append(tuple(each[failed] for each in places))
        np.add.at(self._flown, places[:2], 1.0)
        np.add.at(self._failed, places[:2], failed)
        np.add.at(self._clean, places[:2], np.where(failed, 0.0, scores))
        np.add.at(self._points, places[1][failed], scores[failed])

    def failures(self, evens: bool = False) -> Failures:
        """What failed so far; evens: all conditions weigh as much as the one with the fewest flights, however many each has.

        In a season conditions weigh as often as they occur, the most frequent one fully: what is known is not made more of.
        """
        season = self._season
        fewest, total = self._flown.min(axis=1, keepdims=True), float((season * self._failed).sum())
        weights = np.where((fewest > 0.0) & evens, fewest / np.maximum(self._flown, 1.0), 1.0) * (season / season.max())
        failed, flights = ((weights * each).sum(axis=1) for each in (self._failed, self._flown))
        points = float(season @ self._points) / total if total else np.nan
        clean, flown = self._flown - self._failed, self._flown > 0.0
        with np.errstate(divide="ignore", invalid="ignore"):
            means = np.where(clean > 0.0, self._clean / clean, points)
            alike = (season * np.where(flown, means, 0.0)).sum(axis=1) / (season * flown).sum(axis=1)
        where = [np.concatenate(each) for each in zip(*self._places, strict=True)]
        return Failures(failed, flights, points, alike, tuple(where) if len(where) == 3 else None)


class Failing(NamedTuple):
    """What designs may hide; each (designs,).

    failed, flights: so far; good, bad: clean and failed flights given beforehand; cost: points that a failure adds to a flight.
    """

    failed: Array
    flights: Array
    good: Array
    bad: Array
    cost: Array

    def some(self, rows: NDArray[np.int64]) -> Failing:
        """Those of some designs."""
        return Failing(*(each[rows] for each in self))

    def hidden(self, risk: float = 1.0 - CONFIDENCE) -> Array:
        """By how many points each score may be too good because failures have not shown, but for `risk` each, (designs,)."""
        return np.asarray(np.maximum(self._bound(1.0 - risk) - self._seen(), 0.0) * self.cost)

    def unlucky(self, risk: float = 1.0 - CONFIDENCE) -> Array:
        """By how many points each score may be too bad because more flights failed than usually do, likewise."""
        return np.asarray(np.maximum(self._seen() - self._bound(risk), 0.0) * self.cost)

    def _seen(self) -> Array:
        return self.failed / np.maximum(self.flights, 1e-9)

    def _bound(self, confidence: float) -> Array:
        return np.asarray(scipy.special.betaincinv(self.failed + self.bad, self.flights - self.failed + self.good, confidence))


def unfailing(designs: int) -> Failing:
    """Of designs whose flights tell nothing of failures: they hide none."""
    none, half = np.zeros(designs), np.full(designs, 0.5)
    return Failing(none, none, half, half, none)


def _windows(values: Array, first: np.ndarray, length: int) -> Array:
    """Sums of so many values from each of these places on."""
    sums = np.concatenate([[0.0], np.cumsum(values)])
    return np.asarray(sums[first + length] - sums[first])

"""Failures that have not shown yet: what a score may still hide behind a few clean flights."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.special import betaincinv

from sweep.insight.intervals import CONFIDENCE, SHARED_FROM, Array

NEAR = 20
"""Designs, the nearest by their clean flights, that tell what is usual (judgement): what rides worse fails more often, so that
those far off tell of other boats."""
MOST = 60.0
"""Flights that the others count as, at most (judgement; in campaigns cut from long truths of the shipped crafts 200 were too
many: the bound of 0.5 % was broken in 8 %, of 60 in 5 %, where conditions differ most, and in 0.2 % elsewhere)."""


class Failures(NamedTuple):
    """Flights that ended early or did not start. failed, flights: of each design, (designs,); points: mean score of a failed
    flight, NaN if none failed."""

    failed: Array
    flights: Array
    points: float

    def share(self) -> Array:
        """Share of each design's flights that failed, NaN where none was flown, (designs,)."""
        none = np.full(len(self.flights), np.nan)
        return np.asarray(np.divide(self.failed, self.flights, out=none, where=self.flights > 0.0))

    def hidden(self, scores: Array, risk: float = 1.0 - CONFIDENCE) -> Array:
        """By how many points each design's score may be too good because failures have not shown, but for `risk`.

        scores: (designs,). The share of failing flights may be as large as its bound; of many designs the bound is drawn to
        what is usual among those that ride like it (a beta prior by moments: Kleinman, Journal of the American Statistical
        Association 68, 1973, 46-54; cited from memory), of few it is by the own flights alone. Where no flight failed at all,
        nothing is known of it but that it is rare, whatever the design: zero.
        """
        return self._points(scores, 1.0 - risk)

    def unlucky(self, scores: Array, risk: float = 1.0 - CONFIDENCE) -> Array:
        """By how many points each score may be too bad because more flights failed than usually do, likewise."""
        return self._points(scores, risk)

    def _points(self, scores: Array, confidence: float) -> Array:
        if not self.failed.sum() or not np.isfinite(self.points):
            return np.zeros(len(scores))
        share = np.nan_to_num(self.share())
        good, bad = self._prior(scores, share)
        bound = betaincinv(self.failed + bad, self.flights - self.failed + good, confidence)
        away = np.maximum(bound - share, 0.0) if confidence > 0.5 else np.maximum(share - bound, 0.0)
        return np.asarray(away * np.maximum(self.points - scores, 0.0))

    def _prior(self, scores: Array, share: Array) -> tuple[Array, Array]:
        """Clean and failed flights that each design is given beforehand, by those that ride like it; (designs,)."""
        good, bad = np.full((2, len(share)), 0.5)  # Jeffreys' prior
        flown = np.flatnonzero((self.flights > 0.0) & np.isfinite(scores))
        if len(flown) < SHARED_FROM:
            return good, bad
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
        good[rows], bad[rows] = (1.0 - usual) * weight, usual * weight
        return good, bad


def _windows(values: Array, first: np.ndarray, length: int) -> Array:
    """Sums of so many values from each of these places on."""
    sums = np.concatenate([[0.0], np.cumsum(values)])
    return np.asarray(sums[first + length] - sums[first])

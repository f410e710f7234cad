"""Failures that have not shown yet: what a score may still hide behind a few clean flights."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import scipy

from sweep.insight.intervals import CONFIDENCE, SHARED_FROM, Array


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

    def hidden(self, scores: Array) -> Array:
        """By how many points each design's score may be too good because failures have not shown, with 95 % confidence.

        scores: (designs,). The share of failing flights may be as large as its bound; of many designs the bound is drawn to
        what is usual among them (a beta prior by moments: Kleinman, Journal of the American Statistical Association 68, 1973,
        46-54; cited from memory), of few it is by the own flights alone. Where no flight failed at all, nothing is known of it
        but that it is rare: zero.
        """
        return self._points(scores, CONFIDENCE)

    def unlucky(self, scores: Array) -> Array:
        """By how many points each score may be too bad because more flights failed than usually do, likewise."""
        return self._points(scores, 1.0 - CONFIDENCE)

    def _points(self, scores: Array, confidence: float) -> Array:
        if not self.failed.sum() or not np.isfinite(self.points):
            return np.zeros(len(scores))
        share = np.nan_to_num(self.share())
        good, bad = self._prior(share)
        bound = scipy.special.betaincinv(self.failed + bad, self.flights - self.failed + good, confidence)
        away = np.maximum(bound - share, 0.0) if confidence > 0.5 else np.maximum(share - bound, 0.0)
        return np.asarray(away * np.maximum(self.points - scores, 0.0))

    def _prior(self, share: Array) -> tuple[float, float]:
        """Clean and failed flights that every design is given beforehand."""
        if len(share) < SHARED_FROM:
            return 0.5, 0.5  # Jeffreys' prior
        usual = float(share.mean())
        by_chance = float((usual * (1.0 - usual) / np.maximum(self.flights, 1.0)).mean())
        weight = np.clip(usual * (1.0 - usual) / max(float(share.var()) - by_chance, 1e-9) - 1.0, 0.5, 200.0)
        return float((1.0 - usual) * weight), float(usual * weight)

"""Whether a cell of the map has over or under `ENOUGH` clean flights, from its flights and its neighbours'.

Higher waves of the same steepness are taken to be no easier: clean flights in higher waves count for a cell, bad ones in lower
waves against it. Counts are (..., heights), heights rising along the last axis.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import scipy
from numpy.typing import NDArray

from sweep.insight.intervals import CONFIDENCE

Array = NDArray[np.float64]

ENOUGH = 0.9
"""Share of clean flights at which a craft is said to ride a sea (judgement)."""
JEFFREYS = 0.5
"""Of the prior of a share (Jeffreys 1946, Proceedings of the Royal Society A 186, 453-461, from memory)."""


class Sides(NamedTuple):
    """On which side of `ENOUGH` the true share of clean flights lies; each as the counts.

    over: chance that it is over, by the flights there and in higher waves; under: that it is under, by those there and in lower
    waves.
    """

    over: Array
    under: Array

    def doubt(self) -> Array:
        """The remaining doubt on which side a cell lies, 0 to 0.5."""
        return np.asarray(np.clip(1.0 - np.maximum(self.over, self.under), 0.0, 0.5))


def sides(clean: Array, flights: Array) -> Sides:
    """Both chances of every cell; the strongest evidence of all runs of neighbours counts."""
    return Sides(_over(clean, flights), 1.0 - _over(clean[..., ::-1], flights[..., ::-1], under=True)[..., ::-1])


def _over(clean: Array, flights: Array, under: bool = False) -> Array:
    """Chance that the share is over `ENOUGH`, the largest (or, for `under`, the least) of the cell's and the cells' after
    it."""
    heights = clean.shape[-1]
    best = np.full(clean.shape, 1.0 if under else 0.0)
    for at in range(heights):
        good, all_ = np.cumsum(clean[..., at:], axis=-1), np.cumsum(flights[..., at:], axis=-1)
        chance = 1.0 - scipy.special.betainc(good + JEFFREYS, all_ - good + JEFFREYS, ENOUGH)
        best[..., at] = chance.min(axis=-1) if under else chance.max(axis=-1)
    return best


def limits(clean: Array, flights: Array) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """How many of the lowest heights are surely over, and how many are not surely under; each (...)."""
    found = sides(clean, flights)
    sure, open_ = found.over >= CONFIDENCE, found.under < CONFIDENCE
    first = np.where(sure.any(axis=-1), clean.shape[-1] - np.argmax(sure[..., ::-1], axis=-1), 0)
    last = np.where(open_.all(axis=-1), clean.shape[-1], np.argmin(open_, axis=-1))
    return np.asarray(np.minimum(first, last), dtype=np.int64), np.asarray(last, dtype=np.int64)

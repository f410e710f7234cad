"""Whether a cell of the map has over or under `ENOUGH` clean flights, from its flights and its neighbours'.

Higher waves of the same steepness are taken to be no easier: clean flights in higher waves count for a cell, bad ones in lower
waves against it. Counts are (..., heights), heights rising along the last axis.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import scipy
from numpy.typing import NDArray

Array = NDArray[np.float64]

ENOUGH = 0.9
"""Share of clean flights about which the map looks closest: between it and fewer lies the edge (judgement)."""
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

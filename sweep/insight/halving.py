"""The chance that a race lost its best design where the worse half dropped out on few blocks.

How far few blocks mislead is told by the designs that flew on: what they were behind the best in the blocks that a dropped
design has, and what they are behind it in all of theirs. That they were picked by the first and got worse since is in it, and
makes the chance larger rather than smaller. What none of them has shown is not in it, such as a kind of boat that dropped out
whole.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtr

from sweep.insight.intervals import Array
from sweep.insight.uneven import uneven_estimate

FEWEST = 3
"""Designs that flew on which tell how far few blocks mislead (judgement)."""
LONGER = 2
"""So many times the blocks they must have flown (judgement)."""


def chance_lost(scores: Array, best: int, halved: NDArray[np.int64]) -> float:
    """The chance that any of the designs that dropped out together is better than the best of the race; NaN if none can tell.

    scores: (designs, conditions, replicates), NaN where nothing was flown; halved: those designs, all with the same blocks.
    Each is taken to err by itself, with the spread of those that flew on (Student's distribution).
    """
    flown = np.isfinite(scores)
    met, count = flown[halved[0]], flown.sum(axis=(1, 2))
    stayed = np.setdiff1d(np.flatnonzero(count >= LONGER * met.sum()), [best])
    if len(stayed) < FEWEST:
        return float("nan")
    apart = scores - scores[best]
    then = uneven_estimate(np.where(met, apart, np.nan)).mean
    spread = float(np.sqrt(((uneven_estimate(apart).mean - then)[stayed] ** 2).mean()))
    if spread == 0.0:
        return 0.0
    return float(1.0 - np.prod(1.0 - stdtr(len(stayed), -then[halved] / spread)))

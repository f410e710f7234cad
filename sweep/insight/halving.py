"""The chance that a race lost its best design where the worse half dropped out on few blocks.

How far few blocks mislead is told by the designs that flew on: what they were behind the best in the blocks that a dropped
design has, and what they are behind it in all of theirs. That they were picked by the first and got worse since is in it, and
makes the chance larger rather than smaller. What none of them has shown is not in it, such as a kind of boat that dropped out
whole.
"""

from __future__ import annotations

import numpy as np
import scipy
from numpy.typing import NDArray

from sweep.insight.intervals import Array
from sweep.insight.uneven import behind, uneven_estimate

FEWEST = 3
"""Designs that flew on which tell how far few blocks mislead (judgement)."""
LONGER = 2
"""So many times the blocks they must have flown (judgement)."""


def chance_lost(scores: Array, best: int, halved: NDArray[np.int64]) -> float:
    """The chance that one of the designs that dropped out together is better than the best of the race; NaN if none can tell.

    scores: (designs, conditions, replicates), NaN where nothing was flown; halved: those designs, all with the same blocks.
    They err alike in the same waves, so that it is the chance of the likeliest: with the spread of those that flew on, or,
    where too few did, with the spread of the paired differences themselves.
    """
    flown = np.isfinite(scores)
    met, count = flown[halved[0]], flown.sum(axis=(1, 2))
    stayed = np.setdiff1d(np.flatnonzero(count >= LONGER * met.sum()), [best])
    if len(stayed) < FEWEST:
        found = behind(scores, best, share_spreads=True)
        known = halved[found.error[halved] > 0.0]
        each = scipy.special.stdtr(found.freedom[known], -found.mean[known] / found.error[known])
        return float(each.max()) if len(known) else float("nan")
    apart = scores - scores[best]
    then = uneven_estimate(np.where(met, apart, np.nan)).mean
    # What is known later holds the first blocks too, and so moved less than the first blocks err.
    moved = (uneven_estimate(apart).mean - then)[stayed] ** 2 / (1.0 - met.sum() / count[stayed])
    return float(scipy.special.stdtr(len(stayed), -then[halved] / np.sqrt(max(moved.mean(), 1e-18))).max())

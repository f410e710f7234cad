"""Which flights tell the leading designs apart: who flies on, in which conditions, and when it is enough.

Designs that are neither surely good enough nor surely not fly on together, through fresh blocks that all of them share, with
the best and the base craft beside them. Who has dropped out does not come back, so that whoever flies on has every block that
anyone has. A condition gets the more blocks, the more the differences from the best vary there: that lessens the variance of a
mean over strata most (Neyman, Journal of the Royal Statistical Society 97, 1934, 558-606). Where failures are rare that is
where they occur. Nothing here flies, and nothing is drawn: the same rows give the same decisions.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweep.insight.failing import Failures
from sweep.insight.good_enough import USUAL, Flags, open_designs, share_of_best
from sweep.insight.intervals import Array
from sweep.insight.race import BASE, Block, Designs
from sweep.insight.uneven import uneven_estimate

MORE = 4
"""Replicates of every condition that what is left should pay for: for fewer designs if need be (judgement)."""
FEWEST = 8
"""But for so many designs at least (judgement)."""
GROWTH = 1.5
"""So many times the blocks of the last look are flown before the next (judgement)."""
LAGS, FIRST = 3, 1e9
"""No condition has fewer than one block for so many of another: it comes first then (judgement)."""
EVEN = 0.25
"""Weight of the spread over all conditions beside that of one, of which few blocks tell (judgement)."""


class Standing(NamedTuple):
    """What is known of each design, (designs,).

    out: surely not good enough. open: it may be or not, and more flights would tell. Neither, where it is surely good enough,
    or so near to the share that nothing hangs on it.
    """

    out: Flags
    open: Flags


def within(scores: Array, eligible: Flags, share: float, looks: int, failures: Failures | None = None) -> Standing:
    """Who is surely within a share of the best score, surely not, or open still; looks: in all, which share the risk.

    scores: (designs, conditions, replicates), NaN where nothing was flown; eligible: who may be a choice, (designs,); failures:
    of all designs.
    """
    if eligible.sum() < 2:
        return Standing(~eligible, np.zeros(len(scores), dtype=np.bool_))
    failing = failures and failures.failing(uneven_estimate(scores).mean)
    found = share_of_best(scores, eligible, (share / 2.0, share, 1.5 * share), looks, failing)
    return Standing(~eligible | (found.low >= share), eligible & open_designs(found, share))


class Settling:
    """The leading designs as they fly on.

    scores: (designs, conditions, replicates), NaN where nothing was flown. flyers: who flies on, the base craft among them.
    """

    def __init__(self, scores: Array, most: int, length: float, share: float = USUAL) -> None:
        """most: replicates that a condition may have in all; length: s, of a flight; share: of the best score, good enough."""
        self._scores, self._most, self._length, self._share = scores, most, length, share
        self._looks, self._looked = planned_looks(scores.shape[2], most), 0
        self.flyers: Designs = np.arange(len(scores))
        self.standing = Standing(np.zeros(len(scores), dtype=np.bool_), np.ones(len(scores), dtype=np.bool_))

    @property
    def scores(self) -> Array:
        """All scores so far."""
        return self._scores

    @property
    def is_due(self) -> bool:
        """Whether enough has been flown since the last look: each look takes its share of the risk."""
        return self.blocks >= GROWTH * self._looked

    @property
    def blocks(self) -> int:
        """How many blocks whoever flies on has."""
        return int(np.isfinite(self._scores[BASE]).sum())

    def look(self, eligible: Flags, failures: Failures | None = None) -> int:
        """Judge by the scores; returns how many designs are open among those that fly on. eligible: who may be a choice."""
        self._looked, flies = self.blocks, np.zeros(len(eligible), dtype=np.bool_)
        found = within(self._scores, eligible, self._share, self._looks, failures)
        flies[self.flyers] = True
        self.standing = Standing(found.out, found.open & flies)
        return int(self.standing.open.sum())

    def choose(self, seconds: float) -> None:
        """Let those fly on that are not out, the best first, as many as the seconds (simulated) pay for; and the base craft."""
        some = self.flyers[~self.standing.out[self.flyers]]
        means = uneven_estimate(self._scores[some]).mean
        afford = max(int(seconds / (MORE * self._scores.shape[1] * self._length)), FEWEST)
        self.flyers = np.union1d(some[np.lexsort((some, means))[:afford]], [BASE])

    def next_blocks(self, count: int) -> tuple[Block, ...]:
        """So many fresh blocks for those that fly on, fewer where a condition has no replicates left."""
        some = self._scores[self.flyers]
        flown = np.isfinite(some).all(axis=0).sum(axis=1)
        taken, spread = flown.copy(), self._spread(some)
        for _ in range(count):
            lags = LAGS * taken < taken.max()
            worth = np.where(taken < self._most, spread / (np.maximum(taken, 1) * (taken + 1.0)) + FIRST * lags, -1.0)
            if worth.max() < 0.0:
                break
            taken[worth.argmax()] += 1
        return tuple((at, int(each)) for at, ends in enumerate(taken) for each in range(flown[at], ends))

    def _spread(self, some: Array) -> Array:
        """Variance of the differences from the best in each condition, over the flyers; drawn together by `EVEN`."""
        best = int(uneven_estimate(some).mean.argmin())
        apart = np.delete(some - some[best], best, axis=0)
        counts = np.isfinite(apart).sum(axis=2)
        with np.errstate(invalid="ignore", divide="ignore"):
            means = np.nansum(apart, axis=2) / counts
            squares = np.nansum((apart - means[:, :, None]) ** 2, axis=2) / (counts - 1)
        own = np.where((counts > 1).any(axis=0), np.nansum(squares, axis=0) / max(len(apart), 1), np.nan)
        usual = float(np.nanmean(own)) if np.isfinite(own).any() else 1.0
        return np.asarray((np.nan_to_num(own, nan=usual) + EVEN * usual) / (1.0 + EVEN) + 1e-12)

    def add(self, places: tuple[NDArray[np.int64], ...], scores: Array) -> None:
        """Take the scores of flights; places: their designs, conditions, replicates."""
        if (lacking := int(places[2].max(initial=-1)) + 1 - self._scores.shape[2]) > 0:
            empty = np.full((*self._scores.shape[:2], lacking), np.nan)
            self._scores = np.concatenate([self._scores, empty], axis=2)
        self._scores[places] = scores


def planned_looks(first: int, most: int) -> int:
    """How often growing results are looked at, at most, from so many replicates to the most that a condition may have."""
    return 1 + math.ceil(math.log(max(most / max(first, 1), 1.0)) / math.log(GROWTH))


def blocks_for(seconds: float, flyers: int, length: float, most: int) -> int:
    """How many blocks so many simulated seconds pay for, `most` at most."""
    return min(int(seconds / (max(flyers, 1) * length) + 1e-9), most) if math.isfinite(seconds) else most

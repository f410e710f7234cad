"""How near each design surely is to the best, whichever that is: which are good enough to choose from.

The best is not known. It is among those that may be the best, with half of the risk that the intervals leave; so a design is
surely within a share of the best if it is surely within it of each of those, with the other half of the risk spread over all
designs (Bonferroni). That the share is promised of several designs at once costs nothing more: only the comparison with the one
true best can fail. Screening and selection with many designs: Nelson, Swann, Goldsman & Song, Operations Research 49, 2001,
950-963; without an indifference zone: Fan, Hong & Nelson, Operations Research 64, 2016, 1499-1514; both cited from memory.

A failure that has not shown yet no spread knows. What the counts of failed flights leave room for widens the intervals, as root
of the sum of squares: whether a flight fails and how it rides otherwise have little to do with each other.

Who looks at growing results again and again, and stops when he likes what he sees, pays for each look: the risk is spread over
`looks`, so that all of them hold together.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweep.insight.failing import Failing, unfailing
from sweep.insight.intervals import CONFIDENCE, Array, estimate
from sweep.insight.scores import CAP

if TYPE_CHECKING:
    from sweep.campaign.scoring import Weight

Flags = NDArray[np.bool_]

USUAL = 0.1
"""What counts as good enough, if so much can be told: this share of the best score (judgement)."""
MOST_CHOSEN = 0.25
"""The largest share by which the cheapest, the lightest and the sturdiest are named (judgement): a boat that may be worse by
more is no choice to make for its price."""
FELT, HOURS = 0.002, 1.0
"""m of ride height, and hours to one failure, less than which nobody feels (judgement)."""
FEWEST = 2
"""So many designs make a choice."""
MOST_CONTENDERS = 200
"""Designs that each are held against (judgement): where more may be the best, hardly anything can be told, and it would take
long."""
MOST_NEAR = 400
"""Designs, the first by mean score, that are asked how near they are (judgement); so many tell the usual spread."""
SHARES = (0.01, 0.02, 0.035, 0.05, 0.075, 0.1, 0.125, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.5, 0.6, 0.75, 1.0)
"""Shares of the best score that are tried (judgement)."""
HALF = (1.0 - CONFIDENCE) / 2.0
"""Risk that the best is not among those that may be it, and again that one of these comparisons fails."""


class ShareOfBest(NamedTuple):
    """How much more than the best each design surely scores at least, and at most, as a share of the best score; (designs,).

    Of `SHARES`; low is 0 where none is sure, high is inf. Each side holds jointly for all designs.
    """

    low: Array
    high: Array


def first_of(scores: Array, eligible: Flags) -> int:
    """The design of the least mean score among the eligible ones; the first of them if none has flown everywhere."""
    rows = np.flatnonzero(eligible)
    mean = np.nan_to_num(estimate(scores[rows]).mean, nan=np.inf)
    return int(rows[mean.argmin()])


class Margin(NamedTuple):
    """What counts as good enough: a share of the best score; looks: how often growing results are looked at, in all."""

    share: float = USUAL
    looks: int = 1


ONE_LOOK = Margin()


def may_be_best(scores: Array, eligible: Flags, risk: float = 1.0 - CONFIDENCE, failing: Failing | None = None) -> Flags:
    """The eligible designs that are not surely behind the one of the best mean score, (designs,).

    scores: (designs, conditions, replicates), NaN where nothing was flown; designs are compared in the blocks that both have.
    The truly best design is among them with the confidence that `risk` leaves: whichever design has the best mean, it is
    truly no better, and there are only so many to be that one (Bonferroni).
    What a failure that has not shown makes of the order is less than the spread leaves open, where few flights hide it.
    """
    best = first_of(scores, eligible)
    others = np.flatnonzero(eligible & (np.arange(len(scores)) != best))
    found = estimate(scores[others] - scores[best], share_spreads=True)
    flags = np.zeros(len(scores), dtype=np.bool_)
    flags[others] = ~(found.mean - found.half_width(risk / max(len(others), 1)) > 0.0)
    flags[best] = True
    return flags


def share_of_best(
    scores: Array, eligible: Flags, wanted: Sequence[float] = (), looks: int = 1, failing: Failing | None = None
) -> ShareOfBest:
    """How near each eligible design surely is to the best of them.

    scores: as for `may_be_best`; eligible: such as keep their limits by their own flights, at least one; wanted: shares to try
    beside `SHARES`; failing: of all designs. Others, and all with one replicate, are not known: 0 to inf.
    """
    rows = np.flatnonzero(eligible)
    found = ShareOfBest(np.zeros(len(scores)), np.full(len(scores), np.inf))
    own = scores[rows]
    contenders = np.searchsorted(rows, np.flatnonzero(may_be_best(scores, eligible, HALF / looks)))
    if np.isnan(estimate(own).error).all():
        return found
    if len(rows) == 1:
        found.high[rows] = 0.0
        return found
    risk, shares = HALF / (looks * len(rows)), sorted({*SHARES, *wanted})
    found.low[rows] = _surely_beyond(own, shares, risk / len(contenders))
    if len(contenders) <= MOST_CONTENDERS:
        found.high[rows] = _surely_within(own, contenders, shares, risk, (failing or unfailing(len(scores))).some(rows))
    return found


def _surely_within(
    scores: Array, contenders: NDArray[np.int64], shares: Sequence[float], risk: float, failing: Failing
) -> Array:
    """The least share by which each design is surely within that of every contender; inf if by none, (designs,)."""
    mean = np.nan_to_num(estimate(scores).mean, nan=np.inf)
    within = np.full(len(scores), np.inf)
    near = np.sort(mean.argsort(kind="stable")[:MOST_NEAR])
    contenders = contenders[mean[contenders].argsort(kind="stable")]
    for share in reversed(shares):
        surely = mean[near] <= (1.0 + share) * mean.min()
        # What a design hides is told by itself and those like it, whichever are picked: those that are promised share the risk.
        each = risk * len(mean) / max((mean <= (1.0 + max(share, MOST_CHOSEN)) * mean.min()).sum(), 1)
        hidden, unlucky = failing.hidden(each)[near], failing.unlucky(each)
        for best in contenders:
            if not surely.any():
                break
            found = estimate(scores[near] - (1.0 + share) * scores[best], share_spreads=True)
            spare = np.hypot(hidden, (1.0 + share) * unlucky[best])
            surely &= (near == best) | (found.mean + np.hypot(found.half_width(risk), spare) <= 0.0)
        if not surely.any():
            break
        within[near[surely]] = share
    return within


def _surely_beyond(scores: Array, shares: Sequence[float], risk: float) -> Array:
    """The largest share by which each design is surely worse than the one of the best mean score; 0 if by none, (designs,).

    That one is truly no better than the best; it was picked by these flights, for which the caller divides the risk.
    """
    beyond = np.zeros(len(scores))
    best = first_of(scores, np.ones(len(scores), dtype=np.bool_))
    for share in (0.0, *shares):
        apart = scores - (1.0 + share) * scores[best]
        found = estimate(apart, share_spreads=True)
        # A rare failure makes one design's spread large for good reason: what the others say may then only widen it.
        wider = found._replace(error=np.fmax(found.error, estimate(apart).error))
        surely = wider.mean - wider.half_width(risk) > 0.0
        surely[best] = False
        beyond[surely] = share
        if not surely.any():
            break
    return beyond


def open_designs(found: ShareOfBest, share: float) -> Flags:
    """Designs that are neither surely good enough nor surely not, and not known within half of the share about it either."""
    surely_in, surely_out = found.high <= share, found.low >= share
    narrow = (found.low >= share / 2.0) & (found.high <= 1.5 * share)
    return np.asarray(~(surely_in | surely_out | narrow))


def share_of_choice(high: Array, usual: float = USUAL) -> float:
    """The share that good enough means: the usual one, or the least that `FEWEST` designs surely meet; NaN if none."""
    told = np.sort(high[np.isfinite(high)])
    return float(max(usual, told[FEWEST - 1])) if len(told) >= FEWEST else np.nan


def good_enough(high: Array, probable: Flags, usual: float = USUAL) -> Flags:
    """The designs to choose from: surely within `share_of_choice` of the best, and their limits kept or probably kept.

    high: of `ShareOfBest`; probable: (designs,).
    """
    told = np.where(probable & ~np.isnan(high), high, np.inf)
    share = share_of_choice(told, usual)
    return np.asarray(told <= (usual if np.isnan(share) else share))


def felt_share(score: Mapping[str, Weight], best: float, length: float) -> float:
    """The share of the best score that makes no difference to a builder: `USUAL`, or `FELT` metres of ride height, or a
    failure in `HOURS` hours, whichever is more.

    score: the weights; best: the best score; length: scored time of a flight, s. A failure takes half a flight on average
    (judgement), and what is not flown counts as `CAP`.
    """
    whole = sum(weight.weight for weight in score.values())
    riding = score.get("ride_height_error")
    points = riding.weight * FELT / (riding.scale * whole) if riding else 0.0
    failing = 0.5 * max(CAP - best, 0.0) * length / (3600.0 * HOURS)
    return float(max(USUAL, max(points, failing) / best)) if best > 0.0 else USUAL

"""How near each design surely is to the best, whichever that is: which are good enough to choose from.

The best is not known. It is among those that may be the best, with half of the risk that the intervals leave; so a design is
surely within a share of the best if it is surely within it of each of those, with the other half of the risk spread over all
designs (Bonferroni). That the share is promised of several designs at once costs nothing more: only the comparison with the one
true best can fail. Screening and selection with many designs: Nelson, Swann, Goldsman & Song, Operations Research 49, 2001,
950-963; without an indifference zone: Fan, Hong & Nelson, Operations Research 64, 2016, 1499-1514; both cited from memory.

A failure that has not shown yet no spread knows. What the counts of failed flights leave room for widens the intervals, as root
of the sum of squares: whether a flight fails and how it rides otherwise have little to do with each other. A few clean flights
leave more room than anybody would choose by; the promise is then of how designs ride, and of how often they fail beside it.

Who looks at growing results again and again, and stops when he likes what he sees, pays for each look: the risk is spread over
`looks`, so that all of them hold together.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd
import scipy
from numpy.typing import NDArray

from sweep.insight.failing import Failing, Failures, unfailing
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

    Of `SHARES`; low is 0 where none is sure, high is inf. Each side holds jointly for all designs. riding: as high, of the
    flights that a design does not fail in: there is no room in it for failures that have not shown.
    """

    low: Array
    high: Array
    riding: Array


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
    scores: Array,
    eligible: Flags,
    wanted: Sequence[float] = (),
    looks: int = 1,
    failing: Failing | None = None,
    clean: Array | None = None,
) -> ShareOfBest:
    """How near each eligible design surely is to the best of them.

    scores: as for `may_be_best`; eligible: such as keep their limits by their own flights, at least one; wanted: shares to try
    beside `SHARES`; failing: of all designs; clean: the scores without failed flights, for `riding`, by default all. Others,
    and all with one replicate, are not known: 0 to inf.
    """
    rows = np.flatnonzero(eligible)
    found = unknown_shares(len(scores))
    own = scores[rows]
    contenders = np.searchsorted(rows, np.flatnonzero(may_be_best(scores, eligible, HALF / looks)))
    if np.isnan(estimate(own).error).all():
        return found
    if len(rows) == 1:
        found.high[rows] = found.riding[rows] = 0.0
        return found
    risk, shares = HALF / (looks * len(rows)), sorted({*SHARES, *wanted})
    found.low[rows] = _surely_beyond(own, shares, risk / len(contenders))
    if len(contenders) <= MOST_CONTENDERS:
        failing = (failing or unfailing(len(scores))).some(rows)
        flown = own if clean is None else clean[rows]
        found.high[rows], found.riding[rows] = _surely_within((own, flown), contenders, shares, risk, failing)
    return found


def unknown_shares(designs: int) -> ShareOfBest:
    """Of designs of which nothing is known."""
    return ShareOfBest(np.zeros(designs), *np.full((2, designs), np.inf))


def _surely_within(
    both: tuple[Array, Array], contenders: NDArray[np.int64], shares: Sequence[float], risk: float, failing: Failing
) -> Array:
    """The least share by which each design is surely within that of every contender, inf if by none, (2, designs): with room
    for failures that have not shown, and in the flights that neither fails in.

    both: all scores, and those of clean flights.
    """
    scores, clean = both
    mean, ride = (np.nan_to_num(estimate(each).mean, nan=np.inf) for each in both)
    within = np.full((2, len(scores)), np.inf)
    near = np.sort(mean.argsort(kind="stable")[:MOST_NEAR])
    contenders = contenders[mean[contenders].argsort(kind="stable")]
    for share in reversed(shares):
        surely = np.stack([each[near] <= (1.0 + share) * each.min() for each in (mean, ride)])
        # What a design hides is told by itself and those like it, whichever are picked: those that are promised share the risk.
        each = risk * len(mean) / max((mean <= (1.0 + max(share, MOST_CHOSEN)) * mean.min()).sum(), 1)
        hidden, unlucky = failing.hidden(each)[near], failing.unlucky(each)
        for best in contenders:
            if not surely.any():
                break
            found = estimate(scores[near] - (1.0 + share) * scores[best], share_spreads=True)
            spare, reach = np.hypot(hidden, (1.0 + share) * unlucky[best]), found.half_width(risk)
            ride_end = found.mean + reach
            if clean is not scores:
                rides = estimate(clean[near] - (1.0 + share) * clean[best], share_spreads=True)
                ride_end = np.where(np.isfinite(rides.error), rides.mean + rides.half_width(risk), ride_end)
            surely &= (near == best) | (np.stack([found.mean + np.hypot(reach, spare), ride_end]) <= 0.0)
        if not surely.any():
            break
        for row, sure in zip(within, surely, strict=True):
            row[near[sure]] = share
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


class Choice(NamedTuple):
    """The designs to choose from, (designs,); riding: they are promised to be near in the flights that they do not fail in."""

    good: Flags
    riding: bool


def good_enough(above: ShareOfBest, probable: Flags, usual: float = USUAL) -> Choice:
    """The designs to choose from: surely within `share_of_choice` of the best, and their limits kept or probably kept.

    probable: (designs,). What a few clean flights may hide of failures is soon more than a share that anybody would choose by,
    and it is alike for all that have flown as much: where it alone makes the share as wide as that, the promise is of how they
    ride, and how often they fail stands beside it (`failing_high`).
    """
    shares = [np.where(probable & ~np.isnan(each), each, np.inf) for each in (above.high, above.riding)]
    whole, riding = (share_of_choice(each, usual) for each in shares)
    apart = not whole <= max(MOST_CHOSEN, usual) and riding <= max(MOST_CHOSEN, usual)
    share = riding if apart else whole
    return Choice(np.asarray(shares[int(apart)] <= (usual if np.isnan(share) else share)), apart)


def failing_high(choice: Choice, scores: Array, failures: Failures | None) -> Array:
    """The share of its flights that each design surely fails in at most, all of them jointly; NaN but for designs that are
    promised how they ride, (designs,).

    scores: (designs, conditions, replicates), what counts as a flight finite. A binomial bound (Clopper & Pearson, Biometrika
    26, 1934, 404-413), which no other design has a part in. The risk is spread over all designs whose clean flights are near
    the best, for those that failed are not among the good enough.
    """
    found = np.full(len(scores), np.nan)
    if not choice.riding or failures is None:
        return found
    trials = np.minimum(failures.flights, np.isfinite(scores).sum(axis=(1, 2)))
    failed = np.minimum(failures.failed, trials)
    clean = np.nan_to_num(estimate(scores).mean if failures.clean is None else failures.clean, nan=np.inf)
    near = (clean <= (1.0 + MOST_CHOSEN) * clean[choice.good].min()) | choice.good
    risk = (1.0 - CONFIDENCE) / near.sum()
    rows = choice.good & (failed < trials)
    found[choice.good] = 1.0
    found[rows] = scipy.special.betaincinv(failed[rows] + 1.0, (trials - failed)[rows], 1.0 - risk)
    return found


def promised(rows: pd.DataFrame) -> float:
    """The share of the best score that designs good enough are promised to be within; rows: of the standings, one at least."""
    return float(rows["above_high"].where(rows["failing_high"].isna(), rows["riding_high"]).max())


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

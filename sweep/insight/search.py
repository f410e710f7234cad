"""Which designs a search samples next: rounds that narrow around what is good.

A design is a point: a share from 0 to 1 of each factor's range or list. All designs of a round fly the same blocks, the best of
the rounds before among them, so that easy waves make no round look good. After each round a quadratic is fitted to the better
part of the last rounds, with an offset for each round's waves: a response surface, as by Box & Wilson (Journal of the Royal
Statistical Society B 13, 1951, 1-45), with a ridge so that few designs carry it (Hoerl & Kennard, Technometrics 12, 1970,
55-67). What a design is worth is its own mean drawn towards that surface. The next points are drawn about the best ones, with
their spread and their correlations, as in the cross-entropy method (Rubinstein, Methodology and Computing in Applied
Probability 1, 1999, 127-190), and of many draws those fly that the surface takes for the best (all cited from memory).

Words have no order: each is drawn by how often the best ones have it. Nothing here flies: the same points and scores give the
same next points.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from sweep.campaign.designs import sobol_points
from sweep.campaign.search_plan import Axis
from sweep.insight.intervals import CONFIDENCE, estimate
from sweep.insight.limits import LimitCounts

Floats: TypeAlias = NDArray[np.float64]
Places: TypeAlias = NDArray[np.int64]
Terms: TypeAlias = Callable[[Floats], Floats]
Allowed: TypeAlias = Callable[[Floats], NDArray[np.bool_]]

WINDOW = 3
"""Rounds that the surface is fitted to: those before look at too much of the ranges (judgement)."""
BETTER = 0.65
"""Share of a round's designs that the surface is fitted to: cliffs are no quadratic (judgement, tried on two crafts)."""
RIDGE, OWN = 1.0, 2.0
"""Weight of the ridge, in designs, and of the surface in what a design is worth, in rounds that it flew (judgement)."""
ELITE, LEAST_ELITE = 0.2, 8
"""Share of a round that the next points are drawn about, and how many at least (judgement)."""
WIDER, FLOOR = 1.3, 0.02
"""How much wider than that of the best ones the spread of the next points is; its least, in shares of a range (judgement)."""
DRAWN = 4
"""Draws for each point that flies (judgement)."""
MOST_DRAWS = 64
"""Goes at drawing points that rules allow, before it is made do with those that came (judgement)."""
RARE = 0.1
"""Share of the draws that take any word, whatever the best ones have (judgement)."""
NEAR = 0.05
"""How near an end of its range a design is said to lie there, in shares of the range (judgement)."""
DIGITS = 4
"""Digits of a point: nobody builds to a ten-thousandth of a range, and rounding hides how a processor sums."""


def near_end(axis: Axis) -> float:
    """How near an end a design is said to lie at it: in a list, in its last level."""
    return 0.6 / axis.levels if axis.levels else NEAR


def off_end(axis: Axis) -> float:
    """How far off an end it is tried whether the score gets better towards it."""
    return 1.5 / axis.levels if axis.levels else 2.0 * NEAR


def settled(axis: Axis, shares: Floats) -> Floats:
    """Shares as they fly: rounded, those of a list in the middle of their level."""
    if not axis.levels:
        return np.asarray(np.round(shares, DIGITS))
    return np.asarray(np.round((level_of(axis, shares) + 0.5) / axis.levels, 2 * DIGITS))


def level_of(axis: Axis, shares: Floats) -> Places:
    """The level of shares, from 0."""
    return np.minimum(np.floor(shares * axis.levels), axis.levels - 1).astype(np.int64)


def columns_of(axis: Axis, shares: Floats) -> Floats:
    """Columns of a fit: the share itself, or of words one for each level but the first: 1 for the designs that have it."""
    if axis.ordered:
        return np.asarray(shares[:, None])
    return np.asarray(level_of(axis, shares)[:, None] == np.arange(1, axis.levels), dtype=np.float64)


def surface_terms(axes: Sequence[Axis]) -> int:
    """How many numbers a surface has besides the rounds' offsets: linear, square and product terms."""
    columns = sum(1 if axis.ordered else axis.levels - 1 for axis in axes)
    return columns * (columns + 3) // 2


class Round(NamedTuple):
    """A round as it flew: the numbers of its designs among the points, and their mean scores, smaller is better."""

    designs: Places
    means: Floats


class Surface(NamedTuple):
    """The fit of some rounds: `value` of points, less a round's offset; the designs it was fitted to, the best first; and the
    offsets of the rounds."""

    value: Terms
    designs: Places
    offsets: Floats


class End(NamedTuple):
    """An end of a factor's range or ordered list, by the factor's place."""

    factor: int
    upper: bool


class Search:
    """A search as it stands: the points so far, (designs, factors), and the rounds."""

    def __init__(self, axes: Sequence[Axis], seed: int, allowed: Allowed | None = None) -> None:
        """allowed: which of some points, (points, factors), may fly; all by default."""
        self._axes, self._seed, self._allowed = tuple(axes), seed, allowed
        self.points: Floats = np.empty((0, len(axes)))
        self.rounds: list[Round] = []
        self._surface: Surface | None = None

    def next_points(self, count: int) -> Floats:
        """So many new points, (count, factors); those of the first round are a scrambled Sobol sequence.

        All are allowed; fewer come, or none, where the allowed ones are too rare to be drawn in `MOST_DRAWS` goes.
        """
        draws = np.random.default_rng([self._seed, len(self.rounds)])
        surface = self._surface
        if surface is None:
            return self._first_points(count, draws)
        best = self.points[surface.designs[: max(round(ELITE * count), LEAST_ELITE)]]
        drawn = self._enough(DRAWN * count, lambda: self._settled(_about(best, self._axes, DRAWN * count, draws)))
        return np.asarray(drawn[np.argsort(surface.value(drawn), kind="stable")[:count]])

    def _first_points(self, count: int, draws: np.random.Generator) -> Floats:
        """The first points of a sequence that are allowed; with rules a longer sequence, of which the first ones are taken."""
        if self._allowed is None:
            return self._settled(sobol_points(count, len(self._axes), draws))
        points = self._settled(sobol_points(MOST_DRAWS * count, len(self._axes), draws))
        return np.asarray(points[self._allowed(points)][:count])

    def _enough(self, count: int, draw: Callable[[], Floats]) -> Floats:
        """So many points that are allowed, of as many draws as it takes, up to `MOST_DRAWS`."""
        if self._allowed is None:
            return draw()
        found: list[Floats] = []
        for _ in range(MOST_DRAWS):
            points = draw()
            found.append(points[self._allowed(points)])
            if sum(map(len, found)) >= count:
                break
        return np.concatenate(found)[:count]

    def best(self, count: int) -> Places:
        """The designs that are worth most, so many at most, by their number among the points."""
        return self._surface.designs[:count] if self._surface else np.empty(0, dtype=np.int64)

    def add(self, points: Floats, carried: Places, means: Floats) -> None:
        """Take a round: its new points; the designs of before that flew it too; mean scores of these, and then of those."""
        designs = np.concatenate((carried, len(self.points) + np.arange(len(points))))
        self.points = np.concatenate((self.points, points))
        self.rounds.append(Round(designs, means))
        self._surface = fit(self.points, self.rounds[-WINDOW:], self._axes)

    def ends(self, design: int) -> list[End]:
        """At which ends of ranges and of ordered lists a design lies, by its number among the points."""
        shares = enumerate(zip(self.points[design].tolist(), self._axes, strict=True))
        return [
            End(at, share > 0.5) for at, (share, axis) in shares if axis.ordered and min(share, 1.0 - share) <= near_end(axis)
        ]

    def probes(self, design: int, ends: Sequence[End]) -> Floats:
        """For each of these ends the design moved off it, (ends, factors); without those that are not allowed."""
        found = np.repeat(self.points[design][None], len(ends), axis=0)
        for at, end in enumerate(ends):
            off = off_end(self._axes[end.factor])
            found[at, end.factor] = 1.0 - off if end.upper else off
        points = self._settled(found)
        return points if self._allowed is None else np.asarray(points[self._allowed(points)])

    def _settled(self, points: Floats) -> Floats:
        return np.stack([settled(axis, points[:, at]) for at, axis in enumerate(self._axes)], axis=1)


def over_limits(counts: LimitCounts) -> Floats:
    """By what share each design goes over its limits by its own flights, no more than 1 for each limit, (designs,).

    A share of the score that is added for it, so that a search keeps away from what is good and not allowed (judgement).
    """
    over = np.zeros(len(counts.lost))
    for name, limit in counts.limits.items():
        events, exposure = counts.events[name].sum(axis=1), counts.exposure[name].sum(axis=1)
        with np.errstate(divide="ignore", invalid="ignore"):
            over += np.clip(np.nan_to_num(events / exposure / limit.value - 1.0, posinf=1.0), 0.0, 1.0)
    return over


def improving(scores: Floats) -> NDArray[np.bool_]:
    """Which ends a design surely is better at than off them, (ends,), all together.

    scores: of the design and then of `Search.probes`, (1 + ends, conditions, replicates), in the same blocks, which chose none.
    An optimum that is as steep on both sides then lies nearer the end than `NEAR`.
    """
    found = estimate(scores[:1] - scores[1:])
    return np.asarray(found.mean + found.half_width((1.0 - CONFIDENCE) / max(len(scores) - 1, 1)) < 0.0)


def tried_ends(points: Floats, design: Floats) -> list[End]:
    """The ends that probes were made for; points: (ends, factors), design: whose they are, (factors,)."""
    factors = np.abs(points - design).argmax(axis=1)
    return [End(int(factor), bool(design[factor] > 0.5)) for factor in factors]


def fit(points: Floats, rounds: Sequence[Round], axes: Sequence[Axis]) -> Surface:
    """The surface of some rounds, fitted to the better part of each."""
    designs, means, offsets = _better(rounds)
    terms = _quadratic(points[designs], axes)
    columns = np.hstack([offsets, terms(points[designs])])
    free = offsets.shape[1]
    ridge = np.r_[np.full(free, 1e-9), np.full(columns.shape[1] - free, RIDGE)]
    found = np.linalg.solve(columns.T @ columns + np.diag(ridge), columns.T @ means)

    def value(chosen: Floats) -> Floats:
        return np.asarray(terms(chosen) @ found[free:])

    some, places, counts = np.unique(designs, return_inverse=True, return_counts=True)
    apart = np.bincount(places, means - offsets @ found[:free])
    worth = (apart + OWN * value(points[some])) / (counts + OWN)
    return Surface(value, some[np.argsort(worth, kind="stable")], found[:free])


def _better(rounds: Sequence[Round]) -> tuple[Places, Floats, Floats]:
    """The better part of each round: numbers of the designs, their means, and which round each is of, (rows, rounds)."""
    rows = [np.argsort(each.means, kind="stable")[: math.ceil(BETTER * len(each.means))] for each in rounds]
    designs = np.concatenate([each.designs[some] for each, some in zip(rounds, rows, strict=True)])
    means = np.concatenate([each.means[some] for each, some in zip(rounds, rows, strict=True)])
    of = np.repeat(np.arange(len(rounds)), [len(some) for some in rows])
    return designs, means, (of[:, None] == np.arange(len(rounds))).astype(np.float64)


def _quadratic(points: Floats, axes: Sequence[Axis]) -> Terms:
    """Linear, square and product terms of points, told from the middle of some and in their spread."""

    def coordinates(chosen: Floats) -> Floats:
        return np.hstack([columns_of(axis, chosen[:, at]) for at, axis in enumerate(axes)])

    own = coordinates(points)
    middle, spread = own.mean(axis=0), own.std(axis=0) + 1e-9
    first, second = np.triu_indices(own.shape[1])

    def terms(chosen: Floats) -> Floats:
        far = (coordinates(chosen) - middle) / spread
        return np.hstack([far, far[:, first] * far[:, second]])

    return terms


def _about(best: Floats, axes: Sequence[Axis], count: int, draws: np.random.Generator) -> Floats:
    """Points drawn about some, the best first, (count, factors): normal, no further than the ends; words by their share."""
    weights = math.log(len(best) + 0.5) - np.log(1.0 + np.arange(len(best)))
    weights /= weights.sum()
    middle = weights @ best
    spread = ((best - middle).T * weights) @ (best - middle) * WIDER**2 + FLOOR**2 * np.eye(best.shape[1])
    points = middle + draws.standard_normal((count, best.shape[1])) @ np.linalg.cholesky(spread).T
    points = np.asarray(np.clip(points, 0.0, 1.0))  # beyond an end is at the end
    for at, axis in enumerate(axes):
        if not axis.ordered:
            shares = np.bincount(level_of(axis, best[:, at]), weights, minlength=axis.levels)
            shares = (1.0 - RARE) * shares / shares.sum() + RARE / axis.levels
            points[:, at] = (draws.choice(axis.levels, count, p=shares) + 0.5) / axis.levels
    return points

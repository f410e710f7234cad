"""By how much a design that a search left out of its final may be better than the best of the final.

A search takes into its final whom its surface and few flights take for the best; among hundreds of designs near the optimum the
truly best of those that flew is seldom in it. What its rounds take a design to be worth is laid on the scale of the final by
the finalists, and how far that errs is told by them too: what they were taken for, against what the final says of them, whose
waves chose none. That they were picked for good luck makes these errors larger rather than smaller.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import scipy

from sweep.campaign.search_plan import Axis
from sweep.insight.intervals import CONFIDENCE, Array, estimate
from sweep.insight.search import OWN, WINDOW, Floats, Places, Round, fit

FEWEST = 3
"""Finalists that tell how far the rounds err (judgement)."""


def best_left_out(points: Floats, rounds: Sequence[Round], axes: Sequence[Axis], finalists: Places, final: Array) -> float:
    """By how much the best design outside the final is behind the best of the final at least: 0, or less if it may be better.

    points: (designs, factors); rounds: as they flew; finalists: numbers among the points; final: their scores, (finalists,
    conditions, replicates). NaN if fewer than `FEWEST` finalists tell. Nothing is said of each design: the poor ones err more.
    """
    if len(finalists) < FEWEST:
        return float("nan")
    means = final.mean(axis=(1, 2))
    taken = _taken(points, rounds, axes)
    level = means.mean() - taken[finalists].mean()
    apart = means - taken[finalists] - level
    error = float((apart**2).sum() / (len(means) - 1))
    chance = float(np.median(estimate(final - final.mean(axis=0)).error ** 2)) if final.shape[2] > 1 else error
    # What is known of the best: its own scores, which are lucky, drawn towards what it was taken for.
    shares = chance / max(error + chance, 1e-18)
    first = int(means.argmin())
    best = means[first] - shares * apart[first]
    spread = np.sqrt(error + error * chance / max(error + chance, 1e-18))
    outside = np.isfinite(taken)
    outside[finalists] = False
    reach = float(scipy.special.stdtrit(len(means) - 1.0, 1.0 - (1.0 - CONFIDENCE) / max(int(outside.sum()), 1)))
    return min(float((taken[outside] + level - reach * spread - best).min(initial=0.0)), 0.0)


def _taken(points: Floats, rounds: Sequence[Round], axes: Sequence[Axis]) -> Array:
    """What each design was taken for when it was last looked at, on the scale of the last round's surface, (designs,)."""
    taken = np.full(len(points), np.nan)
    for last in range(len(rounds), 0, -1):
        designs, worth = _worth(points, rounds[max(last - WINDOW, 0) : last], axes)
        known = np.isfinite(taken[designs])
        level = float((taken[designs] - worth)[known].mean()) if known.any() else 0.0
        taken[designs[~known]] = worth[~known] + level
    return taken


def _worth(points: Floats, rounds: Sequence[Round], axes: Sequence[Axis]) -> tuple[Places, Array]:
    """What the surface of some rounds and their own flights make of all designs of these, the poor ones too."""
    surface = fit(points, rounds, axes)
    designs = np.concatenate([each.designs for each in rounds])
    own = np.concatenate([each.means - offset for each, offset in zip(rounds, surface.offsets, strict=True)])
    some, places, counts = np.unique(designs, return_inverse=True, return_counts=True)
    return some, (np.bincount(places, own) + OWN * surface.value(points[some])) / (counts + OWN)

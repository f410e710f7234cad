"""The effect of a small change of one factor on a design, predicted from the designs near it in the table.

If the table has the design's neighbours along a factor, all else equal, the prediction is a parabola through it and its
neighbour on either side; beyond the last level, or with one neighbour, a straight line. If it has none, it is a plane fitted to
the nearest designs. A prediction is a weighted sum of designs, so that it has a value in every block, and an interval like any
score.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.insight.intervals import TAIL
from sweep.insight.uneven import uneven_estimate

if TYPE_CHECKING:
    from sweep.campaign.factors import Factor

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

HALF, TENTH = 0.5, 0.1
"""A change is half of the way to the next level, or a tenth of a range without levels (judgement)."""
NEAREST_FOR_EACH = 3
"""Designs that a plane is fitted to, for each of its unknowns (judgement)."""
TINY = 1e-9
"""Share of a range under which two values are one: what rounding leaves."""


class Step(NamedTuple):
    """One factor changed a little: new value (SI), and the weights of the designs that foretell its score, (designs,)."""

    label: str
    value: float
    weights: Array


class Foretold(NamedTuple):
    """How much better a score becomes, with its interval; NaN where no error is known."""

    gain: float
    low: float
    high: float


def small_steps(factors: Mapping[str, Factor], designs: pd.DataFrame, usable: Flags, leader: int) -> Iterator[Step]:
    """Every small change of a leader's numbers. usable: designs that have scores and broke no limit, (designs,) of true or
    false."""
    places = {label: _cube(factor, designs[label]) for label, factor in factors.items() if _numeric(factor)}
    for label, place in places.items():
        least = _least(factors[label], designs[label], leader)
        steps = _line_steps(place, _alike(designs, label, leader) & usable, leader, least)
        if steps is None:
            steps = _plane_steps(places, label, _same_words(factors, designs, leader) & usable, leader, least)
        for where, weights in steps:
            yield Step(label, _from_cube(factors[label], designs[label], where), weights)


def foretell(scores: Array, leader: int, weights: Array) -> Foretold:
    """The gain over the leader that weights predict. scores: (designs, conditions, replicates), NaN where nothing was
    flown."""
    used = np.flatnonzero(weights)
    apart = scores[leader] - np.tensordot(weights[used], scores[used], axes=1)
    found = uneven_estimate(apart[None])
    half = found.half_width(TAIL)
    return Foretold(float(found.mean[0]), float((found.mean - half)[0]), float((found.mean + half)[0]))


def _numeric(factor: Factor) -> bool:
    """Whether it may take values between its levels."""
    return not factor.levels or all(isinstance(level, float) for level in factor.levels)


def _ends(factor: Factor, values: pd.Series) -> tuple[float, float]:
    known = values.iloc[1:].dropna() if len(values) > 1 else values
    return float(known.min()), float(known.max())


def _cube(factor: Factor, values: pd.Series) -> Array:
    """Values as shares of the factor's range, by equal ratios where it is spaced so; NaN where the base craft has none."""
    low, high = _ends(factor, values)
    numbers = values.to_numpy(dtype=np.float64)
    if factor.spacing == "log":
        return np.asarray(np.log(numbers / low) / np.log(high / low))
    return np.asarray((numbers - low) / max(high - low, TINY))


def _from_cube(factor: Factor, values: pd.Series, place: float) -> float:
    low, high = _ends(factor, values)
    if factor.spacing == "log":
        return float(low * (high / low) ** place)
    value = low + (high - low) * place
    return value if abs(value) > TINY * (high - low) else 0.0


def _least(factor: Factor, values: pd.Series, leader: int) -> float:
    """How far down, as a share of the factor's range, a step may go: what is positive everywhere no more than halves, for no
    part is without any latency, area or noise."""
    low, high = _ends(factor, values)
    if low <= 0.0 or factor.spacing == "log":
        return -np.inf
    return (HALF * float(values.iloc[leader]) - low) / max(high - low, TINY)


def _alike(designs: pd.DataFrame, label: str, leader: int) -> Flags:
    """Designs that differ from the leader in one factor at most."""
    others = designs.drop(columns=label)
    return np.asarray((others == others.loc[leader]).all(axis=1), dtype=np.bool_)


def _same_words(factors: Mapping[str, Factor], designs: pd.DataFrame, leader: int) -> Flags:
    words = designs[[label for label, factor in factors.items() if not _numeric(factor)]]
    return np.asarray((words == words.loc[leader]).all(axis=1), dtype=np.bool_)


def _line_steps(place: Array, line: Flags, leader: int, least: float) -> list[tuple[float, Array]] | None:
    """Half a step down, not under `least`, and up a line of designs; None if the leader is alone on it."""
    here = place[leader]
    at = [int(design) for design in np.flatnonzero(line) if abs(place[design] - here) > TINY]
    below, above = [each for each in at if place[each] < here], [each for each in at if place[each] > here]
    under, over = max(below, key=lambda each: place[each], default=None), min(above, key=lambda each: place[each], default=None)
    if under is None and over is None:
        return None
    near = [each for each in (under, leader, over) if each is not None]
    steps = []
    for neighbour, other in ((under, over), (over, under)):
        reach = HALF * (place[neighbour] - here if neighbour is not None else here - place[other])
        points = near if neighbour is not None else [leader, *(each for each in (other,) if each is not None)]
        where = max(here + reach, least)
        steps.append((where, _lagrange(place, points, where)))
    return steps


def _lagrange(place: Array, points: list[int], where: float) -> Array:
    """Weights of the polynomial through some points."""
    weights = np.zeros(len(place))
    for one in points:
        others = [place[each] for each in points if each != one]
        weights[one] = np.prod([(where - other) / (place[one] - other) for other in others])
    return weights


def _plane_steps(
    places: Mapping[str, Array], label: str, usable: Flags, leader: int, least: float
) -> list[tuple[float, Array]]:
    """A tenth of the range down, not under `least`, and up, by a plane through the nearest designs that keeps the leader's own
    score."""
    cube = np.column_stack(list(places.values()))
    apart = cube - cube[leader]
    known = usable & np.isfinite(apart).all(axis=1)
    known[leader] = False
    wanted = NEAREST_FOR_EACH * cube.shape[1]
    rows = np.flatnonzero(known)
    rows = rows[np.argsort((apart[rows] ** 2).sum(axis=1), kind="stable")][:wanted]
    if len(rows) <= cube.shape[1]:
        return []
    slopes = np.linalg.pinv(apart[rows])  # slope = slopes @ (scores of the rows less the leader's)
    column = list(places).index(label)
    found = []
    here = float(cube[leader, column])
    for where in (max(here - TENTH, least), here + TENTH):
        weights = np.zeros(len(cube))
        weights[rows] = (where - here) * slopes[column]
        weights[leader] = 1.0 - (where - here) * slopes[column].sum()
        found.append((where, weights))
    return found

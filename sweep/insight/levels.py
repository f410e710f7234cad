"""Which level of a factor does best: means over all else, and each level against the others in the same waves.

In a factorial levels are compared along lines: designs that are alike in all other factors. Where designs are left out, as
those that do not fly are, no level then looks good for the company that it keeps. In any other sample of designs a level's mean
is that of its designs, and which were drawn is part of its error.

Intervals hold jointly for all levels of a factor (Bonferroni); beside other factors, for all that it stands beside too.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import permutations
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import scipy
from numpy.typing import NDArray

from sweep.insight.intervals import CONFIDENCE, TAIL, Array, Estimate, estimate

LEVEL_COLUMNS = (
    "factor", "level", "beside", "beside_level", "designs", "failing", "mean", "low", "high", "behind", "behind_low",
    "behind_high",
)  # fmt: skip
"""level: its place among the factor's; beside, beside_level: among designs of this level of another factor, '' and -1 for all.
designs, failing: of these, and how many of them do not fly, which count in nothing else. mean: of the response, with its
interval. behind: how much more than the best of the other levels it has; NaN where no comparison is known."""
MOST_COMPARED = 24
"""Levels of a factor that are compared with each other (judgement)."""
FEWEST_DRAWN = 6
"""Designs of a level, of those drawn, that tell how they scatter (judgement)."""

Places = NDArray[np.int64]
Flags = NDArray[np.bool_]


class Means(NamedTuple):
    """By level: means in each block, (levels, conditions, replicates), NaN for a level that cannot be compared; the variance
    that comes of which designs were drawn, and its degrees of freedom, (levels,): 0 and inf of a factorial."""

    blocks: Array
    drawn: Array
    freedom: Array


class _Told(NamedTuple):
    """Means of levels, how much each is behind the best of the others, and the ends of both intervals; (levels,)."""

    mean: Array
    low: Array
    high: Array
    behind: Array
    behind_low: Array
    behind_high: Array


def factorial_levels(values: Array, places: Places, levels: Mapping[str, int], flies: Flags) -> pd.DataFrame:
    """`LEVEL_COLUMNS` of a full factorial; arguments as for `effects.factorial_effects`, places: (designs, factors)."""
    names = list(levels)

    def means(name: str, rows: Flags) -> Means:
        factor = names.index(name)
        blocks = along_lines(values[rows], places[rows, factor], line_of(places[rows], factor), levels[name])
        return Means(blocks, np.zeros(len(blocks)), np.full(len(blocks), np.inf))

    return _table({name: places[:, at] for at, name in enumerate(names)}, levels, flies, means)


def sampled_levels(values: Array, classes: Mapping[str, Places], levels: Mapping[str, int], flies: Flags) -> pd.DataFrame:
    """`LEVEL_COLUMNS` of any sample of designs; classes: of the factors that have levels, the level of each design."""

    def means(name: str, rows: Flags) -> Means:
        return _of_classes(values[rows], classes[name][rows], levels[name])

    return _table(classes, levels, flies, means)


def line_of(places: Places, factor: int) -> Places:
    """The line along a factor that each design is on, (designs,): those on one are alike in all other factors.

    places: (designs, factors).
    """
    others = np.delete(places, factor, axis=1)
    if not others.size:
        return np.zeros(len(places), dtype=np.int64)
    return np.unique(others, axis=0, return_inverse=True)[1].reshape(-1).astype(np.int64)


def along_lines(values: Array, place: Places, line: Places, levels: int) -> Array:
    """Mean at each level, (levels, conditions, replicates), as designs of the same line differ: the curve along the factor that
    all lines have in common, by least squares, about the mean of all.

    values: (designs, conditions, replicates); place, line: (designs,). NaN for levels that no chain of lines links with the
    most designs.
    """
    if not len(values):
        return np.full((levels, *values.shape[1:]), np.nan)
    flat = values.reshape(len(values), -1)
    means = np.full((levels, flat.shape[1]), np.nan)
    held = np.zeros((int(line.max()) + 1, levels))
    held[line, place] = 1.0
    share = held / held.sum(axis=1, keepdims=True)
    normal = np.diag(held.sum(axis=0)) - held.T @ share
    linked = _linked(normal, held.sum(axis=0))
    sums, along = np.zeros((levels, flat.shape[1])), np.zeros((len(held), flat.shape[1]))
    np.add.at(sums, place, flat)
    np.add.at(along, line, flat)
    curve = np.linalg.pinv(normal) @ (sums - share.T @ along)
    rows = linked[place]
    means[linked] = (curve - curve[place[rows]].mean(axis=0) + flat[rows].mean(axis=0))[linked]
    return means.reshape(levels, *values.shape[1:])


def _linked(normal: Array, designs: Array) -> Flags:
    """The levels of the linked part that has most designs, (levels,)."""
    _, part = scipy.sparse.csgraph.connected_components(np.abs(normal) > 1e-9, directed=False)
    return np.asarray((part == np.bincount(part, designs).argmax()) & (designs > 0.0))


def _of_classes(values: Array, level: Places, levels: int) -> Means:
    """Means of the designs of each level; NaN where they are too few to tell how they scatter."""
    blocks, drawn, freedom = np.full((levels, *values.shape[1:]), np.nan), np.full(levels, np.nan), np.full(levels, np.nan)
    means = values.mean(axis=(1, 2))
    for each in range(levels):
        rows = level == each
        if (count := int(rows.sum())) >= FEWEST_DRAWN:
            blocks[each] = values[rows].mean(axis=0)
            drawn[each], freedom[each] = means[rows].var(ddof=1) / count, count - 1.0
    return Means(blocks, drawn, freedom)


def _table(
    places: Mapping[str, Places], levels: Mapping[str, int], flies: Flags, means: Callable[[str, Flags], Means]
) -> pd.DataFrame:
    """Every factor by itself, then each at every level of every other."""
    whole, parts = np.ones(len(flies), dtype=np.bool_), list[dict[str, Any]]()
    for name in places:
        told = _told(means(name, flies), _claims(levels[name]))
        parts.append({"factor": name, "beside": "", "beside_level": -1} | _rows(told, places[name], flies, whole))
    for name, other in permutations(places, 2):
        claims = _claims(levels[name]) * sum(count for each, count in levels.items() if each != name)
        for level in range(levels[other]):
            rows = places[other] == level
            told = _told(means(name, rows & flies), claims)
            parts.append({"factor": name, "beside": other, "beside_level": level} | _rows(told, places[name], flies, rows))
    sizes = [len(part["level"]) for part in parts]

    def gathered(column: str) -> Any:
        each = [part[column] for part in parts]
        return np.concatenate(each) if isinstance(each[0], np.ndarray) else np.repeat(np.array(each), sizes)

    return pd.DataFrame({column: gathered(column) if parts else [] for column in LEVEL_COLUMNS})


def _claims(levels: int) -> int:
    """How many claims there are that one level is under another."""
    return levels * (levels - 1)


def _rows(told: _Told, place: Places, flies: Flags, rows: Flags) -> dict[str, Any]:
    designs = np.bincount(place[rows], minlength=len(told.mean))
    failing = designs - np.bincount(place[rows & flies], minlength=len(told.mean))
    return {"level": np.arange(len(designs)), "designs": designs, "failing": failing, **told._asdict()}


def _told(means: Means, claims: int) -> _Told:
    """What means tell; claims: over how many comparisons the risk is spread."""
    count = len(means.blocks)
    known = np.flatnonzero(np.isfinite(means.blocks).all(axis=(1, 2)))
    told = _Told(*np.full((6, count), np.nan))
    if not len(known):
        return told
    blocks, drawn, freedom = (each[known] for each in means)
    away = blocks - blocks.mean(axis=0)
    own = _sum(_pooled(away), drawn, freedom)
    half = own.half_width(TAIL / len(known))
    mean = blocks.mean(axis=(1, 2))
    told.mean[known], told.low[known], told.high[known] = mean, mean - half, mean + half
    if 2 <= len(known) <= MOST_COMPARED:
        ends = _behind(blocks, drawn, freedom, (1.0 - CONFIDENCE) / claims)
        told.behind[known], told.behind_low[known], told.behind_high[known] = ends
    return told


def _behind(blocks: Array, drawn: Array, freedom: Array, risk: float) -> tuple[Array, Array, Array]:
    """How much each level is behind the best of the others, and the ends of its interval, (levels,).

    risk: that one comparison of two levels is wrong at one end (Hsu 1984 with all competitors, as `ranking.behind_best`).
    """
    count = len(blocks)
    one, two = np.array(list(permutations(range(count), 2))).T
    found = estimate(blocks[one] - blocks[two])
    usual = _pooled(blocks - blocks.mean(axis=0))
    # Two means differ by twice the variance that one has; of that about the mean of all, 1 - 1 / levels is left.
    pooled = usual.error[0] * np.sqrt(2.0 * count / (count - 1.0))
    error = np.fmax(found.error, pooled)  # a level that fails now and then spreads more than the others
    apart = Estimate(found.mean, error, np.full(len(one), usual.freedom[0]))
    variance = drawn[one] + drawn[two]
    with np.errstate(divide="ignore", invalid="ignore"):
        free = variance**2 / (drawn[one] ** 2 / freedom[one] + drawn[two] ** 2 / freedom[two])
    half = _sum(apart, variance, np.where(variance > 0.0, free, np.inf)).half_width(risk)
    ends = np.full((3, count, count), -np.inf)
    ends[:, one, two] = found.mean, found.mean - half, found.mean + half
    middle, low, high = ends.max(axis=2)
    return middle, low, high


def _sum(found: Estimate, variance: Array, freedom: Array) -> Estimate:
    """With another variance added to that of the flights (degrees of freedom: Satterthwaite)."""
    whole = found.error**2 + variance
    with np.errstate(divide="ignore", invalid="ignore"):
        free = whole**2 / (found.error**4 / found.freedom + variance**2 / freedom)
    return Estimate(found.mean, np.sqrt(whole), np.where(whole > 0.0, free, np.inf))


def _pooled(away: Array) -> Estimate:
    """As `estimate`, with the spread of all levels together in each condition, as an analysis of variance takes it.

    away: (levels, conditions, replicates), each block adding up to nothing over the levels: of which one fewer is free.
    """
    cells, conditions, replicates = away.shape
    own = estimate(away)
    if replicates < 2:
        return own
    parts = away.var(axis=2, ddof=1).mean(axis=0) / (replicates * conditions**2)
    error, freedom = np.sqrt(parts.sum()), np.inf
    if error > 0.0:
        freedom = parts.sum() ** 2 / (parts**2).sum() * max(cells - 1, 1) * (replicates - 1)
    return Estimate(own.mean, np.full(cells, error), np.full(cells, freedom))

"""What matters in a sample of designs: first and total shares of a variance-based plan, first shares of any even sample.

All are shares of the variance over the designs that fly, of a response's mean over conditions and replicates. Chance is in two
things: which designs were drawn, and which waves they met. What the waves add to a variance is taken off, by how much the same
designs differ from block to block, so that chance does not count as importance; intervals hold for both.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations
from typing import NamedTuple

import numpy as np
import pandas as pd
import scipy
from numpy.typing import NDArray

from sweep.insight.effects import COLUMNS, at_least_first
from sweep.insight.intervals import TAIL, Array, estimate

FEW_LEVELS = 8
"""Levels of a factor that stay classes of their own (judgement)."""
MOST_CLASSES = 24
"""Classes that the values of a factor are put into (judgement)."""
FEWEST_IN_A_CLASS = 6
"""Designs that a class needs for its mean to tell something (judgement)."""
ALIKE = 0.5
"""Factors whose classes are linked more than this (Cramer's V) cannot be separated (judgement)."""

Classes = NDArray[np.int64]
Flags = NDArray[np.bool_]
Share = tuple[float, float, float]


class _Square(NamedTuple):
    """The mean over designs of a product of two values of each. rows: of each design, without what chance adds, (designs,);
    along: the blocks' part of it, (conditions, replicates), whose mean is twice that of the rows with chance in them."""

    rows: Array
    along: Array

    @classmethod
    def of(cls, one: Array, two: Array) -> _Square:
        """one, two: (designs, conditions, replicates)."""
        means = estimate(one).mean, estimate(two).mean
        along = (np.tensordot(means[0], two, axes=(0, 0)) + np.tensordot(means[1], one, axes=(0, 0))) / len(one)
        conditions, replicates = one.shape[1:]
        chance = np.zeros(len(one))
        if replicates > 1:
            both = (one - one.mean(axis=2, keepdims=True)) * (two - two.mean(axis=2, keepdims=True))
            chance = both.sum(axis=(1, 2)) / ((replicates - 1) * replicates * conditions**2)
        return cls(means[0] * means[1] - chance, along)

    def times(self, share: float) -> _Square:
        """A share of it."""
        return _Square(share * self.rows, share * self.along)


def sampled_shares(a: Array, b: Array, mixed: Mapping[str, Array]) -> pd.DataFrame:
    """First and total shares (Sobol 1993) from the samples of a variance-based plan, as `effects.COLUMNS`.

    a, b: a response of the two samples, (base, conditions, replicates); mixed: factor -> of the designs of `a` with this factor
    as in `b`. Estimators of Saltelli et al. 2010, Computer Physics Communications 181, 259-270, table 2 (b) and (f), about the
    common mean; intervals by the delta method over the base designs and over the blocks.
    """
    middle = np.concatenate([a, b]).mean(axis=0)
    a, b = a - middle, b - middle
    own = _Square.of(a, a), _Square.of(b, b)
    variance = _Square(*((one + two) / 2.0 for one, two in zip(*own, strict=True)))
    rows = []
    for name, values in mixed.items():
        changed = values - middle - a
        squared, looks = _Square.of(changed, changed).times(0.5), 2 * len(mixed)
        first, total = _ratio(_Square.of(b, changed), variance, looks), _ratio(squared, variance, looks)
        rows.append(_row(name, first, float(variance.rows.mean()), total))
    return at_least_first(pd.DataFrame(rows).reindex(columns=list(COLUMNS)))


def pair_totals(values: Array, pairs: Mapping[str, tuple[Classes, Classes]], flies: Flags, sample: Classes) -> pd.DataFrame:
    """Total shares of a variance-based plan, some of whose designs do not fly: factor, total, total_low, total_high.

    values: of all designs, (designs, conditions, replicates); pairs: factor -> designs, and those that differ from them in this
    factor alone: those pairs count that both fly (Jansen's estimator, as in `sampled_shares`); sample: the designs of both
    samples, whose variance is shared out among those that fly.
    """
    own = values[sample[flies[sample]]]
    own = own - own.mean(axis=0)
    variance = _Square.of(own, own)
    rows = []
    for name, (one, two) in pairs.items():
        both = flies[one] & flies[two]
        changed = values[two[both]] - values[one[both]]
        share = (
            _ratio(_Square.of(changed, changed).times(0.5), variance, 2 * len(pairs))
            if both.sum() >= FEWEST_IN_A_CLASS
            else (np.nan,) * 3
        )
        rows.append({"factor": name, **dict(zip(("total", "total_low", "total_high"), share, strict=True))})
    return pd.DataFrame(rows)


def _row(name: str, first: Share, variance: float, total: Share = (np.nan, np.nan, np.nan)) -> dict[str, object]:
    return (
        {"factor": name, "beside": "", "size": float(np.sqrt(max(first[0], 0.0) * variance))}
        | dict(zip(("share", "low", "high"), first, strict=True))
        | dict(zip(("total", "total_low", "total_high"), total, strict=True))
    )


def _ratio(upper: _Square, lower: _Square, looks: int, off: float = 0.0) -> Share:
    """A ratio of two means less `off`, with its interval, kept between 0 and 1; NaN if the lower is no more than chance.

    looks: how many such intervals hold together (Bonferroni). Both over the same designs, or over designs that have nothing to
    do with each other.
    """
    size, count = float(lower.rows.mean()), len(lower.rows)
    if not size > 0.0:
        return np.nan, np.nan, np.nan
    value = float(upper.rows.mean()) / size
    if len(upper.rows) == count:
        drawn = np.var(upper.rows - value * lower.rows, ddof=1) / count
    else:
        drawn = np.var(upper.rows, ddof=1) / len(upper.rows) + np.var(value * lower.rows, ddof=1) / count
    blocks = estimate((upper.along - value * lower.along)[None])
    met, freedom = float(np.nan_to_num(blocks.error[0]) ** 2), float(np.nan_to_num(blocks.freedom[0], nan=np.inf))
    whole = float(drawn) + met
    free = whole**2 / (drawn**2 / (count - 1.0) + met**2 / freedom) if whole > 0.0 else np.inf
    half = float(-scipy.special.stdtrit(free, TAIL / looks) * np.sqrt(whole)) / size if whole > 0.0 else 0.0
    low, value, high = np.clip([value - off - half, value - off, value - off + half], 0.0, 1.0).tolist()
    return value, low, high


def class_shares(values: Array, classes: Mapping[str, Classes]) -> pd.DataFrame:
    """First shares from any sample of designs whose factors vary independently: how much of the variance lies between classes.

    values: a response, (designs, conditions, replicates); classes: factor -> class of each design (`classes_of`), (designs,).
    Returns `effects.COLUMNS`. The correlation ratio (Pearson 1905; as a first Sobol share from given data: Plischke, Borgonovo
    & Smith, European Journal of Operational Research 226, 2013, 536-550), corrected for what the draw of designs adds (Kelley
    1935) and for the waves; intervals by the delta method. Interactions are not estimated.
    """
    count, away = len(values), values - values.mean(axis=0)
    whole, rows = _Square.of(away, away), []
    for name, groups in classes.items():
        held = np.bincount(groups)
        means = np.zeros((len(held), *away.shape[1:]))
        np.add.at(means, groups, away)
        middle = (means / np.maximum(held, 1)[:, None, None])[groups]
        between, apart = _Square.of(middle, middle), away - middle
        # What a design differs from its class by moves the mean of the class too: both count for how sure the share is.
        moved = _Square.of(middle, apart)
        upper = _Square(between.rows + 2.0 * moved.rows, between.along)
        within = float(_Square.of(apart, apart).rows.mean()) * count / max(count - (held > 0).sum(), 1)
        size = float(whole.rows.mean())
        off = ((held > 0).sum() - 1.0) / count * max(within, 0.0) / size if size > 0.0 else 0.0
        rows.append(_row(name, _ratio(upper, whole, len(classes), off), size))
    return pd.DataFrame(rows).reindex(columns=list(COLUMNS))


def classes_of(values: pd.Series) -> Classes:
    """The class of each design along a factor: its level where there are few or they are words, else by equal numbers.

    As many classes as half the root of the designs, 4 to `MOST_CLASSES` (judgement): finer ones lose less of what a factor does
    within a class, coarser ones hold more designs.
    """
    codes, levels = pd.factorize(values, sort=pd.api.types.is_numeric_dtype(values))
    if len(levels) <= FEW_LEVELS or not pd.api.types.is_numeric_dtype(values):
        return codes.astype(np.int64)
    count = int(np.clip(0.5 * len(values) ** 0.5, 4, MOST_CLASSES))
    return np.asarray(values.rank(method="first").sub(1) * count // len(values), dtype=np.int64)


def confounded(classes: Mapping[str, Classes], names: Mapping[str, str] | None = None) -> str:
    """Why designs cannot separate the factors, in words; '' if they can. names: what people call each factor."""
    names = names or {name: name for name in classes}
    for name, groups in classes.items():
        held = np.bincount(groups)
        if (held > 0).sum() < 2 or held[held > 0].min() < FEWEST_IN_A_CLASS:
            return f"it has under {FEWEST_IN_A_CLASS} designs at some value of {names[name]}"
    for one, two in combinations(classes, 2):
        if _link(classes[one], classes[two]) > ALIKE:
            return f"in its designs {names[one]} and {names[two]} change together"
    return ""


def _link(one: Classes, two: Classes) -> float:
    """Cramer's V of two classifications: 0 if independent, 1 if one gives the other."""
    table = np.zeros((one.max() + 1, two.max() + 1))
    np.add.at(table, (one, two), 1.0)
    expected = table.sum(axis=1, keepdims=True) * table.sum(axis=0, keepdims=True) / len(one)
    chi = ((table - expected) ** 2 / np.where(expected > 0.0, expected, 1.0)).sum()
    return float(np.sqrt(chi / len(one) / max(min(table.shape) - 1, 1)))

"""What matters: how much of the spread of the designs each factor accounts for, alone and together with others.

Which estimate a plan allows: a full factorial gives main effects and two-factor interactions by analysis of variance, a
variance-based plan first and total shares (Sobol), any other that spreads its designs evenly first shares from classes of
designs. All are shares of the variance over the designs laid out, of a response's mean over conditions and replicates.

Of a factorial the designs are all there are, and chance is in the replicates: every contrast is taken block by block
(condition, replicate), so the waves that all designs met drop out, and its error is that of a mean over conditions. Of a sample
of designs chance is in which were drawn; what the replicates add is then part of what no factor explains.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations
from typing import NamedTuple

import numpy as np
import pandas as pd
import scipy
from numpy.typing import NDArray

from sweep.insight.intervals import TAIL, Array, Estimate, estimate

FEW_LEVELS = 8
"""Levels of a factor that stay classes of their own (judgement)."""
MOST_CLASSES = 24
"""Classes that the values of a factor are put into (judgement)."""
FEWEST_IN_A_CLASS = 6
"""Designs that a class needs for its mean to tell something (judgement)."""
ROUNDING = 1e-12  # a share that is smaller is what sums of doubles leave of nothing
ALIKE = 0.5
"""Factors whose classes are linked more than this (Cramer's V) cannot be separated (judgement)."""

COLUMNS = ("factor", "beside", "share", "low", "high", "total", "total_low", "total_high", "size", "f", "freedom", "rest", "p")
LEVEL_COLUMNS = ("factor", "level", "beside", "beside_level", "mean", "low", "high")


class Effects(NamedTuple):
    """How much each factor matters for one response.

    table: `COLUMNS`, a row a factor (beside is '') or pair of factors; share of the variance by itself, total with everything
    that it is part of (NaN where the plan does not tell), size: standard deviation that it brings, in the response's unit; F
    with its degrees of freedom and p (a factorial only, sphericity taken for granted). levels: `LEVEL_COLUMNS`, mean of the
    response at each level (its place among the factor's) or pair of levels (beside_level is -1 for a factor alone).
    """

    table: pd.DataFrame
    levels: pd.DataFrame


def factorial_effects(values: Array, levels: Mapping[str, int]) -> Effects:
    """Main effects and two-factor interactions of a full factorial, by analysis of variance.

    values: (designs, conditions, replicates), the last factor changing fastest; levels: how many each factor has, in order.
    Shares are corrected for what chance adds to them; their intervals follow the effects' variation from block to block (delta
    method), those of level means likewise. With one replicate nothing is known of chance: intervals are NaN and shares are as
    they come.
    """
    grid = values.reshape(*levels.values(), *values.shape[1:])
    names, factors = list(levels), range(len(levels))
    centred = grid - grid.mean(axis=tuple(factors))
    whole = _Spread.of(centred.reshape(values.shape))
    parts: dict[tuple[int, ...], Array] = {}
    rows, means = [], []
    for chosen in [*((each,) for each in factors), *combinations(factors, 2)]:
        over = tuple(factor for factor in factors if factor not in chosen)
        cells = grid.mean(axis=over)
        effect = together = centred.mean(axis=over)
        if len(chosen) == 2:
            one, two = parts[chosen[:1]], parts[chosen[1:]]
            effect = effect - one[:, None] - two[None, :]
        parts[chosen] = effect
        freedom = int(np.prod([grid.shape[factor] - 1 for factor in chosen]))
        flat = effect.reshape(-1, *values.shape[1:])
        rows.append({**_named(names, chosen), **_share(_Spread.of(flat), whole), **_test(flat, freedom)})
        means.append(_levels(names, chosen, cells, together))
    table = pd.DataFrame(rows)
    return Effects(_with_totals(table, parts, whole, names)[list(COLUMNS)], pd.concat(means, ignore_index=True))


class _Spread(NamedTuple):
    """The variance of some effects. size: corrected for chance; along: the blocks' values along them, (conditions,
    replicates), whose error is half that of the size."""

    size: float
    along: Array

    @classmethod
    def of(cls, effects: Array) -> _Spread:
        """effects: (cells, conditions, replicates), each adding up to nothing over the cells."""
        found = estimate(effects)
        chance = np.nan_to_num((found.error**2).mean())
        along = np.tensordot(found.mean, effects, axes=(0, 0)) / len(effects)
        return cls(float((found.mean**2).mean() - chance), along)


def _share(part: _Spread, whole: _Spread) -> dict[str, float]:
    if not whole.size > 0.0:
        return {"share": np.nan, "low": np.nan, "high": np.nan, "size": np.nan}
    share = part.size / whole.size
    half = 2.0 * float(estimate((part.along - share * whole.along)[None]).half_width(TAIL)[0]) / whole.size
    share, low, high = (_without_rounding(each) for each in np.clip([share, share - half, share + half], 0.0, 1.0).tolist())
    return {"share": share, "low": low, "high": high, "size": max(part.size, 0.0) ** 0.5 if share else 0.0}


def _without_rounding(share: float) -> float:
    return 0.0 if share < ROUNDING else share


def _test(effect: Array, freedom: int) -> dict[str, float]:
    """F of an effect against its own variation from replicate to replicate (repeated measures)."""
    found = estimate(effect)
    conditions, replicates = effect.shape[1:]
    if replicates < 2:
        return {"f": np.nan, "freedom": freedom, "rest": np.nan, "p": np.nan}
    per_condition = effect.var(axis=2, ddof=1).mean(axis=0) / (replicates * conditions**2)
    chance = per_condition.sum()
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = (found.mean**2).mean() / chance
        rest = chance**2 / (per_condition**2).sum() * freedom * (replicates - 1)
    return {"f": float(ratio), "freedom": freedom, "rest": float(rest), "p": float(scipy.special.fdtrc(freedom, rest, ratio))}


def _named(names: Sequence[str], chosen: Sequence[int]) -> dict[str, str]:
    return {"factor": names[chosen[0]], "beside": names[chosen[1]] if len(chosen) == 2 else ""}


def _with_totals(
    table: pd.DataFrame, parts: Mapping[tuple[int, ...], Array], whole: _Spread, names: Sequence[str]
) -> pd.DataFrame:
    """With, for each factor, the share of its main effect and all its two-factor interactions together."""
    table = table.assign(total=np.nan, total_low=np.nan, total_high=np.nan)
    for factor in range(len(names)):
        spreads = [_Spread.of(effect.reshape(-1, *effect.shape[-2:])) for chosen, effect in parts.items() if factor in chosen]
        joint = _Spread(sum(each.size for each in spreads), np.sum([each.along for each in spreads], axis=0))
        found = _share(joint, whole)
        table.loc[factor, ["total", "total_low", "total_high"]] = [found["share"], found["low"], found["high"]]
    return table


def _levels(names: Sequence[str], chosen: Sequence[int], cells: Array, away: Array) -> pd.DataFrame:
    """Means over all other factors in each cell; the interval is that of how far they are from the mean of all designs.

    cells, away: (levels of each chosen factor ..., conditions, replicates).
    """
    there = np.indices(cells.shape[:-2]).reshape(len(chosen), -1)
    mean, half = cells.mean(axis=-1).mean(axis=-1).ravel(), _pooled(away.reshape(-1, *away.shape[-2:])).half_width(TAIL)
    table = pd.DataFrame({"level": there[0], "beside_level": there[1] if len(there) == 2 else -1})
    return table.assign(**_named(names, chosen), mean=mean, low=mean - half, high=mean + half)[list(LEVEL_COLUMNS)]


def _pooled(away: Array) -> Estimate:
    """As `estimate`, with the spread of all cells together in each condition, as an analysis of variance takes it.

    away: (cells, conditions, replicates), each block adding up to nothing over the cells: of which one fewer is free.
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


def sampled_shares(a: Array, b: Array, mixed: Mapping[str, Array]) -> Effects:
    """First and total shares (Sobol 1993) from the samples of a variance-based plan.

    a, b: a response of the two samples, (base,); mixed: factor -> of the designs of `a` with this factor as in `b`, (base,).
    Estimators of Saltelli et al. 2010, Computer Physics Communications 181, 259-270, table 2 (b) and (f), about the common
    mean; intervals by the delta method over the base designs.
    """
    middle = np.concatenate([a, b]).mean()
    a, b = a - middle, b - middle
    variance = (a**2 + b**2) / 2.0
    rows = []
    for name, values in mixed.items():
        changed = values - middle - a
        first, total = _ratio(b * changed, variance), _ratio(changed**2 / 2.0, variance)
        rows.append(
            {"factor": name, "beside": ""}
            | dict(zip(("share", "low", "high"), first, strict=True))
            | dict(zip(("total", "total_low", "total_high"), total, strict=True))
            | {"size": float(np.sqrt(max(first[0], 0.0) * variance.mean()))}
        )
    table = pd.DataFrame(rows).reindex(columns=list(COLUMNS))
    return Effects(table, pd.DataFrame(columns=list(LEVEL_COLUMNS)))


def _ratio(upper: Array, lower: Array) -> tuple[float, float, float]:
    """A ratio of two means over the same draws, with its interval, kept between 0 and 1."""
    if not lower.mean() > 0.0:
        return np.nan, np.nan, np.nan
    value = upper.mean() / lower.mean()
    error = np.std(upper - value * lower, ddof=1) / lower.mean() / np.sqrt(len(upper))
    half = -scipy.special.stdtrit(len(upper) - 1.0, TAIL) * error
    low, value, high = np.clip([value - half, value, value + half], 0.0, 1.0).tolist()
    return value, low, high


def class_shares(values: Array, classes: Mapping[str, NDArray[np.int64]]) -> Effects:
    """First shares from any sample of designs whose factors vary independently: how much of the variance lies between classes.

    values: a response, (designs,); classes: factor -> class of each design (`classes_of`), (designs,). The correlation ratio
    (Pearson 1905; as a first Sobol share from given data: Plischke, Borgonovo & Smith, European Journal of Operational Research
    226, 2013, 536-550), corrected for chance (Kelley 1935); intervals by the delta method. Interactions are not estimated.
    """
    count, away = len(values), values - values.mean()
    rows = []
    for name, groups in classes.items():
        middle = (np.bincount(groups, away) / np.maximum(np.bincount(groups), 1))[groups]
        between, within = middle**2 + 2.0 * middle * (away - middle), away**2
        raw, low, high = _ratio(between, within)
        free = 1.0 - (1.0 - raw) * (count - 1.0) / (count - len(np.unique(groups)))
        low, share, high = np.clip([low + free - raw, free, high + free - raw], 0.0, 1.0)
        rows.append({"factor": name, "beside": "", "share": share, "low": low, "high": high})
        rows[-1]["size"] = float(np.sqrt(share * within.mean()))
    return Effects(pd.DataFrame(rows).reindex(columns=list(COLUMNS)), pd.DataFrame(columns=list(LEVEL_COLUMNS)))


def classes_of(values: pd.Series) -> NDArray[np.int64]:
    """The class of each design along a factor: its level where there are few or they are words, else by equal numbers.

    As many classes as half the root of the designs, 4 to `MOST_CLASSES` (judgement): finer ones lose less of what a factor does
    within a class, coarser ones hold more designs.
    """
    codes, levels = pd.factorize(values, sort=pd.api.types.is_numeric_dtype(values))
    if len(levels) <= FEW_LEVELS or not pd.api.types.is_numeric_dtype(values):
        return codes.astype(np.int64)
    count = int(np.clip(0.5 * len(values) ** 0.5, 4, MOST_CLASSES))
    return np.asarray(values.rank(method="first").sub(1) * count // len(values), dtype=np.int64)


def confounded(classes: Mapping[str, NDArray[np.int64]]) -> str:
    """Why designs cannot separate the factors, in words; '' if they can."""
    for name, groups in classes.items():
        held = np.bincount(groups)
        if (held > 0).sum() < 2 or held[held > 0].min() < FEWEST_IN_A_CLASS:
            return f"it has under {FEWEST_IN_A_CLASS} designs at some value of {name}"
    for one, two in combinations(classes, 2):
        if _link(classes[one], classes[two]) > ALIKE:
            return f"in its designs {one} and {two} change together"
    return ""


def _link(one: NDArray[np.int64], two: NDArray[np.int64]) -> float:
    """Cramer's V of two classifications: 0 if independent, 1 if one gives the other."""
    table = np.zeros((one.max() + 1, two.max() + 1))
    np.add.at(table, (one, two), 1.0)
    expected = table.sum(axis=1, keepdims=True) * table.sum(axis=0, keepdims=True) / len(one)
    chi = ((table - expected) ** 2 / np.where(expected > 0.0, expected, 1.0)).sum()
    return float(np.sqrt(chi / len(one) / max(min(table.shape) - 1, 1)))

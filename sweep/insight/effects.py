"""What matters in a full factorial: how much of the spread of the designs each factor accounts for, alone and with others.

Designs that are alike in all factors but one are a line along it. What differs along lines is all that the factor does: its
total share. The curve that the lines have in common is what it does by itself: its first share, which is never more. In a whole
factorial these are the main effects and interactions of an analysis of variance; they mean the same where designs are left out,
as those that do not fly are.

The designs are all there are, and chance is in the replicates: every effect is taken block by block (condition, replicate), so
the waves that all designs met drop out, and its error is that of a mean over conditions.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations
from typing import NamedTuple

import numpy as np
import pandas as pd
import scipy
from numpy.typing import NDArray

from sweep.insight.intervals import CONFIDENCE, TAIL, Array, estimate
from sweep.insight.levels import LEVEL_COLUMNS, factorial_levels, line_of

ROUNDING = 1e-12  # a share that is smaller is what sums of doubles leave of nothing
MOST_SWEEPS, STILL = 200, 1e-10
"""Of taking line means off by turns, and the change, as a share of the values, after which it ends (judgement)."""

COLUMNS = ("factor", "beside", "share", "low", "high", "total", "total_low", "total_high", "size", "f", "freedom", "rest", "p")

Places = NDArray[np.int64]
Flags = NDArray[np.bool_]


class Effects(NamedTuple):
    """How much each factor matters for one response.

    table: `COLUMNS`, a row a factor (beside is '') or pair of factors; share of the variance by itself, total with everything
    that it is part of (NaN where the plan does not tell), size: standard deviation that it brings, in the response's unit; F
    with its degrees of freedom and p (a whole factorial only, sphericity taken for granted). Shares are NaN where designs
    differ by no more than chance. levels: see `sweep.insight.levels`.
    """

    table: pd.DataFrame
    levels: pd.DataFrame


def no_effects() -> Effects:
    """What a plan tells that allows no estimate."""
    return Effects(pd.DataFrame(columns=list(COLUMNS)), pd.DataFrame(columns=list(LEVEL_COLUMNS)))


def factorial_effects(
    values: Array, levels: Mapping[str, int], flies: Flags | None = None, places: Places | None = None
) -> Effects:
    """Shares and level means of a full factorial, or of those of its designs that fly.

    values: (designs, conditions, replicates); levels: how many each factor has, in order; flies: (designs,), all by default;
    places: (designs, factors), the level of each design, where rules leave some out; by default all designs are there, the
    last factor changing fastest.
    """
    flies = np.ones(len(values), dtype=np.bool_) if flies is None else flies
    if places is None:
        places = np.column_stack(np.unravel_index(np.arange(len(values)), tuple(levels.values())))
    return Effects(factorial_shares(values, places, levels, flies), factorial_levels(values, places, levels, flies))


def factorial_shares(values: Array, places: Places, levels: Mapping[str, int], flies: Flags) -> pd.DataFrame:
    """`COLUMNS` of a full factorial; places: (designs, factors), the rest as for `factorial_effects`.

    Shares are corrected for what chance adds to them; their intervals follow the effects' variation from block to block (delta
    method), and hold together: those of all factors, and those of all pairs (Bonferroni). With one replicate nothing is known
    of chance: intervals are NaN and shares are as they come.
    """
    names, own, at = list(levels), values[flies], places[flies]
    away = own - own.mean(axis=0)
    whole = Spread.of(away)
    if _test(away, len(away) - 1)["p"] > 1.0 - CONFIDENCE:
        whole = whole._replace(size=0.0)
    lines = [line_of(at, each) for each in range(len(names))]
    rows, pairs = [], list(combinations(range(len(names)), 2))
    for chosen in [*((each,) for each in range(len(names))), *pairs]:
        looks = 2 * len(names) if len(chosen) == 1 else len(pairs)  # of each factor both shares
        rest = without(away, [lines[each] for each in chosen])
        effect = rest - without(rest, [*(lines[each] for each in chosen), _cell(at, chosen)])
        row = {**_named(names, chosen), **share_of(Spread.of(effect), whole, looks)}
        if flies.all() and len(values) == np.prod(list(levels.values())):
            row |= _test(effect, int(np.prod([levels[names[each]] - 1 for each in chosen])))
        if len(chosen) == 1:
            total = share_of(Spread.of(rest), whole, looks)
            row |= {"total": total["share"], "total_low": total["low"], "total_high": total["high"]}
        rows.append(row)
    return at_least_first(pd.DataFrame(rows).reindex(columns=list(COLUMNS)))


def at_least_first(table: pd.DataFrame) -> pd.DataFrame:
    """The table with no first share over the total, as chance alone would have it. Intervals hold together, so that each bounds
    the other: a total is no less than the first share surely is."""
    known = table["total"].notna()
    table.loc[known, "share"] = table.loc[known, ["share", "total"]].min(axis=1)
    table.loc[known, "low"] = table.loc[known, ["low", "share"]].min(axis=1, skipna=False)
    table.loc[known, "high"] = table.loc[known, ["high", "total_high"]].min(axis=1, skipna=False)
    table.loc[known, "total_low"] = table.loc[known, ["low", "total_low"]].max(axis=1, skipna=False)
    return table


class Spread(NamedTuple):
    """The variance of some effects. size: corrected for chance; along: the blocks' values along them, (conditions,
    replicates), whose error is half that of the size."""

    size: float
    along: Array

    @classmethod
    def of(cls, effects: Array) -> Spread:
        """effects: (designs, conditions, replicates), each block adding up to nothing over the designs."""
        found = estimate(effects)
        chance = np.nan_to_num((found.error**2).mean())
        along = np.tensordot(found.mean, effects, axes=(0, 0)) / len(effects)
        return cls(float((found.mean**2).mean() - chance), along)


def share_of(part: Spread, whole: Spread, looks: int = 1) -> dict[str, float]:
    """The share of a part, with its interval, and its standard deviation; NaN where chance alone would spread designs more.

    looks: how many such intervals hold together.
    """
    if not whole.size > 0.0:
        return {"share": np.nan, "low": np.nan, "high": np.nan, "size": np.nan}
    share = part.size / whole.size
    half = 2.0 * float(estimate((part.along - share * whole.along)[None]).half_width(TAIL / looks)[0]) / whole.size
    share, low, high = (_without_rounding(each) for each in np.clip([share, share - half, share + half], 0.0, 1.0).tolist())
    return {"share": share, "low": low, "high": high, "size": max(part.size, 0.0) ** 0.5 if share else 0.0}


def _without_rounding(share: float) -> float:
    return 0.0 if share < ROUNDING else share


def _cell(places: Places, factors: Sequence[int]) -> Places:
    return np.unique(places[:, list(factors)], axis=0, return_inverse=True)[1].reshape(-1).astype(np.int64)


def without(values: Array, groupings: Sequence[Places]) -> Array:
    """Values without what is constant in the groups of every grouping: the part orthogonal to all of them.

    values: (designs, conditions, replicates); groupings: the group of each design, (designs,). Group means are taken off by
    turns until nothing changes (von Neumann's alternating projections; as in the within estimator of panel data): once where
    groupings cross evenly.
    """
    left = values.reshape(len(values), -1).copy()
    takers = [_taker(groups) for groups in groupings]
    small = STILL * max(float(np.abs(left).max(initial=0.0)), np.finfo(float).tiny)
    for _ in range(MOST_SWEEPS if len(takers) > 1 else 1):
        before = left.copy()
        for spread, mean in takers:
            left -= spread @ (mean @ left)
        if np.abs(left - before).max(initial=0.0) <= small:
            break
    return left.reshape(values.shape)


def _taker(groups: Places) -> tuple[scipy.sparse.csr_array, scipy.sparse.csr_array]:
    """Matrices that spread groups' values over designs, and that take the groups' means."""
    count = len(groups)
    spread = scipy.sparse.csr_array((np.ones(count), (np.arange(count), groups)), shape=(count, int(groups.max()) + 1))
    held = np.maximum(np.bincount(groups), 1)
    return spread, scipy.sparse.csr_array((1.0 / held[groups], (groups, np.arange(count))), shape=spread.shape[::-1])


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

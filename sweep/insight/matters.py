"""What matters in a campaign: the estimate that its plan allows, or why it allows none; and which designs do not fly.

Designs that fail have the worst of scores, and differ from those that fly by more than these do from each other: left among
them they would drown what matters to a boat that flies. So effects are those among designs that fly, and what decides whether a
design does is told beside them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.campaign.designs import variance_blocks
from sweep.campaign.plan import FullFactorial, Search, VarianceBased
from sweep.insight.effects import Effects, at_least_first, factorial_effects, no_effects
from sweep.insight.intervals import Array
from sweep.insight.levels import LEVEL_COLUMNS, sampled_levels
from sweep.insight.shares import FEWEST_IN_A_CLASS, class_shares, classes_of, confounded, pair_totals, sampled_shares

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign

FAILS = 0.25
"""Share of its flights from which on a design is said to fail (judgement): with fewer it flies, and now and then does not."""
MOST_LISTED = 24
"""Levels of a factor whose means are listed, where designs were drawn (judgement)."""

Flags = NDArray[np.bool_]


SEARCHED = "a search looks most where the score is good, so that its designs show no factor's share over its range"


class Method(NamedTuple):
    """How effects are estimated: analysis of variance, samples of a variance-based plan, classes of designs, or why not."""

    kind: Literal["factorial", "sampled", "classes", "none"]
    reason: str = ""


def method_of(campaign: Campaign, designs: pd.DataFrame) -> Method:
    """What the plan of a campaign allows; designs: its design table, the base craft in it."""
    if isinstance(campaign.plan, FullFactorial):
        return Method("factorial")
    if isinstance(campaign.plan, VarianceBased):
        return Method("sampled")
    if isinstance(campaign.plan, Search):
        return Method("none", SEARCHED)
    classes = {label: classes_of(designs[label].iloc[1:]) for label in campaign.factors}
    reason = confounded(classes, names_of(campaign))
    return Method("none", reason) if reason else Method("classes")


def names_of(campaign: Campaign) -> dict[str, str]:
    """What people call each factor."""
    return {label: factor.name for label, factor in campaign.factors.items()}


def failing(failed: Array) -> Flags:
    """The designs that do not fly; failed: share of their flights that ended early or did not start, NaN if none was flown."""
    return np.asarray(~(failed < FAILS))


def what_matters(campaign: Campaign, designs: pd.DataFrame, values: Array, flies: Flags | None = None) -> Effects:
    """Effects of every factor on a response or the score among designs that fly; both tables are empty where none is known.

    values: (designs, conditions, replicates), the base craft first; it is left out. flies: (designs,), all by default. Where
    flights are missing, effects are those in the blocks that every design which flies has.
    """
    method = method_of(campaign, designs)
    flies = np.ones(len(values), dtype=np.bool_) if flies is None else flies.copy()
    flies[0] = False
    blocks = _shared(values, flies)
    if method.kind == "none" or flies.sum() < FEWEST_IN_A_CLASS or not blocks.shape[2]:
        return no_effects()
    if method.kind == "factorial":
        levels = {label: len(factor.levels) for label, factor in campaign.factors.items()}
        return factorial_effects(blocks[1:], levels, flies[1:], _places(campaign, designs) if campaign.rules else None)
    classes = {label: classes_of(designs[label].iloc[1:]) for label in campaign.factors}
    if method.kind == "sampled":
        return Effects(_sampled(campaign, designs, blocks, flies), _levels(campaign, designs, blocks, flies))
    reason = confounded({label: each[flies[1:]] for label, each in classes.items()}, names_of(campaign))
    if reason:
        return no_effects()
    some = blocks[1:][flies[1:]]
    table = class_shares(some, {label: each[flies[1:]] for label, each in classes.items()})
    return Effects(table, _levels(campaign, designs, blocks, flies))


def _places(campaign: Campaign, designs: pd.DataFrame) -> NDArray[np.int64]:
    """The level of each factor in each design of a full factorial, the base craft left out; (designs, factors)."""
    of = [(designs[label].iloc[1:], factor.levels) for label, factor in campaign.factors.items()]
    return np.column_stack([values.map({each: at for at, each in enumerate(levels)}).to_numpy() for values, levels in of])


def _shared(values: Array, flies: Flags) -> Array:
    """The blocks that every design which flies has: whole replicates where there are two or more of them, else the blocks one
    by one, as replicates of one condition; (designs, conditions, replicates)."""
    known = np.isfinite(values[flies]).all(axis=0)
    whole = known.all(axis=0)
    if whole.all() or whole.sum() > 1:
        return values[:, :, whole]
    return values[:, known][:, None, :]


def _sampled(campaign: Campaign, designs: pd.DataFrame, values: Array, flies: Flags) -> pd.DataFrame:
    """Shares of a variance-based plan; first shares by classes if some designs do not fly."""
    blocks = variance_blocks(campaign, designs)
    if flies[1:].all():
        mixed = {label: values[rows] for label, rows in blocks.mixed.items()}
        return sampled_shares(values[blocks.a], values[blocks.b], mixed)
    sample = np.concatenate([blocks.a, blocks.b])
    rows = sample[flies[sample]]
    classes = {label: classes_of(designs[label].iloc[rows]) for label in campaign.factors}
    if len(rows) < FEWEST_IN_A_CLASS or confounded(classes):
        return no_effects().table
    totals = pair_totals(values, {label: (blocks.a, rows) for label, rows in blocks.mixed.items()}, flies, sample)
    return at_least_first(class_shares(values[rows], classes).drop(columns=list(totals)[1:]).merge(totals, on="factor"))


def _levels(campaign: Campaign, designs: pd.DataFrame, values: Array, flies: Flags) -> pd.DataFrame:
    """Means of the factors that have levels."""
    listed = {label: factor.levels for label, factor in campaign.factors.items() if 0 < len(factor.levels) <= MOST_LISTED}
    known: dict[str, NDArray[np.int64]] = {}
    for label, levels in listed.items():
        place = designs[label].iloc[1:].map({level: place for place, level in enumerate(levels)})
        if place.notna().all():
            known[label] = np.asarray(place, dtype=np.int64)
    if not known:
        return pd.DataFrame(columns=list(LEVEL_COLUMNS))
    return sampled_levels(values[1:], known, {label: len(listed[label]) for label in known}, flies[1:])


def without_holes(values: Array) -> Array:
    """A response with the worst that was seen in the condition where a flight gave no number: there it was no better.

    values: (designs, conditions, replicates), larger is worse. Where a condition gave none at all, zero.
    """
    known = np.where(np.isnan(values), -np.inf, values)
    worst = known.max(axis=(0, 2), keepdims=True)
    return np.where(np.isnan(values), np.where(np.isfinite(worst), worst, 0.0), values)

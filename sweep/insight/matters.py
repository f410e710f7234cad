"""What matters in a campaign: the estimate that its plan allows, or why it allows none."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
import pandas as pd

from sweep.campaign.designs import variance_blocks
from sweep.campaign.plan import FullFactorial, Search, VarianceBased
from sweep.insight.effects import (
    COLUMNS,
    LEVEL_COLUMNS,
    Effects,
    class_shares,
    classes_of,
    confounded,
    factorial_effects,
    sampled_shares,
)
from sweep.insight.intervals import Array

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign


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
    reason = confounded({label: classes_of(designs[label].iloc[1:]) for label in campaign.factors})
    return Method("none", reason) if reason else Method("classes")


def what_matters(campaign: Campaign, designs: pd.DataFrame, values: Array) -> Effects:
    """Effects of every factor on a response or the score; both tables are empty where the plan allows none.

    values: (designs, conditions, replicates), the base craft first; it is left out. With flights missing the result is
    NaN.
    """
    method = method_of(campaign, designs)
    if method.kind == "none" or np.isnan(values[1:]).any():
        return Effects(pd.DataFrame(columns=list(COLUMNS)), pd.DataFrame(columns=list(LEVEL_COLUMNS)))
    if method.kind == "factorial":
        return factorial_effects(values[1:], {label: len(factor.levels) for label, factor in campaign.factors.items()})
    means = values.mean(axis=2).mean(axis=1)
    if method.kind == "sampled":
        blocks = variance_blocks(campaign, designs)
        return sampled_shares(means[blocks.a], means[blocks.b], {label: means[rows] for label, rows in blocks.mixed.items()})
    return class_shares(means[1:], {label: classes_of(designs[label].iloc[1:]) for label in campaign.factors})


def without_holes(values: Array) -> Array:
    """A response with the worst that was seen in the condition where a flight gave no number: there it was no better.

    values: (designs, conditions, replicates), larger is worse. Where a condition gave none at all, zero.
    """
    known = np.where(np.isnan(values), -np.inf, values)
    worst = known.max(axis=(0, 2), keepdims=True)
    return np.where(np.isnan(values), np.where(np.isfinite(worst), worst, 0.0), values)

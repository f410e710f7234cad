"""Flights of a campaign with unknowns, by their draws: all flights of a draw are by one boat of those that there may be.

Flights of one draw are alike in all conditions, so neither conditions nor replicates tell apart what chance did: the draws are
the independent units, as clusters of a survey are (Cochran, Sampling Techniques, 3rd edition, 1977, chapter 9; cited from
memory). A draw's mean over its conditions and replicates stands for it, and intervals follow from how these means differ.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sweep.insight.intervals import Array

if TYPE_CHECKING:
    from sweep.campaign.unknowns import Unknowns


def by_draw(values: Array, unknowns: Unknowns | None, first: int = 0) -> Array:
    """The mean of each draw, as if it were a replicate in one condition, (designs, 1, draws); the values without unknowns.

    values: (designs, conditions, replicates), NaN where nothing was flown; first: number of the first replicate. A draw that
    was not flown whole is NaN.
    """
    if unknowns is None:
        return values
    pairs = min(max(unknowns.shared - first, 0), values.shape[2]) // unknowns.waves * unknowns.waves
    own = values[:, :, :pairs].reshape(*values.shape[:2], -1, unknowns.waves)
    return np.concatenate([own.mean(axis=3).mean(axis=1), values[:, :, pairs:].mean(axis=1)], axis=1)[:, None]


def draws_in(replicates: int, unknowns: Unknowns | None) -> int:
    """How many units so many first replicates are: draws, or replicates without unknowns."""
    return replicates if unknowns is None else len({unknowns.draw_of(each) for each in range(replicates)})


def replicates_of(unit: int, unknowns: Unknowns) -> list[int]:
    """The replicates of one draw, by its place among all."""
    pairs = unknowns.shared // unknowns.waves
    return [*range(unit * unknowns.waves, (unit + 1) * unknowns.waves)] if unit < pairs else [unit - pairs + unknowns.shared]


def design_effect(events: Array, exposure: Array) -> float:
    """How many times the counts of a draw vary more than those of independent flights would; at least 1.

    events, exposure: of each design and draw, (designs, draws): counts and what they are counted in, time or flights. The
    variance of a ratio over clusters, over that of a Poisson count of the same mean, of all designs together (Rao & Scott,
    Biometrics 48, 1992, 577-585; cited from memory): counts and exposures over it are as good as independent ones.
    """
    draws = events.shape[1]
    total = exposure.sum(axis=1, keepdims=True)
    if draws < 2 or not events.sum() > 0.0:
        return 1.0
    with np.errstate(divide="ignore", invalid="ignore"):
        rate = np.nan_to_num(events.sum(axis=1, keepdims=True) / total)
    seen = draws / (draws - 1.0) * ((events - rate * exposure) ** 2).sum()
    return float(max(seen / events.sum(), 1.0))

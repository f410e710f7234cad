"""What the choice hangs on: which unknown, if it were measured first, would change which boat is best, and by how much.

The value of knowing an unknown is what a choice made for each of its values gains over one choice for all of them (expected
value of partial perfect information). Scores are regressed on the unknown, as Strong, Oakley & Brennan do (Medical Decision
Making 34, 2014, 311-326; cited from memory), here by a line. What to change to in a draw is told by all others, for a choice
that is judged by what it was made from always gains. What it is changed from is the best of all draws, which flatters that one:
gains are rather too small than too large.

Whether there is anything to it: the same with the unknown's numbers shuffled over the draws, many times. Where scores do not
depend on the unknown, each order is as likely as the true one (a permutation test, exact; Fisher, The Design of Experiments,
1935). The risk is shared among the unknowns (Bonferroni).
"""

from __future__ import annotations

from collections.abc import Hashable
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from sweep.insight.by_draw import by_draw, draws_in, replicates_of
from sweep.insight.intervals import CONFIDENCE, Array, estimate
from sweep.model.onboard.noise import generator

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sweep.campaign.campaign import Campaign
    from sweep.insight.builds import Builds

LEAST_DRAWS = 12
"""Fewer draws tell nothing (judgement: with 12 a choice that truly flips is named in half of the campaigns)."""
ORDERS = 399
"""Shuffled orders of the draws, at least (judgement)."""
MOST_CHOICES = 100
"""Choices that are looked at, the first by mean score (judgement)."""
CAUTION = 1.0
"""Standard errors by which another choice must seem better to be taken (judgement)."""
COLUMNS = ("unknown", "draws", "changes", "gain", "gain_low", "chance", "told", "below", "above")
"""changes: share of the draws in which knowing it changes the choice; gain: of the score, over all draws, and at least;
chance: how likely so much is without any dependence; told: whether that is little enough; below, above: the designs that are
best for little and for much of it."""


def hangs_on(campaign: Campaign, scores: Array, usable: NDArray[np.bool_], boats: Builds) -> pd.DataFrame:
    """What the choice of a campaign hangs on, `COLUMNS`, an unknown a row; chance is NaN with too few draws to tell.

    scores: (designs, conditions, replicates), NaN where nothing was flown; usable: designs that broke no limit; boats: with
    their own scores where settings are chosen anew in each draw, which are then the choices.
    """
    unknowns = campaign.unknowns
    if unknowns is None:
        return pd.DataFrame(columns=list(COLUMNS))
    choices, designs = _choices(campaign, scores, usable, boats)
    draws = [unknowns.draw_of(replicates_of(unit, unknowns)[0]) for unit in range(choices.shape[1])]
    numbers = np.array([unknowns.numbers(campaign.flight.seed, draw) for draw in draws]).reshape(len(draws), -1).T
    rows = []
    for unknown, across in zip(unknowns.each, numbers, strict=True):
        told = _told(choices, across, campaign.flight.seed, len(unknowns.each), designs)
        rows.append({"unknown": unknown.label, "draws": len(draws), **told})
    return pd.DataFrame(rows)[list(COLUMNS)]


def _choices(campaign: Campaign, scores: Array, usable: NDArray[np.bool_], boats: Builds) -> tuple[Array, NDArray[np.int64]]:
    """Scores of what there is to choose from in each draw, (choices, draws), and the design that each is or is best as."""
    if len(boats.own):
        mean = np.where(boats.possible, boats.own.mean(axis=1), np.inf)
        kept = np.sort(mean.argsort(kind="stable")[:MOST_CHOICES])
        kept = kept[np.isfinite(mean[kept])]
        return boats.own[kept], boats.designs[kept]
    units = by_draw(scores, campaign.unknowns)[:, 0]
    flown = units[:, np.isfinite(units[0])]
    whole = np.flatnonzero(usable & np.isfinite(flown).all(axis=1))
    if len(whole) < 2:  # nobody flew on beside the base craft
        flown = units[:, : draws_in(campaign.replicates, campaign.unknowns)]
        whole = np.flatnonzero(usable & np.isfinite(flown).all(axis=1))
    kept = np.sort(whole[flown[whole].mean(axis=1).argsort(kind="stable")[:MOST_CHOICES]])
    return flown[kept], kept


def _told(choices: Array, across: Array, seed: int, unknowns: int, designs: NDArray[np.int64]) -> dict[str, Any]:
    """One row of the table, without its names; across: the unknown's numbers, (draws,)."""
    nothing: dict[str, Any] = dict.fromkeys(("changes", "gain", "gain_low", "chance"), np.nan)
    if len(across) < LEAST_DRAWS or len(choices) < 2 or not np.ptp(across) > 0.0:
        return nothing | {"told": False, "below": -1, "above": -1}
    risk = (1.0 - CONFIDENCE) / unknowns
    orders = max(ORDERS, int(4.0 / risk))
    shuffled = [generator(seed, "hanging", order, "order").permutation(across) for order in range(orders)]
    gains, changed = gains_of_knowing(choices, np.stack([across, *shuffled]))
    means, found = gains.mean(axis=1), estimate(gains[:1, None])
    chance = (1.0 + float((means[1:] >= means[0] - 1e-12).sum())) / (orders + 1.0)
    half = float(found.half_width(1.0 - CONFIDENCE)[0])
    best = int(choices.mean(axis=1).argmin())
    ends = (_better(choices, best, across[None], np.array([place])) for place in np.quantile(across, (0.1, 0.9)))
    below, above = (int(designs[end[0]]) for end in ends)
    return {
        "changes": float(changed[0].mean()),
        "gain": float(means[0]),
        "gain_low": float(means[0]) - half,
        "chance": chance,
        "told": bool(chance <= risk and means[0] > 0.0 and below != above),
        "below": below,
        "above": above,
    }


def gains_of_knowing(choices: Array, orders: Array) -> tuple[Array, NDArray[np.bool_]]:
    """What knowing an unknown gains in each draw, and whether it changes the choice there, told by all other draws.

    choices: scores, (choices, draws), less is better; orders: numbers of the unknown, (orders, draws). Returns (orders, draws)
    each.
    """
    count, best = choices.shape[1], int(choices.mean(axis=1).argmin())
    gains, changed = np.zeros(orders.shape), np.zeros(orders.shape, dtype=np.bool_)
    for draw in range(count):
        others = np.arange(count) != draw
        better = _better(choices[:, others], best, orders[:, others], orders[:, draw])
        gains[:, draw] = choices[best, draw] - choices[better, draw]
        changed[:, draw] = better != best
    return gains, changed


def _better(choices: Array, best: int, orders: Array, at: Array) -> NDArray[np.int64]:
    """The choice that is surely enough better than one of them at a number of the unknown, or that one; (orders,)."""
    draws = choices.shape[1]
    apart = choices - choices[best]
    mean, middle = apart.mean(axis=1), orders.mean(axis=1)
    apart, x = apart - mean[:, None], orders - middle[:, None]
    squares, off = (x * x).sum(axis=1), at - middle
    slopes = (apart @ x.T) / squares
    left = np.maximum((apart * apart).sum(axis=1)[:, None] - slopes**2 * squares, 0.0) / (draws - 2)
    error = np.sqrt(left * (1.0 / draws + off**2 / squares))
    least = mean[:, None] + slopes * off + CAUTION * error
    least[best] = 0.0
    return np.asarray(least.argmin(axis=0))


def too_few(table: pd.DataFrame) -> bool:
    """Whether there are too few draws to tell anything."""
    return bool(table["chance"].isna().all())


def first_to_measure(table: pd.DataFrame) -> list[dict[Hashable, Any]]:
    """The unknowns on which the choice hangs, the largest gain first."""
    return table[table["told"].astype(bool)].sort_values("gain", ascending=False).to_dict("records")

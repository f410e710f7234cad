"""What to try next: small changes of the leading craft, predicted from the table and then flown; and how much poorer its parts
may be.

All variants of a craft fly side by side with it through fresh replicates, so that each is compared block by block. Intervals of
what was flown hold jointly for all variants of a group (Bonferroni).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd
from pydantic import ValidationError

from sweep.campaign.addresses import replace_values, value_at
from sweep.campaign.designs import craft_of
from sweep.campaign.follow_up_plan import first_fresh
from sweep.campaign.rules import broken_by
from sweep.flying.flights import fly_crafts
from sweep.flying.ride_map import clean
from sweep.flying.work import Work
from sweep.insight.by_draw import by_draw
from sweep.insight.intervals import CONFIDENCE, estimate
from sweep.insight.nearby import Foretold, Step, foretell, small_steps
from sweep.insight.rank import over_cost
from sweep.insight.scores import Scoring
from sweep.model.compiled import LANES
from sweep.results.tables import CHANGES
from sweep.words.numbers import with_unit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft

SIDE_BY_SIDE = LANES - 1
"""Variants that fly beside the leader in the lanes of one batch."""
NEXT, POORER, BALANCE = "next", "poorer", "balance"
UNITS = {
    "rangefinders.latency": "ms",
    "rangefinders.noise": "mm",
    "rangefinders.rate": "Hz",
    "servos.rate": "deg/s",
    "servos.bandwidth": "rad/s",
    "servos.travel": "deg",
    "body.x": "cm",
}
POORER_BY = {
    "rangefinders.latency": (1.5, 2.0, 3.0),
    "rangefinders.noise": (2.0, 4.0),
    "rangefinders.rate": (0.5, 0.25),
    "servos.rate": (0.5, 0.25, 0.125),
    "servos.bandwidth": (0.5, 0.25),
    "servos.travel": (0.75, 0.5),
}
"""What a cheaper sensor or servo is worse by, times what the leader has (judgement)."""
SHIFTS = (-0.06, -0.04, -0.02, -0.01, 0.01, 0.02, 0.04, 0.06)
"""Of the centre of gravity, shares of the longest hull (judgement)."""


class Variant(NamedTuple):
    """A craft that differs from the leader in one thing, or in two: what, in words, and the predicted gain (NaN if none)."""

    group: str
    label: str
    was: str
    becomes: str
    craft: Craft
    predicted: tuple[float, float, float] = (np.nan, np.nan, np.nan)


def next_variants(
    campaign: Campaign, designs: pd.DataFrame, scores: NDArray[np.float64], broken: Sequence[int], leader: int
) -> list[Variant]:
    """Small changes of the leader's factors, the most promising first, and the two best together.

    scores: (designs, conditions, replicates), NaN where nothing was flown.
    """
    usable: NDArray[np.bool_] = np.isfinite(scores).sum(axis=(1, 2)) > 0
    usable[list(broken)] = False
    usable[leader] = True
    base = craft_of(campaign, designs.iloc[leader])
    known = by_draw(scores, campaign.unknowns)
    steps = [(step, foretell(known, leader, step.weights)) for step in small_steps(campaign.factors, designs, usable, leader)]
    steps = sorted((each for each in steps if np.isfinite(each[1].gain)), key=lambda each: -each[1].gain)
    found = [variant for step, told in steps if (variant := _stepped(campaign, designs, base, leader, [step], tuple(told)))]
    best: dict[str, tuple[Step, Foretold]] = {}
    for step, told in steps:
        if told.gain > 0.0:
            best.setdefault(step.label, (step, told))
    pair = list(best.values())[:2]
    if len(pair) == 2:
        both = sum(told.gain for _, told in pair)
        combined = _stepped(campaign, designs, base, leader, [step for step, _ in pair], (both, np.nan, np.nan))
        found = [*found[: SIDE_BY_SIDE - 1], *([combined] if combined else [])]
    return found[:SIDE_BY_SIDE]


def _stepped(
    campaign: Campaign, designs: pd.DataFrame, base: Craft, leader: int, steps: list[Step], told: tuple[float, ...]
) -> Variant | None:
    """The variant of some steps; None if there is no such craft, or if it breaks a rule."""
    factors = [campaign.factors[step.label] for step in steps]
    values: dict[str, Any] = {}
    for step, factor in zip(steps, factors, strict=True):
        values |= factor.values(step.value)
    craft = _changed(campaign, base, values)
    if craft is None:
        return None
    was = [_said(float(designs[step.label].iloc[leader]), factor.unit) for step, factor in zip(steps, factors, strict=True)]
    becomes = [_said(step.value, factor.unit) for step, factor in zip(steps, factors, strict=True)]
    label = " and ".join(step.label for step in steps)
    return Variant(NEXT, label, " and ".join(was), " and ".join(becomes), craft, (told[0], told[1], told[2]))


def _changed(campaign: Campaign, base: Craft, values: Mapping[str, float]) -> Craft | None:
    """The craft with other values; None if there is none, or if it breaks a rule or a limit of its cost."""
    try:
        craft = replace_values(base, values)
    except ValidationError:
        return None
    return None if broken_by(campaign.rules, craft) or over_cost(campaign.cost_limits, craft) else craft


def _said(value: float, unit: str) -> str:
    from sweep.campaign.text.dimensions import in_unit

    return with_unit(in_unit(value, unit) if unit else value, unit)


def worse_variants(campaign: Campaign, base: Craft) -> Iterator[Variant]:
    """Cheaper sensors and servos, one property at a time, and the centre of gravity moved fore and aft."""
    for address, shares in POORER_BY.items():
        for each in _held_at(base, address):
            now, unit = float(value_at(base, each)), UNITS[address]
            for share in shares:
                craft = _changed(campaign, base, {each: share * now})
                if craft is not None and now > 0.0:
                    yield Variant(POORER, each, _said(now, unit), _said(share * now, unit), craft)
    length = max(hull.length for hull in base.hulls.values())
    for share in SHIFTS:
        craft = _changed(campaign, base, {"body.x": base.body.x + share * length})
        if craft is not None:
            yield Variant(BALANCE, "body.x", _said(base.body.x, "cm"), _said(base.body.x + share * length, "cm"), craft)


def _held_at(craft: Craft, address: str) -> list[str]:
    """Where a property is: of rangefinders that are each by itself, at each that has its own."""
    group, _, name = address.partition(".")
    return craft.rangefinders.addresses(name) if group == "rangefinders" else [address]


def fly_variants(work: Work, leader: int, variants: Sequence[Variant], replicates: Sequence[int]) -> pd.DataFrame:
    """Fly variants beside the leader in these replicates; rows as of `fly_crafts`, the leader first among the crafts."""
    crafts = [craft_of(work.campaign, work.designs.iloc[leader]), *(variant.craft for variant in variants)]
    return fly_crafts(work.campaign, crafts, work.conditions, replicates, work.workers, work.watcher.flown)


def compared(campaign: Campaign, leader: int, variants: Sequence[Variant], rows: pd.DataFrame, base: Craft) -> pd.DataFrame:
    """What came of variants beside the leader, whose craft is the base, from the rows of both in the same blocks; one row a
    variant, `CHANGES`.

    gain: of the score, what is better is positive; clean, clean_before: share of flights without a bad event, of the variant
    and of the leader; flights: of each.
    """
    scoring = Scoring.of(campaign, [base, *(variant.craft for variant in variants)])
    rows = rows.assign(score=scoring.scores(rows), clean=clean(rows))
    shape = (len(variants) + 1, rows["condition"].nunique(), rows["replicate"].nunique())
    scores = rows.sort_values(["design", "condition", "replicate"])["score"].to_numpy().reshape(shape)
    shares = rows.groupby("design")["clean"].mean().to_numpy()
    groups = pd.Series([variant.group for variant in variants])
    found = estimate(by_draw(scores[:1] - scores[1:], campaign.unknowns, first_fresh(campaign)))
    risk = (1.0 - CONFIDENCE) / groups.map(groups.value_counts()).to_numpy(dtype=np.float64)
    half = np.array([found.half_width(each / 2.0)[at] for at, each in enumerate(risk)])
    told = [
        (each.group, leader, each.label, each.was, each.becomes, *each.predicted, gain, gain - width, gain + width, share)
        for each, gain, width, share in zip(variants, found.mean, half, shares[1:], strict=True)
    ]
    return pd.DataFrame([(*row, shares[0], shape[1] * shape[2]) for row in told], columns=list(CHANGES))

"""What worse conditions, and a boat that is not quite as described, do to the score of a design."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from sweep.insight.by_draw import by_draw
from sweep.insight.intervals import TAIL, Array, estimate

if TYPE_CHECKING:
    from sweep.campaign.unknowns import Unknowns

COSTS = ("cost", "low", "high")
"""What the score rises by (less is better), and its interval: those of all deviations of a design, or of all levels of a
condition, hold together with 95 % confidence (Bonferroni), for the largest is picked out of them."""


def tolerance_costs(flights: pd.DataFrame, unknowns: Unknowns | None = None) -> pd.DataFrame:
    """The cost of each deviation to each design, flight by flight beside the craft as described in the same waves.

    flights: design, off, side, condition, replicate and score; the craft as described has the side ''. Returns design, off,
    side and `COSTS`, in the order of the flights. unknowns: what the flights' draws are of.
    """
    rows, first = [], int(flights["replicate"].min()) if len(flights) else 0
    shape = (flights["condition"].nunique(), flights["replicate"].nunique())
    for design, own in flights.groupby("design", sort=False):
        crafts = {
            key: part.sort_values(["condition", "replicate"])["score"].to_numpy(float).reshape(shape)
            for key, part in own.groupby(["off", "side"], sort=False)
        }
        described = next(scores for (_, side), scores in crafts.items() if side == "")
        for (off, side), scores in crafts.items():
            if side:
                costs = _costs(scores - described, len(crafts) - 1, unknowns, first)
                rows.append({"design": design, "off": off, "side": side, **costs})
    return pd.DataFrame(rows, columns=["design", "off", "side", *COSTS])


def condition_costs(
    scores: Array, levels: Sequence[object], unknowns: Unknowns | None = None, often: Array | None = None
) -> list[dict[str, object]]:
    """What each level of a condition costs a design against its mean over all conditions.

    scores: of one design, (conditions, replicates); levels: of each condition, (conditions,): its sea, heading, speed or fault;
    often: how much each condition counts, (conditions,), by default all alike.
    Returns level and `COSTS` for each level, in order; none where there is only one.
    """
    found = list(dict.fromkeys(levels))
    if len(found) < 2:
        return []
    often = np.ones(len(levels)) if often is None else often
    there = often * np.array([[level == each for level in levels] for each in found], dtype=np.float64)
    weights = there / there.mean(axis=1, keepdims=True) - often / often.mean()
    looks = len(found)
    return [
        {"level": level, **_costs(scores * weight[:, None], looks, unknowns)}
        for level, weight in zip(found, weights, strict=True)
    ]


def best_by_side(flights: pd.DataFrame, off: str, unknowns: Unknowns | None = None) -> dict[str, int]:
    """The design with the least mean score for each side of one way of being off, '' as described; fewer than two: none.

    Another than the best as described only if it is surely better, with 95 % confidence wave by wave. flights: as for
    `tolerance_costs`.
    """
    if flights["design"].nunique() < 2:
        return {}
    sides = flights[(flights["off"] == off) | (flights["side"] == "")]
    shape, waves = (flights["condition"].nunique(), flights["replicate"].nunique()), int(flights["replicate"].min())
    scores = {
        (str(side), int(part["design"].iloc[0])): part.sort_values(["condition", "replicate"])["score"]
        .to_numpy(float)
        .reshape(shape)
        for (side, _), part in sides.groupby(["side", "design"], sort=False)
    }
    designs = list(dict.fromkeys(design for _, design in scores))
    first = min(designs, key=lambda design: scores["", design].mean())
    best = {"": first}
    for side in dict.fromkeys(side for side, _ in scores if side):
        rival = min((design for design in designs if (side, design) in scores), key=lambda each: scores[side, each].mean())
        known = (side, first) in scores
        surely = known and _costs(scores[side, first] - scores[side, rival], 1, unknowns, waves)["low"] > 0.0
        best[side] = rival if surely else first
    return best


def _costs(differences: Array, looks: int, unknowns: Unknowns | None, first: int = 0) -> dict[str, float]:
    """Mean over conditions and replicates with its interval, as one of so many.

    differences: (conditions, replicates), from number `first` on.
    """
    found = estimate(by_draw(differences[None], unknowns, first))
    mean, half = float(found.mean[0]), float(found.half_width(TAIL / looks)[0])
    return dict(zip(COSTS, (mean, mean - half, mean + half), strict=True))

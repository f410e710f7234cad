"""Places from the scores of all flights, and how sure they are.

All designs met the same sea and the same noise in a block (condition, replicate), so they are compared block by block.
Smaller scores are better. Scores come as an array (designs, conditions, replicates) without holes; design 0 is the base craft.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.insight.intervals import CONFIDENCE, TAIL, Array, estimate

Flags = NDArray[np.bool_]
Places = NDArray[np.int64]

ONE_REPLICATE = (
    "One replicate in each condition: the places are those of these very waves, and nothing tells how far chance moved them."
)


class AgainstBest(NamedTuple):
    """Every design against the best one; each (designs,).

    low, high: simultaneous interval of its score less that of the best of the others, drawn in to zero (Hsu 1984).
    level: it may be the best, as far as these flights tell.
    place_low, place_high: the places that it may truly have.
    """

    low: Array
    high: Array
    level: Flags
    place_low: Places
    place_high: Places


def compare_with_best(scores: Array) -> AgainstBest:
    """Multiple comparisons with the best, paired by block.

    scores: (designs, conditions, replicates). Hsu's constrained intervals (Annals of Statistics 12, 1984, 1136-1144), with each
    difference's own error (Edwards & Hsu, Journal of the American Statistical Association 78, 1983, 965-971) and Bonferroni's
    bound on the joint risk. Every design is compared with the one of the best mean score only: fewer comparisons can only make
    the level group larger. Errors are moderated across designs.

    Places: joint intervals of the differences are laid beside each other, and a design is surely behind those whose interval
    ends before its own begins (Klein, Wright & Wieczorek, Journal of the Royal Statistical Society C 69, 2020, 589-606; all
    cited from memory): sorting, so n log n. With two replicates a failure that has not shown yet can fool them.
    """
    count = len(scores)
    if count < 2 or scores.shape[2] < 2:
        return _nothing_known(count)
    best = int(scores.mean(axis=2).mean(axis=1).argmin())
    others = np.delete(np.arange(count), best)
    behind = estimate(scores[others] - scores[best], share_spreads=True)
    risk = (1.0 - CONFIDENCE) / len(others)
    reach = behind.half_width(risk)
    low = np.insert(np.minimum(behind.mean - reach, 0.0), best, min(-(behind.mean + reach).min(), 0.0))
    high = np.insert(np.maximum(behind.mean + reach, 0.0), best, max(-(behind.mean - reach).min(), 0.0))
    level = np.insert(behind.mean - reach <= 0.0, best, True)
    reach = behind.half_width(risk / 2.0)
    place_low, place_high = places(np.insert(behind.mean - reach, best, 0.0), np.insert(behind.mean + reach, best, 0.0))
    return AgainstBest(low, high, level, place_low, place_high)


def _nothing_known(count: int) -> AgainstBest:
    unknown = np.full(count, np.nan)
    return AgainstBest(unknown, unknown, np.ones(count, dtype=bool), np.ones(count, dtype=np.int64), np.full(count, count))


def places(low: Array, high: Array) -> tuple[Places, Places]:
    """First and last place that joint intervals leave to each design."""
    surely_before = np.searchsorted(np.sort(high), low, side="left")
    surely_behind = len(low) - np.searchsorted(np.sort(low), high, side="right")
    return surely_before + 1, len(low) - surely_behind


def rank(scores: Array, broken: Flags) -> pd.DataFrame:
    """Places of all designs, with intervals.

    scores: (designs, conditions, replicates); broken: (designs,), true where a limit is broken: those are not ranked, have no
    place, and stand behind the others by score. Returns one row a design in that order, with the columns design, place,
    place_low, place_high, score, score_low, score_high, gain, gain_low, gain_high, behind_low, behind_high, level_with_best.
    With one replicate intervals are NaN and every place is open (`ONE_REPLICATE`).
    """
    own, gain = estimate(scores), estimate(scores[:1] - scores)
    order = np.lexsort((np.arange(len(scores)), own.mean, broken))
    table = pd.DataFrame({"design": order}).join(_placed(scores, broken), on="design")
    table.insert(1, "place", pd.Series(np.arange(1, len(order) + 1), dtype="Int64"))
    table.loc[broken[order], "place"] = pd.NA
    for at, (name, found) in zip((4, 7), (("score", own), ("gain", gain)), strict=True):
        centre, width = found.mean[order], found.half_width(TAIL)[order]
        table.insert(at, name, centre)
        table.insert(at + 1, f"{name}_low", centre - width)
        table.insert(at + 2, f"{name}_high", centre + width)
    return table


def _placed(scores: Array, broken: Flags) -> pd.DataFrame:
    """The designs that are ranked, compared with the best of them; one row a design, empty for the others."""
    rows = np.flatnonzero(~broken)
    found = compare_with_best(scores[rows])
    table = pd.DataFrame(found._asdict(), index=rows).reindex(range(len(scores)))
    table = table.rename(columns={"low": "behind_low", "high": "behind_high", "level": "level_with_best"})
    table["level_with_best"] = table["level_with_best"].eq(True)
    table = table.astype({"place_low": "Int64", "place_high": "Int64"})
    return table[["place_low", "place_high", "behind_low", "behind_high", "level_with_best"]]


def standings(scores: Array, verdicts: pd.DataFrame, failed: Array, means: Mapping[str, Array]) -> pd.DataFrame:
    """The standings: `rank` with verdicts, flights, share of failed flights and mean responses, one row a design by place.

    verdicts: columns verdict and reason, one row a design; failed: share of its flights that ended early or did not start,
    (designs,); means: response name -> mean over its flights in SI, (designs,).
    """
    table = rank(scores, (verdicts["verdict"] == "broken").to_numpy())
    designs = table["design"].to_numpy()
    for column in ("verdict", "reason"):
        table[column] = verdicts[column].to_numpy()[designs]
    table["flights"] = scores.shape[1] * scores.shape[2]
    table["failed"] = failed[designs]
    return table.assign(**{name: values[designs] for name, values in means.items()})


def ranked(standings: pd.DataFrame) -> pd.DataFrame:
    """The designs that broke no limit, best first."""
    return standings[standings["verdict"] != "broken"].sort_values(["place", "design"])


def certain(standings: pd.DataFrame) -> bool:
    """Whether there are intervals: with one replicate there are none, and every design could be the best."""
    return bool(standings["score_low"].notna().any())

"""Two seasons of the same seas: whether each chooses its own boat, and whether that is right in a long truth.

    python -m tests.benchmarks.seasons TRUTH.npz ...

A truth is what `python -m tests.benchmarks.advice fly` keeps. Two seasons weigh its conditions: the first half of them nine
times as often as the second, and the other way round. The truth's replicates are cut into small campaigns, which are ranked
under both. Told are: which design is truly the best of each season; how often the two first places differ; by what share of the
best score a first place is off in its own season, and in the other one; and how often the interval of a first place's score
holds its true score, and the group that may be the best the truly best.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.insight.failing import FailureCounts
from sweep.insight.limits import LimitCounts, judge, verdicts
from sweep.insight.rank import within
from sweep.insight.ranking import standings
from sweep.model.quantities import FLEW
from tests.benchmarks.advice import Truth, load

REPLICATES = (2, 4)
OFTEN = 9.0

Floats = NDArray[np.float64]


class Followed(NamedTuple):
    """Of a small campaign in a season: its first place, what that is off by in both seasons' truths, whether the interval of
    its score holds its true score, and the group the truly best."""

    first: int
    own: float
    other: float
    holds: bool
    grouped: bool


def seasons_of(conditions: int) -> tuple[Floats, Floats]:
    """Two seasons, each 1 on average."""
    first = np.where(np.arange(conditions) < conditions / 2, OFTEN, 1.0)
    return first / first.mean(), first[::-1] / first.mean()


def ranked(some: Truth, season: Floats) -> pd.DataFrame:
    """The standings of these flights in a season, as `rank_flights` makes them."""
    designs, conditions, _ = some.scores.shape
    counts, failures = LimitCounts(some.campaign.limits, designs, conditions), FailureCounts(designs, conditions, season)
    counts.season = season
    at = np.indices(some.scores.shape).reshape(3, -1)
    rows = pd.DataFrame({"design": at[0], "condition": at[1], "status": some.status.ravel()})
    rows = rows.assign(time_foilborne=some.foilborne.ravel(), **{name: each.ravel() for name, each in some.limits.items()})
    counts.add(rows)
    failures.add((at[0], at[1], at[2]), some.status.ravel() != FLEW, some.scores.ravel())
    names = [str(condition) for condition in range(conditions)]
    summed = verdicts(judge(counts, some.campaign.flight.scored), some.campaign.limits, names, designs)
    scores, failed = some.scores * season[:, None], failures.failures()
    return standings(scores, summed, failed.share(), {}, failed, within(some.campaign, scores.mean(axis=(1, 2))))


def true_scores(truth: Truth, season: Floats) -> Floats:
    """The season's mean score of each design in the truth, (designs,)."""
    return np.asarray((truth.scores.mean(axis=2) * season).mean(axis=1))


def follow(truth: Truth, cut: Truth, own: Floats, other: Floats) -> Followed:
    """What a small campaign says in a season, done in the truth."""
    true, elsewhere = true_scores(truth, own), true_scores(truth, other)
    table = ranked(cut, own)
    first = table.iloc[0]
    design = int(first["design"])
    allowed = table.loc[
        table["verdict"] != "broken", "design"
    ].to_numpy()  # compared with those that these flights do not refuse
    best, best_there = true[allowed].min(), elsewhere[allowed].min()
    truly = int(allowed[true[allowed].argmin()])
    grouped = bool(table.set_index("design").loc[truly, "may_be_best"])
    holds = bool(first["score_low"] <= true[design] <= first["score_high"])
    return Followed(design, true[design] / best - 1.0, elsewhere[design] / best_there - 1.0, holds, grouped)


def main(paths: list[str]) -> None:
    """Print a line a truth and number of replicates."""
    for path in map(Path, paths):
        truth = load(path)
        flown = np.isfinite(truth.scores).all(axis=(0, 1))
        truth = truth.some(slice(0, int(flown.sum())))
        one, two = seasons_of(truth.scores.shape[1])
        best = [int(true_scores(truth, season).argmin()) for season in (one, two)]
        print(f"\n{path.stem}: truly best {best[0]} in one season, {best[1]} in the other")
        for replicates in REPLICATES:
            starts = range(0, truth.scores.shape[2] - replicates + 1, replicates)
            cuts = [truth.some(slice(start, start + replicates)) for start in starts]
            firsts = [(follow(truth, cut, one, two), follow(truth, cut, two, one)) for cut in cuts]
            differ = sum(a.first != b.first for a, b in firsts)
            both = [each for pair in firsts for each in pair]
            own, other = (100.0 * float(np.mean([getattr(each, name) for each in both])) for name in ("own", "other"))
            holds, grouped = (sum(getattr(each, name) for each in both) for name in ("holds", "grouped"))
            print(
                f"  {replicates} replicates: first places differ in {differ} of {len(cuts)}; off by {own:.1f} % in its own "
                f"season, by {other:.1f} % in the other; score in its interval {holds} of {len(both)}, truly best in the "
                f"group {grouped} of {len(both)}"
            )


if __name__ == "__main__":
    main(sys.argv[1:])

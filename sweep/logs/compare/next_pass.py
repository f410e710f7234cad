"""What flying next would change most: one more pass, with which set-up, which way and in which sea."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import product
from typing import NamedTuple

import numpy as np
from scipy.stats import t as student

from sweep.insight.intervals import CONFIDENCE
from sweep.logs.compare.comparison import PRIOR_PASSES, Pass, Split, doubt_of_seas, terms_of
from sweep.logs.compare.expect import Expected


class NextPass(NamedTuple):
    """One more pass: its set-up, its group (heading and speed) and sea (m, s), the measure whose effect it narrows most.

    before, after: half of that effect's interval, of its logarithm.
    """

    setup: str
    group: int
    height: float
    period: float
    measure: str
    before: float
    after: float


def next_pass(
    passes: Mapping[str, Sequence[Pass]], expected: Sequence[Expected], splits: Mapping[str, Split], model_off: float
) -> NextPass | None:
    """The pass that narrows the least certain effect most; None without a split, or where no pass narrows it.

    The seas tried are those that the two set-ups met on the mean: a sea nobody has seen cannot be ordered.
    """
    if not splits:
        return None
    name = max(splits, key=lambda each: reach_of(splits[each]))
    found, first, second = splits[name], splits[name].first, splits[name].second
    mine = [one for one in passes[name] if one.setup in (first, second)]
    seas = [_mean_sea([one for one in mine if one.setup == setup]) for setup in (first, second)]
    best: NextPass | None = None
    for setup, group, sea in product((second, first), sorted({one.group for one in mine}), seas):
        more = [*mine, Pass(setup, 1.0, *sea, group)]
        after = _reach(more, expected, found, name, model_off)
        if after < (best.after if best else reach_of(found)):
            best = NextPass(setup, group, *sea, name, reach_of(found), after)
    return best


def reach_of(found: Split) -> float:
    """Half of an effect's interval, of its logarithm."""
    return 0.5 * (math.log1p(found.relative.high) - math.log1p(found.relative.low))


def _mean_sea(passes: Sequence[Pass]) -> tuple[float, float]:
    height, period = np.exp(np.mean(np.log([[one.height, one.period] for one in passes]), axis=0)).tolist()
    return height, period


def _reach(passes: Sequence[Pass], expected: Sequence[Expected], found: Split, name: str, model_off: float) -> float:
    """The same as `reach_of`, if a pass scatters as those so far did."""
    is_second = np.array([one.setup == found.second for one in passes])
    terms, _ = terms_of(passes, is_second)
    spread = found.scatter * math.sqrt(float(np.linalg.inv(terms.T @ terms)[-1, -1]))
    doubt = doubt_of_seas(passes, is_second, expected, name, model_off)
    freedom = PRIOR_PASSES + len(passes) - terms.shape[1]
    return float(student.ppf(0.5 + 0.5 * CONFIDENCE, freedom)) * math.hypot(spread, doubt)

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

from sweep.insight.failing import Failing, Failures, unfailing
from sweep.insight.good_enough import (
    HALF,
    MOST_CONTENDERS,
    USUAL,
    Flags,
    ShareOfBest,
    failing_high,
    first_of,
    good_enough,
    may_be_best,
    share_of_best,
    unknown_shares,
)
from sweep.insight.intervals import CONFIDENCE, TAIL, Array, estimate
from sweep.insight.scores import CAP

Places = NDArray[np.int64]

SKEW = 1.5
"""Upper ends of joint distances, and lower ends of joint gains, are so much wider than Student's (judgement): what rides badly
does so in few of its waves, which a short campaign may not have met. In those cut from long truths all misses were at that
end."""

SKEW_OF_ONE = 1.25
"""The upper end of one design's score, likewise (judgement): in campaigns of three to eight replicates cut from eight long
truths 3.7 % of the true scores were above Student's end, where 2.5 % belong, and 1.2 % below; so widened, it is 2.3 %."""

ONE_REPLICATE = (
    "One replicate in each condition: the places are those of these very waves, and nothing tells how far chance moved them."
)


class AgainstBest(NamedTuple):
    """Every design against the best one; each (designs,).

    may_be_best: as far as these flights tell; place_low, place_high: the places that it may truly have.
    """

    may_be_best: Flags
    place_low: Places
    place_high: Places


def compare_with_best(scores: Array, eligible: Flags, failing: Failing | None = None) -> AgainstBest:
    """Multiple comparisons with the design of the best mean score, paired by block.

    scores: (designs, conditions, replicates); eligible: among which the best is looked for; failing: what failures leave room
    for in each score. Errors are moderated across
    designs, and every difference has its own (Edwards & Hsu, Journal of the American Statistical Association 78, 1983,
    965-971), with Bonferroni's bound on the joint risk. That design is truly no better than the best: so the best is among
    those that are not surely behind it.

    Places: joint intervals of the differences are laid beside each other, and a design is surely behind those whose interval
    ends before its own begins (Klein, Wright & Wieczorek, Journal of the Royal Statistical Society C 69, 2020, 589-606; both
    cited from memory): sorting, so n log n.
    """
    count = len(scores)
    if count < 2 or scores.shape[2] < 2:
        return AgainstBest(np.ones(count, dtype=bool), np.ones(count, dtype=np.int64), np.full(count, count))
    best, risk = first_of(scores, eligible), 1.0 - CONFIDENCE
    others = np.delete(np.arange(count), best)
    behind = estimate(scores[others] - scores[best], share_spreads=True)
    level = np.insert(~(behind.mean - behind.half_width(risk / len(others)) > 0.0), best, True)
    reach = behind.half_width(risk / (2.0 * len(others)))
    hidden, unlucky = room(failing, count, risk / (2.0 * len(others)))
    low = behind.mean - np.hypot(reach, np.hypot(hidden[best], unlucky[others]))
    high = behind.mean + np.hypot(reach, np.hypot(hidden[others], unlucky[best]))
    return AgainstBest(level, *places(np.insert(low, best, 0.0), np.insert(high, best, 0.0)))


def behind_best(scores: Array, eligible: Flags, failing: Failing | None = None) -> tuple[Array, Array]:
    """Simultaneous interval of each design's score less that of the best of the others, (designs,) each.

    scores, eligible, failing: as for `compare_with_best`. Which is the best is not known: half of the risk goes to the group
    that it is in, the other half to intervals against each of these; those against the true best are among them (Hsu, Annals of
    Statistics 12, 1984, 1136-1144; cited from memory). The upper end leaves room for `SKEW`. NaN where more than
    `MOST_CONTENDERS` may be the best, and with one replicate.
    """
    count = len(scores)
    if count < 2 or scores.shape[2] < 2:
        return np.full(count, np.nan), np.full(count, np.nan)
    contenders = np.flatnonzero(may_be_best(scores, eligible, HALF))
    hidden, unlucky = room(failing, count, HALF / (2.0 * (count - 1)))
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    if len(contenders) > MOST_CONTENDERS:
        return np.full(count, np.nan), np.full(count, np.nan)
    for best in contenders:
        found = estimate(scores - scores[best], share_spreads=True)
        # What fails now and then spreads more than the others for good reason: they may only widen its interval.
        found = found._replace(error=np.fmax(found.error, estimate(scores - scores[best]).error))
        reach = found.half_width(HALF / (2.0 * (count - 1)))
        ends = (
            found.mean - np.hypot(reach, np.hypot(hidden[best], unlucky)),
            found.mean + np.hypot(SKEW * reach, np.hypot(hidden, unlucky[best])),
        )
        others = np.arange(count) != best
        low[others], high[others] = np.minimum(low, ends[0])[others], np.maximum(high, ends[1])[others]
        low[best], high[best] = min(low[best], -ends[1][others].min()), max(high[best], -ends[0][others].min())
    return low, high


def room(failing: Failing | None, designs: int, risk: float) -> tuple[Array, Array]:
    """What failures leave room for in each score: by how much it may be too good, and too bad; (designs,)."""
    failing = failing or unfailing(designs)
    return failing.hidden(risk), failing.unlucky(risk)


def places(low: Array, high: Array) -> tuple[Places, Places]:
    """First and last place that joint intervals leave to each design."""
    surely_before = np.searchsorted(np.sort(high), low, side="left")
    surely_behind = len(low) - np.searchsorted(np.sort(low), high, side="right")
    return surely_before + 1, len(low) - surely_behind


def rank(
    scores: Array,
    broken: Flags,
    doubtful: Flags | None = None,
    failures: Failures | None = None,
    usual: float = USUAL,
) -> pd.DataFrame:
    """Places of all designs, with intervals.

    scores: (designs, conditions, replicates); broken: (designs,), true where a limit is broken: those are not ranked, have no
    place, and stand behind the others by score. doubtful: a limit is broken by the design's own flights, though not surely:
    those stand behind the others that are ranked. failures: what may not have shown yet; usual: a share of the best score to
    try. Returns one row a design in that order, with `RANK_COLUMNS`: gain_sure is what it gains at least, whichever of the
    designs is picked; above_low, above_high and riding_high are of `good_enough.ShareOfBest`. With one replicate intervals are
    NaN and every place is open (`ONE_REPLICATE`).
    """
    doubtful = np.zeros(len(scores), dtype=np.bool_) if doubtful is None else doubtful & ~broken
    own = estimate(scores).mean
    order = np.lexsort((np.arange(len(scores)), own, doubtful, broken))
    table = pd.DataFrame({"design": order, "place": pd.Series(np.arange(1, len(order) + 1), dtype="Int64")})
    table.loc[broken[order], "place"] = pd.NA
    table = table.join(_placed(scores, broken, doubtful, usual, failures), on="design").join(
        own_intervals(scores, failures), on="design"
    )
    return holding_the_place(table)[list(RANK_COLUMNS)]


def holding_the_place(table: pd.DataFrame) -> pd.DataFrame:
    """With places from place_low to place_high that hold the place, which a doubtful limit may have moved."""
    place, low, high = (table[name].astype(float) for name in ("place", "place_low", "place_high"))
    low, high = low.where(low < place, place), high.where(high > place, place)
    return table.assign(place_low=low.astype("Int64"), place_high=high.astype("Int64"))


RANK_COLUMNS = (
    "design", "place", "place_low", "place_high", "score", "score_low", "score_high", "gain", "gain_low", "gain_high",
    "gain_sure", "behind_low", "behind_high", "may_be_best", "above_low", "above_high", "riding_high",
)  # fmt: skip


def own_intervals(scores: Array, failures: Failures | None = None) -> pd.DataFrame:
    """Score and gain over the base craft with their intervals, and `gain_sure`; one row a design.

    Intervals are Student's, no narrower than what may fail without having shown leaves open, and stay on the score's scale; the
    upper end of a score leaves room for `SKEW_OF_ONE`.
    """
    own, gain, joint = estimate(scores), estimate(scores[:1] - scores), estimate(scores[:1] - scores, share_spreads=True)
    # The base craft's own chance is in every difference, so that designs tell each other too little of it.
    joint = joint._replace(error=np.fmax(joint.error, gain.error))
    reach = joint.half_width((1.0 - CONFIDENCE) / max(len(scores) - 1, 1))
    return intervals(own.mean, own.half_width(TAIL), gain.mean, gain.half_width(TAIL), reach, failures)


def intervals(score: Array, width: Array, gain: Array, apart: Array, reach: Array, failures: Failures | None) -> pd.DataFrame:
    """The columns of `own_intervals` from half the widths that the spreads leave; reach: of the gains, of all jointly."""
    hidden, unlucky = room(failures and failures.failing(score), len(score), 1.0 - CONFIDENCE)
    others = np.arange(len(score)) > 0  # nothing is better than itself
    below = np.maximum(apart, others * np.hypot(hidden, unlucky[0]))
    above = np.maximum(apart, others * np.hypot(hidden[0], unlucky))
    sure = np.hypot(np.maximum(SKEW * reach, apart), np.hypot(hidden, unlucky[0]))
    return pd.DataFrame(
        {
            "score": score,
            "score_low": np.maximum(score - np.maximum(width, unlucky), 0.0),
            "score_high": np.minimum(score + np.maximum(SKEW_OF_ONE * width, hidden), CAP),
            "gain": gain,
            "gain_low": np.maximum(gain - below, -CAP),
            "gain_high": np.minimum(gain + above, CAP),
            "gain_sure": np.where(others, np.maximum(gain - sure, -CAP), 0.0),
        }
    )


def _placed(scores: Array, broken: Flags, doubtful: Flags, usual: float, failures: Failures | None) -> pd.DataFrame:
    """The designs that are ranked, compared with the best of them; one row a design, empty for the others."""
    rows = np.flatnonzero(~broken)
    eligible = ~doubtful[rows] if (~doubtful[rows]).any() else np.ones(len(rows), dtype=np.bool_)
    own = scores[rows]
    failing = failures and failures.failing(estimate(scores).mean).some(rows)
    found, behind = compare_with_best(own, eligible, failing), behind_best(own, eligible, failing)
    clean = failures and failures.without(scores)[rows]
    above = share_of_best(own, eligible, [usual], 1, failing, clean) if len(rows) else unknown_shares(0)
    table = pd.DataFrame(found._asdict(), index=rows).assign(behind_low=behind[0], behind_high=behind[1])
    table = table.assign(above_low=above.low, above_high=above.high, riding_high=above.riding).reindex(range(len(scores)))
    table["may_be_best"] = table["may_be_best"].eq(True)
    return table.astype({"place_low": "Int64", "place_high": "Int64"})


def standings(
    scores: Array,
    verdicts: pd.DataFrame,
    failed: Array,
    means: Mapping[str, Array],
    failures: Failures | None = None,
    usual: float = USUAL,
) -> pd.DataFrame:
    """The standings: `rank` with verdicts, flights, share of failed flights and mean responses, one row a design by place.

    verdicts: of `limits.verdicts`, one row a design; failed: share of its flights that ended early or did not start,
    (designs,); means: response name -> mean over its flights in SI, (designs,); usual: the share of the best score that good
    enough means. The column good_enough says which designs surely are, and keep or probably keep their limits; failing_high is
    that of `good_enough.failing_high`.
    """
    table = rank(scores, (verdicts["verdict"] == "broken").to_numpy(), verdicts["doubtful"].to_numpy(), failures, usual)
    designs = table["design"].to_numpy()
    for column in ("verdict", "reason"):
        table[column] = verdicts[column].to_numpy()[designs]
    table = with_choice(table, scores, verdicts, failures, usual)
    table["flights"] = scores.shape[1] * scores.shape[2]
    table["failed"] = failed[designs]
    return table.assign(**{name: values[designs] for name, values in means.items()})


def with_choice(
    table: pd.DataFrame, scores: Array, verdicts: pd.DataFrame, failures: Failures | None, usual: float
) -> pd.DataFrame:
    """The table of `rank` with good_enough and failing_high; arguments as for `standings`."""
    designs = table["design"].to_numpy()
    above = ShareOfBest(*(table[name].to_numpy(float) for name in ("above_low", "above_high", "riding_high")))
    choice = good_enough(above, verdicts["probable"].to_numpy()[designs], usual)
    bounds = failing_high(choice, scores[designs], failures and failures.some(designs))
    return table.assign(good_enough=choice.good, failing_high=bounds)


def ranked(standings: pd.DataFrame) -> pd.DataFrame:
    """The designs that broke no limit, best first."""
    return standings[standings["verdict"] != "broken"].sort_values(["place", "design"])


def certain(standings: pd.DataFrame) -> bool:
    """Whether there are intervals: with one replicate there are none, and every design could be the best."""
    return bool(standings["score_low"].notna().any())

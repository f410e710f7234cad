"""Two set-ups compared fairly: how much of the difference is the water, and how much is the set-up.

Every pass is compared with what the model expects of the same craft in the sea of that pass. The set-up's part is the
difference between set-ups in the logarithm of measured over expected. The rest of the measured difference is the water's.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Literal, NamedTuple

import numpy as np
from scipy.stats import norm as normal
from scipy.stats import t as student

from sweep.insight.intervals import CONFIDENCE
from sweep.logs.compare.expect import Expected
from sweep.logs.sea.sea_state import Estimate
from sweep.model.physics.spectra import Floats

PRIOR_PASSES = 12.0  # how many passes the model's own scatter, of some twenty flights, counts for: judgement
SLOPE_DOUBT = 0.1  # of the model's slopes with the sea: judgement
PERIOD_DOUBT = 2.0
"""Of the slope with the period, times how far off the model is in size (judgement): what is off by so much at frequencies whose
logarithms are 0.5 to 0.7 apart, as those of runs out and back are, has such a slope too much or too little."""
WORTH_KNOWING = 0.1  # of the measure: a set-up that changes less is not worth more passes (judgement)
MOST_PASSES = 60
"""Of each set-up, that anybody would fly to decide (judgement)."""
EIGHTY = 0.84  # standard errors of the normal distribution's 80 %: so that four days in five decide (judgement)


class Pass(NamedTuple):
    """One pass: its set-up, what it measured (SI), its sea (m, s), and its group (heading and speed).

    doubt: standard error of the logarithm of what it measured, by the length of the pass.
    """

    setup: str
    value: float
    height: float
    period: float
    group: int
    doubt: float = 0.0


class Split(NamedTuple):
    """The means of two set-ups, their difference, and its two parts.

    means: with intervals by the length of the passes; difference: first less second, SI: positive if the second is smaller.
    scatter: of one pass, relative; further: how many more passes of each set-up would decide, None if it is decided or if no
    number would, and then `why` says so. even: whether both set-ups went the same ways.
    """

    first: str
    second: str
    means: tuple[Estimate, Estimate]
    difference: float
    water: Estimate
    setup: Estimate
    relative: Estimate
    scatter: float
    passes: tuple[int, int]
    verdict: Literal["better", "worse", "not told apart"]
    further: int | None
    even: bool
    why: str


def split(
    passes: Sequence[Pass], expected: Sequence[Expected], name: str, first: str, second: str, model_off: float = 0.0
) -> Split:
    """Split the difference between two set-ups in one measure. Raises ValueError without a pass of each.

    expected: by group; model_off: how far off the model is, by `off_by`.
    """
    mine = [one for one in passes if one.setup in (first, second)]
    is_second = np.array([one.setup == second for one in mine])
    if is_second.all() or not is_second.any():
        raise ValueError(f"no pass with {first if is_second.all() else second!r}")
    values = np.array([one.value for one in mine])
    model = np.array([float(expected[one.group].value(name, one.height, one.period)[0]) for one in mine])
    off = np.log(values / model)
    terms, even = terms_of(mine, is_second)
    found, variance, freedom, scatter = _fit(terms, off, float(np.mean([expected[one.group].scatter[name] for one in mine])))
    doubt = doubt_of_seas(mine, is_second, expected, name, model_off)
    spread = math.sqrt(variance + doubt**2)
    reach = float(student.ppf(0.5 + 0.5 * CONFIDENCE, freedom)) * spread
    doubts = np.array([one.doubt for one in mine])
    means = _mean(values[~is_second], doubts[~is_second]), _mean(values[is_second], doubts[is_second])
    difference = means[0].value - means[1].value
    setup = _estimate(means[1].value, found, reach)
    n = (int((~is_second).sum()), int(is_second.sum()))
    verdict: Literal["better", "worse", "not told apart"] = "not told apart"
    if abs(found) > reach:
        verdict = "better" if found < 0.0 else "worse"
    further, why = (None, "") if verdict != "not told apart" else _further(found, scatter, doubt, n)
    return Split(
        first=first,
        second=second,
        means=means,
        difference=difference,
        water=Estimate(difference - setup.value, difference - setup.high, difference - setup.low),
        setup=setup,
        relative=Estimate(math.expm1(found), math.expm1(found - reach), math.expm1(found + reach)),
        scatter=scatter,
        passes=n,
        verdict=verdict,
        further=further,
        even=even,
        why=why,
    )


def _mean(values: Floats, doubts: Floats) -> Estimate:
    """The mean of passes, with its interval by their lengths."""
    mean, spread = float(values.mean()), float(np.sqrt(((values * doubts) ** 2).sum())) / len(values)
    reach = math.exp(float(normal.ppf(0.5 + 0.5 * CONFIDENCE)) * spread / mean) if mean > 0.0 else 1.0
    return Estimate(mean, mean / reach, mean * reach)


def _estimate(second: float, found: float, reach: float) -> Estimate:
    """The set-up's part: what the second mean would be with the first set-up, less the second mean."""
    low, high = (second * math.expm1(-(found + sign * reach)) for sign in (1.0, -1.0))
    return Estimate(second * math.expm1(-found), low, high)


def terms_of(passes: Sequence[Pass], is_second: np.ndarray) -> tuple[Floats, bool]:
    """Columns of the fit: a level for each group, then the second set-up; one level for all if groups and set-up coincide."""
    groups = sorted({one.group for one in passes})
    levels = np.array([[float(one.group == group) for group in groups] for one in passes])
    terms = np.column_stack([levels, is_second.astype(float)])
    if np.linalg.matrix_rank(terms) == terms.shape[1]:
        return terms, True
    return np.column_stack([np.ones(len(passes)), is_second.astype(float)]), False


def _fit(terms: Floats, off: Floats, prior: float) -> tuple[float, float, float, float]:
    """The last coefficient, its variance, its degrees of freedom, and the scatter of one pass.

    The variance of a pass is moderated: the model's own scatter counts as PRIOR_PASSES degrees of freedom.
    """
    inverse = np.linalg.inv(terms.T @ terms)
    coefficients = inverse @ terms.T @ off
    left = off - terms @ coefficients
    freedom = len(off) - terms.shape[1]
    variance = (PRIOR_PASSES * prior**2 + float(left @ left)) / (PRIOR_PASSES + freedom)
    return float(coefficients[-1]), variance * float(inverse[-1, -1]), PRIOR_PASSES + freedom, math.sqrt(variance)


def off_by(passes: Mapping[str, Sequence[Pass]], expected: Sequence[Expected], setup: str) -> float:
    """How far a set-up's passes are from what the model expects: root mean square, over all measures, of the logarithm."""
    off = []
    for name, rows in passes.items():
        mine = [one for one in rows if one.setup == setup]
        off += [math.log(one.value / float(expected[one.group].value(name, one.height, one.period)[0])) for one in mine]
    return math.sqrt(float(np.mean(np.square(off)))) if off else 0.0


def doubt_of_seas(
    passes: Sequence[Pass], is_second: np.ndarray, expected: Sequence[Expected], name: str, model_off: float
) -> float:
    """Standard error of the difference that the seas make, by the model's slopes and by the flights behind them."""
    wrong = _slope_doubt(passes, is_second, expected, name, model_off)
    return math.hypot(wrong, _surface_doubt(passes, is_second, expected, name))


def _slope_doubt(passes: Sequence[Pass], is_second: np.ndarray, expected: Sequence[Expected], name: str, off: float) -> float:
    """Standard error of the difference that the seas make, by what the model's slopes with height and period may be wrong."""
    seas = np.log([[one.height, one.period] for one in passes])
    apart = seas[~is_second].mean(axis=0) - seas[is_second].mean(axis=0)
    groups = [expected[one.group] for one in passes]
    height = float(np.mean([each.slope(name, one.height, one.period) for each, one in zip(groups, passes, strict=True)]))
    period = math.hypot(SLOPE_DOUBT * float(np.mean([each.coefficients[name][2] for each in groups])), PERIOD_DOUBT * off)
    return math.hypot(SLOPE_DOUBT * height * float(apart[0]), period * float(apart[1]))


def _surface_doubt(passes: Sequence[Pass], is_second: np.ndarray, expected: Sequence[Expected], name: str) -> float:
    """Standard error of the difference that the sea makes, by the flights behind the fit."""
    variance = 0.0
    for group in {one.group for one in passes}:
        here = np.array([one.group == group for one in passes])
        gap = np.zeros(4)
        for side, sign in ((is_second, 1.0), (~is_second, -1.0)):
            some = [one for one, chosen in zip(passes, here & side, strict=True) if chosen]
            if some:
                rows = expected[group].terms([one.height for one in some], [one.period for one in some])
                gap += sign * rows.sum(axis=0) / side.sum()
        variance += float(gap @ expected[group].covariance[name] @ gap)
    return math.sqrt(max(variance, 0.0))


def _further(found: float, scatter: float, doubt: float, passes: tuple[int, int]) -> tuple[int | None, str]:
    """How many more passes of each set-up would show an effect as large as found, or as WORTH_KNOWING, beyond chance."""
    wanted = max(abs(found), math.log1p(WORTH_KNOWING))
    have = min(passes)
    for n in range(have + 1, MOST_PASSES + 1):
        freedom = PRIOR_PASSES + 2 * n - 2
        sure = float(student.ppf(0.5 + 0.5 * CONFIDENCE, freedom)) + EIGHTY
        if sure * math.hypot(scatter * math.sqrt(2.0 / n), doubt) < wanted:
            return n - have, ""
    if float(student.ppf(0.5 + 0.5 * CONFIDENCE, 60)) * doubt >= wanted:
        return None, "the two met seas that were too unlike; fly them in turn in one sea"
    return None, f"more than {MOST_PASSES} passes of each would be needed"

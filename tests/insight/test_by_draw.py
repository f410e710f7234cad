"""Flights of one draw are alike: draws are the units of intervals, of limits' bounds and of the choice of settings."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binomtest

from sweep.campaign.factors import Factor
from sweep.campaign.scoring import Limit
from sweep.campaign.unknowns import Unknown, Unknowns
from sweep.insight.builds import find_builds
from sweep.insight.by_draw import by_draw, design_effect, draws_in, replicates_of
from sweep.insight.intervals import TAIL, estimate
from sweep.insight.limits import POOLED, LimitCounts, judge
from sweep.insight.robust import condition_costs

WAKE = Unknown(label="wake", addresses=("wake.strength",), way="times", low=0.75, high=1.25, described=(1.0,))
SINGLE, PAIRS = Unknowns(each=(WAKE,)), Unknowns(each=(WAKE,), waves=2, shared=4)


def holds(covered: list[bool], share: float = 0.95) -> bool:
    """Whether a count of intervals is one that the share explains, with 99 % confidence (Clopper & Pearson)."""
    span = binomtest(sum(covered), len(covered)).proportion_ci(0.99)
    return bool(span.low <= share <= span.high)


def test_the_mean_of_each_draw() -> None:
    values = np.arange(12.0).reshape(1, 2, 6)  # condition 0: 0 to 5, condition 1: 6 to 11
    np.testing.assert_array_equal(by_draw(values, PAIRS), [[[3.5, 5.5, 7.0, 8.0]]])
    np.testing.assert_array_equal(by_draw(values, SINGLE), [[[3.0, 4.0, 5.0, 6.0, 7.0, 8.0]]])
    np.testing.assert_array_equal(by_draw(values[:, :, 4:], PAIRS, first=4), [[[7.0, 8.0]]])
    assert by_draw(values, None) is values
    values[0, 1, 1] = np.nan
    assert np.isnan(by_draw(values, PAIRS)).tolist() == [[[True, False, False, False]]]


def test_draws_and_their_replicates_are_counted_alike() -> None:
    for unknowns in (PAIRS, SINGLE):
        assert [replicate for unit in range(4) for replicate in replicates_of(unit, unknowns)] == list(
            range(6 if unknowns is PAIRS else 4)
        )
        for unit in range(4):
            assert {draws_in(replicate + 1, unknowns) - 1 for replicate in replicates_of(unit, unknowns)} == {unit}
    assert draws_in(7, None) == 7


def boats(random: np.random.Generator, draws: int, unknowns: Unknowns, spread: float = 1.0) -> np.ndarray:
    """Scores of a true mean of 0 in six conditions: what the draw brings is the same in all of them."""
    replicates = draws + (PAIRS.shared // 2 if unknowns is PAIRS else 0)
    own = random.normal(0.0, spread, draws)
    shared = [own[draws_in(replicate + 1, unknowns) - 1] for replicate in range(replicates)]
    return np.asarray(random.normal(0.0, 1.0, (1, 6, replicates)) + np.array(shared))


@pytest.mark.parametrize("unknowns", [SINGLE, PAIRS])
def test_intervals_over_draws_hold_and_over_flights_would_not(unknowns: Unknowns) -> None:
    random = np.random.default_rng(1)
    found: dict[str, list[bool]] = {"draws": [], "flights": []}
    for _ in range(2000):
        scores = boats(random, 6, unknowns)
        for name, values in {"draws": by_draw(scores, unknowns), "flights": scores}.items():
            told = estimate(values)
            found[name].append(bool(abs(told.mean[0]) <= told.half_width(TAIL)[0]))
    assert holds(found["draws"])
    assert np.mean(found["flights"]) < 0.85


def test_what_a_condition_costs_is_told_over_draws() -> None:
    """A draw that is bad in the first sea alone moves the cost of that sea: over all flights its interval is too narrow."""
    random = np.random.default_rng(2)
    levels = ["chop", "chop", "chop", "swell", "swell", "swell"]
    covered = []
    for _ in range(400):
        scores = boats(random, 6, SINGLE)[0]
        scores[:3] += random.normal(0.0, 1.0, 6)
        told = condition_costs(scores, levels, SINGLE)[0]
        covered.append(bool(told["low"] <= 0.0 <= told["high"]))
    assert holds(covered)


def test_the_design_effect_of_independent_counts_is_one_and_of_whole_draws_their_size() -> None:
    """Of clusters that are all or none, it is the number of flights in one (Kish, Survey Sampling, 1965: 1 + (m - 1) rho)."""
    random = np.random.default_rng(3)
    flights = np.full((400, 10), 12.0)
    alone = design_effect(random.binomial(12, 0.02, (400, 10)).astype(float), flights)
    assert 1.0 <= alone < 1.1
    whole = design_effect(12.0 * random.binomial(1, 0.02, (400, 10)), flights)
    assert whole == pytest.approx(12.0, rel=0.05)
    assert design_effect(np.zeros((3, 10)), flights[:3]) == 1.0


def rows(failed: np.ndarray) -> pd.DataFrame:
    """Flights of one design with one event or none; failed: (conditions, replicates)."""
    condition, replicate = np.indices(failed.shape).reshape(2, -1)
    return pd.DataFrame(
        {"design": 0, "condition": condition, "replicate": replicate, "status": 0, "time_foilborne": 10.0,
         "touchdowns": failed.ravel() / 10.0}
    )  # fmt: skip


def test_the_bounds_of_a_limit_hold_where_some_boats_fail_much_more_than_others() -> None:
    """One boat in four has 0.08 touchdowns a second, the others none: 0.02 on average. The lower bound of 95 % alone."""
    random = np.random.default_rng(4)
    limits = {"touchdowns": Limit(value=1.0, kind="rate")}
    held: dict[bool, list[bool]] = {True: [], False: []}
    for _ in range(400):
        bad = random.random(16) < 0.25
        flights = rows(random.poisson(0.8 * bad, (6, 16)))
        for told in held:
            counts = LimitCounts(limits, 1, 6, unknowns=SINGLE if told else None)
            counts.add(flights)
            pooled = judge(counts, 10.0).set_index("condition").loc[[POOLED]]
            held[told].append(bool(pooled["low"].item() <= 0.02 <= pooled["high"].item()))
    assert np.mean(held[True]) > 0.86, "two bounds of 95 % each"
    assert np.mean(held[False]) < 0.75


def test_parts_of_flights_add_up_to_the_whole() -> None:
    failed = np.random.default_rng(5).poisson(0.3, (3, 8))
    one, two = (LimitCounts({"touchdowns": Limit(value=1.0, kind="rate")}, 1, 3, unknowns=SINGLE) for _ in range(2))
    one.add(rows(failed))
    every = rows(failed)
    for replicate in (5, 0, 1, 2, 3, 4, 6, 7):
        two.add(every[every["replicate"] == replicate])
    np.testing.assert_array_equal(one.of_draws["touchdowns"], two.of_draws["touchdowns"])


FACTORS = {
    "strut": Factor(label="strut", addresses=("struts.height",), levels=(1.0, 2.0), kind="built"),
    "gain": Factor(label="gain", addresses=("control.height.proportional",), levels=tuple(map(float, range(8))), kind="set"),
}
TABLE = pd.DataFrame([(1.0, 0.0), *((strut, gain) for strut in (1.0, 2.0) for gain in map(float, range(8)))],
                     columns=["strut", "gain"])  # fmt: skip
DRAWS = 30
TUNED = Unknowns(each=(WAKE,), waves=2, shared=2 * DRAWS)


def tuned(random: np.random.Generator, noise: float) -> np.ndarray:
    """Two builds alike but for chance. In each draw another of the eight gains is right, by 1; all others score 2."""
    right = random.integers(0, 8, DRAWS)
    scores = np.full((17, 3, 2 * DRAWS), 2.0)
    for build in range(2):
        for draw, gain in enumerate(right):
            scores[1 + 8 * build + gain, :, 2 * draw : 2 * draw + 2] = 1.0
    return scores + random.normal(0.0, noise, scores.shape)


def own_scores(scores: np.ndarray) -> pd.DataFrame:
    table = find_builds(FACTORS, TABLE, scores, ["kept"] * 17, unknowns=TUNED).table
    return table.set_index("build").loc[[1, 2]]


def test_a_build_is_judged_at_the_settings_that_each_draw_asks_for() -> None:
    """With one setting for all draws it scores 1.875, chosen anew 1; little noise, so the choice is right."""
    told = own_scores(tuned(np.random.default_rng(6), 0.05))
    np.testing.assert_allclose(told["score"], 1.0, atol=0.05)
    np.testing.assert_allclose(told["score_seen"], 1.875, atol=0.15)


def test_the_winner_s_curse_is_out() -> None:
    """Of pure chance the best of eight settings seems better than 0 where it is scored by what it was chosen by."""
    random = np.random.default_rng(7)
    covered, means, naive = [], [], []
    for _ in range(60):
        scores = random.normal(5.0, 1.0, (17, 1, 2 * DRAWS))
        told = own_scores(scores)
        covered += ((told["score_low"] <= 5.0) & (told["score_high"] >= 5.0)).tolist()
        means.append(told["score"].mean())
        naive.append(scores[1:9].mean(axis=1).reshape(8, DRAWS, 2).mean(axis=2).min(axis=0).mean())
    assert abs(np.mean(means) - 5.0) < 3.0 * np.std(means) / np.sqrt(len(means))
    assert np.mean(naive) < 4.1, "the best of eight means of two is about one of their deviations better"
    assert holds(covered)

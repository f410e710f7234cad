import numpy as np
import pytest
from scipy import stats

from sweep.insight.failing import FailureCounts, Failures
from sweep.insight.ranking import SKEW, behind_best, compare_with_best, own_intervals, rank
from tests.references import reference

SLEEP = np.array([[row["first"], row["second"]] for row in reference("statistics", "sleep").rows]).T
PAIRED = reference("statistics", "sleep_paired").rows[0]


def kept(scores):
    return np.zeros(len(scores), dtype=bool)


def by_design(table):
    return table.set_index("design").sort_index()


def campaign(generator, designs, replicates, conditions=6):
    """Scores with a known truth: the mean of every design, one sea for all, and each design's own share of chance."""
    means = np.sort(generator.gamma(2.0, 0.3, designs))
    spreads = 0.2 * np.exp(0.3 * generator.standard_normal((designs, 1, 1)))
    sea = 0.3 * generator.standard_normal((conditions, replicates))
    chance = spreads * generator.standard_normal((designs, conditions, replicates))
    return means, means[:, None, None] + sea + chance


def test_gain_is_student_s_paired_interval():
    table = by_design(rank(SLEEP[:, None, :], kept(SLEEP)))
    second = table.loc[1]
    assert second["gain"] == pytest.approx(PAIRED["mean"], abs=1e-6)
    assert second["gain_low"] == pytest.approx(PAIRED["low"], abs=1e-6)
    assert second["gain_high"] == pytest.approx(PAIRED["high"], abs=1e-6)
    assert table.loc[0, ["gain", "gain_low", "gain_high"]].tolist() == [0.0, 0.0, 0.0]


def test_two_designs_are_compared_by_student_s_one_sided_test():
    """With one rival there is no risk to share: the reach is 1.833113 standard errors (t table, one-sided 95 %, 9 degrees).

    What the one is behind has half of the risk for the group that the best is in, and a quarter at each end: 2.685011 standard
    errors (98.75 %), and at the upper end `SKEW` times that.
    """
    scores = SLEEP[:, None, :]
    error = abs(PAIRED["mean"] / PAIRED["t"])
    assert abs(PAIRED["t"]) > 1.833113
    assert compare_with_best(scores, kept(SLEEP) | True).may_be_best.tolist() == [True, False]
    low, high = behind_best(scores, kept(SLEEP) | True)
    assert high[1] == pytest.approx(-PAIRED["mean"] + SKEW * 2.685011 * error, abs=1e-5)
    assert low[1] == pytest.approx(-PAIRED["mean"] - 2.685011 * error, abs=1e-5)
    assert (low[0], high[0]) == pytest.approx((-high[1], -low[1]))


def test_two_level_designs_are_behind_each_other_by_opposite_intervals():
    """What the second may be behind the first, the first may be ahead of it: also where neither is best for sure."""
    _, scores = campaign(np.random.default_rng(3), 1, 6)
    chance = np.random.default_rng(4).standard_normal(scores.shape)
    both = np.concatenate([scores, scores + 0.1 * chance])
    low, high = behind_best(both, kept(both) | True)
    assert compare_with_best(both, kept(both) | True).may_be_best.all()
    assert low[0] == pytest.approx(-high[1])
    assert high[0] == pytest.approx(-low[1])
    assert (high > 0.0).all()
    assert (low < 0.0).all()


@pytest.mark.parametrize("designs", [6, 30])
def test_what_designs_are_behind_the_best_holds_for_all_at_once(designs):
    """The best is not known: intervals against the sample's best alone held it in 69 to 78 % of campaigns."""
    generator, campaigns, held = np.random.default_rng(designs), 60, 0
    for _ in range(campaigns):
        means, scores = campaign(generator, designs, 3)
        low, high = behind_best(scores, kept(scores) | True)
        true = np.array([mean - np.delete(means, at).min() for at, mean in enumerate(means)])
        held += ((low <= true) & (true <= high)).all()
    assert held >= 0.95 * campaigns


@pytest.mark.parametrize(("designs", "replicates"), [(8, 8), (100, 8), (100, 2)])
def test_the_level_group_holds_the_true_best_and_the_places_hold_the_true_places(designs, replicates):
    generator = np.random.default_rng(designs + replicates)
    campaigns, held, placed = 150, 0, 0
    for _ in range(campaigns):
        means, scores = campaign(generator, designs, replicates)
        found = compare_with_best(scores, kept(scores) | True)
        true = means.argsort().argsort() + 1
        held += found.may_be_best[means.argmin()]
        placed += ((found.place_low <= true) & (true <= found.place_high)).all()
    assert held >= 0.95 * campaigns
    assert placed >= 0.95 * campaigns


def test_the_level_group_shrinks_with_more_flights():
    generator = np.random.default_rng(6)
    drawn = (campaign(generator, 200, replicates)[1] for replicates in (2, 8, 32))
    sizes = [compare_with_best(scores, np.ones(200, dtype=bool)).may_be_best.sum() for scores in drawn]
    assert sizes[0] > sizes[1] > sizes[2] >= 1


@pytest.mark.parametrize("designs", [4, 40])
def test_a_twin_of_the_best_is_level_with_it(designs):
    _, scores = campaign(np.random.default_rng(12), designs, 8)
    best = scores.mean(axis=(1, 2)).argmin()
    found = compare_with_best(np.concatenate([scores, scores[[best]]]), np.ones(designs + 1, dtype=bool))
    assert found.may_be_best[best]
    assert found.may_be_best[-1]
    assert found.place_low[-1] == found.place_low[best] == 1


def test_pairing_takes_the_sea_out():
    """A sea ten times as rough changes no comparison, because every design met it."""
    generator = np.random.default_rng(7)
    _, scores = campaign(generator, 30, 4)
    rough = scores + 10.0 * generator.standard_normal((6, 4))
    calm, after = (compare_with_best(each, kept(each) | True) for each in (scores, rough))
    assert (calm.may_be_best == after.may_be_best).all()
    ends = behind_best(scores, kept(scores) | True), behind_best(rough, kept(rough) | True)
    np.testing.assert_allclose(ends[0], ends[1], atol=1e-9)


def test_broken_designs_have_no_place_and_stand_last():
    _, scores = campaign(np.random.default_rng(8), 6, 4)
    table = rank(scores, np.array([True, False, False, True, False, False]))
    assert table["design"].tolist()[-2:] == [0, 3]
    assert table["place"].isna().tolist() == [False] * 4 + [True] * 2
    assert not table["may_be_best"].to_numpy()[-2:].any()
    assert table["score"].notna().all()
    assert table["place_high"].max() == 4


def test_places_bracket_the_place_and_are_permuted_with_the_designs():
    _, scores = campaign(np.random.default_rng(9), 40, 4)
    order = np.concatenate([[0], 1 + np.random.default_rng(10).permutation(39)])
    one, two = by_design(rank(scores, kept(scores))), by_design(rank(scores[order], kept(scores)))
    assert (one["place_low"] <= one["place"]).all()
    assert (one["place"] <= one["place_high"]).all()
    np.testing.assert_allclose(two.to_numpy(dtype=float), one.loc[order].to_numpy(dtype=float), rtol=1e-9, atol=1e-12)


def test_one_replicate_says_that_nothing_is_known():
    _, scores = campaign(np.random.default_rng(11), 5, 1)
    table = rank(scores, kept(scores))
    assert table["place"].tolist() == [1, 2, 3, 4, 5]
    assert table[["score_low", "score_high", "gain_low", "gain_high", "behind_low", "behind_high"]].isna().all(axis=None)
    assert table["may_be_best"].all()
    assert (table["place_low"] == 1).all()
    assert (table["place_high"] == 5).all()


def test_ties_go_to_the_lower_number():
    table = rank(np.full((4, 2, 3), 10.0), kept(range(4)))
    assert table["design"].tolist() == [0, 1, 2, 3]


def test_a_design_that_breaks_a_limit_by_its_own_flights_stands_behind_those_that_keep_theirs():
    """It keeps an interval of places, for it may yet prove sound, and is not what the others are held against."""
    _, scores = campaign(np.random.default_rng(13), 8, 6)
    first = int(scores.mean(axis=(1, 2)).argmin())
    doubtful = np.arange(8) == first
    table = by_design(rank(scores, kept(scores), doubtful))
    alone = by_design(rank(np.delete(scores, first, axis=0), kept(scores)[1:]))
    assert table.loc[first, "place"] == 8
    assert (table["place_low"] <= table["place"]).all()
    assert (table["place"] <= table["place_high"]).all()
    assert table.loc[first, "may_be_best"]
    assert not np.isfinite(table.loc[first, "above_high"])
    assert table.drop(first)["place"].tolist() == alone["place"].tolist()
    assert table.drop(first)["above_high"].tolist() == alone["above_high"].tolist()


def test_scores_intervals_stay_on_their_scale_and_leave_room_for_failures_that_have_not_shown():
    generator = np.random.default_rng(14)
    scores = np.clip(1.0 + 0.2 * generator.standard_normal((40, 4, 3)), 0.0, 10.0)
    failed = generator.random(scores.shape) < 0.03
    scores[failed] = 9.0
    failures = Failures(failed.sum(axis=(1, 2)).astype(float), np.full(40, 12.0), 9.0)
    table = by_design(rank(scores, kept(scores), failures=failures))
    assert table["score_low"].min() >= 0.0
    assert table["score_high"].max() <= 10.0
    clean = failures.failed == 0
    assert (table.loc[clean, "score_high"] > table.loc[clean, "score"] + 0.03 * 8.0).all()
    assert table.loc[0, ["gain", "gain_low", "gain_high", "gain_sure"]].tolist() == [0.0] * 4


def test_what_few_clean_flights_hide_is_the_exact_bound_of_a_share():
    """Of one design alone the bound is Jeffreys': 0 of 10 leaves 17.1 % with 95 % confidence (Brown, Cai & DasGupta,
    Statistical Science 16, 2001, 101-133: the beta quantile with halves; 0.1707 from `scipy.stats.beta`)."""
    few = Failures(np.array([0.0, 1.0]), np.array([10.0, 10.0]), 9.0)
    assert few.failing(np.array([1.0, 1.0])).hidden()[0] == pytest.approx(8.0 * stats.beta.ppf(0.95, 0.5, 10.5))
    assert Failures(np.zeros(2), np.full(2, 10.0), np.nan).failing(np.ones(2)).hidden().tolist() == [0.0, 0.0]


def test_designs_that_ride_alike_tell_each_other_what_fails():
    """Twenty that fail in none of 12 flights bound each other's failures more closely than sixty that fail in 3 of 12 allow."""
    failed = np.repeat([0.0, 3.0], [20, 60])
    alike = Failures(failed, np.full(80, 12.0), 9.0)
    clean = np.linspace(1.0, 2.0, 80)
    scores = clean + failed / 12.0 * (9.0 - clean)
    hidden = alike.failing(scores).hidden()
    alone = 8.0 * stats.beta.ppf(0.95, 0.5, 12.5)
    assert (hidden[:8] < 0.3 * alone).all()
    assert (hidden[40:] > hidden[0]).all()
    other = Failures(failed, np.full(80, 12.0), 9.0, clean=np.zeros(80)).failing(scores).hidden()
    assert np.isfinite(other).all(), "clean flights that tell no designs apart"


def test_where_conditions_have_unlike_numbers_of_flights_failures_weigh_alike():
    """Two of two fail in one condition and none of six in another: half of all, wherever more was flown."""
    counts = FailureCounts(1, 2)
    where = (np.zeros(8, dtype=int), np.array([0, 0, 1, 1, 1, 1, 1, 1]))
    counts.add(where, np.arange(8) < 2, np.where(np.arange(8) < 2, 9.0, 1.0))
    assert counts.failures(evens=True).share() == pytest.approx(0.5)
    assert counts.failures().share() == pytest.approx(0.25)
    assert counts.failures().clean == pytest.approx((9.0 + 1.0) / 2.0), "a condition that always fails is no clean one"


def test_a_gain_is_sure_for_all_designs_at_once():
    """Of thirty designs that are all as good as the base craft, none is surely better, in 95 % of campaigns."""
    generator, campaigns, wrong = np.random.default_rng(15), 150, 0
    for _ in range(campaigns):
        scores = generator.standard_normal((30, 4, 3)) + 5.0
        wrong += (own_intervals(scores)["gain_sure"] > 0.0).any()
    assert wrong <= 0.05 * campaigns + 4

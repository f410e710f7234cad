import numpy as np
import pytest

from sweep.insight.ranking import compare_with_best, rank
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
    """With one rival there is no risk to share: the reach is 1.833113 standard errors (t table, one-sided 95 %, 9 degrees)."""
    found = compare_with_best(SLEEP[:, None, :])
    reach = 1.833113 * PAIRED["mean"] / PAIRED["t"]
    assert found.high[1] == pytest.approx(-PAIRED["mean"] + reach, abs=1e-5)
    assert found.low[0] == pytest.approx(PAIRED["mean"] - reach, abs=1e-5)
    assert (found.low[1], found.high[0]) == (0.0, 0.0)
    assert found.level.tolist() == [True, False]


def test_two_level_designs_are_behind_each_other_by_opposite_intervals():
    """What the second may be behind the first, the first may be ahead of it: also where neither is best for sure."""
    _, scores = campaign(np.random.default_rng(3), 1, 6)
    chance = np.random.default_rng(4).standard_normal(scores.shape)
    found = compare_with_best(np.concatenate([scores, scores + 0.1 * chance]))
    assert found.level.all()
    assert found.low[0] == pytest.approx(-found.high[1])
    assert found.high[0] == pytest.approx(-found.low[1])
    assert (found.high > 0.0).all()
    assert (found.low < 0.0).all()


@pytest.mark.parametrize(("designs", "replicates"), [(8, 8), (100, 8), (100, 2)])
def test_the_level_group_holds_the_true_best_and_the_places_hold_the_true_places(designs, replicates):
    generator = np.random.default_rng(designs + replicates)
    campaigns, held, placed = 300, 0, 0
    for _ in range(campaigns):
        means, scores = campaign(generator, designs, replicates)
        found = compare_with_best(scores)
        true = means.argsort().argsort() + 1
        held += found.level[means.argmin()]
        placed += ((found.place_low <= true) & (true <= found.place_high)).all()
    assert held >= 0.95 * campaigns
    assert placed >= 0.95 * campaigns


def test_the_level_group_shrinks_with_more_flights():
    generator = np.random.default_rng(6)
    sizes = [compare_with_best(campaign(generator, 200, replicates)[1]).level.sum() for replicates in (2, 8, 32)]
    assert sizes[0] > sizes[1] > sizes[2] >= 1


@pytest.mark.parametrize("designs", [4, 40])
def test_a_twin_of_the_best_is_level_with_it(designs):
    _, scores = campaign(np.random.default_rng(12), designs, 8)
    best = scores.mean(axis=(1, 2)).argmin()
    found = compare_with_best(np.concatenate([scores, scores[[best]]]))
    assert found.level[best]
    assert found.level[-1]
    assert found.place_low[-1] == found.place_low[best] == 1


def test_pairing_takes_the_sea_out():
    """A sea ten times as rough changes no comparison, because every design met it."""
    generator = np.random.default_rng(7)
    _, scores = campaign(generator, 30, 4)
    rough = scores + 10.0 * generator.standard_normal((6, 4))
    calm, after = compare_with_best(scores), compare_with_best(rough)
    assert (calm.level == after.level).all()
    np.testing.assert_allclose(calm.high, after.high, atol=1e-9)


def test_broken_designs_have_no_place_and_stand_last():
    _, scores = campaign(np.random.default_rng(8), 6, 4)
    table = rank(scores, np.array([True, False, False, True, False, False]))
    assert table["design"].tolist()[-2:] == [0, 3]
    assert table["place"].isna().tolist() == [False] * 4 + [True] * 2
    assert not table["level_with_best"].to_numpy()[-2:].any()
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
    assert table["level_with_best"].all()
    assert (table["place_low"] == 1).all()
    assert (table["place_high"] == 5).all()


def test_ties_go_to_the_lower_number():
    table = rank(np.full((4, 2, 3), 10.0), kept(range(4)))
    assert table["design"].tolist() == [0, 1, 2, 3]

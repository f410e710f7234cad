import numpy as np
import pytest
from scipy import optimize, special, stats

from sweep.insight.intervals import estimate, moderated

CONDITIONS, REPLICATES = 6, 8
LIKE = np.ones(CONDITIONS)
UNLIKE = np.array([0.2, 0.2, 0.5, 1.0, 2.0, 4.0])


def coverage(draw, spreads, replicates):
    """How often the 95 % interval holds the truth, which is zero, over 20,000 campaigns of one design."""
    values = draw((20_000, CONDITIONS, replicates)) * spreads[:, None]
    found = estimate(values)
    return (np.abs(found.mean) <= found.half_width(0.025)).mean()


@pytest.mark.parametrize("spreads", [LIKE, UNLIKE], ids=["like", "unlike"])
def test_intervals_of_normal_scores_hold_the_truth_as_often_as_they_say(spreads):
    draw = np.random.default_rng(1).standard_normal
    assert 0.93 <= coverage(draw, spreads, REPLICATES) <= 0.97


@pytest.mark.parametrize("replicates", [2, 8])
@pytest.mark.parametrize("spreads", [LIKE, UNLIKE], ids=["like", "unlike"])
def test_intervals_of_skewed_scores_and_few_replicates_stay_useful(spreads, replicates):
    generator = np.random.default_rng(2)
    assert coverage(lambda shape: generator.exponential(size=shape) - 1.0, spreads, replicates) >= 0.90


def test_two_conditions_are_welch_s_problem():
    """With weights of a half, the interval of a sum over two conditions is that of Welch's test; scipy's is the outside one."""
    generator = np.random.default_rng(3)
    one, two = generator.normal(0.0, 1.0, 7), generator.normal(0.0, 5.0, 7)
    found = estimate(np.stack([one, -two])[None])
    outside = stats.ttest_ind(one, two, equal_var=False)
    assert found.freedom[0] == pytest.approx(outside.df)
    assert found.mean[0] / found.error[0] == pytest.approx(outside.statistic)


def test_one_replicate_leaves_the_error_unknown():
    found = estimate(np.arange(12.0).reshape(3, 4, 1))
    assert found.mean.tolist() == [1.5, 5.5, 9.5]
    assert np.isnan(found.half_width(0.025)).all()


def test_scores_that_never_differ_have_no_width():
    found = estimate(np.full((2, 3, 4), 10.0))
    assert found.half_width(0.025).tolist() == [0.0, 0.0]


def alike(shape, value):
    return np.full(shape, value)


def test_moderation_finds_the_prior_that_the_variances_were_drawn_from():
    """Variances drawn from the model of Smyth 2004 (sigma^2 from d0 s0^2 / chi2(d0)) give back about d0 and s0^2."""
    generator = np.random.default_rng(4)
    prior_freedom, prior, freedom = 6.0, 0.3, 3.0
    true = prior_freedom * prior / generator.chisquare(prior_freedom, (20_000, 1))
    seen = true * generator.chisquare(freedom, true.shape) / freedom
    drawn, total = moderated(seen, alike(seen.shape, freedom), np.ones(seen.shape))
    np.testing.assert_allclose(total, prior_freedom + freedom, rtol=0.1)
    expected = (prior_freedom * prior + freedom * seen) / (prior_freedom + freedom)
    np.testing.assert_allclose(drawn, expected, rtol=0.1)


def test_moderation_of_equal_variances_takes_them_together():
    generator = np.random.default_rng(5)
    seen = generator.chisquare(8.0, (20_000, 1)) / 8.0
    drawn, total = moderated(seen, alike(seen.shape, 8.0), np.ones(seen.shape))
    assert (total > 80.0).all()
    np.testing.assert_allclose(drawn, 1.0, rtol=0.4)
    assert seen.std() > 8.0 * drawn.std()


def test_few_variances_are_moderated_by_the_moments_of_their_logarithms():
    """Smyth 2004, section 6.2, by hand, and a quarter of a standard error of a sample variance over, whose square is
    (mu4 - sigma^4) / n: trigamma(d0 / 2) = the sample variance of the logs, less trigamma(d / 2)."""
    seen, freedom = np.exp(np.random.default_rng(6).normal(size=(12, 1))), 4.0
    logs = np.log(seen) - special.digamma(freedom / 2) + np.log(freedom / 2)
    fourth, second = special.polygamma(3, freedom / 2), special.polygamma(1, freedom / 2)
    spare = 0.25 * np.sqrt((fourth + 3.0 * second**2 - second**2) / 12)
    excess = logs.var(ddof=1) - second + spare
    prior = 2.0 * optimize.brentq(lambda half: special.polygamma(1, half) - excess, 1e-2, 1e3)
    centre = np.exp(logs.mean() + special.digamma(prior / 2) - np.log(prior / 2))
    drawn, total = moderated(seen, alike(seen.shape, freedom), np.ones(seen.shape))
    np.testing.assert_allclose(total, prior + freedom)
    np.testing.assert_allclose(drawn, (prior * centre + freedom * seen) / (prior + freedom), rtol=1e-9)


@pytest.mark.parametrize("designs", [30, 200])
def test_variances_that_grow_with_the_distance_are_drawn_to_their_trend(designs):
    """Where the standard deviation is the distance itself, two replicates tell the near designs' variances by the far ones."""
    generator = np.random.default_rng(8)
    sizes = np.exp(generator.uniform(-2.0, 2.0, (designs, 1)))
    seen = sizes**2 * generator.chisquare(1.0, sizes.shape)
    drawn, _ = moderated(seen, alike(seen.shape, 1.0), sizes)
    off = np.abs(np.log(drawn / sizes**2))
    flat = np.abs(np.log(moderated(seen, alike(seen.shape, 1.0), np.ones(sizes.shape))[0] / sizes**2))
    assert np.median(off) < 0.5 * np.median(flat)


def test_variances_with_unlike_freedom_keep_what_they_know():
    """Of a design with 64 replicates the variance stays nearly as seen; of one with two it follows the others."""
    generator = np.random.default_rng(9)
    freedom = np.where(np.arange(60) < 10, 63.0, 1.0)[:, None]
    true = np.exp(generator.normal(size=freedom.shape))
    seen = true * generator.chisquare(freedom) / freedom
    drawn, total = moderated(seen, freedom, np.ones(seen.shape))
    assert (total - freedom).std() < 1e-9
    assert np.abs(np.log(drawn / seen))[:10].max() < 0.5
    assert np.abs(np.log(drawn / seen))[10:].max() > 1.0


def test_variances_less_spread_than_chance_are_drawn_nearly_together():
    drawn, total = moderated(alike((200, 1), 0.7), alike((200, 1), 8.0), np.ones((200, 1)))
    assert (total > 40.0).all()
    assert drawn.std() < 1e-12


def test_shared_spreads_have_the_freedom_of_all_they_rest_on():
    """Satterthwaite's combination of the moderated variances, each with the freedom of its replicates and of the prior."""
    values = np.random.default_rng(7).normal(size=(12, 2, 4)) * np.exp(np.random.default_rng(8).normal(size=(12, 2, 1)))
    drawn, total = moderated(values.var(axis=2, ddof=1), alike((12, 2), 3.0), np.abs(values.mean(axis=2)))
    parts = drawn / (4 * 2**2)
    found = estimate(values, share_spreads=True)
    np.testing.assert_allclose(found.error, np.sqrt(parts.sum(axis=1)))
    np.testing.assert_allclose(found.freedom, parts.sum(axis=1) ** 2 / (parts**2 / total).sum(axis=1))


def test_more_replicates_in_some_conditions_count_there():
    """By hand: the mean of the conditions' means, each with its own count; NaN where a condition has fewer than two."""
    values = np.random.default_rng(10).normal(size=(3, 2, 6))
    values[0, 0, 2:], values[1, 1, 1:], values[2, 1, :] = np.nan, np.nan, np.nan
    found = estimate(values)
    one, two = values[0, 0, :2], values[0, 1]
    assert found.mean[0] == pytest.approx((one.mean() + two.mean()) / 2)
    outside = stats.ttest_ind(one, -two, equal_var=False)
    assert found.freedom[0] == pytest.approx(outside.df)
    assert found.mean[0] / found.error[0] == pytest.approx(outside.statistic)
    assert np.isfinite(found.mean).tolist() == [True, True, False]
    assert np.isnan(found.error).tolist() == [False, True, True]

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


def test_moderation_finds_the_prior_that_the_variances_were_drawn_from():
    """Variances drawn from the model of Smyth 2004 (sigma^2 from d0 s0^2 / chi2(d0)) give back about d0 and s0^2."""
    generator = np.random.default_rng(4)
    prior_freedom, prior, freedom = 6.0, 0.3, 3.0
    true = prior_freedom * prior / generator.chisquare(prior_freedom, (20_000, 1))
    seen = true * generator.chisquare(freedom, true.shape) / freedom
    drawn, total = moderated(seen, freedom)
    assert total[0] == pytest.approx(prior_freedom + freedom, rel=0.1)
    expected = (prior_freedom * prior + freedom * seen) / (prior_freedom + freedom)
    np.testing.assert_allclose(drawn, expected, rtol=0.1)


def test_moderation_of_equal_variances_takes_them_together():
    generator = np.random.default_rng(5)
    seen = generator.chisquare(8.0, (20_000, 1)) / 8.0
    drawn, total = moderated(seen, 8.0)
    assert total[0] > 80.0
    np.testing.assert_allclose(drawn, 1.0, rtol=0.4)
    assert seen.std() > 8.0 * drawn.std()


def test_few_variances_are_moderated_by_the_moments_of_their_logarithms():
    """Smyth 2004, section 6.2, by hand: trigamma(d0 / 2) = the sample variance of the logs, less trigamma(d / 2)."""
    seen, freedom = np.exp(np.random.default_rng(6).normal(size=(12, 1))), 4.0
    logs = np.log(seen) - special.digamma(freedom / 2) + np.log(freedom / 2)
    excess = logs.var(ddof=1) - special.polygamma(1, freedom / 2)
    prior = 2.0 * optimize.brentq(lambda half: special.polygamma(1, half) - excess, 1e-2, 1e3)
    centre = np.exp(logs.mean() + special.digamma(prior / 2) - np.log(prior / 2))
    drawn, total = moderated(seen, freedom)
    assert excess > 0.1
    assert total[0] == pytest.approx(prior + freedom)
    np.testing.assert_allclose(drawn, (prior * centre + freedom * seen) / (prior + freedom), rtol=1e-9)


def test_variances_less_spread_than_chance_are_one_variance():
    """No spread is left for a prior: it counts as two million degrees of freedom, and each variance becomes the common one."""
    drawn, total = moderated(np.full((12, 1), 0.7), 8.0)
    assert total[0] == 2e6 + 8.0
    assert drawn.std() < 1e-12


def test_shared_spreads_have_the_freedom_of_all_they_rest_on():
    """Satterthwaite's combination of the moderated variances, each with the freedom of its replicates and of the prior."""
    values = np.random.default_rng(7).normal(size=(12, 2, 4)) * np.exp(np.random.default_rng(8).normal(size=(12, 2, 1)))
    drawn, total = moderated(values.var(axis=2, ddof=1), 3.0)
    parts = drawn / (4 * 2**2)
    found = estimate(values, share_spreads=True)
    np.testing.assert_allclose(found.error, np.sqrt(parts.sum(axis=1)))
    np.testing.assert_allclose(found.freedom, parts.sum(axis=1) ** 2 / (parts**2 / total).sum(axis=1))

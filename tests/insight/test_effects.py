import numpy as np
import pandas as pd
import pytest
from scipy import stats
from statsmodels.formula.api import ols
from statsmodels.stats.anova import AnovaRM, anova_lm

from sweep.insight.effects import class_shares, classes_of, confounded, factorial_effects, sampled_shares
from tests.references import reference

LEVELS = {"a": 3, "b": 2, "c": 4}
SHAPE = tuple(LEVELS.values())


def grid():
    return np.meshgrid(*(np.arange(count) for count in SHAPE), indexing="ij")


def truth():
    """Means with a strong `a`, a weak `b`, an interaction of a and c, and nothing of c alone."""
    a, b, c = grid()
    return (1.0 * (a - 1) ** 2 + 0.3 * b + 0.4 * (a - 1) * np.array([1.0, -1.0, 1.0, -1.0])[c]).ravel()


def flown(generator, conditions=2, replicates=3, alike=0.5):
    """Scores: the truth, a sea that all meet, and chance that designs with the same level of `a` share."""
    a, _, _ = grid()
    sea = generator.standard_normal((conditions, replicates))
    shared = alike * generator.standard_normal((3, conditions, replicates))[a.ravel()]
    own = 0.5 * generator.standard_normal((a.size, conditions, replicates))
    return truth()[:, None, None] + sea + shared + own


def long_table(values):
    index = np.indices(values.shape).reshape(3, -1)
    table = pd.DataFrame({name: each.ravel()[index[0]] for name, each in zip("abc", grid(), strict=True)})
    return table.assign(design=index[0], condition=index[1], subject=index[2], y=values.ravel())


def test_sums_of_squares_are_those_of_an_analysis_of_variance():
    """Against statsmodels' `anova_lm`, over the designs' means: what each effect has of the whole."""
    values = flown(np.random.default_rng(1), replicates=1)
    means = long_table(values).groupby(["a", "b", "c"], as_index=False)["y"].mean()
    outside = anova_lm(ols("y ~ C(a) + C(b) + C(c) + C(a):C(b) + C(a):C(c) + C(b):C(c)", means).fit(), typ=2)
    found = factorial_effects(values, LEVELS).table
    shares = outside["sum_sq"] / ((means["y"] - means["y"].mean()) ** 2).sum()
    np.testing.assert_allclose(found["share"], shares.iloc[:6], rtol=1e-9)
    np.testing.assert_array_equal(found["freedom"], outside["df"].iloc[:6])
    assert found[["low", "high", "f", "p"]].isna().all(axis=None)


def test_f_is_that_of_repeated_measures():
    """Against statsmodels' `AnovaRM`, replicates as subjects, in one condition."""
    values = flown(np.random.default_rng(2), conditions=1, replicates=5)
    outside = AnovaRM(long_table(values), "y", "subject", within=["a", "b", "c"]).fit().anova_table
    found = factorial_effects(values, LEVELS).table
    names = [":".join(filter(None, pair)) for pair in zip(found["factor"], found["beside"], strict=True)]
    wanted = outside.loc[names]
    np.testing.assert_allclose(found["f"], wanted["F Value"], rtol=1e-9)
    np.testing.assert_allclose(found["rest"], wanted["Den DF"], rtol=1e-9)
    np.testing.assert_allclose(found["p"], wanted["Pr > F"], rtol=1e-6, atol=1e-14)


def exact_shares():
    found = factorial_effects(truth()[:, None, None], LEVELS).table
    return found["share"].to_numpy(), found["total"].to_numpy()


def test_the_truth_itself_gives_its_own_shares():
    share, total = exact_shares()
    a, b, _ = grid()
    variance = truth().var()
    assert share[0] == pytest.approx(((a - 1) ** 2).var() / variance)
    assert share[1] == pytest.approx((0.3 * b).var() / variance)
    assert share[2] == pytest.approx(0.0, abs=1e-12)
    assert share.sum() == pytest.approx(1.0), "there is no interaction of three"
    assert total[2] == pytest.approx(share[4]), "c matters with a only"


def test_what_does_nothing_has_no_share_at_all():
    """Only `b` counts, in steps of 0.1 that doubles do not hold: the sums leave some 1e-33 of the others, which is nothing."""
    _, b, _ = grid()
    table = factorial_effects((0.1 + 0.7 * b).ravel()[:, None, None] * np.ones((1, 3, 3)), LEVELS).table
    others = table[(table["factor"] != "b") | (table["beside"] != "")]
    assert (others[["share", "low", "high", "size"]] == 0.0).all(axis=None)
    (alone,) = table[(table["factor"] == "b") & (table["beside"] == "")].to_dict("records")
    assert (alone["share"], alone["size"]) == (pytest.approx(1.0), pytest.approx((0.7 * b).std()))


@pytest.mark.parametrize(("conditions", "replicates"), [(6, 8), (6, 2)])
def test_intervals_of_shares_hold_the_truth(conditions, replicates):
    generator = np.random.default_rng(3)
    share, total = exact_shares()
    trials, held, joint = 120, np.zeros(6), np.zeros(3)
    for _ in range(trials):
        found = factorial_effects(flown(generator, conditions, replicates), LEVELS).table
        held += (found["low"] - 1e-9 <= share) & (share <= found["high"] + 1e-9)
        joint += (found["total_low"][:3] <= total[:3]) & (total[:3] <= found["total_high"][:3])
    assert held.min() >= 0.90 * trials
    assert joint.min() >= 0.90 * trials


def test_means_of_levels_hold_the_truth():
    generator, trials, held = np.random.default_rng(4), 120, 0
    exact = factorial_effects(truth()[:, None, None], LEVELS).levels
    for _ in range(trials):
        values = flown(generator, 6, 4)
        found = factorial_effects(values, LEVELS).levels
        centre = values.mean() - truth().mean()
        held += (found["low"] <= exact["mean"] + centre) & (exact["mean"] + centre <= found["high"])
    assert (held / trials).between(0.90, 1.0).all()
    assert 0.93 <= held.mean() / trials <= 0.97
    assert found["level"].tolist()[:9] == [0, 1, 2, 0, 1, 0, 1, 2, 3]


def test_a_sea_that_all_meet_changes_no_effect():
    values = flown(np.random.default_rng(5))
    rough = values + 50.0 * np.random.default_rng(6).standard_normal(values.shape[1:])
    one, two = (factorial_effects(each, LEVELS).table.drop(columns=["factor", "beside"]) for each in (values, rough))
    np.testing.assert_allclose(one.astype(float), two.astype(float), rtol=1e-7, atol=1e-9)


def ishigami(x):
    """Ishigami & Homma 1990, on the unit cube."""
    x = np.pi * (2.0 * np.asarray(x) - 1.0)
    return np.sin(x[..., 0]) + 7.0 * np.sin(x[..., 1]) ** 2 + 0.1 * x[..., 2] ** 4 * np.sin(x[..., 0])


def g_function(a):
    return lambda x: np.prod((np.abs(4.0 * np.asarray(x) - 2.0) + a) / (1.0 + np.asarray(a)), axis=-1)


def sampled(function, factors, base, seed):
    """Shares of a function by the samples of a variance-based plan; and the samples' responses."""
    points = stats.qmc.Sobol(2 * factors, rng=np.random.default_rng(seed)).random(base)
    a, b = points[:, :factors], points[:, factors:]
    mixed = {f"x{at}": np.where(np.arange(factors) == at, b, a) for at in range(factors)}
    responses = function(a), function(b), {name: function(each) for name, each in mixed.items()}
    return sampled_shares(*responses).table, responses


def test_first_and_total_shares_of_ishigami_are_the_closed_form_s():
    found, _ = sampled(ishigami, 3, 2**13, 1)
    exact = reference("statistics", "ishigami").rows[0]
    np.testing.assert_allclose(found["share"], [exact["S1"], exact["S2"], exact["S3"]], atol=0.02)
    np.testing.assert_allclose(found["total"], [exact["T1"], exact["T2"], exact["T3"]], atol=0.02)


def test_first_and_total_shares_of_the_g_function_are_the_closed_form_s():
    exact = reference("statistics", "sobol_g").rows[0]
    found, _ = sampled(g_function(np.array(exact["a"])), len(exact["a"]), 2**13, 2)
    np.testing.assert_allclose(found["share"][:5], exact["first"], atol=0.02)
    np.testing.assert_allclose(found["total"][:5], exact["total"], atol=0.02)


def span(found, name):
    low, high = ("low", "high") if name == "share" else ("total_low", "total_high")
    return (found[high] - found[low])[1]


def test_shares_are_those_of_scipy():
    found, (a, b, mixed) = sampled(ishigami, 3, 2**9, 3)
    responses = {"f_A": a[None], "f_B": b[None], "f_AB": np.stack([*mixed.values()])[:, None]}
    outside = stats.sobol_indices(func=responses, n=2**9)
    np.testing.assert_allclose(found["share"], np.clip(outside.first_order, 0, 1), rtol=1e-9)
    np.testing.assert_allclose(found["total"], outside.total_order, rtol=1e-9)
    drawn = outside.bootstrap(n_resamples=999)
    for name, interval in (("share", drawn.first_order), ("total", drawn.total_order)):
        low, high = interval.confidence_interval.low, interval.confidence_interval.high
        assert span(found, name) == pytest.approx((high - low)[1], rel=0.2)


def test_intervals_of_sampled_shares_hold_the_closed_form():
    exact = reference("statistics", "ishigami").rows[0]
    first, total = [exact[f"S{at}"] for at in (1, 2, 3)], [exact[f"T{at}"] for at in (1, 2, 3)]
    held = np.zeros((2, 3))
    generator, trials = np.random.default_rng(4), 300
    for _ in range(trials):
        a, b = generator.random((2, 256, 3))
        mixed = {str(at): ishigami(np.where(np.arange(3) == at, b, a)) for at in range(3)}
        found = sampled_shares(ishigami(a), ishigami(b), mixed).table
        held[0] += (found["low"] <= first) & (first <= found["high"])
        held[1] += (found["total_low"] <= total) & (total <= found["total_high"])
    assert held.min() >= 0.90 * trials


@pytest.mark.parametrize("count", [200, 2000])
def test_classes_tell_first_shares_of_any_even_sample(count):
    """Classes lose what a factor does within one, most where it turns quickly; the intervals hold what is left."""
    exact = reference("statistics", "ishigami").rows[0]
    generator, trials, found = np.random.default_rng(5), 150, []
    for _ in range(trials):
        points = stats.qmc.LatinHypercube(3, rng=generator).random(count)
        classes = {str(at): classes_of(pd.Series(points[:, at])) for at in range(3)}
        found.append(class_shares(ishigami(points), classes).table)
    rows = pd.concat(found)
    means = rows.groupby("factor")["share"].mean()
    np.testing.assert_allclose(means, [exact["S1"], exact["S2"], exact["S3"]], atol=0.12 if count == 200 else 0.02)
    fine = np.linspace(0.0, 1.0, 80_000, endpoint=False)
    angle = np.pi * (2.0 * fine - 1.0)
    alone = {"0": (1.0 + 0.1 * np.pi**4 / 5.0) * np.sin(angle), "1": 7.0 * np.sin(angle) ** 2}
    for name, values in alone.items():
        share = pd.Series(values).groupby((len(set(classes[name])) * fine).astype(int)).mean().var(ddof=0) / exact["variance"]
        told = rows[rows["factor"] == name]
        assert ((told["low"] <= share) & (share <= told["high"])).mean() >= 0.90


def test_factors_that_change_together_are_refused():
    generator = np.random.default_rng(6)
    one, two = generator.random((2, 200))
    classes = {name: classes_of(pd.Series(each)) for name, each in (("one", one), ("two", two), ("same", one**2))}
    assert confounded({name: classes[name] for name in ("one", "two")}) == ""
    assert confounded(classes) == "in its designs one and same change together"
    assert "under 6 designs" in confounded({"one": classes_of(pd.Series(one[:12]))})


def test_words_and_few_levels_are_their_own_classes():
    assert classes_of(pd.Series(["b", "a", "b"])).tolist() == [0, 1, 0]
    assert classes_of(pd.Series([3.0, 1.0, 3.0])).tolist() == [1, 0, 1]
    many = classes_of(pd.Series(np.random.default_rng(7).permutation(80)))
    assert np.bincount(many).tolist() == [20] * 4

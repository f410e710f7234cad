import numpy as np
import pandas as pd
import pytest
from scipy import stats
from statsmodels.formula.api import ols
from statsmodels.stats.anova import AnovaRM, anova_lm

from sweep.insight.effects import factorial_effects, factorial_shares, without
from sweep.insight.levels import along_lines
from sweep.insight.shares import class_shares, classes_of, confounded, pair_totals, sampled_shares
from tests.references import reference

LEVELS = {"a": 3, "b": 2, "c": 4}
SHAPE = tuple(LEVELS.values())


def shares(values, flies=None):
    """Shares of a factorial of `LEVELS`."""
    places = np.column_stack([each.ravel() for each in grid()])
    return factorial_shares(values, places, LEVELS, np.ones(len(values), dtype=bool) if flies is None else flies)


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
    found = shares(values)
    wanted = outside["sum_sq"] / ((means["y"] - means["y"].mean()) ** 2).sum()
    np.testing.assert_allclose(found["share"], wanted.iloc[:6], rtol=1e-9)
    np.testing.assert_array_equal(found["freedom"], outside["df"].iloc[:6])
    assert found[["low", "high", "f", "p"]].isna().all(axis=None)


def test_f_is_that_of_repeated_measures():
    """Against statsmodels' `AnovaRM`, replicates as subjects, in one condition."""
    values = flown(np.random.default_rng(2), conditions=1, replicates=5)
    outside = AnovaRM(long_table(values), "y", "subject", within=["a", "b", "c"]).fit().anova_table
    found = shares(values)
    names = [":".join(filter(None, pair)) for pair in zip(found["factor"], found["beside"], strict=True)]
    wanted = outside.loc[names]
    np.testing.assert_allclose(found["f"], wanted["F Value"], rtol=1e-9)
    np.testing.assert_allclose(found["rest"], wanted["Den DF"], rtol=1e-9)
    np.testing.assert_allclose(found["p"], wanted["Pr > F"], rtol=1e-6, atol=1e-14)


def exact_shares():
    found = shares(truth()[:, None, None])
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
        found = shares(flown(generator, conditions, replicates))
        held += (found["low"] - 1e-9 <= share) & (share <= found["high"] + 1e-9)
        joint += (found["total_low"][:3] <= total[:3]) & (total[:3] <= found["total_high"][:3])
    assert held.min() >= 0.90 * trials
    assert joint.min() >= 0.90 * trials


def test_means_of_levels_hold_the_truth():
    generator, trials, held, sure, wrong = np.random.default_rng(4), 60, 0, 0, 0
    exact = factorial_effects(truth()[:, None, None], LEVELS).levels
    alone = exact["beside"] == ""
    for _ in range(trials):
        values = flown(generator, 6, 4)
        found = factorial_effects(values, LEVELS).levels
        centre = values.mean() - truth().mean()
        inside = (found["low"] <= exact["mean"] + centre) & (exact["mean"] + centre <= found["high"])
        behind = (found["behind_low"] <= exact["behind"] + 1e-9) & (exact["behind"] <= found["behind_high"] + 1e-9)
        held += np.array([inside[alone].groupby(found["factor"]).all().all(), behind.groupby(found["factor"]).all().all()])
        sure += (found["behind_high"] < 0.0).sum()
        wrong += ((found["behind_high"] < 0.0) & (exact["behind"] > 1e-9)).sum()
    assert (held >= 0.85 * trials).all(), "three factors, each of which holds in 95 %"
    assert sure > 2 * trials
    assert wrong <= 0.05 * trials
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
    flights = (
        one_flight(responses[0]),
        one_flight(responses[1]),
        {name: one_flight(each) for name, each in responses[2].items()},
    )
    return sampled_shares(*flights), responses


def one_flight(values):
    """Values of designs, as of one flight of each."""
    return np.asarray(values)[:, None, None]


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
        together = stats.norm.isf(0.025 / 6) / stats.norm.isf(0.025)  # ours hold for two shares of three factors at once
        assert span(found, name) == pytest.approx(together * (high - low)[1], rel=0.2)


def test_intervals_of_sampled_shares_hold_the_closed_form():
    exact = reference("statistics", "ishigami").rows[0]
    first, total = [exact[f"S{at}"] for at in (1, 2, 3)], [exact[f"T{at}"] for at in (1, 2, 3)]
    held = np.zeros((2, 3))
    generator, trials = np.random.default_rng(4), 300
    for _ in range(trials):
        a, b = generator.random((2, 256, 3))
        mixed = {str(at): ishigami(np.where(np.arange(3) == at, b, a)) for at in range(3)}
        flights = {name: one_flight(each) for name, each in mixed.items()}
        found = sampled_shares(one_flight(ishigami(a)), one_flight(ishigami(b)), flights)
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
        found.append(class_shares(one_flight(ishigami(points)), classes))
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


def test_what_lines_have_in_common_is_the_fit_with_an_effect_for_each_line():
    """Some designs do not fly: against statsmodels' least squares with a dummy for every line, and for every cell of a pair."""
    generator = np.random.default_rng(8)
    values = flown(generator, conditions=1, replicates=2)
    flies = generator.random(len(values)) > 0.3
    table = long_table(values).groupby(["a", "b", "c"], as_index=False)["y"].mean()[flies]
    own = values[flies] - values[flies].mean(axis=0)
    lines = {name: table[[each for each in "abc" if each != name]].astype(str).agg("".join, axis=1) for name in "abc"}
    table = table.assign(**{f"line_{name}": each for name, each in lines.items()})
    groups = {name: pd.factorize(each)[0] for name, each in lines.items()}
    smaller, larger = (ols(f"y ~ {right}", table).fit() for right in ("line_a", "line_a + C(a)"))
    wanted = larger.fittedvalues - smaller.fittedvalues
    found = without(own, [groups["a"]]) - without(own, [groups["a"], table["a"].to_numpy()])
    np.testing.assert_allclose(found.mean(axis=(1, 2)), wanted, atol=1e-9)
    curve = along_lines(values[flies], table["a"].to_numpy(), groups["a"], 3).mean(axis=(1, 2))
    steps = larger.params[["C(a)[T.1]", "C(a)[T.2]"]]
    np.testing.assert_allclose(curve[1:] - curve[0], steps, atol=1e-9)
    cells = table["a"].to_numpy() * 4 + table["c"].to_numpy()
    smaller, larger = (ols(f"y ~ {right}", table).fit() for right in ("line_a + line_c", "line_a + line_c + C(a):C(c)"))
    found = without(own, [groups["a"], groups["c"]]) - without(own, [groups["a"], groups["c"], cells])
    np.testing.assert_allclose(found.mean(axis=(1, 2)), larger.fittedvalues - smaller.fittedvalues, atol=1e-6)


def test_levels_that_nothing_links_are_not_compared():
    """Level 2 flies only on a line of its own: nothing tells it from the company that it keeps."""
    values = np.array([1.0, 2.0, 4.0, 5.0, 3.0])[:, None, None] * np.ones((1, 1, 2))
    place, line = np.array([0, 1, 0, 1, 2]), np.array([0, 0, 1, 1, 2])
    found = along_lines(values, place, line, 3)[:, 0, 0]
    assert found[:2].tolist() == pytest.approx([2.5, 3.5])
    assert np.isnan(found[2])


def failing_corner():
    """The truth, and which designs of it fly: not those of the largest a and c, which score 30 more."""
    a, _, c = grid()
    flies = ~((a == 2) & (c >= 2)).ravel()
    return np.where(flies, truth(), truth() + 30.0), flies


def test_designs_that_fail_do_not_drown_the_rest():
    generator, (exact, flies) = np.random.default_rng(9), failing_corner()
    drowned = shares(exact[:, None, None])
    among = shares(exact[:, None, None], flies)
    assert drowned["share"][1] < 0.01 < 0.05 < among["share"][1], "b"
    trials, held = 120, 0
    for _ in range(trials):
        values = flown(generator, 6, 3) + (exact - truth())[:, None, None]
        found = shares(values, flies)
        assert (found["total"] >= found["share"]).dropna()[:3].all()
        inside = (found["low"] - 1e-9 <= among["share"]) & (among["share"] <= found["high"] + 1e-9)
        joint = (found["total_low"] - 1e-9 <= among["total"]) & (among["total"] <= found["total_high"] + 1e-9)
        held += np.append(inside, joint[:3])
    assert held.min() >= 0.88 * trials
    assert held.mean() >= 0.93 * trials


@pytest.mark.parametrize("shared", [0.0, 0.4])
def test_chance_is_no_importance(shared):
    """No factor does anything, though waves favour now one level, now another: nothing is sure, and no level is the best."""
    generator, trials, most, best = np.random.default_rng(10), 60, 0, 0
    a, _, _ = grid()
    for _ in range(trials):
        own = generator.standard_normal((a.size, 4, 3)) + shared * generator.standard_normal((3, 4, 3))[a.ravel()]
        found = factorial_effects(own, LEVELS)
        alone = found.table[found.table["beside"] == ""]
        most += (alone["total_low"].max() > np.sort(alone["total_high"])[-2]) or bool((alone["low"] > 0.2).any())
        rows = found.levels[found.levels["beside"] == ""]
        best += int((rows["behind_high"] < 0.0).any())
    assert most <= 0.1 * trials
    assert best <= 3 * 0.05 * trials


def noisy(values, generator, size):
    """Flights of designs: their values, waves that all meet, and chance of each; 4 conditions of 3 replicates."""
    sea = generator.standard_normal((4, 3))
    return np.asarray(values)[:, None, None] + sea + size * generator.standard_normal((len(values), 4, 3))


def test_chance_in_flights_adds_nothing_to_sampled_shares():
    """A third factor without any effect, and noise as large as the spread of the designs: its total stays nothing."""
    generator, trials = np.random.default_rng(11), 60
    totals, firsts, held = [], [], 0
    for _ in range(trials):
        a, b = generator.random((2, 200, 3))
        plain = [4.0 * each[:, 0] + each[:, 1] for each in (a, b)]
        mixed = [np.where(np.arange(3) == at, b, a) for at in range(3)]
        flights = {str(at): 4.0 * each[:, 0] + each[:, 1] for at, each in enumerate(mixed)}
        whole = noisy(np.concatenate([*plain, *flights.values()]), generator, 1.5).reshape(5, 200, 4, 3)
        found = sampled_shares(whole[0], whole[1], dict(zip(flights, whole[2:], strict=True)))
        totals.append(found["total"])
        firsts.append(found["share"])
        held += (found["total_low"] <= [16 / 17, 1 / 17, 0.0]) & (found["total_high"] >= [16 / 17, 1 / 17, 0.0])
    np.testing.assert_allclose(np.mean(totals, axis=0), [16 / 17, 1 / 17, 0.0], atol=0.04)
    np.testing.assert_allclose(np.mean(firsts, axis=0), [16 / 17, 1 / 17, 0.0], atol=0.06)
    assert held.min() >= 0.88 * trials


def test_waves_that_favour_a_class_add_nothing_to_its_share():
    """In each block the classes of a factor that does nothing lie apart by as much as those of one that does."""
    generator, trials, shares, held = np.random.default_rng(12), 80, [], 0
    for _ in range(trials):
        one, two = generator.permutation(np.repeat(np.arange(4), 40)), generator.permutation(np.repeat(np.arange(4), 40))
        waves = generator.standard_normal((4, 4, 3))[two]
        values = one[:, None, None] + waves + generator.standard_normal((160, 4, 3))
        found = class_shares(values, {"one": one, "two": two})
        shares.append(found["share"])
        held += (found["low"] <= [1.0, 0.0]) & (found["high"] >= [1.0, 0.0])
    np.testing.assert_allclose(np.mean(shares, axis=0), [1.0, 0.0], atol=0.08)
    assert held.min() >= 0.88 * trials


def test_totals_from_pairs_that_fly_are_those_of_all_pairs_where_all_do():
    generator = np.random.default_rng(13)
    a, b = generator.random((2, 300, 3))
    mixed = [np.where(np.arange(3) == at, b, a) for at in range(3)]
    values = one_flight(np.concatenate([ishigami(each) for each in (a, b, *mixed)]))
    rows = np.arange(1500).reshape(5, 300)
    pairs = {str(at): (rows[0], rows[2 + at]) for at in range(3)}
    whole = sampled_shares(values[rows[0]], values[rows[1]], {name: values[two] for name, (_, two) in pairs.items()})
    flies = np.ones(1500, dtype=bool)
    found = pair_totals(values, pairs, flies, rows[:2].ravel())
    np.testing.assert_allclose(found["total"], whole["total"], rtol=1e-9)
    flies[generator.random(1500) < 0.2] = False
    fewer = pair_totals(values, pairs, flies, rows[:2].ravel())
    assert ((fewer["total_low"] <= found["total"]) & (found["total"] <= fewer["total_high"])).all()


def test_designs_that_rules_leave_out_are_as_designs_that_do_not_fly():
    """Left out of the table or refused in it: the same shares and level means; the test of the whole factorial is not made."""
    values = flown(np.random.default_rng(7))
    places = np.column_stack([each.ravel() for each in grid()])
    kept = (places[:, 0] < 2) | (places[:, 2] != 3)
    masked, left = factorial_effects(values, LEVELS, kept), factorial_effects(values[kept], LEVELS, places=places[kept])
    pd.testing.assert_frame_equal(left.table, masked.table)
    means = [column for column in left.levels if column not in ("designs", "failing")]
    pd.testing.assert_frame_equal(left.levels[means], masked.levels[means])
    assert left.levels["failing"].sum() == 0
    assert left.table["f"].isna().all()

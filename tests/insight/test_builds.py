"""Builds at their own best settings, on synthetic scores whose truth is known."""

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.factors import Factor
from sweep.insight.builds import GOOD_WITHIN, find_builds, lay_builds
from sweep.insight.ranking import rank

AREAS, GAINS, LAWS = (1.0, 2.0, 3.0), (0.1, 0.2, 0.4, 0.8), ("level", "fused")
FACTORS = {
    "area": Factor(label="area", addresses=("foils.*.area",), levels=AREAS),
    "gain": Factor(label="gain", addresses=("control.height.proportional",), levels=GAINS, kind="set"),
}


def designs(factors=FACTORS):
    """Full factorial over the factors' levels; the base craft has values of its own."""
    rows = pd.MultiIndex.from_product([factor.levels for factor in factors.values()], names=list(factors)).to_frame(index=False)
    base = pd.DataFrame({name: [np.nan] for name in factors})
    return pd.concat([base, rows], ignore_index=True).infer_objects()


def scores(means, generator, conditions=6, replicates=8, chance=0.2):
    sea = 0.3 * generator.standard_normal((conditions, replicates))
    return means[:, None, None] + sea + chance * generator.standard_normal((len(means), conditions, replicates))


MEANS = np.array([2.0, *(1.5, 1.0, 1.2, 3.0), *(0.9, 0.95, 0.9, 1.0), *(5.0, 0.8, 5.0, 5.0)])
"""Base craft; a build with a middling best, one that is good at any gain, one that is best at a single gain."""
KEPT = ["kept"] * len(MEANS)


def found(values, verdicts=KEPT, factors=FACTORS):
    told = find_builds(factors, designs(factors), values, verdicts)
    return told.table.set_index("build"), told.settings.set_index(["build", "factor"])


def test_every_build_stands_at_its_own_best_setting():
    table, settings = found(scores(MEANS, np.random.default_rng(1), chance=0.02))
    assert table.index.tolist() == [3, 2, 1, 0]
    assert table["design"].tolist() == [10, 5, 2, 0] or table["design"].tolist() == [10, 7, 2, 0]
    assert table["place"].tolist() == [1, 2, 3, 4]
    assert table["settings"].tolist() == [4, 4, 4, 1]
    assert table["good"].tolist() == [1, 4, 2, 1], f"within {GOOD_WITHIN} of the best"
    assert table.loc[3, "gain"] == pytest.approx(1.2, abs=0.05)
    assert settings.loc[(3, "gain"), "cost"] == pytest.approx(4.2, abs=0.05)
    assert settings.loc[(1, "gain"), "cost"] == pytest.approx(0.35, abs=0.05)
    assert settings.loc[(1, "gain"), ["good_from", "good_to"]].tolist() == [2, 3]
    assert settings.loc[(2, "gain"), ["good_from", "good_to"]].tolist() == [5, 8]
    assert 0 not in settings.index.get_level_values(0)


def test_choosing_and_judging_by_the_same_flights_flatters_and_leaving_out_does_not():
    """A build whose forty settings are all alike: the best of them looks better than any is."""
    gains = tuple(np.linspace(0.1, 4.0, 40))
    factors = {"gain": FACTORS["gain"].model_copy(update={"levels": gains})}
    means, generator, seen, held = np.ones(41), np.random.default_rng(2), [], []
    for _ in range(60):
        table, _ = found(scores(means, generator, conditions=2, replicates=3, chance=0.5), ["kept"] * 41, factors)
        seen.append(table.loc[1, "score_seen"] - table.loc[0, "score"])
        held.append(table.loc[1, "score"] - table.loc[0, "score"])
    error = np.std(held) / np.sqrt(len(held))
    assert np.mean(seen) < -0.3
    assert abs(np.mean(held)) < 3.0 * error
    assert error < 0.06


@pytest.mark.parametrize("replicates", [2, 8])
def test_gains_of_builds_and_costs_of_settings_hold_the_truth(replicates):
    """The best setting is plain here, so the truth of the held-out score is that of the setting."""
    generator, trials, gain, cost = np.random.default_rng(3), 80, 0, 0
    for _ in range(trials):
        table, settings = found(scores(MEANS, generator, replicates=replicates, chance=0.1))
        gain += table.loc[3, "gain_low"] <= 1.2 <= table.loc[3, "gain_high"]
        cost += settings.loc[(3, "gain"), "cost_low"] <= 4.2 <= settings.loc[(3, "gain"), "cost_high"]
    assert gain >= 0.90 * trials
    assert cost >= 0.90 * trials


def test_the_level_builds_hold_the_best_build():
    """With close settings the choice wavers; the truth of a build is that of its best setting."""
    generator, trials, held = np.random.default_rng(4), 100, 0
    for _ in range(trials):
        means = 1.0 + 0.3 * generator.random(len(MEANS))
        table, _ = found(scores(means, generator, replicates=4))
        boats = np.array([means[1:5].min(), means[5:9].min(), means[9:].min()])
        held += table.loc[1 + boats.argmin(), "may_be_best"] or means[0] < boats.min()
    assert held >= 0.95 * trials


def test_a_setting_that_broke_a_limit_is_not_chosen_and_a_build_of_such_has_no_place():
    verdicts = [*KEPT[:9], "kept", "broken", "kept", "kept"]
    table, settings = found(scores(MEANS, np.random.default_rng(5), chance=0.02), verdicts)
    assert table.loc[3, "design"] in (9, 11, 12)
    assert table.index[-1] == 3
    verdicts[9:] = ["broken"] * 4
    table, settings = found(scores(MEANS, np.random.default_rng(5), chance=0.02), verdicts)
    assert table["place"].isna().tolist() == [False, False, False, True]
    assert table.loc[3, ["design", "good", "verdict"]].tolist() == [10, 0, "broken"]
    assert settings.loc[(3, "gain"), ["good_from", "good_to"]].tolist() == [10, 10]


def test_one_setting_a_build_is_the_standings_of_designs():
    """Then nothing is chosen, and the builds' scores are those of their designs."""
    values = scores(MEANS, np.random.default_rng(6))
    alone = designs().assign(gain=lambda table: table.groupby("area", dropna=False)["gain"].transform("min"))
    assert lay_builds(FACTORS, alone.iloc[[0, 1, 5, 9]]) is None
    assert lay_builds(FACTORS, alone.iloc[[0, 1, 2, 5, 9]]) is None, "two of three builds have one setting"
    rows = [0, 1, 2, 5, 6, 9]
    few = designs().iloc[rows].reset_index(drop=True)
    table = find_builds(FACTORS, few, values[rows], KEPT[:6]).table.set_index("build")
    same = rank(values[rows], np.zeros(6, dtype=bool)).set_index("design")
    for build, design in ((0, 0), (3, 5)):
        assert table.loc[build, "score"] == pytest.approx(same.loc[design, "score"])
        assert table.loc[build, "score_low"] == pytest.approx(same.loc[design, "score_low"])


def test_without_settings_or_without_boats():
    built = {"area": FACTORS["area"]}
    assert lay_builds(built, designs(built)) is None
    assert find_builds(built, designs(built), np.ones((4, 2, 2)), KEPT[:4]).table.empty
    setting = {"gain": FACTORS["gain"]}
    table, settings = found(np.ones((5, 2, 2)), KEPT[:5], setting)
    assert table.index.tolist() == [0, 1]
    assert len(settings) == 1


def test_words_are_chosen_but_have_no_step():
    factors = FACTORS | {"law": Factor(label="law", addresses=("control.law",), levels=LAWS, kind="set")}
    means = np.concatenate([[2.0], np.arange(24) / 24.0 + 1.0])
    table, settings = found(scores(means, np.random.default_rng(7), chance=0.001), ["kept"] * 25, factors)
    assert table["settings"].tolist() == [8, 8, 8, 1]
    assert set(settings.index.get_level_values(1)) == {"gain"}
    assert settings.loc[(1, "gain"), "cost"] == pytest.approx(2.0 / 24.0, abs=0.01), "the law stays as it is"


def test_one_replicate_gives_no_interval_and_a_missing_flight_no_setting():
    values = scores(MEANS, np.random.default_rng(8), replicates=1, chance=0.02)
    table, settings = found(values)
    assert table[["score_low", "gain_low"]].isna().all(axis=None)
    assert settings["cost_low"].isna().all()
    holes = scores(MEANS, np.random.default_rng(9), chance=0.02)
    holes[10, 0, 0] = np.nan
    holes[1:5, 2, 1] = np.nan
    table, _ = found(holes)
    assert table.loc[3, "design"] != 10
    assert 1 not in table.index


def test_after_a_race_only_whole_replicates_of_those_that_stayed_count():
    values = scores(MEANS, np.random.default_rng(10), chance=0.02)
    raced = values.copy()
    raced[:, :, 5:] = np.nan
    raced[9, :, 2:] = np.nan
    one, two = found(raced)[0], found(np.where(np.arange(13)[:, None, None] == 9, np.nan, values)[:, :, :5])[0]
    pd.testing.assert_frame_equal(one, two)
    assert found(np.full_like(values, np.nan))[0].empty

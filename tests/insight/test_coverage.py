"""The study of `tests.benchmarks.coverage`, small: intervals and level groups hold the truth, skewed scores too."""

import numpy as np
import pytest

from tests.benchmarks.coverage import SPREADS, draws, of_a_mean, of_effects, of_the_level_group


@pytest.mark.parametrize("spread", [*SPREADS])
def test_normal_scores_are_held_as_often_as_said(spread):
    draw = draws(np.random.default_rng(21))["normal"]
    assert 0.93 <= of_a_mean(draw, SPREADS[spread], 8, 20_000) <= 0.97
    assert of_a_mean(draw, SPREADS[spread], 2, 20_000) >= 0.90


@pytest.mark.parametrize("name", ["skewed", "rare"])
def test_skewed_scores_are_held_nearly_as_often(name):
    draw = draws(np.random.default_rng(22))[name]
    assert of_a_mean(draw, SPREADS["unlike"], 2, 20_000) >= 0.90
    assert of_a_mean(draw, SPREADS["unlike"], 8, 20_000) >= 0.90


@pytest.mark.parametrize("name", ["normal", "skewed", "rare"])
@pytest.mark.parametrize("replicates", [2, 8])
def test_the_level_group_holds_the_true_best(name, replicates):
    generator = np.random.default_rng(23)
    held, size = of_the_level_group(draws(generator)[name], generator, 100, replicates, 150)
    assert held >= 0.95
    assert size < 50, "and it is not simply everybody"


@pytest.mark.parametrize("name", ["skewed", "rare"])
def test_shares_of_factors_are_held_when_chance_is_skewed(name):
    generator = np.random.default_rng(24)
    lowest, mean = of_effects(draws(generator)[name], generator, 4, 60)
    assert lowest >= 0.88
    assert mean >= 0.93

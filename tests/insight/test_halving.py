"""The chance that halving lost the best, over made-up scores."""

import numpy as np

from sweep.insight.halving import FEWEST, chance_lost

CONDITIONS, REPLICATES, SHORT = 4, 8, 1


def raced(gaps, spread, seed):
    """Scores of a best, of designs that flew on, and of halved ones with these true gaps in the first replicate alone."""
    draws = np.random.default_rng(seed)
    true = np.concatenate([[1.0], 1.0 + np.linspace(0.1, 0.5, 12), 1.0 + np.asarray(gaps)])
    scores = true[:, None, None] + 0.3 * draws.normal(size=(CONDITIONS, REPLICATES))
    scores = scores + spread * draws.normal(size=(len(true), CONDITIONS, REPLICATES))
    scores[13:, :, SHORT:] = np.nan
    return scores, np.arange(13, len(true))


def test_a_halved_design_far_behind_loses_nothing_and_one_as_good_loses_half():
    """Of one design that is as good as the best, half; of designs behind by twenty standard errors, none."""
    chances = [chance_lost(*(lambda made: (made[0], 0, made[1]))(raced([0.0], 0.1, seed))) for seed in range(200)]
    assert 0.4 < np.mean(chances) < 0.6
    scores, halved = raced([1.0] * 20, 0.1, 3)
    assert chance_lost(scores, 0, halved) < 1e-4


def test_the_more_few_blocks_mislead_the_larger_is_the_chance():
    gaps = np.linspace(0.3, 1.0, 20)
    calm, rough = (np.mean([chance_lost(*at) for at in made]) for made in both(gaps))
    assert calm < 0.01 < 0.05 < rough


def both(gaps):
    for spread in (0.05, 0.5):
        yield [(scores, 0, halved) for scores, halved in (raced(gaps, spread, seed) for seed in range(20))]


def test_the_chance_is_no_less_than_how_often_the_best_is_lost():
    """Races of one halving: what is stated on average covers how often one of the halved is the truly best."""
    stated, lost = [], 0
    for seed in range(200):
        draws = np.random.default_rng(seed)
        true = 1.0 + draws.gamma(2.0, 0.1, 40)
        scores = true[:, None, None] + 0.25 * draws.normal(size=(40, CONDITIONS, REPLICATES))
        halved = scores[:, :, 0].mean(axis=1).argsort()[20:]
        scores[halved, :, SHORT:] = np.nan
        stayed = np.setdiff1d(np.arange(40), halved)
        best = int(stayed[scores[stayed].mean(axis=(1, 2)).argmin()])
        stated.append(chance_lost(scores, best, halved))
        lost += true.argmin() in halved
    assert 0.02 < lost / 200 <= np.mean(stated)


def test_with_too_few_that_flew_on_the_paired_differences_tell_and_one_block_tells_nothing():
    scores, halved = raced([0.5], 0.1, 1)
    scores[FEWEST:13, :, SHORT:] = np.nan
    assert chance_lost(scores, 0, halved) < 0.05
    scores[FEWEST:, 1:] = np.nan
    assert np.isnan(chance_lost(scores, 0, halved))

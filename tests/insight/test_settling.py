"""Which flights tell the leading designs apart, over made-up scores."""

import numpy as np
import pytest

from sweep.insight.limits import LimitCounts
from sweep.insight.settling import LAGS, Settling, within
from sweep.insight.uneven import behind, shared_means, uneven_estimate

CONDITIONS, LENGTH = 4, 10.0


def made(means, replicates, seed=0, spread=0.05, own=0.0):
    """Scores of designs with these means: what a block does to all, and each one's own chance; own: more in condition 0."""
    draws = np.random.default_rng(seed)
    noise = draws.normal(size=(len(means), CONDITIONS, replicates)) * spread
    noise[:, 0] += own * draws.normal(size=(len(means), replicates))
    return np.asarray(means)[:, None, None] + 0.3 * draws.normal(size=(CONDITIONS, replicates)) + noise


def test_who_is_surely_behind_is_out_and_who_cannot_be_told_is_open():
    scores = made([2.0, 1.0, 1.0, 1.6, 3.0], 24, spread=0.01)
    found = within(scores, np.ones(5, dtype=bool), 0.1, looks=3)
    assert found.out.tolist() == [True, False, False, True, True]
    assert not found.open.any()
    few = within(made([2.0, 1.0, 1.02, 1.09], 2, spread=0.2), np.ones(4, dtype=bool), 0.1, looks=3)
    assert few.open.any()
    assert not (few.open & few.out).any()


def test_a_design_that_breaks_a_limit_is_no_choice():
    found = within(made([2.0, 1.0, 1.5], 8), np.array([True, False, True]), 0.1, looks=1)
    assert found.out[1]
    assert not found.open[1]


def test_blocks_go_where_the_differences_vary_but_no_condition_is_forgotten():
    """Neyman: with standard deviations as 10 to 1, ten times the blocks; here `LAGS` times at most, since all are looked at."""
    state = Settling(made([2.0, 1.0, 1.1, 1.2], 3, spread=0.02, own=0.5), 400, LENGTH)
    blocks = state.next_blocks(90)
    counts = 3 + np.bincount([condition for condition, _ in blocks], minlength=CONDITIONS)
    assert len(blocks) == len(set(blocks)) == 90
    assert counts[0] == counts.max()
    assert counts.max() > 2 * counts[1:].max()
    assert counts.max() <= LAGS * counts.min() + 1
    for condition in range(CONDITIONS):
        assert sorted(at for each, at in blocks if each == condition) == list(range(3, counts[condition]))


def test_equal_spreads_get_equal_blocks():
    state = Settling(made([2.0, 1.0, 1.1, 1.2, 1.15, 1.3], 40, spread=0.2), 400, LENGTH)
    counts = np.bincount([condition for condition, _ in state.next_blocks(80)], minlength=CONDITIONS)
    assert counts.min() >= 15


def test_no_condition_gets_more_than_the_most():
    state = Settling(made([2.0, 1.0], 3), 5, LENGTH)
    assert len(state.next_blocks(100)) == 2 * CONDITIONS
    state.add(
        tuple(np.array(each) for each in zip(*[(0, *block) for block in state.next_blocks(100)], strict=True)), np.ones(8)
    )
    state.add(
        tuple(np.array(each) for each in zip(*[(1, *block) for block in state.next_blocks(100)], strict=True)), np.ones(8)
    )
    assert state.next_blocks(100) == ()


def test_the_base_craft_flies_on_and_who_is_out_does_not_come_back():
    state = Settling(made([5.0, 1.0, 1.1, 3.0, *([1.2] * 20)], 12, spread=0.1), 40, LENGTH)
    state.look(np.ones(24, dtype=bool))
    assert state.standing.out[[0, 3]].all()
    state.choose(1e9)
    assert 0 in state.flyers
    assert 3 not in state.flyers
    state.choose(0.0)
    assert len(state.flyers) <= 9
    before = set(state.flyers.tolist())
    state.choose(1e9)
    assert set(state.flyers.tolist()) <= before


def test_an_even_design_is_told_by_its_own_mean_and_one_with_fewer_blocks_by_its_distance():
    scores = made([2.0, 1.0, 1.3], 6, spread=0.01)
    scores[2, :, 2:] = np.nan
    told = shared_means(scores, 1)
    assert told[:2] == pytest.approx(scores[:2].mean(axis=(1, 2)))
    apart = (scores[2] - scores[1])[:, :2].mean()
    assert told[2] == pytest.approx(scores[1].mean() + apart)
    assert abs(told[2] - 1.3 - (told[1] - 1.0)) < 0.02 < abs(np.nanmean(scores[2]) - 1.3 - (told[1] - 1.0))


def test_spreads_that_inform_each_other_change_no_distance():
    scores = made(np.linspace(1.0, 2.0, 30), 3, spread=0.1)
    scores[20:, 2:] = np.nan
    alone, together = behind(scores, 0), behind(scores, 0, share_spreads=True)
    assert together.mean == pytest.approx(alone.mean)
    assert (together.freedom[1:] >= alone.freedom[1:] - 1e-9).all()
    assert np.isfinite(together.error[1:]).all()
    assert uneven_estimate(scores).mean.shape == (30,)


def test_a_condition_that_was_looked_at_more_closely_weighs_no_more_in_a_limit():
    """2 events in 2 flights of one condition and 40 in 40: either way all of it; none in the other: half of all together."""
    counts = LimitCounts({}, 1, 2, evens=True)
    counts.flights[:] = [[2.0, 40.0]]
    assert counts.weights().tolist() == [[1.0, 0.05]]
    even = LimitCounts({}, 1, 2)
    even.flights[:] = counts.flights
    assert even.weights().tolist() == [[1.0, 1.0]]

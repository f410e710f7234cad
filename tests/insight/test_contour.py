"""On which side of enough clean flights a cell lies: against the binomial distribution, and with its neighbours' evidence."""

import numpy as np
import pytest
from scipy import stats

from sweep.insight.contour import ENOUGH, sides


def test_a_cell_alone_is_judged_by_the_beta_posterior():
    found = sides(np.array([18.0]), np.array([20.0]))
    expected = stats.beta(18.5, 2.5).sf(ENOUGH)
    assert found.over[0] == pytest.approx(expected)
    assert found.under[0] == pytest.approx(1.0 - expected)


def test_clean_flights_in_higher_waves_speak_for_lower_ones_and_not_the_other_way():
    alone, above = np.array([2.0, 0.0, 0.0]), np.array([2.0, 0.0, 30.0])
    flights = np.array([2.0, 0.0, 0.0]), np.array([2.0, 0.0, 30.0])
    assert sides(alone, flights[0]).over[0] < 0.6
    assert (sides(above, flights[1]).over > 0.95).all()
    below = sides(np.array([30.0, 0.0, 0.0]), np.array([30.0, 0.0, 2.0]))
    assert below.over[0] > 0.95
    assert below.over[2] < 0.01


def test_failures_in_lower_waves_speak_against_higher_ones():
    found = sides(np.array([5.0, 0.0]), np.array([10.0, 0.0]))
    assert (found.under > 0.95).all()
    assert (found.doubt() < 0.05).all()

"""The kernels' own elementary functions against numpy, over the ranges that they promise."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numba import njit

from sweep.model.elementary import arctangent, clip, exp_negative, nearest, sine_cosine, smoothstep


@njit
def _sine_cosine(x: np.ndarray) -> np.ndarray:
    out = np.empty((2, x.size))
    for i in range(x.size):
        out[0, i], out[1, i] = sine_cosine(x[i])
    return out


@njit
def _exponential(x: np.ndarray) -> np.ndarray:
    return np.array([exp_negative(value) for value in x])


@njit
def _arctangent(x: np.ndarray) -> np.ndarray:
    return np.array([arctangent(value) for value in x])


@pytest.mark.parametrize("reach", [1.0, 10.0, 1e3, 1e5])
def test_sine_and_cosine_are_good_to_1e_10(reach: float) -> None:
    x = np.concatenate([np.linspace(-reach, reach, 400_001), np.random.default_rng(0).uniform(-reach, reach, 100_000)])
    sine, cosine = _sine_cosine(x)
    assert np.abs(sine - np.sin(x)).max() < 1e-10
    assert np.abs(cosine - np.cos(x)).max() < 1e-10
    assert np.abs(sine**2 + cosine**2 - 1.0).max() < 3e-10


def test_sine_and_cosine_at_quarter_turns() -> None:
    """Where the reduction changes from one half turn to the next."""
    x = np.concatenate([np.arange(-2000, 2000) * np.pi / 2 + nudge for nudge in (-1e-9, 0.0, 1e-9)])
    sine, cosine = _sine_cosine(x)
    assert np.abs(sine - np.sin(x)).max() < 1e-10
    assert np.abs(cosine - np.cos(x)).max() < 1e-10


def test_sine_is_odd_and_cosine_even_to_the_bit() -> None:
    x = np.linspace(0.0, 100.0, 20_001)
    forth, back = _sine_cosine(x), _sine_cosine(-x)
    assert np.array_equal(forth[0], -back[0])
    assert np.array_equal(forth[1], back[1])
    assert sine_cosine(0.0) == (0.0, 1.0)


def test_exponential_is_good_to_1e_8_of_itself() -> None:
    x = np.concatenate([-np.linspace(0.0, 24.0, 400_001), -np.geomspace(1e-12, 24.0, 10_001)])
    assert np.abs(_exponential(x) / np.exp(x) - 1.0).max() < 1e-8


def test_exponential_starts_at_one_and_is_held_past_24() -> None:
    assert exp_negative(0.0) == 1.0
    assert exp_negative(-25.0) == exp_negative(-1e300) == exp_negative(-24.0) > 0.0


def test_exponential_never_grows() -> None:
    """A lag that moved away from its goal, even by rounding, would be felt in a long flight."""
    values = _exponential(-np.linspace(0.0, 30.0, 300_001))
    assert np.all(np.diff(values) <= 1e-16)
    assert values.max() == 1.0


def test_arctangent_is_good_to_1e_8() -> None:
    x = np.concatenate([np.linspace(-2.0, 2.0, 400_001), np.geomspace(1e-12, 2.0, 10_001)])
    found = _arctangent(x)
    assert np.abs(found - np.arctan(x)).max() < 1e-8
    assert np.array_equal(found, -_arctangent(-x))
    assert arctangent(0.0) == 0.0


@given(st.floats(-(2.0**50), 2.0**50))
def test_nearest_is_the_nearest_whole_number_half_to_even(x: float) -> None:
    assert nearest(x) == np.rint(x)


@pytest.mark.parametrize(("x", "wanted"), [(0.5, 0.0), (1.5, 2.0), (2.5, 2.0), (-0.5, 0.0), (-1.5, -2.0), (7.49999, 7.0)])
def test_halves_go_to_the_even_neighbour(x: float, wanted: float) -> None:
    assert nearest(x) == wanted


@given(x=st.floats(-1e6, 1e6), low=st.floats(-1e3, 0.0), high=st.floats(0.0, 1e3))
def test_clip_keeps_within(x: float, low: float, high: float) -> None:
    assert clip(x, low, high) == np.clip(x, low, high)


def test_smoothstep_is_flat_at_both_ends() -> None:
    """Third degree, value and slope of a smooth join: 0, 1/2, 1; slope 0, 3/2, 0."""
    assert [smoothstep(x) for x in (-1.0, 0.0, 0.5, 1.0, 2.0)] == [0.0, 0.0, 0.5, 1.0, 1.0]
    step = 1e-6
    slopes = [(smoothstep(x + step) - smoothstep(x - step)) / (2 * step) for x in (0.0, 0.5, 1.0)]
    assert slopes == pytest.approx([0.0, 1.5, 0.0], abs=1e-5)

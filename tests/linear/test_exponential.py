"""The exponential of a matrix, beside a library's and what is known of it by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.linalg import expm

from sweep.linear.exponential import exponential


@pytest.mark.parametrize("size", [1e-9, 0.1, 5.0, 40.0])
def test_it_is_that_of_a_library(size: float) -> None:
    """The second implementation is scipy's (Al-Mohy & Higham 2009), of stiff matrices too."""
    matrix = np.random.default_rng(3).normal(size=(20, 20)) @ np.diag(np.geomspace(1e-3, 1.0, 20)) * size / 5.0
    wanted = expm(matrix)
    assert np.abs(exponential(matrix) - wanted).max() <= 1e-13 * max(1.0, size) * np.abs(wanted).max()


@pytest.mark.parametrize("angle", [0.0, 1e-5, 0.3, 3.0, 400.0])
def test_a_turn_is_a_rotation(angle: float) -> None:
    """exp [[0, -a], [a, 0]] is the rotation by a (any textbook of linear algebra)."""
    sine, cosine = np.sin(angle), np.cos(angle)
    turned = exponential(np.array([[0.0, -angle], [angle, 0.0]]))
    assert turned == pytest.approx(np.array([[cosine, -sine], [sine, cosine]]), abs=1e-15 + 1e-14 * angle)


def test_a_chain_of_integrals_is_a_polynomial() -> None:
    """The powers of a nilpotent matrix end, and so does the series."""
    chain = exponential(np.diag([2.0, 2.0, 2.0], k=1))
    assert chain[0] == pytest.approx([1.0, 2.0, 2.0, 8.0 / 6.0], rel=1e-15)

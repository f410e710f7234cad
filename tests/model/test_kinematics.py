"""Rates of place and angles from the velocities in body axes, by the textbook."""

from __future__ import annotations

from math import cos, sin, tan
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sweep.model import layout as at
from sweep.model.kernels.frame import kinematics, turn
from tests.model.crafts import Bench, courier, rotation


@pytest.fixture(scope="module")
def bench() -> Bench:
    return Bench(courier())


@settings(max_examples=30, deadline=None)
@given(
    angles=st.tuples(st.floats(-1.0, 1.0), st.floats(-1.2, 1.2), st.floats(-3.0, 3.0)),
    velocity=st.tuples(*[st.floats(-8.0, 8.0)] * 3),
    rates=st.tuples(*[st.floats(-3.0, 3.0)] * 3),
)
def test_rates_of_place_and_angles(bench: Bench, angles: Any, velocity: Any, rates: Any) -> None:
    """Good to the 1e-8 of the model's own sine."""
    bench.put(at.STATE.phi, angles)
    bench.put(at.STATE.u, velocity)
    bench.put(at.STATE.p, rates)
    turn(bench.flat, at.STATE.phi, at.ROTATION.first)
    kinematics(bench.flat, at.STATE.first)
    phi, theta, _ = angles
    to_euler = np.array(
        [
            [1.0, sin(phi) * tan(theta), cos(phi) * tan(theta)],
            [0.0, cos(phi), -sin(phi)],
            [0.0, sin(phi) / cos(theta), cos(phi) / cos(theta)],
        ]
    )
    assert bench.get(at.ROTATION).reshape(3, 3) == pytest.approx(rotation(*angles), abs=1e-7)
    assert bench.get(at.RATE.x, 3) == pytest.approx(rotation(*angles) @ velocity, abs=1e-6)
    assert bench.get(at.RATE.phi, 3) == pytest.approx(to_euler @ rates, abs=1e-5)

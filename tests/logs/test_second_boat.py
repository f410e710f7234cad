"""The boat of many days is the second model: the same accelerations at random moments, in the air and with its hull wet."""

from __future__ import annotations

import numpy as np
import pytest

from tests.logs.second_boat import SETTLE, Boats, State, waves_of
from tests.model.crafts import courier
from tests.second import second_model
from tests.second.courier import FRESH
from tests.second.sea import Sea
from tests.second.second_model import Inputs, acceleration, build, forces


@pytest.mark.parametrize(("height", "heading"), [(0.095, np.pi), (0.09, 0.0), (0.01, np.pi)])
def test_the_boat_accelerates_as_the_second_model(height: float, heading: float) -> None:
    draws = np.random.default_rng(round(1000 * height))
    model, one = build(courier(), FRESH), np.ones(1)
    waves = waves_of(0.05, 1.1, [3], 0, heading, lines=24)
    pitch, u, w, q, ahead, aft = draws.normal([0.01, 4.0, 0.0, 0.0, 0.03, 0.02], [0.03, 0.0, 0.1, 0.2, 0.02, 0.02])
    lag, wake = draws.normal(0.06, 0.01, 2), 0.25
    z = -height - model.mass.centre[2]
    mine = State(2.0 * one, z * one, pitch * one, u * one, w * one, q * one, 0.2 * one, lag[None], wake * one)
    time = SETTLE
    found = Boats([courier()], float(u)).rates(waves, time, mine, np.array([[ahead, aft]]))
    sea = Sea(*(each[0] for each in (waves.amplitude, waves.omega, waves.along)), np.zeros(24), waves.phase[0])
    lags = np.array([lag[0 if strip.foil < 2 else 1] for strip in model.strips])
    still = np.zeros(3)
    state = second_model.State(
        np.array([2.0, 0.0, z]), np.array([0.0, pitch, 0.0]), np.array([u, 0.0, w]), np.array([0.0, q, 0.0]), lags,
        np.full(len(model.pairs), wake), 0.2, 0.0,
    )  # fmt: skip
    loads = forces(model, sea, time, state, Inputs(np.array([ahead, ahead, aft]), 0.0, 0.2))
    wanted = acceleration(model, state, loads)
    assert found.acceleration[0] == pytest.approx(wanted[[0, 2, 4]], rel=1e-6, abs=1e-6)
    assert wanted[[1, 3, 5]] == pytest.approx(still, abs=1e-9)
    assert found.wake_goal[0] == pytest.approx(loads.downwash_goal[0], rel=1e-9)
    rates = found.lag_rate[0] * (found.lag_goal[0] - lag)
    assert rates == pytest.approx([loads.lift_lag_rate[0], loads.lift_lag_rate[-1]], rel=1e-6)

"""What small changes are foretold to do, on scores whose shape is known."""

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.factors import Factor
from sweep.insight.nearby import foretell, small_steps

LEVELS = (1.0, 2.0, 3.0, 4.0)
FACTORS = {
    "area": Factor(label="area", addresses=("a",), levels=LEVELS),
    "gain": Factor(label="gain", addresses=("b",), levels=(1.0, 2.0, 4.0, 8.0), spacing="log"),
    "law": Factor(label="law", addresses=("c",), levels=("one", "other")),
}


def table():
    rows = [(np.nan, np.nan, "one")] + [
        (area, gain, law) for area in LEVELS for gain in (1.0, 2.0, 4.0, 8.0) for law in ("one", "other")
    ]
    return pd.DataFrame(rows, columns=["area", "gain", "law"])


def bowl(designs, noise=0.0, replicates=4):
    """A parabola in the area about 2.6 and in the log of the gain about 3; the words apart by 5."""
    means = (
        1.0 + 0.4 * (designs["area"] - 2.6) ** 2 + 0.3 * np.log2(designs["gain"] / 3.0) ** 2 + 5.0 * (designs["law"] == "other")
    )
    draws = np.random.default_rng(3)
    return means.fillna(9.0).to_numpy()[:, None, None] + noise * draws.normal(size=(len(designs), 3, replicates))


def steps_of(designs, scores, leader, usable=None):
    usable = np.isfinite(scores[:, 0, 0]) if usable is None else usable
    return {
        (step.label, round(step.value, 6)): foretell(scores, leader, step.weights)
        for step in small_steps(FACTORS, designs, usable, leader)
    }


def test_a_parabola_is_foretold_exactly():
    designs = table()
    scores = bowl(designs)
    leader = int(scores.mean(axis=(1, 2)).argmin())
    found = steps_of(designs, scores, leader)
    assert designs.loc[leader].tolist() == [3.0, 2.0, "one"] or designs.loc[leader].tolist() == [3.0, 4.0, "one"]
    assert found["area", 2.5].gain == pytest.approx(0.4 * (0.4**2 - 0.1**2))
    assert found["area", 3.5].gain == pytest.approx(0.4 * (0.4**2 - 0.9**2))
    here = designs.loc[leader, "gain"]
    middle = round(float(np.sqrt(8.0)), 6)
    expected = 0.3 * (np.log2(here / 3.0) ** 2 - np.log2(middle / 3.0) ** 2)
    assert found["gain", middle].gain == pytest.approx(expected)
    assert {label for label, _ in found} == {"area", "gain"}


def test_beyond_the_last_level_a_straight_line_is_drawn():
    designs = table()
    slope = designs["area"].fillna(9.0).to_numpy()[:, None, None] * np.ones((1, 3, 4))
    leader = 1
    found = steps_of(designs, slope, leader)
    assert found["area", 0.5].gain == pytest.approx(0.5)
    assert found["area", 1.5].gain == pytest.approx(-0.5)


def test_without_neighbours_a_plane_through_the_nearest_tells():
    draws = np.random.default_rng(5)
    designs = pd.DataFrame({"area": draws.uniform(1, 4, 60), "gain": 2.0 ** draws.uniform(0, 3, 60), "law": "one"})
    scores = (0.5 * designs["area"] - 0.2 * np.log2(designs["gain"])).to_numpy()[:, None, None] * np.ones((1, 2, 3))
    leader = 7
    found = steps_of(designs, scores, leader)
    spans = designs["area"].iloc[1:].max() - designs["area"].iloc[1:].min(), np.ptp(np.log2(designs["gain"].iloc[1:]))
    gains = {label: sorted(told.gain for (each, _), told in found.items() if each == label) for label in ("area", "gain")}
    assert gains["area"] == pytest.approx([-0.05 * spans[0], 0.05 * spans[0]])
    assert gains["gain"] == pytest.approx([-0.02 * spans[1], 0.02 * spans[1]])


def test_designs_that_broke_a_limit_foretell_nothing():
    designs = table()
    usable = np.ones(len(designs), dtype=bool)
    usable[designs.index[designs["area"] == 2.0]] = False
    leader = designs.index[(designs["area"] == 3.0) & (designs["gain"] == 2.0) & (designs["law"] == "one")][0]
    found = steps_of(designs, bowl(designs), leader, usable)
    assert ("area", 2.0) in found
    assert ("area", 3.5) in found


def test_the_interval_of_what_is_foretold_holds_it():
    designs, held = table(), 0
    leader = designs.index[(designs["area"] == 3.0) & (designs["gain"] == 2.0) & (designs["law"] == "one")][0]
    for seed in range(200):
        scores = bowl(designs) + 0.3 * np.random.default_rng(seed).normal(size=(len(designs), 3, 4))
        told = steps_of(designs, scores, leader)["area", 2.5]
        held += int(told.low <= 0.4 * (0.4**2 - 0.1**2) <= told.high)
    assert 0.91 <= held / 200 <= 0.99


def test_no_step_leads_to_a_part_that_cannot_be_had():
    """From 20 ms, with 60 ms beside it, half a step down would be none at all: it halves, on the same straight line."""
    factors = {"latency": Factor(label="latency", addresses=("a",), levels=(0.02, 0.06, 0.1))}
    designs = pd.DataFrame({"latency": [np.nan, 0.02, 0.06, 0.1]})
    scores = designs["latency"].fillna(9.0).to_numpy()[:, None, None] * np.ones((1, 3, 4))
    down, up = list(small_steps(factors, designs, np.ones(4, dtype=bool), 1))
    assert (down.value, up.value) == (pytest.approx(0.01), pytest.approx(0.04))
    assert foretell(scores, 1, down.weights).gain == pytest.approx(0.01)

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from sweep.insight.robust import condition_costs, tolerance_costs

OFFS = [("as described", ""), ("mass", "lighter"), ("mass", "heavier"), ("thrust", "less")]


def flights(generator, cost, replicates=4, conditions=3):
    """Scores of one design: a sea that all its crafts meet, chance of each, and what being off costs."""
    sea = 2.0 * generator.standard_normal((conditions, replicates))
    blocks = [(condition, replicate) for condition in range(conditions) for replicate in range(replicates)]
    names = {"design": 7, "off": "", "side": "", "condition": 0, "replicate": 0}
    rows = []
    for (off, side), more in zip(OFFS, cost, strict=True):
        for block in blocks:
            score = sea[block] + more + 0.1 * generator.standard_normal()
            rows.append({**dict(zip(names, (7, off, side, *block), strict=True)), "score": score})
    return pd.DataFrame(rows).sample(frac=1.0, random_state=1).sort_values("side", kind="stable")


def test_costs_are_paired_intervals():
    """In one condition: Student's paired interval, by scipy."""
    table = flights(np.random.default_rng(1), [0.0, 0.5, -0.5, 1.0], replicates=6, conditions=1)
    found = tolerance_costs(table).set_index(["off", "side"])
    wide = table.pivot_table(index="replicate", columns=["off", "side"], values="score")
    outside = stats.ttest_rel(wide[("thrust", "less")], wide[("as described", "")])
    interval = outside.confidence_interval(0.95)
    assert found.loc[("thrust", "less"), "low"] == pytest.approx(interval.low)
    assert found.loc[("thrust", "less"), "high"] == pytest.approx(interval.high)
    assert len(found) == 3


def test_costs_hold_the_truth():
    generator, truth, trials = np.random.default_rng(2), [0.0, 0.05, 0.0, 0.2], 150
    held = np.zeros(3)
    for _ in range(trials):
        found = tolerance_costs(flights(generator, truth)).set_index(["off", "side"]).loc[OFFS[1:]]
        held += (found["low"] <= truth[1:]) & (truth[1:] <= found["high"])
    assert held.min() >= 0.90 * trials


def test_a_condition_costs_what_it_lies_above_the_mean():
    levels = ["calm", "calm", "rough", "rough"]
    scores = np.array([[1.0, 1.0], [3.0, 3.0], [4.0, 4.0], [6.0, 6.0]])
    calm, rough = condition_costs(scores, levels)
    assert (calm["level"], calm["cost"], calm["low"]) == ("calm", -1.5, -1.5)
    assert (rough["level"], rough["cost"], rough["high"]) == ("rough", 1.5, 1.5)
    assert condition_costs(scores, ["same"] * 4) == []
    uneven = condition_costs(scores, ["a", "b", "b", "b"])
    assert [row["cost"] for row in uneven] == pytest.approx([1.0 - 3.5, 13.0 / 3.0 - 3.5])


def test_intervals_of_conditions_hold_the_truth():
    generator, trials, held = np.random.default_rng(3), 300, 0
    for _ in range(trials):
        scores = np.array([[0.0], [1.0], [2.0]]) + np.array([[0.2], [0.5], [1.0]]) * generator.standard_normal((3, 5))
        row = condition_costs(scores, ["a", "b", "b"])[0]
        held += row["low"] <= -1.0 <= row["high"]
    assert 0.92 * trials <= held <= 0.985 * trials

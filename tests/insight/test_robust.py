import numpy as np
import pandas as pd
import pytest
from scipy import stats

from sweep.insight.robust import best_by_side, condition_costs, tolerance_costs

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
    """In one condition: Student's paired interval, by scipy, one of three that hold together."""
    table = flights(np.random.default_rng(1), [0.0, 0.5, -0.5, 1.0], replicates=6, conditions=1)
    found = tolerance_costs(table).set_index(["off", "side"])
    wide = table.pivot_table(index="replicate", columns=["off", "side"], values="score")
    outside = stats.ttest_rel(wide[("thrust", "less")], wide[("as described", "")])
    interval = outside.confidence_interval(1.0 - 0.05 / 3)  # one of three
    assert found.loc[("thrust", "less"), "low"] == pytest.approx(interval.low)
    assert found.loc[("thrust", "less"), "high"] == pytest.approx(interval.high)
    assert len(found) == 3


def test_costs_hold_the_truth():
    generator, truth, trials = np.random.default_rng(2), [0.0, 0.05, 0.0, 0.2], 150
    held = np.zeros(3)
    for _ in range(trials):
        found = tolerance_costs(flights(generator, truth)).set_index(["off", "side"]).loc[OFFS[1:]]
        held += (found["low"] <= truth[1:]) & (truth[1:] <= found["high"])
    assert held.min() >= 0.95 * trials


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
    assert 0.95 * trials <= held <= 0.995 * trials, "one of two"


def two_designs(lighter, chance=0.01):
    """Scores of designs 3 and 8 as described (3 is better by 0.5) and 5 % lighter, where 8 is `lighter` above 3."""
    draws, rows = np.random.default_rng(5), []
    for design, off, side, score in (
        (3, "", "", 1.0),
        (8, "", "", 1.5),
        (3, "mass", "lighter", 2.0),
        (8, "mass", "lighter", 2.0 + lighter),
        (3, "thrust", "less", 9.0),
        (8, "thrust", "less", 1.0),
    ):
        for condition in range(2):
            for replicate in range(4):
                score_here = score + chance * draws.normal()
                rows.append((design, off, side, condition, replicate, score_here))
    return pd.DataFrame(rows, columns=["design", "off", "side", "condition", "replicate", "score"])


def test_another_design_is_the_best_where_it_is_surely_better():
    """8 is better by a whole 1 when lighter, worse by 1, or better by less than chance moves it; thrust is another matter."""
    assert best_by_side(two_designs(-1.0), "mass") == {"": 3, "lighter": 8}
    assert best_by_side(two_designs(1.0), "mass") == {"": 3, "lighter": 3}
    assert best_by_side(two_designs(-0.1, chance=1.0), "mass") == {"": 3, "lighter": 3}
    alone = two_designs(-1.0)
    assert best_by_side(alone[alone["design"] == 3], "mass") == {}

"""What a choice does at the leader, by planted scores: a factor that does little on average and much there."""

import itertools

import numpy as np
import pandas as pd

from sweep.insight.at_leader import beside_leader, neighbours

LABELS = ["area", "count", "law"]
TABLE = pd.DataFrame([(2.5, 1, "a"), *itertools.product([1.0, 2.0, 3.0], [1, 2], ["a", "b"])], columns=LABELS, index=range(13))


def planted(area: float, count: int, law: str) -> float:
    """A second sensor helps by a tenth at the largest area and law b, and does as much harm elsewhere that it averages out."""
    there = area == 3.0 and law == "b"
    return 2.0 - 0.3 * area + (0.11 if there else -0.022) * (count == 1) - (0.1 if there else 0.0)


def scores(replicates: int, spread: float = 0.02, seed: int = 1) -> np.ndarray:
    truth = np.array([planted(*row) for row in TABLE.itertuples(index=False)])
    noise = np.random.default_rng(seed).normal(0.0, spread, (len(TABLE), 4, replicates))
    waves = np.random.default_rng(seed + 999).normal(0.0, 0.3, (1, 4, replicates))
    return truth[:, None, None] + waves + noise


def test_neighbours_differ_in_one_choice_and_the_base_craft_is_none_of_them():
    leader = TABLE.index[(TABLE == [3.0, 2, "b"]).all(axis=1)][0]
    found = neighbours(TABLE, LABELS, int(leader))
    assert {label: sum(each == label for each in found.values()) for label in LABELS} == {"area": 2, "count": 1, "law": 1}
    for design, label in found.items():
        assert [name for name in LABELS if TABLE[name][design] != TABLE[name][leader]] == [label]
    twin = TABLE.copy()
    twin.loc[0] = [3.0, 1, "b"]
    assert 0 not in neighbours(twin, LABELS, int(leader))


def test_a_choice_that_averages_out_is_found_at_the_leader_and_surely():
    own = scores(8)
    leader = int(own.mean(axis=(1, 2)).argmin())
    assert TABLE.loc[leader].tolist() == [3.0, 2, "b"]
    on_average = own[TABLE["count"].to_numpy() == 1][1:].mean() - own[TABLE["count"].to_numpy() == 2].mean()
    assert abs(on_average) < 0.02
    beside = neighbours(TABLE, LABELS, leader)
    found = beside_leader(own[[leader, *beside]], len(TABLE)).assign(label=list(beside.values())).set_index("label")
    assert abs(found.loc["count", "more"] - 0.11) < 0.03
    assert 0.03 < found.loc["count", "least"] < 0.11


def test_what_is_surely_lost_is_truly_lost_whoever_is_picked():
    """With noise as large as the differences the leader is often another one; what is said holds jointly in at least 95 %."""
    truth = np.array([planted(*row) for row in TABLE.itertuples(index=False)])
    held = []
    for seed in range(200):
        own = scores(3, 0.15, seed)
        leader = int(own.mean(axis=(1, 2)).argmin())
        beside = list(neighbours(TABLE, LABELS, leader))
        least = beside_leader(own[[leader, *beside]], len(TABLE))["least"].to_numpy() if beside else np.zeros(0)
        held.append(bool((least <= truth[beside] - truth[leader] + 1e-12).all()))
    assert np.mean(held) >= 0.95


def test_what_was_not_flown_is_not_known():
    own = scores(2)[:4]
    own[2] = np.nan
    found = beside_leader(own, len(TABLE))
    assert np.isfinite(found["more"]).tolist() == [True, False, True]
    assert not found["least"][1] > 0.0

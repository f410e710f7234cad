"""What the choice hangs on: named where it is so, and silent where it is not."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pandas as pd
from scipy.stats import binomtest

from sweep.campaign.unknowns import Unknown, Unknowns
from sweep.insight.builds import Builds
from sweep.insight.hanging import COLUMNS, LEAST_DRAWS, first_to_measure, gains_of_knowing, hangs_on, too_few

NAMES = ("lift", "drag", "wake", "latency", "inertia")
UNKNOWNS = Unknowns(
    each=tuple(
        Unknown(label=name, addresses=(f"x.{name}",), way="times", low=0.5, high=1.5, described=(1.0,)) for name in NAMES
    )
)
NO_BUILDS = Builds(pd.DataFrame(), pd.DataFrame())
FLIPS = {"latency": (4, 9)}


def campaign(seed: int, draws: int, unknowns: Unknowns = UNKNOWNS) -> SimpleNamespace:
    return SimpleNamespace(unknowns=unknowns, flight=SimpleNamespace(seed=seed), replicates=draws)


def numbers(seed: int, draws: int) -> np.ndarray:
    """What is drawn, from -1 to 1, (unknowns, draws)."""
    return 2.0 * (np.array([UNKNOWNS.numbers(seed, draw) for draw in range(draws)]).T - 1.0)


def scored(seed: int, draws: int, planted: bool, designs: int = 20) -> np.ndarray:
    """Scores of designs in two conditions. All go with lift alike; chance is as large as they are apart.

    planted: designs 4 and 9 lead, one with little and the other with much latency, and are 0.3 apart at the ends.
    """
    random, drawn = np.random.default_rng(seed), numbers(seed, draws)
    means = 1.5 + np.abs(random.normal(0.0, 0.1, designs))
    scores = means[:, None] + 0.4 * drawn[0] + random.normal(0.0, 0.05, (designs, draws)) + random.normal(0.0, 0.2, draws)
    if planted:
        low, high = FLIPS["latency"]
        scores[low] -= means[low] - 1.35 - 0.15 * drawn[3]
        scores[high] -= means[high] - 1.35 + 0.15 * drawn[3]
    return np.asarray(scores[:, None] + random.normal(0.0, 0.05, (designs, 2, draws)))


def told(seed: int, draws: int, planted: bool) -> pd.DataFrame:
    scores = scored(seed, draws, planted)
    return hangs_on(campaign(seed, draws), scores, np.ones(len(scores), dtype=bool), NO_BUILDS)  # type: ignore[arg-type]


def test_a_choice_that_flips_is_named_with_the_designs_at_both_ends() -> None:
    """In nine of ten campaigns or more of 24 draws, and what it gains is told.

    By hand: known, the choice gains what the flat part of a triangle has: |x| 0.15 on average over x from -1 to 1, 0.075.
    """
    found = [first_to_measure(told(seed, 24, True)) for seed in range(30)]
    named = [rows[0] for rows in found if rows and rows[0]["unknown"] == "latency"]
    assert len(named) >= 27
    assert all((row["below"], row["above"]) == FLIPS["latency"] for row in named)
    assert 0.05 < np.mean([row["gain"] for row in named]) < 0.08, "rather too small"
    assert 0.3 < np.mean([row["changes"] for row in named]) < 0.7
    assert np.mean([row["gain_low"] <= 0.075 for row in named]) > 0.9


def test_without_dependence_it_is_silent() -> None:
    """In 95 % of campaigns, all unknowns together: a failure if the count is not one that 95 % explains (Clopper & Pearson)."""
    named = [bool(first_to_measure(told(seed, 14, False))) for seed in range(60)]
    assert binomtest(sum(named), len(named)).proportion_ci(0.99).low <= 0.05


def test_few_draws_tell_nothing() -> None:
    table = told(1, LEAST_DRAWS - 1, True)
    assert list(table.columns) == list(COLUMNS)
    assert too_few(table)
    assert not table["told"].any()
    assert not too_few(told(1, LEAST_DRAWS, True))


def test_nothing_unknown_is_no_table() -> None:
    none = campaign(1, 20)
    none.unknowns = None
    assert hangs_on(none, scored(1, 20, True), np.ones(20, dtype=bool), NO_BUILDS).empty  # type: ignore[arg-type]


def test_a_design_that_broke_a_limit_is_no_choice() -> None:
    usable = np.ones(20, dtype=bool)
    usable[list(FLIPS["latency"])] = False
    table = hangs_on(campaign(3, 24), scored(3, 24, True), usable, NO_BUILDS)  # type: ignore[arg-type]
    assert not set(FLIPS["latency"]) & set(table["below"]) & set(table["above"])


def test_designs_that_flew_on_are_the_choices_of_all_their_draws() -> None:
    scores = scored(5, 30, True)
    leaders = [0, *FLIPS["latency"], 2]
    scores[np.setdiff1d(np.arange(20), leaders), :, 8:] = np.nan
    table = hangs_on(campaign(5, 8), scores, np.ones(20, dtype=bool), NO_BUILDS)  # type: ignore[arg-type]
    assert (table["draws"] == 30).all()
    (first,) = [row for row in first_to_measure(table) if row["unknown"] == "latency"]
    assert (first["below"], first["above"]) == FLIPS["latency"]


def test_builds_are_the_choices_where_there_are_settings() -> None:
    """Their scores are those of settings chosen anew in each draw; each is called by the design that it is best as."""
    own = scored(7, 24, True).mean(axis=1)
    boats = Builds(pd.DataFrame(), pd.DataFrame(), own, 100 + np.arange(20), np.ones(20, dtype=bool))
    pairs = UNKNOWNS.model_copy(update={"waves": 2, "shared": 48})
    table = hangs_on(campaign(7, 48, pairs), np.zeros((20, 2, 48)), np.ones(20, dtype=bool), boats)  # type: ignore[arg-type]
    assert (table["draws"] == 24).all()
    assert first_to_measure(table)[0]["unknown"] == "latency"
    assert (first_to_measure(table)[0]["below"], first_to_measure(table)[0]["above"]) == (104, 109)


def test_a_draw_is_told_by_the_others() -> None:
    """A design that is very good in one draw alone is not what that draw is told to change to."""
    choices, across = scored(9, 16, True).mean(axis=1), numbers(9, 16)[3]
    lucky = int(choices.mean(axis=1).argsort()[6])
    before, _ = gains_of_knowing(choices, across[None])
    for draw in range(16):
        changed = choices.copy()
        changed[lucky, draw] -= 1.0
        after, _ = gains_of_knowing(changed, across[None])
        assert after[0, draw] == before[0, draw]

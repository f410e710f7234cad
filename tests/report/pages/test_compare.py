"""Designs side by side: told of the same waves, and the same as the standings have it."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import pytest

from sweep.report.pages import compare
from sweep.results.store import Results
from tests.site_results import results


def test_every_pair_is_as_far_apart_as_its_scores(told: Results) -> None:
    score, said = told.standings.set_index("design")["score"], compare.pairs(told)
    assert len(said) == len(told.leaders) * (len(told.leaders) - 1) / 2
    for pair, sentence in said.items():
        one, other = map(int, pair.split())
        better = one if score[one] <= score[other] else other
        assert sentence.startswith("The base craft" if better == 0 else f"Design {better} scores")
        told_apart = float(re.search(r"scores ([\d.e-]+)", sentence)[1])  # type: ignore[index]
        assert told_apart == pytest.approx(abs(score[one] - score[other]), rel=6e-3, abs=1e-9)


def test_chance_is_named(told: Results) -> None:
    """A pair whose interval reaches zero may be chance; the base craft, far behind in the made-up results, is not."""
    for sentence in compare.pairs(told).values():
        low = float(re.search(r"\((-?[\d.e-]+) to", sentence)[1])  # type: ignore[index]
        assert ("may be chance" in sentence) == (low <= 0.0)


def test_one_replicate_has_no_interval(tmp_path: Path) -> None:
    single = results(tmp_path, replicates=1, areas=2)
    one_condition = dataclasses.replace(
        single, conditions=single.conditions.head(1), flights=single.flights.query("condition == 0")
    )
    assert all("cannot tell how sure" in sentence for sentence in compare.pairs(one_condition).values())


def test_the_first_choice_is_the_best_two_and_the_base_craft(told: Results) -> None:
    first = compare.first_choice(told)
    assert first[:2] == told.standings.sort_values("place")["design"].head(2).tolist()
    assert first[-1] == 0

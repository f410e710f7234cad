"""Foretold beside measured: the change that two surfaces hold, and a score that is kept over days."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sweep.campaign.text.problems import CampaignError
from sweep.logs.compare.expect import Expected
from sweep.logs.compare.foretold import Kept, Met, foretold, read_score
from sweep.logs.report.score import foretold_sentences, keep_score
from sweep.logs.sea.sea_state import Estimate

SCATTER = 0.05


def surface(random: np.random.Generator | None, effect: float = 0.0, flights: int = 24) -> Expected:
    """Of a craft whose error is 1.1 cm times exp(effect), as flights of it tell; without `random`, exactly."""
    off = np.zeros(4)
    if random is not None:
        off[0] = SCATTER * random.standard_normal() / np.sqrt(flights)
    level = np.array([np.log(0.011) + effect, 0.9, -0.2, 0.1])
    covariance = np.diag([SCATTER**2 / flights, 0.0, 0.0, 0.0])
    return Expected(
        (np.log(0.05), np.log(1.1)),
        {"sensed_error": level + off},
        {"sensed_error": covariance},
        {"sensed_error": 0.05},
        1.0,
        0.0,
    )


PASSES = [Met(0.05, 1.1, 0), Met(0.06, 1.0, 0), Met(0.05, 1.1, 1)]


def test_the_change_is_that_of_the_surfaces() -> None:
    found = foretold([surface(None)] * 2, [surface(None, 0.2)] * 2, PASSES, "sensed_error")
    assert found.value == pytest.approx(np.expm1(0.2))


def test_its_interval_holds_it_as_often_as_it_says() -> None:
    """At least 370 of 400 at 95 % (fewer has a chance of 1.3 %, binomial)."""
    random = np.random.default_rng(4)
    held = 0
    for _ in range(400):
        first, second = ([surface(random, effect) for _ in range(2)] for effect in (0.0, 0.2))
        found = foretold(first, second, PASSES, "sensed_error")
        held += found.low <= np.expm1(0.2) <= found.high
    assert 370 <= held <= 394


def kept(craft: str = "Courier", measured: float = 0.4, day: str = "2026-06-01") -> Kept:
    model, water = Estimate(0.3, 0.25, 0.35), Estimate(measured, measured - 0.15, measured + 0.15)
    return Kept(day, 'A day, "windy"', craft, "plain", "firm", "sensed_error", model, water)


def test_a_score_is_kept_over_days_and_counts_this_craft_alone(tmp_path: Path) -> None:
    path = tmp_path / "score.csv"
    keep_score(path, [kept()], "Courier")
    keep_score(path, [kept(day="2026-06-02", measured=0.9)], "Courier")
    keep_score(path, [kept(craft="Heron")], "Heron")
    (said, others) = keep_score(path, [kept()], "Courier")  # the same day again
    assert len(read_score(path)) == 3
    assert "over two days, 1 of two comparisons agree" in said or "over 2 days, 1 of 2 comparisons agree" in said
    assert "Heron" in others
    assert read_score(path)[0].title == 'A day, "windy"'


def test_a_file_that_is_no_score_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "notes.csv"
    path.write_text("a,b\n1,2\n", encoding="utf-8")
    with pytest.raises(CampaignError, match="no score"):
        keep_score(path, [kept()], "Courier")
    assert path.read_text(encoding="utf-8") == "a,b\n1,2\n"


def test_foretold_beside_measured_in_words() -> None:
    (alike,) = foretold_sentences([kept()])
    assert "the model foretold 30 % (25 to 35), the water showed 40 % (25 to 55); chance may part them" in alike
    (apart,) = foretold_sentences([kept(measured=0.9)])
    assert "more than chance" in apart

"""The axes of all designs at once: no few far values stretch them, and what stands at an end is told."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from sweep.report.charts.explore import place_on_axis
from sweep.report.display import Column, design_table
from sweep.report.page import gather
from sweep.report.pages import explore
from sweep.results.store import Results

SCORE = Column("score", "score", "", "response")


def test_an_even_spread_keeps_its_ends() -> None:
    assert explore.axis_end(SCORE, pd.Series(np.linspace(1.0, 3.0, 50))) is None
    assert explore.axis_end(SCORE, pd.Series([2.0] * 9)) is None
    assert explore.axis_end(SCORE, pd.Series([np.nan] * 3)) is None


@pytest.mark.parametrize("far", [1, 10])
def test_what_few_designs_score_does_not_stretch_the_axis(far: int) -> None:
    near = pd.Series(np.linspace(1.0, 3.0, 90))
    end = explore.axis_end(SCORE, pd.concat([near, pd.Series([60.0] * far)]))
    assert end is not None
    assert 3.0 < end < 7.0


def test_levels_and_factors_are_never_cut() -> None:
    far = pd.Series([1.0] * 50 + [2.0] * 20 + [90.0])
    assert explore.axis_end(Column("a", "a", "", "factor"), far) is None
    assert explore.axis_end(Column("a", "a", "", "cost", levels=(1.0, 2.0, 90.0)), far) is None


def test_what_is_further_out_stands_at_the_end_and_is_told(told: Results) -> None:
    standings = told.standings.copy()
    worst = standings["score"].nlargest(3).index
    standings.loc[worst, "score"] = 900.0
    material = gather(told)
    columns, table = design_table(told)
    table = table.assign(score=table["design"].map(standings.set_index("design")["score"]))
    page, files = explore.make(type(material)(told, tuple(columns), table, material.seas))
    assert isinstance(page, explore.ExplorePage)
    assert page.views is not None
    assert "3 over " in page.views.note
    assert f'"{place_on_axis("score")}"' in files["data/explore.js"]
    assert ",900" in files["data/explore.js"], "what a mark says of itself is not cut"
    assert f'"field":"{place_on_axis("score")}"' in page.views.spec


def test_scores_are_told_of_those_that_flew_and_equal_ones_have_no_spread() -> None:
    def said(*scores: float) -> str:
        return explore.sentences(pd.DataFrame({"design": range(len(scores)), "score": scores}), [])[0]

    assert said(0.5, 1.5, 1.0) == "Scores of 3 designs run from 0.5 to 1.5; half are under 1."
    assert said(0.5, np.nan, 1.5) == "Scores of 2 designs run from 0.5 to 1.5; half are under 1."
    assert said(0.816, 0.816, 0.816) == "All 3 designs that flew have the score 0.816."

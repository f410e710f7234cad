"""The score of the leading designs, with how sure it is."""

from __future__ import annotations

import altair as alt
import numpy as np
import pandas as pd

from sweep.report.charts.theme import colour, dress
from sweep.report.display import BASE, GOOD, OTHERS

GROUPS = (GOOD, OTHERS, BASE)
ROW_PIXELS = 24  # judgement


def score_intervals(table: pd.DataFrame, of: str = "design") -> alt.LayerChart:
    """Scores as points on their intervals, in the table's order; `of`: what they are scores of.

    `table` columns: label, score, score_low, score_high (NaN: no interval), group (one of GROUPS), page ('' if none).
    """
    row = alt.Y("label:N", sort=None, title=of, axis=alt.Axis(grid=False), scale=alt.Scale(domain=table["label"].tolist()))
    axis = alt.Scale(domain=_span(table), nice=True, zero=False)
    groups = list(GROUPS)
    look = alt.Color("group:N", scale=alt.Scale(domain=groups, range=[colour("best"), colour("kept"), colour("base")]))
    form = alt.Shape("group:N", scale=alt.Scale(domain=groups, range=["circle", "square", "diamond"]))
    tip = [alt.Tooltip("label:N", title=of)] + [
        alt.Tooltip(f"{field}:Q", title=title, format=".3~g")
        for field, title in (("score", "score"), ("score_low", "from"), ("score_high", "to"))
    ]
    chart = alt.Chart().encode(y=row, color=look, tooltip=tip)
    across = alt.X("score_low:Q", scale=axis, title="score, less is better", axis=alt.Axis(tickCount=7))
    spans = chart.mark_rule(strokeWidth=3, opacity=0.45).encode(x=across, x2="score_high:Q")
    points = chart.mark_point(filled=True, size=90, opacity=1, cursor="pointer").encode(
        x=alt.X("score:Q", scale=axis, title="score, less is better"), shape=form
    )
    both = alt.LayerChart(data=table, layer=[spans, points]).properties(
        width="container",
        height=ROW_PIXELS * max(len(table), 1),
        autosize=alt.AutoSizeParams(type="fit-x", contains="padding"),
        description=_described(table, of),
    )
    return dress(both)


def _span(table: pd.DataFrame) -> list[float]:
    values = table[["score", "score_low", "score_high"]].to_numpy(float)
    values = values[np.isfinite(values)]
    return [float(values.min()), float(values.max())] if values.size else [0.0, 1.0]


def _described(table: pd.DataFrame, of: str) -> str:
    good = int((table["group"] == GOOD).sum())
    return (
        f"Scores of {len(table)} {of}s, best first, each as a point on its interval; "
        f"{good} of them {'is' if good == 1 else 'are'} good enough. The table below holds the same numbers."
    )

"""The score of one design in each condition, beside the base craft's."""

from __future__ import annotations

import altair as alt
import pandas as pd

from sweep.report.charts.theme import colour, dress

ROW_PIXELS = 46  # judgement, as all sizes here
LINE_PIXELS = 13  # of a line of a label
LABEL_PIXELS = alt.ExprRef("containerSize()[0] > 600 ? 320 : 140")  # a name of 40 letters stands whole where there is room
ROW_BREAKS = 2  # between lines of a label that a row has room for


def condition_scores(table: pd.DataFrame, names: tuple[str, ...]) -> alt.Chart:
    """Scores as points, one row a condition.

    `table` columns: name (of the condition), who (one of `names`: the design, then the base craft), score.
    """
    domain, ranges = list(names), [colour("best"), colour("base")][: len(names)]
    conditions = table["name"].drop_duplicates().tolist()
    top = float(table["score"].max()) if table["score"].notna().any() else 1.0
    look = alt.Color("who:N", scale=alt.Scale(domain=domain, range=ranges))
    form = alt.Shape("who:N", scale=alt.Scale(domain=domain, range=["circle", "diamond"][: len(names)]))
    # A condition's name is long for a phone: one line each for sea, heading and speed.
    lines = max((name.count(", ") for name in conditions), default=0)
    labels = alt.Axis(
        labelExpr="split(datum.label, ', ')",
        labelLimit=LABEL_PIXELS,
        labelLineHeight=LINE_PIXELS,
        labelOffset=-lines * LINE_PIXELS / 2,
    )
    points: alt.Chart = (
        alt.Chart(table)
        .mark_point(filled=True, size=90, opacity=0.9)
        .encode(
            y=alt.Y("name:N", sort=None, title=None, scale=alt.Scale(domain=conditions), axis=labels),
            x=alt.X(
                "score:Q",
                title="score, less is better",
                scale=alt.Scale(domain=[0.0, 1.05 * top or 1.0]),
                axis=alt.Axis(tickCount=6),
            ),
            color=look,
            shape=form,
            tooltip=[
                alt.Tooltip("name:N", title="condition"),
                alt.Tooltip("who:N", title="design"),
                alt.Tooltip("score:Q", format=".3~g"),
            ],
        )
    )
    return dress(
        points.properties(
            width="container",
            height=(ROW_PIXELS + LINE_PIXELS * max(lines - ROW_BREAKS, 0)) * max(len(conditions), 1),
            autosize=alt.AutoSizeParams(type="fit-x", contains="padding"),
            description=f"Score of {' and '.join(names)} in each of {len(conditions)} conditions; less is better.",
        )
    )

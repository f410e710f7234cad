"""The score of one design in each condition, beside the base craft's."""

from __future__ import annotations

import altair as alt
import pandas as pd

from sweep.report.charts.theme import LINE_PIXELS, colour, dress, most_lines, wrapped

ROW_PIXELS = 46  # judgement
ROW_LINES = 3  # of a label, that a row has room for


def condition_scores(table: pd.DataFrame, names: tuple[str, ...]) -> alt.Chart:
    """Scores as points, one row a condition.

    `table` columns: name (of the condition), who (one of `names`: the design, then the base craft), score.
    """
    domain, ranges = list(names), [colour("best"), colour("base")][: len(names)]
    conditions = table["name"].drop_duplicates().tolist()
    top = float(table["score"].max()) if table["score"].notna().any() else 1.0
    look = alt.Color("who:N", scale=alt.Scale(domain=domain, range=ranges))
    form = alt.Shape("who:N", scale=alt.Scale(domain=domain, range=["circle", "diamond"][: len(names)]))
    # A condition's name is long for a phone: sea, heading and speed begin a line each.
    lines = most_lines(conditions, apart=", ")
    labels = alt.Axis(**wrapped(conditions, apart=", "))
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
            height=(ROW_PIXELS + LINE_PIXELS * max(lines - ROW_LINES, 0)) * max(len(conditions), 1),
            autosize=alt.AutoSizeParams(type="fit-x", contains="padding"),
            description=f"Score of {' and '.join(names)} in each of {len(conditions)} conditions; less is better.",
        )
    )

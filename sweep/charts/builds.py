"""How the score of a build changes along one of its settings."""

from __future__ import annotations

import altair as alt
import pandas as pd

from sweep.charts.theme import dress, line_scales
from sweep.shown import Column


def setting_curves(table: pd.DataFrame, column: Column, log: bool) -> alt.Chart:
    """Scores along one set factor, a line a build; `table` columns: factor (key of its column), build, value, score."""
    rows = table[table["factor"] == column.key]
    names = rows["build"].drop_duplicates().tolist()
    look, dash = line_scales(names)
    scale = alt.Scale(type="log", nice=False, padding=12) if log else alt.Scale(nice=False, zero=False, padding=12)
    curves: alt.Chart = (
        alt.Chart(table)
        .transform_filter(alt.FieldEqualPredicate(field="factor", equal=column.key))
        .mark_line(point=alt.OverlayMarkDef(filled=True, size=60), strokeWidth=2)
        .encode(
            x=alt.X(
                "value:Q",
                title=column.heading,
                scale=scale,
                axis=alt.Axis(values=sorted(rows["value"].unique()), format=".3~g", labelOverlap=True),
            ),
            y=alt.Y("score:Q", title="score, less is better", scale=alt.Scale(zero=False), axis=alt.Axis(tickCount=5)),
            color=alt.Color("build:N", scale=look),
            strokeDash=alt.StrokeDash("build:N", scale=dash),
            tooltip=[
                alt.Tooltip("build:N"),
                alt.Tooltip("design:Q"),
                alt.Tooltip("value:Q", title=column.heading, format=".3~g"),
                alt.Tooltip("score:Q", format=".3~g"),
            ],
        )
    )
    return dress(
        curves.properties(
            width="container",
            height=200,
            description=(
                f"Score along {column.title} for {len(names)} builds, their other settings at their best; less is better. "
                "The table below tells the good stretch of each."
            ),
        )
    )

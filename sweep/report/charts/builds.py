"""How the score of a build changes along one of its settings."""

from __future__ import annotations

import altair as alt
import pandas as pd

from sweep.report.charts.theme import dress, score_lines
from sweep.report.display import Column


def setting_curves(table: pd.DataFrame, column: Column, log: bool) -> alt.Chart:
    """Scores along one set factor, a line a build; `table` columns: factor (key of its column), build, value, score."""
    rows = table[table["factor"] == column.key]
    names = rows["build"].drop_duplicates().tolist()
    scale = alt.Scale(type="log", nice=False, padding=12) if log else alt.Scale(nice=False, zero=False, padding=12)
    axis = alt.Axis(values=sorted(rows["value"].unique()), format=".3~g", labelOverlap=True)
    across = alt.X("value:Q", title=column.heading, scale=scale, axis=axis)
    tips = [alt.Tooltip("build:N"), alt.Tooltip("design:Q"), alt.Tooltip("value:Q", title=column.heading, format=".3~g")]
    curves = score_lines(table, across, "build", names, alt.Undefined, tips)
    return dress(
        curves.transform_filter(alt.FieldEqualPredicate(field="factor", equal=column.key)).properties(
            description=(
                f"Score along {column.title} for {len(names)} builds, their other settings at their best; less is better. "
                "The list below gives the good range of each."
            ),
        )
    )

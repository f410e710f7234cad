"""Every design at every level that it has: press levels, brush scores, and see what is left."""

from __future__ import annotations

from collections.abc import Sequence

import altair as alt
import pandas as pd

from sweep.report.charts.theme import colour, dress
from sweep.report.display import BASE, GOOD, KEPT, REFUSED, UNKNOWN

GROUPS = (GOOD, KEPT, UNKNOWN, REFUSED, BASE)
COLOURS = {GOOD: "best", KEPT: "kept", UNKNOWN: "refused", REFUSED: "refused", BASE: "base"}
ROW_PIXELS, STROKE_PIXELS, SHORT_PIXELS = 19, 13, 5  # judgement
LABEL_PIXELS = alt.ExprRef("containerSize()[0] > 480 ? 320 : 140")
LEFT_OUT = "left_out"
"""The signal of the designs that the page's boxes leave out: an object with a key a design."""
BRUSH = "scores"
TIPS = {"label": "design", "group": "standing", "score": "score", "mass": "mass, kg", "price": "price"}


def choices(table: pd.DataFrame, rows: Sequence[str], base_score: float | None, clip: float) -> alt.LayerChart:
    """A stroke a design in the row of each level that it has, across its score.

    table columns: design, label, row (one of `rows`, in whose order they stand), at (score, at most `clip`), score, group (one
    of GROUPS), page, and what tips tell; base_score: of the boat as it is, as a rule across all rows;
    clip: over the least score.
    """
    groups = [group for group in GROUPS if table["group"].eq(group).any()]
    look = alt.Color(
        "group:N",
        scale=alt.Scale(domain=groups, range=[colour(COLOURS[group]) for group in groups]),
        legend=alt.Legend(symbolType="square"),
    )
    tall = alt.condition(f"datum.group === '{REFUSED}'", alt.value(SHORT_PIXELS), alt.value(STROKE_PIXELS))
    across = alt.X(
        "at:Q",
        title="score, less is better",
        scale=alt.Scale(domain=[float(table["at"].min()), clip], nice=False, zero=False, padding=8),
        axis=alt.Axis(tickCount=6),
    )
    row = alt.Y(
        "row:N", sort=None, title=None, scale=alt.Scale(domain=list(rows)), axis=alt.Axis(grid=False, labelLimit=LABEL_PIXELS)
    )
    within = f"(!length(data('{BRUSH}_store')) || vlSelectionTest('{BRUSH}_store', datum))"
    strokes = alt.Chart().encode(x=across, y=row)
    everyone = strokes.mark_tick(color=colour("rule"), thickness=2, size=STROKE_PIXELS).properties(name="choices_view")
    chosen = (
        strokes.mark_tick(thickness=2, cursor="pointer", tooltip=alt.TooltipContent("data"))
        .encode(color=look, size=tall)
        .transform_filter(f"!{LEFT_OUT}[datum.design] && {within}")
    )
    layers: list[alt.Chart] = [everyone, chosen]
    if base_score is not None:
        at = alt.Chart().transform_filter("datum.design === 0").mark_rule(strokeDash=[3, 3], color=colour("base"))
        layers.append(at.encode(x=across))
    chart = alt.LayerChart(data=table, layer=layers).properties(
        width="container",
        height=ROW_PIXELS * max(len(rows), 1),
        autosize=alt.AutoSizeParams(type="fit-x", contains="padding"),
        usermeta={"tips": [[key, title] for key, title in TIPS.items() if key in table]},
        description=(
            f"Scores of {table['design'].nunique()} designs, a row for each level of each factor, a stroke a design. "
            "The boxes above choose levels; the sentence below counts what is left."
        ),
    )
    interval = alt.IntervalSelectionConfig(type="interval", encodings=["x"])
    brush = alt.TopLevelSelectionParameter(name=BRUSH, select=interval, views=["choices_view"])
    chart.params = [brush, alt.VariableParameter(name=LEFT_OUT, value={})]
    return dress(chart)

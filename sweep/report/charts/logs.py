"""Measured beside predicted: every pass with what the model expects of the same craft in its sea."""

from __future__ import annotations

import altair as alt
import pandas as pd

from sweep.insight.intervals import CONFIDENCE_SAID
from sweep.report.charts.theme import colour, dress, line_scales

ROW_PIXELS = 26  # pixels: judgement


def measured_beside_predicted(table: pd.DataFrame) -> alt.LayerChart:
    """`table` columns: label, setup, measured, measured_low, measured_high, predicted, low, high (cm); a row a pass."""
    order = table["label"].tolist()
    up = alt.Y("label:N", sort=order, title=None, axis=alt.Axis(labelLimit=150))
    setups = list(dict.fromkeys(table["setup"]))
    look, _ = line_scales(setups)
    most = float(table[["measured", "measured_high", "high"]].max().max()) if len(table) else 1.0
    across = alt.Scale(domain=[0.0, 1.05 * most], nice=True)
    tips = [
        alt.Tooltip("label:N", title="run"),
        alt.Tooltip("setup:N", title="set-up"),
        alt.Tooltip("measured:Q", title="measured, cm"),
        alt.Tooltip("measured_low:Q", title="measured at least, cm"),
        alt.Tooltip("measured_high:Q", title="measured at most, cm"),
        alt.Tooltip("predicted:Q", title="expected, cm"),
        alt.Tooltip("low:Q", title="expected at least, cm"),
        alt.Tooltip("high:Q", title="expected at most, cm"),
    ]
    bars = (
        alt.Chart()
        .mark_rule(color=colour("kept"), strokeWidth=9, opacity=0.45)
        .encode(x=alt.X("low:Q", title="sensed height error, cm", scale=across), x2="high:Q", y=up, tooltip=tips)
    )
    ticks = alt.Chart().mark_tick(color=colour("ink"), thickness=2, size=14).encode(x=alt.X("predicted:Q", scale=across), y=up)
    sure = (
        alt.Chart()
        .mark_rule(strokeWidth=1.5)
        .encode(x=alt.X("measured_low:Q", scale=across), x2="measured_high:Q", y=up, color=alt.Color("setup:N", scale=look))
    )
    points = (
        alt.Chart()
        .mark_point(filled=True, size=90, opacity=1)
        .encode(
            x=alt.X("measured:Q", scale=across),
            y=up,
            color=alt.Color("setup:N", scale=look),
            shape=alt.Shape("setup:N", scale=alt.Scale(domain=setups)),
            tooltip=tips,
        )
    )
    chart = alt.LayerChart(data=table, layer=[bars, ticks, sure, points]).properties(
        width="container",
        height=ROW_PIXELS * max(len(order), 2),
        autosize=alt.AutoSizeParams(type="fit-x", contains="padding"),
        description=(
            "Ride height error of every pass as its own rangefinder reads it, measured (points, with lines for "
            f"{CONFIDENCE_SAID}) beside what the model expects of the craft in the craft file in the sea of that pass (ticks, "
            f"with bars for {CONFIDENCE_SAID})."
        ),
    )
    return dress(chart)

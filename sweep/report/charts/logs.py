"""Measured beside predicted, every pass in its sea; and what of a difference is the water, and what the set-up."""

from __future__ import annotations

import altair as alt
import pandas as pd

from sweep.insight.intervals import CONFIDENCE_SAID
from sweep.report.charts.theme import colour, dress, line_scales

ROW_PIXELS = 26  # pixels: judgement
PARTS = ("the water", "the set-up")


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


def water_and_setup(table: pd.DataFrame) -> alt.LayerChart:
    """`table` columns: measure, setup, way, part (of PARTS), share, low, high (%); a row a part, in the order of its rows."""
    several = table["setup"].nunique() > 1
    table = table.assign(
        row=[
            ": ".join([*([setup] if several else []), measure, way])
            for measure, setup, way in zip(table["measure"], table["setup"], table["way"], strict=True)
        ]
    )
    rows = list(dict.fromkeys(table["row"]))
    up = alt.Y("row:N", sort=rows, title=None, axis=alt.Axis(labelLimit=170, labelExpr="split(datum.label, ': ')"))
    beside = alt.YOffset("part:N", sort=list(PARTS))
    look = alt.Color("part:N", scale=alt.Scale(domain=list(PARTS), range=[colour("water"), colour("line4")]), sort=list(PARTS))
    across = alt.Scale(type="log", domain=[0.97 * min(100.0, table["low"].min()), 1.03 * max(100.0, table["high"].max())])
    title = "% of the first set-up's mean"
    tips = [
        alt.Tooltip("row:N", title="measure"),
        alt.Tooltip("part:N", title="part"),
        alt.Tooltip("share:Q", title="% of the first mean"),
        alt.Tooltip("low:Q", title="at least, %"),
        alt.Tooltip("high:Q", title="at most, %"),
    ]
    bars = (
        alt.Chart()
        .transform_calculate(same="100")
        .mark_bar(opacity=0.6)
        .encode(x=alt.X("same:Q", title=title, scale=across), x2="share:Q", y=up, yOffset=beside, color=look, tooltip=tips)
    )
    sure = (
        alt.Chart()
        .mark_rule(strokeWidth=1.5, color=colour("ink"))
        .encode(x=alt.X("low:Q", title=title, scale=across), x2="high:Q", y=up, yOffset=beside, tooltip=tips)
    )
    none = alt.Chart().mark_rule(color=colour("faint")).encode(x=alt.X(datum=100.0, scale=across))
    chart = alt.LayerChart(data=table, layer=[bars, none, sure]).properties(
        width="container",
        height=2 * ROW_PIXELS * max(len(rows), 2),
        autosize=alt.AutoSizeParams(type="fit-x", contains="padding"),
        description=(
            "What the water made of each measure and what the set-up made of it, two bars each, in % of what the first set-up "
            f"measured on the mean, with lines for {CONFIDENCE_SAID}: of all passes, and of each way to meet the waves alone."
        ),
    )
    return dress(chart)

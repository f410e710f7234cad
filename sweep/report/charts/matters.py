"""What matters: shares of the factors, means along them, two factors together, and what conditions and tolerances cost."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import altair as alt
import numpy as np
import pandas as pd

from sweep.insight.intervals import CONFIDENCE_SAID
from sweep.report.charts.theme import LINE_PIXELS, colour, dress, most_lines, score_lines, wrapped
from sweep.report.display import Column

ROW_PIXELS = 40  # judgement, as all sizes here
EDGE_PIXELS = 40  # for the labels
LEVEL_LETTERS = 14  # of a line of a level's name
THIS_RESPONSE = "datum.response == response"


def effect_shares(table: pd.DataFrame, hows: Sequence[str]) -> alt.LayerChart:
    """Shares of the factors on their intervals, for one response. Signal: `response`.

    `table` columns: response, factor, how (one of `hows`), share, low, high (%; NaN: no interval), in the order of the rows.
    """
    factors = table["factor"].drop_duplicates().tolist()
    labels = alt.Axis(**wrapped(factors))
    order = alt.EncodingSortField(field="share", op="max", order="descending")
    look = alt.Color("how:N", scale=alt.Scale(domain=list(hows), range=[colour("line1"), colour("line4")][: len(hows)]))
    form = alt.Shape("how:N", scale=alt.Scale(domain=list(hows), range=["circle", "diamond"][: len(hows)]))
    tips = [alt.Tooltip("factor:N"), alt.Tooltip("how:N", title="share")] + [
        alt.Tooltip(f"{field}:Q", title=f"{name}, %", format=".3~g")
        for field, name in (("share", "share"), ("low", "from"), ("high", "to"))
    ]
    base = alt.Chart().encode(
        y=alt.Y("factor:N", title=None, sort=order, axis=labels),
        yOffset=alt.YOffset("how:N", sort=list(hows), scale=alt.Scale(paddingOuter=0.8)),
        color=look,
        tooltip=tips,
    )
    scale = alt.Scale(domain=[0.0, 100.0])
    across: dict[str, Any] = {"title": "share of the spread of the designs, %", "scale": scale, "axis": alt.Axis(tickCount=5)}
    spans = base.mark_rule(strokeWidth=3, opacity=0.45).encode(x=alt.X("low:Q", **across), x2="high:Q")
    points = base.mark_point(filled=True, size=90, opacity=1).encode(x=alt.X("share:Q", **across), shape=form)
    return dress(
        alt.LayerChart(data=table, layer=[spans, points])
        .transform_filter(THIS_RESPONSE)
        .properties(
            width="container",
            height=max(ROW_PIXELS, LINE_PIXELS * (most_lines(factors) + 1)) * len(factors),
            autosize=alt.AutoSizeParams(type="fit-x", contains="padding"),
            description=(
                f"Share of the spread of the designs that each of {len(factors)} factors accounts for in the chosen response, "
                f"in %, with {CONFIDENCE_SAID} intervals. The file beside it holds the numbers."
            ),
        ),
        response=str(table["response"].iloc[0]),
    )


def level_means(table: pd.DataFrame, column: Column) -> alt.LayerChart:
    """Mean of one response along a factor, on its interval. Signals: `response`, and `spans`: the axis of each response.

    `table` columns: response, key (of the factor's column), level (text), place, mean, low, high, in shown units.
    """
    levels = table.loc[table["key"] == column.key].sort_values("place")["level"].drop_duplicates().tolist()
    across = alt.X("level:O", title=column.heading, sort=levels, scale=alt.Scale(domain=levels), axis=_level_axis(levels))
    scale = alt.Scale(domain=[alt.ExprRef("spans[response][0]"), alt.ExprRef("spans[response][1]")], nice=False, zero=False)
    axis = alt.Axis(tickCount=4, minExtent=EDGE_PIXELS, maxExtent=EDGE_PIXELS)
    tips = [alt.Tooltip("level:N", title=column.heading)] + [
        alt.Tooltip(f"{field}:Q", title=name, format=".3~g")
        for field, name in (("mean", "mean"), ("low", "from"), ("high", "to"))
    ]
    base = alt.Chart().encode(x=across, tooltip=tips)
    spans = base.mark_rule(strokeWidth=3, opacity=0.45, color=colour("best")).encode(
        y=alt.Y("low:Q", title="mean", scale=scale, axis=axis), y2="high:Q"
    )
    up = alt.Y("mean:Q", title="mean", scale=scale, axis=axis)
    line = base.mark_line(color=colour("best"), strokeWidth=1.5).encode(y=up)
    points = base.mark_point(filled=True, size=60, opacity=1, color=colour("best")).encode(y=up)
    return dress(
        alt.LayerChart(data=table, layer=[spans, line, points])
        .transform_filter(f"{THIS_RESPONSE} && datum.key == '{column.key}'")
        .properties(
            width="container",
            height=150,
            description=f"Mean of the chosen response at {len(levels)} levels of {column.heading}, over all other factors.",
        ),
        response=str(table["response"].iloc[0]),
        spans=_spans(table),
    )


def _level_axis(levels: Sequence[str]) -> alt.Axis:
    return alt.Axis(labelAngle=0, **wrapped(levels, LEVEL_LETTERS, upright=False))


def _spans(table: pd.DataFrame) -> dict[str, list[float]]:
    """An axis for each response that holds all its means, and its intervals where they are known."""
    found = {}
    for response, rows in table.groupby("response"):
        values = rows[["mean", "low", "high"]].to_numpy(float)
        low, high = float(np.nanmin(values)), float(np.nanmax(values))
        air = 0.05 * (high - low) or 0.5
        found[str(response)] = [float(f"{low - air:.4g}"), float(f"{high + air:.4g}")]
    return found


def together(table: pd.DataFrame, across: Column, beside: Column) -> alt.Chart:
    """The score along one factor, a line for each level of another; `table` columns: across, beside (texts), order, score."""
    levels = table.sort_values("order")["across"].drop_duplicates().tolist()
    lines = table.sort_values("line")["beside"].drop_duplicates().tolist()
    legend = alt.Legend(title=beside.heading, titleLimit=320)
    along = alt.X("across:O", title=across.heading, sort=levels, axis=_level_axis(levels))
    tips = [alt.Tooltip("across:N", title=across.heading), alt.Tooltip("beside:N", title=beside.heading)]
    return dress(
        score_lines(table, along, "beside", lines, legend, tips).properties(
            description=(
                f"Mean score along {across.heading}, one line for each of {len(lines)} levels of {beside.heading}; "
                "lines that are not parallel show an interaction."
            ),
        )
    )


def tornado(table: pd.DataFrame, kind: str) -> alt.LayerChart:
    """What each row of a kind costs one design, the most costly first. Signal: `design`.

    `table` columns: design, kind, what, how, cost, low, high (of the score; NaN: no interval).
    """
    rows = table[table["kind"] == kind]
    count = int(rows.groupby("design").size().max()) if len(rows) else 1
    names = list(dict.fromkeys(rows["what"] + ", " + rows["how"]))
    axis = alt.Axis(**wrapped(names, apart=", "))
    named = "datum.what + ', ' + datum.how"
    tips = [alt.Tooltip("row:N", title="what")] + [
        alt.Tooltip(f"{field}:Q", title=name, format=".3~g")
        for field, name in (("cost", "costs"), ("low", "from"), ("high", "to"))
    ]
    base = alt.Chart().encode(y=alt.Y("row:N", title=None, sort=None, axis=axis), tooltip=tips)
    across: dict[str, Any] = {"title": "rise of the score (more is worse)", "axis": alt.Axis(tickCount=5)}
    bars = base.mark_bar(height=12, color=colour("refused")).encode(x=alt.X("cost:Q", **across))
    spans = base.mark_rule(strokeWidth=1.5, color=colour("ink")).encode(x=alt.X("low:Q", **across), x2="high:Q")
    zero = alt.Chart(alt.InlineData(values=[{}])).mark_rule(color=colour("faint")).encode(x=alt.XDatum(0.0))
    return dress(
        alt.LayerChart(
            data=table,
            layer=[
                layer.transform_filter(f"datum.design == design && datum.kind == '{kind}'").transform_calculate(row=named)
                for layer in (bars, spans)
            ]
            + [zero],
        ).properties(
            width="container",
            height=max(32, LINE_PIXELS * (most_lines(names, apart=", ") + 1)) * count,
            autosize=alt.AutoSizeParams(type="fit-x", contains="padding"),
            description=(
                f"What each {kind} adds to the score of the chosen design, the most costly first, with {CONFIDENCE_SAID} "
                "intervals; "
                "less is better. The file beside it holds the numbers."
            ),
        ),
        design=int(table["design"].iloc[0]),
    )

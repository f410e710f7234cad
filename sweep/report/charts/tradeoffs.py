"""Every design by two quantities, the front between them, its knee and the base craft."""

from __future__ import annotations

from typing import Any

import altair as alt
import pandas as pd

from sweep.report.charts.explore import COLOURS, GROUPS, SHAPES
from sweep.report.charts.theme import colour, dress
from sweep.report.display import Column

PIXELS = 360  # judgement


def trade_off(table: pd.DataFrame, columns: list[Column], across: str, up: str) -> alt.LayerChart:
    """Designs as points; the front as a line with a ring round its knee.

    `table` columns: design, label, group (one of `explore.GROUPS`), page, and the columns' keys, shown units. The data `front`
    holds the same of the designs on the front in order, with knee (whether it is). `usermeta` holds the axis of every column
    across and up, for a page that lets its reader choose others.
    """
    axes = {column.key: _axis(table, column) for column in columns}
    chosen = {"x": axes[across], "y": axes[up]}
    tips = [["label", "design"], ["group", "standing"], *([column.key, column.heading] for column in columns)]
    point: dict[str, Any] = {"filled": True, "cursor": "pointer", "tooltip": alt.TooltipContent("data")}
    groups = list(GROUPS)
    look = alt.Color("group:N", scale=alt.Scale(domain=groups, range=[colour(name) for name in COLOURS]))
    form = alt.Shape("group:N", scale=alt.Scale(domain=groups, range=list(SHAPES)))
    everyone = alt.Chart().mark_point(size=45, opacity=0.7, **point)
    on_front = alt.Chart(alt.NamedData("front"))
    axes_of: dict[str, Any] = {"x": alt.X(**_as_channel(chosen["x"])), "y": alt.Y(**_as_channel(chosen["y"]))}
    layers = [
        everyone.encode(color=look, shape=form, **axes_of).transform_filter("datum.group != 'base craft'"),
        on_front.mark_line(color=colour("ink"), strokeWidth=1.5, interpolate="step-after").encode(order="order:Q", **axes_of),
        on_front.mark_point(size=70, color=colour("ink"), opacity=1, **point).encode(**axes_of),
        on_front.mark_point(size=320, color=colour("ink"), strokeWidth=2, opacity=1)
        .encode(**axes_of)
        .transform_filter("datum.knee"),
        alt.Chart()
        .mark_point(size=130, opacity=1, **point)
        .encode(color=look, shape=form, **axes_of)
        .transform_filter("datum.group == 'base craft'"),
    ]
    return dress(
        alt.LayerChart(data=table, layer=layers).properties(
            width="container",
            height=PIXELS,
            autosize=alt.AutoSizeParams(type="fit-x", contains="padding"),
            description=(
                f"{len(table)} designs by two chosen quantities, with a line along those that no other beats in both, a ring "
                "round its knee, and the base craft. The table below lists the designs on the line."
            ),
            usermeta={**axes, "tips": tips},
        )
    )


def _axis(table: pd.DataFrame, column: Column) -> dict[str, Any]:
    low, high = float(table[column.key].min()), float(table[column.key].max())
    domain = [low, high] if high > low else [low - 0.5, low + 0.5]
    scale = {"domain": domain, "padding": 14, "nice": False, "zero": False}
    return {"field": column.key, "type": "quantitative", "title": column.heading, "scale": scale, "axis": {"tickCount": 6}}


def _as_channel(axis: dict[str, Any]) -> dict[str, Any]:
    return {**axis, "scale": alt.Scale(**axis["scale"]), "axis": alt.Axis(**axis["axis"])}

"""Every design at once: a scatter of two chosen columns over histograms of all; brush one, see it in all."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal

import altair as alt
import pandas as pd

from sweep.report.charts.theme import colour, dress
from sweep.report.display import BASE, GOOD, KEPT, REFUSED, UNKNOWN, Column

GROUPS = (GOOD, KEPT, UNKNOWN, REFUSED, BASE)
COLOURS = ("best", "kept", "refused", "refused", "base")
SHAPES = ("circle", "circle", "triangle-up", "cross", "diamond")
MOST_BINS = 24  # of a histogram: judgement
HISTOGRAM_PIXELS = 64  # judgement
BOX = "box"
DRAWN = "drawn"
"""The signal that counts the brushes that are drawn."""


def explore(table: pd.DataFrame, columns: Sequence[Column], across: Column, up: Column) -> alt.VConcatChart:
    """Linked views of a design table in shown units.

    `table` has a column per `columns` key, and design, label, group (one of GROUPS), page, spread (0 ... 1, which draws
    apart the designs of one level); where far values would stretch an axis, one of `place_on_axis` too, which has them at its
    end. The scatter shows `up` against `across`; `usermeta` holds the encodings of every column across and up, for a page that
    lets its reader choose others.
    """
    brushes = [BOX, *(_over(column) for column in columns)]
    axes = {column.key: _axis(table, column) for column in columns}
    sideways = {column.key: {"x": axes[column.key], **_apart(column)} for column in columns}
    upwards = {column.key: {"y": axes[column.key]} for column in columns}
    chosen = _chosen(brushes)
    scatter = _scatter(chosen, {**sideways[across.key], **upwards[up.key]})
    histograms = [_histogram(table, column, chosen) for column in columns]
    views: alt.VConcatChart = alt.vconcat(scatter, alt.concat(*histograms, columns=3), data=table)
    # Otherwise the scatter's offsets would squeeze the bars of the histograms.
    views = views.resolve_scale(xOffset="independent").properties(
        description=(
            f"A scatter of {up.title} against {across.title} for {len(table)} designs, over a histogram of each "
            "factor and response. A brush over any of them marks the same designs in all. "
            "The table of the standings page can be filtered in the same way with the keyboard."
        ),
        usermeta={
            "across": sideways,
            "up": upwards,
            "tips": [["label", "design"], ["group", "standing"], *([column.key, column.heading] for column in columns)],
        },
    )
    # Set at the top and once: added to the charts within, each would be copied at every step.
    over = [_brush(_over(column), ["x"], histogram) for column, histogram in zip(columns, views.vconcat[1].concat, strict=True)]
    drawn = alt.VariableParameter(name=DRAWN, expr=" + ".join(f"length(data('{name}_store'))" for name in brushes))
    views.params = [_brush(BOX, ["x", "y"], views.vconcat[0]), *over, drawn]
    return dress(views)


def place_on_axis(key: str) -> str:
    """The name of the column that has a column's values no further out than its axis goes."""
    return f"at_{key}"


def _field(table: pd.DataFrame, column: Column) -> str:
    clipped = place_on_axis(column.key)
    return clipped if clipped in table else column.key


def _over(column: Column) -> str:
    """The name of the brush over a column's histogram."""
    return f"over_{column.key}"


def _brush(name: str, encodings: Sequence[Literal["x", "y"]], view: Any) -> alt.TopLevelSelectionParameter:
    """A brush over the first layer of a view, as that layer has come to be called in its place."""
    interval = alt.IntervalSelectionConfig(type="interval", encodings=encodings)
    return alt.TopLevelSelectionParameter(name=name, select=interval, views=[view.layer[0].name])


def _chosen(brushes: Sequence[str]) -> str:
    """Whether a design lies within every brush; spelled out, so that no brush is asked about ten thousand designs in vain."""
    within = (f"(!length(data('{name}_store')) || vlSelectionTest('{name}_store', datum))" for name in brushes)
    return f"!{DRAWN} || ({' && '.join(within)})"


def _axis(table: pd.DataFrame, column: Column) -> dict[str, Any]:
    if column.levels:
        levels = {"domain": list(column.levels)}
        return {
            "field": column.key,
            "type": "ordinal",
            "title": column.heading,
            "sort": None,
            "scale": levels,
            "axis": {"labelAngle": 0},
        }
    field = _field(table, column)
    scale = {"domain": _extent(table[field]), "padding": 12, "nice": False, "zero": False}
    return {"field": field, "type": "quantitative", "title": column.heading, "scale": scale, "axis": {"tickCount": 6}}


def _apart(column: Column) -> dict[str, Any]:
    """Draws the designs of one level beside each other."""
    return {"xOffset": {"field": "spread", "type": "quantitative", "scale": {"domain": [0.0, 1.0]}}} if column.levels else {}


def _extent(values: pd.Series) -> list[float]:
    low, high = float(values.min()), float(values.max())
    return [low, high] if high > low else [low - 0.5, low + 0.5]


def _scatter(chosen: str, axes: dict[str, Any]) -> alt.LayerChart:
    groups = list(GROUPS)
    look = alt.Color("group:N", scale=alt.Scale(domain=groups, range=[colour(name) for name in COLOURS]))
    form = alt.Shape("group:N", scale=alt.Scale(domain=groups, range=list(SHAPES)))
    base = alt.Chart(encoding=alt.FacetedEncoding(**axes))
    everyone = base.mark_circle(size=20, opacity=0.25, color=colour("refused")).properties(name=f"{BOX}_view")
    marked = (
        base.mark_point(filled=True, size=55, opacity=0.85, cursor="pointer", tooltip=alt.TooltipContent("data"))
        .encode(color=look, shape=form)
        .transform_filter(chosen)
    )
    return alt.LayerChart(layer=[everyone, marked]).properties(width=640, height=320)


def _histogram(table: pd.DataFrame, column: Column, chosen: str) -> alt.LayerChart:
    base = alt.Chart().encode(
        x=_bins(table, column),
        y=alt.Y("count():Q", title=None, axis=alt.Axis(tickCount=2, minExtent=34, maxExtent=34, format="~s")),
    )
    everyone = base.mark_bar(color=colour("rule")).properties(name=f"{_over(column)}_view")
    marked = base.mark_bar(color=colour("best")).transform_filter(chosen)
    return alt.LayerChart(layer=[everyone, marked]).properties(width=200, height=HISTOGRAM_PIXELS)


def _bins(table: pd.DataFrame, column: Column) -> alt.X:
    if column.levels:
        scale = alt.Scale(domain=list(column.levels))
        axis = alt.Axis(labelAngle=0, labelOverlap=True, ticks=False)
        return alt.X(f"{column.key}:O", sort=None, scale=scale, axis=axis, title=column.heading)
    bins = int(min(MOST_BINS, max(8, 2 * len(table) ** 0.5)))
    field = _field(table, column)
    binned = alt.Bin(maxbins=bins, extent=_extent(table[field]))
    return alt.X(
        f"{field}:Q", bin=binned, axis=alt.Axis(tickCount=4, labelOverlap=True, labelSeparation=6), title=column.heading
    )

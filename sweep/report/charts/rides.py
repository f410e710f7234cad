"""Where a design rides: the share of clean flights by speed and wave height, for one heading of the waves."""

from __future__ import annotations

import altair as alt
import pandas as pd

from sweep.insight import contour
from sweep.report.charts.theme import SHARES, colour, dress

ENOUGH = 100.0 * contour.ENOUGH
"""% of flights: the step that is drawn."""
DARK_UNDER = 46.5  # % of flights: under it, light words are read better on the cell's colour (judgement)
ROW_PIXELS = 30  # judgement
EDGE_PIXELS = 30  # for the labels: judgement

TIPS = (
    ("height", "significant height, cm", ".3~g"),
    ("period", "peak period, s", ".3~g"),
    ("speed", "speed, m/s", ".3~g"),
    ("clean", "clean flights", ""),
    ("flights", "of flights", ""),
    ("low", "clean at least, %", ".2~g"),
    ("hourly", "failures an hour", ""),
)


def ride_map(table: pd.DataFrame, heading: str) -> alt.LayerChart:
    """Cells of one heading, coloured by share and labelled with it; a heavy line steps along `ENOUGH`. Signal: `design`.

    `table` columns: design, heading_name, speed (m/s), height (cm), share (%, NaN without flights), said (what the cell
    says), above, beside (whether the step runs over the cell, or to its right), and those of `TIPS`.
    """
    speeds, heights = sorted(table["speed"].unique()), sorted(table["height"].unique(), reverse=True)
    across = alt.X("speed:O", title="speed, m/s", scale=_band(speeds), axis=alt.Axis(labelAngle=0))
    up = alt.Y(
        "height:O", title="wave height, cm", scale=_band(heights), axis=alt.Axis(minExtent=EDGE_PIXELS, maxExtent=EDGE_PIXELS)
    )
    shade = alt.Color("share:Q", scale=alt.Scale(domain=[0, 100], range=list(SHARES), interpolate="rgb"), legend=None)
    tips = [alt.Tooltip(f"{key}:{'Q' if form else 'N'}", title=title, format=form) for key, title, form in TIPS]
    flown = alt.Chart().transform_filter("datum.share != null")
    cells = flown.mark_rect().encode(x=across, y=up, color=shade, tooltip=tips)
    ink = alt.condition(f"datum.share < {DARK_UNDER}", alt.value("#ffffff"), alt.value("#000000"))
    words = flown.mark_text(fontSize=12).encode(x=across, y=up, text="said:N", color=ink)
    unflown = alt.Chart().transform_filter("datum.share == null").mark_text(fontSize=12, color=colour("faint"))
    blanks = unflown.encode(x=across, y=up, text="said:N", tooltip=tips)
    lines = [_step(side, look, across, up) for look in (("paper", 6), ("ink", 3)) for side in ("above", "beside")]
    return dress(
        alt.LayerChart(data=table, layer=[cells, words, blanks, *lines])
        .transform_filter(f"datum.design == design && datum.heading_name == {_quoted(heading)}")
        .properties(
            width="container",
            height=ROW_PIXELS * len(heights),
            description=(
                f"Share of clean flights, in %, for {len(speeds)} speeds across and {len(heights)} wave heights up; heading "
                f"of the sea: {heading}; a heavy line bounds {ENOUGH:g} %. The table beside it holds the heights at that line."
            ),
        ),
        design=int(table["design"].iloc[0]),
    )


def _band(levels: list[float]) -> alt.Scale:
    return alt.Scale(type="band", domain=levels, padding=0)


def _step(side: str, look: tuple[str, int], across: alt.X, up: alt.Y) -> alt.Chart:
    """The pieces of the step over cells, or to their right."""
    name, width = look
    piece: alt.Chart = alt.Chart().mark_rule(strokeWidth=width, strokeCap="square", color=colour(name), clip=True)
    if side == "above":
        return piece.encode(
            x=across.copy().bandPosition(0), x2=alt.X2("speed:O", bandPosition=1), y=up.copy().bandPosition(0)
        ).transform_filter("datum.above")
    return piece.encode(
        y=up.copy().bandPosition(0), y2=alt.Y2("height:O", bandPosition=1), x=across.copy().bandPosition(1)
    ).transform_filter("datum.beside")


def _quoted(text: str) -> str:
    """A string of a chart's expressions; headings may be named in a campaign file."""
    inner = text.replace("\\", "\\\\").replace("'", "\\'").replace("\n", " ")
    return f"'{inner}'"

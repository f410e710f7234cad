"""Where a design rides: clean ones of its short flights by speed and wave height, for one heading of the waves."""

from __future__ import annotations

import altair as alt
import pandas as pd

from sweep.report.charts.theme import SHARES, dress

DARK_UNDER = 46.5  # % of flights: under it, light words are read better on the cell's colour (judgement)
ROW_PIXELS = 30  # judgement
EDGE_PIXELS = 30  # for the labels: judgement

TIPS = (
    ("height", "significant height, cm", ".3~g"),
    ("period", "peak period, s", ".3~g"),
    ("speed", "speed, m/s", ".3~g"),
    ("clean", "clean flights", ""),
    ("flights", "of short flights", ""),
)


def ride_map(table: pd.DataFrame, heading: str) -> alt.LayerChart:
    """Cells of one heading, coloured by share and labelled with the count; no column without a flight. Signal: `design`.

    `table` columns: design, heading_name, speed (m/s), height (cm), share (%, NaN without flights), said (what the cell
    says), and those of `TIPS`.
    """
    heights = sorted(table["height"].unique(), reverse=True)
    across = alt.X("speed:O", title="speed, m/s", scale=alt.Scale(type="band", padding=0), axis=alt.Axis(labelAngle=0))
    edge = alt.Axis(minExtent=EDGE_PIXELS, maxExtent=EDGE_PIXELS)
    up = alt.Y("height:O", title="wave height, cm", scale=alt.Scale(type="band", domain=heights, padding=0), axis=edge)
    shade = alt.Color("share:Q", scale=alt.Scale(domain=[0, 100], range=list(SHARES), interpolate="rgb"), legend=None)
    tips = [alt.Tooltip(f"{key}:{'Q' if form else 'N'}", title=title, format=form) for key, title, form in TIPS]
    cells = alt.Chart().mark_rect().encode(x=across, y=up, color=shade, tooltip=tips)
    ink = alt.condition(f"datum.share < {DARK_UNDER}", alt.value("#ffffff"), alt.value("#000000"))
    words = alt.Chart().mark_text(fontSize=12).encode(x=across, y=up, text="said:N", color=ink)
    return dress(
        alt.LayerChart(data=table, layer=[cells, words])
        .transform_filter(f"datum.design == design && datum.share != null && datum.heading_name == {_quoted(heading)}")
        .properties(
            width="container",
            height=ROW_PIXELS * len(heights),
            description=(
                f"Clean ones of the short flights, for each speed across that has a trim and {len(heights)} wave heights up; "
                f"heading of the sea: {heading}. The table beside it holds up to which height all were clean."
            ),
        ),
        design=int(table["design"].iloc[0]),
    )


def _quoted(text: str) -> str:
    """A string of a chart's expressions; headings may be named in a campaign file."""
    inner = text.replace("\\", "\\\\").replace("'", "\\'").replace("\n", " ")
    return f"'{inner}'"

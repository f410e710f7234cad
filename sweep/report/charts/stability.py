"""How steady a design is: where its modes go with speed, and what it makes of each wave."""

from __future__ import annotations

from collections.abc import Sequence

import altair as alt
import pandas as pd

from sweep.report.charts.theme import SHARES, colour, dress, line_scales

SIGNS = {
    "up and down": "circle",
    "nose up and down": "square",
    "rolling": "triangle-up",
    "off its course": "diamond",
    "faster and slower": "cross",
}
"""Of each motion of `modes`."""
ROOTS_PIXELS, WAVES_PIXELS = 260, 220  # judgement


def root_paths(table: pd.DataFrame) -> alt.LayerChart:
    """Modes as points, coloured by speed; those right of the line grow.

    `table` columns: speed (m/s), growth (1/s), frequency (Hz), motion (one of SIGNS), said (what the mode does).
    """
    found = [motion for motion in SIGNS if (table["motion"] == motion).any()]
    named = alt.Legend(title=None, values=found, symbolSize=80, symbolFillColor=colour("faint"))
    along = alt.X("growth:Q", title="growth rate, 1/s (left of the line it dies out)", axis=alt.Axis(tickCount=6))
    edge = alt.Chart(pd.DataFrame({"growth": [0.0]})).mark_rule(strokeWidth=2, color=colour("ink")).encode(x=along)
    shade = alt.Scale(range=list(SHARES), domain=[float(table["speed"].min()), float(table["speed"].max())], interpolate="rgb")
    modes = (
        alt.Chart()
        .mark_point(filled=True, size=70, opacity=0.95, strokeWidth=0.5, stroke=colour("faint"))
        .encode(
            x=along,
            y=alt.Y("frequency:Q", title="frequency, Hz", axis=alt.Axis(tickCount=5)),
            color=alt.Color("speed:Q", scale=shade, legend=None),
            shape=alt.Shape("motion:N", scale=alt.Scale(domain=list(SIGNS), range=list(SIGNS.values())), legend=named),
            tooltip=[
                alt.Tooltip("speed:Q", title="speed, m/s", format=".2~f"),
                alt.Tooltip("frequency:Q", title="frequency, Hz", format=".2~f"),
                alt.Tooltip("said:N", title="motion"),
            ],
        )
    )
    said = (
        f"Modes of the boat with its loops closed, at speeds from {table['speed'].min():.2g} to {table['speed'].max():.2g} m/s."
    )
    return dress(
        alt.LayerChart(data=table, layer=[edge, modes]).properties(width="container", height=ROOTS_PIXELS, description=said)
    )


def wave_response(
    table: pd.DataFrame, response: str, title: str, names: Sequence[str], spectra: pd.DataFrame
) -> alt.LayerChart:
    """Height of a response over that of the wave, by frequency, one line a heading; behind it the spectra of the seas.

    `table` columns: frequency (Hz), heading (one of `names`), and the response. `spectra`: frequency (Hz), sea, share (of the
    peak, scaled to the height of the chart); it stays with the chart.
    """
    along = alt.X("frequency:Q", title="frequency of the wave, Hz", axis=alt.Axis(tickCount=6))
    tall = alt.Y("share:Q", title=title, stack=None)
    seas = (
        alt.Chart(spectra)
        .mark_area(opacity=0.22, color=colour("water"), line={"color": colour("water"), "strokeWidth": 1})
        .encode(x=along, y=tall, detail="sea:N", tooltip=[alt.Tooltip("sea:N", title="spectrum of")])
    )
    colours, dashes = line_scales(names)
    lines = (
        alt.Chart()
        .mark_line(strokeWidth=2)
        .encode(
            x=along,
            y=alt.Y(f"{response}:Q", title=title, axis=alt.Axis(tickCount=5)),
            color=alt.Color("heading:N", scale=colours),
            strokeDash=alt.StrokeDash("heading:N", scale=dashes),
        )
    )
    layers = [seas, lines] if len(spectra) else [lines]
    return dress(
        alt.LayerChart(data=table, layer=layers).properties(
            width="container",
            height=WAVES_PIXELS,
            description=f"{title}, for waves of each frequency, by heading, with the spectra of the seas behind it.",
        )
    )

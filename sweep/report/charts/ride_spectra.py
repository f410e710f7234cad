"""Spectra of a recorded flight in the condition that its page shows."""

from __future__ import annotations

from typing import Any

import altair as alt
import pandas as pd

from sweep.report.charts.theme import colour, dress, line_scales

HEIGHTS = {"surface": "surface that it met", "ride_height": "ride height"}
PIXELS = 160  # judgement


def spectrum(table: pd.DataFrame, lines: dict[str, str], unit: str) -> alt.LayerChart:
    """Variance density of some columns over frequency; the signal `condition` says of which flight.

    `table` columns: condition, frequency (Hz) and the keys of `lines`, whose values are their names for people.
    """
    names: list[Any] = list(lines)
    look, dash = line_scales(names)
    legend = alt.Legend(labelExpr="names[datum.label]", symbolType="stroke", symbolSize=250) if len(names) > 1 else None
    tops = table.groupby("condition")[names].max().max(axis=1)
    high = alt.Scale(domain=[alt.ExprRef("0"), alt.ExprRef("tops[condition] || 1")], nice=False, zero=False)
    curves = (
        alt.Chart()
        .transform_filter("datum.condition == condition")
        .transform_fold(names, as_=["line", "density"])
        .mark_line(strokeWidth=1.5)
        .encode(
            x=alt.X(
                "frequency:Q",
                title="frequency of encounter, Hz",
                axis=alt.Axis(tickCount=6),
                scale=alt.Scale(domain=[0.0, float(table["frequency"].max())], nice=False),
            ),
            y=alt.Y("density:Q", title=f"{unit}²/Hz", axis=alt.Axis(tickCount=4), scale=high),
            color=alt.Color("line:N", scale=look, legend=legend),
            strokeDash=alt.StrokeDash("line:N", scale=dash, legend=legend),
        )
    )
    floor = alt.Chart(alt.InlineData(values=[{}])).mark_rule(color=colour("rule")).encode(y=alt.YDatum(0))
    said = f"Variance density of {' and '.join(lines.values())} over the frequency of encounter, in {unit}²/Hz."
    layers: list[Any] = [floor, curves]
    chart = alt.LayerChart(data=table, layer=layers).properties(width="container", height=PIXELS, description=said)
    return dress(
        chart,
        condition=int(table["condition"].iloc[0]),
        names=dict(lines),
        tops={str(index): float(f"{1.05 * top:.3g}") for index, top in tops.items()},
    )

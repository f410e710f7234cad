"""A flight over time: panels that share a condition and a time window, both set by signals."""

from __future__ import annotations

from typing import NamedTuple

import altair as alt
import numpy as np
import pandas as pd

from sweep.charts.theme import colour, dress, line_scales

# The ends of a panel's axis in the chosen condition.
FOOT, TOP = "spans[condition][0]", "spans[condition][1]"


EDGE_PIXELS = 28


class Panel(NamedTuple):
    """Lines that share an axis: `lines` maps a column of the ride table to its name for people."""

    key: str
    title: str
    unit: str
    lines: dict[str, str]


def panels(table: pd.DataFrame) -> list[Panel]:
    """The panels of a flight, from the columns that its ride table has."""
    foils = {name: name.removeprefix("foil_") for name in map(str, table) if name.startswith("foil_")}
    wanted = (
        Panel("heights", "Keel and water surface, above the calm level", "cm", {"surface": "surface", "keel_height": "keel"}),
        Panel("ride", "Ride height, true and as the sensors tell it", "cm", {"ride_height": "true", "sensed_height": "sensed"}),
        Panel("foils", "Foil angles and rudder", "deg", {**foils, "rudder": "rudder"}),
        Panel("attitude", "Pitch and roll", "deg", {"pitch": "pitch", "roll": "roll"}),
        Panel("load", "Load on the hull, share of the weight", "%", {"hull_load": "hull load"}),
    )
    kept = (panel._replace(lines={name: said for name, said in panel.lines.items() if name in table}) for panel in wanted)
    return [panel for panel in kept if panel.lines]


def ride(table: pd.DataFrame, panel: Panel) -> alt.LayerChart:
    """One panel. Signals: `condition` (a value of that column), `begin` and `end` (s).

    `table` columns: condition, time (s) and the panel's, in shown units, one row an instant.
    """
    lines = list(panel.lines)
    conditions = [int(index) for index in sorted(table["condition"].unique())]
    spans = {str(index): _span(table.loc[table["condition"] == index, lines]) for index in conditions}
    across = alt.X("time:Q", title="time, s", scale=_window("begin", "end"), axis=alt.Axis(tickCount=8))
    up = _window(FOOT, TOP)
    edge = alt.Axis(tickCount=4, minExtent=EDGE_PIXELS, maxExtent=EDGE_PIXELS)
    layers = [_curves(lines, across, alt.Y("value:Q", title=panel.unit, scale=up, axis=edge))]
    if "surface" in lines:
        layers.insert(
            0,
            _water(across, alt.Y("surface:Q", title=panel.unit, scale=up, axis=edge)),
        )
    return dress(
        alt.LayerChart(data=table, layer=layers)
        .transform_filter("datum.condition == condition")
        .properties(
            width="container",
            height=130,
            description=f"{panel.title} over time, in {panel.unit}: {', '.join(panel.lines.values())}.",
        ),
        condition=conditions[0],
        begin=0.0,
        end=float(table["time"].max()),
        spans=spans,
        names=dict(panel.lines),
    )


def _curves(lines: list[str], across: alt.X, up: alt.Y) -> alt.Chart:
    look, dash = line_scales(lines)
    legend = alt.Legend(labelExpr="names[datum.label]", symbolType="stroke", symbolSize=250)
    curves: alt.Chart = (
        alt.Chart()
        .mark_line(clip=True, strokeWidth=1.5)
        .transform_fold(lines, as_=["line", "value"])
        .encode(
            x=across,
            y=up,
            color=alt.Color("line:N", scale=look, legend=legend),
            strokeDash=alt.StrokeDash("line:N", scale=dash, legend=legend),
        )
    )
    return curves


def _water(across: alt.X, up: alt.Y) -> alt.Chart:
    """The water below its surface, down to the panel's foot."""
    water: alt.Chart = (
        alt.Chart()
        .mark_area(clip=True, color=colour("water"), opacity=0.25)
        .encode(x=across, y=up, y2=alt.Y2Datum(alt.ExprRef(FOOT)))
    )
    return water


def _window(low: str, high: str) -> alt.Scale:
    return alt.Scale(domain=[alt.ExprRef(low), alt.ExprRef(high)], nice=False, zero=False)


def _span(values: pd.DataFrame) -> list[float]:
    """The axis that fits these values, with a little air; one that can be drawn even if nothing is known."""
    known = values.to_numpy(float)
    known = known[np.isfinite(known)]
    if not known.size:
        return [0.0, 1.0]
    low, high = float(known.min()), float(known.max())
    air = 0.05 * (high - low) or 0.5
    foot = max(low - air, 0.0) if low >= 0.0 else low - air
    return [round(foot, 4), round(high + air, 4)]

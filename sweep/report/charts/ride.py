"""A flight over time: panels that share a condition, a time window, a moment and the marks of events, all set by signals."""

from __future__ import annotations

from typing import Any, NamedTuple

import altair as alt
import numpy as np
import pandas as pd

from sweep.model.history import FOIL_UNIT, RECORD_UNITS
from sweep.report.charts.theme import colour, dress, line_scales

# The ends of a panel's axis in the chosen condition.
FOOT, TOP = "spans[condition][0]", "spans[condition][1]"

EDGE_PIXELS = 28  # for the labels: judgement
MARKS = {
    "touchdown": "triangle-down",
    "foil out": "triangle-up",
    "ventilated": "circle",
    "stopped": "square",
    "aground": "diamond",
    "ended": "cross",
}
SIGNS = {"triangle-down": "▼", "triangle-up": "▲", "circle": "●", "square": "■", "diamond": "◆", "cross": "✚"}
"""The marks as text has them."""


class Panel(NamedTuple):
    """Lines that share an axis and a unit: `lines` maps a column of the ride table to its name for people."""

    key: str
    title: str
    lines: dict[str, str]

    @property
    def unit(self) -> str:
        """That of its columns."""
        return RECORD_UNITS.get(next(iter(self.lines)), FOIL_UNIT)


def panels(table: pd.DataFrame) -> list[Panel]:
    """The panels of flights, from the columns that their ride table has; one in which nothing ever moves is left out."""
    foils = {name: name.removeprefix("foil_") for name in map(str, table) if name.startswith("foil_")}
    turns = "wanted_heading" in table and bool((table["wanted_heading"] != 0.0).any())
    turning = {"heading": "heading", "wanted_heading": "steered"} if turns else {}
    wanted = (
        Panel("heights", "Keel and water surface, above the calm level", {"surface": "surface", "keel_height": "keel"}),
        Panel("ride", "Ride height, true and as the sensors read it", {"ride_height": "true", "sensed_height": "sensed"}),
        Panel("foils", "Foil angles and rudder", {**foils, "rudder": "rudder"}),
        Panel("heading", "Heading, and what the control code steers", turning),
        Panel("attitude", "Pitch and roll", {"pitch": "pitch", "roll": "roll"}),
        Panel("speed", "Speed over ground", {"speed": "speed"}),
        Panel("throttle", "Throttle", {"throttle": "throttle"}),
        Panel("power", "Power from the battery", {"power": "power"}),
        Panel("load", "Load on the hull, share of the weight", {"hull_load": "hull load"}),
    )
    kept = (panel._replace(lines={name: said for name, said in panel.lines.items() if name in table}) for panel in wanted)
    return [panel for panel in kept if panel.lines and (table[list(panel.lines)].abs().max() > 0.0).any()]


def ride(table: pd.DataFrame, panel: Panel, events: str = "events") -> alt.LayerChart:
    """One panel. Signals: those of `signals`, and `moment` (s), where a replay is.

    `table` columns: condition, time (s) and the panel's, in shown units, one row an instant. `events` names the data of what
    went wrong: condition, begin, kind (of MARKS), said.
    """
    lines = list(panel.lines)
    across = alt.X("time:Q", title="time, s", scale=_window("begin", "end"), axis=alt.Axis(tickCount=8))
    up = _window(FOOT, TOP)
    edge = alt.Axis(tickCount=4, minExtent=EDGE_PIXELS, maxExtent=EDGE_PIXELS)
    curves = _curves(lines, across, alt.Y("value:Q", title=panel.unit, scale=up, axis=edge))
    water = [_water(across, alt.Y("surface:Q", title=panel.unit, scale=up, axis=edge))] if "surface" in lines else []
    return dress(
        alt.LayerChart(data=table, layer=[*water, curves, _moment(), *_marks(events)]).properties(
            width="container",
            height=120,
            description=f"{panel.title} over time, in {panel.unit}: {', '.join(panel.lines.values())}.",
        ),
        **signals(table, panel),
        moment=0.0,
        names=dict(panel.lines),
    )


def signals(table: pd.DataFrame, panel: Panel, spanned: pd.DataFrame | None = None) -> dict[str, Any]:
    """What a panel takes from its table beside the rows.

    condition: the first; begin, end: of the window, s; spans: the ends of the axis by condition, in the panel's unit, over the
    rows of `spanned` (if not of the table), which may have more conditions.
    """
    rows = table if spanned is None else spanned
    known, of = rows[list(panel.lines)].to_numpy(float), rows["condition"].to_numpy()
    spans = {str(int(index)): _span(known[of == index]) for index in np.unique(of)}
    first, end = int(table["condition"].min()), float(table["time"].max())
    return {"condition": first, "begin": 0.0, "end": end, "spans": spans}


def _here(chart: alt.Chart) -> alt.Chart:
    """Of the chosen condition only."""
    chosen: alt.Chart = chart.transform_filter("datum.condition == condition")
    return chosen


def _moment() -> alt.Chart:
    """Where the replay is."""
    line: alt.Chart = (
        alt.Chart(alt.InlineData(values=[{}]))
        .mark_rule(color=colour("faint"), clip=True)
        .encode(x=alt.XDatum(alt.ExprRef("moment"), type="quantitative"))
    )
    return line


def _marks(events: str) -> list[alt.Chart]:
    """What went wrong: a line where it began, and its sign at the top."""
    across = alt.X("begin:Q", title="time, s")
    rows = alt.Chart(alt.NamedData(events))
    lines = rows.mark_rule(color=colour("alarm"), strokeDash=[2, 3], opacity=0.8, clip=True).encode(x=across)
    shape = alt.Shape("kind:N", scale=alt.Scale(domain=list(MARKS), range=list(MARKS.values())), legend=None)
    signs = rows.mark_point(filled=True, size=70, color=colour("alarm"), opacity=1, clip=True, yOffset=6).encode(
        x=across, y=alt.value(0), shape=shape, tooltip=alt.Tooltip("said:N", title="event")
    )
    return [_here(lines), _here(signs)]


def _curves(lines: list[str], across: alt.X, up: alt.Y) -> alt.Chart:
    look, dash = line_scales(lines)
    legend = alt.Legend(labelExpr="names[datum.label]", symbolType="stroke", symbolSize=250) if len(lines) > 1 else None
    curves: alt.Chart = (
        _here(alt.Chart())
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
        _here(alt.Chart())
        .mark_area(clip=True, color=colour("water"), opacity=0.25)
        .encode(x=across, y=up, y2=alt.Y2Datum(alt.ExprRef(FOOT)))
    )
    return water


def _window(low: str, high: str) -> alt.Scale:
    return alt.Scale(domain=[alt.ExprRef(low), alt.ExprRef(high)], nice=False, zero=False)


def _span(known: np.ndarray) -> list[float]:
    """The axis that fits these values, with a little air; one that can be drawn even if nothing is known."""
    known = known[np.isfinite(known)]
    if not known.size:
        return [0.0, 1.0]
    low, high = float(known.min()), float(known.max())
    air = 0.05 * (high - low) or 0.5
    foot = max(low - air, 0.0) if low >= 0.0 else low - air
    return [round(foot, 4), round(high + air, 4)]

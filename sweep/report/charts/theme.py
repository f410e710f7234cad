"""How every chart looks.

Colours are signals, so that a page can switch them with the reader's scheme: a page reads the colour of signal `ink`
from its style sheet's `--ink`. The values here serve charts that are shown without a page. Hues: Okabe & Ito (2008),
"Color Universal Design".
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from textwrap import wrap
from typing import Any, TypeVar

import altair as alt
import pandas as pd

COLOURS = {
    "ink": "#1d252b",
    "faint": "#5b6770",
    "rule": "#d9dee2",
    "paper": "#fbfbf9",
    "best": "#0072b2",
    "kept": "#4d5861",
    "refused": "#859098",
    "base": "#d55e00",
    "alarm": "#b3261e",
    "water": "#2b8ac6",
    "line1": "#0072b2",
    "line2": "#d55e00",
    "line3": "#009e73",
    "line4": "#c06697",
}
SHARES = ("#002051", "#3c4d6e", "#7f7c75", "#bbaf71", "#fdea45")
"""0 to 100 %, darker to lighter for every eye: the cividis map of Nunez, Anderton & Renslow (PLoS ONE 13, 2018, e0199239)."""
LINES = ("line1", "line2", "line3", "line4")
DASHES: tuple[list[float], ...] = ([1, 0], [6, 3], [2, 2], [8, 3, 2, 3])  # pixels drawn and left out: judgement
FONT = "system-ui, sans-serif"
SCORE_PIXELS = 200  # judgement
LINE_PIXELS = 13  # of a line of a label

AnyChart = TypeVar("AnyChart", alt.Chart, alt.LayerChart, alt.VConcatChart)


def colour(name: str) -> alt.ExprRef:
    """The colour of this name, as a signal."""
    if name not in COLOURS:
        raise KeyError(name)
    return alt.ExprRef(name)


def line_scales(names: Sequence[str]) -> tuple[alt.Scale, alt.Scale]:
    """Colour and dash of up to sixteen lines, told apart by both together."""
    colours = [colour(LINES[i % len(LINES)]) for i in range(len(names))]
    dashes = [DASHES[(i // len(LINES) + i) % len(DASHES)] for i in range(len(names))]
    return alt.Scale(domain=list(names), range=colours), alt.Scale(domain=list(names), range=dashes)


def wrapped(names: Sequence[str], width: int = 20, upright: bool = True, apart: str = "\n") -> dict[str, Any]:
    """What an axis of names needs so that each stands whole, in lines of at most `width` letters; upright: about its tick.

    apart: what parts the pieces of a name, each of which begins a line.
    """
    tall = json.dumps({name: lines for name in names if len(lines := _lines(name, width, apart)) > 1})
    offset = {"labelOffset": alt.ExprRef(f"-{LINE_PIXELS / 2} * (length({tall}[datum.label] || [0]) - 1)")} if upright else {}
    return {
        "labelExpr": f"{tall}[datum.label] || datum.label",
        "labelLineHeight": LINE_PIXELS,
        "labelLimit": 8 * width,
        **offset,
    }


def most_lines(names: Sequence[str], width: int = 20, apart: str = "\n") -> int:
    """The lines of the tallest of these names, wrapped so."""
    return max((len(_lines(name, width, apart)) for name in names), default=1)


def _lines(name: str, width: int, apart: str) -> list[str]:
    return [line for piece in name.split(apart) for line in wrap(piece, width)]


def score_lines(
    table: pd.DataFrame, across: alt.X, line: str, lines: Sequence[str], legend: Any, tips: Sequence[Any]
) -> alt.Chart:
    """The score along something, a dashed line with points for each of `lines`, the values of the column `line`.

    legend: of the lines, or alt.Undefined; tips: what is said of a point before its score.
    """
    look, dash = line_scales(lines)
    order: Any = list(lines)
    chart: alt.Chart = (
        alt.Chart(table)
        .mark_line(point=alt.OverlayMarkDef(filled=True, size=60), strokeWidth=2)
        .encode(
            x=across,
            y=alt.Y("score:Q", title="score, less is better", scale=alt.Scale(zero=False), axis=alt.Axis(tickCount=5)),
            color=alt.Color(f"{line}:N", scale=look, sort=order, legend=legend),
            strokeDash=alt.StrokeDash(f"{line}:N", scale=dash, sort=order, legend=legend),
            tooltip=[*tips, alt.Tooltip("score:Q", format=".3~g")],
        )
        .properties(width="container", height=SCORE_PIXELS)
    )
    return chart


def dress(chart: AnyChart, **params: Any) -> AnyChart:
    """The same chart with the house's look, and `params` as further signals that a page may set.

    It is changed in place, for Altair copies whatever stands within a chart that it copies.
    """
    text: dict[str, Any] = {"labelColor": colour("faint"), "titleColor": colour("ink"), "labelFont": FONT, "titleFont": FONT}
    axis = alt.AxisConfig(
        **text,
        labelFontSize=12,
        titleFontSize=12,
        titleFontWeight="normal",
        gridColor=colour("rule"),
        domainColor=colour("rule"),
        tickColor=colour("rule"),
        titlePadding=8,
    )
    # Numbers along an axis may be left out; names may not.
    numbers = alt.AxisConfig(labelOverlap=True, labelSeparation=4)
    legend = alt.LegendConfig(
        **text, labelFontSize=12, orient="top", title=None, symbolStrokeColor=colour("ink"), labelLimit=320
    )
    view = alt.ViewConfig(stroke=None)
    # Marks take no focus; to word each for a screen reader would take longer than to draw it. Description and table tell it.
    mark = alt.MarkConfig(aria=False)
    chart.config = alt.Config(
        background="transparent", font=FONT, padding=2, axis=axis, axisQuantitative=numbers, legend=legend, view=view, mark=mark
    )
    signals: list[Any] = [alt.VariableParameter(name=name, value=value) for name, value in {**COLOURS, **params}.items()]
    before: Any = chart.params
    chart.params = [*(() if before is alt.Undefined else before), *signals]
    return chart

"""The page of all designs at once."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from sweep.report.charts.explore import explore, place_on_axis
from sweep.report.display import Column, thinned, worth_exploring
from sweep.report.embed import as_json, as_spec, data_script
from sweep.report.page import Made, Material
from sweep.report.pages.standings import script_column
from sweep.words.numbers import grouped, number
from sweep.words.phrases import together

if TYPE_CHECKING:
    from markupsafe import Markup

MOST_IN_VIEWS = 10_000  # designs whose rows a chart takes: judgement
REACH, STRETCHED = 1.5, 1.5  # of the span of the better three quarters, and of what an axis then shows: judgement
MOST_AS_SVG = 1_500  # marks that a browser draws well one by one: judgement
"""Designs in linked views, and so many of them as elements of a page: more are one picture (judgement)."""


@dataclass(frozen=True)
class Views:
    """Views of all designs: the chart, the columns to choose from, and what stands across and up at first."""

    spec: Markup
    renderer: str
    columns: Sequence[Column]
    columns_json: Markup
    across: str
    up: str
    note: str


@dataclass(frozen=True)
class ExplorePage:
    """How all designs spread over any two columns; views: None with less than two designs to compare."""

    sentences: list[str]
    views: Views | None


def make(material: Material) -> Made:
    """The page, and what its chart holds."""
    table = material.table
    chosen = worth_exploring(material.columns, table)
    ends = {column.key: end for column in chosen if (end := axis_end(column, table[column.key])) is not None}
    rows = thinned(table, MOST_IN_VIEWS)
    rows = rows.assign(**{place_on_axis(key): rows[key].clip(upper=end) for key, end in ends.items()})
    keys = ["design", "label", "group", "page", "place", "spread", *(column.key for column in chosen)]
    if chosen and len(table) > 1:
        page = ExplorePage(sentences(table, chosen), _views(table, rows, chosen, ends))
    else:
        page = ExplorePage(["There are no two designs to compare yet."], None)
    return Made(page, data_script("explore", rows[[*keys, *map(place_on_axis, ends)]]))


def axis_end(column: Column, values: pd.Series) -> float | None:
    """Where an axis ends that a few far values, such as of designs that left a race, would stretch; None where none does."""
    known = values[np.isfinite(values)] if not column.levels and column.role != "factor" else values.iloc[:0]
    if known.empty:
        return None
    low, upper, high = (float(known.quantile(share)) for share in (0.0, 0.75, 1.0))
    end = upper + REACH * (upper - low)
    return float(f"{end:.3g}") if high - low > STRETCHED * (end - low) > 0.0 else None


def ends_note(table: pd.DataFrame, columns: Sequence[Column], ends: Mapping[str, float]) -> str:
    """What stands at the end of an axis and is further out."""
    beyond = [
        f"{grouped(int((table[column.key] > ends[column.key]).sum()))} over {number(ends[column.key])} in {column.heading}"
        for column in columns
        if column.key in ends
    ]
    return f"At the end of an axis stand designs that are further out: {together(beyond)}." if beyond else ""


def _views(table: pd.DataFrame, rows: pd.DataFrame, columns: list[Column], ends: Mapping[str, float]) -> Views:
    """The views of `rows`, which are some or all of the table; ends: of axes, by column."""
    across, up = first_axes(table, columns)
    return Views(
        spec=as_spec(explore(rows, columns, across, up), "explore"),
        renderer=renderer(len(rows)),
        columns=columns,
        columns_json=as_json([script_column(column)._asdict() for column in columns]),
        across=across.key,
        up=up.key,
        note=" ".join(filter(None, [sample_note(len(rows), len(table)), ends_note(table, columns, ends)])),
    )


def renderer(shown: int) -> str:
    """How so many designs are drawn: 'svg', each an element that a reader finds, or 'canvas'."""
    return "svg" if shown <= MOST_AS_SVG else "canvas"


def sample_note(shown: int, total: int) -> str:
    """What the linked views hold."""
    if shown == total:
        return ""
    return (
        f"{grouped(shown)} of {grouped(total)} designs are drawn: evenly spread over the standings, "
        "with the base craft and every design that has a page."
    )


def strongest_factor(table: pd.DataFrame, columns: Sequence[Column]) -> tuple[Column, float] | None:
    """The factor of numbers whose order goes most plainly with that of the scores, and Spearman's rank correlation."""
    varied = [column for column in columns if column.role == "factor" and not column.word]
    factors = [column for column in varied if table[column.key].nunique() > 1 and table["score"].nunique() > 1]
    links = {column: float(table[column.key].corr(table["score"], method="spearman")) for column in factors}
    known = [column for column in factors if math.isfinite(links[column])]
    strongest = max(known, key=lambda column: abs(links[column]), default=None)
    return (strongest, links[strongest]) if strongest else None


def first_axes(table: pd.DataFrame, columns: Sequence[Column]) -> tuple[Column, Column]:
    """What the scatter shows first: the strongest factor across, the score up."""
    strongest = strongest_factor(table, columns)
    up = next((column for column in columns if column.key == "score"), columns[-1])
    return strongest[0] if strongest else columns[0], up


def sentences(table: pd.DataFrame, columns: Sequence[Column]) -> list[str]:
    """How the scores spread, and which factor goes with them most plainly."""
    known = table["score"].dropna()
    low, middle, high = (number(float(known.quantile(share))) for share in (0.0, 0.5, 1.0))
    said = [f"Scores of {len(known)} designs run from {low} to {high}; half are under {middle}."]
    if low == high:
        said = [f"All {len(known)} designs that flew have the score {low}."]
    if strongest := strongest_factor(table, columns):
        column, link = strongest
        way = "falls" if link < 0 else "rises"
        said.append(
            f"Of the factors, {column.title} is linked to the score most clearly: the score {way} as it grows "
            f"(rank correlation {number(link, 2)})."
        )
    return said

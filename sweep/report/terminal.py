"""The standings as text: for a terminal, and as CSV."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from sweep.campaign.designs import shown_factor
from sweep.insight.ranking import ONE_REPLICATE
from sweep.report.display import OTHERS, boat_name, build_group, costliest, factor_columns, group_within
from sweep.words.numbers import number
from sweep.words.phrases import together
from sweep.words.plain_text import csv_text

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.results.store import Results

MOST_ROWS, KEPT = 10, 3
"""Rows that are shown, and columns that always are (judgement)."""
RANKED = "ranked"
"""What a build is that has a place and is not surely good enough: the table has no others beside which to stand."""


def standings_text(campaign: Campaign, designs: pd.DataFrame, standings: pd.DataFrame, width: int | None = None) -> str:
    """The first rows of the standings in aligned columns, factors in the campaign file's units.

    width: columns of the terminal; what has no room in it is left out, and said. None: all of them.
    """
    rows = standings.head(MOST_ROWS)
    table = pd.DataFrame({"place": [_places(row) for row in rows.itertuples()]})
    table["design"] = rows["design"].astype(str).to_numpy()
    for name in ("score", "gain"):
        table[name] = [_between(*values) for values in rows[[name, f"{name}_low", f"{name}_high"]].itertuples(index=False)]
    table["failed"] = [f"{100.0 * share:.0f} %" for share in rows["failed"]]
    for heading, values in _chosen(campaign, designs, rows["design"], [*campaign.factors]).items():
        table[heading] = values
    table["standing"] = group_within(standings, rows).to_numpy()
    left = len(standings) - len(rows)
    more = [f"... and {left} more"] if left > 0 else []
    doubt = [ONE_REPLICATE] if standings["score_low"].isna().all() else []
    return "\n".join([*_fitting(table, width), *more, *doubt])


def builds_text(results: Results, width: int | None = None) -> str:
    """The first builds as `standings_text`, each at its own best settings; '' where the campaign has no such builds."""
    campaign, designs, builds = results.campaign, results.designs, results.builds
    if builds.empty:
        return ""
    rows = builds.head(MOST_ROWS)
    table = pd.DataFrame({"place": [_places(row) for row in rows.itertuples()]})
    table["build"] = [boat_name(row) for row in rows.to_dict("records")]
    table["best as"] = [f"design {design}" for design in rows["design"]]
    for name in ("score", "gain"):
        table[name] = [_between(*values) for values in rows[[name, f"{name}_low", f"{name}_high"]].itertuples(index=False)]
    table["good settings"] = [f"{row.good} of {row.settings}" for row in rows.itertuples()]
    costly = costliest(results.settings)
    table["a step off costs"] = [
        _between(*costly.loc[build, ["cost", "cost_low", "cost_high"]]) if build in costly.index else "-"
        for build in rows["build"]
    ]
    built = [label for label, factor in campaign.factors.items() if factor.kind == "built"]
    for heading, values in _chosen(campaign, designs, rows["design"], built).items():
        table[heading] = values
    table["standing"] = build_group(rows, results.standings).replace(OTHERS, RANKED).to_numpy()
    left = len(builds) - len(rows)
    return "\n".join(
        ["Builds, each at its own best settings:", "", *_fitting(table, width), *([f"... and {left} more"] if left > 0 else [])]
    )


def _chosen(campaign: Campaign, designs: pd.DataFrame, numbers: pd.Series, labels: Sequence[str]) -> dict[str, list[str]]:
    """What these designs have of some factors, and their mass and price, by the heading of each column."""
    chosen, columns = designs.loc[numbers], factor_columns(campaign, designs)
    found = {
        columns[label].heading: [_cell(value) for value in shown_factor(campaign.factors[label], chosen[label])]
        for label in labels
    }
    costs = {"mass, kg": "mass", "price": "price"}
    return found | {heading: [_cell(value) for value in chosen[name]] for heading, name in costs.items() if name in chosen}


def _cell(value: object) -> str:
    return number(value) if isinstance(value, float) else str(value)


def _places(row: tuple[object, ...]) -> str:
    """'3 (1-7)': the place, and those that it may truly have; '-' without one."""
    place, low, high = (getattr(row, name) for name in ("place", "place_low", "place_high"))
    return "-" if pd.isna(place) else f"{place} ({low}-{high})"


def _between(centre: float, low: float, high: float) -> str:
    if not np.isfinite(high - low):
        return number(centre)
    half = (high - low) / 2.0
    if abs(centre - (low + high) / 2.0) > 0.01 * half:
        return f"{number(centre)} ({number(low, 2)} to {number(high, 2)})"
    return f"{number(centre)} +- {number(half, 2)}"


def _fitting(table: pd.DataFrame, width: int | None) -> list[str]:
    """The columns that fit a width, the first `KEPT` at any rate; what is left out, the last ones first, is said."""
    left_out: list[str] = []
    while width and len(table.columns) > KEPT and max(map(len, _aligned(table))) > width:
        left_out.insert(0, str(table.columns[-1]))
        table = table.iloc[:, :-1]
    if not width or not left_out:
        return _aligned(table)
    return [*_aligned(table), *textwrap.wrap(f"Not shown here, for want of room: {together(left_out)}.", width)]


def _aligned(table: pd.DataFrame) -> list[str]:
    """Columns as wide as their widest entry; the last one is not padded."""
    columns = [[str(name), *table[name].astype(str)] for name in table]
    widths = [max(map(len, column)) for column in columns]
    lines = zip(*columns, strict=True)
    return ["  ".join(text.rjust(width) for text, width in zip(line, [*widths[:-1], 0], strict=True)) for line in lines]


def standings_csv(designs: pd.DataFrame, standings: pd.DataFrame) -> str:
    """All of the standings with the factors of each design, in SI."""
    table = standings.join(designs, on="design")
    return csv_text(table)

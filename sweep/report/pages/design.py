"""The page of one design: where it stands, what was chosen, how it does in each condition."""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping
from typing import TYPE_CHECKING, Any

import pandas as pd

from sweep.campaign.designs import shown_factor
from sweep.insight.ranking import certain
from sweep.model.physics.waves import wave_number
from sweep.report.display import condition_table, judged_responses, response_column
from sweep.report.drawing import Wave
from sweep.words.numbers import count, interval, number, with_unit

if TYPE_CHECKING:
    from sweep.results.store import Results


def design_row(results: Results, design: int) -> pd.Series:
    """A design's row of the design table, by factor label."""
    return results.designs.loc[[design]].iloc[0]


def sentences(results: Results, design: int) -> list[str]:
    """Where a design stands, and by how much."""
    rows = results.standings[results.standings["design"] == design]
    if rows.empty:
        return ["This design has no place in the standings yet."]
    row = rows.iloc[0].to_dict()
    place = (
        "Refused, and so without a place" if row["verdict"] == "broken" else f"Place {int(row['place'])}{_between_places(row)}"
    )
    said = [f"{place}; its score is {number(row['score'])}{interval(row['score_low'], row['score_high'])}."]
    level = int(results.standings["level_with_best"].sum())
    if certain(results.standings) and row["level_with_best"] and level > 1:
        said.append(f"It is one of {count(level, 'design', 'designs')} that are level at the top.")
    if design and math.isfinite(row["gain"]):
        better = "better" if row["gain"] >= 0 else "worse"
        span = (
            interval(*sorted((abs(row["gain_low"]), abs(row["gain_high"])))) if row["gain_low"] * row["gain_high"] > 0 else ""
        )
        said.append(f"Its score is {number(abs(row['gain']))}{span} {better} than the base craft's.")
    if row["reason"]:
        said.append(str(row["reason"]).rstrip(".") + ".")
    return said + _cost(results, design)


def _between_places(row: Mapping[Hashable, Any]) -> str:
    low, high = int(row["place_low"]), int(row["place_high"])
    return f" (anywhere from {low} to {high})" if low < high else ""


def _cost(results: Results, design: int) -> list[str]:
    row = design_row(results, design)
    mass = [f"a mass of {with_unit(float(row['mass']), 'kg')}"] if "mass" in row else []
    price = [f"a price of {number(float(row['price']), 4)}"] if "price" in row else []
    return [f"It has {' and '.join(mass + price)}."] if mass or price else []


def tables(results: Results, design: int, by_condition: pd.DataFrame, history: pd.DataFrame) -> dict[str, Any]:
    """The tables of a design's page."""
    names = judged_responses(results.campaign)
    titles = [response_column(name, by_condition[name]).heading for name in names]
    rides = by_condition[by_condition["condition"].isin(history["condition"])]
    return {
        "factors": [_factor(results, label, design) for label in results.campaign.factors],
        "condition_headings": ["condition", "score", "flights", "ended early", *titles],
        "conditions": [
            (row["name"], number(row["score"]), row["flights"], row["ended"], *(number(row[name]) for name in names))
            for _, row in by_condition.iterrows()
        ],
        "rides": list(zip(rides["condition"], rides["name"], strict=True)),
    }


def _factor(results: Results, label: str, design: int) -> dict[str, Any]:
    factor = results.campaign.factors[label]
    values = shown_factor(factor, results.designs.loc[[design, 0], label])
    value, base = (
        each.replace("-", " ") if isinstance(each, str) else with_unit(each, factor.unit, 4) for each in values.tolist()
    )
    return {"title": label, "value": value, "base": base, "differs": value != base}


def highest_wave(results: Results) -> tuple[Wave | None, str]:
    """The highest sea of the conditions as one wave of its significant height and peak period, and what to call it."""
    rows = results.conditions[results.conditions["sea_height"] > 0.0].dropna(subset=["sea_period"])
    if rows.empty:
        return None, ""
    row = rows.sort_values("sea_height", kind="stable").iloc[-1]
    length = 2.0 * math.pi / float(wave_number(2.0 * math.pi / row["sea_period"], results.campaign.water.depth))
    height = float(row["sea_height"])
    said = f"the highest sea, {row['sea']}, as one wave: {with_unit(100.0 * height, 'cm')} high, {with_unit(length, 'm')} long"
    return Wave(height, length), said


def against_base(results: Results, design: int, by_condition: pd.DataFrame) -> tuple[pd.DataFrame, tuple[str, ...]]:
    """Rows of the condition chart: this design, and the base craft unless it is the same."""
    parts = {("base craft" if design == 0 else f"design {design}"): by_condition}
    if design:
        parts["base craft"] = condition_table(results, 0)
    rows = [part[["name", "score"]].assign(who=who) for who, part in parts.items()]
    return pd.concat(rows, ignore_index=True), tuple(parts)

"""The page of one design: where it stands, what was chosen, how it does in each condition."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import pandas as pd

from sweep.model.physics.waves import wave_number
from sweep.report.charts.conditions import condition_scores
from sweep.report.craft_sheet import Table, sheet
from sweep.report.display import (
    BASE,
    condition_table,
    craft_of_design,
    good_within,
    judged_responses,
    response_column,
    said_factor,
)
from sweep.report.drawing import Wave, draw
from sweep.report.drawing_marks import Paper, paper
from sweep.report.embed import as_csv, as_spec, data_script
from sweep.report.headline import why_refused
from sweep.report.page import Chart, Made, Material
from sweep.report.pages import doubts as of_doubts
from sweep.report.pages import ranges as of_ranges
from sweep.report.pages.causes import Troubles
from sweep.report.pages.causes import of_design as troubles_of
from sweep.report.pages.changes import Changes, changes_of
from sweep.report.pages.outings import sentence_of
from sweep.report.pages.ride import Ride, recorded_of
from sweep.report.pages.stability import Steadiness, steady_of
from sweep.report.pages.strength import strength_table
from sweep.report.seaway import Lengths, measured
from sweep.words.numbers import count, interval, number, with_unit
from sweep.words.phrases import called

if TYPE_CHECKING:
    from sweep.results.store import Results


class Choice(NamedTuple):
    """What a factor is on a design and on the base craft."""

    title: str
    address: str
    value: str
    base: str
    differs: bool


Row = tuple[str, ...]


@dataclass(frozen=True)
class DesignPage:
    """A design: where it stands, what was chosen, its shape, how it does in each condition, how steady it is, its ride.

    data, ride_data: the scripts of its charts' tables, and of those of its ride; views, lengths, wave: drawings to scale, the
    dimensions of the first, and what the wave in it is; conditions: a row each under `condition_headings`; contents: its
    sections; craft_file: its download; ride, troubles, changes: None where they were not flown or kept.
    """

    design: int
    name: str
    sentences: list[str]
    data: list[str]
    ride_data: list[str]
    factors: list[Choice]
    views: list[Paper]
    lengths: Lengths
    wave: str
    numbers: list[Table]
    condition_chart: Chart
    condition_csv: str
    condition_headings: list[str]
    conditions: list[Row]
    doubts: list[of_doubts.Doubt]
    ranges: list[of_ranges.LeftRange]
    steady: Steadiness
    changes: Changes | None
    ride: Ride | None
    troubles: Troubles | None
    contents: list[tuple[str, str]]
    craft_file: str


def _contents(troubles: bool, doubts: bool, ranges: bool, changes: bool) -> list[tuple[str, str]]:
    """The sections of the page in their order, of which some may be left out: the name of each, and what it is called."""
    sections = [
        ("troubles", "What went wrong, and why", troubles),
        ("doubts", "Warning counters", doubts),
        ("ranges", "Outside the model’s known range", ranges),
        ("choice", "What was chosen", True),
        ("shape", "The boat to scale", True),
        ("conditions", "In each condition", True),
        ("over-time", "The ride over time", True),
        ("steady", "How stable it is", True),
        ("next", "What to try next", changes),
    ]
    return [(name, said) for name, said, there in sections if there]


def make(material: Material, design: int) -> Made:
    """The page of a design, and what its charts and its CSV files hold."""
    results = material.results
    by_condition = condition_table(results, design)
    compared, names = against_base(results, design, by_condition)
    craft = craft_of_design(results, design)
    wave, said = highest_wave(results)
    drawn = draw(craft, wave)
    side, lengths = measured(craft, drawn[0])
    doubts, csv = of_doubts.of_design(results, design), f"conditions-{design}"
    steadiness, steady_data, steady_files = steady_of(results, design, craft)
    ride, ride_data, ride_troubles, ride_files = recorded_of(material, design, craft)
    troubles, trouble_files = troubles_of(results, design)
    against = ", beside the base craft's" if design else ""
    headings = {name: response_column(name, by_condition[name]).heading for name in judged_responses(results.campaign)}
    failures = {"ended": "ended early"} | ({"stopped": "stopped by its code"} if by_condition["stopped"].any() else {})
    left, changes, wrong = of_ranges.of_design(results, design, craft), changes_of(results, design), troubles or ride_troubles
    page = DesignPage(
        design=design,
        name=called(design),
        sentences=[*sentences(results, design), sentence_of(results, design), *of_doubts.sentences(doubts)],
        data=[csv, *steady_data],
        ride_data=ride_data,
        factors=[_factor(results, label, design) for label in results.campaign.factors],
        views=[paper(view) for view in (side, *drawn[1:])],
        lengths=lengths,
        wave=said,
        numbers=[table for table in (*sheet(craft), strength_table(results, design, craft)) if table.rows],
        condition_chart=Chart(
            "condition-scores", f"Score in each condition{against}", as_spec(condition_scores(compared, names), csv)
        ),
        condition_csv=csv,
        condition_headings=["condition", "score", "flights", *failures.values(), *headings.values()],
        conditions=[_condition(row, failures, headings) for row in by_condition.to_dict("records")],
        doubts=doubts,
        ranges=left,
        steady=steadiness,
        changes=changes,
        ride=ride,
        troubles=wrong,
        craft_file=f"craft-{design}.yaml" if results.campaign.craft_text else "",
        contents=_contents(wrong is not None, bool(doubts), bool(left), changes is not None),
    )
    files = data_script(csv, compared) | as_csv(csv, by_condition, headings)
    return Made(page, files | ride_files | trouble_files | steady_files)


def design_row(results: Results, design: int) -> pd.Series:
    """A design's row of the design table, by factor label."""
    return results.designs.loc[[design]].iloc[0]


def sentences(results: Results, design: int) -> list[str]:
    """Where a design stands, and by how much."""
    rows = results.standings[results.standings["design"] == design]
    if rows.empty:
        return ["This design has no place in the standings yet."]
    row = rows.iloc[0].to_dict()
    place = f"Place {int(row['place'])}{_between_places(row)}" if row["verdict"] != "broken" else ""
    place = place or f"Refused: it {why_refused(str(row['reason']))}"
    said = [f"{place}; its score is {number(row['score'])}{interval(row['score_low'], row['score_high'])}."]
    good = int(results.standings["good_enough"].sum())
    if row["good_enough"] and good > 1:
        said.append(f"It is one of {count(good, 'design', 'designs')} that are good enough: {good_within(results.standings)}.")
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


def _condition(row: Mapping[Hashable, Any], failures: Iterable[str], names: Iterable[str]) -> Row:
    counts, numbers = (str(row[name]) for name in failures), (number(row[name]) for name in names)
    return row["name"], number(row["score"]), str(row["flights"]), *counts, *numbers


def _factor(results: Results, label: str, design: int) -> Choice:
    factor = results.campaign.factors[label]
    values = said_factor(factor, results.designs.loc[[design, 0], label])
    value, base = (each if isinstance(each, str) else with_unit(each, factor.unit, 4) for each in values.tolist())
    return Choice(factor.name, label, value, base, value != base)


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
    parts = {(BASE if design == 0 else f"design {design}"): by_condition}
    if design:
        parts[BASE] = condition_table(results, 0)
    rows = [part[["name", "score"]].assign(who=who) for who, part in parts.items()]
    return pd.concat(rows, ignore_index=True), tuple(parts)

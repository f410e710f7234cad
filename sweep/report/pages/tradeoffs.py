"""The page of trade-offs: of any two quantities, the designs that no other beats in both.

The rule: a design that broke a limit stands on no front, nor one without a number; one whose limits are not yet known does.
Designs equal in both stand on it together; one that is equal in one and worse in the other is behind. Quantities are means over
all flights, and the front is that of the means: a design just behind it may belong there.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd

from sweep.campaign.designs import significant
from sweep.campaign.scoring import LARGER_IS_BETTER, NEITHER
from sweep.insight.tradeoffs import front, hypervolume, knee
from sweep.model.quantities import RESPONSE
from sweep.report.charts.tradeoffs import trade_off
from sweep.report.display import Column, craft_of_design, design_table, response_column, thinned
from sweep.report.embed import as_csv, as_json, as_spec, data_script
from sweep.report.page import Made, Material
from sweep.report.pages.cheaper import cheaper
from sweep.report.pages.explore import MOST_IN_VIEWS, renderer, sample_note
from sweep.words.numbers import count, number, pretty, with_unit
from sweep.words.phrases import together

if TYPE_CHECKING:
    from markupsafe import Markup

    from sweep.results.store import Results

TRADED = (
    "ride_height_error", "energy_per_metre", "vertical_acceleration", "pitch_rms", "outside_window", "servo_travel",
    "power_peak", "battery_range",
)  # fmt: skip
"""Responses that can be traded off beside those that the campaign judges by."""
FIRST = ("ride_height_error", "score"), ("energy_per_metre", "price", "mass", "rangefinders")
"""What the page shows first: the first of each that there is."""
MOST_ON_A_LIST = 12  # judgement
RULE = (
    "A design that broke a limit, or has no result, is on no front; one whose limits are not yet known may be. Designs that "
    "are equal in both quantities are on the front together. A design that is equal in one and worse in the other is behind "
    "it. Each number is a mean over all flights, so a design just behind the front may belong on it."
)


class Front(NamedTuple):
    """The front between two quantities.

    designs: in the order of the first; knee: None if it has none; covered: share of the rectangle between the best and the
    worst of the designs that the front covers, NaN if there is no rectangle.
    """

    designs: list[int]
    knee: int | None
    covered: float


class FrontSaid(NamedTuple):
    """What the page says of a front: its sentence, its designs in order, its knee if it has one."""

    said: str
    front: list[int]
    knee: int | None


class Choice(NamedTuple):
    """A quantity to choose: 'least mass, kg'."""

    key: str
    words: str


class ScriptColumn(NamedTuple):
    """A quantity as the page's script wants it."""

    key: str
    title: str
    unit: str
    heading: str


@dataclass(frozen=True)
class Trade:
    """Any two quantities of the designs against each other.

    fronts, columns_json: every front by its pair, and the quantities, for the page's script; across, up: the first pair.
    """

    spec: Markup
    renderer: str
    columns: list[Choice]
    columns_json: Markup
    fronts: Markup
    across: str
    up: str
    note: str
    rule: str


@dataclass(frozen=True)
class TradeoffsPage:
    """Of two quantities, the designs that no other beats in both; trade: None where there are no two quantities.

    cheaper: whether a cheaper design would do, '' where prices do not differ.
    """

    cheaper: str
    sentence: str
    trade: Trade | None


def make(material: Material) -> Made:
    """The page, and what its chart and its CSV file hold."""
    columns, table = quantities(material.results)
    if len(columns) < 2 or len(table) < 2:
        nothing = "There are no two quantities in which designs differ: nothing to trade off."
        return Made(TradeoffsPage(cheaper(material.results), nothing, None), {})
    found = fronts(columns, table)
    said = front_sentences(columns, table, found)
    on_any = {design for each in found.values() for design in each.designs}
    shown = table[table["design"].isin(on_any | set(thinned(table, MOST_IN_VIEWS)["design"]))]
    across, up = first_pair(columns)
    trade = Trade(
        spec=as_spec(trade_off(shown, columns, across, up), "tradeoffs"),
        renderer=renderer(len(shown)),
        columns=[Choice(column.key, better(column)) for column in columns],
        columns_json=as_json([script_column(column)._asdict() for column in columns]),
        fronts=as_json({pair: each._asdict() for pair, each in said.items()}),
        across=across,
        up=up,
        note=sample_note(len(shown), len(table)),
        rule=RULE,
    )
    linked = shown.assign(page=[page_of(row) for row in shown[["design", "page"]].to_dict("records")])
    keys = ["design", "label", "group", "page", *(column.key for column in columns)]
    files = data_script("tradeoffs", linked[keys]) | as_csv("fronts", front_csv(columns, table, found))
    return Made(TradeoffsPage(cheaper(material.results), said[" ".join(sorted((across, up)))].said, trade), files)


def quantities(results: Results, more: Sequence[str] = TRADED) -> tuple[list[Column], pd.DataFrame]:
    """Columns to trade off and the table of designs in shown units: those of `design_table`, more responses, rangefinders.

    Columns in which no two designs differ are left out, and those that are better neither smaller nor larger.
    """
    columns, table = design_table(results)
    kept = [column for column in columns if column.role in ("standing", "response", "cost")]
    for name in (name for name in more if name in results.responses and name not in table):
        table[name] = significant(
            results.responses[name].reindex(table["design"]).reset_index(drop=True) * RESPONSE[name].scale
        )
        kept.append(response_column(name, table[name]))
    fitted = _rangefinders(results)
    if fitted is not None:
        table["rangefinders"] = fitted.loc[table["design"]].to_numpy()
        kept.append(Column("rangefinders", "rangefinders", "", "cost"))
    fit = [column for column in kept if column.key not in NEITHER and table[column.key].nunique() > 1]
    return fit, table


def _rangefinders(results: Results) -> pd.Series | None:
    """How many each design has; None if that is no factor."""
    touching = [label for label, factor in results.campaign.factors.items() if "rangefinders.count" in factor.addresses]
    if not touching:
        return None
    counts = results.designs[touching[0]].astype(float).copy()
    counts.iloc[0] = craft_of_design(results, 0).rangefinders.number
    return counts


def find_front(table: pd.DataFrame, one: str, two: str) -> Front:
    """The front between two columns; table: design, verdict and the columns, shown units."""
    fit = table[(table["verdict"] != "broken") & table[[one, two]].notna().all(axis=1)]
    values = fit[[one, two]].to_numpy(float) * [_way(one), _way(two)]
    rows = front(values)
    designs = fit["design"].to_numpy()[rows]
    corner = knee(values[rows])
    return Front(designs.tolist(), None if corner is None else int(designs[corner]), _covered(values))


def _covered(values: np.ndarray) -> float:
    if not len(values) or not (np.ptp(values, axis=0) > 0.0).all():
        return float("nan")
    worst = values.max(axis=0)
    return hypervolume(values, worst) / float(np.ptp(values, axis=0).prod())


def _way(name: str) -> float:
    return -1.0 if name in LARGER_IS_BETTER else 1.0


def first_pair(columns: Sequence[Column]) -> tuple[str, str]:
    """The pair that the page shows first."""
    there = [column.key for column in columns]
    one = next((name for name in FIRST[0] if name in there), there[0])
    two = next((name for name in FIRST[1] if name in there and name != one), next(name for name in there if name != one))
    return one, two


def fronts(columns: Sequence[Column], table: pd.DataFrame) -> dict[str, Front]:
    """Every front by the keys of its two columns, sorted and joined by a space."""
    pairs = combinations(sorted(column.key for column in columns), 2)
    return {f"{one} {two}": find_front(table, one, two) for one, two in pairs}


def front_sentences(columns: Sequence[Column], table: pd.DataFrame, found: Mapping[str, Front]) -> dict[str, FrontSaid]:
    """What the page says of each front."""
    named = {column.key: column for column in columns}
    rows = table.set_index("design")
    spoken = {}
    for pair, each in found.items():
        one, two = (named[key] for key in pair.split(" "))
        spoken[pair] = FrontSaid(_sentence(rows, each, one, two), each.designs, each.knee)
    return spoken


def _sentence(rows: pd.DataFrame, found: Front, one: Column, two: Column) -> str:
    if not found.designs:
        return "No design kept its limits: there is no front."
    if len(found.designs) == 1:
        return f"Design {found.designs[0]} is the best in both {one.title} and {two.title}: there is nothing to trade."
    ends = found.designs[0], found.designs[-1]
    if (rows.loc[list(found.designs), [one.key, two.key]].nunique() == 1).all():
        named = together([str(design) for design in found.designs[:MOST_ON_A_LIST]])
        return f"Designs {named} are equal, and the best in both {one.title} and {two.title}: there is nothing to trade."
    standing = count(len(found.designs), "design", "designs").capitalize()
    said = (
        f"{standing} are on the front of {one.title} and {two.title}: from design {ends[0]} "
        f"({_both(rows, ends[0], one, two)}) to design {ends[1]} ({_both(rows, ends[1], one, two)})."
    )
    if found.knee is not None:
        there = _both(rows, found.knee, one, two)
        said += f" Its knee is design {found.knee} ({there}): from there a little more of one costs much of the other."
    else:
        said += " It has no knee: nowhere along it does giving up a little of one gain much of the other."
    if np.isfinite(found.covered):
        said += (
            f" The front covers {number(100.0 * found.covered, 2)} % of the area between the best and the worst values of the "
            "designs that broke no limit."
        )
    return said


def _both(rows: pd.DataFrame, design: int, one: Column, two: Column) -> str:
    row = rows.loc[[design]].iloc[0].to_dict()
    return ", ".join(with_unit(float(row[column.key]), column.unit) for column in (one, two))


def better(column: Column) -> str:
    """'least ride height error, cm'."""
    return f"{'most' if column.key in LARGER_IS_BETTER else 'least'} {column.heading}"


def page_of(row: Mapping[Hashable, Any]) -> str:
    """Where a design is told of: on its page, or in its row of the long table of the standings."""
    return row["page"] or f"index.html#show=design={row['design']}"


def script_column(column: Column) -> ScriptColumn:
    """A quantity for the page's script."""
    return ScriptColumn(column.key, column.title, pretty(column.unit), column.heading)


def front_csv(columns: Sequence[Column], table: pd.DataFrame, found: Mapping[str, Front]) -> pd.DataFrame:
    """Every front for CSV: a row for each design on it."""
    named = {column.key: column for column in columns}
    rows = table.set_index("design")
    parts = []
    for pair, each in found.items():
        one, two = pair.split(" ")
        for design in each.designs:
            parts.append(
                {
                    "of": named[one].title,
                    "unit": pretty(named[one].unit),
                    "against": named[two].title,
                    "its unit": pretty(named[two].unit),
                    "design": design,
                    "value": rows.loc[design, one],
                    "its value": rows.loc[design, two],
                    "knee": design == each.knee,
                }
            )
    return pd.DataFrame(parts)

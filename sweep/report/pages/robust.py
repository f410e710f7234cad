"""How the leading designs bear worse conditions and a boat that is not quite as described."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import pandas as pd

from sweep.campaign.designs import significant
from sweep.campaign.tolerances import WAKE
from sweep.insight.ranking import ranked
from sweep.insight.robust import COSTS, best_by_side, condition_costs, tolerance_costs
from sweep.insight.scores import Scoring
from sweep.report.charts.matters import tornado
from sweep.report.embed import Files, as_csv, as_spec, data_script
from sweep.words.numbers import interval, number
from sweep.words.phrases import called, called_within

if TYPE_CHECKING:
    from markupsafe import Markup

    from sweep.results.store import Results

ATTRIBUTES = {"sea": "sea", "heading_name": "heading", "speed": "speed", "fault": "fault", "course": "course"}
COLUMNS = ["design", "kind", "what", "how", *COSTS]
TOLERANCE, CONDITION = "tolerance", "condition"
ASK = (
    "What it costs if the boat is built a little off is not known: the campaign does not ask for it. Add the line "
    "“tolerances: usual” to the campaign file. The leaders are then flown again after the sweep, each time a little "
    "off in mass, balance, gains, delay, noise, incidence or thrust."
)


class Leader(NamedTuple):
    """A design to choose, and what it is called."""

    design: int
    name: str


@dataclass(frozen=True)
class Robustness:
    """What the leaders bear: `off`, the chart of a boat built a little off, and `worse`, that of each condition, '' if none.

    ask: how to have the boat flown a little off, where it was not.
    """

    sentences: list[str]
    leaders: list[Leader]
    off: Markup | str
    ask: str
    worse: Markup | str


def robustness(results: Results) -> tuple[Robustness | None, Files]:
    """What a leader bears, None without leaders; and what its charts and its CSV file hold."""
    order = leaders(results)
    if not order:
        return None, {}
    table = robust_table(results)
    off, worse = _chart(table, TOLERANCE), _chart(table, CONDITION)
    named = [Leader(design, called(design)) for design in order]
    found = Robustness(sentences(results, table), named, off, "" if off else ASK, worse)
    return found, data_script("robust", table) | as_csv("robust", table) if len(table) else {}


def _chart(table: pd.DataFrame, kind: str) -> Markup | str:
    return as_spec(tornado(table, kind), "robust") if (table["kind"] == kind).any() else ""


def robust_table(results: Results) -> pd.DataFrame:
    """What each tolerance and each condition costs each leader: design, kind, what, how, and cost, low, high of the score.

    Conditions against the design's mean over all of them, tolerances against the craft as described in the same waves; the
    most costly of a kind first.
    """
    parts = [_tolerances(results), *(_conditions(results, design) for design in leaders(results))]
    table = pd.concat([part for part in parts if len(part)], ignore_index=True) if any(map(len, parts)) else pd.DataFrame()
    if table.empty:
        return pd.DataFrame(columns=COLUMNS)
    worst = table.groupby(["design", "kind", "what"])["cost"].transform("max")
    table = table.assign(worst=worst).sort_values(["design", "kind", "worst", "cost"], ascending=[True, True, False, False])
    for name in COSTS:
        table[name] = significant(table[name].astype(float), 3)
    return table[COLUMNS].reset_index(drop=True)


def leaders(results: Results) -> list[int]:
    """The designs that have pages, best first, the base craft last."""
    order = [design for design in ranked(results.standings)["design"] if design in results.leaders and design != 0]
    rest = [design for design in results.leaders if design not in order and design != 0]
    return [*order, *sorted(rest), *([0] if 0 in results.leaders else [])]


def _scored(results: Results) -> pd.DataFrame:
    """The leaders' flights as built, with their scores; empty if none were asked for."""
    rows = results.tolerances
    if results.campaign.tolerances == "none" or not len(rows):
        return pd.DataFrame()
    scored = rows[["design", "off", "side", "condition", "replicate"]].assign(score=Scoring.of(results.campaign).scores(rows))
    return scored[scored["design"].isin(results.leaders)]


def _tolerances(results: Results) -> pd.DataFrame:
    scored = _scored(results)
    if scored.empty:
        return pd.DataFrame(columns=COLUMNS)
    table = tolerance_costs(scored, results.campaign.unknowns)
    return table.rename(columns={"off": "what", "side": "how"}).assign(kind=TOLERANCE)[COLUMNS]


def _conditions(results: Results, design: int) -> pd.DataFrame:
    flights = results.flights_of(design).sort_values(["condition", "replicate"])
    each = flights.groupby("condition")["replicate"]  # leading designs flew on in some conditions more than in others
    flights = flights[each.cumcount() < each.count().min()] if len(flights) else flights
    conditions = results.conditions.set_index("condition")
    scoring = Scoring.of(results.campaign)
    scores = scoring.points(flights)
    shape = (flights["condition"].nunique(), int(flights.groupby("condition").size().max()) if len(flights) else 0)
    if scores.size != shape[0] * shape[1] or not scores.size:
        return pd.DataFrame(columns=COLUMNS)
    there = conditions.loc[flights["condition"].drop_duplicates()]
    often = None if scoring.season is None else scoring.season[there.index.to_numpy()]
    rows = []
    for column, what in ATTRIBUTES.items():
        levels = [_level(column, value) for value in there[column]]
        for row in condition_costs(scores.reshape(shape), levels, results.campaign.unknowns, often):
            how = row.pop("level")
            rows.append({"design": design, "kind": CONDITION, "what": what, "how": how, **row})
    return pd.DataFrame(rows, columns=COLUMNS)


def _level(column: str, value: Any) -> str:
    return f"{number(float(value))} m/s" if column == "speed" else str(value) or "flat"


def sentences(results: Results, table: pd.DataFrame) -> list[str]:
    """The knob that must be right, and the condition that costs most, of the first leader."""
    order = leaders(results)
    if not order or table.empty:
        return []
    design = order[0]
    own = table[table["design"] == design]
    return [*_knob(design, own[own["kind"] == TOLERANCE]), *_wake(results), *_condition(own[own["kind"] == CONDITION])]


def _wake(results: Results) -> list[str]:
    """Whether the best of the leaders hangs on how the foils' wake is, which nobody has measured."""
    scored = _scored(results)
    best = best_by_side(scored, WAKE, results.campaign.unknowns) if len(scored) else {}
    if len(best) < 2:
        return []
    first = best.pop("")
    leader = called_within(first)
    others = [f"{side}: {called_within(design)}" for side, design in best.items() if design != first]
    if not others:
        return [f"No other leader is surely better than {leader} with any {WAKE} that was tried."]
    return [
        f"Which leader is best depends on the {WAKE}, which theory gives only between bounds. As modelled, {leader} has the "
        f"least mean score. With another {WAKE} another leader is surely better: {'; '.join(others)}."
    ]


def _knob(design: int, rows: pd.DataFrame) -> list[str]:
    known = rows.dropna(subset=["cost"])
    if known.empty:
        return []
    if not (known["high"] > 0.0).any() or not (known["cost"] > 0.0).any():
        return [f"{called(design)} bears every tolerance that was tried: none costs it any score in these flights."]
    largest = known.nlargest(1, "cost").iloc[0].to_dict()
    costs = f"{largest['how'].capitalize()} costs {number(largest['cost'])}{interval(largest['low'], largest['high'])} of score"
    knob = f"The knob that you must get right on {called_within(design)}: {largest['what']}"
    first = f"{knob}. {costs}, the most of all that was tried"
    sure = known[known["low"] > 0.0]
    if largest["low"] > 0.0:
        return [f"{first}."]
    if sure.empty:
        return [f"{first}, though not surely; no tolerance surely costs any."]
    surest = sure.nlargest(1, "cost").iloc[0].to_dict()
    return [
        f"{first}, though not surely. The largest sure cost is that of {surest['what']}: {surest['how']} costs "
        f"{number(surest['cost'])}{interval(surest['low'], surest['high'])}."
    ]


def _condition(rows: pd.DataFrame) -> list[str]:
    if rows.empty:
        return []
    worst = rows.nlargest(1, "cost").iloc[0].to_dict()
    return [
        f"The hardest {worst['what']} for it is {worst['how']}: its score there is {number(worst['cost'])}"
        f"{interval(worst['low'], worst['high'])} above its mean{'' if worst['low'] > 0.0 else ', which is not certain'}."
    ]

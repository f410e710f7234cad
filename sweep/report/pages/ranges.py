"""Where the model should not be believed, for the pages: the ranges, and the leading designs' flights that leave them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from sweep.campaign.conditions import list_conditions
from sweep.campaign.draws import water_of
from sweep.insight.validity import RANGES, Left, leaves
from sweep.report.display import condition_names, craft_of_design
from sweep.words.numbers import count, grouped, number

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft
    from sweep.results.store import Results


class LeftRange(NamedTuple):
    """A range that a design leaves: what it is of, how far, where most, in how many flights, and what lies beyond."""

    title: str
    range: str
    value: str
    where: str
    flights: str
    beyond: str


class KnownRange(NamedTuple):
    """A range that the model rests on, what it rests on, what lies beyond, and which of the leading designs leave it."""

    title: str
    range: str
    rests_on: str
    beyond: str
    left_by: str


def of_design(results: Results, design: int, craft: Craft) -> list[LeftRange]:
    """Rows for a design's page: one a range that it leaves, with where, how far and what to make of it."""
    names = condition_names(results)
    groups: dict[str, list[Left]] = {}
    for left in left_by(results, design, craft):
        groups.setdefault(left.key, []).append(left)
    return [
        LeftRange(
            title=RANGES[key].title,
            range=range_words(key),
            value=_value(_worst(key, found).value),
            where=names[_worst(key, found).condition] + _others(len(found) - 1),
            flights=f"{sum(each.flights for each in found)} of {sum(each.of for each in found)} flights there",
            beyond=RANGES[key].beyond,
        )
        for key, found in groups.items()
    ]


def left_by(results: Results, design: int, craft: Craft) -> list[Left]:
    """Every range that flights of a design leave."""
    conditions = list_conditions(results.campaign)
    return leaves(craft, water_of(results.campaign), conditions, results.flights_of(design))


def of_all(results: Results) -> list[KnownRange]:
    """Rows for How sure: every range, what it rests on, what lies beyond, and which of the leading designs leave it."""
    leaving: dict[str, list[int]] = {key: [] for key in RANGES}
    for design in sorted(results.leaders):
        craft = craft_of_design(results, design)
        for key in {left.key for left in left_by(results, design, craft)}:
            leaving[key].append(design)
    return [
        KnownRange(
            title=limits.title,
            range=range_words(key),
            rests_on=limits.rests_on,
            beyond=limits.beyond,
            left_by=", ".join(map(str, leaving[key])) or "none",
        )
        for key, limits in RANGES.items()
    ]


def range_words(key: str) -> str:
    """'0.5 or more', '2 to 12', 'at most 0.05'."""
    low, high = RANGES[key].low, RANGES[key].high
    if math.isinf(high):
        return f"{_value(low)} or more"
    return f"{_value(low)} to {_value(high)}" if low else f"at most {_value(high)}"


def _value(value: float) -> str:
    return grouped(round(value)) if abs(value) >= 1000.0 else number(value, 2)


def _worst(key: str, found: list[Left]) -> Left:
    above = found[0].value > RANGES[key].high
    return max(found, key=lambda left: left.value if above else -left.value)


def _others(more: int) -> str:
    return f" and {count(more, 'other condition', 'other conditions')}" if more else ""

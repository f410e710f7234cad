"""What the choices of the first design do there, beside what they do on average over all designs, in sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from sweep.flying.variants import NEXT
from sweep.insight.at_leader import beside_leader, neighbours
from sweep.insight.by_draw import by_draw
from sweep.insight.findings import gathered
from sweep.insight.scores import Scoring
from sweep.report.headline import value_in_words
from sweep.report.pages.levels import at_least
from sweep.words.numbers import number, percent
from sweep.words.phrases import together

if TYPE_CHECKING:
    from sweep.results.store import Results

DECIDES = 0.05
"""Share of the first design's score from which on a choice is told (judgement)."""
MOST_TOLD = 3
"""Choices that are told, the largest first (judgement)."""


class Instead(NamedTuple):
    """One choice of the first design changed: by how much that scores more, and surely at least (NaN where not known)."""

    label: str
    was: str
    becomes: str
    more: float
    least: float


def changed(results: Results, best: int) -> list[Instead]:
    """What each other choice costs: of designs that flew and differ in nothing else, or of small changes flown at the leader.

    One of each factor, the costliest.
    """
    flown = [*_of_designs(results, best), *_of_changes(results, best)]
    worst: dict[str, Instead] = {}
    for each in sorted(flown, key=lambda each: -each.more):
        worst.setdefault(each.label, each)
    return list(worst.values())


def _of_designs(results: Results, best: int) -> list[Instead]:
    """Designs of the table that differ from the first in one choice."""
    factors, unknowns = results.campaign.factors, results.campaign.unknowns
    beside = neighbours(results.designs, list(factors), best) if best else {}
    rows = {design: results.flights_of(design) for design in (best, *beside)}
    rows = {design: flights for design, flights in rows.items() if len(flights)}
    if best not in rows or len(rows) < 2:
        return []
    scoring = Scoring.of(results.campaign)
    parts = [flights.assign(points=scoring.scores(flights), design=at) for at, flights in enumerate(rows.values())]
    most = 1 + max(int(part["replicate"].max()) for part in parts)
    scores = gathered(parts, "points", (len(parts), len(results.conditions), most))
    found = beside_leader(by_draw(scores, unknowns), len(results.designs))
    others = [design for design in rows if design != best]
    return [
        Instead(beside[other], _value(results, beside[other], best), _value(results, beside[other], other), more, least)
        for other, more, least in zip(others, found["more"].tolist(), found["least"].tolist(), strict=True)
    ]


def _value(results: Results, label: str, design: int) -> str:
    return value_in_words(results.campaign.factors[label], results.designs.loc[design, label])


def _of_changes(results: Results, best: int) -> list[Instead]:
    """Small changes of one factor, flown beside the leader in waves of their own."""
    rows = results.changes
    if rows.empty or int(rows["leader"].iloc[0]) != best:
        return []
    rows = rows[(rows["group"] == NEXT) & rows["label"].isin(list(results.campaign.factors))]
    return [
        Instead(row["label"], row["was"], row["becomes"], -row["gain"], -row["gain_high"]) for row in rows.to_dict("records")
    ]


def at_leader(results: Results, best: int | None) -> str:
    """That shares are averages, and which choices do much at the first design itself; '' where it is the base craft."""
    if not best:
        return ""
    known, score = changed(results, best), float(results.standings.set_index("design")["score"][best])
    much = [each for each in known if each.more >= DECIDES * score]
    said, there = ["A share is an average over all designs."], f"At design {best} itself"
    if much:
        costs = [_costs(results, each, score) for each in sorted(much, key=_surest)[:MOST_TOLD]]
        said.append(f"{there}, changing one choice costs, as far as it was flown: {'; '.join(costs)}.")
    elif known:
        said.append(f"{there}, changing any one choice costs under {percent(DECIDES)} of its score in what was flown.")
    told = {each.label for each in known}
    untold = [factor.name for label, factor in results.campaign.factors.items() if label not in told]
    if len(untold) > MOST_TOLD:
        said.append(f"What {len(untold)} of its choices do there, each by itself, was not flown.")
    elif untold:
        said.append(f"What {together(untold)} {'does' if len(untold) == 1 else 'do'} there by itself was not flown.")
    return " ".join(said)


def _surest(each: Instead) -> tuple[bool, float]:
    """What is surely a cost comes first, and then what costs most."""
    return not each.least > 0.0, -each.more


def _costs(results: Results, each: Instead, score: float) -> str:
    """'rangefinders 1 instead of 2: 10 %, surely 6 % or more'."""
    name = results.campaign.factors[each.label].name
    least = f"surely {at_least(100.0 * each.least / score)} % or more" if each.least > 0.0 else "though not surely"
    return f"{name} {each.becomes} instead of {each.was} {number(100.0 * each.more / score, 2)} %, {least}"

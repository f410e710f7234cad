"""The same campaign before and after a change: what differs, and what that did to the designs that both have."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import pandas as pd

from sweep.campaign.addresses import value_at
from sweep.campaign.courses import STRAIGHT
from sweep.insight.ranking import ranked
from sweep.report.display import BASE, design_page, group
from sweep.report.embed import as_csv
from sweep.report.page import Made, Material
from sweep.report.pages.differing import differing
from sweep.words.numbers import count, interval, number
from sweep.words.phrases import called

if TYPE_CHECKING:
    from sweep.campaign.factors import Factor
    from sweep.results.store import Results

MOST_LISTED, MOST_CHANGES = 20, 20  # rows and lines: judgement


HEADINGS = ["place now", "score now", "design before", "place before", "score before", "change of score"]


class Both(NamedTuple):
    """A design that both campaigns have: its page if it has one, and its cells under `HEADINGS`."""

    name: str
    page: str
    group: str
    cells: list[str]


@dataclass(frozen=True)
class FormerPage:
    """What a change of the campaign did to the designs that are in both; former, title: of the two campaigns."""

    sentences: list[str]
    former: str
    title: str
    changes: list[str]
    headings: list[str]
    rows: list[Both]
    note: str


def make(material: Material) -> Made | None:
    """The page, and its CSV file; none without a campaign of before."""
    now, former = material.results, material.former
    if former is None:
        return None
    both = shared(now, former)
    return Made(former_page(now, former, both), as_csv("former", both))


def shared(now: Results, former: Results) -> pd.DataFrame:
    """Designs that are alike in all that was chosen in either, best now first.

    What only one of the campaigns chooses, the other's designs have as its craft has it. The base craft stands for itself,
    whatever changed in it. Columns: design, place, score, score_low, score_high, group, and the same with `_former`; change:
    the score less the former, NaN where the two cannot be compared.
    """
    factors = {**former.campaign.factors, **now.campaign.factors}
    tables = []
    for results in (now, former):
        chosen = [_chosen(results, label, factors[label]) for label in factors]
        keys = {design: _key(int(str(design)), row) for design, *row in zip(results.designs.index, *chosen, strict=True)}
        numbered = results.standings.assign(group=group(results.standings))
        kept = numbered[["design", "place", "score", "score_low", "score_high", "group"]]
        tables.append(kept.assign(key=kept["design"].map(keys)).dropna(subset=["key"]))
    both = tables[0].merge(tables[1].drop_duplicates("key"), on="key", suffixes=("", "_former")).drop(columns="key")
    change = both["score"] - both["score_former"] if not incomparable(now, former) else float("nan")
    return both.assign(change=change).sort_values(["place", "design"]).reset_index(drop=True)


def _chosen(results: Results, label: str, factor: Factor) -> list[Any]:
    """What each design has where a factor stands, SI: None where the craft has several values or none."""
    if label in results.campaign.factors:
        return list(results.designs[label])
    try:
        values = set() if factor.scaled else {value_at(results.campaign.craft, address) for address in factor.addresses}
    except (AttributeError, KeyError, TypeError):
        values = set()
    return [values.pop() if len(values) == 1 else None] * len(results.designs)


def _key(design: int, values: list[Any]) -> str | None:
    """What tells a design from others; None for one that cannot be told."""
    if design == 0:
        return BASE
    if any(value is None for value in values):
        return None
    return "|".join(f"{value:.9g}" if isinstance(value, float) else str(value) for value in values)


def incomparable(now: Results, former: Results) -> str:
    """Why the scores of the two cannot be compared, if they cannot."""
    if now.campaign.score != former.campaign.score:
        return "The two are scored differently, so their scores cannot be compared."
    mine, theirs = _conditions(now), _conditions(former)
    if mine == theirs:
        return ""
    both = len(set(mine) & set(theirs))
    common = f"{count(both, 'condition', 'conditions')} of {len(mine)} now and {len(theirs)} before" if both else "none"
    return (
        "A score is a mean over the conditions, and the two did not fly in the same conditions "
        f"(in common: {common}), so their scores cannot be compared."
    )


def _conditions(results: Results) -> list[tuple[Any, ...]]:
    blown = {sea.name: (sea.windiest.wind, sea.windiest.wind_turned) for sea in results.campaign.seas}
    return [(*_condition(row), blown.get(row.get("sea", ""))) for row in results.conditions.to_dict("records")]


def _condition(row: dict[Hashable, Any]) -> tuple[Any, ...]:
    numbers = (f"{row[name]:.6g}" for name in ("sea_height", "sea_period", "heading_deg", "speed") if name in row)
    return (*numbers, row.get("fault"), row.get("course", STRAIGHT))


def sentences(now: Results, former: Results, both: pd.DataFrame) -> list[str]:
    """Who led and who leads, and whether the field gained."""
    first, second = _leads(now, "leads now"), _leads(former, "led before")
    said = [f"{first[0].upper()}{first[1:]}; {second[0].lower()}{second[1:]}."]
    if why := incomparable(now, former):
        return [*said, why]
    if len(both) < 2:
        return [*said, "Only the base craft is in both." if len(both) else "No design is in both."]
    better, middle = int((both["change"] < 0.0).sum()), float(both["change"].median())
    said.append(
        f"Of {count(len(both), 'design', 'designs')} in both, {better} score better than before. In the median the score "
        f"{'fell' if middle <= 0.0 else 'rose'} by {number(abs(middle))}; less is better."
    )
    if now.campaign.flight != former.campaign.flight:
        said.append("The two did not fly in the same waves, or not for as long: part of the difference comes from that.")
    return said


def _leads(results: Results, verb: str) -> str:
    order = ranked(results.standings)
    if order.empty:
        return f"no design {verb}"
    best = order.iloc[0]
    score = f"{number(best['score'])}{interval(best['score_low'], best['score_high'])}"
    return f"{called(int(best['design']))} {verb}, with a score of {score}"


def changes(now: Results, former: Results) -> list[str]:
    """What differs between the two campaigns, line by line."""
    found = differing(now, former)
    more = [f"and {len(found) - MOST_CHANGES} more"] if len(found) > MOST_CHANGES else []
    return [*found[:MOST_CHANGES], *more]


def former_page(now: Results, former: Results, both: pd.DataFrame) -> FormerPage:
    """The page; both: of `shared`."""
    rows = [_both(now, row) for row in both.head(MOST_LISTED).to_dict("records")]
    return FormerPage(
        sentences=sentences(now, former, both),
        former=former.campaign.title,
        title=now.campaign.title,
        changes=changes(now, former),
        headings=HEADINGS,
        rows=rows,
        note=f"The first {len(rows)} of {len(both)} designs in both." if len(both) > len(rows) else "",
    )


def _both(now: Results, row: Mapping[Hashable, Any]) -> Both:
    cells = [
        _place(row["place"]),
        number(row["score"]) + interval(row["score_low"], row["score_high"]),
        str(row["design_former"]),
        _place(row["place_former"]),
        number(row["score_former"]) + interval(row["score_low_former"], row["score_high_former"]),
        number(row["change"]) if not pd.isna(row["change"]) else "–",
    ]
    name = "base craft (0)" if row["design"] == 0 else str(row["design"])
    return Both(name, design_page(now, row["design"]), row["group"], cells)


def _place(place: Any) -> str:
    return "–" if pd.isna(place) else str(int(place))

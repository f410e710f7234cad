"""The same campaign before and after a change: what differs, and what that did to the designs that both have."""

from __future__ import annotations

from collections.abc import Hashable
from typing import TYPE_CHECKING, Any

import pandas as pd

from sweep.content import differences
from sweep.shown import group
from sweep.wording import called, count, interval, number, ranked

if TYPE_CHECKING:
    from sweep.store import Results

MOST_LISTED, MOST_CHANGES = 20, 20


def shared(now: Results, former: Results) -> pd.DataFrame:
    """Designs of the same factor values in both, best now first.

    Columns: design, place, score, score_low, score_high, group, and the same with `_former`; change: the score less the former.
    The base craft stands for itself, whatever changed in it.
    """
    labels = [label for label in now.campaign.factors if label in former.designs]
    tables = []
    for results in (now, former):
        keys = [_key(int(str(design)), row) for design, row in zip(results.designs.index, _rows(results, labels), strict=True)]
        numbered = results.standings.assign(group=group(results.standings))
        kept = numbered[["design", "place", "score", "score_low", "score_high", "group"]]
        tables.append(kept.assign(key=kept["design"].map(dict(zip(results.designs.index, keys, strict=True)))))
    both = tables[0].merge(tables[1].drop_duplicates("key"), on="key", suffixes=("", "_former")).drop(columns="key")
    return both.assign(change=both["score"] - both["score_former"]).sort_values(["place", "design"]).reset_index(drop=True)


def _rows(results: Results, labels: list[str]) -> list[tuple[Hashable, ...]]:
    return list(results.designs[labels].itertuples(index=False, name=None))


def _key(design: int, values: tuple[Any, ...]) -> str:
    if design == 0:
        return "base craft"
    return "|".join(f"{value:.9g}" if isinstance(value, float) else str(value) for value in values)


def sentences(now: Results, former: Results, both: pd.DataFrame) -> list[str]:
    """Who led and who leads, and whether the field gained."""
    said = [f"{_leads(now, 'leads now')}; {_leads(former, 'led before')}."]
    if now.campaign.score != former.campaign.score:
        return [*said, "The two are scored differently, so their scores cannot be compared."]
    if both.empty:
        return [*said, "No design has the same factors in both."]
    better, middle = int((both["change"] < 0.0).sum()), float(both["change"].median())
    said.append(
        f"Of {count(len(both), 'design', 'designs')} in both, {better} score better than before; in the middle the score "
        f"{'fell' if middle <= 0.0 else 'rose'} by {number(abs(middle))}, and less is better."
    )
    if now.campaign.flight.seed != former.campaign.flight.seed or list(now.conditions["name"]) != list(
        former.conditions["name"]
    ):
        said.append("The two did not meet the same waves: part of the difference is theirs.")
    return said


def _leads(results: Results, verb: str) -> str:
    order = ranked(results.standings)
    if order.empty:
        return f"no design {verb}"
    best = order.iloc[0]
    return f"{called(int(best['design']))} {verb} with {number(best['score'])}{interval(best['score_low'], best['score_high'])}"


def changes(now: Results, former: Results) -> list[str]:
    """What differs between the two campaigns, line by line."""
    found = list(differences(former.manifest.get("content", {}), now.manifest.get("content", {})))
    more = [f"and {len(found) - MOST_CHANGES} more"] if len(found) > MOST_CHANGES else []
    return [*found[:MOST_CHANGES], *more]


def tables(now: Results, former: Results) -> dict[str, Any]:
    """What the page sets out."""
    both, comparable = shared(now, former), now.campaign.score == former.campaign.score
    rows = [
        {
            "name": "base craft (0)" if row["design"] == 0 else str(row["design"]),
            "page": f"design-{row['design']}.html" if row["design"] in now.leaders else "",
            "group": row["group"],
            "cells": [
                _place(row["place"]),
                number(row["score"]) + interval(row["score_low"], row["score_high"]),
                str(row["design_former"]),
                _place(row["place_former"]),
                number(row["score_former"]) + interval(row["score_low_former"], row["score_high_former"]),
                number(row["change"]) if comparable else "–",
            ],
        }
        for row in both.head(MOST_LISTED).to_dict("records")
    ]
    headings = ["place now", "score now", "design before", "place before", "score before", "change"]
    return {
        "sentences": sentences(now, former, both),
        "changes": changes(now, former),
        "headings": headings,
        "rows": rows,
        "former": former.campaign.title,
        "note": f"The first {len(rows)} of {len(both)} designs in both." if len(both) > len(rows) else "",
    }


def _place(place: Any) -> str:
    return "–" if pd.isna(place) else str(int(place))

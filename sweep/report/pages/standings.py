"""The standings page: who leads, by how much, what the score is made of, who was refused."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import pandas as pd

from sweep.campaign.designs import significant
from sweep.insight.intervals import CONFIDENCE_SAID
from sweep.insight.limits import POOLED, in_words
from sweep.insight.ranking import certain, ranked
from sweep.insight.scores import CAP
from sweep.model.quantities import RESPONSE
from sweep.report.charts.standings import GROUPS
from sweep.report.display import Column
from sweep.words.numbers import count, grouped, interval, number, pretty, spelled
from sweep.words.responses import response, response_title

if TYPE_CHECKING:
    from sweep.results.store import Results

MOST_LEADERS = 20  # drawn: judgement
MOST_LISTED = 6  # rows: judgement
MOST_REASONS = 50  # rows: judgement

STANDING_COLUMNS = (
    Column("place", "place", "", "standing"),
    Column("design", "design", "", "standing"),
    Column("score", "score", "", "standing", decimals=2),
    Column("gain", "gain", "", "standing", decimals=2),
    Column("group", "standing", "", "standing", word=True),
)
CLOSING_COLUMNS = (
    Column("failed", "failed flights", "%", "standing", decimals=1),
    Column("reason", "remarks", "", "standing", word=True),
)
MAIN = ("place", "design", "score", "gain", "group", "mass", "price")


def heading(column: Column) -> dict[str, Any]:
    """A column as a page's script wants it."""
    return {
        "key": column.key,
        "title": column.title,
        "unit": pretty(column.unit),
        "role": column.role,
        "word": column.word,
        "decimals": column.decimals,
        "main": column.key in MAIN,
        "between": column.key in ("score", "gain"),
    }


def leading(results: Results, table: pd.DataFrame) -> pd.DataFrame:
    """Rows of the score chart: the first designs that broke no limit, and the base craft wherever it stands."""
    first = table[table["design"].isin(ranked(results.standings)["design"].head(MOST_LEADERS))]
    rows = pd.concat([first, table[(table["design"] == 0) & ~table["design"].isin(first["design"])]])
    chosen = rows[["design", "label", "score", "score_low", "score_high", "gain", "page"]].copy()
    chosen["group"] = [word if word in GROUPS else GROUPS[1] for word in rows["group"]]
    return chosen.reset_index(drop=True)


def tables(results: Results, columns: Sequence[Column], table: pd.DataFrame, leaders: pd.DataFrame) -> dict[str, Any]:
    """What the standings page sets out beside its chart and its long table."""
    costs = [column for column in columns if column.role == "cost"]
    factors = [column for column in columns if column.role == "factor"]
    listed = leaders[(leaders.index < MOST_LISTED) | (leaders["design"] == 0)]
    rows = table.set_index("design").loc[listed["design"]]
    broken = table[table["verdict"] == "broken"]
    return {
        "leaders": [
            _leader(row, leader, costs + factors)
            for (_, row), (_, leader) in zip(rows.iterrows(), listed.iterrows(), strict=True)
        ],
        "leader_headings": [
            ("score", "number"),
            ("gain over the base craft", "number"),
            *((column.heading, side(column)) for column in costs + factors),
        ],
        "leaders_caption": "The first designs and the base craft: score, gain, cost, and the choice, as the campaign names it",
        "score_note": _score_note(results, leaders),
        "score_sentence": score_sentence(results),
        "weights": [_weight(name, weight) for name, weight in results.campaign.score.items()],
        "limits": [_limit(results, name) for name in results.campaign.limits],
        "refused": broken.head(MOST_REASONS).to_dict("records"),
        "refused_summary": _refused_summary(len(broken)),
        "filter_example": _filter_example(table),
    }


def side(column: Column) -> str:
    """The style of a column's cells."""
    return "word" if column.word else "number"


def _leader(row: pd.Series, leader: pd.Series, columns: Sequence[Column]) -> dict[str, Any]:
    gain = number(row["gain"]) + interval(row["gain_low"], row["gain_high"])
    cells = [number(row["score"]) + interval(row["score_low"], row["score_high"]), "–" if leader["design"] == 0 else gain]
    cells += [cell(row[column.key], column) for column in columns]
    name = "base craft (0)" if leader["design"] == 0 else leader["label"]
    return {"name": name, "page": leader["page"], "group": leader["group"], "cells": cells}


def cell(value: Any, column: Column) -> str:
    """A value of a column as text, without its unit."""
    return str(value).replace("-", " ") if column.word else number(float(value), 4)


def _score_note(results: Results, leaders: pd.DataFrame) -> str:
    total = len(ranked(results.standings))
    first = f"The first {len(leaders)} of {total}. " if total > len(leaders) else ""
    if not certain(results.standings):
        return f"{first}One replicate in each condition: no interval can be given."
    return (
        f"{first}A line is the {CONFIDENCE_SAID} interval of a design's own score. Designs are level with the best by "
        "comparing flights "
        "in the same waves, which tells more than whether two lines overlap; all are compared at once, so that it takes more "
        "to be surely worse than a gain over the base craft alone would."
    )


def score_sentence(results: Results) -> str:
    """How a score comes about."""
    flown = results.standings["flights"]
    flights = int(flown.max()) if len(flown) else results.campaign.replicates * len(results.conditions)
    most, most_points = "up to " if results.campaign.budget else "", spelled(round(CAP))
    return (
        f"The score is the mean over {count(len(results.conditions), 'condition', 'conditions')} "
        f"({most}{count(flights, 'flight', 'flights')} of each design) of the points below, by their weights. Nothing gives "
        f"more than {most_points} points, and time that an early end took away gives {most_points}. Less is better."
    )


def _weight(name: str, weight: Any) -> tuple[Any, ...]:
    return (response_title(name), RESPONSE[name].meaning), number(weight.weight), response(name, weight.scale)


def _limit(results: Results, name: str) -> tuple[Any, ...]:
    rows = results.limits
    verdicts = rows.loc[(rows["condition"] == POOLED) & (rows["response"] == name), "verdict"].astype(str)
    of = " of flights" if RESPONSE[name].unit == "count" else ""
    title = f"{response_title(name)}: at most {in_words(name, results.campaign.limits[name].value)}{of}"
    return (title, RESPONSE[name].meaning), *(int((verdicts == word).sum()) for word in ("kept", "not yet known", "broken"))


def _refused_summary(broken: int) -> str:
    if broken > MOST_REASONS:
        return f"The first {MOST_REASONS} of {broken} refused designs, each with its reason"
    return f"{count(broken, 'refused design', 'refused designs')}, each with its reason".capitalize()


def _filter_example(table: pd.DataFrame) -> str:
    return f"level mass<{number(float(table['mass'].median()))}" if "mass" in table else "level with the best"


def table_note(shown: int, total: int) -> str:
    """What the long table holds."""
    if shown == total:
        return f"{grouped(total)} designs."
    return f"The first {grouped(shown)} of {grouped(total)} designs; the file holds all."


def limit_rows(results: Results) -> pd.DataFrame:
    """Every design's verdict on every limit, over all conditions together, in shown units."""
    rows = results.limits[results.limits["condition"] == POOLED]
    table = pd.DataFrame({"design": rows["design"], "response": rows["response"].astype(str)})
    shares = {name: RESPONSE[name].unit == "count" for name in results.campaign.limits}
    table["unit"] = table["response"].map(lambda name: "% of flights" if shares[name] else RESPONSE[name].unit)
    table["verdict"] = rows["verdict"].astype(str)
    scale = table["response"].map(lambda name: 100.0 if shares[name] else RESPONSE[name].scale).astype(float)
    for name in ("value", "low", "high"):
        table[name] = significant(rows[name] * scale)
    return table.assign(more_flights=rows["more_flights"])

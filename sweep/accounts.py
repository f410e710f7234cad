"""What the pages say: the tables and sentences that their templates set out, as plain text and numbers."""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import pandas as pd

from sweep.charts.standings import GROUPS
from sweep.limits import POOLED, in_words
from sweep.model.quantities import RESPONSE, STATUS_SENTENCES
from sweep.shown import Column, condition_table, judged_responses, response_column, shown_factor, significant
from sweep.wording import certain, count, grouped, interval, number, pretty, ranked, response, response_title, with_unit

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.store import Results

MOST_LEADERS = 20
MOST_LISTED = 6
MOST_REASONS = 50

STANDING_COLUMNS = (
    Column("place", "place", "", "standing"),
    Column("design", "design", "", "standing"),
    Column("score", "score", "", "standing", decimals=2),
    Column("gain", "gain", "", "standing", decimals=2),
    Column("group", "standing", "", "standing", word=True),
)
CLOSING_COLUMNS = (
    Column("failed", "failed flights", "%", "standing", decimals=1),
    Column("reason", "limits", "", "standing", word=True),
)
MAIN = ("place", "design", "score", "gain", "group", "mass", "price")


def footer(manifest: Mapping[str, Any]) -> list[str]:
    """Version and date for the foot of a page."""
    return [line for line in (_version(manifest), _date(manifest)) if line]


def _version(manifest: Mapping[str, Any]) -> str:
    version = manifest.get("versions", {}).get("foilsweep")
    return f"Foilsweep {version}" if version else ""


def _date(manifest: Mapping[str, Any]) -> str:
    """The day of the run: that of its end, or of its begin if it has not ended."""
    return str(manifest.get("finished") or manifest.get("started") or "")[:10]


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


def standings(results: Results, columns: Sequence[Column], table: pd.DataFrame, leaders: pd.DataFrame) -> dict[str, Any]:
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
        "leaders_caption": "The first designs and the base craft: score, gain, cost, and what was chosen",
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
        f"{first}A line is the 95 % interval of a design's own score. Designs are level with the best by comparing flights "
        "in the same waves, which tells more than whether two lines overlap."
    )


def score_sentence(results: Results) -> str:
    """How a score comes about."""
    flights = results.campaign.replicates * len(results.conditions)
    return (
        f"The score is the mean over {count(len(results.conditions), 'condition', 'conditions')} "
        f"({count(flights, 'flight', 'flights')} of each design) of the responses below, each divided by what counts as "
        "one, weighted, and held at ten. Time that an early end took away counts as ten. Less is better."
    )


def _weight(name: str, weight: Any) -> dict[str, str]:
    return {
        "title": response_title(name),
        "meaning": RESPONSE[name].meaning,
        "weight": number(weight.weight),
        "scale": response(name, weight.scale),
    }


def _limit(results: Results, name: str) -> dict[str, Any]:
    rows = results.limits
    verdicts = rows.loc[(rows["condition"] == POOLED) & (rows["response"] == name), "verdict"].astype(str)
    of = " of flights" if RESPONSE[name].unit == "count" else ""
    title = f"{response_title(name)}: at most {in_words(name, results.campaign.limits[name].value)}{of}"
    words = {"kept": "kept", "unknown": "not yet known", "broken": "broken"}
    return {"title": title, **{key: int((verdicts == word).sum()) for key, word in words.items()}}


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


def sample_note(shown: int, total: int) -> str:
    """What the linked views hold."""
    if shown == total:
        return ""
    return (
        f"{grouped(shown)} of {grouped(total)} designs are drawn: evenly over the standings, "
        "with the base craft and every design that has a page."
    )


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


def strongest_factor(table: pd.DataFrame, columns: Sequence[Column]) -> tuple[Column, float] | None:
    """The factor of numbers whose order goes most plainly with that of the scores, and Spearman's rank correlation."""
    factors = [column for column in columns if column.role == "factor" and not column.word]
    links = {column: float(table[column.key].corr(table["score"], method="spearman")) for column in factors}
    known = [column for column in factors if math.isfinite(links[column])]
    strongest = max(known, key=lambda column: abs(links[column]), default=None)
    return (strongest, links[strongest]) if strongest else None


def first_axes(table: pd.DataFrame, columns: Sequence[Column]) -> tuple[Column, Column]:
    """What the scatter shows first: the strongest factor across, the score up."""
    strongest = strongest_factor(table, columns)
    up = next((column for column in columns if column.key == "score"), columns[-1])
    return strongest[0] if strongest else columns[0], up


def explore_sentences(table: pd.DataFrame, columns: Sequence[Column]) -> list[str]:
    """How the scores spread, and which factor goes with them most plainly."""
    low, middle, high = (float(table["score"].quantile(share)) for share in (0.0, 0.5, 1.0))
    said = [f"Scores of {len(table)} designs run from {number(low)} to {number(high)}; half are under {number(middle)}."]
    if strongest := strongest_factor(table, columns):
        column, link = strongest
        way = "falls" if link < 0 else "rises"
        said.append(
            f"Of the factors, {column.title} goes with the score most plainly: the score {way} as it grows "
            f"(rank correlation {number(link, 2)})."
        )
    return said


def design_row(results: Results, design: int) -> pd.Series:
    """A design's row of the design table, by factor label."""
    return results.designs.loc[[design]].iloc[0]


def design_sentences(results: Results, design: int) -> list[str]:
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


def design(results: Results, design: int, by_condition: pd.DataFrame, history: pd.DataFrame) -> dict[str, Any]:
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


def against_base(results: Results, design: int, by_condition: pd.DataFrame) -> tuple[pd.DataFrame, tuple[str, ...]]:
    """Rows of the condition chart: this design, and the base craft unless it is the same."""
    parts = {("base craft" if design == 0 else f"design {design}"): by_condition}
    if design:
        parts["base craft"] = condition_table(results, 0)
    rows = [part[["name", "score"]].assign(who=who) for who, part in parts.items()]
    return pd.concat(rows, ignore_index=True), tuple(parts)


def how_sure(results: Results) -> dict[str, Any]:
    """The page of what the results rest on."""
    campaign, flights = results.campaign, results.flights
    rows = [
        ("designs", f"{len(results.designs)}"),
        ("conditions", f"{len(results.conditions)}"),
        ("replicates of each condition", f"{campaign.replicates}"),
        ("flights", f"{len(flights)}"),
        (
            "length of each, of which settling",
            f"{with_unit(campaign.flight.length, 's')}, {with_unit(campaign.flight.settle, 's')}",
        ),
    ]
    statuses = flights["status"].value_counts()
    rows += [(sentence, f"{int(statuses.get(code, 0))}") for code, sentence in enumerate(STATUS_SENTENCES)]
    replicates = count(campaign.replicates, "replicate", "replicates")
    conditions = count(len(results.conditions), "condition", "conditions")
    first = f"{grouped(len(flights))} flights in all: {replicates} of each design in each of {conditions}."
    doubt = [] if certain(results.standings) else ["One replicate gives an order, but no interval."]
    return {"sentences": [first, *doubt], "flights": rows, "made": _made(results), "files": _files(campaign)}


def _files(campaign: Campaign) -> list[dict[str, str]]:
    files = {"The campaign file": campaign.campaign_text, "The craft file": campaign.craft_text}
    return [{"title": title, "text": text} for title, text in files.items() if text]


def _made(results: Results) -> list[tuple[str, str]]:
    versions = [(str(name), str(version)) for name, version in results.manifest.get("versions", {}).items()]
    seeds = [("seed of the flights", str(results.campaign.flight.seed)), ("seed of the plan", str(results.campaign.plan.seed))]
    day = _date(results.manifest)
    return [*versions, *seeds, *([("date", day)] if day else [])]


def cautions(results: Results) -> dict[str, Any]:
    """What the cautions page takes from the results: the energy of the base craft at its fastest."""
    if "mass" not in results.designs or results.conditions.empty:
        return {"energy": ""}
    mass, speed = float(design_row(results, 0)["mass"]), float(results.conditions["speed"].max())
    joules = with_unit(0.5 * mass * speed**2, "J", 2)
    return {"energy": f"The base craft of this campaign at its fastest, {with_unit(speed, 'm/s')}, carries {joules}."}

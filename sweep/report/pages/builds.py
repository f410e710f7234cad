"""The page of builds, each at its own best settings: which boat, how wide its good settings are, what a mis-set gain costs."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import pandas as pd

from sweep.campaign.designs import shown_factor, significant
from sweep.insight.builds import GOOD_WITHIN, lay_builds
from sweep.insight.intervals import CONFIDENCE_SAID
from sweep.insight.ranking import certain
from sweep.report.charts.builds import setting_curves as curve
from sweep.report.charts.standings import score_intervals
from sweep.report.display import (
    OTHERS,
    REFUSED,
    UNKNOWN,
    Column,
    as_written,
    boat_name,
    build_group,
    costliest,
    design_page,
    factor_columns,
    said_factor,
)
from sweep.report.embed import Files, as_csv, as_spec, data_script
from sweep.report.headline import refused_for
from sweep.report.page import Chart, Made, Material
from sweep.words.numbers import interval, number, portion, with_unit

if TYPE_CHECKING:
    from markupsafe import Markup

    from sweep.results.store import Results

MOST_DRAWN = 20  # judgement, as the next two
MOST_LISTED = 8  # rows
MOST_CURVES = 4  # in one chart


class Build(NamedTuple):
    """A build in the table: the design that it is best as, that design's page if it has one, and its cells as text."""

    name: str
    design: int
    page: str
    group: str
    cells: list[str]


@dataclass(frozen=True)
class BuildTable:
    """The first builds, each at its own best settings.

    chart: their scores; curves: scores along each setting; settings: a line a build, of how wide its good settings are.
    """

    chart: Markup
    note: str
    summary: str
    headings: list[tuple[str, str]]
    rows: list[Build]
    curves: list[Chart]
    settings: list[str]


@dataclass(frozen=True)
class BuildsPage:
    """Which boat is the best at its own best settings, and how wide these are; table: None where no build can be judged."""

    sentences: list[str]
    table: BuildTable | None


def make(material: Material) -> Made:
    """The page, and what its charts and its CSV files hold."""
    results = material.results
    said = sentences(results)
    if results.builds.empty:
        return Made(BuildsPage(said, None), {})
    table, (factors, along) = build_table(results), setting_curves(results)
    return Made(BuildsPage(said, _build_table(results, table, factors, along)), _files(results, table, along))


def _files(results: Results, table: pd.DataFrame, along: pd.DataFrame) -> Files:
    written = as_written(results.campaign, results.designs, table)
    return {
        **data_script("builds", chart_table(table)),
        **data_script("settings", along),
        **as_csv("builds", written.drop(columns=["label", "page"]), csv_headings(results)),
        **as_csv("settings", setting_csv(results)),
    }


def sentences(results: Results) -> list[str]:
    """Which build leads, with what settings, and what they forgive."""
    builds = results.builds
    if builds.empty:
        return _none(results)
    ranked = builds[builds["place"].notna()]
    if ranked.empty:
        return ["Every build broke a limit at each of its settings: none can be recommended."]
    best = ranked.iloc[0].to_dict()
    return [_first(ranked, best), _gain(best, _why_base(results)), *_width(results, best), *_flattered(best)]


def _none(results: Results) -> list[str]:
    kinds = {factor.kind for factor in results.campaign.factors.values()}
    if "set" not in kinds:
        return [
            "Every factor of this campaign changes the boat itself, so each design is a build of its own, and the standings "
            "already compare builds. Add a gain or the ride height as a factor, and each build is compared at its own best."
        ]
    if lay_builds(results.campaign.factors, results.designs) is not None:
        return ["Too little was flown to judge each build at its own best settings."]
    return [
        "The plan gives most builds only one setting, so they cannot be compared each at its own best. Use a full "
        "factorial, or a list in which each boat comes with several gains."
    ]


def _first(ranked: pd.DataFrame, best: dict[Hashable, Any]) -> str:
    name = "The base craft as it stands" if best["build"] == 0 else f"Build {best['build']}, best as design {best['design']},"
    score = f"its score is {number(best['score'])}{interval(best['score_low'], best['score_high'])}, and less is better"
    field = f"{len(ranked)} builds" + ("" if len(ranked) == 1 else ", each at its own best settings")
    if not certain(ranked):
        return f"{name} comes first of {field}; {score}. One replicate cannot tell how sure that is."
    if int(ranked["may_be_best"].sum()) > 1:
        return f"{name} comes first of {field}; {score}."
    return f"{name} is the best of {field}; {score}."


def _why_base(results: Results) -> str:
    """Why the base craft has no place, where it has none."""
    standings = results.standings
    return refused_for("".join(map(str, standings.loc[standings["design"] == 0, "reason"])))


def _gain(best: dict[Hashable, Any], refused: str) -> str:
    """refused: why the base craft has no place, if it has none."""
    if best["build"] == 0 or not math.isfinite(best["gain"]):
        return "No build beats the boat as it stands."
    if best["gain"] < 0.0:  # the base craft broke a limit or a rule, or it would come first
        more = f"{number(-best['gain'])}{interval(-best['gain_high'], -best['gain_low'])}"
        return f"The base craft scores {more} better, but {refused}."
    sure = "" if not best["gain_low"] <= 0.0 else " Whether it is a gain at all is not certain."
    return f"It gains {number(best['gain'])}{interval(best['gain_low'], best['gain_high'])} over the base craft.{sure}"


def _width(results: Results, best: dict[Hashable, Any]) -> list[str]:
    """How many of its settings are good, and the gain that costs most to miss."""
    costly = costliest(results.settings)
    if best["build"] not in costly.index:
        return []
    row = costly.loc[best["build"]]
    setting = results.campaign.factors[str(row["factor"])].name
    near = portion(GOOD_WITHIN - 1.0)
    said = [f"{best['good']} of its {best['settings']} settings are good: within {near} of its best, and no limit broken."]
    cost = f"{number(row['cost'])}{interval(row['cost_low'], row['cost_high'])}"
    if row["cost_low"] > 0.0:
        said.append(f"Its most sensitive setting is {setting}: one step off costs {cost} of score.")
    else:
        said.append(f"None of its settings is surely sensitive; the costliest is {setting}: one step off costs {cost}.")
    return said


def _flattered(best: dict[Hashable, Any]) -> list[str]:
    gap = best["score"] - best["score_seen"]
    if best["build"] == 0 or not gap > 0.005 * abs(best["score"]):
        return []
    return [
        f"On the same flights that chose its setting it scores {number(best['score_seen'])}, which is too good. The score "
        "above avoids that: for each replicate the setting was chosen on the other replicates."
    ]


def build_table(results: Results) -> pd.DataFrame:
    """Builds as the page and its CSV have them, in shown units: place ..., factors by the key of their column, mass, price."""
    builds = results.builds
    chosen = results.designs.reindex(builds["design"]).reset_index(drop=True)
    table = builds.reset_index(drop=True).copy()
    table["label"] = [boat_name(row) for row in table.to_dict("records")]
    table["page"] = [design_page(results, design) for design in table["design"]]
    table["group"] = build_group(table, results.standings).to_numpy()
    for name in (f"{name}{end}" for name in ("score", "gain") for end in ("", "_low", "_high")):
        table[name] = significant(table[name].astype(float))
    table["score_seen"] = significant(table["score_seen"].astype(float))
    for label, column in factor_columns(results.campaign, results.designs).items():
        table[column.key] = said_factor(results.campaign.factors[label], chosen[label])
    for cost in ("mass", "price"):
        if cost in chosen:
            table[cost] = significant(chosen[cost])
    return table


def _build_table(results: Results, table: pd.DataFrame, factors: list[tuple[str, Column]], along: pd.DataFrame) -> BuildTable:
    """What the page sets out; factors, along: of `setting_curves`."""
    columns = factor_columns(results.campaign, results.designs)
    built = [column for label, column in columns.items() if results.campaign.factors[label].kind == "built"]
    costs = [(heading, name) for heading, name in (("mass, kg", "mass"), ("price", "price")) if name in table]
    listed = table[(table.index < MOST_LISTED) | (table["build"] == 0)].to_dict("records")
    keys = [*(name for _, name in costs), *(column.key for column in built)]
    shown = f" ({len(listed)} of {len(table)})" if len(listed) < len(table) else ""
    headings = ["score", "gain over the base craft", "good settings", *(heading for heading, _ in costs)]
    return BuildTable(
        chart=as_spec(score_intervals(chart_table(table), "build"), "builds"),
        note=_note(results),
        summary=f"The first builds and the base craft{shown}",
        headings=[*((heading, "") for heading in headings), *((column.heading, column.label) for column in built)],
        rows=[Build(row["label"], row["design"], row["page"], row["group"], _cells(row, keys)) for row in listed],
        curves=[_curve(results, label, column, along) for label, column in factors],
        settings=list(_settings(results, listed)),
    )


def _curve(results: Results, label: str, column: Column, along: pd.DataFrame) -> Chart:
    drawn = curve(along, column, results.campaign.factors[label].spacing == "log")
    return Chart(f"along-{column.key}", f"Score of the first builds along {column.title}", as_spec(drawn, "settings"))


def _settings(results: Results, listed: list[dict[Hashable, Any]]) -> Iterator[str]:
    """Of each listed build that was tried at several settings: how wide the good ones are."""
    stretches = dict(list(results.settings.groupby("build"))) if len(results.settings) else {}
    for row in listed:
        if (rows := stretches.get(row["build"])) is not None:
            yield f"{row['label'].capitalize()}: {'; '.join(_stretches(results, rows))}."


def _cells(row: Mapping[Hashable, Any], keys: list[str]) -> list[str]:
    """Score, gain, good settings, and what stands under further columns of the build table."""
    gain = "–" if row["build"] == 0 else number(row["gain"]) + interval(row["gain_low"], row["gain_high"])
    good = "–" if row["build"] == 0 else f"{row['good']} of {row['settings']}"
    score = number(row["score"]) + interval(row["score_low"], row["score_high"])
    values = [row[name] for name in keys]
    return [score, gain, good, *(number(value, 4) if isinstance(value, float) else str(value) for value in values)]


def _stretches(results: Results, rows: pd.DataFrame) -> list[str]:
    """Of each set factor: its best value, the good stretch around it, what a step off costs."""
    said = []
    for row in rows.to_dict("records"):
        best, low, high = (_value(results, row["factor"], row[end]) for end in ("design", "good_from", "good_to"))
        reach = f"good from {low} to {high}" if low != high else "no neighbouring setting is good"
        cost = "" if not math.isfinite(row["cost"]) else f"; a step off costs {number(row['cost'])}"
        name = results.campaign.factors[row["factor"]].name
        said.append(f"{name} {best}: {reach}{cost}{interval(row['cost_low'], row['cost_high']) if cost else ''}")
    return said


def _value(results: Results, label: str, design: int) -> str:
    factor = results.campaign.factors[label]
    return with_unit(float(shown_factor(factor, results.designs.loc[[design], label]).iloc[0]), factor.unit)


def _note(results: Results) -> str:
    if results.campaign.replicates < 2:
        return (
            "One replicate: each setting is scored on the same flights that chose it, so scores are too good, "
            "and there is no interval."
        )
    unknowns = results.campaign.unknowns
    others = (
        "the others of the same draw of what is not known, as a builder tunes the boat that he has"
        if unknowns
        else ("the other replicate" if results.campaign.replicates == 2 else "the other replicates")
    )
    return (
        f"For each replicate the setting was chosen on {others}, so that the choice does not make scores too good. "
        f"A line is the {CONFIDENCE_SAID} interval of a build’s own score. Whether a build is good enough comes from comparing "
        "flights in the same waves. So a build with a wide interval may be good enough, while one with a better mean is not."
        f"{_further(results)}"
    )


def _further(results: Results) -> str:
    """Which flights builds are compared by, where leading designs flew more; else ''."""
    own = results.campaign.replicates * len(results.conditions)
    if not results.standings["flights"].max() > own:
        return ""
    return (
        f" Scores here are of the {own} flights that every design was to fly. Leading designs flew more: a build is good "
        "enough too where the design that it is best as is so in the standings, by all its flights."
    )


def setting_curves(results: Results) -> tuple[list[tuple[str, Column]], pd.DataFrame]:
    """Scores of the first builds along each set factor with an order, the other settings at the build's best.

    Returns label and column of the factors, and rows: factor (key of its column), build (its name), design, value (shown unit),
    score.
    """
    builds = results.builds[results.builds["build"] > 0].head(MOST_CURVES) if len(results.builds) else results.builds
    ordered = list(dict.fromkeys(results.settings["factor"])) if len(results.settings) else []
    columns = factor_columns(results.campaign, results.designs)
    scores = results.standings.set_index("design")["score"]
    parts = []
    for label in ordered:
        others = [other for other in results.campaign.factors if other != label]
        shown = shown_factor(results.campaign.factors[label], results.designs[label])
        for row in builds.to_dict("records"):
            best = results.designs.loc[row["design"]]
            along = results.designs.index[(results.designs[others] == best[others]).all(axis=1) & (results.designs.index > 0)]
            part = pd.DataFrame(
                {"design": along, "value": shown.loc[along].to_numpy(), "score": scores.reindex(along).to_numpy()}
            )
            parts.append(part.assign(factor=columns[label].key, build=boat_name(row)).sort_values("value"))
    table = (
        pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=["design", "value", "score", "factor", "build"])
    )
    table = table.assign(score=significant(table["score"].astype(float))).dropna(subset=["score"])
    there = set(table["factor"])
    return [(label, columns[label]) for label in ordered if columns[label].key in there], table


def chart_table(table: pd.DataFrame) -> pd.DataFrame:
    """Rows of the score chart: the first builds that broke no limit, and the base craft wherever it stands."""
    first = table["place"].notna() & (table.index < MOST_DRAWN)
    rows = table.loc[first | (table["build"] == 0), ["label", "score", "score_low", "score_high", "group", "page"]]
    return rows.assign(group=rows["group"].replace([REFUSED, UNKNOWN], OTHERS)).reset_index(drop=True)


def csv_headings(results: Results) -> dict[str, str]:
    """Readable headings of the table as CSV."""
    columns = {column.key: column.csv_heading for column in factor_columns(results.campaign, results.designs).values()}
    return {**columns, "mass": "mass, kg", "settings": "settings tried", "good": "good settings"}


def setting_csv(results: Results) -> pd.DataFrame:
    """Each build's settings for CSV: best value, good stretch and cost of a step off, in the campaign file's units."""
    rows = results.settings
    table = rows[["build", "factor", "design"]].assign(unit=[results.campaign.factors[label].unit for label in rows["factor"]])
    for name, end in (("best", "design"), ("good_from", "good_from"), ("good_to", "good_to")):
        table[name] = _values_at(results, rows, end)
    return table.assign(**{name: significant(rows[name].astype(float)) for name in ("cost", "cost_low", "cost_high")})


def _values_at(results: Results, rows: pd.DataFrame, end: str) -> list[float]:
    shown = {
        label: shown_factor(results.campaign.factors[label], results.designs[label]) for label in dict.fromkeys(rows["factor"])
    }
    return [float(shown[label].loc[design]) for label, design in zip(rows["factor"], rows[end], strict=True)]

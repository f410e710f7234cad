"""The standings page: who leads, by how much, what the score is made of, who was refused."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, NamedTuple

import pandas as pd

from sweep.campaign.conditions import season_shares
from sweep.campaign.designs import significant
from sweep.campaign.plan import Search
from sweep.campaign.rule_text import SAME
from sweep.campaign.scoring import COST_UNITS, COSTS
from sweep.insight.intervals import CONFIDENCE_SAID
from sweep.insight.limits import POOLED, in_words
from sweep.insight.ranking import certain, ranked
from sweep.insight.scores import CAP
from sweep.model.quantities import RESPONSE
from sweep.report.charts.standings import GROUPS, score_intervals
from sweep.report.display import Column, as_written, good_within
from sweep.report.embed import Files, as_csv, as_json, as_spec, data_script
from sweep.report.headline import result
from sweep.report.page import Made, Material
from sweep.report.pages.brief import Brief, brief_of
from sweep.report.pages.choosing import Choosing, choosing_of, everyone
from sweep.report.pages.doubts import with_counters
from sweep.report.pages.outings import NO_PROMISE, flights_words, share_of
from sweep.report.pages.race import Race, race_of
from sweep.report.pages.search import Rounds
from sweep.words.numbers import count, grouped, interval, number, pretty, spelled, with_unit
from sweep.words.responses import response, response_title

if TYPE_CHECKING:
    from markupsafe import Markup

    from sweep.campaign.campaign import Campaign
    from sweep.campaign.scoring import Weight
    from sweep.results.store import Results

MOST_IN_TABLE = 2_000  # rows that a page's table takes: judgement
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


class ScriptColumn(NamedTuple):
    """A column as a page's script wants it; main: shown at first; between: its value has a lowest and a highest; label: of a
    factor, as the campaign has it."""

    key: str
    title: str
    unit: str
    role: str
    word: bool
    decimals: int
    main: bool
    between: bool
    label: str


class Heading(NamedTuple):
    """A column's heading, whether it holds words or numbers, and the address of a factor."""

    text: str
    side: str
    address: str = ""


class Leader(NamedTuple):
    """A leading design: its page if it has one, and its cells as text."""

    name: str
    page: str
    group: str
    cells: list[str]


class Refused(NamedTuple):
    """A refused design, its page if it has one, and why it was refused."""

    design: int
    page: str
    reason: str


Meant = tuple[str, str]
"""A name, and what it means."""


@dataclass(frozen=True)
class StandingsPage:
    """Who leads, by how much and how surely; what the score is made of; who was refused; and the table of all designs.

    first: the design that comes first, if it has a page; columns, columns_json: those of the table of all designs, for the
    page and for its script; limits_note: on which flights limits are judged.
    """

    brief: Brief
    choosing: Choosing | None
    data: list[str]
    sentences: list[str]
    first: int | None
    score_chart: Markup | str
    score_note: str
    leaders_caption: str
    leader_headings: list[Heading]
    leaders: list[Leader]
    race: Race | Rounds | None
    score_sentence: str
    weights: list[tuple[Meant, str, str]]
    limits: list[tuple[Meant, int, int, int]]
    limits_note: str
    refused: list[Refused]
    refused_summary: str
    filter_example: str
    columns: list[ScriptColumn]
    columns_json: Markup
    table_note: str


def make(material: Material) -> Made:
    """The page, and what its chart, its table and its CSV files hold."""
    results = material.results
    leaders = leading(results, material.table)
    counters, table = with_counters(results, material.table)
    columns = [*material.columns, *counters]
    rows = table.head(MOST_IN_TABLE)
    headings = {column.key: column.csv_heading for column in columns}
    written = as_written(results.campaign, results.designs, table)
    choosing, strokes = choosing_of(columns, table, unlike=_flown_unlike(results))
    counted = everyone(columns, table)
    drawn = {**({"choices": strokes} if choosing else {}), **({"everyone": counted} if len(counted) else {})}
    files: Files = {
        **data_script("leaders", leaders),
        **data_script("designs", rows.drop(columns=["label", "spread"])),
        **as_csv("leaders", leaders.drop(columns=["page"])),
        **as_csv("designs", written.drop(columns=["label", "page", "spread"]), headings),
        **as_csv("limits", limit_rows(results)),
    }
    for name, held in drawn.items():
        files |= data_script(name, held)
    page = standings_page(results, columns, table, leaders)
    return Made(replace(page, choosing=choosing, data=[*page.data, *drawn]), files)


def standings_page(results: Results, columns: Sequence[Column], table: pd.DataFrame, leaders: pd.DataFrame) -> StandingsPage:
    """The page without its chart of choices; columns, table: of all designs, with the counters; leaders: of `leading`."""
    chosen = [column for role in ("cost", "factor") for column in columns if column.role == role]
    listed = leaders[(leaders.index < MOST_LISTED) | (leaders["design"] == 0)]
    rows = table.set_index("design").loc[listed["design"]]
    pairs = zip(rows.iterrows(), listed.iterrows(), strict=True)
    broken = table[table["verdict"] == "broken"]
    between = [column for column in columns if column.key != "score"]
    shown = [script_column(column) for column in (*STANDING_COLUMNS, *between, *CLOSING_COLUMNS)]
    return StandingsPage(
        brief=brief_of(results),
        choosing=None,
        data=["leaders", "designs"],
        sentences=result(results),
        first=first_page(results),
        score_chart=as_spec(score_intervals(leaders), "leaders") if len(leaders) else "",
        score_note=_score_note(results, leaders),
        leaders_caption="The first designs and the base craft: score, gain, cost, and the choice",
        leader_headings=[
            Heading("score", "number"),
            Heading("gain over the base craft", "number"),
            Heading("clean outings", "number"),
            *(Heading(column.heading, side(column), column.label) for column in chosen),
        ],
        leaders=[_leader(results, row, leader, chosen) for (_, row), (_, leader) in pairs],
        race=race_of(results),
        score_sentence=score_sentence(results),
        weights=[
            *(_weight(name, weight) for name, weight in results.campaign.score.items()),
            *(_cost_weight(name, weight) for name, weight in results.campaign.cost_weights.items()),
        ],
        limits=[
            *(_limit(results, name) for name in results.campaign.limits),
            *(_cost_limit(results, name) for name in results.campaign.cost_limits),
        ],
        limits_note=f"Judged on {flights_words(results.campaign)}. {NO_PROMISE} Clean outings are counted by themselves.",
        refused=[_refused(row) for row in broken.head(MOST_REASONS).to_dict("records")],
        refused_summary=_refused_summary(len(broken)),
        filter_example=_filter_example(table),
        columns=shown,
        columns_json=as_json([column._asdict() for column in shown]),
        table_note=f"{table_note(min(len(table), MOST_IN_TABLE), len(table))}{_meant(results)}",
    )


def first_page(results: Results) -> int | None:
    """The design that comes first, if it has a page."""
    order = ranked(results.standings)["design"].head(1)
    return next((int(design) for design in order if design in results.leaders), None)


def script_column(column: Column) -> ScriptColumn:
    """A column for a page's script."""
    return ScriptColumn(
        column.key,
        column.title,
        pretty(column.unit),
        column.role,
        column.word,
        column.decimals,
        main=column.key in MAIN,
        between=column.key in ("score", "gain"),
        label=column.label,
    )


def leading(results: Results, table: pd.DataFrame) -> pd.DataFrame:
    """Rows of the score chart: the first designs, the first of those good enough, and the base craft wherever it stands."""
    order = ranked(results.standings)
    good = order.loc[order["good_enough"].astype(bool), "design"].head(MOST_LEADERS)
    first = table[table["design"].isin({*order["design"].head(MOST_LEADERS), *good})]
    rows = pd.concat([first, table[(table["design"] == 0) & ~table["design"].isin(first["design"])]])
    chosen = rows[["design", "label", "score", "score_low", "score_high", "gain", "page"]].copy()
    chosen["group"] = [word if word in GROUPS else GROUPS[1] for word in rows["group"]]
    return chosen.reset_index(drop=True)


def side(column: Column) -> str:
    """The style of a column's cells."""
    return "word" if column.word else "number"


def _leader(results: Results, row: pd.Series, leader: pd.Series, columns: Sequence[Column]) -> Leader:
    gain = number(row["gain"]) + interval(row["gain_low"], row["gain_high"])
    cells = [number(row["score"]) + interval(row["score_low"], row["score_high"]), "–" if leader["design"] == 0 else gain]
    cells += [share_of(results, int(leader["design"])), *(cell(row[column.key], column) for column in columns)]
    name = "base craft (0)" if leader["design"] == 0 else leader["label"]
    return Leader(name, leader["page"], leader["group"], cells)


def _refused(row: Mapping[Hashable, Any]) -> Refused:
    return Refused(row["design"], row["page"], row["reason"] or "broke a limit")


def cell(value: Any, column: Column) -> str:
    """A value of a column as text, without its unit."""
    return str(value) if column.word else number(float(value), 4)


def _score_note(results: Results, leaders: pd.DataFrame) -> str:
    order = ranked(results.standings)
    total, good = len(order), order["good_enough"].astype(bool)
    first = (
        f"{len(leaders)} of {total}: the first, the first of those good enough, and the base craft. "
        if total > len(leaders)
        else ""
    )
    if good.any() and (order.loc[good, "design"] == 0).any():
        first += "The base craft is good enough too. "
    if not certain(results.standings):
        return f"{first}One replicate in each condition: no interval can be given."
    return (
        f"{first}A line is the {CONFIDENCE_SAID} interval of a design's own score.{_meant(results)} Designs are good enough by "
        "comparing flights in the same waves with every design that may be the best, which tells more than whether two lines "
        "overlap. All are compared at once, so that it takes more to be surely within a share of the best than for one alone."
    )


def _meant(results: Results) -> str:
    """What good enough means here, in a sentence."""
    return f" Good enough here is surely {meant}." if (meant := good_within(results.standings)) else ""


def score_sentence(results: Results) -> str:
    """How a score comes about."""
    flown = results.standings["flights"]
    flights = int(flown.max()) if len(flown) else results.campaign.replicates * len(results.conditions)
    most, most_points = "up to " if _flown_unlike(results) else "", spelled(round(CAP))
    stops = any(leg.stop for course in results.campaign.courses for leg in course.legs)
    told = " A stop that a course tells is left out." if stops else ""
    return (
        f"The score is the mean over {count(len(results.conditions), 'condition', 'conditions')} "
        f"({most}{count(flights, 'flight', 'flights')} of each design) of the points below, by their weights. Nothing gives "
        f"more than {most_points} points, and time that an early end took away gives {most_points}.{told} Less is better."
        f"{season_sentence(results.campaign)}"
    )


def season_sentence(campaign: Campaign) -> str:
    """How often each sea, heading and fault occurs, in a sentence; '' where all conditions count alike."""
    said = season_shares(campaign)
    return f" Each condition counts as often as it occurs in this season: {'; '.join(said)}." if said else ""


def _flown_unlike(results: Results) -> bool:
    """Whether some designs flew less than others, as in a race and a search, and where leading designs flew on."""
    unlike = results.standings["flights"].nunique() > 1
    return bool(unlike or results.campaign.budget or isinstance(results.campaign.plan, Search))


def _weight(name: str, weight: Any) -> tuple[Meant, str, str]:
    return (response_title(name), RESPONSE[name].meaning), number(weight.weight), response(name, weight.scale)


def _cost_weight(name: str, weight: Weight) -> tuple[Meant, str, str]:
    return (name, COSTS[name][1]), number(weight.weight), with_unit(weight.scale, COST_UNITS[name], 4)


def _cost_limit(results: Results, name: str) -> tuple[Meant, int, int, int]:
    """A limit of mass or price, and how many designs keep and break it."""
    most, values = results.campaign.cost_limits[name], whole_costs(results, name)
    over = int((values > most * (1.0 + SAME)).sum())
    return (f"{name}: at most {with_unit(most, COST_UNITS[name], 4)}", COSTS[name][1]), len(values) - over, 0, over


def whole_costs(results: Results, name: str) -> pd.Series:
    """Mass (kg) or price of each design; nothing costs anything where the craft has no prices."""
    designs = results.designs
    return designs[name] if name in designs else pd.Series(0.0, index=designs.index)


def _limit(results: Results, name: str) -> tuple[Meant, int, int, int]:
    """A limit, and how many designs keep it, may keep it and broke it."""
    rows = results.limits
    verdicts = rows.loc[(rows["condition"] == POOLED) & (rows["response"] == name), "verdict"].astype(str)
    of = " of flights" if RESPONSE[name].unit == "count" else ""
    title = f"{response_title(name)}: at most {in_words(name, results.campaign.limits[name].value)}{of}"
    kept, unknown, broken = (int((verdicts == word).sum()) for word in ("kept", "not yet known", "broken"))
    return (title, RESPONSE[name].meaning), kept, unknown, broken


def _refused_summary(broken: int) -> str:
    if broken > MOST_REASONS:
        return f"The first {MOST_REASONS} of {broken} refused designs, each with its reason"
    return f"{count(broken, 'refused design', 'refused designs')}, each with its reason".capitalize()


def _filter_example(table: pd.DataFrame) -> str:
    return f"good mass<{number(float(table['mass'].median()))}" if "mass" in table else "good enough"


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

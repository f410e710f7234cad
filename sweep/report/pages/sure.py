"""The page of what the results rest on: flights, statistics, warnings, checks, versions, files."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import pandas as pd

from sweep.campaign.plan import Search
from sweep.checks.check_list import Check, Scope, list_checks, list_scope, worst_of_each
from sweep.insight.intervals import CONFIDENCE_SAID
from sweep.insight.ranking import certain, ranked
from sweep.insight.scores import Scoring
from sweep.linear.reach import FEW_WAVES
from sweep.model.quantities import CODE_FAILED, STATUS_NAMES, STATUS_SENTENCES, STOPPED
from sweep.report.craft_sheet import Rows
from sweep.report.display import condition_names
from sweep.report.embed import as_csv
from sweep.report.headline import against_base, outside
from sweep.report.page import Made, Material
from sweep.report.pages.again import Again, CampaignFile, again_of, files_of, texts_of
from sweep.report.pages.evidence import Study, met_of_measured, studies
from sweep.report.pages.frame import day
from sweep.report.pages.race import lost_words
from sweep.report.pages.ranges import KnownRange, of_all
from sweep.report.unknown_words import draws_of, hanging_sentences, ranges
from sweep.words.numbers import count, grouped, number, pretty, with_unit
from sweep.words.phrases import called, listed
from sweep.words.responses import response, response_title

if TYPE_CHECKING:
    from sweep.results.store import Results

COUNTERS = {
    "rangefinder_faults": "drop-outs and spikes of the rangefinders; the craft file says how often",
    "blind_readings": "the water was closer than a rangefinder can see, and the boat thought itself higher than it was",
    "refused_readings": "the gate took a jump of the water for a fault; too many mean that it is set too narrow",
    "servo_at_limit": "a foil stood at the end of its travel: it could do no more, whatever the gains",
}
STATUSES = {
    "no-trim": "No balance of foils and thrust was found at that speed. Such flights count as the worst, and break every "
    "limit.",
    "aground": "There the water is no deeper than the boat reaches down: it needs more water, or shorter struts. Such flights "
    "count with the upsets.",
    "not-a-number": "The motion left what the model can follow. Such flights count as the worst; if they are many, do not "
    "trust their neighbours either.",
    **dict.fromkeys(
        (STATUS_NAMES[status] for status in CODE_FAILED),
        "The builder's own code failed there, and nothing flew on. Such flights count as the worst, and break every limit; "
        "'foilsweep fly' with such a design and condition says at which tick, and why.",
    ),
}
STATUSES |= dict.fromkeys(
    (STATUS_NAMES[status] for status in STOPPED),
    "At the end of such flights the boat's own code kept it still, and it lay in the water. They count as failed. A lost link "
    "and an open arming switch are planned; a rangefinder may also fall silent by itself.",
)
MOST_NAMED = 12
"""Designs that may be the best which are named one by one (judgement)."""
UNCHECKED = (
    "No experiment has checked the ride in waves, by which designs are ordered. A second model agrees, but it is by the same "
    "hands and equations: no outside check."
)
METHOD = (
    "A score's interval is Student's, over the replicates within each condition, with Satterthwaite's degrees of freedom, and "
    "no narrower than what failures that have not shown may add, by their counts. Designs are compared on differences in the "
    "same block, whose variances learn from each other, with each design that may be the best, and with Bonferroni's bound on "
    "the joint risk. Failures that few flights may hide widen what is promised, by the design's own counts and those of the "
    "twenty that ride most like it, if any flight failed at all; who may be the best is told without. Flights are looked at "
    "once, at the end; where leading designs flew on, again and again, and each look takes its share of the risk. "
    f"Events have exact Poisson bounds, shares of flights exact binomial ones. All hold with {CONFIDENCE_SAID} confidence."
)
BY_DRAW = (
    "Where something of the boat is not known, all flights of a draw are by one boat, and are alike: draws are then the "
    "independent units. A draw counts by its mean over conditions and replicates, and counts of events are divided by how much "
    "more they vary from draw to draw than chance alone would. What fails in few of the boats may have shown in none."
)


class Counted(NamedTuple):
    """A counter of trouble that is not zero: its mean, where it is worst, what it means."""

    name: str
    mean: str
    worst: str
    meaning: str


class CheckSaid(NamedTuple):
    """The row of a checked quantity that comes nearest to what is allowed, as text."""

    quantity: str
    place: str
    source: str
    reason: str
    published: str
    ours: str
    deviation: str
    tolerance: str
    kept: bool


class Topic(NamedTuple):
    """What is checked of a topic, and what is left, each with why."""

    topic: str
    checked: list[str]
    left: list[tuple[str, str]]


@dataclass(frozen=True)
class SurePage:
    """How sure the results are: what the intervals say, what to be wary of, what the model was checked against.

    scope: what is checked and what is not, by topic; made: versions, seeds and day; files: those of the campaign; again:
    how to fly it again.
    """

    sentences: list[str]
    statistics: Rows
    flights: Rows
    hanging: list[str]
    method: str
    warnings: list[str]
    counters: list[Counted]
    ranges: list[KnownRange]
    checks_summary: str
    checks: list[CheckSaid]
    scope: list[Topic]
    studies: list[Study]
    made: Rows
    files: list[CampaignFile]
    again: Again


def make(material: Material) -> Made:
    """The page, and every check as CSV."""
    return Made(sure_page(material.results), as_csv("checks", check_table()) | files_of(material.results))


def sure_page(results: Results) -> SurePage:
    """The page."""
    statuses, checked = results.column("status"), worst_of_each()
    return SurePage(
        sentences=_sentences(results, statuses, list_checks()),
        statistics=_statistics(results),
        flights=_flights(results, statuses),
        hanging=hanging_sentences(results),
        method=f"{METHOD} {BY_DRAW}" if results.campaign.unknowns else METHOD,
        warnings=list(_warnings(results, statuses)),
        counters=_counters(results),
        ranges=of_all(results),
        checks_summary=f"All {len(checked)} quantities, each with its source, its deviation and what is allowed",
        checks=[_check(check, rows) for check, rows in checked],
        scope=_scope(list_scope()),
        studies=studies(),
        made=_made(results),
        files=texts_of(results.campaign),
        again=again_of(results),
    )


def _sentences(results: Results, statuses: pd.Series, checks: tuple[Check, ...]) -> list[str]:
    replicates = count(results.campaign.replicates, "replicate", "replicates")
    conditions = count(len(results.conditions), "condition", "conditions")
    kept = sum(check.kept for check in checks)
    met, measured = met_of_measured()
    most, more = "up to " if results.campaign.budget else "", ""
    if (flown_on := _flown_on(results)) > 0:
        more = f", and up to {count(flown_on, 'flight', 'flights')} more of each leading one"
    each = f"{grouped(len(statuses))} flights in all: {most}{replicates} of each design in each of {conditions}{more}."
    if isinstance(results.campaign.plan, Search):
        each = (
            f"{grouped(len(statuses))} flights in all: {replicates} of each finalist in each of {conditions}{more}, in waves "
            "that chose none of them, and a few flights of every other design. What is said of the best holds among the "
            f"{grouped(len(results.designs))} designs that flew. A better one may lie between them, and how likely is not told."
        )
    return [
        " ".join([*_best(results), UNCHECKED]),
        each,
        *([] if certain(results.standings) else ["One replicate gives an order, but no interval."]),
        f"The model meets {kept} of {len(checks)} values that others worked out or drew from measurements, within what is "
        f"allowed for each, and {met} of {measured} that they measured on towed foils, hulls and boats.",
        "What it leaves out stands below, and no interval covers that.",
    ]


def _best(results: Results) -> list[str]:
    """How surely these flights tell the best design."""
    standings = results.standings
    order = ranked(standings)
    if order.empty or not certain(standings):
        return []
    best, may_be = int(order.iloc[0]["design"]), order.loc[order["may_be_best"], "design"].astype(int).tolist()
    if may_be == [best]:
        of = "the final" if isinstance(results.campaign.plan, Search) else "all"
        first = f"{called(best)} is the best of {of} in the waves of this model: {CONFIDENCE_SAID} sure, by these flights."
    elif len(may_be) <= MOST_NAMED:
        named = listed(map(str, may_be))
        first = f"May be the best, by these flights: designs {named}; the best is one of them, {CONFIDENCE_SAID} sure."
    else:
        first = f"{len(may_be)} designs may be the best, by these flights; it is one of them, {CONFIDENCE_SAID} sure."
    lost = [f"That is of designs not halved away. {said}" for said in lost_words(results)]
    left = [f"That is of the final. {said}" for said in outside(results)]
    return [first, *lost, *left, *against_base(standings)]


def _flights(results: Results, statuses: pd.Series) -> Rows:
    flight = results.campaign.flight
    counts = statuses.value_counts()
    told = [code for code in range(len(STATUS_SENTENCES)) if code in counts.index or code not in (*CODE_FAILED, *STOPPED)]
    return [
        ("designs", grouped(len(results.designs))),
        ("conditions", f"{len(results.conditions)}"),
        ("flights", grouped(len(statuses))),
        ("length of each, of which not scored", f"{with_unit(flight.length, 's')}, {with_unit(flight.settle, 's')}"),
        *((STATUS_SENTENCES[code], grouped(int(counts.get(code, 0)))) for code in told),
    ]


def _who(results: Results) -> str:
    """Who flies all blocks of the campaign."""
    if isinstance(results.campaign.plan, Search):
        return "finalist"
    return "design in the race" if results.campaign.budget else "design"


def _statistics(results: Results) -> Rows:
    """How many independent looks there are, and what they can tell."""
    standings, replicates = results.standings, results.campaign.replicates
    blocks = replicates * len(results.conditions)
    rows: Rows = [
        ("replicates of each condition", f"{replicates}"),
        (f"blocks, each flown by every {_who(results)}", f"{blocks}"),
    ]
    if results.campaign.unknowns:
        first, most = draws_of(results, True), draws_of(results)
        rows.append(("draws of what is not known", f"{first}" + f", of leading designs up to {most}" * (most > first)))
        rows += [("not known, and drawn", drawn) for drawn in ranges(results.campaign.unknowns)]
    if (flown_on := _flown_on(results)) > 0:
        rows.append(("blocks that leading designs flew beyond these", f"up to {flown_on}"))
    if certain(standings):
        own = (standings["score_high"] - standings["score_low"]).median() / 2.0
        gain = (standings["gain_high"] - standings["gain_low"])[standings["design"] != 0].median() / 2.0
        rows.append(("half of the scores are known within", f"±{number(own, 2)}"))
        if math.isfinite(gain):
            rows.append(("half of the gains over the base craft, in the same waves, within", f"±{number(gain, 2)}"))
    if replicates > 1 and len(standings) and _who(results) == "design":
        rows.append(("designs that come first in one replicate alone", f"{first_of_each_replicate(results).nunique()}"))
    return rows


def _flown_on(results: Results) -> int:
    """How many flights leading designs flew, at most, beyond the campaign's own replicates."""
    flown = results.standings["flights"]
    return max(int(flown.max()) - results.campaign.replicates * len(results.conditions), 0) if len(flown) else 0


def first_of_each_replicate(results: Results) -> pd.Series:
    """The design of the best mean score in each replicate taken alone, by replicate."""
    campaign = results.campaign
    names = dict.fromkeys(["design", "condition", "replicate", "status", "time_foilborne", *campaign.score])
    flights = pd.DataFrame({name: results.column(name) for name in names})
    flights = flights[flights["replicate"] < campaign.replicates]  # leading designs flew on through more
    scores = Scoring.of(campaign).scores(flights)
    means = pd.Series(scores, index=flights.index).groupby([flights["replicate"], flights["design"]]).mean()
    return means.unstack().idxmin(axis=1)


def _warnings(results: Results, statuses: pd.Series) -> Iterator[str]:
    """What in this run asks for care."""
    yield from results.campaign.warnings
    counts = statuses.value_counts()
    for name, sentence in STATUSES.items():
        if found := int(counts.get(STATUS_NAMES.index(name), 0)):
            yield f"{count(found, 'flight', 'flights').capitalize()} ended as “{name}”. {sentence}"
    yield from _short_flights(results)


def _short_flights(results: Results) -> Iterator[str]:
    met = _by_condition(results, "encounters").dropna()
    few = met[(met > 0.0) & (met < FEW_WAVES)]
    if len(few):
        worst = str(few.idxmin())
        yield (
            f"In {count(len(few), 'condition', 'conditions')} a flight meets fewer than {FEW_WAVES} waves, the fewest in "
            f"{worst}: {number(float(few.min()), 2)}. One flight there is the luck of a few waves: trust the replicates only."
        )


def _by_condition(results: Results, name: str) -> pd.Series:
    """Mean of a response over all flights of each condition, by the condition's name; empty where it is not recorded."""
    if name not in results.flights_of(int(results.designs.index[0])):
        return pd.Series(dtype=float)
    names = results.column("condition").map(condition_names(results))
    means = results.column(name).groupby(names).mean()
    return means.astype(float)


def _counters(results: Results) -> list[Counted]:
    """Those counters of trouble that are not zero."""
    rows: list[Counted] = []
    for name, meaning in COUNTERS.items():
        means = _by_condition(results, name).dropna()
        if len(means) and means.max() > 0.0:
            worst = f"{response(name, float(means.max()))} in {means.idxmax()}"
            rows.append(Counted(response_title(name), response(name, float(means.mean())), worst, meaning))
    return rows


def check_table() -> pd.DataFrame:
    """Every check, row by row, for a CSV."""
    return pd.DataFrame(list_checks()).assign(deviation=[check.deviation for check in list_checks()])


SECTIONS = {
    "0": "traps",
    "1": "waves",
    "2": "seas",
    "3": "water",
    "4": "friction and spray",
    "5": "foils",
    "6": "unsteady flow and added mass",
    "7": "planing and impact",
    "8": "propeller",
    "9": "control and motion",
    "10": "statistics",
    "11": "scaling",
    "12": "records",
    "13": "libraries",
    "14": "what no source settles",
    "15": "towed and flown by others",
    "16": "strength",
}


def _scope(rows: tuple[Scope, ...]) -> list[Topic]:
    """What is checked, and what is not and why, topic by topic."""
    parts: dict[str, list[Scope]] = {}
    for row in rows:
        parts.setdefault(row.section.partition(".")[0], []).append(row)
    return [
        Topic(
            SECTIONS[section].capitalize(),
            [row.item for row in part if row.checked_by],
            [(row.item, row.reason) for row in part if row.reason],
        )
        for section, part in parts.items()
    ]


def _check(check: Check, rows: int) -> CheckSaid:
    """The row of a quantity that comes nearest to its tolerance."""
    unit = f" {pretty(check.unit)}" if check.unit else ""
    return CheckSaid(
        quantity=check.quantity,
        place=f"{check.place}{', the worst of ' + str(rows) if rows > 1 else ''}".removeprefix(", "),
        source=check.source,
        reason=check.reason,
        published=f"{_digits(check.published)}{unit}",
        ours=f"{_digits(check.ours)}{unit}",
        deviation=_off(check.deviation, check.absolute),
        tolerance="±" + _off(check.tolerance, check.absolute).lstrip("+"),
        kept=check.kept,
    )


def _digits(value: float) -> str:
    """Seven significant digits; powers of ten for the very small."""
    if abs(value) >= 1e-3:
        return number(value, 7)
    digits, power = f"{value:.6e}".split("e")
    return f"{digits.rstrip('0').rstrip('.')}·10{_raised(int(power))}"


def _raised(power: int) -> str:
    return str(power).translate(str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹"))


def _off(value: float, absolute: bool) -> str:
    """A signed difference: in the unit, or in %."""
    rounded = float(f"{value if absolute else 100.0 * value:.2g}")
    if rounded == 0.0:
        return "0" if absolute else "0 %"
    shown = number(rounded, 2) if abs(rounded) >= 1e-3 else _digits(rounded)
    return f"{'+' if rounded > 0.0 else ''}{shown}{'' if absolute else ' %'}"


def _made(results: Results) -> Rows:
    versions = list(results.manifest.versions.items())
    machine = f"{results.manifest.machine.system} {results.manifest.machine.kind}".strip()
    kind = [("machine", machine)] if machine else []
    seconds = sum(run.seconds for run in results.manifest.runs)
    took = [("time flying", with_unit(seconds, "s"))] if seconds else []
    seeds = [("seed of the flights", str(results.campaign.flight.seed)), ("seed of the plan", str(results.campaign.plan.seed))]
    date = day(results.manifest)
    return [*versions, *kind, *seeds, *took, *([("date", date)] if date else [])]

"""The head of the first page: the question, what to build, what decides, and the designs to choose from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from sweep.campaign.designs import unbuilt
from sweep.campaign.plan import Search
from sweep.insight.intervals import CONFIDENCE_SAID
from sweep.insight.limits import POOLED, in_words
from sweep.insight.ranking import certain, ranked
from sweep.report.display import craft_of_design
from sweep.report.pages.candidates import Candidate, Line, candidate, candidates, chosen_value, lines_of
from sweep.report.pages.card import gives_no_first_run
from sweep.report.pages.cheaper import priced
from sweep.report.pages.deciding import (
    DECIDES,
    MOST_DECIDING,
    Deciding,
    deciding,
    deciding_note,
    shares,
    surely_deciding,
)
from sweep.report.pages.design import highest_wave
from sweep.report.pages.levels import anchor, at_an_end, told_of
from sweep.report.seaway import Seaway, seaway
from sweep.words.numbers import count, grouped, interval, number, with_unit
from sweep.words.phrases import called, listed, together
from sweep.words.responses import response_title

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sweep.results.store import Results

MOST_NAMED = 3  # factors in the headline: judgement
MOST_LISTED = 12  # factors after it: judgement
CHEAPER = "tradeoffs.html#across=score&up=price"
"""The page of trade-offs, of what a score costs."""


class Part(NamedTuple):
    """A stretch of the headline; strong: a choice that surely decides."""

    text: str
    strong: bool


class Against(NamedTuple):
    """How much better than the boat as it is: the figure, its words, and its interval in a drawing 300 wide."""

    figure: str
    said: str
    zero: str
    low: str
    width: str
    at: str


class Asked(NamedTuple):
    """A question, the page that answers it, and where nothing does what to do."""

    question: str
    page: str
    instead: str


@dataclass(frozen=True)
class Brief:
    """The head of the first page; grounded: the card of the first design, where that gives no first run; picture: None where
    nothing can be built."""

    question: str
    headline: list[Part]
    grounded: str
    rest: str
    flown: str
    picture: Seaway | None
    caption: str
    deciding: list[Deciding]
    deciding_note: str
    against: Against | None
    candidates: list[Candidate]
    lines: list[Line]
    asked: list[Asked]


def brief_of(results: Results) -> Brief:
    """What a reader of two minutes needs."""
    order = ranked(results.standings)
    best = int(order.iloc[0]["design"]) if len(order) else None
    wave, _ = highest_wave(results)
    picks = candidates(results, order)
    return Brief(
        question=question(results),
        headline=headline(results, order),
        grounded=f"card-{best}.html" if best is not None and gives_no_first_run(results, best) else "",
        rest=" ".join(filter(None, [rest_of_choice(results, best), beyond_choice(results, best), nearest(results, order)])),
        flown=_flown(results),
        picture=None if best is None else seaway(craft_of_design(results, best), craft_of_design(results, 0), wave),
        caption="" if best is None else f"{called(best)} in the day's water",
        deciding=deciding(results, best),
        deciding_note=deciding_note(results, best),
        against=_against(order),
        candidates=[candidate(results, title, design) for title, design in picks],
        lines=lines_of(results, [design for _, design in picks]),
        asked=_asked(results, best),
    )


def question(results: Results) -> str:
    """What the campaign asks, of its factors, seas, headings and speeds."""
    campaign = results.campaign
    names = [factor.name for factor in campaign.factors.values()]
    few = 0 < len(names) <= MOST_DECIDING
    which = f"Which {together(names)}" if few else f"Which of {grouped(len(results.designs))} designs"
    speeds = [with_unit(speed, "m/s") for speed in campaign.speeds]
    headings = [heading.name.replace("-", " ") for heading in campaign.headings]
    seas = [_sea(row) for _, row in results.conditions.drop_duplicates("sea").iterrows()]
    over = f", {together(headings)}" if any(sea.directed for sea in campaign.seas) else ""
    where = f" in {together(seas)}" if seas else ""
    return f"{which} should the {campaign.craft.name} {'have' if few else 'be'}, at {together(speeds)}{where}{over}?"


def _sea(row: pd.Series) -> str:
    name = str(row["sea"]).replace("-", " ")
    if not row["sea_height"] > 0.0 or pd.isna(row["sea_period"]):
        return name
    return f"{name} ({with_unit(100.0 * float(row['sea_height']), 'cm')}, {with_unit(float(row['sea_period']), 's')})"


def headline(results: Results, order: pd.DataFrame) -> list[Part]:
    """What to build, in one line; or that nothing here is surely better, or can be built."""
    if order.empty:
        none = "No design has been scored yet." if results.standings.empty else "None of these: every design broke a limit."
        return [Part(none, False)]
    first = order.iloc[0]
    design = int(first["design"])
    if design == 0:
        return [Part("Keep the boat as it is: nothing here came before it.", False)]
    better, kept = bool(first["gain_sure"] > 0.0), first["verdict"] == "kept"
    sure = better and kept
    doubt = "not yet known to keep every limit" if better else "not surely better than the boat as it is"
    opening = "Build " if sure else f"First, but {doubt}: "
    named = _named(results)
    if not named:
        return [Part(opening, False), Part(f"design {design}", True), Part(".", False)]
    parts = [Part(f"{opening}it with " if sure else opening, False)]
    for place, label in enumerate(named):
        between = "" if not place else " and " if place == len(named) - 1 else ", "
        named_so = f"{between}{results.campaign.factors[label].name} "
        parts += [Part(named_so, False), Part(chosen_value(results, label, design), True)]
    return [*parts, Part(".", False)]


def _named(results: Results) -> list[str]:
    """The factors that the headline names: those that surely decide."""
    return [label for label, _ in surely_deciding(results)][:MOST_NAMED]


def rest_of_choice(results: Results, best: int | None) -> str:
    """What the first design has beside what the headline names, and whether it matters: the headline alone builds no boat."""
    named = _named(results)
    others = [label for label in results.campaign.factors if label not in named]
    if not best or not others:
        return ""
    if len(others) > MOST_LISTED:
        return f"{called(best)} has {len(others)}{' other' if named else ''} choices: they are on its page."
    values = together([f"{results.campaign.factors[label].name} {chosen_value(results, label, best)}" for label in others])
    if not named:
        return f"It has {values}. Take them together: which of these decide is not surely told."
    return f"{called(best)} also has {values}. {_matter(results, others)}"


def beyond_choice(results: Results, best: int | None) -> str:
    """Which of the choices that the headline names lie at an end of what was tried, beyond which nothing is known."""
    if not best:
        return ""
    told = []
    for label in _named(results):
        factor, value = results.campaign.factors[label], results.designs.at[best, label]
        place = next((at for at, level in enumerate(factor.levels) if level == value), None)
        if place is not None:
            told.append(at_an_end(f"{factor.name.capitalize()} {chosen_value(results, label, best)}", factor, place))
    return " ".join(filter(None, told))


def nearest(results: Results, order: pd.DataFrame) -> str:
    """Where every design broke a limit: which comes nearest to keeping all, and the limit that it is furthest over."""
    rows = results.limits
    rows = rows[(rows["condition"] == POOLED) & (rows["value"] > 0.0)] if len(rows) else rows
    if len(order) or rows.empty:
        return ""
    allowed = rows["response"].astype(str).map({name: limit.value for name, limit in results.campaign.limits.items()})
    over = rows.assign(response=rows["response"].astype(str), over=rows["value"] / allowed)
    worst = over.loc[over.groupby("design")["over"].idxmax()]
    row = worst.sort_values(["over", "design"]).iloc[0]
    name, value = str(row["response"]), in_words(str(row["response"]), float(row["value"]))
    most = in_words(name, results.campaign.limits[name].value)
    return f"{called(int(row['design']))} comes nearest to its limits: {response_title(name)} {value}, where {most} is allowed."


def _matter(results: Results, others: Sequence[str]) -> str:
    rows, most = shares(results).reindex(list(others)), f"less than {number(100 * DECIDES)} % of the differences, on average"
    one = len(others) == 1
    if (rows["total_high"] < DECIDES).all():
        return f"This surely makes {most}." if one else f"Each of these surely makes {most}."
    return f"How much {'this matters' if one else 'each of these matters'} is less sure."


def _against(order: pd.DataFrame) -> Against | None:
    """Of the first design, if it is another and its interval is known."""
    if order.empty or not certain(order):
        return None
    first = order.iloc[0]
    low, at, high = (float(first[name]) for name in ("gain_low", "gain", "gain_high"))
    if first["design"] == 0 or not np.isfinite([low, at, high]).all():
        return None
    left, right = min(0.0, low), max(0.0, high)
    scale = 280.0 / (right - left) if right > left else 0.0
    zero, begin, dot = (10.0 + scale * (value - left) for value in (0.0, low, at))
    base = float(first["score"]) + at
    share = f", {100 * at / base:.0f} % of its score" if base > 0.0 < at else ""
    word = "better" if at >= 0.0 else "worse"
    around = f"{CONFIDENCE_SAID} interval{interval(low, high)}"
    hidden = ", without what so few flights may hide of failures" if low > 0.0 >= first["gain_sure"] else ""
    return Against(
        figure=f"{number(abs(at), 2)} {word}",
        said=f"points of score against the boat as it is{share}; {around}, same waves{hidden}",
        zero=f"{zero:.1f}",
        low=f"{begin:.1f}",
        width=f"{scale * (high - low):.1f}",
        at=f"{dot:.1f}",
    )


def _asked(results: Results, best: int | None) -> list[Asked]:
    """Eight questions of a builder, each with its page; or with what the campaign must say for an answer."""
    paged = best is not None and best in results.leaders
    rides = "rides.html" if len(results.rides) else ""
    unmapped = "give the campaign a map" if results.campaign.map is None else "its map was not flown; Where it rides says why"
    unset = "the first design was not recorded" if best is not None else "no design kept every limit"
    broken = f"design-{best}.html#troubles" if paged else "#refused" if len(results.standings) else ""
    return [
        Asked("Which others would do?", "#leading" if best is not None else "", "no design kept every limit"),
        Asked("How sure is it?", "sure.html", ""),
        Asked("What do I set?", f"card-{best}.html" if paged else "", unset),
        Asked("How rough, how fast?", rides, unmapped),
        Asked("What goes wrong?", broken, unset),
        Asked("Would cheaper parts do?", CHEAPER if priced(results) else "", "give parts a price, and make them factors"),
        Asked("What does another sensor buy?", _sensing(results), "make a rangefinder's numbers factors"),
        Asked("How good is my boat as it is?", "design-0.html" if 0 in results.leaders else "", "it was not recorded"),
    ]


def _sensing(results: Results) -> str:
    """Where it is told what a sensor's numbers do, if a factor is one of them: beside its levels, if these are compared."""
    sensing = [
        label
        for label, factor in results.campaign.factors.items()
        if any(address.split(".")[0] in ("rangefinders", "inertial", "navigation") for address in factor.addresses)
    ]
    told = next((label for label in told_of(results) if label in sensing), None)
    return f"matters.html#{anchor(results, told)}" if told else "matters.html" if sensing else ""


def _flown(results: Results) -> str:
    """How much stands behind it."""
    flights = int(results.standings["flights"].sum()) if len(results.standings) else 0
    return " ".join(
        [f"From {grouped(flights)} flights of {count(len(results.standings), 'design', 'designs')}.", *_ruled_out(results)]
    )


def _ruled_out(results: Results) -> list[str]:
    """How many designs of the plan the campaign's rules left out."""
    campaign = results.campaign
    if not campaign.rules:
        return []
    names = listed((f"“{rule.name}”" for rule in campaign.rules), "and")
    if isinstance(campaign.plan, Search):
        return [f"No design was proposed that breaks {names}."]
    left = unbuilt(campaign)
    which = "the rule" if len(campaign.rules) == 1 else "a rule"
    verb = "breaks" if left.broken == 1 else "break"
    return [f"{grouped(left.broken)} of {grouped(left.planned)} designs {verb} {which} and did not fly: {names}."]

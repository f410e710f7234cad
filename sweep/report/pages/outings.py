"""Whole outings in words: how many were clean, how often something failed, what failed first; or that it is not shown."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import pandas as pd

from sweep.campaign.outings import LENGTH, course_words
from sweep.insight.intervals import CONFIDENCE_SAID
from sweep.insight.outings import FEWEST, Counted, by_kind, count_outings
from sweep.insight.ranking import ranked
from sweep.report.pages.outing_replay import Seen, seen_of
from sweep.words.numbers import count, number, with_unit
from sweep.words.phrases import together

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.results.store import Results

NOT_SHOWN = "not shown"
NO_PROMISE = "Short flights promise nothing of an outing."
HOUR = 3600.0  # s
KINDS = {"sea": "{}", "heading_name": "{} seas", "speed": "{} m/s"}


class OutingRow(NamedTuple):
    """Some outings: which, clean ones of those flown, the interval of their share, failures an hour, what failed first."""

    which: str
    clean: str
    share: str
    hourly: str
    first: str


class Outings(NamedTuple):
    """The outings of a design: how many are clean, sentences, rows by sea, heading and speed, and failed ones to look at."""

    title: str
    sentences: list[str]
    rows: list[OutingRow]
    seen: list[Seen]


def outings_of(results: Results, design: int) -> Outings:
    """Of one design."""
    rows = flown_by(results, design)
    if rows.empty:
        why = "None was flown: outings: 20 in the campaign file has the leaders fly them."
        if results.campaign.outings:
            why = "None was flown: every design broke a limit." if ranked(results.standings).empty else "None was flown yet."
        return Outings(f"Clean outings: {NOT_SHOWN}", [why, NO_PROMISE], [], [])
    whole = count_outings(rows)
    table = [_row("all", whole), *(_row(KINDS[kind].format(_called(kind, value)), some) for kind, value, some in by_kind(rows))]
    return Outings(f"Clean outings: {share_words(whole)}", list(_sentences(results, whole)), table, seen_of(results, design))


def share_of(results: Results, design: int) -> str:
    """How many outings of it are clean: '17 of 20 (62 to 97 %)', or that it is not shown."""
    rows = flown_by(results, design)
    return NOT_SHOWN if rows.empty else share_words(count_outings(rows))


def sentence_of(results: Results, design: int) -> str:
    """The same, as a sentence."""
    return f"Clean outings: {share_of(results, design)}."


def flights_words(campaign: Campaign, straight: bool = False) -> str:
    """What the campaign's own flights are: 'short flights of 25 s, begun in trim and straight'; straight: those of its map."""
    legs = [bool(course.legs) for course in campaign.courses]
    way = "straight" if straight or not any(legs) else "along a course" if all(legs) else "straight or along a course"
    return f"{length_words(campaign)}, {'from rest' if campaign.flight.start == 'rest' else 'begun in trim'} and {way}"


def length_words(campaign: Campaign) -> str:
    """'short flights of 25 s'."""
    length = campaign.flight.length
    return f"{'short flights' if length < LENGTH else 'flights'} of {with_unit(length, 's')}"


def flown_by(results: Results, design: int) -> pd.DataFrame:
    """The outings of one design, none where none was flown."""
    rows = results.outings
    return rows if rows.empty else rows[rows["design"] == design]


def share_words(found: Counted) -> str:
    """'17 of 20 (62 to 97 %)'; of too few, that it is not shown."""
    clean = f"{found.clean} of {found.flown}"
    return (
        f"{clean} ({interval_words(found)})"
        if found.shown
        else f"{NOT_SHOWN} ({clean}, and {FEWEST} are the fewest that show it)"
    )


def interval_words(found: Counted) -> str:
    """The interval of the share, rounded outwards: '62 to 97 %'."""
    return f"{math.floor(100.0 * found.low + 1e-9)} to {math.ceil(100.0 * found.high - 1e-9)} %"


def hourly_words(found: Counted) -> str:
    """Failures an hour with their interval, or a bound where nothing failed."""
    if not found.shown or not found.hours > 0.0:
        return NOT_SHOWN
    if not found.failed:
        return f"under {number(found.rate_high * HOUR, 2)} /h"
    low, high = (number(each * HOUR, 2) for each in (found.rate_low, found.rate_high))
    return f"{number(found.rate * HOUR, 2)} /h ({low} to {high})"


def first_words(found: Counted) -> str:
    """What failed first, and how often."""
    return ", ".join(f"{often} × {name}" for name, often in found.first) or "nothing"


def _row(which: str, found: Counted) -> OutingRow:
    share = interval_words(found) if found.shown else NOT_SHOWN
    return OutingRow(which, f"{found.clean} of {found.flown}", share, hourly_words(found), first_words(found))


def _called(kind: str, value: str) -> str:
    return number(float(value)) if kind == "speed" else value.replace("-", " ")


def _sentences(results: Results, found: Counted) -> list[str]:
    """What an outing is, what the interval is, what failed first."""
    said = [f"An outing is {course_words()}."]
    if not found.shown:
        return [*said, f"{count(found.flown, 'outing does', 'outings do').capitalize()} not show how often one is clean."]
    said.append(f"The interval holds the true share with {CONFIDENCE_SAID} confidence, in these seas and for this model.")
    if found.first:
        name, often = found.first[0]
        most = f"{count(often, 'outing', 'outings')} with {name}"
        said.append(f"What failed first: {together([most, *(f'{number(n)} with {what}' for what, n in found.first[1:])])}.")
    if math.isfinite(found.per_metre):
        said.append(f"It takes {with_unit(found.per_metre, 'J/m', 3)} of path.")
    return [*said, *_not_flown(results)]


def _not_flown(results: Results) -> list[str]:
    """Seas of the campaign in which no outing was flown."""
    flown = set(results.outings["sea"])
    without = [sea.name for sea in results.campaign.seas if sea.name not in flown]
    return [f"None was flown in {together(without)}."] if without else []

"""The page of where designs ride: how many short flights are clean, by speed, waves and heading; and their outings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from sweep.campaign.designs import significant
from sweep.campaign.follow_up_plan import SHARE, plan_tail
from sweep.campaign.ride_map import RideMap
from sweep.insight.intervals import CONFIDENCE_SAID
from sweep.insight.ranking import ranked
from sweep.report.charts.rides import ride_map
from sweep.report.display import design_page
from sweep.report.embed import as_csv, as_spec, data_script
from sweep.report.page import Chart, Made, Material
from sweep.report.pages.outings import NOT_SHOWN, Outings, flights_words, length_words, outings_of, share_of
from sweep.words.numbers import count, grouped, number, portion, spelled, with_unit
from sweep.words.phrases import called, together

if TYPE_CHECKING:
    from sweep.results.store import Results


class HeadingWords(NamedTuple):
    """What a heading is within a sentence, and what a map of it is called."""

    phrase: str
    title: str


WORDS = {
    "head": HeadingWords("in head seas", "Head seas"),
    "bow": HeadingWords("in bow seas", "Bow seas"),
    "beam": HeadingWords("in beam seas", "Beam seas"),
    "quartering": HeadingWords("in quartering seas", "Quartering seas"),
    "following": HeadingWords("in following seas", "Following seas"),
}
HEADINGS = {
    "design": "design", "heading_name": "waves from", "speed": "speed, m/s", "height": "significant height, cm",
    "period": "peak period, s", "flights": "short flights", "clean": "clean ones", "share": "clean, %",
    "low": "clean at least, %", "high": "clean at most, %",
}  # fmt: skip
"""Columns of the map as CSV."""


class Reach(NamedTuple):
    """Up to which waves every short flight was clean, at a speed and heading; heights in cm.

    height: NaN if some failed in the lowest waves tried, `least`; whole: the highest tried are among them; flown: any flight
    began; clean: flights up to there; beyond: the lowest waves in which some failed, in words, '' if there are none.
    """

    height: float
    least: float
    whole: bool
    flown: bool
    clean: int
    beyond: str


class Limit(NamedTuple):
    """The highest waves up to which all were clean, cm; lines: how many flights that were, and the lowest with a failure."""

    height: str
    lines: list[str]


class Rider(NamedTuple):
    """Where a design rides: its outings, a sentence on short flights, and by speed the waves at each heading.

    page: '' if it has none; without: at which speeds it has no trim, a sentence, '' if it has one at all.
    """

    design: int
    name: str
    page: str
    outings: Outings
    sentence: str
    limits: list[tuple[str, list[Limit]]]
    without: str


@dataclass(frozen=True)
class RidesPage:
    """The outings and the clean short flights of each design; designs: none where no map was flown.

    maps: one a heading; short: what the flights of the map are; budget: what stands behind a cell.
    """

    sentences: list[str]
    designs: list[Rider]
    headings: list[str]
    maps: list[Chart]
    short: str
    budget: str


def make(material: Material) -> Made:
    """The page, and what its maps and its CSV file hold."""
    table = ride_table(material.results)
    files = data_script("rides", table) | as_csv("rides", table[list(HEADINGS)], HEADINGS)
    return Made(rides_page(material.results, table), files)


def ride_table(results: Results) -> pd.DataFrame:
    """The map in shown units: the columns of `HEADINGS`, then said, as the chart takes them."""
    rides = results.rides
    if rides.empty:
        return pd.DataFrame(columns=[*HEADINGS, "said"])
    with np.errstate(divide="ignore", invalid="ignore"):
        share = rides["clean"].to_numpy(float) / rides["flights"].to_numpy(float)
    table = rides[["design", "heading_name", "flights", "clean"]].copy()
    table["speed"], table["height"] = significant(rides["speed"], 3), significant(100.0 * rides["height"], 3)
    table["period"] = significant(rides["period"], 3) if "period" in rides else np.nan
    for name, values in {"share": share, "low": rides["share_low"], "high": rides["share_high"]}.items():
        table[name] = significant(pd.Series(100.0 * np.asarray(values, float), index=table.index), 3)
    table["said"] = [f"{clean}/{flights}" for clean, flights in zip(table["clean"], table["flights"], strict=True)]
    order = table.sort_values(["design", "heading_name", "speed", "height"])
    return order.reset_index(drop=True)[[*HEADINGS, "said"]]


def headings_of(results: Results) -> list[str]:
    """The headings of the map, from head to following."""
    angles = results.rides.groupby("heading_name")["heading"].first()
    return [str(name) for name in angles.map(lambda angle: -abs(angle)).sort_values(kind="stable").index]


def words_of(heading: str) -> HeadingWords:
    """The words of a heading, be it a name or an angle."""
    return WORDS.get(heading, HeadingWords(f"in seas at {heading}", f"Seas at {heading}"))


def sea_of(heading: str) -> str:
    """What a map of one heading is called."""
    return words_of(heading).title


def reach(rows: pd.DataFrame) -> Reach:
    """How far up one column of the map all flights are clean without a gap."""
    rows = rows.sort_values("height")
    failed = (rows["clean"] < rows["flights"]).to_numpy()
    flown = bool((rows["flights"] > 0).any())
    steps = int(np.argmax(failed)) if failed.any() else len(failed)
    beyond = _counted(rows.iloc[steps]) if flown and steps < len(rows) else ""
    height = float(rows["height"].iloc[steps - 1]) if flown and steps else math.nan
    clean = int(rows["clean"].head(steps).sum())
    return Reach(height, float(rows["height"].iloc[0]), flown and steps == len(rows), flown, clean, beyond)


def _counted(row: pd.Series) -> str:
    return f"{_cm(row['height'])}: {row['clean']} of {row['flights']}"


def rides_page(results: Results, table: pd.DataFrame) -> RidesPage:
    """The page; table: of `ride_table`."""
    if table.empty:
        return RidesPage([_missing(results)], [], [], [], "", "")
    names = headings_of(results)
    present = set(table["design"])
    order = [design for design in ranked(results.standings)["design"] if design in present]
    order += sorted(present - set(order))
    speed = _usual_speed(results, table)
    riders = [_rider(results, table[table["design"] == design], names, speed) for design in order]
    told = [riders[0], *(rider for rider in riders[1:] if rider.design == 0)]
    return RidesPage(
        sentences=[
            *_outings_of(results, told),
            *(rider.sentence for rider in told),
            f"These {length_words(results.campaign)} promise nothing of an outing. A model's estimate is no permission to go.",
        ],
        designs=riders,
        headings=names,
        maps=[
            Chart(f"map-{at}", sea_of(heading), as_spec(ride_map(table, heading), "rides")) for at, heading in enumerate(names)
        ],
        short=flights_words(results.campaign, straight=True),
        budget=_budget(results, table),
    )


def _outings_of(results: Results, told: Sequence[Rider]) -> list[str]:
    """How many outings of each are clean, in one sentence where that is shown of none."""
    shares = {rider.name.lower(): share_of(results, rider.design) for rider in told}
    if set(shares.values()) == {NOT_SHOWN}:
        shares = {together(list(shares)): NOT_SHOWN}
    return [f"Clean outings of {name}: {share}." for name, share in shares.items()]


def flown_map(results: Results) -> RideMap | None:
    """The map that a run of these results flies."""
    return plan_tail(results.campaign, len(results.designs), len(results.conditions), results.manifest.spare).map


def _missing(results: Results) -> str:
    if results.campaign.map is None:
        return (
            "This campaign has no map of where its designs ride. Either its file says map: {replicates: 0}, or it has no "
            "regular or irregular sea that could give the waves of the map their shape."
        )
    if flown_map(results) is None:
        return (
            f"The map of where the leading designs ride would take more than {portion(SHARE)} the time of the campaign's own "
            "flights, so it was left out. To have it flown, add a map to the campaign file."
        )
    if ranked(results.standings).empty:
        return "Every design broke a limit, so none leads, and no map of where it rides was flown."
    return (
        "The map of where the leading designs ride has not been flown yet. Run foilsweep run with the same campaign: it flies "
        "the map after the standings and writes this page again."
    )


def _usual_speed(results: Results, table: pd.DataFrame) -> float:
    """The speed of the map that is nearest to the campaign's middle one."""
    speeds = results.campaign.speeds
    middle = math.sqrt(min(speeds) * max(speeds))
    return float(min(table["speed"].unique(), key=lambda speed: (abs(speed - middle), speed)))


def _rider(results: Results, table: pd.DataFrame, headings: Sequence[str], speed: float) -> Rider:
    """Sentence, at the usual speed, and limits of one design, of which the table is."""
    design = int(table["design"].iloc[0])
    columns = {
        (at, name): table[(table["speed"] == at) & (table["heading_name"] == name)]
        for at in sorted(table["speed"].unique())
        for name in headings
    }
    found = {at: reach(rows) for at, rows in columns.items()}
    trims = {at: any(found[at, name].flown for name in headings) for at in dict.fromkeys(at for at, _ in columns)}
    without = [number(at) for at, trim in trims.items() if not trim]
    return Rider(
        design=design,
        name=called(design),
        page=design_page(results, design),
        outings=outings_of(results, design),
        sentence=_sentence(called(design), speed, {name: found[speed, name] for name in headings}),
        limits=[(with_unit(at, "m/s"), [_limit(found[at, name]) for name in headings]) for at, trim in trims.items() if trim],
        without=f"It has no trim at {together(without)} m/s: nothing was flown there." if without else "",
    )


def _limit(found: Reach) -> Limit:
    clean = f"{found.clean} of {found.clean}" if found.clean else ""
    return Limit(limit_words(found), [line for line in (clean, found.beyond) if line])


def limit_words(found: Reach) -> str:
    """The waves up to which all were clean in cm, without the unit."""
    if not found.flown:
        return "no trim"
    return "none" if math.isnan(found.height) else number(found.height)


def _sentence(who: str, speed: float, found: dict[str, Reach]) -> str:
    """'Design 131 at 4 m/s: all 24 clean up to 8 cm in head seas, and all 18 up to 5 cm in following seas.'"""
    at = with_unit(speed, "m/s")
    if not any(each.flown for each in found.values()):
        return f"{who} has no trim at {at}, and was not flown."
    heights = {name: 0.0 if math.isnan(each.height) else each.height for name, each in found.items()}
    best, worst = max(heights, key=lambda name: heights[name]), min(reversed(heights), key=lambda name: heights[name])
    said = [_reached(found[name], words_of(name).phrase) for name in dict.fromkeys((best, worst))]
    return f"{who} at {at}: {', and '.join(said)}."


def _reached(found: Reach, where: str) -> str:
    """'all 24 clean up to 8 cm in head seas'."""
    if math.isnan(found.height):
        return f"not all clean {where}, {found.beyond}"
    return f"all {found.clean} clean up to {_cm(found.height)}{', the highest tried,' if found.whole else ''} {where}"


def _cm(height: float) -> str:
    return with_unit(height, "cm")


def _budget(results: Results, table: pd.DataFrame) -> str:
    """How many flights stand behind a cell, and what they can show."""
    most = int(table["flights"].max())
    cells = len(table.drop_duplicates(["speed", "height", "heading_name"]))
    designs = table["design"].nunique()
    flight = results.campaign.flight
    wanted = flown_map(results)
    missing = len(wanted.cells()) - cells if wanted else 0
    surely = table.loc[table["clean"] == most, "low"]
    shown = (
        f" If all {spelled(most)} are clean, then at least {number(float(surely.iloc[0]), 2)} % of all such flights are, with "
        f"{CONFIDENCE_SAID} confidence. A map of few flights shows where to look, not exactly where the edge is."
        if len(surely)
        else ""
    )
    flown = table[table["flights"] > 0]
    least = int(flown.groupby(["speed", "height", "heading_name"])["flights"].max().min()) if len(flown) else 0
    each = count(most, "flight", "flights") if least == most else f"{spelled(least)} to {count(most, 'flight', 'flights')}"
    where = (
        ""
        if least == most
        else " More were flown where few did not yet tell whether nearly all flights there are clean, or fewer."
    )
    return (
        f"Each cell is {each} of {with_unit(flight.length, 's')}, of which the last "
        f"{with_unit(results.campaign.flight.scored, 's')} count; in all {grouped(int(table['flights'].sum()))} flights of "
        f"{count(designs, 'design', 'designs')} in {cells} cells. Standings, limits and the card's table are of other waves, "
        f"those of the campaign's own conditions.{where}{shown}"
        + (f" The map is not finished: {count(missing, 'cell is', 'cells are')} missing." if missing > 0 else "")
    )

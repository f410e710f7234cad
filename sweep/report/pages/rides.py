"""The page of where designs ride: up to which waves most flights are clean, by speed and heading."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd

from sweep.campaign.designs import significant
from sweep.campaign.follow_up_plan import SHARE, plan_tail
from sweep.campaign.ride_map import RideMap
from sweep.insight import contour
from sweep.insight.contour import limits
from sweep.insight.intervals import CONFIDENCE_SAID
from sweep.insight.ranking import ranked
from sweep.report.charts.rides import ENOUGH, ride_map
from sweep.report.display import design_page
from sweep.report.embed import as_csv, as_spec, data_script
from sweep.report.page import Chart, Made, Material
from sweep.report.pages.outings import sentence_of
from sweep.words.numbers import count, grouped, number, portion, so_many_in, spelled, with_unit
from sweep.words.phrases import called

if TYPE_CHECKING:
    from sweep.results.store import Results

HOUR = 3600.0  # s
ENOUGH_FLIGHTS = so_many_in(contour.ENOUGH, "flights")


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
    "period": "peak period, s", "flights": "flights", "clean": "clean flights", "share": "clean, %", "low": "clean at least, %",
    "high": "clean at most, %", "failures": "failures, /h",
}  # fmt: skip
"""Columns of the map as CSV."""


class Reach(NamedTuple):
    """How high waves may be with enough clean flights, at a speed and heading; heights in cm.

    height: NaN if not even the lowest waves tried, `least`; whole: the highest tried are among them; flown: any flight began;
    hourly: failures an hour at that height, in words.
    """

    height: float
    least: float
    whole: bool
    flown: bool
    hourly: str


class Limit(NamedTuple):
    """The highest waves at a speed and heading, cm; lines: the failures an hour there, and where the edge surely is."""

    height: str
    lines: list[str]


class Rider(NamedTuple):
    """Where a design rides: a sentence, and by speed the limit at each heading; page: '' if it has none."""

    design: int
    name: str
    page: str
    sentence: str
    limits: list[tuple[str, list[Limit]]]


@dataclass(frozen=True)
class RidesPage:
    """Up to which waves most flights of each design are clean; designs: none where no map was flown.

    maps: one a heading; budget, meaning: what stands behind a cell, and what nine in ten come to.
    """

    sentences: list[str]
    designs: list[Rider]
    headings: list[str]
    maps: list[Chart]
    budget: str
    meaning: str


def make(material: Material) -> Made:
    """The page, and what its maps and its CSV file hold."""
    table = ride_table(material.results)
    files = data_script("rides", table) | as_csv("rides", table[list(HEADINGS)], HEADINGS)
    return Made(rides_page(material.results, table), files)


def ride_table(results: Results) -> pd.DataFrame:
    """The map in shown units: the columns of `HEADINGS`, then hourly, said, above and beside, as the chart takes them."""
    rides = results.rides
    if rides.empty:
        return pd.DataFrame(columns=[*HEADINGS, "hourly", "said", "above", "beside"])
    with np.errstate(divide="ignore", invalid="ignore"):
        share = rides["clean"].to_numpy(float) / rides["flights"].to_numpy(float)
        failures = np.abs(np.log(share)) * HOUR / results.campaign.flight.scored
    table = rides[["design", "heading_name", "flights", "clean"]].copy()
    table["speed"], table["height"] = significant(rides["speed"], 3), significant(100.0 * rides["height"], 3)
    table["period"] = significant(rides["period"], 3) if "period" in rides else np.nan
    for name, values in {"share": share, "low": rides["share_low"], "high": rides["share_high"]}.items():
        table[name] = significant(pd.Series(100.0 * np.asarray(values, float), index=table.index), 3)
    table["failures"] = significant(pd.Series(np.where(np.isfinite(failures), failures, np.nan), index=table.index), 3)
    table["hourly"] = [_hourly(row, results.campaign.flight.scored) for row in table.to_dict("records")]
    table["said"] = ["–" if math.isnan(value) else f"{value:.0f}" for value in table["share"]]
    return _stepped(table)[[*HEADINGS, "hourly", "said", "above", "beside"]]


def _hourly(row: dict[Any, Any], judged: float) -> str:
    """Failures an hour, as a bound where all flights were clean, or none."""
    if not row["flights"]:
        return "not known"
    if row["clean"] == row["flights"]:
        return f"under {number(-math.log(row['low'] / 100.0) * HOUR / judged, 2)}"
    if row["clean"] == 0:
        return f"over {number(-math.log(row['high'] / 100.0) * HOUR / judged, 2)}"
    return number(row["failures"], 2)


def _stepped(table: pd.DataFrame) -> pd.DataFrame:
    """With where the step between enough and too few clean flights runs: over a cell, to its right."""
    table = table.sort_values(["design", "heading_name", "speed", "height"]).reset_index(drop=True)
    enough = table["share"] >= ENOUGH
    above = enough.groupby([table["design"], table["heading_name"], table["speed"]]).shift(-1)
    beside = enough.groupby([table["design"], table["heading_name"], table["height"]]).shift(-1)
    return table.assign(
        above=above.notna() & (above != enough),
        beside=beside.notna() & (beside != enough),
    )


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
    """How far up one column of the map enough flights are clean without a gap."""
    rows = rows.sort_values("height")
    enough = (rows["share"] >= ENOUGH).to_numpy()
    steps = int(np.argmin(enough)) if not enough.all() else len(enough)
    least, flown = float(rows["height"].iloc[0]), bool((rows["flights"] > 0).any())
    if steps == 0:
        return Reach(math.nan, least, False, flown, str(rows["hourly"].iloc[0]))
    top = rows.iloc[steps - 1]
    return Reach(float(top["height"]), least, steps == len(rows), flown, str(top["hourly"]))


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
    base = [rider.sentence for rider in riders[1:] if rider.design == 0]
    return RidesPage(
        sentences=[
            riders[0].sentence,
            *base,
            *_outings(results, riders[0]),
            "These are estimates from a model, not permission to go.",
        ],
        designs=riders,
        headings=names,
        maps=[
            Chart(f"map-{at}", sea_of(heading), as_spec(ride_map(table, heading), "rides")) for at, heading in enumerate(names)
        ],
        budget=_budget(results, table),
        meaning=_meaning(results),
    )


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
    return Rider(
        design=design,
        name=called(design),
        page=design_page(results, design),
        sentence=_sentence(called(design), speed, {name: found[speed, name] for name in headings}),
        limits=[
            (with_unit(at, "m/s"), [_limit(found[at, name], edge_words(columns[at, name])) for name in headings])
            for at in dict.fromkeys(at for at, _ in columns)
        ],
    )


def _limit(found: Reach, edge: str) -> Limit:
    hourly = f"{found.hourly} /h" if math.isfinite(found.height) else ""
    return Limit(limit_words(found), [line for line in (hourly, edge if found.flown else "") if line])


def edge_words(rows: pd.DataFrame) -> str:
    """Between which heights the edge of `ENOUGH` surely is, with `CONFIDENCE` each way: 'edge 5 to 9 cm'."""
    rows = rows.sort_values("height")
    heights = rows["height"].tolist()
    sure, open_ = (int(each) for each in limits(rows["clean"].to_numpy(float), rows["flights"].to_numpy(float)))
    if sure == 0 and open_ == len(heights):
        return "edge not found"
    if open_ == len(heights):
        return f"edge over {_cm(heights[sure - 1])}"
    if sure == 0:
        return f"edge under {_cm(heights[open_])}"
    return f"edge {number(heights[sure - 1])} to {_cm(heights[open_])}"


def limit_words(found: Reach) -> str:
    """A limit in cm, without the unit."""
    if not found.flown:
        return "cannot fly"
    if math.isnan(found.height):
        return f"under {number(found.least)}"
    return number(found.height) + (" or more" if found.whole else "")


def _sentence(who: str, speed: float, found: dict[str, Reach]) -> str:
    """'Design 131 keeps nine flights in ten clean up to 8 cm in head seas at 4 m/s, and up to 5 cm in following seas.'"""
    at = with_unit(speed, "m/s")
    heights = {name: 0.0 if math.isnan(each.height) else each.height for name, each in found.items()}
    best, worst = max(heights, key=lambda name: heights[name]), min(reversed(heights), key=lambda name: heights[name])
    top, least = found[best], found[worst]
    if not top.flown:
        return f"{who} cannot fly level at {at}."
    if heights[best] == 0.0:
        return f"{who} keeps {ENOUGH_FLIGHTS} clean in none of these seas at {at}, not even in waves of {_cm(top.least)}."
    reached = f"up to {_cm(top.height)}{', the highest tried,' if top.whole else ''}"
    alike = heights[best] == heights[worst] and len(found) > 1
    first = f"{who} keeps {ENOUGH_FLIGHTS} clean {reached} {_phrase(best, alike)} at {at}"
    if heights[best] == heights[worst]:
        return f"{first}."
    if heights[worst] == 0.0:
        return f"{first}, but not even {_cm(least.least)} {_phrase(worst)}."
    return f"{first}, and up to {_cm(least.height)} {_phrase(worst)}."


def _phrase(heading: str, alike: bool = False) -> str:
    return "from every direction" if alike else words_of(heading).phrase


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
    least = int(table.groupby(["speed", "height", "heading_name"])["flights"].max().min())
    each = count(most, "flight", "flights") if least == most else f"{spelled(least)} to {count(most, 'flight', 'flights')}"
    where = (
        ""
        if least == most
        else f" More flights were flown where it was in doubt on which side of {so_many_in(contour.ENOUGH)} a cell lies."
    )
    return (
        f"Each cell is {each} of {with_unit(flight.length, 's')}, of which the last "
        f"{with_unit(results.campaign.flight.scored, 's')} count; in all {grouped(int(table['flights'].sum()))} flights of "
        f"{count(designs, 'design', 'designs')} in {cells} cells. The standings did not use these waves.{where}{shown}"
        + (f" The map is not finished: {count(missing, 'cell is', 'cells are')} missing." if missing > 0 else "")
    )


def _outings(results: Results, rider: Rider) -> list[str]:
    """What the outings of a design show, which short flights do not."""
    length = with_unit(results.campaign.flight.length, "s")
    shown = sentence_of(results, rider.design)
    return [f"Each of these flights goes straight, for {length}. {rider.name} on whole outings, with starts and turns: {shown}"]


def _meaning(results: Results) -> str:
    """What `ENOUGH` comes to over an hour."""
    rate = -math.log(ENOUGH / 100.0) / results.campaign.flight.scored
    return (
        f"{so_many_in(contour.ENOUGH, 'clean flights').capitalize()}, of {with_unit(results.campaign.flight.scored, 's')} "
        "each, mean one failure in about "
        f"{number(1.0 / rate / 60.0, 2)} minutes of such flight, or {number(HOUR * rate, 2)} an hour. They do not tell how "
        "often a whole outing is clean: that is counted by itself, and stands on the card."
    )

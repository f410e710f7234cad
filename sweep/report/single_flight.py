"""One flight by itself: chosen, flown, told, and shown with its time history as CSV and as a page."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import pandas as pd

from sweep.campaign.campaign import load_campaign
from sweep.campaign.conditions import Condition, condition_table, list_conditions
from sweep.campaign.costs import with_costs
from sweep.campaign.designs import craft_of, lay_out, row_of
from sweep.campaign.draws import water_of
from sweep.campaign.plan import Search
from sweep.campaign.text.explain import nearest
from sweep.campaign.text.problems import ChoiceError
from sweep.flying.recording import Single, fly_single
from sweep.flying.replay import draw_sea
from sweep.insight.legs import legs_of
from sweep.linear.shortfall import shortfalls
from sweep.model.events import REFERENCE_LENGTH
from sweep.model.quantities import NO_TRIM, RESPONSE, RESPONSE_NAMES, STATUS_SENTENCES, STOPPED
from sweep.preflight.lacking import lacking
from sweep.report.embed import Files
from sweep.report.unknown_words import drawn_as
from sweep.results.identity import check_flown
from sweep.results.manifest import manifest_of, read_manifest
from sweep.results.plain_files import check_plain, write_whole
from sweep.results.store import Results, load_stored_campaign, searched_so_far
from sweep.words.numbers import number, with_unit
from sweep.words.phrases import called
from sweep.words.responses import response, response_title

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.report.pages.causes import Troubles
    from sweep.report.pages.ride import Ride

MOST_NAMED = 6  # conditions that a message names: judgement


class Chosen(NamedTuple):
    """A flight of a campaign; replicates count from 0, and there is no last one."""

    design: int
    condition: Condition
    replicate: int
    drawn: str = ""


def load_to_fly(path: Path, kept: Path) -> Campaign:
    """The campaign of a file or a results folder. The designs of a search are those of its results: in that folder, or for a
    file in the one of its name in `kept`. Raises as `load_campaign` and `load_stored_campaign`.
    """
    if path.is_dir():
        return load_stored_campaign(path)
    campaign = load_campaign(path)
    folder = kept / campaign.name
    if not isinstance(campaign.plan, Search) or not (folder / "manifest.json").exists():
        return campaign
    campaign = searched_so_far(folder, campaign)
    check_flown(folder, read_manifest(folder), campaign)
    return campaign


def choose(campaign: Campaign, design: int, condition: str, replicate: int) -> Chosen:
    """The flight of these names; condition: its name or its number. Raises ChoiceError."""
    row_of(campaign, design)  # which raises for a number that is none
    return Chosen(design, find_condition(list_conditions(campaign), condition), replicate, drawn_as(campaign, replicate))


def find_condition(conditions: Sequence[Condition], name: str) -> Condition:
    """The condition of this name or number; raises ChoiceError that names the nearest."""
    by_name = {condition.name: condition for condition in conditions}
    if name in by_name:
        return by_name[name]
    if name.isascii() and name.isdigit() and int(name) < len(conditions):
        return conditions[int(name)]
    near = nearest(name, by_name, MOST_NAMED) or list(by_name)[:MOST_NAMED]
    listed = "".join(f"\n  {by_name[each].index}  {each}" for each in near)
    more = f"\n  and {len(conditions) - len(near)} more" if len(conditions) > len(near) else ""
    raise ChoiceError(
        f"condition {name!r}: wanted the name or the number of a condition of this campaign, such as{listed}{more}"
    )


def fly_chosen(campaign: Campaign, chosen: Chosen, rate: float) -> Single:
    """Fly it; rate: rows a second of its history."""
    craft = craft_of(campaign, row_of(campaign, chosen.design))
    return fly_single(campaign, craft, chosen.condition, chosen.replicate, rate)


def outcome(chosen: Chosen, flight: Single) -> str:
    """How it ended, in a sentence."""
    when = f", after {number(_ended(flight))} s" if flight.status and len(flight.history) else ""
    name = f"{called(chosen.design)} in {chosen.condition.name}, replicate {chosen.replicate}"
    return " ".join([f"{name}: {STATUS_SENTENCES[flight.status]}{when}.", *([chosen.drawn] if chosen.drawn else [])])


def _ended(flight: Single) -> float:
    """When (s) its history ended, or when what its code kept it still for at the end began."""
    time, still = flight.history["time"], flight.history["stopped_by"] > 0.0
    if flight.status not in STOPPED:
        return float(time.iloc[-1])
    return float(time[(still & ~still.shift(fill_value=False))].iloc[-1])


def response_rows(flight: Single) -> list[tuple[str, str, str]]:
    """Title, value with unit and meaning of every response."""
    return [(response_title(name), response(name, flight.responses[name]), RESPONSE[name].meaning) for name in RESPONSE_NAMES]


def leg_rows(flight: Single) -> list[tuple[str, ...]]:
    """Number of every leg of the course, when it began, how long it lasted, its path and its energy a metre."""
    legs = legs_of(flight.history, REFERENCE_LENGTH)
    return [
        (
            f"{row['leg']}{', a stop' if row['stopped'] else ''}",
            *(with_unit(float(row[name]), unit) for name, unit in (("begins", "s"), ("lasts", "s"), ("path", "m"))),
            "–" if math.isnan(row["energy_per_metre"]) else with_unit(float(row["energy_per_metre"]), "J/m"),
        )
        for row in legs.to_dict("records")
    ]


def flight_text(chosen: Chosen, flight: Single) -> str:
    """The outcome and the responses, in aligned columns."""
    rows = response_rows(flight) if flight.status != NO_TRIM else []
    width = max((len(title) for title, _, _ in rows), default=0)
    legs = [f"  leg {leg}: from {begins}, {lasts}, {path}, {each}" for leg, begins, lasts, path, each in leg_rows(flight)]
    return "\n".join([outcome(chosen, flight), *(f"  {title:{width}}  {value}" for title, value, _ in rows), *legs])


def short_of(campaign: Campaign, chosen: Chosen) -> str:
    """What the craft of a flight that could not start is short of, a sentence."""
    craft = chosen.condition.fault.of(craft_of(campaign, row_of(campaign, chosen.design)))
    (short,) = shortfalls(craft, water_of(campaign), [chosen.condition.speed])
    return f"At {with_unit(short.speed, 'm/s')} {lacking(short)}."


def write_flight(campaign: Campaign, chosen: Chosen, flight: Single, folder: Path) -> None:
    """Write the files of `flight_files` into a folder; raises StoreError if something else than files and folders is in it."""
    check_plain(folder)
    for name, text in flight_files(campaign, chosen, flight).items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        write_whole(folder / name, text.encode())


def table_path(chosen: Chosen) -> str:
    """Where among the files the time history is, as CSV."""
    return f"data/ride-{chosen.design}.csv"


@dataclass(frozen=True)
class FlightPage:
    """One flight: how it ended, its ride, and what it comes to: title, value and meaning of every quantity; and leg by leg."""

    name: str
    sentences: list[str]
    ride_data: list[str]
    ride: Ride | None
    troubles: Troubles | None
    responses: list[tuple[str, str, str]]
    legs: list[tuple[str, ...]]


def flight_files(campaign: Campaign, chosen: Chosen, flight: Single) -> Files:
    """The page of a flight that started and all that it needs, by path: its history as CSV among them, and no network."""
    from sweep.report.display import craft_of_design
    from sweep.report.page import Material
    from sweep.report.pages.cautions import cautions_page
    from sweep.report.pages.frame import Link
    from sweep.report.pages.ride import recorded_of
    from sweep.report.publishing import frame_of, page_templates, parts, write_page

    design, condition, about = chosen.design, chosen.condition, _results(campaign, chosen, flight)
    craft = craft_of_design(about, design)
    seas = {condition.index: draw_sea(campaign, condition, chosen.replicate)}
    ride, data, troubles, files = recorded_of(Material(about, (), pd.DataFrame(), seas), design, craft)
    assert ride is not None
    page = FlightPage(
        name=f"{called(design)} in {condition.name}",
        sentences=[outcome(chosen, flight)],
        ride_data=data,
        ride=replace(ride, recorded=f"One flight, replicate {chosen.replicate}."),
        troubles=troubles,
        responses=response_rows(flight),
        legs=leg_rows(flight),
    )
    links = (Link("index.html", "The flight"), Link("cautions.html", "Cautions"))
    frame, templates = replace(frame_of(about), pages=links), page_templates()
    return {
        **files,
        "index.html": write_page(templates, "flight.html", replace(frame, here="index.html"), page),
        "cautions.html": write_page(templates, "cautions.html", replace(frame, here="cautions.html"), cautions_page(about)),
        **parts(),
    }


def _results(campaign: Campaign, chosen: Chosen, flight: Single) -> Results:
    """What the site's functions want to know, of one flight that no folder holds."""
    designs = lay_out(campaign).loc[sorted({0, chosen.design})]
    none = pd.DataFrame()
    return Results(
        campaign=campaign,
        designs=with_costs(campaign, designs),
        conditions=condition_table(list_conditions(campaign)),
        flights=none,
        standings=none,
        limits=none,
        leaders={chosen.design: flight.history},
        manifest=replace(manifest_of(campaign, len(designs), 1, {}), started=""),  # a flight by itself bears no date
    )

"""The card for the water: what to set, what to expect, what to try in which order, and when to stop.

The first runs, the steps after them and the cures are flown in the model before they are told.
"""

from __future__ import annotations

import functools
import math
import pickle
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import pandas as pd

from sweep.campaign.draws import water_of
from sweep.linear.reach import reach as reach_of
from sweep.linear.stability import limit_words, share_headings, share_words, spans_within, speed_words
from sweep.linear.table import stability_table
from sweep.model.pack.mass import mass_properties
from sweep.model.quantities import RESPONSE
from sweep.preflight.cures import cures
from sweep.preflight.first_runs import FirstRuns, NoRuns, first_runs
from sweep.report.craft_sheet import gains
from sweep.report.pages.first_runs import cure_rows, evidence, no_recipe, steps
from sweep.report.pages.rides import headings_of, reach, ride_table
from sweep.report.pages.rides import limit_words as highest_waves
from sweep.words.numbers import number, with_unit
from sweep.words.phrases import together
from sweep.words.responses import response

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft
    from sweep.results.store import Results

Rows = list[tuple[str, ...]]

EXPECTED = ("ride_height_error", "ride_height_error_p99", "touchdowns")
MOST_ROWS, MOST_SPEEDS = 9, 4
"""What one sheet of paper holds."""

MOST_TOUCHDOWNS = "six times a minute"


def tables(results: Results, design: int, craft: Craft) -> dict[str, Any]:
    """All that the card sets out; the first runs are flown for it."""
    flights = results.flights_of(design)
    headings, trims = _trims(results, design, craft)
    reach_headings, reaches = _reaches(results, design)
    return {
        "trim_headings": headings,
        "trims": trims,
        "expected": _expected(results, flights),
        "left_out": max(0, len(results.conditions) - MOST_ROWS),
        "signs": list(signs(craft)),
        "reach_headings": reach_headings,
        "reaches": reaches,
        "stops": list(_stops(results, flights)),
        **_first_runs(_Asked(results.campaign, craft)),
    }


class _Asked:
    """A craft and the campaign that it flies in, told apart by all that first runs depend on."""

    def __init__(self, campaign: Campaign, craft: Craft) -> None:
        self.campaign, self.craft = campaign, craft
        met = (campaign.water, campaign.seas, campaign.speeds, campaign.replicates, campaign.flight)
        self.content = pickle.dumps((craft, *met))

    def __hash__(self) -> int:
        return hash(self.content)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Asked) and self.content == other.content


@functools.lru_cache(maxsize=64)
def _first_runs(asked: _Asked) -> dict[str, Any]:
    """What to set, the steps and the cures as flown, and how far gains and speeds may go; no step without a sound first run.

    Kept, for it takes a second or two: the same site is written more than once.
    """
    campaign, craft = asked.campaign, asked.craft
    runs = first_runs(campaign, craft)
    headings, shares, stable = _shares(campaign, craft, runs)
    told: dict[str, Any] = {"share_headings": headings, "shares": shares, "stable": stable}
    if isinstance(runs, NoRuns):
        return told | {"set_headings": [], "gains": _set(craft), "steps": [], "evidence": no_recipe(runs), "cures": []}
    less = runs.setting.share < 1.0
    return told | {
        "set_headings": ["first runs", "then"] if less else [],
        "gains": [(*first, then) for first, (_, then) in zip(_set(runs.craft), _set(craft), strict=True)]
        if less
        else _set(craft),
        "steps": list(steps(runs, craft)),
        "evidence": list(evidence(campaign, craft, runs)),
        "cures": cure_rows(cures(campaign, craft, runs)),
    }


def _set(craft: Craft) -> Rows:
    return [("ride height of the keel", with_unit(100.0 * craft.control.ride_height, "cm")), *gains(craft)]


def _shares(campaign: Campaign, craft: Craft, runs: FirstRuns | NoRuns) -> tuple[list[str], Rows, str]:
    """Least and most of each gain at some speeds, a row a gain, and a sentence on the speeds that are stable."""
    water = water_of(campaign)
    found = reach_of(craft, water, campaign.speeds)
    if found is None:
        return [], [], ""
    first = [] if isinstance(runs, NoRuns) else [runs.setting.speed]
    wanted = sorted({*first, *(speed for speed in campaign.speeds if found.low <= speed <= found.high)})[:MOST_SPEEDS]
    rows = [row for row in stability_table(craft, water, wanted) if row.trims]
    known = {row.speed: row.slowest.real for row in rows}
    names = share_headings(rows)[1:]
    columns = [share_words(row) for row in rows]
    table: Rows = [(name, *(column[at] for column in columns)) for at, name in enumerate(names)]
    return [speed_words(row.speed) for row in rows], table, limit_words(spans_within(craft, water, found, known), found)


def _trims(results: Results, design: int, craft: Craft) -> tuple[list[str], Rows]:
    """Throttle, pitch and foil angles at each speed, on average in the calmest recorded flight that lasted."""
    history, flight = results.leaders[design], results.campaign.flight
    columns = {"throttle": ("throttle", "%"), "pitch": ("pitch", "deg")}
    columns |= {f"foil_{foil}": (foil, "deg") for foil in craft.foils}
    held = {name: column for name, column in columns.items() if name in history}
    lasted = history.groupby("condition")["time"].max() if len(history) else pd.Series(dtype=float)
    conditions = results.conditions[results.conditions["condition"].isin(lasted[lasted > 0.9 * flight.length].index)]
    means: dict[str, pd.Series] = {}
    for speed, some in list(conditions.groupby("speed"))[:MOST_SPEEDS]:
        calmest = history["condition"] == some.sort_values("sea_height", kind="stable")["condition"].iloc[0]
        scored = history["time"] >= flight.settle
        means[with_unit(float(str(speed)), "m/s")] = history.loc[calmest & scored, list(held)].mean()
    rows = [(name, *(_held(mean[key], unit) for mean in means.values())) for key, (name, unit) in held.items()]
    return list(means), rows if means else []


def _held(value: float, unit: str) -> str:
    return f"{100.0 * value:.0f} %" if unit == "%" else f"{round(math.degrees(value), 1) + 0.0:.1f} deg"  # no minus zero


def _expected(results: Results, flights: pd.DataFrame) -> Rows:
    """Ride-height error, what one moment in a hundred exceeds, and touchdowns, by condition; the worst of many."""
    means = flights.groupby("condition")[list(EXPECTED)].mean()
    worst = means.sort_values("ride_height_error", ascending=False, kind="stable").index[:MOST_ROWS]
    names = dict(zip(results.conditions["condition"], results.conditions["name"], strict=True))
    return [
        (str(names[row["condition"]]), *(response(name, float(row[name])) for name in EXPECTED))
        for row in means[means.index.isin(worst)].reset_index().to_dict("records")
    ]


def signs(craft: Craft) -> Iterator[tuple[str, str]]:
    """What must move which way on the bench: what to do, what to see."""
    centre = mass_properties(craft).centre
    ahead = [name for name, foil in craft.foils.items() if foil.x > centre[0]]
    behind = [name for name, foil in craft.foils.items() if foil.x <= centre[0]]
    port = [name for name, foil in craft.foils.items() if foil.y < -1e-3]
    starboard = [name for name, foil in craft.foils.items() if foil.y > 1e-3]
    if not craft.control.traits.levels:
        yield from _foil_by_foil(craft)
    else:
        yield "Hold a board under the rangefinders, closer than the ride height.", "Every foil turns nose up."
        yield "Lift the bow.", " ".join(filter(None, [_turn(ahead, "down"), _turn(behind, "up")]))
        if port and starboard:
            yield "Lower the starboard side.", f"{_turn(starboard, 'up')} {_turn(port, 'down')}"
    rudder = craft.steering.rudder
    if rudder is not None:
        side = "port" if craft.foils[rudder].x <= centre[0] else "starboard"
        yield "Swing the bow to starboard of its course.", f"The strut of foil {rudder} turns its trailing edge to {side}."


def _foil_by_foil(craft: Craft) -> Iterator[tuple[str, str]]:
    """Of the law without an inertial unit: foil i answers rangefinder i, or they take turns."""
    names, count = list(craft.foils), craft.rangefinders.count
    for at in range(min(count, len(names))):
        which = "the rangefinder" if count == 1 else f"rangefinder {at + 1}"
        yield f"Hold a board under {which}, closer than the ride height.", f"{_turn(names[at::count], 'up')} No other moves."


def _turn(names: list[str], way: str) -> str:
    """'Foil bow turns nose up.'"""
    if not names:
        return ""
    return f"{'Foil' if len(names) == 1 else 'Foils'} {together(names)} {'turns' if len(names) == 1 else 'turn'} nose {way}."


def _reaches(results: Results, design: int) -> tuple[list[str], Rows]:
    """The highest waves with enough clean flights, by heading and speed, if the design was mapped."""
    table = ride_table(results)
    mine = table[table["design"] == design]
    speeds = sorted(mine["speed"].unique())[:MOST_SPEEDS]
    rows: Rows = []
    for heading in headings_of(results)[:MOST_ROWS] if speeds else []:
        there = mine[mine["heading_name"] == heading]
        rows.append((heading, *(highest_waves(reach(there[there["speed"] == speed])) for speed in speeds)))
    return [with_unit(speed, "m/s") for speed in speeds], rows


def _stops(results: Results, flights: pd.DataFrame) -> Iterator[str]:
    worst = float(flights.groupby("condition")["ride_height_error_p99"].mean().max())
    if math.isfinite(worst):
        off = response("ride_height_error_p99", worst)
        yield f"The keel is {off} off its height again and again: here that takes the model's worst moments."
    limit = results.campaign.limits.get("touchdowns")
    often = f"{number(limit.value * RESPONSE['touchdowns'].scale)} times a minute" if limit else MOST_TOUCHDOWNS
    yield f"It touches down more than {often}, a foil comes out twice in a minute, or it rolls past 20 degrees."
    fastest = with_unit(max(results.campaign.speeds), "m/s")
    yield f"It would have to go faster than {fastest}: nothing here was flown beyond that."
    yield "The link drops once; a reading freezes; a servo is hot; anything is loose, bent or wet inside."
    yield "A person, a boat or an animal comes within the distance that the boat needs to stop."

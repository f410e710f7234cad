"""The card for the water: what to set, what to expect, what to try in which order, and when to stop.

What the steps and the cures say is common practice, without a source; the numbers are the design's own.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import pandas as pd

from sweep.accounts.rides import headings_of, limit_words, reach, ride_table
from sweep.model.mass import mass_properties
from sweep.model.quantities import RESPONSE
from sweep.sheet import gains
from sweep.wording import number, response, together, with_unit

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft
    from sweep.store import Results

Rows = list[tuple[str, ...]]

EXPECTED = ("ride_height_error", "ride_height_error_p99", "touchdowns")
MOST_ROWS, MOST_SPEEDS = 9, 4
"""What one sheet of paper holds."""

MOST_TOUCHDOWNS = "six times a minute"
STEPS = {
    "": (
        "On the bench, propeller off: the signs, then cut the link and see the throttle close.",
        "Flat water, half of every gain, the lowest speed that flies. Short runs, straight, towards nobody.",
    ),
    "attitude": (
        "Roll first: raise it until the boat stands up at once, and lower it by a third where it trembles.",
        "Then pitch, the same way.",
        "Then height, proportional, from half up to this card; derivative and integral last, in thirds.",
    ),
    "each-foil": (
        "Set each foil's angle at rest so that the boat flies level; then raise the gain from half up to this card.",
        "Lower it by a third where the boat trembles. This law knows no roll or pitch: the foils hold them together.",
    ),
    "after": (
        "Faster by half a metre a second at a time, up to the speeds of this card.",
        "The smallest waves first, head seas before following ones.",
    ),
}
CURES: dict[str, tuple[tuple[str, str], ...]] = {
    "attitude": (
        ("porpoises, slowly and more and more", "height, proportional, down by a third; pitch, derivative, up by a third"),
        ("trembles, quickly", "roll and pitch, proportional, down by a third; then the derivatives"),
        ("sinks onto its hull", "faster; then height, integral, up; look at the centre of gravity"),
        ("tips", "roll, proportional, up by a third; turn more gently; see that both sides are alike"),
        ("leaves the water on crests", "ride height 1 cm down; then height, proportional, down by a third"),
        ("slams into every crest", "ride height 1 cm up; then height, proportional, up by a third"),
    ),
    "each-foil": (
        ("porpoises, slowly and more and more", "the gain down by a third"),
        ("trembles, quickly", "the gain down by a third; look for a late or a noisy rangefinder"),
        ("sinks onto its hull", "faster; look at the centre of gravity"),
        ("tips", "the angle at rest of the low side up by half a degree; see that both sides are alike"),
        ("leaves the water on crests", "ride height 1 cm down"),
        ("slams into every crest", "ride height 1 cm up; then the gain up by a third"),
    ),
}


def tables(results: Results, design: int, craft: Craft) -> dict[str, Any]:
    """All that the card sets out."""
    kind = "each-foil" if craft.control.law == "each-foil" else "attitude"
    flights = results.flights_of(design)
    headings, trims = _trims(results, design, craft)
    reach_headings, reaches = _reaches(results, design)
    return {
        "gains": [("ride height of the keel", with_unit(100.0 * craft.control.ride_height, "cm")), *gains(craft)],
        "trim_headings": headings,
        "trims": trims,
        "expected": _expected(results, flights),
        "left_out": max(0, len(results.conditions) - MOST_ROWS),
        "signs": list(signs(craft)),
        "steps": [*STEPS[""], *STEPS[kind], *STEPS["after"]],
        "cures": CURES[kind],
        "reach_headings": reach_headings,
        "reaches": reaches,
        "stops": list(_stops(results, flights)),
    }


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
    if craft.control.law == "each-foil":
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
    """The highest waves with nine clean flights in ten, by heading and speed, if the design was mapped."""
    table = ride_table(results)
    mine = table[table["design"] == design]
    speeds = sorted(mine["speed"].unique())[:MOST_SPEEDS]
    rows: Rows = []
    for heading in headings_of(results)[:MOST_ROWS] if speeds else []:
        there = mine[mine["heading_name"] == heading]
        rows.append((heading, *(limit_words(reach(there[there["speed"] == speed])) for speed in speeds)))
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

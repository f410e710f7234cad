"""Flights with a start or a turn whose trouble comes of it: the same boat in the same waves has none where it goes straight.

Each kind makes a boat worse at one thing that a start or a turn asks for. A flight counts as planted if the same boat is clean
straight on (without a fault), and along the course something bad happens after the turn or the start has begun, which does not
happen, or happens later, to the boat without the plant. The rules of
`sweep.insight.turning` were written and adjusted on the courier and the surveyor in blocks 5 and 7 (65 of 66 right, their own
data). Looked at once when they stood: block 11 of both (20 of 23 right) and the strangers (29 of 29). Then the rule on the bank
came before the one on growing roll, which had taken two hasty turns for an oscillation.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from sweep.campaign.conditions import NO_TURN
from sweep.campaign.courses import Leg, NamedCourse
from sweep.campaign.text.problems import CampaignError
from sweep.insight.causes import name_causes
from sweep.insight.events import list_events
from tests.insight.plants import LENGTH, SETTLE, Plant, boat_of, craft_of_boat, fly_plant

AHEAD, EARLIER = 6.0, 0.3
"""s from the settling time to the turn; s that a plant's event must come before one of the sound boat along the same course."""


def _course(name: str, *legs: dict[str, str]) -> NamedCourse:
    return NamedCourse(name=name, legs=tuple(map(Leg.model_validate, legs)))


TURNS = {way: _course(f"turn of {way}", {"time": f"{AHEAD} s"}, {"turn": way, "time": "8 s"}) for way in ("70 deg", "-150 deg")}
START = _course("start", {"stop": "2 s"}, {"time": "12 s"})


class Along(NamedTuple):
    """A plant, the course that it is flown along, and when (s) what that asks for begins."""

    plant: Plant
    course: NamedCourse
    begins: float


def turn_plants(name: str) -> Iterator[Along]:
    """Every plant for a boat, along every turn, and those of a start."""
    for course in TURNS.values():
        yield from (Along(plant, course, SETTLE + AHEAD) for plant in _of_turns(name))
    for share in (0.3, 0.5, 3.0):
        height = {"control.height.proportional": share}
        yield Along(Plant("a start, height gain", "start", times=height), START, SETTLE)


def _of_turns(name: str) -> Iterator[Plant]:
    craft = craft_of_boat(name)
    beam = max(abs(foil.y) for foil in craft.foils.values())
    for high in (1.4, 1.7, 2.0):
        tall, weak = {"body.height": craft.body.height + high * beam}, {"control.roll.proportional": 0.3}
        yield Plant(
            "a tall load, a weak roll loop", "rolled out of a turn", times=weak, sets=tall | {"control.roll.integral": 0.0}
        )
    for degrees in (50.0, 70.0, 90.0):
        bank = {"control.turn_rate": math.radians(degrees), "control.bank_share": 1.2}
        yield Plant("all the bank of a hasty turn", "banked too far into a turn", sets=bank)
    for share in (0.5, 0.3):
        hasty = {"control.turn_rate": math.radians(60.0), "control.height.integral": 0.0}
        yield Plant(
            "a hasty turn, a weak height loop", "sank in a turn", times={"control.height.proportional": share}, sets=hasty
        )
    for lost in ("80 %", "90 %", "100 %"):
        fault = {"no_thrust": {"lost": lost, "from": f"{SETTLE + AHEAD + 0.1} s"}}
        yield Plant("the drive fails as it turns", "speed lost in a turn", fault=fault)


def named_along(boat: str, along: Along, block: int) -> tuple[str, str] | None:
    """The cause of the first event of a planted flight, and why; None if it is no plant."""
    try:
        flown, straight, sound = (
            fly_plant(boat, plant, block, course)
            for plant, course in (
                (along.plant, along.course),
                (along.plant._replace(fault={}), NO_TURN),
                (Plant("nothing", ""), along.course),
            )
        )
    except CampaignError:
        return None
    if flown.clean or flown.history.empty or not straight.clean:
        return None
    events, others = (list_events(each.history, each.craft, SETTLE, LENGTH) for each in (flown, sound))
    begins = math.inf if events.empty else float(events["begin"].iloc[0])
    before = math.inf if others.empty else float(others["begin"].iloc[0])
    if not along.begins <= begins < before - EARLIER:
        return None
    first = name_causes(flown.history, events, flown.craft, {0: boat_of(boat).speed}).iloc[0]
    return str(first["cause"]), str(first["why"])

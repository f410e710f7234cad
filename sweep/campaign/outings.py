"""Whole outings of the finalists: ten minutes from rest, with two turns, a stop and another start, in the campaign's seas.

Each design flies the same outings. They are spread evenly over the seas, headings and speeds of the campaign, without its
faults and courses; each has waves of its own. A sea with a packet of waves is left out: it meets a craft that goes straight.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import groupby
from typing import TYPE_CHECKING, Any, NamedTuple

from sweep.campaign.conditions import Condition, list_conditions
from sweep.campaign.courses import Leg, NamedCourse
from sweep.campaign.faults import NamedFault
from sweep.campaign.flight import Flight
from sweep.campaign.follow_up_plan import sample
from sweep.campaign.text.dimensions import quantity
from sweep.model.compiled import LANES
from sweep.words.numbers import spelled

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign

LENGTH, LIES = 600.0, 5.0
"""s: of an outing, and how long the craft lies afloat before it is told to go (judgement)."""
STARTS = 2
"""How often the craft must take off."""
LEGS = (
    {"time": "160 s"},
    {"time": "120 s", "turn": "90 deg"},
    {"time": "120 s", "turn": "-90 deg"},
    {"stop": "30 s"},
    {"time": "165 s"},
)
"""Out, a quarter turn to starboard and back again, a stop, and on (judgement)."""
OUTING = NamedCourse(name="outing", legs=tuple(map(Leg.model_validate, LEGS)))
SHORTLY = 15.0
"""s: what happens so soon after a leg has begun is put down to its turn or start (judgement)."""
LONGER_SEA = 1.35
"""Cost of a second along a course, with its more components, over one of a straight flight (measured)."""


MOST_SEEN = 3
"""Failed outings of each design that are flown again for their causes (judgement)."""
SEEN_FOR = 0.5
"""Share of an outing that these take until what failed first (judgement)."""


class Out(NamedTuple):
    """One outing: the place of its condition among `conditions_of`, and its replicate."""

    condition: int
    replicate: int


def as_outings(campaign: Campaign) -> Campaign:
    """The campaign with flights as long as an outing, from rest, along its course."""
    flight = Flight.model_construct(start="rest", length=LENGTH, settle=LIES, seed=campaign.flight.seed)
    return campaign.model_copy(update={"flight": flight, "faults": (NamedFault(),), "courses": (OUTING,)})


def conditions_of(campaign: Campaign) -> tuple[Condition, ...]:
    """Every sea with every heading and speed that outings may be flown in."""
    return list_conditions(as_outings(campaign))


def list_outings(campaign: Campaign) -> list[Out]:
    """All outings of a design, those of one speed together: so lanes are full."""
    conditions = conditions_of(campaign)
    if not conditions or not campaign.outings:
        return []
    chosen = sample(conditions, campaign.outings)
    outs = [Out(chosen[at % len(chosen)].index, at // len(chosen)) for at in range(campaign.outings)]
    return sorted(outs, key=lambda out: (conditions[out.condition].speed, out))


def simulated(campaign: Campaign, designs: int) -> float:
    """What the outings of so many designs and their causes cost, in simulated seconds of straight flights, lanes full."""
    groups = [len(together) for together in _side_by_side(conditions_of(campaign), list_outings(campaign))]
    batches = sum(math.ceil(outings * designs / LANES) for outings in groups)
    seen = sum(math.ceil(min(outings, MOST_SEEN) * designs / LANES) for outings in groups)
    return (batches + SEEN_FOR * seen) * LANES * LENGTH * LONGER_SEA


def _side_by_side(conditions: tuple[Condition, ...], outings: list[Out]) -> Iterator[list[Out]]:
    """Outings that fly side by side: of one speed."""
    return (list(alike) for _, alike in groupby(outings, key=lambda out: conditions[out.condition].speed))


def phase(time: float) -> str:
    """When in an outing something happened, at a scored time (s), to be said after what it was."""
    begins = 0.0
    starts = True
    for leg in OUTING.legs:
        if begins <= time < begins + SHORTLY:
            return " in a start" if starts else " in a turn" if leg.turn else " in the stop" if leg.stop else ""
        starts = leg.stop is not None
        begins += leg.time or leg.stop or 0.0
    return ""


def content(campaign: Campaign, designs: list[int]) -> dict[str, Any]:
    """What the outings depend on beside what the campaign's flights do, as JSON."""
    course = OUTING.model_dump(mode="json", exclude={"name"})
    return {"outings": campaign.outings, "designs": designs, "length": LENGTH, "lies": LIES, "course": course}


def course_words() -> str:
    """What an outing is, in words."""
    stop = quantity(sum(leg.stop or 0.0 for leg in OUTING.legs), "s")
    minutes = spelled(round(LENGTH / 60.0))
    return f"{minutes} minutes from rest, with a quarter turn to starboard, one back, a stop of {stop} and another start"

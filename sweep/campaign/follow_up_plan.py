"""How much is flown after the campaign's own flights: the leaders recorded, mapped, explained and changed. It is known before.

All that nobody asked for takes at most `SHARE` of the time of the campaign's flights, or `LEAST` if that is more. It is
reckoned in simulated seconds by counts alone, never by a clock: the same campaign takes the same samples everywhere. What a
campaign asks for itself, a map or tolerances, is flown in full and does not count.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sweep.campaign.plan import Search
from sweep.campaign.ride_map import RideMap
from sweep.campaign.search_plan import flights_of

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.conditions import Condition

LEADERS = 3
"""Number of leading designs whose flights are recorded (judgement)."""
FOLLOWED = LEADERS + 1
"""Designs that fly again after the flights: the leaders and the base craft."""
SHARE = 0.5
"""Largest share of the time of the campaign's flights for what it does not ask for (judgement)."""
PACE = 4000.0
"""Simulated seconds a processor second with all lanes full (the demos: 4 000 to 5 800, measured on a busy machine)."""
LEAST = 20.0 * PACE
"""Simulated seconds that what follows may always take: twenty seconds of one processor (judgement)."""
RECORDED, EXPLAINED = 1.3, 3.0
"""Cost of a recorded flight, and of one whose events are explained, over a plain one's (measured)."""
BLOCK = 10.0
"""Cost of drawing the sea and noise of a block and packing its craft, in simulated seconds (measured)."""
VARIANTS = 56
"""Flights of a block of small changes: both groups of variants and the leader beside each, about."""

SETTLED_SHARE = 1.0
"""Simulated seconds of settling without a deadline, over those of the sweep (judgement)."""
SHARE_ON_CLOCK = 0.1
"""Largest share of the time of one processor for what nobody asks for, where the clock ends a run (judgement)."""
MOST_SETTLED, MOST_SETTLED_ON_CLOCK = 32, 4096
"""Replicates of a condition that settling may add, without a deadline and with one (judgement)."""
MOST_CHANGED_ON_CLOCK = 512
"""Replicates of a condition that small changes may fly through where a clock leaves time for them (judgement)."""

MOST_RECORDED, MOST_CONDITIONS = 12_000.0, 50
"""Simulated seconds of each leader that are kept as time histories, half a million rows; conditions that a page can draw.

Judgement: with 200 conditions the pages took three times as long as the flights.
"""
MOST_EXPLAINED = 12
"""Flights of a design that are flown again for their causes (judgement): each takes about 0.1 MB."""
REPLICATES = 4
"""Fresh flights in each condition of a small change, and of a craft as built a little off (judgement)."""
FEWEST = 2
"""Least replicates that give a change its interval: conditions are left out rather than replicates."""
GOLDEN, TIE, KINDS = 0.6180339887498949, 1e-3, 4
"""The golden ratio, whose multiples spread evenly; how much less what breaks a tie weighs (judgement); kinds of `_kinds`."""


class Tail(NamedTuple):
    """recorded, changed: in so many conditions; explained: flights of a design; replicates: of the changes in each condition.

    cost: simulated seconds of all, with full lanes, without what the campaign asks for.
    """

    recorded: int
    explained: int
    map: RideMap | None
    changed: int
    replicates: int
    cost: float


def plan_tail(campaign: Campaign, designs: int, conditions: int, spare: float | None = None) -> Tail:
    """What is flown after the flights of so many designs in so many conditions, whatever their outcome.

    spare: seconds of one processor that it may take, if the clock ends the run.
    """
    length = campaign.flight.length
    leaders = FOLLOWED if isinstance(campaign.plan, Search) else min(FOLLOWED, designs)
    budget = max(SHARE * simulated(campaign, designs, conditions), LEAST)
    if spare is not None:
        budget = min(budget, spare * PACE)
    each = RECORDED * leaders * length + BLOCK
    recorded = max(1, _fit(min(conditions, MOST_CONDITIONS, int(MOST_RECORDED / length)), budget / 4, each))
    spent = recorded * each
    each = leaders * (EXPLAINED * length + BLOCK)
    explained = _fit(MOST_EXPLAINED, budget / 8, each)
    spent += explained * each
    ride_map = campaign.map
    if ride_map is not None and not ride_map.asked:
        ride_map = _fitting(ride_map, (budget - spent) / 2, leaders * length + BLOCK)
        spent += len(ride_map.cells()) * ride_map.replicates * (leaders * length + BLOCK) if ride_map else 0.0
    each = VARIANTS * length + 2.0 * BLOCK
    changed, replicates = changes_for(budget - spent, conditions, each, REPLICATES)
    spent += changed * replicates * each
    return Tail(recorded, explained, ride_map, changed, replicates, spent)


def changes_for(budget: float, conditions: int, each: float, most: int) -> tuple[int, int]:
    """In how many conditions, and with how many replicates (`most` at most), small changes fit into so many simulated seconds.

    each: cost of a block.
    """
    blocks = _fit(conditions * most, max(budget, 0.0), each)
    replicates = max(FEWEST, blocks // max(conditions, 1))
    return min(conditions, blocks // replicates), replicates


def settles(campaign: Campaign) -> bool:
    """Whether the leading designs fly on after the sweep or the race."""
    return campaign.fly_on == "usual"


def most_settled(campaign: Campaign) -> int:
    """How many replicates settling may add to a condition."""
    if not settles(campaign):
        return 0
    return MOST_SETTLED_ON_CLOCK if campaign.budget and campaign.budget.on_clock else MOST_SETTLED


def first_fresh(campaign: Campaign) -> int:
    """The first replicate that no design was chosen by."""
    return campaign.replicates + most_settled(campaign)


def simulated(campaign: Campaign, designs: int, conditions: int) -> float:
    """Simulated seconds of a campaign's own flights, before any fly on; of a search, about."""
    if isinstance(campaign.plan, Search) and campaign.plan.designs is not None:
        return flights_of(campaign, conditions) * campaign.flight.length
    whole = designs * conditions * campaign.replicates * campaign.flight.length
    budget = campaign.budget
    return whole if budget is None or budget.simulated is None else min(whole, budget.simulated)


def _fit(most: int, budget: float, each: float) -> int:
    """How many at this cost fit into a budget, `most` at most."""
    return min(most, int(budget / each))


def _fitting(ride_map: RideMap, budget: float, each: float) -> RideMap | None:
    """A map that fits into a budget: fewer replicates, or else fewer heights, then one speed; None if none fits."""
    lower = ride_map.model_copy(update={"heights": ride_map.heights[1::2] or ride_map.heights})
    middle = lower.model_copy(update={"speeds": lower.speeds[len(lower.speeds) // 2 :][:1]})
    for some in (ride_map, lower, middle):
        if replicates := min(ride_map.replicates, int(budget / (len(some.cells()) * each))):
            return some.model_copy(update={"replicates": replicates})
    return None


def sample(conditions: Sequence[Condition], count: int) -> list[Condition]:
    """So many of the conditions, in order: each sea, heading, speed and fault as often as the others of its kind, or nearly.

    Next comes the condition whose sea, heading, speed and fault are the rarest so far, and then the rarest in pairs. A larger
    sample contains the smaller one.
    """
    kinds = list(zip(*map(_kinds, conditions), strict=True))
    levels = [np.unique(kind, return_inverse=True)[1] for kind in kinds]
    taken = [np.zeros(level.max() + 1) for level in levels]
    chosen: list[int] = []
    while len(chosen) < min(count, len(conditions)):
        common = TIE * TIE * ((np.arange(len(conditions)) * GOLDEN) % 1.0)
        for kind, (seen, level) in enumerate(zip(taken, levels, strict=True)):
            common += (1.0 if kind < KINDS else TIE) * len(seen) * seen[level] / len(conditions)
        common[chosen] = np.inf
        chosen.append(int(common.argmin()))
        for seen, level in zip(taken, levels, strict=True):
            seen[level[chosen[-1]]] += 1.0
    return [conditions[number] for number in sorted(chosen)]


def _kinds(condition: Condition) -> list[str]:
    """A condition's value of each of `KINDS`, and then of each pair of them."""
    what = (condition.fault.name, condition.course.name)
    alone = [condition.sea.name, condition.heading.name, repr(condition.speed), " ".join(what)]
    return [*alone, *(" ".join(pair) for pair in combinations(alone, 2))]

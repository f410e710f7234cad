"""The flight that a design's vectors are taken from: the roughest of the campaign that the design lasts through."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from sweep.campaign.conditions import SOUND, Condition, list_conditions
from sweep.campaign.draws import draw_block, water_of
from sweep.export.flown import FlownTick, fly_ticks, without_quanta
from sweep.export.settings import Law, range_age
from sweep.model.pack.fleet import build_fleets

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign

BEGIN, TICKS = 2.0, 200
"""s after the start in trim, when the sea has its full height; and as many ticks as fit a small board's memory (judgement)."""
MOST_TRIED = 10
"""Conditions, from the roughest to the calmest (judgement)."""


class Recorded(NamedTuple):
    """A condition, and ticks of a flight in it."""

    condition: Condition
    ticks: list[FlownTick]


def record(campaign: Campaign, law: Law) -> Recorded | None:
    """The ticks of the roughest flight that lasts; None if none does."""
    sound = [condition for condition in list_conditions(campaign) if condition.fault == SOUND]
    rough = sorted(sound, key=lambda condition: -condition.sea.height)
    every = max(-(-len(rough) // MOST_TRIED), 1)
    for condition in rough[::every]:
        ticks = _fly(campaign, law, condition)
        if len(ticks) == TICKS and longest_silence(law, ticks) < range_age(law):
            return Recorded(condition, ticks)
    return None


def _fly(campaign: Campaign, law: Law, condition: Condition) -> list[FlownTick]:
    """The ticks from `BEGIN` on, none if the design has no trim at this speed."""
    ((_, fleet),) = build_fleets([law.craft], water_of(campaign), condition.speed)
    if not fleet.feasible.all():
        return []
    first = round(BEGIN / fleet.structure.period)
    length = (first + TICKS) * fleet.structure.period
    shorter = campaign.model_copy(update={"flight": campaign.flight.model_copy(update={"length": length, "settle": BEGIN})})
    block = draw_block(shorter, condition, 0)._replace(from_rest=False)
    return [tick for tick in fly_ticks(without_quanta(fleet), block) if tick.number >= first]


def longest_silence(law: Law, ticks: Sequence[FlownTick]) -> float:
    """The longest time (s) in which a rangefinder that is used gave no reading."""
    period, longest = 1.0 / law.craft.control.rate, 0.0
    for sensor, trust in enumerate(law.craft.rangefinders.of_each("trust")):
        silent = 0
        for tick in ticks:
            heard = any(which == sensor for which, _ in tick.given.ranges)
            silent = 0 if heard else silent + 1
            longest = max(longest, silent * period if trust > 0.0 else 0.0)
    return longest

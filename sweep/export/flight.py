"""The flight that a design's vectors are taken from: the roughest of the campaign that the design lasts through."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sweep.campaign.conditions import SOUND, Condition, list_conditions
from sweep.campaign.draws import draw_block, water_of
from sweep.export.flown import FlownTick, fly_ticks, without_quanta
from sweep.export.settings import Law
from sweep.model.onboard.faults import COLUMNS, DISARMED, KIND, LOST_LINK, START, STOP, WHICH
from sweep.model.onboard.safety import LONGEST_LINK_AGE
from sweep.model.pack.fleet import build_fleets

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign

BEGIN, TICKS = 2.0, 200
"""s after the start in trim, when the sea has its full height; and as many ticks as fit a small board's memory (judgement)."""
STOPS, OFF, ON = 160, 170, 180
"""Ticks, of those, at which the link has been lost for too long, the switch goes off, and on again (judgement)."""
MOST_TRIED = 10
"""Conditions, from the roughest to the calmest (judgement)."""


class Recorded(NamedTuple):
    """A condition, and ticks of a flight in it; stops: whether they have the safe state."""

    condition: Condition
    ticks: list[FlownTick]
    stops: bool


def record(campaign: Campaign, law: Law) -> Recorded | None:
    """The ticks of the roughest flight that lasts; None if none does.

    Towards its end the link is lost and the boat armed again, unless no flight lasts through that.
    """
    sound = [condition for condition in list_conditions(campaign) if condition.fault == SOUND]
    rough = sorted(sound, key=lambda condition: -condition.sea.height)
    every = max(-(-len(rough) // MOST_TRIED), 1)
    for stops in (True, False):
        for condition in rough[::every]:
            ticks = _fly(campaign, law, condition, stops)
            until = STOPS if stops else TICKS
            if len(ticks) == TICKS and not any(tick.commanded.stopped_by for tick in [*ticks[:until], ticks[-1]]):
                return Recorded(condition, ticks, stops)
    return None


def _fly(campaign: Campaign, law: Law, condition: Condition, stops: bool) -> list[FlownTick]:
    """The ticks from `BEGIN` on, none if the design has no trim at this speed."""
    ((_, fleet),) = build_fleets([law.craft], water_of(campaign), condition.speed)
    if not fleet.feasible.all():
        return []
    first, period = round(BEGIN / fleet.structure.period), fleet.structure.period
    length = (first + TICKS) * period
    shorter = campaign.model_copy(update={"flight": campaign.flight.model_copy(update={"length": length, "settle": BEGIN})})
    block = draw_block(shorter, condition, 0)._replace(from_rest=False)
    if stops:
        block = block._replace(faults=_safe_state(first, period))
    return [tick for tick in fly_ticks(without_quanta(fleet), block) if tick.number >= first]


def _safe_state(first: int, period: float) -> np.ndarray:
    """Faults: a link that is too old half a tick before tick `STOPS` of those from `first` on, and the switch off and on."""
    stop, off, on = ((first + tick - 0.5) * period for tick in (STOPS, OFF, ON))
    rows = np.zeros((2, COLUMNS))
    rows[:, [KIND, WHICH, START, STOP]] = [[LOST_LINK, -1.0, stop - LONGEST_LINK_AGE, off], [DISARMED, -1.0, off, on]]
    return rows

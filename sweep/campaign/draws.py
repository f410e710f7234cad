"""The water and the waves, noise and faults of a flight, drawn by the campaign's seed; and the boat that it is flown by."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from pydantic import ValidationError

from sweep.campaign.conditions import Condition
from sweep.campaign.faults import NONE, NamedFault
from sweep.campaign.flight import Flight
from sweep.campaign.text.base import set_beside
from sweep.campaign.text.explain import reason
from sweep.campaign.text.problems import CampaignError, Problem
from sweep.model.block import Block, make_block
from sweep.model.onboard.course import COLUMNS as LEG_COLUMNS
from sweep.model.onboard.faults import COLUMNS as FAULT_COLUMNS
from sweep.model.onboard.noise import generator
from sweep.model.physics.water import Water
from sweep.model.physics.waves import ALONG_A_COURSE, COMPONENTS, Track

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft


class Draw(NamedTuple):
    """What a block is drawn from, a thousandth of its size: the flight's times and seed, the water's depth (m), and which."""

    flight: Flight
    depth: float
    condition: Condition
    replicate: int

    def block(self) -> Block:
        """The block, the same wherever it is drawn."""
        return _draw(*self)


def draw_of(campaign: Campaign, condition: Condition, replicate: int) -> Draw:
    """How to draw the block of a condition and replicate; it knows the campaign's seed, and nothing of the design."""
    return Draw(campaign.flight, campaign.water.depth, condition, replicate)


def draw_block(campaign: Campaign, condition: Condition, replicate: int) -> Block:
    """The sea and the noise of a condition and replicate."""
    return draw_of(campaign, condition, replicate).block()


def _draw(flight: Flight, depth: float, condition: Condition, replicate: int) -> Block:
    content = drawn_by(condition)
    draws = generator(flight.seed, content, replicate, "sea")
    waves = ALONG_A_COURSE if condition.legs else COMPONENTS
    track = Track(condition.speed, flight.settle if flight.start == "rest" else 0.0, flight.length, waves)
    sea = condition.sea.components(condition.heading.angle, depth, draws, track)
    block = make_block(sea, flight.seed, content, replicate, flight.length, flight.settle)
    faults = np.array(condition.fault.rows, dtype=np.float64).reshape(-1, FAULT_COLUMNS)
    course = np.array(condition.legs, dtype=np.float64).reshape(-1, LEG_COLUMNS)
    return block._replace(from_rest=flight.start == "rest", faults=faults, wind=_wind(condition), course=course)


def _wind(condition: Condition) -> tuple[float, float]:
    """Mean wind along X and along Y, m/s (M3.16)."""
    sea = condition.sea.windiest
    way = condition.heading.angle + sea.turned + sea.wind_turned
    return sea.wind * math.cos(way), sea.wind * math.sin(way)


def drawn_by(condition: Condition) -> str:
    """The values of a condition that its waves, noise and faults are drawn by, without names: the same in every version.

    A condition without a course has none among them.
    """
    sea = condition.sea.wave_content()
    course = [condition.legs] if condition.legs else []
    return json.dumps([sea, condition.heading.angle, condition.speed, _fault_content(condition.fault), *course])


def _fault_content(fault: NamedFault) -> str | dict[str, Any]:
    """Frozen as `named_seas.WAVES` are."""
    if fault == NamedFault():
        return NONE
    return {"rows": fault.rows, "times": fault.times} | set_beside(fault, {"name", "rows", "times"})


def water_of(campaign: Campaign) -> Water:
    """The water of a campaign as the model takes it."""
    return campaign.water.for_model()


def boat_of(campaign: Campaign, replicate: int) -> int:
    """The number of the draw of unknowns that a replicate flies; 0 for all where nothing is unknown."""
    return campaign.unknowns.draw_of(replicate) if campaign.unknowns else 0


def as_drawn(campaign: Campaign, crafts: Sequence[Craft], boat: int) -> list[Craft]:
    """Crafts with what is unknown as one draw has it; boat: its number, as `boat_of` gives it.

    Raises CampaignError, with the drawn numbers, if there is no such craft.
    """
    unknowns = campaign.unknowns
    if unknowns is None:
        return list(crafts)
    numbers = unknowns.numbers(campaign.flight.seed, boat)
    try:
        return [unknowns.of(craft, numbers) for craft in crafts]
    except ValidationError as error:
        where, wanted = reason(error)
        drawn = ", ".join(f"{unknown.label} {number:.4g}" for unknown, number in zip(unknowns.each, numbers, strict=True))
        found = f"draw {boat} ({drawn}), which makes an impossible craft of a design"
        raise CampaignError([Problem(campaign.name, 0, 0, "unknowns", found, f"{wanted} (at {where})")]) from error

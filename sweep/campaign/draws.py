"""The water and the waves, noise and faults of a flight, drawn by the campaign's seed."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING

import numpy as np

from sweep.campaign.conditions import Condition
from sweep.campaign.faults import NONE, NamedFault
from sweep.model.block import Block, make_block
from sweep.model.onboard.faults import COLUMNS as FAULT_COLUMNS
from sweep.model.onboard.noise import generator
from sweep.model.physics.water import Water
from sweep.model.physics.waves import Track, make_sea

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign


def draw_block(campaign: Campaign, condition: Condition, replicate: int) -> Block:
    """The sea and the noise of a condition and replicate; they know the campaign's seed, and nothing of the design."""
    flight, content = campaign.flight, _content(condition)
    draws = generator(flight.seed, content, replicate, "sea")
    track = Track(condition.speed, flight.settle if flight.start == "rest" else 0.0, flight.length)
    sea = make_sea(condition.sea, condition.heading.angle, campaign.water.depth, draws, track)
    block = make_block(sea, flight.seed, content, replicate, flight.length, flight.settle)
    faults = np.array(condition.fault.rows, dtype=np.float64).reshape(-1, FAULT_COLUMNS)
    return block._replace(from_rest=flight.start == "rest", faults=faults, wind=_wind(condition))


def _wind(condition: Condition) -> tuple[float, float]:
    """Mean wind along X and along Y, m/s."""
    sea = condition.sea.windiest
    way = condition.heading.angle + sea.turned + sea.wind_turned
    return sea.wind * math.cos(way), sea.wind * math.sin(way)


def _content(condition: Condition) -> str:
    """What makes a condition's draws, without its names; the mean wind changes no wave."""
    wind = {"wind", "wind_turned"}
    sea = condition.sea.model_dump(exclude={"name": True, **dict.fromkeys(wind, True), "parts": {"__all__": wind}})
    fault = condition.fault.model_dump(exclude={"name"}) if condition.fault != NamedFault() else NONE
    return json.dumps([sea, condition.heading.angle, condition.speed, fault])


def water_of(campaign: Campaign) -> Water:
    """The water of a campaign as the model takes it."""
    return campaign.water.for_model()

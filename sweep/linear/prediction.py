"""The ride that the linear companion expects of a craft in a campaign's conditions, in the same seas as the flights."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from sweep.campaign.draws import as_drawn, boat_of, draw_block, water_of
from sweep.campaign.faults import NONE
from sweep.linear.craft import LinearCraft, linearise
from sweep.linear.ride import Ride, ride
from sweep.linear.ticks import stable
from sweep.model.kernels import sea as column
from sweep.model.pack.fleet import build_fleets
from sweep.model.physics.waves import Sea

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.conditions import Condition
    from sweep.campaign.craft import Craft
    from sweep.model.block import Block

MOST_REPLICATES = 4
"""Replicates whose seas are drawn for a prediction (judgement)."""


def predict_rides(campaign: Campaign, craft: Craft, conditions: Sequence[Condition]) -> pd.DataFrame:
    """Root mean squares by condition (index), columns as `Ride`, SI; NaN where the companion does not apply.

    It does not apply without a trim, to an unstable craft, in calm water or a packet, under a fault, along a course, from rest.
    """
    boats = [boat_of(campaign, replicate) for replicate in range(min(campaign.replicates, MOST_REPLICATES))]
    speeds = sorted({condition.speed for condition in conditions})
    crafts = {(speed, boat): steady_craft(campaign, craft, speed, boat) for speed in speeds for boat in dict.fromkeys(boats)}
    found = {each.index: _predict(campaign, [crafts[each.speed, boat] for boat in boats], each) for each in conditions}
    return pd.DataFrame.from_dict(found, orient="index", columns=list(Ride._fields))


def steady_craft(campaign: Campaign, craft: Craft, speed: float, boat: int | None = None) -> LinearCraft | None:
    """A craft in the campaign's water, linear at a speed (m/s); None without a trim or if it is unstable.

    boat: the draw of what is unknown; None for the craft as described.
    """
    built = [craft] if boat is None else as_drawn(campaign, [craft], boat)
    ((_, fleet),) = build_fleets(built, water_of(campaign), speed, designed=[craft])
    (linear,) = linearise(fleet)
    return linear if linear is not None and stable(linear) else None


def _predict(campaign: Campaign, crafts: Sequence[LinearCraft | None], condition: Condition) -> Ride:
    """Roots of the mean squares over the replicates; crafts: that fly each of them."""
    plain = condition.fault.name == NONE and not condition.legs and campaign.flight.start == "flying"
    steady = condition.sea.is_steady and plain
    if not steady or any(craft is None for craft in crafts):
        return Ride(*[np.nan] * len(Ride._fields))
    blocks = [draw_block(campaign, condition, replicate) for replicate in range(len(crafts))]
    seas = [sea_of(block, campaign.water.depth) for block in blocks]
    rides = np.array([ride(craft, sea) for craft, sea in zip(crafts, seas, strict=True) if craft is not None])
    return Ride(*np.sqrt((rides**2).mean(axis=0)).tolist())


def sea_of(block: Block, depth: float) -> Sea:
    """The sea of a block over a depth (m)."""
    waves = block.components
    kx, ky = waves[:, column.WAVE_X], waves[:, column.WAVE_Y]
    return Sea(waves[:, column.AMPLITUDE], block.omegas, np.hypot(kx, ky), kx, ky, block.phases, depth)

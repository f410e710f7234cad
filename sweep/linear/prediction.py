"""The ride that the linear companion expects of a craft in a campaign's conditions, in the same seas as the flights."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from sweep.campaign.draws import draw_block, water_of
from sweep.campaign.faults import NONE
from sweep.linear.craft import LinearCraft, linearise
from sweep.linear.ride import Ride, ride
from sweep.linear.ticks import eigenvalues
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

    It does not apply without a trim, to an unstable craft, in calm water, in a packet, under a fault and from rest.
    """
    crafts = {speed: steady_craft(campaign, craft, speed) for speed in sorted({condition.speed for condition in conditions})}
    found = {condition.index: _predict(campaign, crafts[condition.speed], condition) for condition in conditions}
    return pd.DataFrame.from_dict(found, orient="index", columns=list(Ride._fields))


def steady_craft(campaign: Campaign, craft: Craft, speed: float) -> LinearCraft | None:
    """A craft in the campaign's water, linear at a speed (m/s); None without a trim or if it is unstable."""
    ((_, fleet),) = build_fleets([craft], water_of(campaign), speed)
    (linear,) = linearise(fleet)
    return linear if linear is not None and eigenvalues(linear)[0].real < 0.0 else None


def _predict(campaign: Campaign, craft: LinearCraft | None, condition: Condition) -> Ride:
    """Roots of the mean squares over the replicates."""
    steady = condition.sea.is_steady and condition.fault.name == NONE and campaign.flight.start == "flying"
    if craft is None or not steady:
        return Ride(*[np.nan] * len(Ride._fields))
    blocks = [draw_block(campaign, condition, replicate) for replicate in range(min(campaign.replicates, MOST_REPLICATES))]
    rides = np.array([ride(craft, sea_of(block, campaign.water.depth)) for block in blocks])
    return Ride(*np.sqrt((rides**2).mean(axis=0)).tolist())


def sea_of(block: Block, depth: float) -> Sea:
    """The sea of a block over a depth (m)."""
    waves = block.components
    kx, ky = waves[:, column.WAVE_X], waves[:, column.WAVE_Y]
    return Sea(waves[:, column.AMPLITUDE], block.omegas, np.hypot(kx, ky), kx, ky, block.phases, depth)

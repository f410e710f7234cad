"""Mass and price of each design."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from sweep.campaign.designs import crafts_of
from sweep.model.pack.mass import price, total_mass

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft


def with_costs(campaign: Campaign, designs: pd.DataFrame) -> pd.DataFrame:
    """The design table with the mass (kg) and the price of each whole craft; no price if the craft file has none."""
    costs = [_cost(craft) for craft in crafts_of(campaign, designs)]
    priced = designs.assign(**{name: [cost[at] for cost in costs] for at, name in enumerate(("mass", "price"))})
    return priced if priced["price"].any() else priced.drop(columns="price")


def _cost(craft: Craft) -> tuple[float, float]:
    return total_mass(craft), price(craft)

"""Mass and price of each design."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.campaign.addresses import value_at, with_numbers
from sweep.campaign.designs import craft_of, rows_of
from sweep.model.pack.mass import price, total_mass

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft


WITHOUT_COSTS = "control."
"""How addresses begin that change neither mass nor price: of the settings of the control code."""


def with_costs(campaign: Campaign, designs: pd.DataFrame) -> pd.DataFrame:
    """The design table with the mass (kg) and the price of each whole craft; no price if the craft file has none.

    Designs that differ only in `WITHOUT_COSTS` cost the same: of these one craft is made.
    """
    alike, firsts = _alike(campaign, designs)
    costs = np.array([_cost(craft) for craft in _crafts(campaign, designs.iloc[firsts])])[alike]
    priced = designs.assign(mass=costs[:, 0], price=costs[:, 1])
    return priced if priced["price"].any() else priced.drop(columns="price")


def _alike(campaign: Campaign, designs: pd.DataFrame) -> tuple[NDArray[np.int64], NDArray[np.intp]]:
    """Which designs cost the same, by the number of their group, (designs,), and the first of each group."""
    costly = [
        label
        for label, factor in campaign.factors.items()
        if not all(address.startswith(WITHOUT_COSTS) for address in factor.addresses)
    ]
    if not costly:
        return np.zeros(len(designs), dtype=np.int64), np.zeros(1, dtype=np.intp)
    alike = np.asarray(designs.groupby(costly, sort=False, dropna=False).ngroup(), dtype=np.int64)
    firsts: NDArray[np.intp] = np.unique(alike, return_index=True)[1]
    return alike, firsts


def _crafts(campaign: Campaign, designs: pd.DataFrame) -> Iterator[Craft]:
    """The crafts of designs; of those that differ in numbers alone only one is checked, for all are once they fly."""
    factors = campaign.factors
    made: dict[tuple[Any, ...], Craft] = {}
    numbers = {
        label
        for label, factor in factors.items()
        if all(isinstance(value_at(campaign.craft, address), float) for address in factor.addresses)
    }
    for row in rows_of(campaign, designs):
        if None in row.values():
            yield craft_of(campaign, row)
            continue
        others = tuple(value for label, value in row.items() if label not in numbers)
        if (like := made.get(others)) is None:
            like = made[others] = craft_of(campaign, row)
        yield with_numbers(like, {at: value for label in numbers for at, value in factors[label].values(row[label]).items()})


def _cost(craft: Craft) -> tuple[float, float]:
    return total_mass(craft), price(craft)

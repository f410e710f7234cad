"""The leading designs as they may have been built: a little off, one thing at a time, through all conditions of the campaign.

The waves are new: the leaders were chosen by the campaign's own replicates. All crafts meet the same waves, the craft as
described among them, so that the cost of a tolerance is compared wave by wave. The builder does not know the deviation: trims
and places in the control code stay those of the design.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd

from sweep.campaign.addresses import value_at
from sweep.campaign.designs import craft_of
from sweep.campaign.factors import Factor
from sweep.campaign.follow_up_plan import REPLICATES, first_fresh
from sweep.campaign.tolerances import Off, usual
from sweep.flying.flights import fly_shards
from sweep.flying.work import Work
from sweep.results.shard_plan import Shard

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft


class AsBuilt(NamedTuple):
    """Crafts to fly: of each the design, by number and as a craft, and how it is off; its values by address, NaN where the base
    craft's stay.
    """

    designs: tuple[int, ...]
    described: tuple[Craft, ...]
    offs: tuple[Off, ...]
    values: pd.DataFrame

    def flights(self, conditions: int) -> int:
        """How many flights they take."""
        return len(self.designs) * conditions * REPLICATES


def as_built(campaign: Campaign, designs: pd.DataFrame, chosen: Sequence[int]) -> AsBuilt:
    """The chosen designs as described and with each usual tolerance that leaves a possible craft."""
    rows: list[dict[str, Any]] = []
    numbers, crafts, offs = [], [], []
    addresses = [address for factor in campaign.factors.values() for address in factor.addresses]
    for design in chosen:
        craft = craft_of(campaign, designs.iloc[design])
        for off in usual(craft):
            if (values := off.of(craft)) is not None:
                numbers.append(int(design))
                crafts.append(craft)
                offs.append(off)
                rows.append({address: value_at(craft, address) for address in addresses} | values)
    return AsBuilt(tuple(numbers), tuple(crafts), tuple(offs), pd.DataFrame(rows))


def fly_as_built(work: Work, built: AsBuilt, first: int = 0) -> Iterator[pd.DataFrame]:
    """Fly them in every block (condition, replicate) from number `first` on; one table a block, in order.

    Columns: design, off and side (how the craft was off), condition, replicate, status, then the responses in SI.
    """
    # A craft is given by its values at addresses, as a design is by its factors: the same code flies both.
    single = {address: Factor(label=address, addresses=(address,)) for address in built.values}
    alike = work._replace(campaign=work.campaign.model_copy(update={"factors": single}), designs=built.values)
    replicates = range(first_fresh(work.campaign), first_fresh(work.campaign) + REPLICATES)
    shards = [
        Shard(0, condition, replicate, 0, len(built.designs))
        for condition in range(len(work.conditions))
        for replicate in replicates
    ]
    for _, flights in fly_shards(alike, shards[first:], built.described):
        of = flights.pop("design").to_numpy()
        flights.insert(0, "design", np.array(built.designs, dtype=np.int32)[of])
        flights.insert(1, "off", [built.offs[row].name for row in of])
        flights.insert(2, "side", [built.offs[row].side for row in of])
        yield flights


def content(built: AsBuilt) -> dict[str, Any]:
    """What these flights depend on beside what the campaign's own do: which crafts, as JSON."""
    values = [
        {name: None if _missing(value) else value for name, value in row.items()} for row in built.values.to_dict("records")
    ]
    return {"designs": list(built.designs), "crafts": values, "replicates": REPLICATES}


def _missing(value: Any) -> bool:
    return value is None or (isinstance(value, float) and math.isnan(value))

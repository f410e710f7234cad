"""Where it rides: some designs over the map of speeds, wave heights and headings, with a budget of flights of its own.

The waves are fresh: the leaders were chosen by how they met those of the campaign's own replicates.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from sweep.conditions import Condition
from sweep.flights import Shard, fly_shards
from sweep.insight.intervals import CONFIDENCE
from sweep.limits import share_bounds
from sweep.scores import FLEW, NO_TRIM

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sweep.campaign.campaign import Campaign
    from sweep.campaign.mapping import RideMap

BAD_EVENTS = ("touchdowns", "broaches", "lost_flights", "upsets")


def map_conditions(ride_map: RideMap) -> tuple[Condition, ...]:
    """Every cell of the map as a condition."""
    return tuple(
        Condition(index, f"{cell.sea.height:g} m, {cell.heading.name}, {cell.speed:g} m/s", cell.sea, cell.heading, cell.speed)
        for index, cell in enumerate(ride_map.cells())
    )


def fly_map(
    campaign: Campaign,
    ride_map: RideMap,
    designs: pd.DataFrame,
    chosen: Sequence[int],
    first: int = 0,
    workers: int | None = None,
    flown: Callable[[int], None] = lambda flights: None,
) -> Iterator[pd.DataFrame]:
    """Fly the chosen designs over the map from its cell number `first` on; one table a cell, in order.

    Columns, SI: design, speed, height, period, heading (rad, as in the campaign), heading_name; flights: those that started,
    none where the design has no trim at the speed; clean: those without a touchdown, broach, loss of flight or upset;
    share_low, share_high: the 95 % interval of their share (Clopper & Pearson, Biometrika 26, 1934, 404-413), NaN without
    flights.
    """
    conditions, some = map_conditions(ride_map), designs.loc[list(chosen)]
    replicates = range(campaign.replicates, campaign.replicates + ride_map.replicates)
    shards = [Shard(0, cell, replicate, 0, len(some)) for cell in range(first, len(conditions)) for replicate in replicates]
    results = fly_shards(campaign, some, conditions, shards, workers, flown)
    for cell, flights in groupby(results, key=lambda result: result[0].condition):
        yield _row_of(conditions[cell], chosen, [rows for _, rows in flights])


def _row_of(condition: Condition, chosen: Sequence[int], flights: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """A cell of the map: one row a design."""
    started = np.sum([rows["status"].to_numpy() != NO_TRIM for rows in flights], axis=0)
    good = np.sum([clean(rows) for rows in flights], axis=0)
    tail = (1.0 - CONFIDENCE) / 2.0
    low, high = share_bounds(good.astype(np.float64), started.astype(np.float64), 1.0 - tail)
    cell = pd.DataFrame({"design": np.array(chosen, dtype=np.int32)}).assign(
        speed=condition.speed,
        height=condition.sea.height,
        period=condition.sea.period,
        heading=condition.heading.angle,
        heading_name=condition.heading.name,
    )
    unknown = np.where(started > 0, 0.0, np.nan)
    return cell.assign(
        flights=started.astype(np.int32), clean=good.astype(np.int32), share_low=low + unknown, share_high=high + unknown
    )


def clean(flights: pd.DataFrame) -> NDArray[np.bool_]:
    """Whether each flight went to its end foilborne, without a bad event; rates are not numbers where it never flew."""
    without = (flights[list(BAD_EVENTS)] == 0.0).all(axis=1).to_numpy()
    return np.asarray(without & (flights["status"].to_numpy() == FLEW), dtype=np.bool_)

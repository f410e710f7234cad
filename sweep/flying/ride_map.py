"""Where it rides: some designs over the map of speeds, wave heights and headings, with a budget of flights of its own.

The waves are fresh: the leaders were chosen by how they met those of the campaign's own replicates. Every cell gets a first
look; what is left of the budget goes, round by round, to the cells of which it is least known on which side of
enough clean flights (`contour.ENOUGH`) they lie.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from sweep.campaign.conditions import Condition
from sweep.campaign.follow_up_plan import first_fresh
from sweep.flying.flights import fly_shards
from sweep.flying.work import Work
from sweep.insight.contour import sides
from sweep.insight.intervals import TAIL
from sweep.insight.limits import share_bounds
from sweep.model.quantities import FLEW, NO_TRIM
from sweep.results.shard_plan import Shard

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sweep.campaign.ride_map import RideMap

FIRST_LOOK, BLOCKS_AT_ONCE, CELLS_AT_ONCE, MOST_TIMES = 2, 2, 8, 6
"""Judgement: blocks of each cell at first, of each cell in a round, cells in a round; and blocks of a cell over the average."""
LEAST_DOUBT = TAIL
"""A cell whose side is in doubt by no more than an end of an interval needs no more flights."""

BAD_EVENTS = ("touchdowns", "broaches", "lost_flights", "upsets")


def map_conditions(ride_map: RideMap) -> tuple[Condition, ...]:
    """Every cell of the map as a condition."""
    return tuple(
        Condition(index, f"{cell.sea.height:g} m, {cell.heading.name}, {cell.speed:g} m/s", cell.sea, cell.heading, cell.speed)
        for index, cell in enumerate(ride_map.cells())
    )


def fly_map(work: Work, ride_map: RideMap, chosen: Sequence[int], table: pd.DataFrame | None = None) -> Iterator[pd.DataFrame]:
    """Fly the chosen designs over the map instead of the work's conditions, on from a table of it; the whole after every round.

    Columns, SI: design, speed, height, period, heading (rad, as in the campaign), heading_name; blocks: flown of the cell, each
    by all designs; flights: those that started, none where the design has no trim at the speed; clean: those without a
    touchdown, broach, loss of flight or upset; share_low, share_high: the interval of their share (Clopper & Pearson,
    Biometrika 26, 1934, 404-413), NaN without flights.
    """
    conditions = map_conditions(ride_map)
    some = work._replace(designs=work.designs.loc[list(chosen)], conditions=conditions)
    counts = _counts_of(table, len(conditions), len(chosen))
    while wanted := next_cells(ride_map, counts):
        begun = {cell: first_fresh(work.campaign) + int(counts.blocks[cell]) for cell in wanted}
        shards = [Shard(0, cell, begun[cell] + at, 0, len(chosen)) for cell in sorted(wanted) for at in range(wanted[cell])]
        for shard, rows in fly_shards(some, shards):
            counts.blocks[shard.condition] += 1
            counts.flights[shard.condition] += rows["status"].to_numpy() != NO_TRIM
            counts.clean[shard.condition] += clean(rows)
        yield _table(conditions, chosen, counts)


class CellCounts(NamedTuple):
    """What has been flown of every cell: blocks, (cells,); flights that started, and the clean ones, (cells, designs)."""

    blocks: NDArray[np.int64]
    flights: NDArray[np.int64]
    clean: NDArray[np.int64]


def _counts_of(table: pd.DataFrame | None, cells: int, designs: int) -> CellCounts:
    if table is None or table.empty:
        return CellCounts(*(np.zeros(shape, dtype=np.int64) for shape in ((cells,), (cells, designs), (cells, designs))))
    found = (table[name].to_numpy(dtype=np.int64).reshape(cells, designs) for name in ("blocks", "flights", "clean"))
    blocks, flights, clean_ones = (each.copy() for each in found)
    return CellCounts(blocks[:, 0].copy(), flights, clean_ones)


def map_done(ride_map: RideMap, table: pd.DataFrame, designs: int) -> bool:
    """Whether a table of the map needs no more flights; a table without blocks is of an older version, and is complete."""
    if table.empty or "blocks" not in table:
        return not table.empty
    return not next_cells(ride_map, _counts_of(table, len(ride_map.cells()), designs))


def next_cells(ride_map: RideMap, counts: CellCounts) -> dict[int, int]:
    """Which cells to fly next, and how many blocks of each; none at the end of the budget, or where no doubt is left.

    The budget is `replicates` blocks a cell on average. A cell gets `FIRST_LOOK` at least, and `MOST_TIMES` the average at
    most.
    """
    first = min(FIRST_LOOK, ride_map.replicates)
    unseen = np.flatnonzero(counts.blocks < first)
    if len(unseen):
        return {int(cell): first - int(counts.blocks[cell]) for cell in unseen}
    left = ride_map.replicates * len(counts.blocks) - int(counts.blocks.sum())
    doubt = np.where(counts.blocks < MOST_TIMES * ride_map.replicates, _doubt(ride_map, counts), 0.0)
    order = sorted(np.flatnonzero(doubt > LEAST_DOUBT).tolist(), key=lambda cell: (-doubt[cell], counts.blocks[cell], cell))
    return {
        cell: min(BLOCKS_AT_ONCE, left - at * BLOCKS_AT_ONCE)
        for at, cell in enumerate(order[:CELLS_AT_ONCE])
        if left > at * BLOCKS_AT_ONCE
    }


def _doubt(ride_map: RideMap, counts: CellCounts) -> NDArray[np.float64]:
    """The largest doubt of any design on which side of the edge a cell lies, (cells,)."""
    shape = (len(ride_map.speeds), len(ride_map.heights), len(ride_map.headings), -1)
    order = np.argsort(ride_map.heights)
    good, all_ = (
        np.moveaxis(each.reshape(shape)[:, order], 1, -1).astype(np.float64) for each in (counts.clean, counts.flights)
    )
    doubt = np.where(all_ > 0.0, sides(good, all_).doubt(), 0.0).max(axis=2)
    back = np.empty_like(doubt)
    back[..., order] = doubt
    return np.asarray(np.moveaxis(back, -1, 1).ravel())


def _table(conditions: Sequence[Condition], chosen: Sequence[int], counts: CellCounts) -> pd.DataFrame:
    """The map so far: one row a cell and design."""
    started, good = counts.flights.ravel(), counts.clean.ravel()
    low, high = share_bounds(good.astype(np.float64), started.astype(np.float64), 1.0 - TAIL)
    unknown = np.where(started > 0, 0.0, np.nan)
    cells = [
        (each.speed, each.sea.height, each.sea.period, each.heading.angle, each.heading.name)
        for each in conditions
        for _ in chosen
    ]
    table = pd.DataFrame(cells, columns=["speed", "height", "period", "heading", "heading_name"])
    table.insert(0, "design", np.tile(np.array(chosen, dtype=np.int32), len(conditions)))
    return table.assign(
        blocks=np.repeat(counts.blocks, len(chosen)).astype(np.int32),
        flights=started.astype(np.int32),
        clean=good.astype(np.int32),
        share_low=low + unknown,
        share_high=high + unknown,
    )


def clean(flights: pd.DataFrame) -> NDArray[np.bool_]:
    """Whether each flight went to its end foilborne, without a bad event; rates are not numbers where it never flew."""
    without = (flights[list(BAD_EVENTS)] == 0.0).all(axis=1).to_numpy()
    return np.asarray(without & (flights["status"].to_numpy() == FLEW), dtype=np.bool_)

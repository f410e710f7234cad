"""Designs in conditions: all flights of a campaign, side by side on all processors.

A shard is one block (condition, replicate) flown by a fixed range of designs. It is flown in pieces; a piece has flights of
several shards if one alone would leave lanes idle. A flight gives the same numbers in any piece, on any worker.
"""

from __future__ import annotations

import math
import socket
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import partial
from itertools import chain, groupby, islice
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import joblib
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.campaign.conditions import Condition
from sweep.campaign.courses import Row
from sweep.campaign.designs import crafts_of
from sweep.campaign.draws import Draw, boat_of, draw_of
from sweep.campaign.faults import NamedFault
from sweep.flying.memory import check_room
from sweep.flying.own_flights import as_built_in, fly
from sweep.flying.packing import Fleets, Forms, Key, PackedAhead, Packing, RangeFleets, forms, joined
from sweep.flying.work import Work
from sweep.model.block import Block
from sweep.model.compiled import LANES
from sweep.model.flight import Flown
from sweep.model.pack.fleet import Fleet
from sweep.model.quantities import LARGEST, RESPONSE_NAMES
from sweep.results.atomic_files import StoreError, as_parquet
from sweep.results.digests import flight_digest
from sweep.results.shard_plan import Shard

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft


PIECE_SECONDS = 1000.0
"""Simulated seconds of a piece (judgement): a quarter of a second of work for one processor."""

MOST_BATCHES = 8
"""Batches of `LANES` flights of a piece (judgement): some ten megabytes of designs, and many pieces are under way at once."""

UNDER_WAY = 4
"""Pieces sent for each worker (judgement): those that wait there keep it busy while a range of designs is packed here."""

IDLE_LANES = 0.1
"""Share of the lanes that may idle (judgement): with pieces of more blocks it takes longer until a shard is whole."""


PROBE_SECONDS = 10.0
"""Simulated seconds of the flights by which the pace is measured (judgement)."""
TRIAL_SECONDS = 2.0
"""Simulated seconds beyond settling of a flight that other computers show their bits by (judgement)."""


class Piece(NamedTuple):
    """Some flights of shards of the same designs: the designs of `fleet`, each through its one of `blocks`.

    places: of each flight among those of all the shards, shard by shard; draws: of its blocks, which who flies it draws, for
    they are many times the rest; meets: of each flight, the place of its draw.
    """

    shards: tuple[Shard, ...]
    places: NDArray[np.int64]
    fleet: Fleet
    draws: tuple[Draw, ...]
    meets: NDArray[np.int64]

    @property
    def blocks(self) -> list[Block]:
        """Drawn anew each time."""
        drawn = [draw.block() for draw in self.draws]
        return [drawn[at] for at in self.meets]


FlownPiece: TypeAlias = tuple[tuple[Shard, ...], NDArray[np.int64], Flown]
"""Shards and places of a piece, and what came of its flights."""


def fly_shards(
    work: Work, shards: Iterable[Shard], designed: Sequence[Craft] | None = None
) -> Iterator[tuple[Shard, pd.DataFrame]]:
    """Fly shards and yield each as soon as it is complete, in their order.

    The rows have the columns design, condition, replicate, status, then the responses in SI (NaN where a flight gave none).
    The shards' ranges count among the rows of the design table. designed: the craft that the control code of each is set up
    for, if it is another.
    """
    ranges = [(span, list(alike)) for span, alike in groupby(shards, key=lambda shard: (shard.first, shard.last))]
    plain = designed is None and work.campaign.unknowns is None
    ahead = PackedAhead([span for span, _ in ranges] if plain else [])

    def tasks() -> Iterator[Piece | Packing]:
        for at, (span, alike) in enumerate(ranges):
            yield from ahead.ask(at, work.campaign, work.designs, work.conditions)
            ready = ahead.take(span[0])
            yield from cut_pieces(work.campaign, work.designs, work.conditions, alike, designed, ready)

    for shard, flown in _fly_pieces(tasks(), work.workers, work.watcher.flown, ahead):
        yield shard, _table(shard, *flown)


def _fly_pieces(
    tasks: Iterable[Piece | Packing],
    workers: int | None = None,
    flown: Callable[[int], None] = lambda flights: None,
    ahead: PackedAhead | None = None,
) -> Iterator[tuple[Shard, Flown]]:
    check_room(workers or joblib.cpu_count())
    waiting = iter(tasks)
    first = list(islice(waiting, 2))
    results = _by_many(chain(first, waiting), workers) if len(first) > 1 else (_do(task, flight_digest()) for task in first)
    for together, parts in groupby(_of_flights(results, ahead), key=lambda result: result[0]):
        flights = sum(shard.flights for shard in together)
        status, responses = np.empty(flights, dtype=np.int8), np.empty((flights, len(RESPONSE_NAMES)))
        for _, places, result in parts:
            status[places], responses[places] = result
            flown(len(places))
        for shard, *rows in zip(together, *(np.split(each, len(together)) for each in (status, responses)), strict=True):
            yield shard, Flown(*rows)


def _by_many(tasks: Iterable[Piece | Packing], workers: int | None) -> Iterable[FlownPiece | tuple[int, bytes]]:
    """Results in the order of the tasks, of threads or of a cluster. To set these up takes longer than some single pieces."""
    parallel = joblib.Parallel(
        n_jobs=workers or joblib.cpu_count(),
        prefer="threads",
        return_as="generator",
        batch_size=1,
        pre_dispatch=f"{UNDER_WAY} * n_jobs",
    )
    results: Iterable[FlownPiece | tuple[int, bytes]] = parallel(joblib.delayed(_do)(task, flight_digest()) for task in tasks)
    return results


def _of_flights(results: Iterable[FlownPiece | tuple[int, bytes]], ahead: PackedAhead | None) -> Iterator[FlownPiece]:
    """The results that are flights; fleets are kept for the flights to come."""
    for result in results:
        if len(result) == 3:
            yield result
        elif ahead is not None:
            ahead.keep(*result)


def cut_pieces(
    campaign: Campaign,
    designs: pd.DataFrame,
    conditions: Sequence[Condition],
    shards: Iterable[Shard],
    designed: Sequence[Craft] | None = None,
    ready: dict[Key, Fleets] | None = None,
) -> Iterator[Piece]:
    """Cut shards into pieces; fleets are built once for each range of designs and speed, and freed with the range.

    ready: fleets of the shards' designs, of one range, that are built.
    """
    for (first, last), alike in groupby(shards, key=lambda shard: (shard.first, shard.last)):
        crafts = [] if ready else list(crafts_of(campaign, designs.iloc[first:last]))
        fleets = RangeFleets(campaign, crafts, crafts if designed is None else designed[first:last], ready)
        yield from _cut(campaign, fleets, conditions, alike)


def _cut(campaign: Campaign, fleets: RangeFleets, conditions: Sequence[Condition], shards: Iterable[Shard]) -> Iterator[Piece]:
    """Pieces of shards with the same crafts; if these leave lanes idle, of several shards in a row at once."""
    most = LANES * min(max(1, round(PIECE_SECONDS / (LANES * campaign.flight.length))), MOST_BATCHES)

    def built(shard: Shard) -> Fleets:
        condition = conditions[shard.condition]
        return fleets.at(condition.speeds, condition.fault, boat_of(campaign, shard.replicate))

    def needs(shard: Shard) -> tuple[float, tuple[Row, ...], NamedFault, Forms]:
        met = conditions[shard.condition]
        return met.speed, met.legs, met.fault, forms(built(shard))

    for (_, _, _, form), alike in groupby(shards, key=needs):
        sizes = [len(indices) for _, indices in form]
        count = blocks_at_once(sizes)
        while together := tuple(islice(alike, count)):
            draws = [draw_of(campaign, conditions[shard.condition], shard.replicate) for shard in together]
            flyers = [built(shard) for shard in together]
            for at, (_, indices) in enumerate(form):
                places = np.concatenate([np.array(indices) + each * sum(sizes) for each in range(len(together))])
                whole = joined([each[at][1] for each in flyers])
                for start in range(0, len(places), most):
                    which = np.arange(start, min(start + most, len(places)))
                    met, places_met = np.unique(which // sizes[at], return_inverse=True)
                    yield Piece(together, places[which], whole.some(which), tuple(draws[each] for each in met), places_met)


def blocks_at_once(sizes: Sequence[int]) -> int:
    """The fewest blocks for fleets of these sizes to fly together with under a tenth of the lanes idle, or the best number."""

    def idle(blocks: int) -> float:
        lanes = sum(LANES * math.ceil(blocks * size / LANES) for size in sizes)
        return 1.0 - blocks * sum(sizes) / lanes

    return next((blocks for blocks in range(1, LANES + 1) if idle(blocks) < IDLE_LANES), min(range(1, LANES + 1), key=idle))


def warm_up(campaign: Campaign, designs: pd.DataFrame, conditions: Sequence[Condition]) -> None:
    """Compile the kernels before the workers start, by a flight of no length; with a cache this takes no time."""
    piece = _first_piece(campaign, designs, conditions)
    fly(as_built_in(piece.fleet), piece.blocks[0]._replace(length=0.0))


def trial_flight(campaign: Campaign, designs: pd.DataFrame, conditions: Sequence[Condition]) -> Callable[[], bytes]:
    """A short flight that can be sent to other computers; it returns their sources' digest, a design and its rows, as bytes."""
    length = min(campaign.flight.settle + TRIAL_SECONDS, campaign.flight.length)
    short = campaign.model_copy(update={"flight": campaign.flight.model_copy(update={"length": length})})
    packing = Packing(0, short, designs.iloc[:1], tuple(conditions[:1]))
    return partial(_fly_to_bytes, packing, _first_piece(short, designs, conditions))


def _fly_to_bytes(packing: Packing, piece: Piece) -> bytes:
    flown = fly(piece.fleet, piece.blocks)
    return flight_digest().encode() + packing.fleets() + flown.status.tobytes() + flown.responses.tobytes()


def _first_piece(campaign: Campaign, designs: pd.DataFrame, conditions: Sequence[Condition]) -> Piece:
    """The first design in the first condition, flown even if it has no trim."""
    piece = next(cut_pieces(campaign, designs, conditions, [Shard(0, 0, 0, 0, 1)]))
    return piece._replace(fleet=piece.fleet._replace(feasible=np.array([True])))


class Pace(NamedTuple):
    """The cost of flights.

    batches: simulated seconds a second at which one warm worker flies up to `LANES` designs side by side, NaN if none
    starts; bytes_a_shard, bytes_a_flight: of a shard without rows, and of each row in it.
    """

    batches: float
    bytes_a_shard: float
    bytes_a_flight: float


def measure_pace(campaign: Campaign, designs: pd.DataFrame, conditions: Sequence[Condition]) -> Pace:
    """Measure it by one batch of short flights."""
    few = Shard(0, 0, 0, 0, min(LANES, len(designs)))
    piece = max(cut_pieces(campaign, designs, conditions, [few]), key=lambda piece: piece.fleet.feasible.sum())
    ready = np.flatnonzero(piece.fleet.feasible)
    if not len(ready):
        return Pace(math.nan, *_bytes(few, fly(as_built_in(piece.fleet), piece.blocks)))
    fleet = as_built_in(piece.fleet).some(
        np.resize(ready, LANES)
    )  # a shard of mixed laws fills its lanes, these few designs may not
    length = min(campaign.flight.length, PROBE_SECONDS)
    begun = time.thread_time()  # on a busy machine the clock would be wrong
    flown = fly(fleet, piece.blocks[0]._replace(length=length))
    batches = length / (time.thread_time() - begun)
    return Pace(batches, *_bytes(few, Flown(flown.status[: len(ready)], flown.responses[: len(ready)])))


def _bytes(shard: Shard, flown: Flown) -> tuple[float, float]:
    """Bytes of a shard without rows, and of a row more."""
    rows = _table(shard._replace(last=shard.first + len(flown.status)), *flown)
    empty = len(as_parquet(rows.head(0)))
    return empty, (len(as_parquet(rows)) - empty) / len(rows)


def _do(task: Piece | Packing, sources: str) -> FlownPiece | tuple[int, bytes]:
    """Fly a piece, or pack a range, on this computer or another; sources: digest of those that have to do it."""
    if flight_digest() != sources:
        raise StoreError(f"A worker on {socket.gethostname()} has another version of the model: install the same one there.")
    if isinstance(task, Packing):
        return task.first, task.fleets()
    return task.shards, task.places, fly(task.fleet, task.blocks)


def _table(shard: Shard, status: NDArray[np.int8], responses: NDArray[np.float64]) -> pd.DataFrame:
    table = _rows(status, responses)
    table.insert(0, "replicate", np.int32(shard.replicate))
    table.insert(0, "condition", np.int32(shard.condition))
    table.insert(0, "design", np.arange(shard.first, shard.last, dtype=np.int32))
    return table


def _rows(status: NDArray[np.int8], responses: NDArray[np.float64]) -> pd.DataFrame:
    there = np.where(np.abs(responses) < LARGEST, responses, np.nan)  # over next to no distance there is no energy a metre
    table = pd.DataFrame(there, columns=list(RESPONSE_NAMES))
    table.insert(0, "status", status)
    return table


def fly_crafts(
    campaign: Campaign,
    crafts: Sequence[Craft],
    conditions: Sequence[Condition],
    replicates: Sequence[int],
    workers: int | None = None,
    flown: Callable[[int], None] = lambda flights: None,
) -> pd.DataFrame:
    """Rows as of `fly_shards` for crafts that no design table holds; `design` is their place among them."""
    numbered = [(at, replicate) for at in range(len(conditions)) for replicate in replicates]
    shards = [Shard(number, at, replicate, 0, len(crafts)) for number, (at, replicate) in enumerate(numbered)]
    pieces = _cut(campaign, RangeFleets(campaign, crafts, crafts), conditions, shards)
    met, parts = zip(*_fly_pieces(pieces, workers, flown), strict=True)
    rows = _rows(*(np.concatenate(each) for each in zip(*parts, strict=True)))
    indices = np.array([condition.index for condition in conditions], dtype=np.int32)
    rows.insert(0, "replicate", np.repeat(np.array([shard.replicate for shard in met], dtype=np.int32), len(crafts)))
    rows.insert(0, "condition", np.repeat(indices[[shard.condition for shard in met]], len(crafts)))
    rows.insert(0, "design", np.tile(np.arange(len(crafts), dtype=np.int32), len(met)))
    return rows

"""Time histories of flights: the leaders' in every condition, those to be explained, and single ones."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, NamedTuple, TypeVar

import joblib
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.campaign.conditions import Condition
from sweep.campaign.courses import Row
from sweep.campaign.designs import craft_of
from sweep.campaign.draws import as_drawn, boat_of, draw_block, water_of
from sweep.campaign.faults import NamedFault
from sweep.flying.memory import check_room
from sweep.flying.work import Work
from sweep.model.block import Block
from sweep.model.compiled import LANES
from sweep.model.flight import fly, fly_record
from sweep.model.history import RECORD_RATE, RECORDED
from sweep.model.pack.fleet import Fleet, fleets_at, pack_crafts
from sweep.model.quantities import RESPONSE_NAMES

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft

RECORDED_REPLICATE = 0
"""The replicate of a leader's recorded flights: the first, as the pages say."""

Outcome = TypeVar("Outcome")


class Wanted(NamedTuple):
    """A flight to record: the place of its craft among some, the condition, the replicate; until: when it may end, s."""

    craft: int
    condition: Condition
    replicate: int
    until: float = math.inf


def record_flights(work: Work, chosen: Sequence[int]) -> dict[int, pd.DataFrame]:
    """Time histories of the chosen designs, one flight a condition (the first replicate), `RECORD_RATE` rows a second.

    Returns design -> table with the columns condition, time (s), then as `RECORDED` and foil_<name> (rad), SI; a condition in
    which the design did not start has no rows, and rows end where the flight ended.
    """
    crafts = [craft_of(work.campaign, work.designs.iloc[design]) for design in chosen]
    wanted = [Wanted(at, condition, RECORDED_REPLICATE) for condition in work.conditions for at in range(len(crafts))]
    watched = work.workers, work.watcher.flown
    histories = record_each(work.campaign, crafts, wanted, lambda place, history: history, *watched)
    return {design: pd.concat(histories[at :: len(crafts)], ignore_index=True) for at, design in enumerate(chosen)}


def record_each(
    campaign: Campaign,
    crafts: Sequence[Craft],
    wanted: Sequence[Wanted],
    tell: Callable[[int, pd.DataFrame], Outcome],
    workers: int | None = None,
    flown: Callable[[int], None] = lambda flights: None,
) -> list[Outcome]:
    """The result of `tell` for each wanted flight, from its place among them and its time history, in their order.

    Flights of one speed, fault and structure share a batch, as in `flights`: with few crafts most lanes would idle.
    """

    def fly_batch(batch: _Batch) -> list[tuple[int, Outcome]]:
        of = [wanted[place] for place in batch.places]
        until = max(each.until for each in of)
        blocks = [block._replace(length=min(block.length, until)) for block in _blocks(campaign, of)]
        records = fly_record(batch.fleet, blocks, RECORD_RATE)
        histories = (_history(crafts[each.craft], each.condition, record) for each, record in zip(of, records, strict=True))
        return [(place, tell(place, history)) for place, history in zip(batch.places, histories, strict=True)]

    check_room(workers or joblib.cpu_count())
    parallel = joblib.Parallel(n_jobs=workers or joblib.cpu_count(), backend="threading", return_as="generator")
    found: dict[int, Outcome] = {}
    for part in parallel(joblib.delayed(fly_batch)(batch) for batch in _batches(campaign, crafts, wanted)):
        found |= dict(part)
        flown(len(part))
    return [found[place] for place in range(len(wanted))]


class _Batch(NamedTuple):
    """Flights side by side: their places among those wanted, and the craft of each as a fleet."""

    places: list[int]
    fleet: Fleet


def _batches(campaign: Campaign, crafts: Sequence[Craft], wanted: Sequence[Wanted]) -> Iterator[_Batch]:
    """The flights in batches of at most `LANES`, alike in all that lanes share."""
    groups: dict[tuple[tuple[float, ...], tuple[Row, ...], NamedFault, int], list[int]] = {}
    for place, flight in enumerate(wanted):
        boat = boat_of(campaign, flight.replicate)
        met = flight.condition
        groups.setdefault((met.speeds, met.legs, met.fault, boat), []).append(place)
    for (speeds, _, fault, boat), places in groups.items():
        as_built = [fault.of(craft) for craft in as_drawn(campaign, crafts, boat)]
        for indices, fleet in fleets_at(pack_crafts(as_built, water_of(campaign), designed=crafts), speeds[0], legs=speeds[1:]):
            row = {craft: at for at, craft in enumerate(indices.tolist())}
            alike = [place for place in places if wanted[place].craft in row]
            for start in range(0, len(alike), LANES):
                some = alike[start : start + LANES]
                yield _Batch(some, fleet.some(np.array([row[wanted[place].craft] for place in some])))


def _blocks(campaign: Campaign, flights: Sequence[Wanted]) -> list[Block]:
    """The block of each flight, drawn once for all that meet it."""
    drawn = {(each.condition.index, each.replicate): each for each in flights}
    blocks = {key: draw_block(campaign, each.condition, each.replicate) for key, each in drawn.items()}
    return [blocks[each.condition.index, each.replicate] for each in flights]


def _history(craft: Craft, condition: Condition, record: NDArray[np.float64]) -> pd.DataFrame:
    columns = [*RECORDED, *(f"foil_{name}" for name in craft.foils)]
    history = pd.DataFrame(record, columns=columns).dropna(subset=["time"])
    history.insert(0, "condition", np.int32(condition.index))
    return history


class Single(NamedTuple):
    """One flight: status (see `STATUS_NAMES`), responses by name (SI), and its time history as `record_flights` has it."""

    status: int
    responses: dict[str, float]
    history: pd.DataFrame


def fly_single(campaign: Campaign, craft: Craft, condition: Condition, replicate: int, rate: float) -> Single:
    """One craft in one condition, once; rate: rows a second of its history, no more than the model's steps."""
    (drawn,) = as_drawn(campaign, [craft], boat_of(campaign, replicate))
    packed = pack_crafts([condition.fault.of(drawn)], water_of(campaign), designed=[craft])
    ((_, fleet),) = fleets_at(packed, condition.speed, legs=condition.speeds[1:])
    block = draw_block(campaign, condition, replicate)
    flown, record = fly(fleet, block), fly_record(fleet, block, rate)[0]
    responses = dict(zip(RESPONSE_NAMES, flown.responses[0].tolist(), strict=True))
    return Single(int(flown.status[0]), responses, _history(craft, condition, record).reset_index(drop=True))

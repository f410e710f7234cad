"""Flights over time: the leaders' in every condition, those that want explaining, and one by itself."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import joblib
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.conditions import Condition
from sweep.designs import craft_of
from sweep.flights import draw_block, water_of
from sweep.model.compiled import LANES
from sweep.model.fleet import build_fleets
from sweep.model.flight import RECORDED, fly, fly_record
from sweep.model.quantities import RESPONSE_NAMES

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft

RECORDED_REPLICATE = 0


def record_flights(
    campaign: Campaign,
    designs: pd.DataFrame,
    conditions: Sequence[Condition],
    chosen: Sequence[int],
    workers: int | None = None,
) -> dict[int, pd.DataFrame]:
    """Time histories of the chosen designs, one flight a condition (the first replicate), 50 rows a second.

    Returns design -> table with the columns condition, time (s), then as `RECORDED` and foil_<name> (rad), SI; a condition in
    which the design did not start has no rows, and rows end where the flight ended.
    """
    crafts = [craft_of(campaign, designs.iloc[design]) for design in chosen]
    parallel = joblib.Parallel(n_jobs=workers or joblib.cpu_count(), backend="threading")
    histories = parallel(
        joblib.delayed(record_block)(campaign, crafts, condition, RECORDED_REPLICATE) for condition in conditions
    )
    return {design: pd.concat([part[at] for part in histories], ignore_index=True) for at, design in enumerate(chosen)}


def record_block(campaign: Campaign, crafts: Sequence[Craft], condition: Condition, replicate: int) -> dict[int, pd.DataFrame]:
    """The time history of each craft in a replicate of a condition, by its place among them; as of `record_flights`."""
    block = draw_block(campaign, condition, replicate)
    histories = {}
    as_built = [condition.fault.of(craft) for craft in crafts]
    for indices, fleet in build_fleets(as_built, water_of(campaign), condition.speed, designed=crafts):
        for start in range(0, fleet.size, LANES):
            records = fly_record(fleet.part(start, start + LANES), block)
            for at, record in zip(indices[start : start + LANES].tolist(), records, strict=True):
                histories[at] = _history(crafts[at], condition, record)
    return histories


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
    ((_, fleet),) = build_fleets([condition.fault.of(craft)], water_of(campaign), condition.speed, designed=[craft])
    block = draw_block(campaign, condition, replicate)
    flown, record = fly(fleet, block), fly_record(fleet, block, rate)[0]
    responses = dict(zip(RESPONSE_NAMES, flown.responses[0].tolist(), strict=True))
    return Single(int(flown.status[0]), responses, _history(craft, condition, record).reset_index(drop=True))

"""From responses to scores: scaled, capped, weighted; smaller is better."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.model.quantities import STATUS_NAMES

if TYPE_CHECKING:
    from sweep.campaign.judging import Weight

Array = NDArray[np.float64]

CAP = 10.0
"""A response counts as ten scales at most (judgement): worse than that is simply bad."""

FLEW = STATUS_NAMES.index("flew")
NO_TRIM = STATUS_NAMES.index("no-trim")
NOT_A_NUMBER = STATUS_NAMES.index("not-a-number")


def flight_scores(flights: pd.DataFrame, score: Mapping[str, Weight], scored_time: float) -> Array:
    """Score every flight.

    flights: rows with status, time_foilborne (s) and the responses named in `score`, SI. scored_time: s, of a whole flight.
    Each response over its scale, no more than `CAP`, weighted; what did not come out counts as the cap, and so does the
    time that an early end or a loss of flight took away. Returns (flights,), between 0 and `CAP`.
    """
    total = np.zeros(len(flights))
    for response, weight in score.items():
        scaled = flights[response].to_numpy(dtype=np.float64) / weight.scale
        total += weight.weight * np.fmin(scaled, CAP)
    flown = flown_share(flights, scored_time)
    return np.asarray(flown * total / sum(weight.weight for weight in score.values()) + (1.0 - flown) * CAP)


def flown_share(flights: pd.DataFrame, scored_time: float) -> Array:
    """Share of the scored time that each flight was foilborne: 0 for those that gave no numbers; (flights,).

    Half a part in a hundred short is whole: a flight is scored in steps.
    """
    status = flights["status"].to_numpy()
    share = np.clip(np.nan_to_num(flights["time_foilborne"].to_numpy() / scored_time), 0.0, 1.0)
    share[(status == NO_TRIM) | (status == NOT_A_NUMBER)] = 0.0
    return np.asarray(np.where(share > 0.995, 1.0, share), dtype=np.float64)


def in_blocks(flights: pd.DataFrame, values: NDArray[Any], shape: tuple[int, int, int]) -> NDArray[Any]:
    """Lay one value a flight out as (designs, conditions, replicates).

    Raises ValueError if a flight is missing or there twice.
    """
    place = np.ravel_multi_index(tuple(flights[axis].to_numpy() for axis in ("design", "condition", "replicate")), shape)
    if len(place) != np.prod(shape) or len(np.unique(place)) != len(place):
        raise ValueError(f"{len(place)} flights do not fill {shape} designs, conditions and replicates")
    laid = np.empty(len(place), dtype=values.dtype)
    laid[place] = values
    return laid.reshape(shape)


def failed_share(statuses: NDArray[np.int8]) -> Array:
    """Share of each design's flights that ended early or did not start; statuses: (designs, conditions, replicates)."""
    return np.asarray((statuses != FLEW).mean(axis=(1, 2)), dtype=np.float64)


def mean_responses(flights: pd.DataFrame, names: list[str], designs: int) -> dict[str, Array]:
    """Mean of each named response over the flights of each design that have it, SI; NaN where none has, (designs,)."""
    means = flights.groupby("design")[names].mean().reindex(range(designs))
    return {name: means[name].to_numpy(dtype=np.float64) for name in names}

"""From responses to scores: scaled, capped, weighted; smaller is better.

Responses are means over the time that the craft was foilborne. What it was not foilborne of the scored time counts as the
cap: a loss of flight, an early end and, in a flight from rest, the time until it takes off.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.insight.failing import FailureCounts, Failures
from sweep.model.quantities import FLEW, NO_TRIM, NOT_A_NUMBER

if TYPE_CHECKING:
    from sweep.campaign.scoring import Weight

Array = NDArray[np.float64]

CAP = 10.0
"""A response counts as ten scales at most (judgement): worse than that is simply bad."""


def flight_scores(flights: pd.DataFrame, score: Mapping[str, Weight], scored_time: float) -> Array:
    """Score every flight.

    flights: rows with status, time_foilborne (s) and the responses named in `score`, SI. scored_time: s, of a whole flight.
    Each response over its scale, no more than `CAP`, weighted; what did not come out counts as the cap, and so does the
    time not foilborne: after an early end, in a loss of flight, before a take-off from rest. Returns (flights,), between 0
    and `CAP`.
    """
    total = np.zeros(len(flights))
    for response, weight in score.items():
        scaled = flights[response].to_numpy(dtype=np.float64) / weight.scale
        total += weight.weight * np.fmin(scaled, CAP)
    flown = flown_share(flights, scored_time)
    mean = flown * total / sum(weight.weight for weight in score.values()) + (1.0 - flown) * CAP
    return np.asarray(np.minimum(mean, CAP))  # a mean of caps may be rounded up


def flown_share(flights: pd.DataFrame, scored_time: float) -> Array:
    """Share of the scored time that each flight was foilborne: 0 for those that gave no numbers; (flights,).

    Half a part in a hundred short is whole: a flight is scored in steps.
    """
    status = flights["status"].to_numpy()
    share = np.clip(np.nan_to_num(flights["time_foilborne"].to_numpy() / scored_time), 0.0, 1.0)
    share[(status == NO_TRIM) | (status == NOT_A_NUMBER)] = 0.0
    return np.asarray(np.where(share > 0.995, 1.0, share), dtype=np.float64)


class ScoreTally:
    """What standings need of all flights, added up part by part: one number a flight, a few a design.

    scores: (designs, conditions, replicates), NaN where no flight has been added yet. values: of each wanted response,
    likewise, where they are kept.
    """

    def __init__(
        self,
        score: Mapping[str, Weight],
        scored_time: float,
        shape: tuple[int, int, int],
        means: Sequence[str] = (),
        keeps: bool = False,
    ) -> None:
        """scored_time: s, of a whole flight; means: responses whose mean is wanted; keeps: the value of each flight too."""
        self._score, self._scored_time = score, scored_time
        self.scores = np.full(shape, np.nan)
        self._failures = FailureCounts(shape[0], shape[1])
        self.values: dict[str, Array] = {name: np.full(shape, np.nan) for name in means if keeps}
        self._totals = {name: np.zeros((2, shape[0])) for name in means}

    def add(self, flights: pd.DataFrame) -> None:
        """Add flights, as `flight_scores` takes them and with their design, condition and replicate.

        Raises ValueError for a flight that is there already.
        """
        design = flights["design"].to_numpy()
        place = (design, flights["condition"].to_numpy(), flights["replicate"].to_numpy())
        if any(len(each) and each.max() >= size for each, size in zip(place, self.scores.shape, strict=True)):
            raise ValueError("there are flights that nobody planned")
        if not np.isnan(self.scores[place]).all():
            raise ValueError("a flight is there twice")
        self.scores[place] = flight_scores(flights, self._score, self._scored_time)
        self._failures.add(place, flights["status"].to_numpy() != FLEW, self.scores[place])
        for name, totals in self._totals.items():
            values = flights[name].to_numpy(dtype=np.float64)
            if name in self.values:
                self.values[name][place] = values
            there = ~np.isnan(values)
            np.add.at(totals[0], design[there], values[there])
            np.add.at(totals[1], design, there)

    def missing(self, replicates: int | None = None) -> int:
        """How many flights have not been added, of all replicates or of so many first."""
        return int(np.isnan(self.scores[:, :, :replicates]).sum())

    def failures(self, evens: bool = False) -> Failures:
        """What failed so far; evens: all conditions weigh as much as the one with the fewest flights, however many each has."""
        return self._failures.failures(evens)

    def means(self) -> dict[str, Array]:
        """Mean of each wanted response over the flights of each design that have it, SI; NaN where none has, (designs,)."""
        with np.errstate(invalid="ignore"):
            return {name: total / count for name, (total, count) in self._totals.items()}

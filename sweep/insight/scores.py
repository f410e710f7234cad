"""From responses to scores: scaled, capped, weighted; smaller is better.

Responses are means over the time that the craft was foilborne. What it was not foilborne of the scored time counts as the
cap: a loss of flight, an early end and, in a flight from rest, the time until it takes off. The seconds in which a course tells
it to lie afloat are left out of the scored time; the take-off after them is not.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.campaign.conditions import list_conditions
from sweep.campaign.courses import Row
from sweep.campaign.designs import crafts_of, lay_out
from sweep.campaign.rules import whole
from sweep.insight.failing import FailureCounts, Failures
from sweep.model.onboard.course import PATH, SPEED, STOPPED, TIME
from sweep.model.quantities import FLEW, NO_RESULT

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft
    from sweep.campaign.scoring import Weight

Array = NDArray[np.float64]

CAP = 10.0
"""A response counts as ten scales at most (judgement): worse than that is simply bad."""


class Costs(NamedTuple):
    """What the costs of designs give to their scores: points, weighted and summed, (designs,); the sum of the weights."""

    points: Array
    weight: float

    def some(self, designs: NDArray[np.int64]) -> Costs:
        """Those of some designs."""
        return Costs(self.points[designs], self.weight) if self.weight else self


NO_COSTS = Costs(np.zeros(0), 0.0)


def cost_points(costs: Mapping[str, Weight], crafts: Iterable[Craft]) -> Costs:
    """The points of masses and prices of crafts; costs: the weight of `mass`, kg, and `price`."""
    if not costs:
        return NO_COSTS
    of = [sum(each.weight * whole(name, craft) / each.scale for name, each in costs.items()) for craft in crafts]
    return Costs(np.array(of, dtype=np.float64), sum(each.weight for each in costs.values()))


class Scoring(NamedTuple):
    """How a campaign scores: its responses, the scored time of a flight (s), what costs give, and the season: how much each
    condition counts, (conditions,), 1 on average; None where all count alike. afloat: seconds of the scored ones in which each
    condition's course tells a craft to lie afloat, (conditions,); None where none does."""

    score: Mapping[str, Weight]
    scored_time: float
    costs: Costs = NO_COSTS
    season: Array | None = None
    afloat: Array | None = None

    @classmethod
    def of(cls, campaign: Campaign, crafts: Iterable[Craft] | None = None) -> Scoring:
        """Of a campaign; crafts: those that `design` of its flights numbers, by default its designs."""
        if crafts is None:
            crafts = crafts_of(campaign, lay_out(campaign)) if campaign.cost_weights else ()
        season = np.array(campaign.season) if campaign.season else None
        scored, afloat = campaign.flight.scored, None
        if any(leg.stop for course in campaign.courses for leg in course.legs):
            afloat = np.array([told_afloat(each.legs, scored) for each in list_conditions(campaign)])
        return cls(campaign.score, scored, cost_points(campaign.cost_weights, crafts), season, afloat)

    def some(self, designs: NDArray[np.int64]) -> Scoring:
        """That of some designs, numbered anew."""
        return self._replace(costs=self.costs.some(designs))

    def points(self, flights: pd.DataFrame) -> Array:
        """The score of every flight, costs among it, as `flight_scores` has it, (flights,)."""
        afloat = 0.0 if self.afloat is None else self.afloat[flights["condition"].to_numpy()]
        return flight_scores(flights, self.score, self.scored_time - afloat, self.costs)

    def scores(self, flights: pd.DataFrame) -> Array:
        """The same, times how much each flight's condition counts, so that plain means over conditions are a season's."""
        points = self.points(flights)
        return points if self.season is None else points * self.season[flights["condition"].to_numpy()]


def told_afloat(legs: Sequence[Row], scored: float) -> float:
    """Seconds of the scored ones (s) in which a course tells a craft to lie afloat; paths are taken at their wanted speed."""
    told = begun = 0.0
    for leg in legs:
        lasts = leg[PATH] / leg[SPEED] if leg[PATH] > 0.0 else leg[TIME]
        told += leg[STOPPED] * max(min(lasts, scored - begun), 0.0)
        begun += lasts
    return told


def flight_scores(
    flights: pd.DataFrame, score: Mapping[str, Weight], scored_time: float | Array, costs: Costs = NO_COSTS
) -> Array:
    """Score every flight.

    flights: rows with status, time_foilborne (s) and the responses named in `score`, SI, and with `design` if there are costs.
    scored_time: s, of a whole flight, stops left out; of all flights or of each.
    Each response over its scale, no more than `CAP`, weighted; what did not come out counts as the cap, and so does the
    time not foilborne: after an early end, in a loss of flight, before a take-off from rest. Returns (flights,), between 0
    and `CAP`.
    """
    total = np.zeros(len(flights))
    for response, weight in score.items():
        scaled = flights[response].to_numpy(dtype=np.float64) / weight.scale
        total += weight.weight * np.fmin(scaled, CAP)
    if costs.weight:
        total += costs.points[flights["design"].to_numpy()]
    flown = flown_share(flights, scored_time)
    mean = flown * total / (sum(weight.weight for weight in score.values()) + costs.weight) + (1.0 - flown) * CAP
    return np.asarray(np.minimum(mean, CAP))  # a mean of caps may be rounded up


def flown_share(flights: pd.DataFrame, scored_time: float | Array) -> Array:
    """Share of the scored time that each flight was foilborne: 0 for those that gave no numbers; (flights,).

    Half a part in a hundred short is whole: a flight is scored in steps.
    """
    status = flights["status"].to_numpy()
    share = np.clip(np.nan_to_num(flights["time_foilborne"].to_numpy() / scored_time), 0.0, 1.0)
    share[np.isin(status, NO_RESULT)] = 0.0
    return np.asarray(np.where(share > 0.995, 1.0, share), dtype=np.float64)


class ScoreTally:
    """What standings need of all flights, added up part by part: one number a flight, a few a design.

    scores: (designs, conditions, replicates), times how much each condition counts, NaN where no flight has been added yet.
    values: of each wanted response, where they are kept, as they are.
    """

    def __init__(
        self,
        scoring: Scoring,
        shape: tuple[int, int, int],
        means: Sequence[str] = (),
        keeps: bool = False,
    ) -> None:
        """means: responses whose mean is wanted; keeps: the value of each flight too."""
        self._scoring = scoring
        self._counts = np.ones(shape[1]) if scoring.season is None else scoring.season
        self.scores = np.full(shape, np.nan)
        self._failures = FailureCounts(shape[0], shape[1], scoring.season)
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
        self.scores[place] = self._scoring.scores(flights)
        self._failures.add(place, flights["status"].to_numpy() != FLEW, self._scoring.points(flights))
        for name, totals in self._totals.items():
            values = flights[name].to_numpy(dtype=np.float64)
            if name in self.values:
                self.values[name][place] = values
            counts = np.where(np.isnan(values), 0.0, self._counts[place[1]])
            np.add.at(totals[0], design, counts * np.nan_to_num(values))
            np.add.at(totals[1], design, counts)

    def missing(self, replicates: int | None = None) -> int:
        """How many flights have not been added, of all replicates or of so many first."""
        return int(np.isnan(self.scores[:, :, :replicates]).sum())

    def failures(self, evens: bool = False) -> Failures:
        """What failed so far; evens: all conditions weigh as much as the one with the fewest flights, however many each has."""
        return self._failures.failures(evens)

    def means(self) -> dict[str, Array]:
        """Mean of each wanted response over the flights of each design that have it, by the season, SI; NaN where none has,
        (designs,)."""
        with np.errstate(invalid="ignore"):
            return {name: total / count for name, (total, count) in self._totals.items()}


def in_season(values: Array, season: Array | None) -> Array:
    """Values, (designs, conditions, replicates), NaN where there is none, so that a plain mean of a design over the conditions
    in which it has any is a season's mean over these."""
    if season is None:
        return values
    held = np.isfinite(values).any(axis=2)
    with np.errstate(invalid="ignore", divide="ignore"):
        usual = (held * season).sum(axis=1, keepdims=True) / held.sum(axis=1, keepdims=True)
        return np.asarray(values * (season / usual)[:, :, None])

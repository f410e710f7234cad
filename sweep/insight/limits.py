"""Limits: what a design must keep, judged by exact bounds, with three verdicts.

A limit is judged on all conditions together; each condition is listed beside it. Every bound holds with 95 % confidence by
itself. Events per time are Poisson counts (Garwood, Biometrika 28, 1936, 437-442), shares of flights are binomial (Clopper &
Pearson, Biometrika 26, 1934, 404-413).

Rates of events are per foilborne time: a touchdown is none while the hull floats, and a boat that wallows must not dilute its
events. The time until a take-off from rest is not foilborne, nor is a loss of flight; what that costs is in the score.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd
import scipy
from numpy.typing import NDArray

from sweep.insight.by_draw import design_effect
from sweep.insight.intervals import CONFIDENCE
from sweep.insight.scores import Array
from sweep.model.quantities import NO_TRIM, NOT_A_NUMBER, RESPONSE
from sweep.words.numbers import with_unit
from sweep.words.responses import response as shown
from sweep.words.responses import response_title

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.scoring import Limit
    from sweep.campaign.unknowns import Unknowns

POOLED = -1
"""The condition number of the row that judges all conditions together."""

VERDICTS = ("kept", "not yet known", "broken")
KEPT, NOT_YET_KNOWN, BROKEN = range(3)
NOT_FLOWN = "Could not be flown"
"""How the reason begins of a design that could not start."""
COLUMNS = ("design", "condition", "response", "verdict", "value", "low", "high", "likely_high", "more_flights")
PROBABLE = 0.8
"""Confidence with which a limit is probably kept (judgement)."""


class ResponseBounds(NamedTuple):
    """What the flights say of one response: value and bounds in SI, the upper bound that holds with `PROBABLE`, and how many
    more clean flights would tell; same shapes."""

    value: Array
    low: Array
    high: Array
    likely_high: Array
    more_flights: Array


def rate_bounds(events: Array, time: Array, confidence: float = CONFIDENCE) -> tuple[Array, Array]:
    """Exact lower and upper bound of a rate, each with `confidence`; events counted in `time` (s), per second."""
    with np.errstate(divide="ignore", invalid="ignore"):
        low = np.where(events > 0, scipy.special.gammaincinv(np.maximum(events, 1.0), 1.0 - confidence), 0.0) / time
        high = scipy.special.gammaincinv(events + 1.0, confidence) / time
    return np.nan_to_num(low, nan=0.0), high


def share_bounds(hits: Array, trials: Array, confidence: float = CONFIDENCE) -> tuple[Array, Array]:
    """Exact lower and upper bound of a share, each with `confidence`; without trials 0 and 1."""
    low = np.where(hits > 0, scipy.special.betaincinv(np.maximum(hits, 1.0), trials - hits + 1.0, 1.0 - confidence), 0.0)
    high = np.where(hits < trials, scipy.special.betaincinv(hits + 1.0, np.maximum(trials - hits, 1.0), confidence), 1.0)
    return low, high


def flights_needed(hits: int, share: float, confidence: float = CONFIDENCE) -> float:
    """Fewest flights, `hits` of them with the event, that show less than `share`: 149 for none and 2 %; inf if none can."""
    if share <= 0.0:
        return math.inf
    short, enough = hits, hits + 1
    while scipy.special.bdtr(hits, enough, share) > 1.0 - confidence:
        short, enough = enough, 2 * enough
    while enough - short > 1:
        middle = (short + enough) // 2
        short, enough = (middle, enough) if scipy.special.bdtr(hits, middle, share) > 1.0 - confidence else (short, middle)
    return float(enough)


class LimitCounts:
    """What limits need of all flights, added up part by part; arrays are (designs, conditions).

    events, exposure: of each limit; events and the foilborne time (s) that they are counted in, or flights with the event
    and flights that tell. lost: whether a flight there did not start, or its numbers left the model. flights: all of them.
    of_draws: of each limit events and exposure of each draw of what is unknown, (2, designs, draws). season: how much each
    condition counts, (conditions,).
    """

    def __init__(
        self,
        limits: Mapping[str, Limit],
        designs: int,
        conditions: int,
        evens: bool = False,
        unknowns: Unknowns | None = None,
    ) -> None:
        """evens: let conditions weigh alike, however many flights each has."""
        self._unknowns = unknowns
        self.season = np.ones(conditions)
        self.of_draws = {name: np.zeros((2, designs, 0)) for name in limits}
        self.evens = evens
        self.limits, self.lost = limits, np.zeros((designs, conditions), dtype=np.bool_)
        self.flights = np.zeros((designs, conditions))
        self.events = {name: np.zeros((designs, conditions)) for name in limits}
        self.exposure = {name: np.zeros((designs, conditions)) for name in limits}

    @classmethod
    def of(cls, campaign: Campaign, designs: int, conditions: int, evens: bool = False) -> LimitCounts:
        """Of a campaign, with its unknowns and its season."""
        counts = cls(campaign.limits, designs, conditions, evens, campaign.unknowns)
        counts.season = np.array(campaign.season) if campaign.season else counts.season
        return counts

    def add(self, flights: pd.DataFrame) -> None:
        """Add flights: rows with design, condition, status, time_foilborne and the limited responses, SI."""
        place = flights["design"].to_numpy(), flights["condition"].to_numpy()
        time = np.nan_to_num(flights["time_foilborne"].to_numpy(dtype=np.float64))
        np.add.at(self.flights, place, 1.0)
        np.logical_or.at(self.lost, place, flights["status"].isin((NO_TRIM, NOT_A_NUMBER)).to_numpy())
        for name, limit in self.limits.items():
            values = flights[name].to_numpy(dtype=np.float64)
            rate = limit.kind == "rate"
            events, exposure = (
                np.rint(np.nan_to_num(values * time)) if rate else values > 0.0,
                time if rate else np.isfinite(values),
            )
            np.add.at(self.events[name], place, events)
            np.add.at(self.exposure[name], place, exposure)
            if self._unknowns is not None:
                self._add_draws(name, flights, np.stack([events, exposure]))

    def _add_draws(self, name: str, flights: pd.DataFrame, counted: Array) -> None:
        """Add flights to the counts of their draws, of which there may be more than before; counted: (2, flights)."""
        assert self._unknowns is not None
        replicates, at = np.unique(flights["replicate"].to_numpy(), return_inverse=True)
        draws = np.array([self._unknowns.draw_of(int(each)) for each in replicates], dtype=np.int64)
        held = self.of_draws[name]
        more = np.zeros((*held.shape[:2], max(int(draws.max(initial=-1)) + 1 - held.shape[2], 0)))
        self.of_draws[name] = np.concatenate([held, more], axis=2)
        for totals, each in zip(self.of_draws[name], counted, strict=True):
            np.add.at(totals, (flights["design"].to_numpy(), draws[at]), each)

    def design_effect(self, name: str) -> float:
        """How many flights of one draw tell as much as one of another: see `by_draw.design_effect`; 1 without unknowns."""
        events, exposure = self.of_draws[name]
        flown = exposure.any(axis=0)
        return design_effect(events[:, flown], exposure[:, flown])

    def weights(self) -> Array:
        """What each flight counts when all conditions are judged together, (designs, conditions).

        Where leading designs flew on, conditions have unlike numbers of flights; all then count as much as the one with the
        fewest, so that none weighs more for having been looked at more closely. Counts of less weight vary less than the exact
        bounds take them to: these err to the safe side. A design that has not met every condition has each flight count once.
        In a season a flight counts as often as its condition occurs, in the most frequent one once.
        """
        often = self.season / self.season.max()
        if not self.evens or not self.flights.all(axis=1).any():
            return np.asarray(np.ones_like(self.flights) * often)
        whole = self.flights.all(axis=1, keepdims=True)
        even = np.where(whole, self.flights.min(axis=1, keepdims=True) / np.maximum(self.flights, 1.0), 1.0)
        return np.asarray(even * often)


def kept_so_far(counts: LimitCounts) -> NDArray[np.bool_]:
    """Designs whose own flights keep every limit, as far as they tell, over all conditions together, (designs,)."""
    kept = ~counts.lost.any(axis=1) if counts.limits else np.ones(len(counts.lost), dtype=np.bool_)
    weights = counts.weights()
    for name, limit in counts.limits.items():
        kept &= (weights * counts.events[name]).sum(axis=1) <= limit.value * (weights * counts.exposure[name]).sum(axis=1)
    return np.asarray(kept)


def judge(counts: LimitCounts, scored_time: float) -> pd.DataFrame:
    """Judge every limit for every design, in each condition and pooled.

    scored_time: s, of a whole flight. Returns `COLUMNS`: condition is `POOLED` for all together, value, low and high are SI,
    more_flights are the clean ones that would tell (0 where it is known, NaN where no number would). A design with a flight
    that did not start, or whose numbers left the model, has broken the limit there.
    """
    lost = _and_pooled(counts.lost.astype(np.float64)) > 0.0
    parts = [_judged(counts, name, scored_time, lost) for name in counts.limits]
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=list(COLUMNS))


def _judged(counts: LimitCounts, name: str, scored_time: float, lost: NDArray[np.bool_]) -> pd.DataFrame:
    limit, weights = counts.limits[name], counts.weights()
    alike = np.ones(1 + counts.flights.shape[1])
    alike[0] = counts.design_effect(name)  # within a condition nearly every flight is of another draw
    events, exposure = (_and_pooled(totals[name], weights) / alike for totals in (counts.events, counts.exposure))
    found = _rate(events, exposure, limit.value, scored_time) if limit.kind == "rate" else _share(events, exposure, limit.value)
    verdict = np.where(found.high <= limit.value, KEPT, np.where(found.low > limit.value, BROKEN, NOT_YET_KNOWN))
    return _table(name, np.where(lost, BROKEN, verdict), found._replace(more_flights=np.ceil(found.more_flights * alike)))


def _and_pooled(totals: Array, weights: Array | float = 1.0) -> Array:
    """Put the weighted sum over conditions before the conditions: (designs, conditions) -> (designs, 1 + conditions)."""
    return np.concatenate([(weights * totals).sum(axis=1, keepdims=True), totals], axis=1)


def _rate(events: Array, exposure: Array, limit: float, scored_time: float) -> ResponseBounds:
    low, high = rate_bounds(events, exposure)
    with np.errstate(divide="ignore", invalid="ignore"):
        value = events / exposure
        more = np.ceil((scipy.special.gammaincinv(events + 1.0, CONFIDENCE) / limit - exposure) / scored_time)
    return ResponseBounds(value, low, high, rate_bounds(events, exposure, PROBABLE)[1], more)


def _share(hits: Array, trials: Array, limit: float) -> ResponseBounds:
    low, high = share_bounds(hits, trials)
    counts, where = np.unique(hits, return_inverse=True)
    needed = np.array([flights_needed(math.ceil(count), limit) for count in counts])[where.reshape(hits.shape)]
    with np.errstate(invalid="ignore"):
        return ResponseBounds(hits / trials, low, high, share_bounds(hits, trials, PROBABLE)[1], needed - trials)


def _table(name: str, verdict: NDArray[np.int64], found: ResponseBounds) -> pd.DataFrame:
    """One row a design and condition, the pooled one first; all arrays (designs, 1 + conditions)."""
    designs, rows = verdict.shape
    wanted = np.where(np.isfinite(found.more_flights), np.maximum(found.more_flights, 1.0), np.nan)
    columns = (
        np.repeat(np.arange(designs), rows),
        np.tile(np.arange(POOLED, rows - 1), designs),
        pd.Categorical([name] * verdict.size),
        pd.Categorical.from_codes(verdict.ravel().tolist(), pd.Index(VERDICTS)),
        found.value.ravel(),
        found.low.ravel(),
        found.high.ravel(),
        found.likely_high.ravel(),
        np.where(verdict == NOT_YET_KNOWN, wanted, 0.0).ravel(),
    )
    return pd.DataFrame(dict(zip(COLUMNS, columns, strict=True)))


class Judged(NamedTuple):
    """One response of one design: code of its verdict, value and bounds in SI, clean flights wanted; each (1 + conditions,)."""

    verdict: NDArray[np.int8]
    value: Array
    low: Array
    high: Array
    likely_high: Array
    more_flights: Array


def verdicts(judged: pd.DataFrame, limits: Mapping[str, Limit], names: Sequence[str], designs: int) -> pd.DataFrame:
    """Sum up the limits of each design.

    judged: what `judge` returns; names: of the conditions, in order. Returns one row a design: verdict (broken if any limit
    is, else not yet known if any is), reason (a sentence for each limit that is not kept, '' if all are), doubtful (by its own
    flights it breaks a limit, surely or not), probable (each limit is kept, or would be with the confidence `PROBABLE`).
    """
    summed = pd.DataFrame({"verdict": VERDICTS[KEPT], "reason": "", "doubtful": False, "probable": True}, index=range(designs))
    if not limits:
        return summed
    codes = judged["verdict"].cat.codes.to_numpy()
    arrays = (codes, *(judged[column].to_numpy() for column in Judged._fields[1:]))
    rows = Judged(*(array.reshape(len(limits), designs, -1) for array in arrays))
    worst = rows.verdict[:, :, 0].max(axis=0)
    allowed = np.array([limit.value for limit in limits.values()])[:, None]
    reasons = np.full(designs, "", dtype=object)
    for design in np.flatnonzero(worst > KEPT):
        said = [
            _sentence(response, limit.value, Judged(*(array[at, design] for array in rows)), names)
            for at, (response, limit) in enumerate(limits.items())
            if rows.verdict[at, design, 0] > KEPT
        ]
        reasons[design] = " ".join(dict.fromkeys(said))
    return summed.assign(
        verdict=np.array(VERDICTS, dtype=object)[worst],
        reason=reasons,
        doubtful=(worst == BROKEN) | (np.nan_to_num(rows.value[:, :, 0], nan=np.inf) > allowed).any(axis=0),
        probable=(worst != BROKEN) & (rows.likely_high[:, :, 0] <= allowed).all(axis=0),
    )


def refuse(summed: pd.DataFrame, reasons: Mapping[int, str]) -> pd.DataFrame:
    """What `verdicts` has summed up, with some designs refused for what is certain without a flight, by their number."""
    if not reasons:
        return summed
    rows, refused = summed["reason"].tolist(), summed.index.isin(list(reasons))
    return summed.assign(
        verdict=np.where(refused, VERDICTS[BROKEN], summed["verdict"]),
        reason=[f"{reasons.get(design, '')} {said}".strip() for design, said in zip(summed.index, rows, strict=True)],
        doubtful=summed["doubtful"] | refused,
        probable=summed["probable"] & ~refused,
    )


def _sentence(response: str, limit: float, found: Judged, names: Sequence[str]) -> str:
    """Which limit, by how much, and in which condition it is worst."""
    label, allowed, value = response_title(response).capitalize(), in_words(response, limit), in_words(response, found.value[0])
    if found.verdict[0] == BROKEN and not found.low[0] > limit:
        lost = np.flatnonzero((found.verdict[1:] == BROKEN) & ~(found.low[1:] > limit)).tolist()
        return f"{NOT_FLOWN} in {names[lost[0]]}{_and_more(len(lost) - 1)}."
    if found.verdict[0] == BROKEN:
        least = in_words(response, found.low[0])
        return f"{label}: {value} against {allowed} allowed, at least {least}{_worst(response, found, names)}."
    more = found.more_flights[0]
    flights = "flight" if more == 1.0 else "flights"
    tell = f"{more:.0f} more clean {flights} would tell" if np.isfinite(more) else "no number of clean flights could show that"
    possible = (
        f"up to {in_words(response, found.high[0])} is possible" if np.isfinite(found.high[0]) else "there is no bound yet"
    )
    return f"{label}: {value} against {allowed} allowed, but {possible}; {tell}{_worst(response, found, names)}."


def _and_more(count: int) -> str:
    return f" and {count} more" if count else ""


def _worst(response: str, found: Judged, names: Sequence[str]) -> str:
    values = np.nan_to_num(found.value[1:], nan=-np.inf)
    if len(values) < 2 or not values.max() > 0.0:
        return ""
    return f"; most in {names[int(values.argmax())]}, {in_words(response, values.max())}"


def in_words(response: str, value: float) -> str:
    """'1.2 /min', '2 %': a limit's value as people read it; counts are shares of flights."""
    if RESPONSE[response].unit == "count":
        return with_unit(100.0 * value, "%")
    return shown(response, value)

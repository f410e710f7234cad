"""The sea that a craft met, from its own sensors: significant height and peak period, with intervals.

The height comes from the variance of the elevation, less the noise. The period is that of the JONSWAP sea whose running
variance over frequency, met at the runs' speeds and headings, is most like the measured one. Short passes are pooled, and what
the rangefinder's rate folds down is folded in the model too. Intervals come from records of the same length, drawn from the
seas that the estimate might as well have come from (a bootstrap of a bootstrap: Efron & Tibshirani, An Introduction to the
Bootstrap, 1993, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import Literal, NamedTuple

import numpy as np

from sweep.insight.intervals import CONFIDENCE
from sweep.logs.sea.spectrum import UNFOLDED, Encounter, Met, shares
from sweep.model.physics.spectra import Floats, Spectrum

PERIODS = np.geomspace(0.45, 5.0, 97)  # s, of a peak, tried: 2.5 % apart (judgement)
GAMMAS = (1.0, 2.0, 3.3, 5.0)  # peak enhancements tried: the mean of JONSWAP is 3.3 (Hasselmann et al. 1973, from memory)
GRID = 160  # steps of the running variance (judgement)
DRAWS = 200  # of the bootstrap (judgement)
SPEED_STEP = 0.02  # m/s, to which tables of encounters are made (judgement)
NOISE_DOUBT = 0.2  # of the sensors' variance by the craft file: judgement
FOLLOWING_FLOOR = 0.3  # Hz: slower encounters of a following sea are dropped (judgement)
LEAST_SEEN = 0.75  # of the variance that must show, for a following sea (judgement)
SLOW_BAND = 0.15  # Hz above the floor (judgement)
MOST_SLOW = 0.3  # of a following sea's variance in the slow band, and
WORST_FOLLOWING = 0.02  # its misfit over that of chance, beyond which much of it is taken to move with the craft: judgement
CALM = 0.5  # times the noise: a variance under it shows no sea (judgement)
BAD_FIT = 0.06  # of the running variance, root mean square, beyond which it is not such a sea: judgement


class Estimate(NamedTuple):
    """A value with its interval."""

    value: float
    low: float
    high: float


class SeaEstimate(NamedTuple):
    """The sea as the logs show it; height m, period s.

    verdict: `measured`, a good estimate; `hidden`: most of it moves with the craft, the height is the part that showed, a lower
    bound, and the period is a guess; `calm`: the waves are lost in the sensor's noise. others: other periods that fit about as
    well. misfit: root mean square of running variance less that of the estimate. seen: share of the variance that showed.
    folds: share that is met faster than half the rangefinder's rate. chance: misfit that chance leaves, 19 times in 20 at most.
    """

    height: Estimate
    period: Estimate
    gamma: float
    verdict: Literal["measured", "hidden", "calm"]
    seen: float
    folds: float
    misfit: float
    others: tuple[float, ...]
    length: float
    chance: float

    @property
    def spectrum(self) -> Spectrum:
        """The sea as a spectrum."""
        return Spectrum(self.height.value, self.period.value, self.gamma)


class _Table(NamedTuple):
    """Running shares of every candidate sea for one run: (candidates, GRID); total: share that shows at all."""

    edges: Floats
    running: Floats
    total: Floats


def following(heading: float) -> bool:
    """Whether waves come from behind the beam."""
    return math.cos(heading) > 0.1


def slowest_for(heading: float, usual: float) -> float:
    """The lowest frequency of encounter (Hz) that is used."""
    return FOLLOWING_FLOOR if following(heading) else usual


def estimate_sea(runs: Sequence[Encounter], seed: int = 0) -> SeaEstimate:
    """The sea that these runs met together. Raises ValueError without a run."""
    if not runs:
        raise ValueError("no run to estimate a sea from")
    near, random = _nearest(runs), np.random.default_rng(seed)
    tables, weights, fitted, distance = near.tables, near.weights, near.fitted, near.distance
    variance = float(weights @ near.variances)
    if variance < CALM * float(weights @ [_noise(run) for run in runs]):
        return _calm(runs, max(variance, 0.0))
    best = int(fitted.nearest[0])
    once = _drawn(runs, near, random)
    twice = _again(runs, tables, weights, once, random)
    least = float(np.quantile(once.misfit, CONFIDENCE))
    seen, might = weights @ [table.total[best] for table in tables], weights @ [table.total[once.nearest] for table in tables]
    period, gamma = float(fitted.period[0]), _candidate(best)[1]
    found = SeaEstimate(
        height=_interval(4.0 * math.sqrt(fitted.m0[0]), np.sqrt(twice.m0 / np.maximum(once.m0, 1e-12))),
        period=_interval(period, twice.period / once.period),
        gamma=gamma,
        verdict="measured",
        seen=float(seen),
        folds=_folds(runs, weights, period, gamma),
        misfit=float(np.sqrt(distance[best])),
        others=_others(distance, best, least),
        length=float(sum(run.length for run in runs)),
        chance=math.sqrt(least),
    )
    slow = max(_slow_share(table, shape) for table, shape in zip(tables, near.shapes, strict=True))
    hides = (
        min(seen, np.quantile(might, 0.5 - 0.5 * CONFIDENCE)) < LEAST_SEEN
        or slow > MOST_SLOW
        or found.misfit > WORST_FOLLOWING + math.sqrt(least)
        or found.others
    )
    if all(run.speed > 0.0 and following(run.heading) for run in runs) and hides:  # against the waves, or adrift, all shows
        return _hidden(found, variance)
    return found


def best_fit(runs: Sequence[Encounter]) -> tuple[float, float]:
    """Root mean square of the runs' running variance less that of the sea which fits them best together; its peak period, s."""
    fitted = _nearest(runs).fitted
    return float(np.sqrt(fitted.misfit[0])), float(fitted.period[0])


def chance_misfit(runs: Sequence[Encounter], share: float, seed: int = 0) -> float:
    """Misfit of `best_fit` under which this share of records stay that are drawn from the sea which fits the runs best."""
    once = _drawn(runs, _nearest(runs), np.random.default_rng(seed))
    return math.sqrt(float(np.quantile(once.misfit, share)))


class _Nearest(NamedTuple):
    """Runs beside the candidates: what showed, m2, (runs,); running shares, (GRID,) of each; distances, (candidates,)."""

    tables: Sequence[_Table]
    weights: Floats
    variances: Floats
    shapes: Sequence[Floats]
    distance: Floats
    fitted: _Fitted


def _nearest(runs: Sequence[Encounter]) -> _Nearest:
    tables = [_table(run) for run in runs]
    weights = np.array([run.length for run in runs]) / sum(run.length for run in runs)
    variance, shapes = zip(
        *(_running(run, table.edges, run.density) for run, table in zip(runs, tables, strict=True)), strict=True
    )
    variances = np.array(variance)
    distance = _distances(tables, weights, [np.atleast_2d(shape) for shape in shapes])
    return _Nearest(tables, weights, variances, shapes, distance[0], _fitted(tables, weights, variances[None, :], distance))


def _drawn(runs: Sequence[Encounter], near: _Nearest, random: np.random.Generator) -> _Fitted:
    """What would be found of records drawn from the sea that is nearest."""
    return _again(runs, near.tables, near.weights, _Fitted(*(np.repeat(each, DRAWS) for each in near.fitted)), random)


def _slow_share(table: _Table, shape: Floats) -> float:
    """Share of the variance that showed within SLOW_BAND of the lowest frequency that counts."""
    return float(np.interp(table.edges[0] + SLOW_BAND, table.edges[1:], shape))


def _noise(run: Encounter) -> float:
    """Variance of the sensors' noise in the band, m2."""
    return float(run.noise.sum()) * run.step


def _candidate(index: int) -> tuple[float, float]:
    return float(PERIODS[index // len(GAMMAS)]), GAMMAS[index % len(GAMMAS)]


def _table(run: Encounter) -> _Table:
    """The table of a run; runs that are nearly alike share one."""
    speed = round(run.speed / SPEED_STEP) * SPEED_STEP
    heading = math.radians(round(math.degrees(math.acos(math.cos(run.heading)))))  # from either side alike
    return _known_table(speed, heading, round(run.rate, 2), run.depth, run.slowest)


@lru_cache(maxsize=256)
def _known_table(speed: float, heading: float, rate: float, depth: float, slowest: float) -> _Table:
    edges = np.linspace(slowest, 0.5 * rate, GRID + 1)
    found = np.concatenate([shares(edges, period, GAMMAS, Met(speed, heading, rate, depth)) for period in PERIODS.tolist()])
    total = found.sum(axis=1)
    running = np.cumsum(found, axis=1) / np.maximum(total, 1e-12)[:, None]
    return _Table(edges, running, total)


def _running(run: Encounter, edges: Floats, density: Floats) -> tuple[Floats, Floats]:
    """Variance of the water and its running share, of records (..., bins); missing readings spread as noise."""
    at = np.concatenate([[run.frequency[0] - 0.5 * run.step], run.frequency + 0.5 * run.step])

    def summed(values: Floats) -> Floats:
        return np.concatenate([np.zeros((*values.shape[:-1], 1)), np.cumsum(values, axis=-1)], axis=-1) * run.step

    water, quiet = summed(density), summed(run.noise)
    left = np.maximum(water[..., -1] - quiet[-1], 1e-12)
    spread = run.lost * left
    place = np.interp(edges[1:], at, np.arange(len(at)))
    whole, part = np.minimum(place.astype(int), len(at) - 2), place - np.minimum(place.astype(int), len(at) - 2)

    def reached(values: Floats) -> Floats:
        between: Floats = values[..., whole] * (1.0 - part) + values[..., whole + 1] * part
        return between

    band = (edges[1:] - edges[0]) / (edges[-1] - edges[0])
    shape = (reached(water) - reached(quiet) - spread[..., None] * band) / np.maximum(left - spread, 1e-12)[..., None]
    return left, shape


def _distances(tables: Sequence[_Table], weights: Floats, measured: Sequence[Floats]) -> Floats:
    """(records, candidates): mean square difference of the running shares, over the frequencies that have variance."""
    total = np.zeros((len(measured[0]), len(tables[0].running)))
    for table, weight, shape in zip(tables, weights, measured, strict=True):
        counts = np.clip(np.gradient(np.maximum.accumulate(shape, axis=1), axis=1), 1e-4, None)
        counts /= counts.sum(axis=1, keepdims=True)
        squares = (shape**2 * counts).sum(axis=1, keepdims=True)
        total += weight * (squares - 2.0 * (shape * counts) @ table.running.T + counts @ (table.running**2).T)
    return np.maximum(total, 0.0)


class _Fitted(NamedTuple):
    """Of records: the candidate nearest to each, its peak period (s) between the candidates', m0 (m2), mean square misfit."""

    nearest: np.ndarray
    period: Floats
    m0: Floats
    misfit: Floats


def _fitted(tables: Sequence[_Table], weights: Floats, variances: Floats, distance: Floats) -> _Fitted:
    """The sea of each record; variances: of the part that showed, (records, runs), m2; distance: (records, candidates)."""
    nearest = distance.argmin(axis=1)
    record, (place, gamma) = np.arange(len(nearest)), np.divmod(nearest, len(GAMMAS))
    ladder = distance.reshape(len(nearest), len(PERIODS), len(GAMMAS))
    before, here, after = (ladder[record, np.clip(place + step, 0, len(PERIODS) - 1), gamma] for step in (-1, 0, 1))
    bend = np.maximum(before - 2.0 * here + after, 1e-15)
    inner = (place > 0) & (place < len(PERIODS) - 1)
    beside = np.where(inner, np.clip(0.5 * (before - after) / bend, -0.5, 0.5), 0.0)
    totals = np.array([table.total[nearest] for table in tables]).T  # (records, runs)
    m0 = np.maximum(variances @ weights, 1e-12) / np.maximum(totals @ weights, 0.05)
    return _Fitted(nearest, PERIODS[place] * (PERIODS[1] / PERIODS[0]) ** beside, m0, here)


def _again(
    runs: Sequence[Encounter], tables: Sequence[_Table], weights: Floats, seas: _Fitted, random: np.random.Generator
) -> _Fitted:
    """What would be found of a record drawn from each of these seas.

    Every Fourier frequency of a Gaussian sea has an exponentially distributed power of its own. The noise is drawn too.
    """
    kinds, which = np.unique(seas.nearest, return_inverse=True)
    beside = np.log(seas.period / PERIODS[seas.nearest // len(GAMMAS)])
    variances, shapes = [], []
    for run, table in zip(runs, tables, strict=True):
        step = np.diff(table.edges)
        middle = 0.5 * (table.edges[1:] + table.edges[:-1])
        each = [np.interp(run.frequency, middle, np.diff(table.running[kind], prepend=0.0) / step) for kind in kinds]
        spectra = np.array([some / max(float(some.sum()) * run.step, 1e-12) for some in each])
        water = spectra[which] * (table.total[seas.nearest] * seas.m0)[:, None]
        noise = run.noise * (1.0 + NOISE_DOUBT * random.standard_normal((len(water), 1)))
        drawn = np.maximum(water + noise, 0.0) * random.exponential(size=water.shape)
        variance, shape = _running(run._replace(lost=0.0), table.edges, drawn)
        variances.append(variance)
        shapes.append(shape)
    found = _fitted(tables, weights, np.array(variances).T, _distances(tables, weights, shapes))
    return found._replace(period=found.period * np.exp(beside))


def _interval(value: float, ratios: Floats) -> Estimate:
    """Basic bootstrap interval, on a log scale; ratios: of what is found to what was drawn from."""
    low, high = np.quantile(np.maximum(ratios, 1e-9), [0.5 - 0.5 * CONFIDENCE, 0.5 + 0.5 * CONFIDENCE])
    return Estimate(value, value / float(high), value / float(low))


def _folds(runs: Sequence[Encounter], weights: Floats, period: float, gamma: float) -> float:
    """Share of the variance that is met faster than half the rangefinder's rate."""
    return float(sum(w * (1.0 - _under(run, period, gamma)) for w, run in zip(weights, runs, strict=True)))


def _under(run: Encounter, period: float, gamma: float) -> float:
    edges = np.array([0.0, 0.5 * run.rate])
    return float(shares(edges, period, [gamma], Met(run.speed, run.heading, UNFOLDED, run.depth))[0, 0])


def _others(distance: Floats, best: int, least: float) -> tuple[float, ...]:
    """Periods at other minima of the distance that chance alone could make as low."""
    by_period = distance.reshape(len(PERIODS), len(GAMMAS)).min(axis=1)
    inner = np.arange(1, len(PERIODS) - 1)
    dips = inner[(by_period[inner] < by_period[inner - 1]) & (by_period[inner] <= by_period[inner + 1])]
    limit = by_period.min() + least
    here = PERIODS[best // len(GAMMAS)]
    return tuple(float(PERIODS[i]) for i in dips if by_period[i] < limit and abs(math.log(PERIODS[i] / here)) > 0.15)


def _hidden(found: SeaEstimate, variance: float) -> SeaEstimate:
    showed = 4.0 * math.sqrt(max(variance, 0.0))
    return found._replace(
        verdict="hidden",
        height=Estimate(showed, 0.9 * showed, math.inf),
        period=Estimate(found.period.value, 0.0, math.inf),
    )


def _calm(runs: Sequence[Encounter], variance: float) -> SeaEstimate:
    height = 4.0 * math.sqrt(variance)
    most = 4.0 * math.sqrt(variance + max(map(_noise, runs)))
    nothing = Estimate(math.nan, math.nan, math.nan)
    length = float(sum(run.length for run in runs))
    return SeaEstimate(Estimate(height, 0.0, most), nothing, 1.0, "calm", 1.0, 0.0, 0.0, (), length, 0.0)

"""Fits a few numbers of the craft to its logs: least squares on transfer functions and means, with intervals.

The prediction is the linear companion's, corrected by what flights of the model add to it (limits, quanta, sampling, noise).
The craft as fitted so far flies in the seas of the logs, and the same code reads its logs. The flights' own scatter gives
every feature its weight. Then all is repeated about the fitted craft.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from scipy.optimize import least_squares
from scipy.stats import t as student

from sweep.campaign.addresses import replace_values
from sweep.insight.intervals import CONFIDENCE
from sweep.logs.compare.bands import Bands, measured_bands
from sweep.logs.compare.simulated_log import LONGEST_FLIGHT, SEED, SETTLE, Flown, fly_aboard
from sweep.logs.fit.features import SIZE, Fitting, difference, features, foretold
from sweep.logs.fit.numbers import NUMBERS, changed
from sweep.logs.read.channels import Record, Series
from sweep.model.block import make_block
from sweep.model.onboard.noise import generator
from sweep.model.physics.spectra import Floats, Spectrum
from sweep.model.physics.water import Water
from sweep.model.physics.waves import draw_components, random_amplitudes

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft

FLIGHTS = 12  # of the craft as it is fitted, in the sea of each run (judgement)
_PHASES = (np.arange(FLIGHTS) * 5 % FLIGHTS + 0.5) / FLIGHTS
"""Of the rows of a log, shares of their step: spread evenly over the flights, and unlike their latencies."""
LEAST_FLIGHTS = 6  # of them, that last to their end (judgement)
LINES = 192  # of a flight's sea (measured: of 64 the top of the rangefinder's band had gaps, and its noise came out too high)
ROUNDS = 2  # of flights (judgement)
MOST_TRIES = 40  # of a least-squares search (measured: of 29 days one had not come to its end in 12)
FIRST_DOUBT = 0.1  # of a feature, before any flight (judgement)
ALIKE = 0.9  # correlation beyond which two numbers cannot be separated (judgement)
SLOPE_STEP = 0.05  # of a usual step (judgement)
ENOUGH = 1e-3  # of the misfit and of the steps: much smaller than the standard errors (judgement)
BAD = 30.0  # standard errors off, as the penalty without a trim (judgement)
LEAST_DOUBT = 0.01  # of a feature (relative, rad): no flights of a model are more exact (judgement)


class Fitted(NamedTuple):
    """One number: its value in the craft file and as fitted (SI or a factor), with its interval."""

    name: str
    before: float
    value: float
    low: float
    high: float
    identified: bool


class Result(NamedTuple):
    """All numbers, which pairs cannot be separated, and the misfit: 1 if what is left is chance alone.

    covariance: of all numbers, SI or factors, (numbers, numbers), without what the model leaves out.
    """

    numbers: tuple[Fitted, ...]
    alike: tuple[tuple[str, str, float], ...]
    misfit: float
    features: int
    craft: Craft
    covariance: Floats = np.zeros((0, 0))


def fit(
    craft: Craft,
    water: Water,
    runs: Sequence[Fitting],
    names: Sequence[str],
    progress: Callable[[int], None] = lambda flights: None,
    seas: Callable[[float], Sequence[Spectrum]] | None = None,
) -> Result:
    """Fit numbers of NUMBERS to runs. Raises ValueError if there is no run, or the model's craft does not last in their seas.

    seas: a function that estimates the runs' seas again for another lag (s) of the rangefinder; the first round, without
    flights, finds the lag.
    """
    if not runs:
        raise ValueError("no run shows a sea, so there is nothing to fit to")
    search = begin(craft, water, runs, names)
    for turn in range(ROUNDS + 1):
        if turn and seas is not None:
            found_seas = seas(search.about.rangefinders.first("latency"))
            search = search._replace(
                runs=tuple(run._replace(sea=sea) for run, sea in zip(search.runs, found_seas, strict=True))
            )
        if turn:
            logs = [_flights(search, number, progress) for number in range(len(search.runs))]
            search = search.corrected(logs)
        search = search.improved()
    return result(search)


def built(craft: Craft, names: Sequence[str], steps: Floats) -> Craft:
    """The craft whose numbers are so many usual steps off, with its own control code.

    That code takes the rangefinder to be mounted where the craft file says. If it is elsewhere, the craft rides at another
    height; here the wanted height says so.
    """
    values = [NUMBERS[name].start(craft) + step * NUMBERS[name].step for name, step in zip(names, steps, strict=True)]
    found = changed(craft, names, values)
    lower = found.rangefinders.first("height") - craft.rangefinders.first("height")
    return replace_values(found, {"control.ride_height": craft.control.ride_height - lower}) if lower else found


def set_up_for(craft: Craft, found: Craft) -> Craft:
    """The craft that the code of a craft as `built` is set up for: the craft file's, but for the rangefinder's place."""
    sensors, height = craft.rangefinders, found.rangefinders.first("height")
    return craft if height == sensors.first("height") else replace_values(craft, {sensors.address("height"): height})


def limits_of(craft: Craft, names: Sequence[str]) -> tuple[Floats, Floats]:
    """Least and largest values of a fit, in usual steps from the craft file's."""
    rows = [(*NUMBERS[name].limits(craft), NUMBERS[name].start(craft), NUMBERS[name].step) for name in names]
    low, high, start, step = np.array(rows).T
    return (low - start) / step, (high - start) / step


class Search(NamedTuple):
    """The state of a fit: steps of its numbers, and what the flights about them showed beyond the linear companion.

    measured, beyond, doubt: (features,); strays: (flights, features), differences of single flights from their mean.
    """

    craft: Craft
    names: tuple[str, ...]
    water: Water
    runs: tuple[Fitting, ...]
    bands: tuple[Bands, ...]
    measured: Floats
    steps: Floats
    beyond: Floats
    doubt: Floats
    strays: Floats

    @property
    def about(self) -> Craft:
        """The craft as it is fitted so far."""
        return built(self.craft, self.names, self.steps)

    @property
    def drifting(self) -> bool:
        """Whether the rangefinder's clock is taken to drift past the control code's: no log shows how they stand."""
        return "range_lag" in self.names

    def flyers(self) -> list[Craft]:
        """Crafts that the logs leave possible so far, one for each flight: what flights add differs from craft to craft.

        Where clocks drift, their latencies are spread evenly over a tick of the code, too.
        """
        low, high = limits_of(self.craft, self.names)
        lower = np.linalg.cholesky(self.known(self.slopes(self.steps)))
        draws = generator(SEED, "flyers", 0, "fit").standard_normal((FLIGHTS // 2, len(self.names)))
        places = np.clip(self.steps + np.concatenate([draws, -draws]) @ lower.T, low, high)
        crafts = [built(self.craft, self.names, place) for place in places]
        if not self.drifting:
            return crafts
        spread = ((np.arange(FLIGHTS) + 0.5) / FLIGHTS - 0.5) / self.craft.control.rate
        address = self.craft.rangefinders.address("latency")
        latencies = np.array([craft.rangefinders.first("latency") for craft in crafts]) + spread
        possible = np.clip(latencies, *NUMBERS["range_lag"].limits(self.craft))
        return [replace_values(craft, {address: late}) for craft, late in zip(crafts, possible.tolist(), strict=True)]

    def known(self, slopes: Floats) -> Floats:
        """(numbers, numbers): covariance in usual steps, by doubts of features as if each had its own chance alone."""
        return np.asarray(np.linalg.inv(slopes.T @ slopes + np.diag(self.before**2)), dtype=np.float64)

    def set_up(self, crafts: Sequence[Craft]) -> list[Craft]:
        """The craft that their control code is set up for."""
        return [set_up_for(self.craft, craft) for craft in crafts]

    @property
    def good(self) -> np.ndarray:
        """(features,): whether each is known."""
        return np.asarray(np.isfinite(self.measured) & np.isfinite(self.beyond) & np.isfinite(self.doubt))

    def off(self, steps: Floats) -> Floats:
        """(good features,): measured less predicted, in standard errors."""
        return np.asarray(self._many([steps])[0])

    def slopes(self, steps: Floats) -> Floats:
        """(good features, numbers): its derivatives by the numbers, all side by side, by steps inwards from the limits."""
        low, high = limits_of(self.craft, self.names)
        inwards = np.where(steps > 0.5 * (low + high), -SLOPE_STEP, SLOPE_STEP)
        found = self._many([steps, *(steps + np.diag(inwards))])
        slopes: Floats = ((found[1:] - found[0]) / inwards[:, None]).T
        return slopes

    def _many(self, places: Sequence[Floats]) -> Floats:
        crafts = [built(self.craft, self.names, each) for each in places]
        predicted = foretold(crafts, self.water, self.runs, self.bands, self.drifting, self.set_up(crafts))
        left = difference(self.measured, predicted + self.beyond)[:, self.good] / self.doubt[self.good]
        return np.asarray(np.nan_to_num(left, nan=BAD))

    @property
    def before(self) -> Floats:
        """(numbers,): one over the doubt of each, in usual steps, before any log: what is useful to know is not known better.

        It keeps a number that the logs do not show from running to its limit, and others with it.
        """
        return np.array([NUMBERS[name].step / NUMBERS[name].wanted for name in self.names])

    def improved(self) -> Search:
        """The next, nearer state: least squares of what is measured and of what was known before."""
        bounds = limits_of(self.craft, self.names)

        def left(steps: Floats) -> Floats:
            return np.concatenate([self.off(steps), self.before * steps])

        def slopes(steps: Floats) -> Floats:
            return np.concatenate([self.slopes(steps), np.diag(self.before)])

        found = least_squares(
            left,
            self.steps,
            slopes,
            bounds=bounds,
            x_scale=1.0,
            loss="soft_l1",
            ftol=ENOUGH,
            xtol=ENOUGH,
            max_nfev=MOST_TRIES,
        )
        return self._replace(steps=found.x)

    def corrected(self, logs: Sequence[Sequence[Record | None]]) -> Search:
        """The state with the logs of `flyers` in each run's sea, each met with its own power; None for a flight that ended.

        One flyer's flights in all runs are one day: its error is the same in all of them. Raises ValueError if few last.
        """
        crafts, parts = self.flyers(), []
        for number, (run, flown) in enumerate(zip(self.runs, logs, strict=True)):
            table = np.full((len(crafts), SIZE), np.nan)
            for i, (craft, log) in enumerate(zip(crafts, flown, strict=True)):
                if log is not None:
                    log = run.alike(log, craft, _PHASES[i])
                    bands = measured_bands(log, self.craft)
                    (foreseen,) = foretold([craft], self.water, [run], [bands], self.drifting, self.set_up([craft]))
                    table[i] = difference(features(log, self.craft), foreseen)
            lasted = sum(log is not None for log in flown)
            if lasted < LEAST_FLIGHTS:
                raise ValueError(f"the model's craft does not last in the sea of run {number + 1}: it cannot be fitted there")
            parts.append(_Beyond.of(table, lasted, math.sqrt(min(run.length, LONGEST_FLIGHT) / run.length)))
        mean, spread, strays = (np.concatenate(each, axis=-1) for each in zip(*parts, strict=True))
        return self._replace(beyond=mean, doubt=_doubt_of(spread), strays=strays)


class _Beyond(NamedTuple):
    """Flights in one run's sea less the companion: mean, doubt (SIZE,), strays (flights, SIZE), 0 if unknown."""

    mean: Floats
    doubt: Floats
    strays: Floats

    @staticmethod
    def of(table: Floats, lasted: int, shorter: float) -> _Beyond:
        """table: (flights, SIZE), NaN where one ended or has no value; shorter: the strays' factor for a run of that length."""
        known = np.isfinite(table).sum(axis=0) == lasted
        there = np.asarray(np.isfinite(table).any(axis=1))
        mean = np.where(known, np.nan_to_num(table[there]).mean(axis=0), np.nan)
        off = np.where(known & there[:, None], table - mean, 0.0) * shorter
        spread = np.sqrt((off**2).sum(axis=0) / (lasted - 1))
        return _Beyond(
            mean,
            np.where(known, spread * math.sqrt(1.0 + 1.0 / lasted), np.nan),
            off * math.sqrt((len(table) - 1) / (lasted - 1)),
        )


def begin(craft: Craft, water: Water, runs: Sequence[Fitting], names: Sequence[str]) -> Search:
    """The fit at the craft file's numbers, without flights yet."""
    measured = np.concatenate([features(run.record, craft, run.witness_x) for run in runs])
    bands = tuple(measured_bands(run.record, craft) for run in runs)
    nothing, doubt = np.zeros_like(measured), np.full(len(measured), FIRST_DOUBT)
    return Search(
        craft,
        tuple(names),
        water,
        tuple(runs),
        bands,
        measured,
        np.zeros(len(names)),
        nothing,
        doubt,
        np.zeros((0, len(doubt))),
    )


def result(search: Search) -> Result:
    """The numbers and their covariance: the flights' strays carried into them are the chance of one day."""
    craft, names, steps = search.craft, search.names, search.steps
    slopes, left = search.slopes(steps), search.off(steps)
    count = len(left)
    misfit = float(np.median(np.abs(left)) / 0.6745) ** 2 * count / max(count - len(names), 1)
    known = search.known(slopes)
    covariance = _of_one_day(search, slopes) * max(misfit, 1.0) + known @ np.diag(search.before**2) @ known
    start, scale = np.array([(NUMBERS[name].start(craft), NUMBERS[name].step) for name in names]).T
    spread = np.sqrt(np.diag(covariance)) * scale
    silent = (slopes**2).sum(axis=0) < 1e-6
    reach = float(student.ppf(0.5 + 0.5 * CONFIDENCE, FLIGHTS - 1)) * np.where(silent, np.inf, spread)
    reach = np.hypot(reach, [NUMBERS[name].floor for name in names])
    numbers = tuple(
        Fitted(name, float(a), float(b), float(b - r), float(b + r), bool(r < NUMBERS[name].wanted))
        for name, a, b, r in zip(names, start, start + steps * scale, reach, strict=True)
    )
    kept = [number for number in numbers if number.identified]
    best = changed(craft, [number.name for number in kept], [number.value for number in kept])
    return Result(numbers, _alike(names, covariance), misfit, count, best, covariance * np.outer(scale, scale))


def _of_one_day(search: Search, slopes: Floats) -> Floats:
    """(numbers, numbers), in usual steps: what chance makes of one day, by each flyer's strays as the others' weigh them.

    By weights of its own, a flyer seems to stray less than a new day does: they are large where it happened to stray little.
    """
    good, squares = search.good, (search.strays**2).sum(axis=0)
    each_by_itself = slopes * search.doubt[good, None]
    carried = np.zeros((FLIGHTS, len(search.names)))
    for flyer, own in enumerate(search.strays):
        off = own * FLIGHTS / (FLIGHTS - 1)  # from the others' mean
        spread = np.sqrt(np.maximum(squares - own * off, 0.0) / (FLIGHTS - 2) * (1.0 + 1.0 / FLIGHTS))
        doubt = _doubt_of(np.where(np.isfinite(search.doubt), spread, np.nan))[good]
        weighed = each_by_itself / doubt[:, None]
        carried[flyer] = search.known(weighed) @ weighed.T @ (off[good] / doubt)
    of_day: Floats = carried.T @ carried / FLIGHTS
    return of_day


def _doubt_of(spread: Floats) -> Floats:
    """(features,): doubt of each by the spread of its flights."""
    return np.hypot(_steadied(spread), LEAST_DOUBT)


def _alike(names: Sequence[str], covariance: Floats) -> tuple[tuple[str, str, float], ...]:
    """Pairs of numbers that can hardly be separated, and their correlation."""
    spread = np.sqrt(np.diag(covariance))
    correlation = covariance / (np.outer(spread, spread) + 1e-30)
    pairs = ((i, j) for i in range(len(names)) for j in range(i))
    return tuple((names[i], names[j], float(correlation[i, j])) for i, j in pairs if abs(correlation[i, j]) > ALIKE)


def _steadied(spread: Floats) -> Floats:
    """A few flights give a spread poorly: each is averaged with its neighbours in the list, bands of one signal."""
    known = np.where(np.isfinite(spread), spread, 0.0) ** 2
    there = np.isfinite(spread).astype(float)
    kernel = np.ones(3)
    mean = np.convolve(known, kernel, "same") / np.maximum(np.convolve(there, kernel, "same"), 1.0)
    return np.where(np.isfinite(spread), np.sqrt(0.5 * known + 0.5 * mean), np.nan)


def _flights(search: Search, number: int, progress: Callable[[int], None]) -> list[Record | None]:
    """The log of each flyer's flight as long as a run, whose witness tells the true ride height; None for one that ended."""
    crafts, run = search.flyers(), search.runs[number]
    length, content = min(run.length, LONGEST_FLIGHT) + SETTLE, f"fit {number}"
    blocks = []
    for replicate in range(len(crafts)):
        draws = generator(SEED, content, replicate, "sea")
        drawn = random_amplitudes(draw_components(run.sea, run.waves, run.depth, draws, LINES), draws)
        blocks.append(make_block(drawn, SEED, content, replicate, length, SETTLE))
    flights = fly_aboard(crafts, search.water, blocks, run.speed, search.set_up(crafts))
    progress(len(crafts))
    return [with_witness(flown) if flown.log and not flown.ended else None for flown in flights]


def with_witness(flown: Flown) -> Record:
    """A flight's log with the true ride height as its witness."""
    return flown.log | {"witness": Series(flown.truth["time"], flown.truth["ride_height"])}

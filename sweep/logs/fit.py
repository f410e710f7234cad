"""A few numbers of the craft fitted to its logs: least squares on transfer functions and means, with intervals.

The prediction is the linear companion's, corrected by what flights of the model add to it (limits, quanta, sampling, noise):
the craft as it stands is flown in the seas that were found, and its logs are worked up by the same code.
The flights' own scatter gives every feature its weight. Then once more about the craft that was fitted.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from scipy.optimize import least_squares
from scipy.stats import t as student

from sweep.linear.craft import linearise
from sweep.logs.aboard import fly_aboard
from sweep.logs.bands import Bands, measured_bands, predicted_bands
from sweep.logs.channels import Record
from sweep.logs.numbers import NUMBERS, changed
from sweep.logs.surface import rate_of
from sweep.model import layout as at
from sweep.model.block import make_block
from sweep.model.fleet import build_fleets
from sweep.model.noise import generator
from sweep.model.spectra import Floats, Spectrum
from sweep.model.water import Water
from sweep.model.waves import draw_components

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft

FLIGHTS = 6
ROUNDS = 2
MOST_TRIES = 12
FIRST_DOUBT = 0.1
SETTLE = 5.0
LONGEST = 120.0
ALIKE = 0.9  # correlation beyond which two numbers cannot be told apart
CONFIDENCE = 0.95
BAD = 30.0  # off, where there is no trim
LEAST_DOUBT = 0.01  # of a feature (relative, rad): no flights of a model are better than that
TOP_SHARE = 0.7  # of half the rangefinder's rate: above it the spectrum of its readings tells the noise


class Fitting(NamedTuple):
    """One run to fit to: its record, the sea that it met, speed m/s, heading of the waves rad, depth m, length s."""

    record: Record
    sea: Spectrum
    speed: float
    waves: float
    depth: float
    length: float


class Fitted(NamedTuple):
    """One number: its value in the craft file and as fitted (SI or a factor), and the interval. told: by these logs."""

    name: str
    before: float
    value: float
    low: float
    high: float
    told: bool


class Result(NamedTuple):
    """All numbers, which pairs cannot be told apart, and how well it fits: 1 where what is left is chance alone."""

    numbers: tuple[Fitted, ...]
    alike: tuple[tuple[str, str, float], ...]
    misfit: float
    features: int
    craft: Craft


def fit(
    craft: Craft,
    water: Water,
    runs: Sequence[Fitting],
    names: Sequence[str],
    seed: int = 0,
    told: Callable[[int], None] = lambda flights: None,
    seas: Callable[[float], Sequence[Spectrum]] | None = None,
) -> Result:
    """Fit numbers of NUMBERS to runs. Raises ValueError if there is no run, or the model's craft does not last in their seas.

    seas: the runs' seas once more, for another lag (s) of the rangefinder; the first round, without flights, finds the lag.
    """
    if not runs:
        raise ValueError("no run tells a sea, so there is nothing to fit to")
    measured = np.concatenate([features(run.record, craft) for run in runs])
    bands = [measured_bands(run.record, craft) for run in runs]
    start: Floats = np.array([NUMBERS[name].start(craft) for name in names])
    scale = np.array([NUMBERS[name].step for name in names])
    now = start.copy()
    for turn in range(ROUNDS + 1):
        about = changed(craft, names, now.tolist())
        if turn and seas is not None:
            found_seas = seas(about.rangefinders.latency)
            runs = [run._replace(sea=sea) for run, sea in zip(runs, found_seas, strict=True)]
        alone = _linear(about, water, runs, bands)
        correction, doubt, strays = np.zeros_like(alone), np.full(len(alone), FIRST_DOUBT), np.zeros((0, len(alone)))
        if turn:
            correction, doubt, strays = _beyond_linear(about, water, runs, seed, told)
        good = np.isfinite(measured) & np.isfinite(correction) & np.isfinite(doubt)

        def off(
            steps: Floats,
            runs: Sequence[Fitting] = runs,
            correction: Floats = correction,
            doubt: Floats = doubt,
            good: np.ndarray = good,
        ) -> Floats:
            predicted = _linear(changed(craft, names, (start + steps * scale).tolist()), water, runs, bands) + correction
            left: Floats = np.nan_to_num(_difference(measured, predicted)[good] / doubt[good], nan=BAD)
            return left

        limits = np.array([NUMBERS[name].bounds(craft) for name in names])
        bounds = ((limits[:, 0] - start) / scale, (limits[:, 1] - start) / scale)
        found = least_squares(
            off,
            (now - start) / scale,
            bounds=bounds,
            x_scale=1.0,
            diff_step=np.full(len(names), 0.02),
            loss="soft_l1",
            max_nfev=MOST_TRIES,
        )
        now = start + found.x * scale
    return _result(craft, names, start, now, scale, off, found.x, strays[:, good] / doubt[good])


def _result(
    craft: Craft,
    names: Sequence[str],
    start: Floats,
    now: Floats,
    scale: Floats,
    off: Callable[[Floats], Floats],
    steps: Floats,
    strays: Floats,
) -> Result:
    """strays: (flights, features), what single flights were off their mean, over the doubt: they carry into the numbers."""
    count = strays.shape[1]
    slopes = np.column_stack([(off(steps + 0.05 * e) - off(steps - 0.05 * e)) / 0.1 for e in np.eye(len(steps))])
    left = off(steps)
    freedom = max(count - len(names), 1)
    misfit = float(np.median(np.abs(left)) / 0.6745) ** 2 * count / freedom
    information = slopes.T @ slopes
    carried = strays @ (np.linalg.pinv(information, rcond=1e-10) @ slopes.T).T
    covariance = carried.T @ carried * (1.0 + 1.0 / FLIGHTS) / (FLIGHTS - 1) * max(misfit, 1.0)
    spread = np.sqrt(np.diag(covariance)) * scale
    silent = np.diag(information) < 1e-6
    freely = max(len(strays) * (FLIGHTS - 1) // FLIGHTS, 1)
    reach = float(student.ppf(0.5 + 0.5 * CONFIDENCE, freely)) * np.where(silent, np.inf, spread)
    reach = np.hypot(reach, [NUMBERS[name].floor for name in names])
    correlation = covariance / np.sqrt(np.outer(np.diag(covariance), np.diag(covariance)) + 1e-30)
    pairs = [
        (names[i], names[j], float(correlation[i, j]))
        for i in range(len(names))
        for j in range(i)
        if abs(correlation[i, j]) > ALIKE
    ]
    numbers = tuple(
        Fitted(name, float(a), float(b), float(b - r), float(b + r), bool(r < NUMBERS[name].useful(craft)))
        for name, a, b, r in zip(names, start, now, reach, strict=True)
    )
    kept = [number for number in numbers if number.told]
    best = changed(craft, [number.name for number in kept], [number.value for number in kept])
    return Result(numbers, tuple(pairs), misfit, count, best)


def _difference(measured: Floats, predicted: Floats) -> Floats:
    """Measured less predicted; features that are phases are taken around the circle, which no other feature is as large as."""
    off = measured - predicted
    return np.where(np.abs(off) > np.pi, np.remainder(off + np.pi, 2.0 * np.pi) - np.pi, off)


def features(record: Record, craft: Craft) -> Floats:
    """What a run is fitted by: logarithm and phase of every band of every signal; the means; the noise.

    Means: foil angle (in degrees, all foils), pitch (deg), logarithm of the throttle at the run's speed. Noise: half the
    logarithm of the rangefinder's density at the top of its band. NaN for what the record does not tell.
    """
    bands = measured_bands(record, craft)
    ratio = bands.ratio
    foils = [np.mean(record[f"foil_{name}"].value) for name in craft.foils if f"foil_{name}" in record]
    means = [
        math.degrees(float(np.mean(foils))) if len(foils) == len(craft.foils) else math.nan,
        math.degrees(float(np.mean(record["pitch"].value))),
        math.log(max(float(np.mean(record["throttle"].value)), 1e-3)) if "throttle" in record else math.nan,
    ]
    return np.concatenate([np.log(np.abs(ratio)).ravel(), np.angle(ratio).ravel(), means, [_top(record)]])


def _top(record: Record) -> float:
    """Half the logarithm of the density (m2/Hz) of the rangefinder's readings in the top of its band."""
    reading = record["range"]
    rate = rate_of(reading)
    time = np.arange(reading.time[0], reading.time[-1], 1.0 / rate)
    nearest = np.clip(np.searchsorted(reading.time, time - 0.5 / rate), 0, len(reading.time) - 1)
    values = reading.value[nearest]
    values = (values - values.mean()) * np.hanning(len(values))
    density = np.abs(np.fft.rfft(values)) ** 2 / (rate * float((np.hanning(len(values)) ** 2).sum())) * 2.0
    some = np.fft.rfftfreq(len(values), 1.0 / rate) > TOP_SHARE * 0.5 * rate
    return 0.5 * math.log(float(np.median(density[some])) / math.log(2.0))


def _linear(craft: Craft, water: Water, runs: Sequence[Fitting], bands: Sequence[Bands]) -> Floats:
    """The features as the linear companion has them; the noise is its own white density."""
    parts = []
    for run, band in zip(runs, bands, strict=True):
        ((_, fleet),) = build_fleets([craft], water, run.speed)
        (linear,) = linearise(fleet)
        if linear is None:
            parts.append(np.full(2 * band.ratio.size + 4, np.nan))
            continue
        ratio = predicted_bands(linear, craft, band, run.waves, run.depth, craft.rangefinders.latency)
        row = fleet.parameters[0]
        angles = [
            row[first + at.MIX] * row[at.TRIM_HEIGHT] + row[first + at.MIX + 1] * row[at.TRIM_PITCH]
            for first in (at.FOIL + i * at.FOIL_STRIDE for i in range(len(craft.foils)))
        ]
        sensors = craft.rangefinders
        white = 2.0 * (sensors.noise**2 + sensors.resolution**2 / 12.0) / (sensors.rate / sensors.count)
        means = [math.degrees(float(np.mean(angles))), math.degrees(linear.pitch), math.log(max(row[at.TRIM_THROTTLE], 1e-3))]
        parts.append(
            np.concatenate([np.log(np.abs(ratio)).ravel(), np.angle(ratio).ravel(), means, [0.5 * math.log(white + 1e-12)]])
        )
    return np.concatenate(parts)


def _beyond_linear(
    craft: Craft, water: Water, runs: Sequence[Fitting], seed: int, told: Callable[[int], None]
) -> tuple[Floats, Floats, Floats]:
    """What flights of the model in the runs' seas show beyond the linear companion, each met with its own record's power.

    The mean over the flights, what one run scatters about it, and what each flight was off it, (flights, features).
    """
    means, doubts, strays = [], [], []
    for number, run in enumerate(runs):
        rows = []
        for i in range(FLIGHTS):
            log = _fly(craft, water, run, seed, number, i)
            told(1)
            if log is not None:
                here = measured_bands(log, craft)
                rows.append(_difference(features(log, craft), _linear(craft, water, [run], [here])))
        if len(rows) < 3:
            raise ValueError(f"the model's craft does not last in the sea of run {number + 1}: it cannot be fitted there")
        table = np.array(rows)
        ratio = math.sqrt(min(run.length, LONGEST) / run.length)
        means.append(table.mean(axis=0))
        doubts.append(table.std(axis=0, ddof=1) * math.sqrt(1.0 + 1.0 / len(rows)) * ratio)
        strays.append((table - table.mean(axis=0)) * ratio)
    spread = np.concatenate(doubts)
    return np.concatenate(means), np.hypot(_steadied(spread), LEAST_DOUBT), _block_diagonal(strays)


def _block_diagonal(parts: Sequence[Floats]) -> Floats:
    """(flights, features): each run's flights have its own features only."""
    found = np.zeros((sum(len(part) for part in parts), sum(part.shape[1] for part in parts)))
    row = column = 0
    for part in parts:
        found[row : row + len(part), column : column + part.shape[1]] = np.nan_to_num(part)
        row, column = row + len(part), column + part.shape[1]
    return found


def _steadied(spread: Floats) -> Floats:
    """A few flights tell a spread poorly: each is averaged with those of its neighbours in the list, bands of one signal."""
    known = np.where(np.isfinite(spread), spread, 0.0) ** 2
    there = np.isfinite(spread).astype(float)
    kernel = np.ones(3)
    mean = np.convolve(known, kernel, "same") / np.maximum(np.convolve(there, kernel, "same"), 1.0)
    return np.where(np.isfinite(spread), np.sqrt(0.5 * known + 0.5 * mean), np.nan)


def _fly(craft: Craft, water: Water, run: Fitting, seed: int, number: int, replicate: int) -> Record | None:
    length, content = min(run.length, LONGEST) + SETTLE, f"fit {number}"
    draws = generator(seed, content, replicate, "sea")
    drawn = draw_components(run.sea, run.waves, run.depth, draws, count=64, rayleigh=True)
    block = make_block(drawn, seed, content, replicate, length, SETTLE)
    (flown,) = fly_aboard([craft], water, block, run.speed)
    return None if flown.ended or not flown.log else flown.log


__all__ = ["Fitted", "Fitting", "Result", "features", "fit"]

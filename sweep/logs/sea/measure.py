"""What a run measures: the same numbers of a log from the water and of a flight of the model, by the same code."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from scipy.stats import chi2
from scipy.stats import norm as normal

from sweep.insight.intervals import CONFIDENCE
from sweep.logs.read.channels import Record, Series
from sweep.logs.sea.sea_state import Estimate
from sweep.logs.sea.spectrum import TAPERS, multitaper
from sweep.logs.sea.surface import beam_down, odd_ones, rate_of, sensor_arms, upward
from sweep.model.pack.mass import rangefinder_places
from sweep.model.physics.spectra import Floats

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft


class Measure(NamedTuple):
    """One number of a run: `scale` turns its SI value into the unit shown."""

    name: str
    title: str
    unit: str
    scale: float


MEASURES: tuple[Measure, ...] = (
    Measure("sensed_error", "ride height error, as its own rangefinder reads it", "cm", 100.0),
    Measure("witness_error", "ride height error, by the witness", "cm", 100.0),
    Measure("acceleration", "vertical acceleration", "m/s^2", 1.0),
    Measure("pitch", "pitch", "deg", 180.0 / np.pi),
    Measure("roll", "roll", "deg", 180.0 / np.pi),
    Measure("throttle", "throttle", "%", 100.0),
    Measure("power", "battery power", "W", 1.0),
)
MEASURE = {measure.name: measure for measure in MEASURES}


def sensed_height(record: Record, craft: Craft) -> Series:
    """Keel above the water (m) by the first rangefinder and the attitude, as the control code computes it; no odd readings."""
    return height_from(record, craft, rangefinder_places(craft)[0][2])


def height_from(record: Record, craft: Craft, mounted: float, x: float = 0.0) -> Series:
    """The same for a rangefinder that is mounted so high above the keel (m), at a place x (m) forward of the centre."""
    reading = record["range"]
    arm, unit = sensor_arms(craft)
    pitch = record["pitch"].at(reading.time) if "pitch" in record else np.zeros_like(reading.time)
    roll = record["roll"].at(reading.time) if "roll" in record else np.zeros_like(reading.time)
    values = reading.value * beam_down(craft, pitch, roll) - mounted * np.cos(roll) * np.cos(pitch)
    values -= np.sin(pitch) * (arm[0] + unit[0] - x)
    good = ~odd_ones(values)
    return Series(reading.time[good], values[good])


def measures(record: Record, craft: Craft) -> dict[str, float]:
    """The numbers of one run, SI, of the channels that it has; root mean squares about the wanted height, or about the mean."""
    found = {name: _size(series.value - _middle(series, about)) for name, series, about in _swings(record, craft)}
    for name in ("throttle", "power"):
        if name in record:
            found[name] = float(np.mean(record[name].value))
    return found


def intervals(record: Record, craft: Craft) -> dict[str, Estimate]:
    """The root mean squares of one run, SI, with intervals for what so long a run has of chance in the same sea.

    A variance has more degrees of freedom the broader its spectrum: 2 T (int S df)^2 / int S^2 df (Bendat & Piersol, Random
    Data, chapter 8, from memory); the mean's distance from the wanted height is taken as exact.
    """
    found = {}
    for name, series, about in _swings(record, craft):
        middle = float(series.value.mean())
        variance, off = float(np.var(series.value)), middle - _middle(series, about)
        freedom = freedom_of(series)
        low, high = (
            math.sqrt(variance * freedom / float(chi2.ppf(share, freedom)) + off**2)
            for share in (0.5 + 0.5 * CONFIDENCE, 0.5 - 0.5 * CONFIDENCE)
        )
        found[name] = Estimate(math.sqrt(variance + off**2), low, high)
    return found


def doubt_of(found: Estimate) -> float:
    """The standard error of the logarithm of a root mean square with such an interval."""
    return math.log(found.high / found.low) / (2.0 * float(normal.ppf(0.5 + 0.5 * CONFIDENCE))) if found.low > 0.0 else 0.0


def freedom_of(series: Series) -> float:
    """Degrees of freedom of the variance of a series, from its spectrum; missing readings have no weight."""
    rate = rate_of(series)
    tick = np.round((series.time - series.time[0]) * rate).astype(int)
    values, known = np.zeros(tick[-1] + 1), np.zeros(tick[-1] + 1, dtype=bool)
    values[tick], known[tick] = series.value - series.value.mean(), True
    frequency, density = multitaper(values, known, rate)
    if not density.any():
        return float(len(values))
    squares = float((density**2).sum()) / (1.0 + 1.0 / TAPERS)  # an estimate scatters: its square is too large on average
    return max(2.0 * float(density.sum()) ** 2 / squares * len(values) / rate * float(frequency[0]), 1.0)


def _swings(record: Record, craft: Craft) -> Iterator[tuple[str, Series, float | None]]:
    """Name, series, and what it swings about (None: its mean) of every root mean square."""
    wanted = craft.control.ride_height
    yield "sensed_error", sensed_height(record, craft), wanted
    if "witness" in record:
        yield "witness_error", record["witness"], wanted
    if "force_z" in record and "pitch" in record:
        yield "acceleration", upward(record), None
    for name in ("pitch", "roll"):
        if name in record:
            yield name, record[name], None


def _middle(series: Series, about: float | None) -> float:
    return float(series.value.mean()) if about is None else about


def _size(values: Floats) -> float:
    return float(np.sqrt(np.mean(values**2)))

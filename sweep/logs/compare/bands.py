"""Ratios of a craft's signals to its vertical acceleration, band by band: measured, and by the linear companion."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sweep.linear.craft import LinearCraft
from sweep.linear.differences import Complexes
from sweep.linear.ride import motion, waves_from
from sweep.logs.read.channels import Record, Series
from sweep.logs.sea.spectrum import met as met_at
from sweep.logs.sea.spectrum import sine_tapers
from sweep.logs.sea.surface import SETTLES, odd_ones, rate_of, sensor_arms, upward
from sweep.model.physics.spectra import GRAVITY, Floats

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft

LOWEST, HIGHEST = 0.45, 4.5  # Hz (judgement)
BANDS = 9
"""Between them, evenly by the logarithm (judgement)."""
SIGNALS = ("range", "pitch", "foils")
TAPERS = 7
"""Of a spectrum (judgement): more are steadier and coarser."""
WAVES = 60
"""Waves over the bands at which the companion is asked (judgement)."""
LEAST_SHARE = 0.04  # of the strongest band's acceleration, for a band to count (judgement)


class Bands(NamedTuple):
    """Complex ratio of each signal to the upward acceleration, (signals, bands), NaN where the acceleration is too weak.

    signals: their names; frequency: Hz, and power: of the acceleration at each, (bins,); band: the band of each.
    """

    signals: tuple[str, ...]
    ratio: Complexes
    frequency: Floats
    power: Floats
    band: np.ndarray


def edges() -> Floats:
    """Of the bands, Hz."""
    return np.geomspace(LOWEST, HIGHEST, BANDS + 1)


def measured_bands(record: Record, craft: Craft) -> Bands:
    """The ratios of a record with range, pitch, force_z, and perhaps the foils' angles."""
    up = upward(record)
    reading = _steady(record["range"])
    first = reading.time[np.searchsorted(reading.time, up.time[0] + SETTLES)]  # on its readings: between them it loses height
    rate = rate_of(reading)
    count = int((up.time[-1] - SETTLES - first) * rate)
    finer = max(math.ceil(rate_of(up) / rate), 1)  # in steps of the readings, what their steps stir would look slow
    foils = [record[f"foil_{name}"] for name in craft.foils if f"foil_{name}" in record]
    signals = {"range": reading, "pitch": record["pitch"]}
    if foils:
        signals["foils"] = Series(foils[0].time, np.mean([foil.at(foils[0].time) for foil in foils], axis=0))
    frequency = np.fft.rfftfreq(count, 1.0 / rate)
    band = np.digitize(frequency, edges()) - 1

    def spectra(series: Series, times: int = finer) -> Complexes:
        values = series.at(first + np.arange(count * times) / (rate * times))
        found: Complexes = np.fft.rfft(sine_tapers(len(values), TAPERS) * (values - values.mean()), axis=1)[:, : len(frequency)]
        return found / math.sqrt(times)

    def banded(values: Complexes | Floats) -> Complexes:
        return np.array([values[..., band == i].sum() for i in range(BANDS)])

    base = spectra(up)
    power = np.asarray((np.abs(base) ** 2).sum(axis=0))
    strong = banded(power).real
    weak = strong < LEAST_SHARE * strong.max()
    ratio = np.full((len(SIGNALS), BANDS), np.nan, dtype=complex)
    for name, series in signals.items():
        cross = banded((spectra(series, 1 if name == "range" else finer) * base.conj()).sum(axis=0))
        ratio[SIGNALS.index(name)] = np.where(weak, np.nan, cross / strong)
    some = (band >= 0) & (band < BANDS)
    return Bands(SIGNALS, ratio, frequency[some], power[some], band[some])


def _steady(series: Series) -> Series:
    """The record without the readings that are far off their neighbours."""
    good = ~odd_ones(series.value)
    return Series(series.time[good], series.value[good])


def predicted_bands(linear: LinearCraft, craft: Craft, bands: Bands, heading: float, depth: float, late: float) -> Complexes:
    """(signals of SIGNALS, bands): as `predicted_each`, without each foil alone."""
    return predicted_each(linear, craft, bands, heading, depth, late)[: len(SIGNALS)]


def predicted_each(linear: LinearCraft, craft: Craft, bands: Bands, heading: float, depth: float, late: float) -> Complexes:
    """(signals of SIGNALS and then each foil, bands): the ratios of the linear craft.

    They are weighted over each band as its record's acceleration is.

    In a long-crested sea every frequency of encounter is one wave, but for the slowest of a following sea, which are below the
    bands. So the spectrum of the sea does not matter. late: how late (s) the log has the rangefinder's readings.
    """
    omega = _waves(linear.speed, heading, depth)
    found = motion(linear, waves_from(omega, heading, depth))
    met = found.frequency
    _, unit = sensor_arms(craft)
    states = linear.plant.angles.shape[0]
    rise = -found.states[:, 0] + unit[0] * found.states[:, 2]
    angles = found.states[:, states : states + 2 * len(craft.foils) : 2]
    signals = np.array([found.ranges[:, 0] * np.exp(-1j * met * late), found.states[:, 2], angles.mean(axis=1), *angles.T])
    ratio = signals / (-(met**2) * rise)
    ratio = np.where(met > 0.0, ratio, ratio.conj())  # of a wave that the craft overtakes the record shows the mirror image
    place = np.abs(met) / (2.0 * np.pi)
    fine = np.array(
        [np.interp(bands.frequency, place, each.real) + 1j * np.interp(bands.frequency, place, each.imag) for each in ratio]
    )
    known = (bands.frequency >= place[0]) & (bands.frequency <= place[-1])
    result = np.full((len(signals), BANDS), np.nan, dtype=complex)
    for band in range(BANDS):
        some = bands.band == band
        if some.any() and known[some].all():
            result[:, band] = fine[:, some] @ bands.power[some] / bands.power[some].sum()
    return result


@lru_cache(maxsize=64)
def _waves(speed: float, heading: float, depth: float) -> Floats:
    """Frequencies (rad/s) whose frequency of encounter rises through the bands: in a following sea, of overtaken waves."""
    along = speed * np.cos(heading)
    lowest = GRAVITY / along if along > 0.1 * speed else 0.3
    omega = lowest * np.geomspace(1.02, 40.0, 4000)
    place = met_at(omega, speed, heading, depth)
    wanted = np.geomspace(LOWEST * 0.9, HIGHEST * 1.1, WAVES)
    rising: Floats = np.interp(wanted, np.maximum.accumulate(place), omega)
    return rising

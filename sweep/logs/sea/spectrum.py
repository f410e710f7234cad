"""Spectra of records with missing readings, and how the waves of a sea are met: frequency of encounter, and folded."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from sweep.logs.sea.surface import Surface
from sweep.model.physics.spectra import Floats, jonswap
from sweep.model.physics.waves import encounter_frequency, wave_number

TAPERS = 5
"""Of a spectrum (judgement): more are steadier and coarser."""
UNFOLDED = 1e6  # Hz: a rate that folds nothing


class Noise(NamedTuple):
    """Noise (standard deviations) of a rangefinder, m, and of the accelerometer, m/s2, at a rate in Hz."""

    reading: float
    acceleration: float
    rate: float

    def density(self, frequency: Floats, rate: float) -> Floats:
        """Of the elevation, m2/Hz, one-sided: readings come at `rate` (Hz); the accelerometer's is integrated twice."""
        heave: Floats = 2.0 * self.acceleration**2 / self.rate / (2.0 * np.pi * frequency) ** 4
        return 2.0 * self.reading**2 / rate + heave


class Encounter(NamedTuple):
    """What one run met. Pools with others of the same sea.

    frequency: Hz, even, (bins,); density: one-sided, m2/Hz, with the noise; length: of the run, s; rate: readings a second;
    speed: m/s; heading: rad, between the way the craft went and the way the waves go; noise: of the sensors, m2/Hz,
    (bins,); lost: share of missing readings.
    """

    frequency: Floats
    density: Floats
    length: float
    rate: float
    speed: float
    heading: float
    noise: Floats
    lost: float
    depth: float
    slowest: float

    @property
    def step(self) -> float:
        """Hz between bins."""
        return float(self.frequency[1] - self.frequency[0])


class Met(NamedTuple):
    """How waves are met: speed m/s, heading rad, readings a second, depth m."""

    speed: float
    heading: float
    rate: float
    depth: float


@lru_cache(maxsize=2)  # a run's channels have one length or two; long runs' tapers are large
def sine_tapers(length: int, count: int) -> Floats:
    """(count, length), orthonormal, read only (Riedel & Sidorenko, IEEE Trans. Signal Processing 43, 1995, 188-195)."""
    k = np.arange(1, count + 1)[:, None]
    tapers: Floats = np.sqrt(2.0 / (length + 1)) * np.sin(np.pi * k * np.arange(1, length + 1) / (length + 1))
    tapers.flags.writeable = False
    return tapers


def multitaper(values: Floats, known: np.ndarray, rate: float) -> tuple[Floats, Floats]:
    """Frequency (Hz) and one-sided density; missing readings have no weight, and the others more.

    The integral of the density is the variance of the known readings.
    """
    n = len(values)
    spectrum = np.zeros(n // 2 + 1)
    for taper in sine_tapers(n, TAPERS):
        weight = taper * known
        spectrum += np.abs(np.fft.rfft(weight * values)) ** 2 / max(float(weight @ weight), 1e-12)
    frequency: Floats = np.fft.rfftfreq(n, 1.0 / rate).astype(np.float64)
    size = float(values @ (known * values)) / max(float(np.sum(known)), 1.0)  # tapers weigh the ends less
    found = spectrum[1:] * size / max(float(spectrum[1:].sum()) * rate / n, 1e-30)
    return frequency[1:], found


def encounter_of(surface: Surface, speed: float, heading: float, depth: float, noise: Noise, slowest: float) -> Encounter:
    """The encounter spectrum of a run, from `slowest` (Hz) up."""
    frequency, density = multitaper(surface.elevation, surface.known, surface.rate)
    kept = frequency >= slowest
    spoilt = noise.density(frequency, surface.rate) + _mean_density(surface.left, surface)
    density = density + _mean_density(surface.lacks, surface)  # the likeliest heave swings less than the true one
    lost = 1.0 - float(surface.known.mean())
    return Encounter(
        frequency=frequency[kept],
        density=density[kept],
        length=surface.length,
        rate=surface.rate,
        speed=speed,
        heading=heading,
        noise=spoilt[kept],
        lost=lost,
        depth=depth,
        slowest=slowest,
    )


def _mean_density(draws: Floats, surface: Surface) -> Floats | float:
    """Mean density of draws (ticks, draws); 0 without any."""
    each = [multitaper(draw, surface.known, surface.rate)[1] for draw in draws.T]
    return np.asarray(np.mean(each, axis=0)) if each else 0.0


def met(omega: Floats, speed: float, heading: float, depth: float) -> Floats:
    """Frequency of encounter, Hz, without its sign."""
    found: Floats = np.abs(encounter_frequency(omega, wave_number(omega, depth), speed, heading)) / (2.0 * np.pi)
    return found


def folded(frequency: Floats, rate: float) -> Floats:
    """The frequency (Hz) at which readings at a rate (Hz) show a frequency: above half the rate it is folded down."""
    turned = np.mod(frequency, rate)
    found: Floats = np.minimum(turned, rate - turned)
    return found


def shares(edges: Floats, period: float, gammas: Sequence[float], how: Met) -> Floats:
    """Share of seas' variance that shows between the edges (Hz, going up), (gammas, edges - 1); gammas: peak enhancements."""
    omega = waves_of(period)
    where = folded(met(omega, how.speed, how.heading, how.depth), how.rate)
    width, found = np.gradient(omega), []
    for gamma in gammas:
        energy = jonswap(omega, 4.0, period, gamma) * width
        found.append(np.histogram(where, edges, weights=energy / energy.sum())[0])
    return np.array(found)


def waves_of(period: float, count: int = 600) -> Floats:
    """Frequencies (rad/s) over which a sea of a peak period (s) is spread: 0.5 to 8 times its peak."""
    return 2.0 * np.pi / period * np.geomspace(0.5, 8.0, count)

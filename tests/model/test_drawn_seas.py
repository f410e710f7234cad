"""Drawn seas as a statistician sees them: spectrum, heights, spread between records, and no repetition.

Tolerances come from the sampling theory of tests/references/wave_statistics.toml. All draws have fixed seeds.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from math import inf, pi, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import signal, stats

from sweep.model.physics.spectra import Spectrum
from sweep.model.physics.waves import ALONG_A_COURSE, Sea, draw_components, elevation, random_amplitudes
from tests.references import reference

CHOP = Spectrum(significant_height=0.1, peak_period=1.5, gamma=3.3)
RATE = 10.0


def records(length: float, count: int) -> NDArray[np.float64]:
    """Elevation at one place, shape (records, samples)."""
    time = np.arange(0, length, 1 / RATE)
    seas = (draw_components(CHOP, 0.0, inf, np.random.default_rng(seed)) for seed in range(count))
    return np.array([elevation(sea, 0.0, 0.0, time) for sea in seas])


@pytest.fixture(scope="module")
def ten_minutes() -> NDArray[np.float64]:
    return records(length=600.0, count=24)


def test_the_spectrum_comes_back(ten_minutes: NDArray[np.float64]) -> None:
    """Welch in segments of 51 s without overlap, averaged over bands; bounds by chi-square at 1e-4."""
    frequency, density = signal.welch(ten_minutes, fs=RATE, nperseg=512, noverlap=0)
    density = density.mean(axis=0)
    segments = ten_minutes.size // 512
    edges = np.array([0.45, 0.6, 0.65, 0.68, 0.72, 0.8, 1.0, 1.4, 2.0])
    for low, high in pairwise(edges):
        band = (frequency >= low) & (frequency < high)
        wanted = 2 * pi * CHOP.density(2 * pi * frequency[band])
        freedom = 2 * segments * band.sum() / 2  # a Hann window halves what neighbouring bins know
        bounds = stats.chi2.ppf([5e-5, 1 - 5e-5], freedom) / freedom
        leak = 0.05  # the window smears the peak over 3 bins of 0.02 Hz
        assert bounds[0] - leak < density[band].mean() / wanted.mean() < bounds[1] + leak, (low, high)


def test_a_record_varies_as_a_gaussian_sea_would_or_less(ten_minutes: NDArray[np.float64]) -> None:
    """Fixed amplitudes: the height of a long record is nearly exact, that of a short one scatters by interference."""
    variation = {row["record s"]: row["variation"] for row in reference("wave_statistics", "record").rows}
    nominal = CHOP.significant_height
    whole = 4 * ten_minutes.std(axis=1)
    assert np.all(np.abs(whole / nominal - 1) < 4 * variation[600.0])
    minutes = 4 * ten_minutes.reshape(-1, 600).std(axis=1)
    assert minutes.mean() == pytest.approx(nominal, rel=4 * variation[60.0] / sqrt(len(minutes)) + variation[60.0] ** 2)
    assert 0.5 * variation[60.0] < minutes.std() / nominal < 1.6 * variation[60.0]  # the peaked sea scatters more


def test_random_amplitudes_vary_more_between_records() -> None:
    """Variance of 32 exponential energies: 1 / sqrt(32) of the mean, and none at all with fixed amplitudes."""

    def variances(seas: Iterable[Sea]) -> NDArray[np.float64]:
        return np.array([sum(sea.amplitude**2) / 2 for sea in seas])

    drawn = [(draw_components(CHOP, 0.0, inf, draws), draws) for draws in map(np.random.default_rng, range(2000))]
    loose = variances(random_amplitudes(*each) for each in drawn)
    spread = 1 / sqrt(32)
    assert loose.mean() == pytest.approx(CHOP.variance, rel=4 * spread / sqrt(2000))
    assert loose.std() / CHOP.variance == pytest.approx(spread, rel=4 / sqrt(2 * 2000) * 1.2)
    assert np.ptp(variances(sea for sea, _ in drawn)) < 1e-15


def test_elevation_is_gaussian_but_for_the_count_of_components(ten_minutes: NDArray[np.float64]) -> None:
    """Exact for N equal cosines of random phase: skewness 0, kurtosis 3 - 3 / (2 N)."""
    pooled = ten_minutes.ravel() / sqrt(CHOP.variance)
    assert pooled.mean() == pytest.approx(0, abs=0.02)
    assert stats.skew(pooled) == pytest.approx(0, abs=0.05)
    assert stats.kurtosis(pooled, fisher=False) == pytest.approx(3 - 3 / 64, abs=0.12)


def test_heights_are_those_of_a_sea(ten_minutes: NDArray[np.float64]) -> None:
    """H1/3 of zero-up-crossing waves: at most Longuet-Higgins' narrow-band 4.004 root m0, at least as in real chop.

    Real chop: 0.93 to 0.95 of 4 root m0 (run 82 of Donelan et al. in lake_chop; Forristall 1978 from memory).
    """
    narrow = reference("wave_statistics", "heights").rows[0]["H1/3"]
    real = reference("wave_statistics", "lake_chop").rows[0]["H1/3 over Hm0"]
    third = np.concatenate([np.sort(_heights(record))[::-1] for record in ten_minutes])
    third = np.sort(third)[::-1][: len(third) // 3]
    found = third.mean() / sqrt(CHOP.variance)
    assert real * 4 * 0.97 < found < narrow


def test_the_highest_of_many_waves(ten_minutes: NDArray[np.float64]) -> None:
    """Of as many waves as a record holds: Longuet-Higgins' expectation of Rayleigh heights is an upper bound that is neared."""
    rows = reference("wave_statistics", "highest").rows
    waves = np.mean([len(_heights(record)) for record in ten_minutes])
    narrow = np.interp(np.log(waves), np.log([row["waves"] for row in rows]), [row["highest over Hm0"] for row in rows])
    found = np.array([max(_heights(record)) for record in ten_minutes]) / CHOP.significant_height
    error = found.std(ddof=1) / sqrt(len(found))
    assert 0.85 * narrow < found.mean() < narrow + 3 * error


def _heights(record: NDArray[np.float64]) -> list[float]:
    """Crest minus trough of each wave between zero up-crossings."""
    ups = np.flatnonzero((record[:-1] < 0) & (record[1:] >= 0)) + 1
    return [float(np.ptp(record[a:b])) for a, b in pairwise(ups)]


@pytest.mark.parametrize("speed", [0.0, 4.0], ids=["at rest", "head sea at 4 m/s"])
def test_nothing_repeats_within_two_minutes(speed: float) -> None:
    """The exact autocorrelation of each record, from a third of a minute on, never comes near 1.

    Components at equal steps of frequency would bring it back to 1; the last lines show that the test can tell.
    """
    lags = np.arange(20.0, 120.0, 0.02)
    for seed in range(30):
        sea = draw_components(CHOP, pi, inf, np.random.default_rng(seed))
        met = sea.omega - sea.kx * speed
        assert _autocorrelation(met, lags).max() < 0.6
    even = CHOP.peak + 2 * pi / 60.0 * np.arange(-16, 16, dtype=np.float64)
    assert _autocorrelation(even, np.append(lags, 60.0)).max() > 0.999


def _autocorrelation(omega: NDArray[np.float64], lags: NDArray[np.float64]) -> NDArray[np.float64]:
    mean: NDArray[np.float64] = np.cos(np.outer(lags, omega)).mean(axis=1)
    return mean


@pytest.mark.parametrize("heading", [pi, pi / 2, 0.0], ids=["head", "beam", "following"])
def test_nothing_repeats_within_an_outing(heading: float) -> None:
    """Ten minutes at 4 m/s through a sea along a course: of the exact autocorrelation beyond a third of a minute, the largest.

    Its deviation is 1 / sqrt(2 n) for n frequencies that have nothing in common, so 7 of them are left out: some 1e-12 a lag.
    """
    lags = np.arange(20.0, 600.0, 0.02)
    for seed in range(10):
        sea = draw_components(CHOP, heading, inf, np.random.default_rng(seed), ALONG_A_COURSE)
        largest = _autocorrelation(sea.omega - sea.kx * 4.0, lags).max()
        assert largest < 7.0 / sqrt(2 * ALONG_A_COURSE)


def test_heights_vary_as_those_of_a_sea_do() -> None:
    """Runs of waves over the median and over the significant height, and the energy of whole minutes, along a course.

    Held against a sea that is made another way: every line of a Fourier series, with random amplitudes (Tucker, Challenor &
    Carter 1984, Applied Ocean Research 6, from memory). Waves that follow each other by chance have runs of 2 over the median
    (Kimura 1980, Proc. 17th Coastal Eng. Conf., from memory). Of Rayleigh heights exp(-2) are over the significant one
    (Longuet-Higgins 1952, J. Marine Research 11); of real, less narrow seas fewer.
    """
    drawn = (draw_components(CHOP, 0.0, inf, np.random.default_rng(seed), ALONG_A_COURSE) for seed in range(60))
    time = np.arange(0, 600.0, 1 / RATE)
    ours = np.array([elevation(sea, 0.0, 0.0, time) for sea in drawn])
    theirs = _fourier_sea(len(time), 200)
    (median, high, minute), (wanted_median, wanted_high, wanted_minute) = _groups(ours), _groups(theirs)
    assert median == pytest.approx(wanted_median, rel=0.05)
    assert median > 2.5
    assert high == pytest.approx(wanted_high, rel=0.05)
    assert 0.8 < minute / wanted_minute < 1.05  # fixed amplitudes take off the rest
    waves = np.concatenate([_heights(record) for record in ours])
    assert 0.6 * np.exp(-2.0) < (waves > CHOP.significant_height).mean() < np.exp(-2.0)


def _fourier_sea(samples: int, count: int) -> NDArray[np.float64]:
    """Elevation at one place, (count, samples)."""
    draws = np.random.default_rng(1)
    omega = 2 * pi * np.fft.rfftfreq(samples, 1 / RATE)
    inside = (omega > 0.4 * CHOP.peak) & (omega < 10.0 * CHOP.peak)
    line = np.zeros(len(omega))
    line[inside] = np.sqrt(CHOP.density(omega[inside]) * omega[1])
    random = draws.normal(size=(count, len(omega), 2)) @ np.array([1.0, 1.0j])
    return np.asarray(np.fft.irfft(line * random * samples / 2, samples))


def _groups(records: NDArray[np.float64]) -> tuple[float, float, float]:
    """Mean run of waves over the median and over the significant height; scatter of the energy of minutes over its mean."""
    heights = [np.array(_heights(record)) for record in records]
    over_median = np.concatenate([_runs(each > np.median(each)) for each in heights]).mean()
    over_high = np.concatenate([_runs(each > CHOP.significant_height) for each in heights]).mean()
    minutes = (records.reshape(len(records), -1, 600) ** 2).mean(axis=2) / CHOP.variance
    return float(over_median), float(over_high), float(minutes.std())


def _runs(high: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Lengths of the runs of true."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], high, [False]]).astype(int)))
    return np.asarray(edges[1::2] - edges[::2])


def test_energy_is_drawn_without_bias() -> None:
    """Mean powers of omega over many draws against the spectrum's own, cut at the same wave: 4 standard errors."""
    seas = [draw_components(CHOP, 0.0, inf, np.random.default_rng(seed)) for seed in range(500)]
    grid = np.linspace(0.4 * CHOP.peak, (9.81 * 2 * pi / 0.07) ** 0.5, 100_001)
    density = CHOP.density(grid)
    for order in (-1, 1, 2):
        wanted = (density @ grid**order) / density.sum()
        found = np.array([np.mean(sea.omega**order) for sea in seas])
        error = found.std() / sqrt(len(found))
        assert error < 1e-2 * wanted
        assert found.mean() == pytest.approx(wanted, abs=4 * error)


def test_directions_follow_the_spreading_function() -> None:
    row = next(row for row in reference("spreading", "peak").rows if row["exponent"] == 10.0)
    seas = [draw_components(CHOP, 1.0, inf, np.random.default_rng(seed), spread=10.0) for seed in range(200)]
    way = np.concatenate([(sea.kx + 1j * sea.ky) / sea.wave_number for sea in seas]) * np.exp(-1j)
    assert np.angle(way.mean()) == pytest.approx(0.0, abs=4 * np.radians(row["circular spread deg"]) / sqrt(len(way)))
    found = np.degrees(sqrt(2 * (1 - np.abs(way.mean()))))
    assert found == pytest.approx(row["circular spread deg"], rel=4 / sqrt(2 * len(way)))

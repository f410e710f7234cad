"""Spectra against wavespectra and wave kinematics against raschii, over more than the reference tables hold."""

from __future__ import annotations

from math import inf, pi

import numpy as np
import pytest
import raschii
from wavespectra.construct.direction import cartwright
from wavespectra.construct.frequency import jonswap as their_jonswap
from wavespectra.construct.frequency import pierson_moskowitz as their_bretschneider
from xarray import DataArray

from sweep.model.physics.spectra import bretschneider, jonswap, spreading
from sweep.model.physics.waves import elevation, orbital_velocity, regular_sea, wave_number
from tests.references import reference


def spectral(values: np.ndarray) -> DataArray:
    """Their height comes from a sum over these frequencies, so there must be many and the tail long."""
    return DataArray(values, dims="freq", coords={"freq": values})


@pytest.mark.parametrize(("height", "period", "gamma"), [(0.1, 1.5, 3.3), (0.04, 0.9, 2.0), (0.5, 3.0, 5.0)])
def test_jonswap_of_wavespectra(height: float, period: float, gamma: float) -> None:
    frequency = np.linspace(0.2 / period, 20 / period, 8000)
    theirs = their_jonswap(freq=spectral(frequency), fp=1 / period, gamma=gamma, hs=height).values
    ours = 2 * pi * jonswap(2 * pi * frequency, height, period, gamma)
    assert ours == pytest.approx(theirs, rel=1e-4, abs=1e-9 * ours.max())


@pytest.mark.parametrize(("height", "period"), [(0.1, 1.5), (0.04, 0.9), (0.5, 3.0)])
def test_bretschneider_of_wavespectra(height: float, period: float) -> None:
    frequency = np.linspace(0.2 / period, 20 / period, 8000)
    theirs = their_bretschneider(freq=spectral(frequency), fp=1 / period, hs=height).values
    ours = 2 * pi * bretschneider(2 * pi * frequency, height, period)
    assert ours == pytest.approx(theirs, rel=1e-4, abs=1e-9 * ours.max())


def test_spreading_of_wavespectra() -> None:
    degrees = np.arange(0.0, 360.0, 1.0)
    theirs = cartwright(DataArray(degrees, dims="dir", coords={"dir": degrees}), dm=90, dspr=30).values
    exponent = 2 / np.radians(30) ** 2 - 1
    ours = spreading(np.radians(degrees - 90), exponent) * pi / 180
    assert ours == pytest.approx(theirs, rel=1e-4, abs=1e-9)


@pytest.mark.parametrize(("height", "period", "depth"), [(0.2, 1.5, 1.0), (0.05, 0.8, 4.0), (0.1, 2.0, 0.5)])
def test_airy_wave_of_raschii(height: float, period: float, depth: float) -> None:
    """The same place as its own depth: ours is under the surface, theirs under the calm level."""
    length = 2 * pi / float(wave_number(2 * pi / period, depth))
    theirs = raschii.AiryWave(height, depth, length, g=9.81)
    sea = regular_sea(height, period, 0.0, depth)
    x = np.linspace(0, length, 9)
    for below in (height, 0.5 * depth, 0.9 * depth):
        for time in (0.0, 0.3 * period):
            outside = theirs.velocity(x, np.full_like(x, depth - below), time)
            ours = orbital_velocity(sea, x, 0.0, below, time)
            assert ours[:, 0] == pytest.approx(outside[:, 0], abs=1e-9)
            assert -ours[:, 2] == pytest.approx(outside[:, 1], abs=1e-9)
    surface = theirs.surface_elevation(x, 0.2 * period)
    assert depth + elevation(sea, x, 0.0, 0.2 * period) == pytest.approx(surface, abs=1e-9)


def test_linear_theory_is_two_percent_off_in_a_steep_wave() -> None:
    """The error that we accept: Fenton's stream function, ka = 0.187 (tests/references/orbital_velocity.toml)."""
    outside = reference("orbital_velocity", "nonlinear")
    row = outside.rows[0]
    omega = 2 * pi / 1.5
    ours = omega / float(wave_number(omega, 1.0))
    fenton = raschii.FentonWave(height=0.2, depth=1.0, length=2 * pi * ours / omega, N=10, g=9.81)
    assert ours == pytest.approx(row["linear speed m/s"], rel=1e-5)
    assert fenton.c == pytest.approx(row["Fenton speed m/s"], rel=1e-4)
    assert 0.01 < fenton.c / ours - 1 < outside.tolerance


def test_the_tail_of_deep_water_falls_as_theory_says() -> None:
    """Phillips 1958: the deep-water tail goes as omega^-5."""
    far = np.array([8.0, 16.0]) * 2 * pi
    density = jonswap(far, 0.1, 1.5)
    assert density[0] / density[1] == pytest.approx(32.0, rel=1e-3)
    assert wave_number(far, inf) == pytest.approx(far**2 / 9.81)

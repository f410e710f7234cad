"""Spectra, spreading, growth and codes against tests/references (spectra, spreading, growth, sea_state)."""

from __future__ import annotations

from itertools import pairwise
from math import gamma as gamma_function
from math import inf, pi, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from sweep.model.physics.spectra import (
    Spectrum,
    bretschneider,
    jonswap,
    jonswap_growth,
    sea_state_code_bounds,
    spreading,
    wind_sea,
    young_verhagen,
)
from tests.references import reference

HEIGHT, PERIOD = 0.1, 1.5
PEAK = 2 * pi / PERIOD


def moment(order: int, gamma: float, cut: float = inf) -> float:
    """m_order of the unit sea above, by adaptive integration on both sides of the peak, up to `cut` times the peak."""

    def integrand(x: float) -> float:
        return float((x * PEAK) ** order * jonswap(np.array(x * PEAK), HEIGHT, PERIOD, gamma)) * PEAK

    edges = [0.2, 0.6, 0.9, 1.0, 1.1, 1.5, min(cut, 3.0), cut]
    return sum(quad(integrand, a, b, epsabs=0, epsrel=1e-10)[0] for a, b in pairwise(edges) if a < b)


@given(
    height=st.floats(0.005, 5.0),
    period=st.floats(0.3, 15.0),
    gamma=st.floats(1.0, 7.0),
)
def test_the_height_is_exact_for_every_peakedness(height: float, period: float, gamma: float) -> None:
    """Common practice (no source): test m0 by integration; published normalisers differ by up to 2 %."""
    u = (np.arange(200_000) + 0.5) / 200_000
    omega = 2 * pi / period * (-np.log(u) / 1.25) ** -0.25  # equal shares of a Bretschneider's energy
    base = bretschneider(omega, height, period)
    variance = height**2 / 16 * np.mean(jonswap(omega, height, period, gamma) / base)
    assert 4 * sqrt(variance) == pytest.approx(height, rel=2e-6)


def test_bretschneider_moments() -> None:
    outside = reference("spectra", "bretschneider_moments")
    m = {order: moment(order, gamma=1.0) for order in (-1, 0, 1, 2)}
    found = {
        "T1/Tp": 2 * pi * m[0] / m[1] / PERIOD,
        "Tz/Tp": 2 * pi * sqrt(m[0] / m[2]) / PERIOD,
        "Te/Tp": 2 * pi * m[-1] / m[0] / PERIOD,
        "T1/Tz": m[0] / m[1] / sqrt(m[0] / m[2]),
    }
    assert m[0] == pytest.approx(HEIGHT**2 / 16, rel=1e-9)
    for name, value in outside.rows[0].items():
        assert found[name] == pytest.approx(value, rel=outside.tolerance[name]), name


def test_bretschneider_in_the_mean_period_is_the_form_of_the_ittc() -> None:
    outside = reference("spectra", "ittc_coefficients")
    a, b = outside.rows[0].values()
    mean_period = reference("spectra", "bretschneider_moments").rows[0]["T1/Tp"] * PERIOD
    omega = np.linspace(0.8, 3, 12) * PEAK
    theirs = a * HEIGHT**2 / mean_period**4 * omega**-5 * np.exp(-b / mean_period**4 * omega**-4)
    assert bretschneider(omega, HEIGHT, PERIOD) == pytest.approx(theirs, rel=2 * outside.tolerance)


@pytest.mark.parametrize("row", reference("spectra", "bretschneider_cut").rows, ids=lambda row: str(row["cut over peak"]))
def test_bretschneider_cut_short(row: dict[str, float]) -> None:
    cut = row["cut over peak"]
    m0 = moment(0, gamma=1.0, cut=cut)
    assert m0 / (HEIGHT**2 / 16) == pytest.approx(row["share of m0"], rel=1e-4)
    assert 2 * pi * sqrt(m0 / moment(2, gamma=1.0, cut=cut)) / PERIOD == pytest.approx(row["Tz/Tp"], rel=1e-4)


@pytest.mark.parametrize("row", reference("spectra", "jonswap_normaliser").rows, ids=lambda row: f"gamma {row['gamma']}")
def test_jonswap_normaliser_and_periods(row: dict[str, float]) -> None:
    tolerance = reference("spectra", "jonswap_normaliser").tolerance
    gamma = row["gamma"]
    far = np.array(5 * PEAK)  # the peak enhancement is 1 here: what is left is the normaliser
    assert jonswap(far, HEIGHT, PERIOD, gamma) / bretschneider(far, HEIGHT, PERIOD) == pytest.approx(
        row["C"], rel=tolerance["C"]
    )
    m = {order: moment(order, gamma) for order in (-1, 0, 1, 2)}
    assert 2 * pi * m[0] / m[1] / PERIOD == pytest.approx(row["T1/Tp"], rel=tolerance["T1/Tp"])
    assert 2 * pi * sqrt(m[0] / m[2]) / PERIOD == pytest.approx(row["Tz/Tp"], rel=tolerance["Tz/Tp"])
    assert 2 * pi * m[-1] / m[0] / PERIOD == pytest.approx(row["Te/Tp"], rel=tolerance["Te/Tp"])


@pytest.mark.parametrize("row", reference("spectra", "ordinates").rows, ids=lambda row: f"{row['frequency Hz']:.3g} Hz")
def test_ordinates(row: dict[str, float]) -> None:
    tolerance = reference("spectra", "ordinates").tolerance
    omega = np.array(2 * pi * row["frequency Hz"])
    assert 2 * pi * bretschneider(omega, HEIGHT, PERIOD) == pytest.approx(row["bretschneider m2/Hz"], rel=tolerance)
    assert 2 * pi * jonswap(omega, HEIGHT, PERIOD) == pytest.approx(row["jonswap 3.3 m2/Hz"], rel=tolerance)


@pytest.mark.parametrize("row", reference("spectra", "jonswap_public").rows, ids=lambda row: f"{row['frequency Hz']:.3g} Hz")
def test_ordinates_of_a_public_code(row: dict[str, float]) -> None:
    tolerance = reference("spectra", "jonswap_public").tolerance
    omega = np.array(2 * pi * row["frequency Hz"])
    assert 2 * pi * jonswap(omega, HEIGHT, PERIOD) == pytest.approx(row["jonswap 3.3 m2/Hz"], rel=tolerance)


@pytest.mark.parametrize("row", reference("spectra", "pierson_moskowitz").rows, ids=lambda row: f"{row['wind m/s']} m/s")
def test_a_fully_developed_sea_is_a_bretschneider(row: dict[str, float]) -> None:
    """Pierson & Moskowitz: S = 8.1e-3 g^2 w^-5 exp(-0.74 (g / (U w))^4)."""
    omega = np.linspace(0.7, 4, 12) * 2 * pi / row["Tp s"]
    theirs = 8.1e-3 * 9.81**2 * omega**-5 * np.exp(-0.74 * (9.81 / (row["wind m/s"] * omega)) ** 4)
    assert bretschneider(omega, row["Hs m"], row["Tp s"]) == pytest.approx(theirs, rel=5e-3)


def test_no_energy_at_no_frequency() -> None:
    assert np.array_equal(jonswap(np.array([0.0, 1e-9, 0.1 * PEAK]), HEIGHT, PERIOD), np.zeros(3))


def test_a_spectrum_knows_its_variance() -> None:
    spectrum = Spectrum(HEIGHT, PERIOD, 3.3)
    assert spectrum.variance == pytest.approx(moment(0, gamma=3.3), rel=1e-9)
    assert spectrum.density(np.array(spectrum.peak)) == jonswap(np.array(PEAK), HEIGHT, PERIOD, 3.3)


@pytest.mark.parametrize("row", reference("spreading", "peak").rows, ids=lambda row: f"s = {row['exponent']:g}")
def test_spreading(row: dict[str, float]) -> None:
    tolerance = reference("spreading", "peak").tolerance
    angle = np.linspace(-pi, pi, 20001)[:-1]
    density = spreading(angle, row["exponent"])
    step = angle[1] - angle[0]
    first = density @ np.cos(angle) * step
    assert spreading(np.array(0.0), row["exponent"]) == pytest.approx(row["peak 1/rad"], rel=tolerance)
    assert density.sum() * step == pytest.approx(1.0, rel=1e-12)
    assert np.degrees(sqrt(2 * (1 - first))) == pytest.approx(row["circular spread deg"], abs=0.006)


def test_spreading_of_a_public_code() -> None:
    outside = reference("spreading", "cartwright")
    row = outside.rows[0]
    peak = float(spreading(np.array(0.0), row["exponent"]))
    assert peak * pi / 180 == pytest.approx(row["peak 1/deg"], rel=outside.tolerance)


@pytest.mark.parametrize("table", ["young_verhagen_example", "young_verhagen", "young_verhagen_small"])
def test_growth_in_finite_depth(table: str) -> None:
    outside = reference("growth", table)
    for row in outside.rows:
        grown = young_verhagen(row["wind m/s"], row["fetch m"], row["depth m"])
        assert grown == pytest.approx((row["Hm0 m"], row["Tp s"]), rel=outside.tolerance), row


@pytest.mark.parametrize("table", ["jonswap", "jonswap_small"])
def test_growth_in_deep_water(table: str) -> None:
    outside = reference("growth", table)
    for row in outside.rows:
        grown = jonswap_growth(row["wind m/s"], row["fetch m"])
        assert grown == pytest.approx((row["Hm0 m"], row["Tp s"]), rel=outside.tolerance), row


def test_a_wind_sea_is_held_by_the_ground_or_by_deep_water() -> None:
    """The published example is shallow: Young & Verhagen. Over 5 m of water 1 km is deep: JONSWAP has the shorter waves."""
    row = reference("growth", "young_verhagen_example").rows[0]
    assert wind_sea(row["wind m/s"], row["fetch m"], row["depth m"]) == pytest.approx((row["Hm0 m"], row["Tp s"]), rel=1e-4)
    shallow, deep = (reference("growth", law).rows[0] for law in ("young_verhagen", "jonswap"))
    grown = wind_sea(10.0, 1000.0, 5.0)
    assert grown.significant_height == pytest.approx(min(shallow["Hm0 m"], deep["Hm0 m"]), rel=1e-4)
    assert grown.peak_period == pytest.approx(min(shallow["Tp s"], deep["Tp s"]), rel=1e-4)


def test_growth_laws_are_a_quarter_apart_at_most_in_height() -> None:
    outside = reference("growth", "other_laws")
    for law in (jonswap_growth(10.0, 1000.0), young_verhagen(10.0, 1000.0, 5.0)):
        assert all(law.significant_height == pytest.approx(row["Hm0 m"], rel=outside.tolerance) for row in outside.rows)


@given(wind=st.floats(1.0, 15.0), fetch=st.floats(100.0, 5000.0), depth=st.floats(0.5, 20.0))
def test_more_fetch_or_depth_never_makes_less_sea(wind: float, fetch: float, depth: float) -> None:
    here = young_verhagen(wind, fetch, depth)
    for more in (young_verhagen(wind, 1.2 * fetch, depth), young_verhagen(wind, fetch, 1.2 * depth)):
        assert more.significant_height >= here.significant_height * (1 - 1e-12)
        assert more.peak_period >= here.peak_period * (1 - 1e-12)


def test_sea_state_codes() -> None:
    for row in reference("sea_state", "code").rows:
        assert sea_state_code_bounds(row["code"]) == (row["least m"], row["largest m"])


@pytest.mark.parametrize("code", [-1, 10])
def test_a_code_that_does_not_exist_is_refused(code: int) -> None:
    with pytest.raises(ValueError, match="wanted 0 to 9"):
        sea_state_code_bounds(code)


def test_the_closed_form_of_the_moments_agrees() -> None:
    """m_n = (A/4) B^((n-4)/4) Gamma(1 - n/4), the formula behind the table."""
    a, b = 5 / 16 * HEIGHT**2 * PEAK**4, 1.25 * PEAK**4
    for order in (-1, 0, 1, 2):
        exact = a / 4 * b ** ((order - 4) / 4) * gamma_function(1 - order / 4)
        assert moment(order, gamma=1.0) == pytest.approx(exact, rel=1e-6)

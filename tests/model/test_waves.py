"""Dispersion, kinematics and encounter of waves against tests/references, and what a sea is made of."""

from __future__ import annotations

from math import inf, nan, pi, radians, sqrt

import mpmath
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sweep.model.physics.spectra import Floats, Spectrum
from sweep.model.physics.waves import (
    Sea,
    Track,
    WavePacket,
    breaking_steepness,
    draw_components,
    elevation,
    encounter_frequency,
    flat_sea,
    group_speed,
    join,
    orbital_velocity,
    packet_sea,
    regular_sea,
    steepness,
    wave_number,
)
from tests.references import reference


def generator(seed: int = 1) -> np.random.Generator:
    return np.random.default_rng(seed)


# Dispersion


@pytest.mark.parametrize("row", reference("dispersion", "table_c1").rows, ids=lambda row: f"d/L0 {row['d/L0']:g}")
def test_dispersion_table(row: dict[str, float]) -> None:
    """Per wave of 1 s in water of depth d = (d/L0) g / 2 pi."""
    tolerance = reference("dispersion", "table_c1").tolerance
    depth = row["d/L0"] * 9.81 / (2 * pi)
    k = float(wave_number(2 * pi, depth))
    group = float(group_speed(2 * pi, depth)) / (9.81 / (2 * pi))
    assert k * depth / (2 * pi) == pytest.approx(row["d/L"], abs=tolerance)
    assert np.tanh(k * depth) == pytest.approx(row["tanh"], abs=tolerance)
    assert group == pytest.approx(row["Cg/C0"], abs=tolerance)
    assert group / (2 * pi / k / (9.81 / (2 * pi))) == pytest.approx(row["n"], abs=tolerance)
    assert 1 / sqrt(2 * group) == pytest.approx(row["H/H0'"], abs=tolerance)


@pytest.mark.parametrize("row", reference("dispersion", "waves").rows, ids=lambda row: f"{row['period s']:g} s")
def test_wave_number_and_speeds(row: dict[str, float]) -> None:
    omega, depth = 2 * pi / row["period s"], row["depth m"]
    k = float(wave_number(omega, depth))
    assert k == pytest.approx(row["wave number 1/m"], abs=1e-6)
    assert 2 * pi / k == pytest.approx(row["length m"], rel=2e-5)
    assert omega / k == pytest.approx(row["speed m/s"], rel=1e-5)
    assert group_speed(omega, depth) == pytest.approx(row["group speed m/s"], rel=1e-5)


def test_worked_example() -> None:
    outside = reference("dispersion", "worked_example")
    row = outside.rows[0]
    omega = 2 * pi / row["period s"]
    k = float(wave_number(omega, row["depth m"]))
    assert (2 * pi / k, omega / k) == pytest.approx((row["length m"], row["speed m/s"]), rel=outside.tolerance)


@pytest.mark.parametrize("depth", [inf, 1000.0])
def test_deep_water(depth: float) -> None:
    outside = reference("dispersion", "deep")
    for row in outside.rows:
        omega = 2 * pi / row["period s"]
        assert 2 * pi / wave_number(omega, depth) == pytest.approx(row["length m"], rel=outside.tolerance)
        assert group_speed(omega, depth) == pytest.approx(0.5 * 9.81 / omega, rel=1e-12)


@given(omega=st.floats(0.05, 60.0), depth=st.floats(0.01, 1000.0))
def test_wave_number_solves_the_dispersion_relation(omega: float, depth: float) -> None:
    """Against a root in 30 digits."""
    with mpmath.workdps(30):
        start = omega**2 / 9.81 / mpmath.sqrt(mpmath.tanh(omega**2 * depth / 9.81))
        root = mpmath.findroot(lambda k: 9.81 * k * mpmath.tanh(k * depth) - omega**2, start)
    assert float(wave_number(omega, depth)) == pytest.approx(float(root), rel=1e-12)


def test_group_speed_is_the_slope_of_the_dispersion_relation() -> None:
    omega = np.linspace(1, 15, 30)
    step = 1e-5
    slope = 2 * step / (wave_number(omega + step, 0.7) - wave_number(omega - step, 0.7))
    assert group_speed(omega, 0.7) == pytest.approx(slope, rel=1e-7)


@pytest.mark.parametrize(("omega", "depth"), [(0.0, 1.0), (-1.0, 1.0), (1.0, 0.0), (1.0, -2.0), (nan, 1.0), (1.0, nan)])
def test_a_wave_needs_a_frequency_and_a_depth(omega: float, depth: float) -> None:
    with pytest.raises(ValueError, match="must be positive"):
        wave_number(omega, depth)


def test_breaking() -> None:
    outside = reference("dispersion", "breaking")
    for row in outside.rows:
        depth = 1.0
        period = 2 * pi / sqrt(9.81 * row["kd"] * np.tanh(row["kd"]))
        assert breaking_steepness(period, depth) == pytest.approx(row["height over length"], rel=outside.tolerance)
    assert steepness(0.1, 1.0, inf) == pytest.approx(0.1 / 1.5613, rel=1e-4)


# Kinematics

AIRY = regular_sea(height=0.2, period=1.5, heading=0.0, depth=1.0)


@pytest.mark.parametrize("table", ["airy", "airy_horizontal"])
def test_orbital_velocity(table: str) -> None:
    outside = reference("orbital_velocity", table)
    for row in outside.rows:
        crest, rising = orbital_velocity(AIRY, 0.0, 0.0, -row["z m"], np.array([0.0, 0.75 * 1.5]))
        assert crest[0] == pytest.approx(row["horizontal m/s"], abs=outside.tolerance)
        assert crest[2] == pytest.approx(0.0, abs=1e-12)
        assert -rising[2] == pytest.approx(row.get("vertical m/s", -rising[2]), abs=outside.tolerance)
        assert rising[0] == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("depth", [inf, 60.0])
def test_decay_in_deep_water(depth: float) -> None:
    outside = reference("orbital_velocity", "deep_decay")
    for row in outside.rows:
        sea = regular_sea(0.05, row["period s"], 0.0, depth)
        top, below = orbital_velocity(sea, 0.0, 0.0, np.array([0.0, row["depth m"]]), 0.0)[:, 0]
        assert below / top == pytest.approx(row["decay"], rel=outside.tolerance)


def test_waves_go_their_way() -> None:
    """A crest that stands over the origin is a quarter period later a quarter length on, along the heading."""
    for heading in np.radians([0, 45, 90, 135, 180, 250]):
        sea = regular_sea(0.1, 1.2, heading, 2.0)
        way = 0.25 * 2 * pi / sea.wave_number[0]
        assert elevation(sea, way * np.cos(heading), way * np.sin(heading), 0.3) == pytest.approx(0.05, abs=1e-12)
        assert elevation(sea, 0.0, 0.0, 0.0) == pytest.approx(0.05, abs=1e-12)
        under_crest = orbital_velocity(sea, 0.0, 0.0, 0.1, 0.0)
        assert under_crest[:2] / np.hypot(*under_crest[:2]) == pytest.approx([np.cos(heading), np.sin(heading)])


MIXED = draw_components(Spectrum(0.08, 1.0, 3.3), radians(130), 0.6, generator(), spread=5.0)


def test_the_water_is_neither_made_nor_turned() -> None:
    """Potential flow: no divergence, no curl, nothing through the bottom; central differences."""
    place, step = np.array([0.3, -0.7, 0.2]), 1e-4

    def velocity(x: Floats) -> Floats:
        return orbital_velocity(MIXED, x[0], x[1], x[2], 3.0)

    gradient = np.array([velocity(place + step * way) - velocity(place - step * way) for way in np.eye(3)]) / (2 * step)
    size = np.abs(gradient).max()
    assert size > 0.1
    assert np.trace(gradient) == pytest.approx(0.0, abs=1e-6 * size)
    assert gradient == pytest.approx(gradient.T, abs=1e-6 * size)
    assert orbital_velocity(MIXED, 0.3, -0.7, 0.6, 3.0)[2] == pytest.approx(0.0, abs=1e-12)


def test_the_surface_rises_as_fast_as_the_water_at_it() -> None:
    time = np.linspace(0, 5, 50)
    rise = (elevation(MIXED, 1.0, 2.0, time + 1e-5) - elevation(MIXED, 1.0, 2.0, time - 1e-5)) / 2e-5
    assert -orbital_velocity(MIXED, 1.0, 2.0, 0.0, time)[:, 2] == pytest.approx(rise, abs=1e-8)


def test_above_the_water_it_moves_as_at_the_surface() -> None:
    assert np.array_equal(orbital_velocity(MIXED, 0.0, 0.0, -0.2, 1.0), orbital_velocity(MIXED, 0.0, 0.0, 0.0, 1.0))


def test_shapes_broadcast() -> None:
    x, t = np.zeros((4, 1)), np.zeros(7)
    assert elevation(MIXED, x, 0.0, t).shape == (4, 7)
    assert orbital_velocity(MIXED, x, 0.0, 0.1, t).shape == (4, 7, 3)


# Meeting the waves


def test_encounter_frequency() -> None:
    outside = reference("encounter", "frequency")
    for row in outside.rows:
        omega = np.array(2 * pi / row["period s"])
        for name, degrees in (("head Hz", 180), ("beam Hz", 90), ("following Hz", 0)):
            met = encounter_frequency(omega, wave_number(omega, inf), row["speed m/s"], radians(degrees)) / (2 * pi)
            assert met == pytest.approx(row[name], abs=outside.tolerance), (row, name)


@pytest.mark.parametrize("row", reference("encounter", "phase").rows, ids=lambda row: row["case"])
def test_the_water_falls_where_the_surface_rises_only_when_overtaking(row: dict[str, float]) -> None:
    sea = regular_sea(0.1, 1.5, radians(row["heading deg"]), inf)
    speed = row["speed over wave speed"] * float(sea.omega[0] / sea.wave_number[0])
    time = np.linspace(0, 60, 6001)
    surface = elevation(sea, speed * time, 0.0, time)
    upward = -orbital_velocity(sea, speed * time, 0.0, 0.0, time)[:, 2]
    correlation = np.corrcoef(np.gradient(surface, time)[1:-1], upward[1:-1])[0, 1]
    assert correlation == pytest.approx(row["correlation"], abs=reference("encounter", "phase").tolerance)


def test_contouring_and_incidence_at_four_metres_a_second() -> None:
    contouring, incidence = reference("encounter", "contouring"), reference("encounter", "incidence")
    for row, angle in zip(contouring.rows, incidence.rows, strict=True):
        omega = np.array(2 * pi / row["period s"])
        k = wave_number(omega, inf)
        for name, heading in (("head g", pi), ("following g", 0.0)):
            demand = 0.05 * encounter_frequency(omega, k, 4.0, heading) ** 2 / 9.81
            assert demand == pytest.approx(row[name], rel=contouring.tolerance, abs=1e-3)
        sea = regular_sea(0.1, row["period s"], pi, inf, phase=pi / 2)
        upward = -orbital_velocity(sea, 0.0, 0.0, 0.1, 0.0)[2]
        assert np.degrees(upward / 4.0) == pytest.approx(angle["incidence deg"], rel=incidence.tolerance)


# What a sea is made of


@given(
    height=st.floats(0.01, 0.5),
    period=st.floats(0.5, 4.0),
    gamma=st.floats(1.0, 7.0),
    depth=st.one_of(st.floats(0.3, 50.0), st.just(inf)),
    count=st.sampled_from([1, 8, 24, 32, 33, 64]),
    seed=st.integers(0, 2**32),
)
def test_a_drawn_sea_has_the_variance_of_its_spectrum(
    height: float, period: float, gamma: float, depth: float, count: int, seed: int
) -> None:
    sea = draw_components(Spectrum(height, period, gamma), 1.0, depth, generator(seed), count)
    assert len(sea.amplitude) == np.count_nonzero(sea.amplitude) == count
    assert sum(sea.amplitude**2) / 2 == pytest.approx(height**2 / 16, rel=1e-12)
    assert np.all(sea.wave_number > 0)
    assert 9.81 * sea.wave_number * np.tanh(sea.wave_number * depth) == pytest.approx(sea.omega**2, rel=1e-12)
    assert np.hypot(sea.kx, sea.ky) == pytest.approx(sea.wave_number, rel=1e-12)
    assert np.isfinite(orbital_velocity(sea, 1.0, 2.0, min(0.2, depth), 3.0)).all()


def test_no_wave_is_shorter_than_the_model_holds() -> None:
    shortest = [
        2 * pi / draw_components(Spectrum(0.02, 0.5), 0.0, inf, generator(seed)).wave_number.max() for seed in range(200)
    ]
    assert 0.07 <= min(shortest) < 0.08


def test_a_sea_too_short_to_draw_is_refused() -> None:
    with pytest.raises(ValueError, match=r"peak period is 0\.25 s; wanted at least 0\.32 s"):
        draw_components(Spectrum(0.01, 0.25), 0.0, inf, generator())


def test_calm_water_lies_still() -> None:
    assert len(flat_sea(inf).amplitude) == 0
    assert elevation(flat_sea(2.0), 1.0, 1.0, 1.0) == 0.0
    assert np.array_equal(orbital_velocity(flat_sea(inf), 1.0, 1.0, 0.1, 1.0), np.zeros(3))


def test_joined_seas_add() -> None:
    parts = [AIRY, regular_sea(0.04, 0.8, 2.0, 1.0, phase=1.0), flat_sea(1.0)]
    whole = join(parts)
    assert len(whole.amplitude) == 2
    assert elevation(whole, 0.3, 0.4, 5.0) == pytest.approx(sum(elevation(sea, 0.3, 0.4, 5.0) for sea in parts))
    velocities = [orbital_velocity(sea, 0.3, 0.4, 0.1, 5.0) for sea in parts]
    assert orbital_velocity(whole, 0.3, 0.4, 0.1, 5.0) == pytest.approx(np.sum(velocities, axis=0))
    with pytest.raises(ValueError, match="wanted one depth"):
        join([AIRY, flat_sea(2.0)])


# A passing wake


PACKET = WavePacket(height=0.1, period=1.4, waves=6.0, arrives=12.0)
GOING = [(pi, 4.0), (0.0, 4.0), (pi / 2, 4.0), (pi / 4, 6.0), (0.0, 1.0), (pi, 0.0)]


def envelope(sea: Sea, x: Floats | float, t: Floats | float) -> Floats:
    """Half the height of the waves of a sea that all go one way, m."""
    phase = np.asarray(x)[..., None] * sea.kx - np.asarray(t)[..., None] * sea.omega + sea.phase
    height: Floats = np.abs(np.exp(1j * phase) @ sea.amplitude)
    return height


@pytest.mark.parametrize(("heading", "speed"), GOING)
@pytest.mark.parametrize("depth", [0.4, inf])
def test_a_packet_meets_the_craft_at_its_time_and_only_then(heading: float, speed: float, depth: float) -> None:
    """The Fourier transform of a Gaussian is one (exact); the rest of the flight is calm within what the band leaves out."""
    track = Track(speed, 0.0, 30.0)
    sea = packet_sea(PACKET, heading, depth, track)
    assert elevation(sea, 12.0 * speed, 0.0, 12.0) == pytest.approx(0.05, rel=1e-12)
    time = np.arange(0.0, 30.0, 0.01)
    met = envelope(sea, speed * time, time)
    assert met.argmax() == pytest.approx(1200, abs=5)
    omega = 2 * pi / 1.4
    closing = abs(1 - speed * np.cos(heading) / float(group_speed(omega, depth)))
    deviation = 6 * 1.4 / sqrt(8 * np.log(2)) / closing
    near = np.abs(time - 12.0) < 0.7 * deviation
    assert met[near] == pytest.approx(0.05 * np.exp(-0.5 * ((time[near] - 12.0) / deviation) ** 2), rel=0.05)
    far = np.abs(time - 12.0) > 5 * max(deviation, 6 * 1.4 / sqrt(8 * np.log(2)))
    assert met[far].max(initial=0.0) < 0.05 * 0.02


def test_a_packet_made_for_a_short_flight_is_met_again_in_a_long_one() -> None:
    """What the test above looks for does happen: more components put it off."""
    time = np.arange(20.0, 90.0, 0.01)
    short, long = (packet_sea(PACKET, pi, inf, Track(4.0, 0.0, length)) for length in (24.0, 90.0))
    assert np.count_nonzero(short.amplitude) < np.count_nonzero(long.amplitude)
    assert envelope(short, 4.0 * time, time).max() > 0.5 * 0.05
    assert envelope(long, 4.0 * time, time).max() < 0.02 * 0.05


def test_a_packet_holds_its_waves_and_goes_at_the_speed_of_a_group() -> None:
    sea = packet_sea(PACKET, 0.0, 2.0, Track(length=40.0))
    time = np.arange(0.0, 24.0, 0.001)
    high = time[envelope(sea, 0.0, time) > 0.025]
    assert high[-1] - high[0] == pytest.approx(6 * 1.4, rel=0.01)
    x = np.arange(-10.0, 0.0, 0.001)
    before = x[envelope(sea, x, 10.0).argmax()]
    assert -before / 2.0 == pytest.approx(float(group_speed(2 * pi / 1.4, 2.0)), rel=0.01)


def test_a_craft_that_lies_at_rest_first_meets_the_packet_where_it_has_got_to() -> None:
    sea = packet_sea(PACKET, pi, inf, Track(4.0, 5.0, 30.0))
    assert elevation(sea, 28.0, 0.0, 12.0) == pytest.approx(0.05, rel=1e-12)
    waiting = packet_sea(PACKET._replace(arrives=3.0), pi, inf, Track(4.0, 5.0, 30.0))
    assert elevation(waiting, 0.0, 0.0, 3.0) == pytest.approx(0.05, rel=1e-12)


def test_a_packet_that_the_sum_has_no_room_for_is_refused() -> None:
    with pytest.raises(ValueError, match="wanted at most 160: a shorter flight or more waves"):
        packet_sea(PACKET, pi, inf, Track(4.0, 0.0, 600.0))

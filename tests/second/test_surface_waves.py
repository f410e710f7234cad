"""What gravity adds to the downwash: limits, a second quadrature on another path, the drag of the waves, and a towed foil."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad

from tests.second.surface_waves import (
    GRAVITY,
    elliptic,
    gravity_kernel,
    image,
    image_kernel,
    legs,
    slender_kernel,
    wave_drag,
    waves,
)
from tests.second.wakes import Arrangement, sheet

pytestmark = pytest.mark.filterwarnings("ignore::scipy.integrate.IntegrationWarning")  # of tails that swing; held elsewhere

SPAN, CHORD = 0.173, 0.173 / 6
LINE = Arrangement(SPAN, CHORD, 0.62, 0.0, 0.0, 0.105, -SPAN / 2, SPAN / 2)
PLACES = [LINE, LINE._replace(side=0.17), LINE._replace(side=0.17, depth=0.03, below=0.01), LINE._replace(aft=0.1, depth=0.06)]


def on_a_path_below_the_poles(place: Arrangement, speed: float) -> float:
    """The same double integral without principal value or pole: along q - i a sqrt(q^2 + k^2), where all is smooth."""
    k_0, height = GRAVITY / speed**2, 2 * place.depth + place.below
    nodes, weights = np.polynomial.legendre.leggauss(96)
    top = np.sqrt(40 / height)
    root = 0.5 * top * (nodes + 1)
    k, step = root[:, None] ** 2, top * weights * root
    slant = min(0.3, 0.4 * height / place.aft)
    turns = np.linspace(0, 1, 600) * np.arcsinh(40 / (height * k))
    path, slope = np.sinh(turns) - 1j * slant * np.cosh(turns), np.cosh(turns) - 1j * slant * np.sinh(turns)
    along = k * path
    K = np.sqrt(along**2 + k**2)
    inside = K**2 * np.exp(-K * height + 1j * along * place.aft) / ((K - along**2 / k_0) * 1j * along) * k * slope
    kernel = np.trapezoid(inside, turns, axis=1).real / np.pi
    start, end = place.side + place.start, place.side + place.end
    strip = (np.sin(k * end) - np.sin(k * start))[:, 0] / (k[:, 0] * (end - start))
    return -float(np.sum(step * strip * elliptic(place, k[:, 0]) * kernel)) / np.pi


@pytest.mark.parametrize("place", PLACES)
def test_the_transform_of_the_image_is_the_image(place: Arrangement) -> None:
    assert -waves(place, 4.0, image_kernel) == pytest.approx(image(place), rel=1e-5, abs=1e-7)


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("speed", [1.5, 2.4, 4.0, 8.0])
def test_another_path_of_integration_finds_the_same(place: Arrangement, speed: float) -> None:
    assert waves(place, speed) == pytest.approx(on_a_path_below_the_poles(place, speed), rel=1e-4, abs=1e-6)


@pytest.mark.parametrize("place", PLACES)
def test_at_no_speed_the_surface_is_a_rigid_wall(place: Arrangement) -> None:
    """An image of the opposite circulation: twice the other one is taken off."""
    assert waves(place, 0.02) == pytest.approx(-2 * image(place), rel=1e-3, abs=1e-6)


@pytest.mark.parametrize("place", PLACES)
def test_at_great_speed_nothing_is_left_but_the_image(place: Arrangement) -> None:
    """It goes with g l / U^2."""
    fast, faster = waves(place, 50.0), waves(place, 100.0)
    assert abs(faster) < 0.01 * sheet(LINE)
    assert fast == pytest.approx(4 * faster, rel=0.02)


def test_it_falls_with_depth() -> None:
    shares = [abs(waves(LINE._replace(depth=chords * CHORD), 2.4)) for chords in (1, 2, 3.6, 5, 10)]
    assert all(deeper < 0.7 * shallower for shallower, deeper in pairwise(shares))
    assert shares[-1] < 0.03 * sheet(LINE)


@pytest.mark.parametrize("k", [0.5, 3.0, 20.0])
def test_waves_trail_behind_and_none_run_ahead(k: float) -> None:
    """Ahead the kernel dies out; behind it swings about that of a rigid wall."""
    behind = np.array([gravity_kernel(k, aft, 0.2, 2.0) for aft in np.linspace(3.0, 9.0, 25)])
    ahead = np.array([gravity_kernel(k, -aft, 0.2, 2.0) for aft in np.linspace(3.0, 9.0, 25)])
    assert np.abs(ahead).max() < 0.05 * np.abs(behind).max()


@pytest.mark.parametrize(("speed", "share"), [(3.0, 0.05), (4.0, 0.1), (8.0, 0.1)])
def test_water_that_rises_and_falls_across_the_stream_is_most_of_it(speed: float, share: float) -> None:
    assert waves(LINE, speed, slender_kernel) == pytest.approx(waves(LINE, speed), rel=share)


def test_a_rolled_up_wake_makes_the_same_waves() -> None:
    for speed in (1.5, 2.4, 4.0):
        assert waves(LINE, speed, loading=legs) == pytest.approx(waves(LINE, speed), rel=0.05)


def test_a_wide_foil_has_the_wave_drag_of_a_vortex() -> None:
    """rho g (Gamma / U)^2 exp(-2 g h / U^2) a length: Lamb, Hydrodynamics, art. 247 (from memory)."""
    wide, speed = LINE._replace(span=60.0, depth=0.3), 1.5
    circulation_squared = (2 / np.pi * CHORD) ** 2 * wide.span * 2 / 3  # of the elliptic loading over the span
    k_0 = GRAVITY / speed**2
    assert wave_drag(wide, speed) == pytest.approx(k_0 * circulation_squared * np.exp(-2 * k_0 * 0.3), rel=0.01)


@pytest.mark.parametrize("speed", [0.8, 1.5, 4.0])
def test_the_drag_is_what_the_waves_far_behind_carry(speed: float) -> None:
    """Havelock (from memory): pi/2 rho U^2 |A|^2 cos^3, integrated; A = k_0 / (pi U) Gamma^ sec^4 exp(-k_0 h sec^2)."""
    k_0 = GRAVITY / speed**2

    def power(angle: float) -> float:
        secant = 1 / np.cos(angle)
        loading = elliptic(LINE, np.array([k_0 * secant**2 * np.sin(angle)]))[0]
        return (k_0 / np.pi * loading * secant**4 * np.exp(-k_0 * LINE.depth * secant**2)) ** 2 * np.cos(angle) ** 3

    carried = np.pi * quad(power, 1e-9, np.pi / 2 - 1e-6, limit=400)[0]  # both sides
    assert wave_drag(LINE, speed) == pytest.approx(carried, rel=1e-4)


TOWED = Arrangement(2.032, 0.2032, 1.0, 0.0, 0.0, 0.75 * 0.2032, -0.05, 0.05)
"""NACA RM L52L11 (Carter & Butler 1953): chord 8 in, aspect ratio 10, three quarters of a chord deep."""


def both_theories(speed: float, wavelengths: float) -> tuple[float, float]:
    """Downwash at the centre of the towed foil's wake, and that of a vortex that goes on sideways."""
    place = TOWED._replace(aft=wavelengths * 2 * np.pi * speed**2 / GRAVITY)
    height, strength = 2 * place.depth, 0.5 * place.chord
    wide = strength / (2 * np.pi) * (1 / place.aft + place.aft / (place.aft**2 + height**2))
    wide -= strength * gravity_kernel(1e-6, place.aft, height, GRAVITY / speed**2)
    return sheet(place) + waves(place, speed), wide


def test_behind_a_towed_foil_two_dimensions_do_as_far_as_was_reported() -> None:
    """They found the two-dimensional theory right from the trailing edge to the greatest upwash, at low speed only (SEEN)."""
    for speed in (1.5, 2.0):
        found, wide = both_theories(speed, 0.5)
        assert found == pytest.approx(wide, rel=0.12)
        found, wide = both_theories(speed, 0.75)
        assert abs(found - wide) > 0.04
    for speed in (3.0, 4.5):
        found, wide = both_theories(speed, 0.5)
        assert abs(found - wide) > 0.4 * abs(wide)


def test_downwash_under_the_surface_falls_with_depth_as_waves_do() -> None:
    """Below the towed foil the waves' share goes with exp(-g z / U^2), as they measured at low speed (SEEN)."""
    speed = 1.5
    place = TOWED._replace(aft=np.pi * speed**2 / GRAVITY)
    drop = waves(place._replace(below=0.1), speed) / waves(place, speed)
    assert drop == pytest.approx(np.exp(-GRAVITY * 0.1 / speed**2), rel=0.1)

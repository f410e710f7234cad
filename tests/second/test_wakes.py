"""The quadrature of wakes against closed forms, and the file of arrangements that it made."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import ellipe

from tests.references import reference
from tests.references.make_wakes import arrangements, row
from tests.second.wakes import (
    CORE,
    PUBLISHED_CORE,
    Arrangement,
    biot_savart,
    bound,
    bound_at,
    bundle,
    energy_of_pair,
    half_infinite,
    induced_drag,
    pair,
    pair_at,
    sheet,
    sheet_at,
    trailing_pair,
    trailing_sheet,
)

SPAN, CHORD = 0.6, 0.1
AR = SPAN / CHORD
DEEP = 1e6
FAR = Arrangement(SPAN, CHORD, 1e4, 0.0, 0.0, DEEP, -0.1, 0.1)


def test_a_half_infinite_filament_is_the_sum_of_its_elements() -> None:
    aft, across, up = 0.3, -0.07, 0.05
    elements = quad(lambda x: biot_savart(0, (aft - x, across, up)), 0.0, np.inf, epsabs=1e-10)[0]
    assert half_infinite(aft, across, up) == pytest.approx(elements, rel=1e-7)


@pytest.mark.parametrize("aft", [0.05, 0.3, 3.0])
def test_a_horseshoe_has_the_textbook_downwash_on_its_centre_line(aft: float) -> None:
    """Gamma / (2 pi s) (1 + sqrt(x^2 + s^2) / x), s the half span, of three straight vortices (Glauert 1926, ch. 12)."""
    s = 0.25
    line = quad(lambda y: biot_savart(1, (aft, -y, 0.0)), -s, s)[0]
    legs = [side * quad(lambda x, y=side * s: biot_savart(0, (aft - x, -y, 0.0)), 0.0, np.inf)[0] for side in (-1, 1)]
    assert -(line + sum(legs)) == pytest.approx((1 + np.hypot(aft, s) / aft) / (2 * np.pi * s), rel=1e-6)


@pytest.mark.parametrize("aft", [0.1, 0.3, 0.6, 3.0])
def test_the_centre_line_of_an_elliptic_wing_has_its_closed_form(aft: float) -> None:
    """C_L / (pi AR) (1 + (2/pi) sqrt(1 + x^2) / x E(1 / sqrt(1 + x^2))), x in half spans: Glauert 1926 (from memory)."""
    place, x = FAR._replace(aft=aft), 2 * aft / SPAN
    closed = (1 + 2 / np.pi * np.sqrt(1 + x**2) / x * ellipe(1 / (1 + x**2))) / (np.pi * AR)
    assert sheet_at(place, 0.0, 0.0) + bound_at(place, 0.0, 0.0) == pytest.approx(closed, rel=1e-6)


@pytest.mark.parametrize(("start", "end"), [(-0.3, 0.3), (0.0, 0.05), (0.25, 0.3)])
def test_far_behind_in_the_plane_inside_the_span_it_is_two_over_pi_aspect_ratios(start: float, end: float) -> None:
    assert sheet(FAR._replace(start=start, end=end)) == pytest.approx(2 / (np.pi * AR), rel=1e-5)


@pytest.mark.parametrize(
    ("y", "up"), [(0.35, 0.0), (0.6, 0.0), (-2.0, 0.0), (0.1, 0.05), (0.29, 0.01), (0.3, -0.1), (0.8, -0.3)]
)
def test_far_behind_it_is_the_flow_round_a_plate(y: float, up: float) -> None:
    """The sheet goes down as a rigid plate: w / w_0 = Re(1 - z / sqrt(z^2 - s^2)), z = y + i up (Munk 1921, Trefftz 1921)."""
    z, s = complex(abs(y), up), SPAN / 2
    root = np.sqrt(z - s) * np.sqrt(z + s)
    assert sheet_at(FAR, y, up) == pytest.approx(2 / (np.pi * AR) * (1 - z / root).real, rel=1e-4)


def test_outside_the_span_a_strip_has_the_mean_of_the_plate_flow() -> None:
    start, end, s = SPAN / 2, 0.5, SPAN / 2
    mean = 1 - np.sqrt(end**2 - s**2) / (end - start)
    assert sheet(FAR._replace(start=start, end=end)) == pytest.approx(2 / (np.pi * AR) * mean, rel=1e-3)


def test_the_image_is_that_of_a_biplane() -> None:
    """Drag of one wing in the wake of its image over its own: Prandtl's biplane factor, NACA TR 116."""
    for known in reference("depth_effect", "biplane").rows:
        place = FAR._replace(depth=known["gap over span"] * SPAN / 2)
        load = lambda y: np.sqrt(1 - (2 * y / SPAN) ** 2)  # noqa: E731
        across = np.cos(np.pi * (np.arange(16) + 0.5) / 16) * SPAN / 2
        weights = load(across) ** 2  # the nodes' own spacing goes as the load
        image = [sheet_at(place, y, -2 * place.depth) for y in across]
        assert np.dot(weights, image) / weights.sum() * np.pi * AR / 2 == pytest.approx(known["sigma"], rel=0.04)


def test_at_the_surface_the_image_is_the_wing_again_and_far_from_it_nothing() -> None:
    place = FAR._replace(aft=0.3)
    assert sheet(place._replace(depth=1e-3, end=0.05)) == pytest.approx(2 * sheet(place._replace(end=0.05)), rel=5e-3)
    for wake in (sheet, pair):
        assert wake(place._replace(depth=30.0)) == pytest.approx(wake(place), rel=1e-3)


def test_sides_are_alike() -> None:
    place = Arrangement(SPAN, CHORD, 0.4, 0.15, 0.02, 0.2, 0.05, 0.25)
    other = place._replace(side=-0.15, start=-0.25, end=-0.05)
    for wake in (bound, trailing_sheet, trailing_pair):
        assert wake(other) == pytest.approx(wake(place), rel=1e-6)


def test_a_bundle_is_a_filament_outside_and_turns_as_a_solid_inside() -> None:
    """Far behind its end it is Rankine's vortex: r / (2 pi a^2) within the core, 1 / (2 pi r) outside."""
    assert bundle(1e5, 0.5, 0.05) == pytest.approx(1 / (2 * np.pi * 0.5), rel=1e-5)
    assert bundle(1e5, 0.02, 0.05) == pytest.approx(0.02 / (2 * np.pi * 0.05**2), rel=1e-5)
    assert bundle(0.4, 0.5, 0.01) == pytest.approx(half_infinite(0.4, 0.5, 0.0), rel=1e-3)
    assert bundle(0.4, 0.5, 0.0) == half_infinite(0.4, 0.5, 0.0)


def test_far_behind_the_pair_has_the_horseshoe_value() -> None:
    """(16 / pi^3) C_L / AR half way between vortices pi/4 of the span apart: 1.27 times less than 2 C_L / (pi AR)."""
    assert pair_at(FAR, 0.0, 0.0) == pytest.approx(16 / np.pi**3 / AR, rel=1e-5)


def test_the_energy_of_the_pair_is_the_induced_drag() -> None:
    """Added up over the cross-plane: squares of speed on a grid, and beyond it of the doublet that the pair is from afar."""
    separation, radius = np.pi / 4, CORE  # of the span; Gamma_0 is 1
    edge, count = 8.0, 3200
    line = (np.arange(count) + 0.5) * edge / count
    y, z = np.meshgrid(line, line)  # a quarter of the plane

    def rankine(middle: float) -> tuple[np.ndarray, np.ndarray]:
        squared = np.maximum((y - middle) ** 2 + z**2, radius**2) * 2 * np.pi
        return z / squared, -(y - middle) / squared

    across, up = (one - other for one, other in zip(rankine(separation / 2), rankine(-separation / 2), strict=True))
    grid = 4 * 0.5 * np.sum((across**2 + up**2)[y**2 + z**2 < edge**2]) * (edge / count) ** 2
    energy = grid + separation**2 / (8 * np.pi * edge**2)
    assert energy == pytest.approx(induced_drag(), rel=2e-3)
    assert energy_of_pair(separation, radius) == pytest.approx(induced_drag(), rel=1e-12)
    assert energy_of_pair(separation, PUBLISHED_CORE) > induced_drag()


def test_the_energy_of_the_sheet_is_the_induced_drag() -> None:
    """Half of circulation times downwash over the span (Munk); the speeds are in C_L = pi AR / 2 times Gamma_0 / span."""
    scale = np.pi * AR / 2
    energy = quad(lambda y: 0.5 * np.sqrt(1 - (2 * y) ** 2) * sheet_at(FAR, y * SPAN, 0.0) * scale, -0.4999, 0.4999)[0]
    assert energy == pytest.approx(induced_drag(), rel=1e-3)


def test_the_published_core_is_that_of_spreiter_and_sacks() -> None:
    """0.155 of the semispan (from memory)."""
    assert pytest.approx(0.155, rel=0.01) == 2 * PUBLISHED_CORE


def test_the_file_of_arrangements_is_what_make_wakes_makes() -> None:
    """Made anew by python -m tests.references.make_wakes; here every seventh row."""
    kept = [list(each.values()) for each in reference("wakes", "downwash").rows]
    places = arrangements()
    assert [each[: len(places[0])] for each in kept] == [list(place) for place in places]
    for place, values in list(zip(places, kept, strict=True))[::7]:
        assert row(place) == pytest.approx(values, rel=1e-5, abs=2e-6)


def test_the_file_covers_what_is_asked_of_it() -> None:
    """At least 40 arrangements, span ratios 0.5 to 3, beside the tips, depths of 0.5 to 5 chords, 1.5 chords to 20 spans."""
    places = arrangements()
    depths = [place.depth / place.chord for place in places]
    assert len(places) >= 40
    assert (min(depths), max(depths)) == pytest.approx((0.5, 5.0), rel=1e-3)
    assert min(place.aft / place.chord for place in places) == pytest.approx(1.5, rel=1e-3)
    assert max(place.aft / place.span for place in places) == pytest.approx(20.0, rel=1e-3)
    tips = [(place, side * place.span / 2) for place in places for side in (-1, 1)]
    assert sum(place.side + place.start < tip < place.side + place.end for place, tip in tips) >= 10

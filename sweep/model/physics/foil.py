"""Lifting surfaces: lift and drag of a strip of a foil at its depth and angle."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from sweep.model.compiled import part
from sweep.model.elementary import clip, smoothstep
from sweep.model.physics.spectra import GRAVITY

SPAN_EFFICIENCY = 0.95  # judgement: between the elliptic wing and the rectangular one of aspect ratio 6


class Fraction(NamedTuple):
    """A quotient that is not divided yet: a division takes as long as ten products, and one can serve several quotients."""

    above: float
    below: float


class NearSurface(NamedTuple):
    """What the surface does to a foil: factor of its lift, `surface`; biplane factor; factor of its lift for low speeds."""

    surface: float
    biplane: float
    froude: float


class DragPolar(NamedTuple):
    """Drag coefficient of a section: profile + rise d^2 + steep d^4, d the lift coefficient less that of least drag."""

    profile: float
    rise: float
    steep: float
    lift_of_least_drag: float


@part
def surface_factor(chords_deep: float) -> float:
    """Two-dimensional lift under a free surface over lift in deep water, at high Froude number (M4.7).

    chords_deep: depth over chord, >= 0. A rational fit, within 1e-5, of the flat-plate solution with an image of the same
    circulation (the one-vortex formula of Hough & Moran, J. Ship Res. 13, 1969, is its limit from one chord on).
    """
    lost = _lost_at_surface(chords_deep)
    return 1.0 - lost.above / lost.below


@part
def _lost_at_surface(chords_deep: float) -> Fraction:
    x = chords_deep
    below = 0.0954397 + x * (0.62514104 + x)
    return Fraction(below, (2.0 + 16.0 * x * x) * below + x * (0.65084893 + 0.99820827 * x))


@part
def biplane_factor(gap: float) -> float:
    """Prandtl's biplane factor sigma: induced drag added by the image in the surface, over that in deep water (M4.8).

    gap: twice the depth over the span, >= 0. Within 4 % of Prandtl's (1 - 0.66 g)/(1.05 + 3.7 g) for 0.05 <= g <= 0.5
    (NACA TR 116); beyond, where his fit ends, within 4 % of a vortex lattice.
    """
    image = _image(gap)
    return image.above / image.below


@part
def _image(gap: float) -> Fraction:
    return Fraction(1.0 + 2.65695246 * gap, 1.0 + gap * (8.60600425 + gap * (8.36354637 + gap * 22.07401236)))


@part
def froude_factor(chords_deep: float, aspect_ratio: float, speed_squared: float, depth: float) -> float:
    """Lift at this speed over lift at high Froude number, finite span; at least 0.5 (M4.9).

    speed_squared in m2/s2, depth in m. A fit, within 4 %, of a vortex lattice under a linear free surface for aspect ratios
    4 and 6, 0.5 to 2 chords deep, depth Froude number 2 to 8; constant below 2, where lift hardly changes.
    """
    lost = _lost_when_slow(chords_deep, aspect_ratio, speed_squared, depth)
    return max(1.0 - lost.above / lost.below, 0.5)


@part
def _lost_when_slow(chords_deep: float, aspect_ratio: float, speed_squared: float, depth: float) -> Fraction:
    slow = GRAVITY * depth + 1e-9  # square of the speed at a depth Froude number of 1
    quick = speed_squared if speed_squared > 4.0 * slow else 4.0 * slow
    return Fraction(0.25 * aspect_ratio * slow, (0.33 + 2.3 * chords_deep * chords_deep) * (quick + 2.56 * slow))


@part
def near_surface(chords_deep: float, gap: float, aspect_ratio: float, speed_squared: float, depth: float) -> NearSurface:
    """`surface_factor`, `biplane_factor` and `froude_factor`, by one division for all three."""
    lost = _lost_at_surface(chords_deep)
    image = _image(gap)
    slow = _lost_when_slow(chords_deep, aspect_ratio, speed_squared, depth)
    inverse = 1.0 / (lost.below * image.below * slow.below)
    return NearSurface(
        surface=1.0 - lost.above * (image.below * slow.below * inverse),
        biplane=image.above * (lost.below * slow.below * inverse),
        froude=max(1.0 - slow.above * (lost.below * image.below * inverse), 0.5),
    )


@part
def lift_slope(section_slope: float, aspect_ratio: float, surface: float, biplane: float, froude: float) -> float:
    """Three-dimensional lift slope per radian: Helmbold's form (1942) with the surface's image as a second wing (M4.10).

    Within 5 % of a vortex lattice in deep water for aspect ratios 1 to 20; the plain lifting line is 8 to 24 % high there.
    """
    found = _helmbold(section_slope, aspect_ratio, NearSurface(surface, biplane, froude))
    return found.above / found.below


@part
def _helmbold(section_slope: float, aspect_ratio: float, near: NearSurface) -> Fraction:
    a = section_slope * near.surface
    wing = math.pi * aspect_ratio
    return Fraction(near.froude * a * wing, math.sqrt(wing * wing + a * a) + a * (1.0 + near.biplane))


@part
def slope_near_surface(section_slope: float, aspect_ratio: float, near: NearSurface) -> tuple[float, float]:
    """`lift_slope` and one over it, by one division for both."""
    found = _helmbold(section_slope, aspect_ratio, near)
    inverse = 1.0 / (found.above * found.below)
    return found.above * found.above * inverse, found.below * found.below * inverse


@part
def lift_and_stall(slope: float, inverse: float, angle: float, lift_max: float) -> tuple[float, float, float]:
    """Lift coefficient with a smooth stall, stalled share, and sine of the angle (rad); lift is odd in the angle (M4.11).

    inverse: one over the slope.
    """
    linear = slope * angle
    square, most = linear * linear, lift_max * lift_max
    attached = linear * lift_max / math.sqrt(math.sqrt(square * square + most * most))
    stalled = smoothstep((abs(linear) - 1.3 * lift_max) * (1.0 / 0.14) * inverse)  # judgement
    sine = clip(angle - angle * angle * angle * (1.0 / 6.0), -1.0, 1.0)
    plate = 1.8 * sine * math.sqrt(1.0 - sine * sine)
    return attached + stalled * (plate - attached), stalled, sine


@part
def drag_coefficient(lift: float, polar: DragPolar, biplane: float, slenderness: float, stalled: float, sine: float) -> float:
    """Drag coefficient: profile drag by the section's polar, induced drag with the image, plate drag past the stall (M4.12).

    slenderness: 1 / aspect ratio. stalled, sine: from `lift_and_stall`.
    """
    off = lift - polar.lift_of_least_drag
    induced = lift * lift * (1.0 + biplane) * slenderness * (1.0 / (math.pi * SPAN_EFFICIENCY))
    square = off * off
    return polar.profile + (polar.rise + polar.steep * square) * square + induced + 2.0 * stalled * sine * sine


def flap_effectiveness(chord_share: float) -> float:
    """Change of zero-lift angle per angle of a trailing-edge flap (thin aerofoil, Glauert 1927; M6.1).

    chord_share: flap chord over section chord.
    """
    hinge = math.acos(2.0 * chord_share - 1.0)
    return 1.0 - (hinge - math.sin(hinge)) / math.pi


def indicial_coefficients(aspect_ratio: float) -> tuple[float, float]:
    """A and B of the lift's growth 1 - A exp(-B s) after a step, s in half chords travelled (M4.6).

    R. T. Jones, NACA TR 681 (1940): aspect ratio 3: 0.283, 0.540; 6: 0.361, 0.381. Linear in 1/AR, clamped to 3 ... 8.
    """
    x = 1.0 / min(max(aspect_ratio, 3.0), 8.0)
    share = (1.0 / 3.0 - x) / (1.0 / 3.0 - 1.0 / 6.0)
    return 0.283 + share * (0.361 - 0.283), 0.540 + share * (0.381 - 0.540)


# DNV-RP-C205, by aspect ratio; an infinite strip has 1
_PLATE_RATIO = np.array([1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 20.0, 1e9])
_PLATE_FACTOR = np.array([0.5790, 0.6419, 0.6898, 0.7569, 0.8009, 0.8318, 0.8719, 0.8967, 0.9135, 0.9347, 0.9476, 0.9736, 1.0])


def plate_added_mass(aspect_ratio: float) -> float:
    """Added-mass factor of a rectangular plate (DNV-RP-C205, M2.4): mass = factor x density x (pi/4) chord^2 span."""
    return float(np.interp(-1.0 / aspect_ratio, -1.0 / _PLATE_RATIO, _PLATE_FACTOR))

"""The wake of a foil ahead by quadrature of the law of Biot and Savart, plain and slow, from the physics alone.

A lifting line of elliptic circulation Gamma(y) = Gamma_0 sqrt(1 - (2 y / b)^2), Gamma_0 = (2/pi) U c C_L, lies across the flow
at depth h. Behind it trails a flat sheet of its span, or a pair of vortices of circulation Gamma_0, pi/4 of the span apart,
each a bundle of filaments spread evenly over a round core. All of it has an image of the same circulation as far above the
surface (infinite Froude number). Nothing is smoothed near the line: what follows holds from about a chord behind it.
Axes: x aft of the line, y to starboard, z up; downwash is w / U per unit of lift coefficient, rad, positive down.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from itertools import pairwise
from math import acos, asin, asinh, cos, exp, hypot, log, pi, sin, sqrt
from typing import Any, NamedTuple

from scipy.integrate import quad

CORE = exp(0.25 - pi**2 / 4) * pi / 4
"""Of the span, 0.0855: the radius at which a pair's energy is all the induced drag of its wing (`energy_of_pair`)."""

PUBLISHED_CORE = pi / 4 / (1 + exp(pi**2 / 4 - 0.25))
"""Of the span, 0.0771: the same with the energy counted only between the cores' edges and in each core's own turning.
Spreiter & Sacks, J. Aero. Sci. 18, 1951, give 0.155 of the semispan (from memory)."""


class Arrangement(NamedTuple):
    """A foil and a strip behind it, m.

    span, chord: of the foil ahead, its chord the mean one; aft: how far the strip is behind its quarter chord; side: of the
    middle of the foil behind to starboard of the middle of the foil ahead; below: the foil behind under the wake; depth: of
    the foil ahead and its wake; start, end: the strip, from the middle of the foil behind.
    """

    span: float
    chord: float
    aft: float
    side: float
    below: float
    depth: float
    start: float
    end: float


def biot_savart(along: int, r: tuple[float, float, float]) -> float:
    """Upward velocity (1/m^2) per circulation and length of an element along x (0) or y (1), at the vector r (m) from it."""
    cubed = 4 * pi * hypot(*r) ** 3
    return r[1] / cubed if along == 0 else -r[0] / cubed


def half_infinite(aft: float, across: float, up: float) -> float:
    """Upward velocity (1/m) per circulation of a filament from x = 0 aft, at a point `aft`, `across` and `up` of its end.

    The integral of `biot_savart` along it, which any textbook has.
    """
    squared = across**2 + up**2
    return across / (4 * pi * squared) * (1 + aft / sqrt(aft**2 + squared))


def heights(place: Arrangement) -> tuple[float, float]:
    """How far (m) the foil behind is above the wake (negative: under it) and above its image."""
    return -place.below, -place.below - 2 * place.depth


def bound(place: Arrangement) -> float:
    """What the bound vortex and its image give, rad per unit of lift coefficient, averaged over the strip."""
    return sum(strip_mean(place, lambda y, up=up: bound_at(place, y, up)) for up in heights(place))


def trailing_sheet(place: Arrangement) -> float:
    """What the flat sheet and its image give, rad per unit of lift coefficient, averaged over the strip."""
    return sum(strip_mean(place, lambda y, up=up: sheet_at(place, y, up)) for up in heights(place))


def trailing_pair(place: Arrangement, core: float = CORE) -> float:
    """What the pair and its image give, rad per unit of lift coefficient; core: of the span."""
    return sum(strip_mean(place, lambda y, up=up: pair_at(place, y, up, core), core) for up in heights(place))


def sheet(place: Arrangement) -> float:
    """Downwash of the wing with its flat wake, rad per unit of lift coefficient."""
    return bound(place) + trailing_sheet(place)


def pair(place: Arrangement, core: float = CORE) -> float:
    """Downwash of the wing with its wake rolled up, rad per unit of lift coefficient; the bound vortex stays elliptic."""
    return bound(place) + trailing_pair(place, core)


def strip_mean(place: Arrangement, downwash: Callable[[float], float], core: float = 0.0) -> float:
    """Mean over the strip of a function of y (m, from the middle of the foil ahead), cut where it has corners or poles."""
    start, end = place.side + place.start, place.side + place.end
    half, leg, radius = place.span / 2, pi / 8 * place.span, core * place.span
    corners = [side * y for side in (-1, 1) for y in (half, leg, leg - radius, leg + radius)]
    cuts = [start, *sorted(y for y in corners if start < y < end), end]
    pieces = [quad(downwash, low, high, epsabs=1e-9, epsrel=1e-6, limit=200)[0] for low, high in pairwise(cuts)]
    return sum(pieces) / (end - start)


def strength(place: Arrangement) -> float:
    """Gamma_0 / U per unit of lift coefficient, m."""
    return 2 / pi * place.chord


def bound_at(place: Arrangement, y: float, up: float) -> float:
    """Downwash of the bound vortex alone at a point y across and `up` above it (m)."""
    half = place.span / 2

    def element(angle: float) -> float:
        return half * sin(angle) ** 2 * biot_savart(1, (place.aft, y - half * cos(angle), up))

    near = acos(min(max(y / half, -1.0), 1.0))
    return -strength(place) * quad(element, 0, pi, points=[near], epsabs=1e-10, epsrel=1e-8, limit=200)[0]


def sheet_at(place: Arrangement, y: float, up: float) -> float:
    """Downwash of the trailing sheet alone at a point y across and `up` above it (m): filaments of strength -dGamma.

    y = half cos(angle) turns -dGamma into Gamma_0 cos(angle) d(angle), starboard positive, which has no poles at the tips.
    In the plane of the sheet it is Cauchy's principal value.
    """
    half = place.span / 2
    near = acos(min(max(y / half, -1.0), 1.0))

    def filament(angle: float) -> float:
        return cos(angle) * half_infinite(place.aft, y - half * cos(angle), up)

    def without_pole(angle: float) -> float:
        apart = angle - near
        slope = half * sin(0.5 * (angle + near)) * (sin(0.5 * apart) / (0.5 * apart) if apart else 1.0)
        return cos(angle) / (4 * pi * slope) * (1 + place.aft / hypot(place.aft, slope * apart))  # y - eta = slope apart

    options: dict[str, Any] = {"epsabs": 1e-10, "epsrel": 1e-8, "limit": 400}
    if up == 0.0 and abs(y) < half:
        whole = quad(without_pole, 0, pi, weight="cauchy", wvar=near, **options)[0]
    else:
        whole = quad(filament, 0, pi, points=[near], **options)[0]
    return -strength(place) * whole


def pair_at(place: Arrangement, y: float, up: float, core: float = CORE) -> float:
    """Downwash of the trailing pair alone at a point y across and `up` above it (m)."""
    leg = pi / 8 * place.span
    found = 0.0
    for side in (-1, 1):
        across = y - side * leg
        away = hypot(across, up)
        if away > 0.0:
            found -= side * across / away * bundle(round(place.aft, 12), round(away, 12), round(core * place.span, 12))
    return strength(place) * found


@cache
def bundle(aft: float, away: float, radius: float) -> float:
    """Velocity (1/m) per unit of circulation round a half-infinite bundle of filaments, `away` from its axis, `aft` of its end.

    Filaments fill a disc of that radius evenly. Over the disc in polar co-ordinates about the point: a filament at the
    distance r gives (1 + aft / sqrt(aft^2 + r^2)) / (4 pi r), and the r of the element of area cancels the pole.
    """

    def reach(r: float) -> float:
        return r + aft * asinh(r / aft)

    def ray(angle: float) -> float:
        middle = away * cos(angle)
        half = sqrt(max(radius**2 - (away * sin(angle)) ** 2, 0.0))
        return cos(angle) * (reach(middle + half) - (reach(middle - half) if away > radius else 0.0))

    if radius == 0.0:
        return half_infinite(aft, away, 0.0)
    widest = pi if away <= radius else asin(radius / away)
    return 2 * quad(ray, 0, widest, epsabs=1e-12, epsrel=1e-9, limit=200)[0] / (4 * pi**2 * radius**2)


def energy_of_pair(separation: float, radius: float) -> float:
    """Energy (per density, length and circulation squared) of two round cores that turn as solid bodies, opposite ways.

    Half the integral of stream function times vorticity: of itself a core has (ln(1/a) + 1/4) / (2 pi), of the other, whose
    stream function is harmonic there, the value at its middle. Lamb, Hydrodynamics, art. 160 (from memory).
    """
    return (log(separation / radius) + 0.25) / (2 * pi)


def induced_drag() -> float:
    """Induced drag of the elliptic wing over density and Gamma_0 squared: L^2 / (q pi b^2) with L = rho U Gamma_0 b pi / 4."""
    return pi / 8

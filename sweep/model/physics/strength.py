"""Strength of struts and foils: solid or hollow beams of a symmetric section, by beam theory (MODEL.md, section 18)."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sweep.model.physics.hollow import shares_of

if TYPE_CHECKING:
    from sweep.campaign.craft import Rudder
    from sweep.campaign.foils import Foil, Struts

AREA = 0.6851  # section area over chord x thickness, NACA four-digit sections (M18.1)
BENDING = 0.03941  # second moment of area about the chord over chord x thickness^3 (M18.1)
ELASTIC_AXIS = 0.116  # chords aft of the quarter chord about which a solid section twists (M18.1)
NODES, WEIGHTS = np.polynomial.legendre.leggauss(16)


class Material(NamedTuple):
    """Young's modulus, shear modulus, and the stress at which it yields or breaks, Pa; density kg/m3; where they are from."""

    stiffness: float
    shear: float
    strength: float
    density: float
    source: str


MATERIALS: dict[str, Material] = {
    "aluminium-6082-t6": Material(70e9, 27e9, 250e6, 2700.0, "EN 1999-1-1, proof stress; from memory"),
    "stainless-steel": Material(200e9, 77e9, 210e6, 7900.0, "EN 10088-2, grade 1.4301, proof stress; from memory"),
    "carbon-epoxy": Material(60e9, 5e9, 500e6, 1550.0, "woven, half its fibres along the span; judgement"),
    "carbon-epoxy-along": Material(120e9, 5e9, 900e6, 1550.0, "nearly all fibres along the span; judgement"),
    "glass-epoxy": Material(20e9, 4e9, 250e6, 1900.0, "woven; typical, from memory"),
    "printed-pla": Material(3e9, 1.1e9, 40e6, 1240.0, "solid, layers along the span; judgement"),
    "printed-nylon-carbon": Material(5e9, 1.5e9, 60e6, 1200.0, "short fibres, solid, dry; judgement"),
    "plywood": Material(9e9, 0.6e9, 50e6, 680.0, "birch, outer grain along the span; judgement"),
}
"""By name. What a builder has measured is better than any of these."""


def second_moment(chord: float, thickness: float) -> float:
    """Second moment of area (m4) of a solid section about its chord (M18.1). chord and thickness in m."""
    return BENDING * chord * thickness**3


def torsion_constant(chord: float, thickness: float) -> float:
    """Torsion constant (m4) of a solid thin section, 4 I / (1 + 16 I / (A c^2)) (Roark; M18.1)."""
    inertia = second_moment(chord, thickness)
    return 4.0 * inertia / (1.0 + 16.0 * inertia / (AREA * chord**3 * thickness))


def root_stress(moment: float, chord: float, thickness: float) -> float:
    """Largest bending stress (Pa) of a solid section under a moment (N m) about its chord (M18.3)."""
    return moment * 0.5 * thickness / second_moment(chord, thickness)


def tip_bend(force: float, length: float, arm: float, stiffness: float) -> float:
    """Deflection (m) of the end of a cantilever under a force (N) at an arm (m) from its root (M18.4).

    length: of it, m; stiffness: E I, N m2. Roark, Formulas for Stress and Strain, cantilever with an intermediate load.
    """
    return force * arm**2 * (3.0 * length - arm) / (6.0 * stiffness)


def divergence_share(twist: float, slope: float) -> float:
    """What its own twist adds to a part's lift slope, as a share of it, where that is small; at 1 it diverges (M18.10).

    twist: of its tip for a lift coefficient of one, rad; slope: lift slope per rad.
    """
    return 8.0 / math.pi**2 * twist * slope


class StrutTerms(NamedTuple):
    """What a strut or rudder does under a moment and a force at its root; all 0 without a material (M18.3 to M18.5).

    strength: 1/Pa, one over that of its material; stress: Pa for 1 N m; bend: 1 / (E I), 1/(N m2); twist: rad for 1 N m of side
    force times arm.
    """

    strength: float = 0.0
    stress: float = 0.0
    bend: float = 0.0
    twist: float = 0.0


def strut_terms(strut: Struts | Rudder) -> StrutTerms:
    """The terms of a strut or rudder."""
    if strut.material is None:
        return StrutTerms()
    material = MATERIALS[strut.material]
    if strut.wall is None:
        bending, torsion = second_moment(strut.chord, strut.thickness), torsion_constant(strut.chord, strut.thickness)
    else:
        hollow = _hollow(strut.wall, np.array([strut.chord]), np.array([strut.thickness]), None)
        bending, torsion = (float(each[0]) for each in hollow)
    return StrutTerms(
        1.0 / material.strength,
        0.5 * strut.thickness / bending,
        1.0 / (material.stiffness * bending),
        ELASTIC_AXIS * strut.chord / (material.shear * torsion),
    )


def _hollow(wall: float, chord: np.ndarray, thickness: np.ndarray, flap: float | None) -> tuple[np.ndarray, np.ndarray]:
    """Second moments of area and torsion constants (m4) of sections with a wall, all m (M18.11, M18.12)."""
    shares = shares_of(wall / thickness, flap)
    solid = BENDING * chord * thickness**3
    reduced = 1.0 + 16.0 * shares.bending * solid / (AREA * shares.area * chord**3 * thickness)
    return shares.bending * solid, 4.0 * shares.torsion * solid / reduced


class HalfTerms(NamedTuple):
    """What a newton of lift on half of a foil does to it; all 0 without a material (M18.6 to M18.8).

    stress: Pa/N, at its worst; bend: m/N, of its tip, or between its struts; twist: rad/N of its tip, nose up; moment: the same
    for a moment coefficient times the area and the dynamic pressure of half the foil, rad/N.
    """

    stress: float = 0.0
    bend: float = 0.0
    twist: float = 0.0
    moment: float = 0.0


def foil_terms(foil: Foil) -> tuple[HalfTerms, HalfTerms]:
    """The terms of the port half of a foil and of its starboard half."""
    if foil.material is None:
        return HalfTerms(), HalfTerms()
    half, supports = 0.5 * foil.span_length, sorted(foil.strut_offsets)
    between = [_between(foil, one, other) for one, other in pairwise(supports)]
    port, starboard = (_overhang(foil, *ends) for ends in ((supports[0], -half), (supports[-1], half)))
    return _worst(port, *between), _worst(starboard, *between)


def _worst(tip: HalfTerms, *between: HalfTerms) -> HalfTerms:
    stresses, bends = ([each[place] for each in (tip, *between)] for place in (0, 1))
    return tip._replace(stress=max(stresses), bend=max(bends))


class _Beam(NamedTuple):
    """A foil at places along its span (n,).

    load: lift for a metre of span, of one newton on half the foil, 1/m; chord: m, along the craft; stress: Pa for a moment of
    1 N m; bending, twisting: E I and G J, N m2 (M18.1, M18.6).
    """

    load: np.ndarray
    chord: np.ndarray
    stress: np.ndarray
    bending: np.ndarray
    twisting: np.ndarray

    @classmethod
    def at(cls, foil: Foil, across: np.ndarray) -> _Beam:
        """At places (n,) from the middle of the span, m."""
        assert foil.material is not None
        material, bears = MATERIALS[foil.material], bearing_share(foil.flap)
        share = np.abs(across) * (2.0 / foil.span_length)
        along = 2.0 * foil.chord / (1.0 + foil.taper) * (1.0 - (1.0 - foil.taper) * share)
        chord = math.cos(foil.sweep) * along
        thick = foil.thickness_ratio * chord
        inertia = bears * BENDING * chord * thick**3
        torsion = 4.0 * inertia / (1.0 + 16.0 * inertia / (AREA * chord**3 * thick))
        if foil.wall is not None:
            inertia, torsion = _hollow(foil.wall, chord, thick, foil.flap)
        return cls(
            2.0 / foil.area * along, along, 0.5 * thick / inertia, material.stiffness * inertia, material.shear * torsion
        )


def bearing_share(flap: float | None) -> float:
    """Share of a section's second moment of area that is ahead of a flap (share of the chord), which bears nothing (M18.6)."""
    whole, ahead = (_cubed_thickness(end) for end in (1.0, 1.0 - (flap or 0.0)))
    return ahead / whole


def _cubed_thickness(end: float) -> float:
    """Integral of the cube of the NACA four-digit thickness from the nose to a share of the chord, exact in sqrt(x)."""
    root = 0.5 * math.sqrt(end) * (NODES + 1.0)
    x = root**2
    half = 0.2969 * root + x * (-0.1260 + x * (-0.3516 + x * (0.2843 - 0.1015 * x)))
    return float((WEIGHTS * half**3 * root).sum() * math.sqrt(end))


def _pieces(start: float, end: float) -> tuple[np.ndarray, np.ndarray]:
    """Places (n,) along the span from start out to end, m, and what each stands for, m: Gauss's, on each side of the middle."""
    stops = [start, 0.0, end] if start * end < 0.0 else [start, end]
    places = [0.5 * (one + other) + 0.5 * (other - one) * NODES for one, other in pairwise(stops)]
    return np.concatenate(places), np.concatenate([0.5 * abs(other - one) * WEIGHTS for one, other in pairwise(stops)])


def _overhang(foil: Foil, start: float, end: float) -> HalfTerms:
    """Of a cantilever along its quarter-chord line, from a strut to a tip, m along the span (M18.6, M18.8)."""
    if start == end:
        return HalfTerms()
    cosine = math.cos(foil.sweep)
    places, breadths = _pieces(start, end)
    sums = np.array([_outboard(foil, place, end) for place in (start, *places.tolist())])
    (root, *moments), lifting, turning = sums[:, 0], sums[1:, 1], sums[1:, 2]
    beam, at_strut = _Beam.at(foil, places), _Beam.at(foil, np.array([start]))
    curving = np.array(moments) / beam.bending * breadths / cosine
    bend, slope = (curving * np.abs(end - places)).sum() / cosine, curving.sum()
    twist, moment = ((torque / beam.twisting * breadths).sum() for torque in (lifting, turning))
    return HalfTerms(root * at_strut.stress.item(), bend.item(), (twist - math.sin(foil.sweep) * slope).item(), moment.item())


def _outboard(foil: Foil, place: float, end: float) -> tuple[float, float, float]:
    """Of what is outboard of a place (m), under each load of HalfTerms: bending moment of the first, torques of both, all m."""
    cosine = math.cos(foil.sweep)
    places, breadths = _pieces(place, end)
    beam = _Beam.at(foil, places)
    moment = (beam.load * np.abs(places - place) * breadths).sum() / cosine
    lifting = (beam.load * ELASTIC_AXIS * beam.chord * breadths).sum() * cosine
    turning = (2.0 / foil.area * beam.chord**2 * breadths).sum() * cosine
    return float(moment), float(lifting), float(turning)


def _between(foil: Foil, start: float, end: float) -> HalfTerms:
    """Of a foil between two struts, as if it ended at both and its middle went all the way (M18.7)."""
    middle, reach = _Beam.at(foil, np.array([0.5 * (start + end)])), (end - start) / math.cos(foil.sweep)
    load = middle.load.item() * math.cos(foil.sweep)
    bend = 5.0 * load * reach**4 / (384.0 * middle.bending.item())
    return HalfTerms(load * reach**2 / 8.0 * middle.stress.item(), bend)

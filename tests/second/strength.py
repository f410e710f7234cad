"""The second model's struts, rudders and foils as beams: section 18 of MODEL.md, its integrals by adaptive quadrature."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from math import cos, pi, sin
from typing import NamedTuple

import numpy as np
from scipy.integrate import quad

from sweep.campaign.craft import Craft, Foil
from tests.second.flaps import turned
from tests.second.hollow import hollow
from tests.second.loads import LEAST_SPEED, strip_load, strut_force
from tests.second.parts import chord_at, struts_under
from tests.second.sea import Vector, cross, smoothstep
from tests.second.second_model import Inputs, Pose, downwash_at, turned_by
from tests.second.sections import reynolds_of, section_at

TWIST_AXIS = 0.116  # chords aft of the quarter chord

# Young's and shear modulus and strength, Pa: MODEL.md has none of them, so the crafts' are written here once more.
KNOWN = {
    "aluminium-6082-t6": (70e9, 27e9, 250e6),
    "carbon-epoxy": (60e9, 5e9, 500e6),
    "glass-epoxy": (20e9, 4e9, 250e6),
    "printed-pla": (3e9, 1.1e9, 40e6),
}


class Strain(NamedTuple):
    """Stress Pa, bend m, twist rad, all either way; share of the strength; the most of bend and twist over too much."""

    stress: float
    bend: float
    twist: float
    used: float
    bent: float


class StripLoad(NamedTuple):
    """Of one strip: its lift N, dynamic pressure x wetted area N; place and normal, body axes (3,)."""

    lift: float
    pushed: float
    place: Vector
    normal: Vector


def section(chord: float, thickness: float, wall: float | None = None) -> tuple[float, float]:
    """Second moment of area about the chord and torsion constant, m^4."""
    area, inertia, shares = 0.6851 * chord * thickness, 0.03941 * chord * thickness**3, hollow(wall, thickness)
    reduction = 1.0 + 16.0 * shares.bending * inertia / (shares.area * area * chord**2)
    return shares.bending * inertia, 4.0 * shares.torsion * inertia / reduction


def strained(stress: float, bend: float, twist: float, strength: float, length: float) -> Strain:
    """Sizes of a strain, and what they are over what the part bears."""
    stress, bend, twist = abs(stress), abs(bend), abs(twist)
    return Strain(stress, bend, twist, stress / strength, max(bend / length / 0.02, twist / (pi / 180.0)))


def blade_strain(
    material: str,
    size: tuple[float, float, float, float | None],
    side: float,
    wetted: float,
    foil_load: tuple[float, float],
) -> Strain:
    """A strut or rudder (length, chord, thickness, wall, m) under its side force N and its foil's force N and moment N m."""
    young, shear, strength = KNOWN[material]
    length, chord, thickness, wall = size
    inertia, torsion = section(chord, thickness, wall)
    arm, (aside, roll) = length - wetted / 2.0, foil_load
    moment = side * arm + aside * length - roll
    bend = side * arm**2 * (3.0 * length - arm) / 6.0 + aside * length**3 / 3.0 - roll * length**2 / 2.0
    twist = TWIST_AXIS * chord * side * arm / (shear * torsion)
    return strained(moment * thickness / 2.0 / inertia, bend / (young * inertia), twist, strength, length)


def foil_force(strips: list[StripLoad], foot: Vector) -> tuple[float, float]:
    """Side force N of a foil, and its moment about the x axis through a point, body axes, N m."""
    forces = [-strip.lift * strip.normal for strip in strips]
    moments = [cross(strip.place - foot, force)[0] for strip, force in zip(strips, forces, strict=True)]
    return float(sum(force[1] for force in forces)), float(sum(moments))


class Overhang(NamedTuple):
    """A foil from a strut to a tip, for a newton on that half: stress Pa, bend m, twist rad; the twist for a unit of C_m Q."""

    stress: float
    bend: float
    twist: float
    by_moment: float


def integral(function: Callable[[float], float], start: float, end: float, kink: float) -> float:
    """Of a function that may have a kink."""
    stops = sorted({start, end} | ({kink} if start < kink < end else set()))
    return float(sum(quad(function, *ends, epsabs=0.0, epsrel=1e-10)[0] for ends in pairwise(stops)))


def foil_section(foil: Foil, y: float) -> tuple[float, float, float]:
    """Thickness m, second moment of area and torsion constant m^4 normal to the quarter-chord line, y from the middle."""
    chord = float(chord_at(foil, np.asarray(y))) * cos(foil.sweep)
    thickness = foil.thickness_ratio * chord
    solid, shares = 0.03941 * chord * thickness**3, hollow(foil.wall, thickness, foil.flap)
    reduction = 1.0 + 16.0 * shares.bending * solid / (0.6851 * shares.area * chord * thickness * chord**2)
    return thickness, shares.bending * solid, 4.0 * shares.torsion * solid / reduction


def overhang(foil: Foil, strut: float, side: float) -> Overhang:
    """side: -1 to the port tip, 1 to the starboard one; strut: its offset, m."""
    assert foil.material is not None
    young, shear, _ = KNOWN[foil.material]
    reach, s, kink = foil.span_length / 2.0 - side * strut, cos(foil.sweep), -side * strut

    def chord(y: float) -> float:
        return float(chord_at(foil, np.asarray(strut + side * y)))

    def lift(v: float) -> float:
        return 2.0 * chord(v) / foil.area

    def bending(y: float) -> float:
        return integral(lambda v: lift(v) * (v - y), y, reach, kink) / s

    def torque(y: float, of: Callable[[float], float]) -> float:
        return integral(of, y, reach, kink) * s

    def turned(of: Callable[[float], float]) -> float:
        return integral(lambda y: torque(y, of) / (shear * foil_section(foil, strut + side * y)[2]), 0.0, reach, kink)

    def curvature(y: float) -> float:
        return bending(y) / (young * foil_section(foil, strut + side * y)[1])

    thickness, inertia, _ = foil_section(foil, strut)
    twist = turned(lambda v: lift(v) * TWIST_AXIS * chord(v))
    twist -= sin(foil.sweep) * integral(curvature, 0.0, reach, kink) / s
    bend = integral(lambda y: curvature(y) * (reach - y), 0.0, reach, kink) / s**2
    by_moment = turned(lambda v: 2.0 / foil.area * chord(v) ** 2)
    return Overhang(bending(0.0) * thickness / 2.0 / inertia, bend, twist, by_moment)


def between_struts(foil: Foil) -> tuple[float, float]:
    """Largest stress Pa and bend m between neighbouring struts for a newton on half the foil."""
    assert foil.material is not None
    offsets, found = sorted(foil.strut_offsets), (0.0, 0.0)
    for port, starboard in pairwise(offsets):
        middle, s = (port + starboard) / 2.0, cos(foil.sweep)
        thickness, inertia, _ = foil_section(foil, middle)
        apart, load = (starboard - port) / s, 2.0 * float(chord_at(foil, np.asarray(middle))) / foil.area * s
        stress = load * apart**2 / 8.0 * thickness / 2.0 / inertia
        bend = 5.0 * load * apart**4 / (384.0 * KNOWN[foil.material][0] * inertia)
        found = max(found[0], stress), max(found[1], bend)
    return found


_halves: dict[str, tuple[Overhang, Overhang]] = {}


def halves_of(foil: Foil) -> tuple[Overhang, Overhang]:
    """Its port and its starboard overhang."""
    key = foil.model_dump_json()
    if key not in _halves:
        _halves[key] = overhang(foil, min(foil.strut_offsets), -1.0), overhang(foil, max(foil.strut_offsets), 1.0)
    return _halves[key]


def foil_strains(foil: Foil, strips: list[StripLoad], moment: float) -> list[Strain]:
    """Of both halves; moment: the section's coefficient with what its flap adds."""
    assert foil.material is not None
    half, between = len(strips) // 2, between_struts(foil)
    found = []
    for terms, part in zip(halves_of(foil), (strips[:half], strips[half:]), strict=True):
        lift, pushed = sum(strip.lift for strip in part), sum(strip.pushed for strip in part)
        stress, bend = max(terms.stress, between[0]) * lift, max(terms.bend, between[1]) * lift
        twist = terms.twist * lift + terms.by_moment * moment * pushed
        found.append(strained(stress, bend, twist, KNOWN[foil.material][2], foil.span_length / 2.0))
    return found


def strut_material(craft: Craft, foil: Foil) -> str | None:
    """Of a foil's struts: its own, else the craft's."""
    return foil.strut.material or craft.struts.material


def strip_loads(pose: Pose, inputs: Inputs) -> list[list[StripLoad]]:
    """Of every foil its strips' loads, from port to starboard."""
    model, found = pose.model, [list[StripLoad]() for _ in pose.model.foils]
    for number, strip in enumerate(model.strips):
        foil = model.foils[strip.foil]
        earth, depth = pose.at(strip.place)
        flow = pose.point_velocity(strip.place) - pose.water_velocity(earth, depth)
        section = section_at(model.craft, foil, reynolds_of(foil, model.water, pose.state.velocity[0]))
        by_servo = turned(foil, section, inputs.foil_angles[strip.foil])
        lag = pose.state.lift_lag[number]
        lift = strip_load(foil, section, model.water, strip, flow, depth, by_servo, downwash_at(pose, strip), lag).lift
        pushed = 0.5 * model.water.density * (max(flow[0], LEAST_SPEED) ** 2 + (flow @ strip.normal) ** 2) * strip.area
        wetted = smoothstep(depth / (0.25 * strip.chord) + 0.5)
        found[strip.foil].append(StripLoad(pushed * lift, pushed * wetted, strip.place, strip.normal))
    return found


def moment_of(craft: Craft, foil: Foil, angle: float) -> float:
    """Moment coefficient about the quarter chord: of the section, less by sweep, with what its flap adds at an angle, rad."""
    given = foil.section
    own = craft.polars[given.polar].moment if given.polar is not None else given.moment
    return own * cos(foil.sweep) ** 2 + turned(foil, section_at(craft, foil, 1.6e5), angle).moment


def strut_strains(pose: Pose, inputs: Inputs, loads: list[list[StripLoad]]) -> list[Strain]:
    """Of every strut and rudder with a material."""
    craft, found = pose.model.craft, []
    parts = [(foil, loads[number]) for number, foil in enumerate(pose.model.foils) for _ in foil.strut_offsets]
    rudders = list(craft.steering.rudders.values())
    for number, strut in enumerate(pose.model.struts):
        earth, depth = pose.at(strut.foot)
        wetted = min(max(depth, 0.0), strut.blade.length)
        flow = pose.point_velocity(strut.foot - np.array([0.0, 0.0, wetted / 2.0])) - pose.water_velocity(earth, depth / 2.0)
        by_servo = turned_by(inputs, strut)
        force = strut_force(strut.blade, pose.model.water, wetted, flow, pose.state.velocity[0], by_servo)
        aside, roll, material = 0.0, 0.0, None
        if number < len(parts):
            foil, strips = parts[number]
            aside, roll = foil_force(strips, strut.foot)
            material, struts, wall = strut_material(craft, foil), len(foil.strut_offsets), struts_under(craft, foil).wall
            aside, roll = aside / struts, roll if struts == 1 else 0.0
        else:
            material, wall = rudders[number - len(parts)].material, rudders[number - len(parts)].wall
        if material is not None:
            size = strut.blade.length, strut.blade.chord, strut.blade.thickness, wall
            found.append(blade_strain(material, size, force[1], wetted, (aside, roll)))
    return found


def strains(pose: Pose, inputs: Inputs) -> dict[str, Vector]:
    """The largest of all struts and rudders, and of all foils, each (1,); -1 where no such part has a material."""
    craft, loads = pose.model.craft, strip_loads(pose, inputs)
    struts = strut_strains(pose, inputs, loads)
    foils = [
        strain
        for foil, strips, angle in zip(pose.model.foils, loads, inputs.foil_angles, strict=True)
        if foil.material is not None
        for strain in foil_strains(foil, strips, moment_of(craft, foil, angle))
    ]
    found = {}
    for kind, parts in (("strut", struts), ("foil", foils)):
        for name in ("stress", "bend", "twist"):
            found[f"{kind}_{name}"] = np.array([max((getattr(part, name) for part in parts), default=-1.0)])
    both = [*struts, *foils]
    return found | {name: np.array([max((getattr(part, name) for part in both), default=-1.0)]) for name in ("used", "bent")}

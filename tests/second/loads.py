"""The second model's forces on one strip, one strut, one hull station: formulas of MODEL.md, one by one."""

from __future__ import annotations

from math import pi, sqrt
from typing import NamedTuple

import numpy as np

from sweep.campaign.craft import Foil, Hull
from tests.second.flaps import Turned
from tests.second.parts import Blade, Strip
from tests.second.sea import GRAVITY, Vector, Water, cross, smoothstep
from tests.second.sections import Section

LEAST_SPEED = 0.1  # m/s


class StripLoad(NamedTuple):
    """Force N and moment N m, body axes (3,); lift coefficient x wetted share; angle rad of the lift lag's goal, its rate."""

    force: Vector
    moment: Vector
    lift: float
    lag_goal: float
    lag_rate: float


def jones(aspect_ratio: float) -> tuple[float, float]:
    """Share A and rate B of the indicial lift (R. T. Jones, NACA TR 681), linear in 1 / aspect ratio."""
    inverse = 1.0 / min(max(aspect_ratio, 3.0), 8.0)
    share = (1.0 / 3.0 - inverse) / (1.0 / 3.0 - 1.0 / 6.0)
    return 0.283 + share * (0.361 - 0.283), 0.540 + share * (0.381 - 0.540)


def surface_lift_factor(x: float) -> float:
    """K: flat plate under a free surface at high Froude number, x = depth / chord."""
    top = x * (0.65084893 + 0.99820827 * x)
    return 1.0 - 1.0 / (2.0 + 16.0 * x**2 + top / (0.0954397 + 0.62514104 * x + x**2))


def biplane_factor(g: float) -> float:
    """sigma: the image as second wing of a biplane, g = 2 depth / span."""
    return (1.0 + 2.65695246 * g) / (1.0 + 8.60600425 * g + 8.36354637 * g**2 + 22.07401236 * g**3)


def finite_froude_factor(depth: float, chord: float, aspect_ratio: float, speed_squared: float) -> float:
    """F: what is left of the lift slope at a finite Froude number of the depth."""
    froude_squared = max(speed_squared / (GRAVITY * depth + 1e-9), 4.0)
    x = depth / chord
    return max(1.0 - aspect_ratio / 4.0 / ((0.33 + 2.3 * x**2) * (froude_squared + 2.56)), 0.5)


def lift_slope(foil: Foil, section: Section, depth: float, speed_squared: float, chord: float | None = None) -> float:
    """Three-dimensional lift slope of a foil at a depth, 1/rad; chord: there, m, if not the mean one."""
    aspect, chord = foil.span_length / foil.chord, chord or foil.chord
    flat = section.lift_slope * surface_lift_factor(depth / chord)
    y = flat / (pi * aspect)
    image = 1.0 + biplane_factor(2.0 * depth / foil.span_length)
    return float(finite_froude_factor(depth, chord, aspect, speed_squared) * flat / (sqrt(1.0 + y**2) + y * image))


def stalling_lift(most: float, slope: float, angle: float) -> tuple[float, float]:
    """Lift coefficient at an effective angle, and the drag coefficient that the stall adds.

    `most`: largest lift coefficient of the section.
    """
    straight = slope * angle
    attached = straight / (1.0 + (straight / most) ** 4) ** 0.25
    stalled = smoothstep((abs(angle) - 1.3 * most / slope) / 0.14)
    sine = min(max(angle - angle**3 / 6.0, -1.0), 1.0)
    plate = 0.9 * 2.0 * sine * sqrt(1.0 - sine**2)
    return (1.0 - stalled) * attached + stalled * plate, 2.0 * stalled * sine**2


def drag_coefficient(foil: Foil, section: Section, lift: float, depth: float) -> float:
    """Profile and induced drag coefficient of a foil."""
    off = lift - section.lift_of_least_drag
    profile = section.drag_least + section.drag_rise * off**2 + section.drag_steep * off**4
    aspect = foil.span_length / foil.chord
    induced = lift**2 * (1.0 + biplane_factor(2.0 * depth / foil.span_length)) / (pi * aspect * 0.95)
    return float(profile + induced)


def strip_load(
    foil: Foil, section: Section, water: Water, strip: Strip, flow: Vector, depth: float, turned: Turned,
    downwash: float, lag: float,
) -> StripLoad:  # fmt: skip
    """Load of one strip.

    `flow`: its velocity through the water, body axes (3,), m/s; `depth` m, negative in the air; `turned`: by its servo;
    `downwash` and `lag`, its lift lag, rad.
    """
    area, normal, chord = strip.area, strip.normal, strip.chord
    ahead, down = max(flow[0], LEAST_SPEED), float(flow @ normal)
    flow_angle = np.arctan(min(max(down / ahead, -2.0), 2.0))
    angle = flow_angle + foil.incidence + turned.angle - downwash - section.zero_lift_angle
    speed = np.hypot(ahead, down)
    share, rate = jones(foil.span_length / foil.chord)
    effective = (1.0 - share) * angle + share * lag

    wet_depth = max(depth, 0.0)
    most = max(section.lift_max + np.sign(effective) * turned.most_lift, 0.3 * section.lift_max)
    lift, stall_drag = stalling_lift(most, lift_slope(foil, section, wet_depth, speed**2, chord), effective)
    drag = drag_coefficient(foil, section, lift, wet_depth) + stall_drag + turned.drag
    wetted = smoothstep(depth / (0.25 * chord) + 0.5)
    scale = 0.5 * water.density * speed**2 * area * wetted
    sine, cosine = down / speed, ahead / speed
    forward = np.array([1.0, 0.0, 0.0])
    way = min(max(flow[0] / LEAST_SPEED, -1.0), 1.0)
    force = scale * ((lift * sine - way * drag * cosine) * forward - (lift * cosine + drag * sine) * normal)
    moment = scale * chord * turned.moment * cross(normal, forward)
    return StripLoad(force, moment, lift * wetted, float(angle), 2.0 * rate * speed / chord * (angle - lag))


def friction(reynolds: float) -> float:
    """Friction coefficient of the ITTC-57 line, Reynolds number at least 2e4."""
    return float(0.075 / (np.log10(max(reynolds, 2e4)) - 2.0) ** 2)


def strut_force(blade: Blade, water: Water, wetted: float, flow: Vector, forward_speed: float, rudder: float) -> Vector:
    """Force of one strut with its junction, or of a rudder, body axes (3,), N.

    `wetted` length m; `flow` velocity through the water at its middle (3,); `rudder` its own turn, rad.
    """
    chord, thickness = blade.chord, blade.thickness
    ahead, side = max(flow[0], LEAST_SPEED), flow[1]
    angle = min(max(side / ahead + rudder, -1.0), 1.0)
    aspect = wetted / chord
    straight = 2.0 * pi * aspect / (2.0 + sqrt(aspect**2 + 4.0)) * angle
    lift = straight / (1.0 + (straight / 0.9) ** 4) ** 0.25

    ratio = thickness / chord
    skin = 2.0 * friction(max(forward_speed, 0.5) * chord / water.viscosity) * (1.0 + 2.0 * ratio + 60.0 * ratio**4)
    in_water = min(wetted / thickness, 1.0)
    spray = 0.24 * thickness**2 * in_water
    junction = max(17.0 * ratio**2 * thickness**2 - 0.05 * thickness**2, 0.0) * in_water * blade.on_foil
    induced = chord * wetted * lift**2 / (pi * (aspect + 0.1))
    pressure = 0.5 * water.density * (ahead**2 + side**2)
    drag_area = skin * chord * wetted + spray + induced + 2.0 * junction
    way = min(max(flow[0] / LEAST_SPEED, -1.0), 1.0)
    return np.array([-way * pressure * drag_area, -pressure * chord * wetted * lift, 0.0])


def station_area(hull: Hull, immersion: float) -> tuple[float, float, float]:
    """Half breadth at the water m, immersed area m^2 and wetted girth m of a section."""
    chine = hull.beam / 2.0 * np.tan(hull.deadrise)
    vee, wall = min(immersion, chine), max(immersion - chine, 0.0)
    half_breadth = vee / np.tan(hull.deadrise)
    return half_breadth, half_breadth * vee + hull.beam * wall, 2.0 * vee / np.sin(hull.deadrise) + 2.0 * wall


def station_wrench(
    hull: Hull, water: Water, keel: Vector, length: float, flow: Vector, up: Vector, immersion: float, roll: float,
    forward_speed: float,
) -> Vector:  # fmt: skip
    """Force and moment about the centre of gravity of one hull slice, body axes (6,).

    `keel` its keel point and `up` the vertical, body axes (3,); `flow` the keel point's velocity through the water.
    """
    if immersion <= 0.0:
        return np.zeros(6)
    half_breadth, area, girth = station_area(hull, immersion)
    buoyancy = water.density * GRAVITY * area * length * up
    centre = keel - np.array([0.0, 0.0, 0.6 * immersion])
    righting = -water.density * GRAVITY * length * 2.0 / 3.0 * half_breadth**3 * -up[1]

    tangent = np.tan(hull.deadrise)
    ahead, side, into = flow
    impact = 0.0
    chine = hull.beam / 2.0 * tangent
    if into > 0.0:
        fading = min(max(3.0 - 2.0 * immersion / chine, 0.0), 1.0)
        impact = water.density * pi * min(immersion, chine) / tangent**2 * into**2 * length * fading
    cross_flow = 0.5 * water.density * 0.5 * 2.0 * half_breadth * length * abs(into) * into
    sideways = 0.5 * water.density * immersion * length * abs(side) * side
    skin = friction(max(forward_speed, 0.5) * hull.length / water.viscosity)
    drag = 0.5 * water.density * skin * girth * length * abs(ahead) * ahead
    froude = abs(ahead) / np.sqrt(GRAVITY * hull.length)
    hump = 0.12 / (1.0 + (4.0 * (froude - 0.5)) ** 2) ** 2 * min(froude / 0.3, 1.0) ** 4
    drag += np.sign(ahead) * hump * water.density * GRAVITY * area * length
    flow_force = -np.array([drag, sideways, impact + cross_flow])
    total = wrench(buoyancy, centre) + wrench(flow_force, keel)
    total[3] += righting
    return total


def wrench(force: Vector, place: Vector) -> Vector:
    """A force (3,) at a place (3,) as force and moment about the centre of gravity (6,)."""
    x, y, z = place
    moment = (y * force[2] - z * force[1], z * force[0] - x * force[2], x * force[1] - y * force[0])
    return np.array([*force, *moment])

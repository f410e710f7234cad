"""The second model's wands, from MODEL.md, section 18: by vectors and cross products, the hinge's motion given."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.optimize import brentq

from sweep.campaign.craft import Craft
from sweep.campaign.wands import Linkage, Wand
from tests.second.parts import mass_properties, to_body
from tests.second.sea import GRAVITY, Vector, cross

PARTS = 4
ASIDE = np.array([0.0, 1.0, 0.0])
DOWN = np.array([0.0, 0.0, 1.0])


class Ride(NamedTuple):
    """The craft and the water at a moment: rotation (3, 3) body to earth, position m, velocity m/s and rates rad/s of the body,
    their derivatives, (3,) each; elevation at the tip m, and velocity there, earth axes m/s.
    """

    rotation: Vector
    position: Vector
    velocity: Vector
    rates: Vector
    velocity_rate: Vector
    rates_rate: Vector
    elevation: float
    water: Vector


class Arm(NamedTuple):
    """A wand's angle rad, its rate rad/s, and the depth (m) of its hinge below the water at the last moment."""

    angle: float
    rate: float
    level: float


class Hinged(NamedTuple):
    """A wand on its craft in water of a density, kg/m3; place of the hinge, body axes (3,)."""

    wand: Wand
    place: Vector
    density: float


def hinged(craft: Craft, name: str, density: float) -> Hinged:
    """One wand of a craft."""
    wand = craft.wands[name]
    return Hinged(wand, to_body(np.array([wand.x, wand.y, wand.height]), mass_properties(craft).centre), density)


def along(angle: float) -> Vector:
    """The way from the hinge to the tip, body axes, of length 1: straight aft turned down about the body's y."""
    turned = np.array([[np.cos(angle), 0.0, np.sin(angle)], [0.0, 1.0, 0.0], [-np.sin(angle), 0.0, np.cos(angle)]])
    return np.asarray(turned @ np.array([-1.0, 0.0, 0.0]))


def normal(angle: float) -> Vector:
    """The way in which the tip goes as the angle grows."""
    return cross(ASIDE, along(angle))


def level_of(one: Hinged, ride: Ride) -> float:
    """Depth of the hinge below the water at the tip, m."""
    return float((ride.position + ride.rotation @ one.place)[2] + ride.elevation)


def wetted(one: Hinged, ride: Ride, angle: float, level: float) -> tuple[float, float]:
    """The wetted length m, before and after it is clipped."""
    down = float((ride.rotation @ along(angle)) @ DOWN)
    reach = (level + one.wand.arm * down) / max(down, 0.1)
    return reach, min(max(reach, 0.0), one.wand.arm)


def flow(one: Hinged, ride: Ride, arm: Arm, lever: float) -> float:
    """Velocity of the arm through the water at a lever m from the hinge, along its normal, m/s."""
    spin = ride.rates + arm.rate * ASIDE
    point = ride.velocity + cross(ride.rates, one.place) + cross(spin, lever * along(arm.angle))
    return float((point - ride.rotation.T @ ride.water) @ normal(arm.angle))


def moment(one: Hinged, ride: Ride, arm: Arm, level: float) -> float:
    """What makes the angle grow, less I q': N m."""
    wand = one.wand
    inertia, weight = wand.mass * wand.arm**2 / 3.0, wand.mass * wand.arm / 2.0
    spring = wand.arm * wand.press - weight * GRAVITY
    accelerated = ride.velocity_rate + cross(ride.rates, ride.velocity)
    accelerated += cross(ride.rates_rate, one.place) + cross(ride.rates, cross(ride.rates, one.place))
    felt = accelerated - ride.rotation.T @ (GRAVITY * DOWN)
    _, wet = wetted(one, ride, arm.angle, level)
    lever = wand.arm - wet / 2.0
    speed = flow(one, ride, arm, lever)
    push = one.density / 2.0 * wand.drag * wand.width * wet * lever * abs(speed) * speed
    return float(spring - weight * (felt @ normal(arm.angle)) - push - inertia * ride.rates_rate[1])


def acceleration(one: Hinged, ride: Ride, arm: Arm) -> float:
    """a'' of M19.3, rad/s2."""
    return moment(one, ride, arm, level_of(one, ride)) / (one.wand.mass * one.wand.arm**2 / 3.0)


def half_step(one: Hinged, ride: Ride, arm: Arm, half: float) -> Arm:
    """The arm after half a step of `half` seconds, by M19.4; ride: at its end."""
    wand, ends = one.wand, level_of(one, ride)
    inertia, t = wand.mass * wand.arm**2 / 3.0, half / PARTS
    stiff = one.density / 2.0 * wand.drag * wand.width
    for part in range(1, PARTS + 1):
        level = arm.level + (ends - arm.level) * part / PARTS
        now = Arm(arm.angle, arm.rate, arm.level)
        reach, wet = wetted(one, ride, now.angle, level)
        lever = wand.arm - wet / 2.0
        speed = flow(one, ride, now, lever)
        down = float((ride.rotation @ along(now.angle)) @ DOWN)
        falls = float((ride.rotation @ normal(now.angle)) @ DOWN)
        a = stiff * lever * abs(speed) * max(speed, 0.0) * wand.arm * max(falls, 0.0) / max(down, 0.1)
        a = a if 0.0 < reach < wand.arm else 0.0
        b = 2.0 * stiff * wet * lever**2 * abs(speed)
        rate = now.rate + t * (moment(one, ride, now, level) - t * a * now.rate) / (inertia + t * b + t**2 * a)
        angle = now.angle + t * rate
        kept = min(max(angle, wand.least_angle), wand.most_angle)
        arm = Arm(kept, rate if kept == angle else 0.0, arm.level)
    return arm._replace(level=ends)


def at_rest(one: Hinged, ride: Ride) -> float:
    """The angle at which nothing turns the arm, or that of a stop, rad."""
    level = level_of(one, ride)

    def turns(angle: float) -> float:
        return moment(one, ride, Arm(angle, 0.0, level), level)

    low, high = one.wand.least_angle, one.wand.most_angle
    if turns(high) > 0.0 or turns(low) < 0.0:
        return high if turns(high) > 0.0 else low
    return float(brentq(turns, low, high, xtol=1e-14))


def led(linkage: Linkage, set_at: float, rest: float, arm_angle: float, before: float) -> float:
    """The angle (rad) of a foil that a wand moves, M21.1: `set_at` with the arm at `rest`; before: the one it had, for play."""
    pushed = set_at - linkage.gearing * (arm_angle - rest)
    pushed = float(np.sign(pushed) * min(abs(pushed), linkage.travel))
    slack = linkage.play / 2.0
    return min(max(before, pushed - slack), pushed + slack)

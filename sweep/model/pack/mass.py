"""Mass, centre of gravity, inertia and added mass of a craft from its parts (MODEL.md, section Mass)."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import numpy as np

from sweep.model.physics.foil import plate_added_mass
from sweep.model.physics.hollow import NODES, WEIGHTS, area_share, shares_of

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft, Rudder, Servo
    from sweep.campaign.foils import Foil, Struts

FOIL_FULLNESS = 0.68  # section area over thickness x chord, NACA four-digit sections
STRUT_FULLNESS = 0.70  # the same for a strut, whose section is blunter; judgement


Triple: TypeAlias = tuple[float, float, float]

_TO_BODY = np.array([1.0, 1.0, -1.0])  # build axes have heights, body axes depths


class MassProperties(NamedTuple):
    """mass, kg; centre (3,): x forward, y starboard, height above the keel, m; inertia (3, 3) about it, body axes, kg m2."""

    mass: float
    centre: np.ndarray
    inertia: np.ndarray


class _Part(NamedTuple):
    mass: float
    place: Triple  # build axes
    own: Triple  # diagonal of its inertia about its own centre


def _parts(craft: Craft) -> Iterator[_Part]:
    body = craft.body
    roll, pitch, yaw = body.roll_radius, body.pitch_radius, body.yaw_radius
    own = (body.mass * (roll * roll), body.mass * (pitch * pitch), body.mass * (yaw * yaw))
    yield _Part(body.mass, (body.x, 0.0, body.height), own)
    for foil in craft.foils.values():
        strut = craft.strut_of(foil)
        yield foil_rod(foil, -strut.height)
        for offset in foil.strut_offsets:
            yield _blade((foil.x, foil.y + offset, 0.0), strut.height, strut)
    for foil in craft.foils.values():
        if foil.moves and (servo := craft.servo_of(foil)).mass > 0.0:
            yield _Part(servo.mass, (foil.x, foil.y, 0.0), (0.0, 0.0, 0.0))
    if craft.steering.shares_a_servo and craft.steering.servo.mass > 0.0:
        yield _Part(craft.steering.servo.mass, (body.x, 0.0, body.height), (0.0, 0.0, 0.0))
    for place, servo in _rudder_servos(craft):
        yield _Part(servo.mass, place, (0.0, 0.0, 0.0))
    for place, sensor in zip(rangefinder_places(craft), craft.rangefinders.of_each("mass"), strict=True):
        yield _Part(sensor, place, (0.0, 0.0, 0.0))
    for wand in craft.wands.values():
        yield _Part(wand.mass, (wand.x, wand.y, wand.height), (0.0, 0.0, 0.0))
    for rudder in craft.steering.rudders.values():
        yield _blade((rudder.x, rudder.y, rudder.top), rudder.length, rudder)
    for ballast in craft.ballast.values():
        yield _Part(ballast.mass, (ballast.x, ballast.y, ballast.height), (0.0, 0.0, 0.0))


def _rudder_servos(craft: Craft) -> Iterator[tuple[Triple, Servo]]:
    """The servos that move one rudder alone, and where they sit: over it, at the keel (build axes, m; M2.1)."""
    steering = craft.steering
    if steering.second_rudder is not None and steering.second_servo is not None:
        foil = craft.foils[steering.second_rudder]
        yield (foil.x, foil.y, 0.0), steering.second_servo.over(steering.servo)
    for rudder in steering.rudders.values():
        if rudder.servo is not None:
            yield (rudder.x, rudder.y, 0.0), rudder.servo.over(steering.servo)


def foil_rod(foil: Foil, height: float) -> _Part:
    """A foil as a rod whose mass a metre goes with the chord squared, bent aft by its sweep (M2.1, M2.7). height: of it, m."""
    if foil.wall is not None:
        return _hollow_rod(foil, foil.wall, height)
    span, taper = foil.span_length, foil.taper
    fuller = 4.0 * (1.0 + taper + taper * taper) / (3.0 * (1.0 + taper) ** 2)  # mean square of the chord over its square
    mass = foil.density * FOIL_FULLNESS * foil.thickness_ratio * (foil.area / span) ** 2 * span * fuller
    first, second = _moments(1.0 - taper)  # of its mass about the middle, in half spans
    aft = 0.5 * span * math.tan(foil.sweep)
    rod = mass * span**2 / 12.0 * (3.0 * second)
    along = mass * aft * aft * (second - first * first)
    return _Part(mass, (foil.x - first * aft, foil.y, height), (rod, along, rod + along))


def _hollow_rod(foil: Foil, wall: float, height: float) -> _Part:
    """The same of a foil with a wall (m), whose share of its section grows to the tips as the chord narrows (M2.9)."""
    span, u = foil.span_length, 0.5 * (NODES + 1.0)
    chord = 2.0 * foil.chord / (1.0 + foil.taper) * (1.0 - (1.0 - foil.taper) * u)
    masses = chord**2 * shares_of(wall / (foil.thickness_ratio * chord)).area * 0.5 * WEIGHTS
    masses *= foil.density * FOIL_FULLNESS * foil.thickness_ratio * span
    mass, aft = float(masses.sum()), 0.5 * span * math.tan(foil.sweep)
    first, second = float(masses @ u) / mass, float(masses @ u**2) / mass
    rod, along = mass * 0.25 * span**2 * second, mass * aft * aft * (second - first * first)
    return _Part(mass, (foil.x - first * aft, foil.y, height), (rod, along, rod + along))


def _moments(narrows: float) -> tuple[float, float]:
    """Mean and mean square distance from the middle, in half spans, by mass: chord 1 - narrows x distance, mass its square."""
    mass = 1.0 - narrows + narrows * narrows / 3.0
    return (0.5 - 2.0 * narrows / 3.0 + narrows**2 / 4.0) / mass, (1.0 / 3.0 - narrows / 2.0 + narrows**2 / 5.0) / mass


def _blade(top: Triple, length: float, shape: Struts | Rudder) -> _Part:
    """An upright rod from its upper end down: a strut or a rudder. top: build axes, m; length: m."""
    mass = shape.density * STRUT_FULLNESS * shape.chord * shape.thickness * length * area_share(shape.wall, shape.thickness)
    upright = mass * length**2 / 12.0
    return _Part(mass, (top[0], top[1], top[2] - 0.5 * length), (upright, upright, 0.0))


def rangefinder_places(craft: Craft) -> list[Triple]:
    """Where each rangefinder sits: x, y, height in build axes, m (M14.2, M14.10)."""
    sensors = craft.rangefinders
    if sensors.each is not None:
        said = zip(*(sensors.of_each(name) for name in ("x", "y", "height")), strict=True)
        read = [craft.wands[one.wand] if one.wand else None for one in sensors.each.values()]
        return [place if at is None else (at.x, at.y, at.height) for place, at in zip(said, read, strict=True)]
    if sensors.layout == "over-foils":
        foils = list(craft.foils.values())
        return [(foils[i % len(foils)].x, foils[i % len(foils)].y, sensors.height) for i in range(sensors.count)]
    if sensors.count == 1:
        return [(sensors.x, 0.0, sensors.height)]
    across = np.linspace(-0.5, 0.5, sensors.count) * sensors.spacing
    return [(sensors.x, float(y), sensors.height) for y in across]


def rangefinder_beams(craft: Craft) -> list[Triple]:
    """Where each rangefinder looks: a vector of length 1 in body axes, straight down if it is not tilted (M14.10)."""
    sensors = craft.rangefinders
    slopes = [(math.tan(a), math.tan(b)) for a, b in zip(sensors.of_each("ahead"), sensors.of_each("aside"), strict=True)]
    lengths = [math.sqrt(1.0 + x * x + y * y) for x, y in slopes]
    return [(x / length, y / length, 1.0 / length) for (x, y), length in zip(slopes, lengths, strict=True)]


def mass_properties(craft: Craft) -> MassProperties:
    """Total mass, centre and inertia of the craft with all its parts (M2.1, M2.2)."""
    masses, places, own = (np.array(each) for each in zip(*_parts(craft), strict=True))
    mass = float(masses.sum())
    centre = masses @ places / mass
    arms = (places - centre) * _TO_BODY
    squares = np.array([arm @ arm for arm in arms])
    about = squares[:, None, None] * np.eye(3) - arms[:, :, None] * arms[:, None, :]
    return MassProperties(mass, centre, _added_up(np.diag(own.sum(axis=0)), masses[:, None, None] * about))


def total_mass(craft: Craft) -> float:
    """Mass of the craft with all its parts, kg: as in `mass_properties`, in a tenth of the time."""
    return float(np.array([part.mass for part in _parts(craft)]).sum())


def to_body(properties: MassProperties, x: float, y: float, height: float) -> np.ndarray:
    """Convert a point from build axes to body axes (m; M1.2)."""
    centre = properties.centre
    return np.array([x - centre[0], y - centre[1], centre[2] - height])


def price(craft: Craft) -> float:
    """Price of the craft: the body and every part that has one."""
    foils = sum(foil.price + foil.price_per_area * foil.area for foil in craft.foils.values())
    struts = sum(len(foil.strut_offsets) * _strut_price(craft.strut_of(foil)) for foil in craft.foils.values())
    rudders = sum(rudder.price for rudder in craft.steering.rudders.values())
    servos = sum(craft.servo_of(foil).price for foil in craft.foils.values() if foil.moves)
    servos += craft.steering.servo.price if craft.steering.shares_a_servo else 0.0
    servos += sum(servo.price for _, servo in _rudder_servos(craft))
    wands = sum(wand.price for wand in craft.wands.values())
    return (
        craft.body.price
        + foils
        + struts
        + sum(craft.rangefinders.of_each("price"))
        + rudders
        + servos
        + wands
        + craft.battery.price
    )


def _strut_price(strut: Struts) -> float:
    return strut.price + strut.price_per_length * strut.height


class Along(NamedTuple):
    """Masses or dampings that act along one direction each.

    Place (n, 3), m, and normal (n, 3), body axes; amount (n,): kg of mass, or N s/m of damping.
    """

    much: Sequence[float]
    places: np.ndarray
    normals: np.ndarray

    def added_to(self, matrix: np.ndarray) -> np.ndarray:
        """Add these, in order, to a (6, 6) matrix of mass or damping; return the sum."""
        x, y, z = self.places.T
        nx, ny, nz = self.normals.T
        columns = np.stack([nx, ny, nz, y * nz - z * ny, z * nx - x * nz, x * ny - y * nx], axis=1)
        much = np.array(self.much)[:, None, None]
        return _added_up(matrix, much * (columns[:, :, None] * columns[:, None, :]))


def _added_up(first: np.ndarray, others: np.ndarray) -> np.ndarray:
    """The sum of matrices of equal shape, added in order."""
    total: np.ndarray = np.concatenate([first[None], others]).sum(axis=0)
    return total


def strip_added_mass(density: float, chord: float, breadth: float, aspect_ratio: float) -> float:
    """Added mass (kg) of one strip of a foil, normal to the strip (M2.4). density in kg/m3; the strip's chord, breadth, m."""
    return density * np.pi / 4.0 * chord**2 * breadth * plate_added_mass(aspect_ratio)

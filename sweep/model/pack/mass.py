"""Mass, centre of gravity, inertia and added mass of a craft from its parts (MODEL.md, section Mass)."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sweep.model.physics.foil import plate_added_mass

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft

FOIL_FULLNESS = 0.68  # section area over thickness x chord, NACA four-digit sections
STRUT_FULLNESS = 0.70  # judgement: a strut is blunter


class MassProperties(NamedTuple):
    """mass kg; centre (3,): x forward, y starboard, height above the keel, m; inertia (3, 3) about it, body axes, kg m2."""

    mass: float
    centre: np.ndarray
    inertia: np.ndarray


class _Part(NamedTuple):
    mass: float
    place: np.ndarray  # build axes
    own: np.ndarray  # diagonal of its inertia about its own centre


def _parts(craft: Craft) -> Iterator[_Part]:
    body = craft.body
    radii = np.array([body.roll_radius, body.pitch_radius, body.yaw_radius])
    yield _Part(body.mass, np.array([body.x, 0.0, body.height]), body.mass * radii**2)
    struts = craft.struts
    for foil in craft.foils.values():
        mass = foil.density * FOIL_FULLNESS * foil.thickness_ratio * foil.chord**2 * foil.span_length
        rod = mass * foil.span_length**2 / 12.0
        yield _Part(mass, np.array([foil.x, foil.y, -struts.height]), np.array([rod, 0.0, rod]))
        for offset in foil.strut_offsets:
            mass = struts.density * STRUT_FULLNESS * struts.chord * struts.thickness * struts.height
            rod = mass * struts.height**2 / 12.0
            yield _Part(mass, np.array([foil.x, foil.y + offset, -0.5 * struts.height]), np.array([rod, rod, 0.0]))
    for place in rangefinder_places(craft):
        yield _Part(craft.rangefinders.mass, np.array(place), np.zeros(3))


def rangefinder_places(craft: Craft) -> list[tuple[float, float, float]]:
    """Where each rangefinder sits: x, y, height in build axes, m (M14.2)."""
    sensors = craft.rangefinders
    if sensors.layout == "over-foils":
        foils = list(craft.foils.values())
        return [(foils[i % len(foils)].x, foils[i % len(foils)].y, sensors.height) for i in range(sensors.count)]
    if sensors.count == 1:
        return [(sensors.x, 0.0, sensors.height)]
    across = np.linspace(-0.5, 0.5, sensors.count) * sensors.spacing
    return [(sensors.x, float(y), sensors.height) for y in across]


def mass_properties(craft: Craft) -> MassProperties:
    """Total mass, centre and inertia of the craft with all its parts (M2.1, M2.2)."""
    parts = list(_parts(craft))
    masses = np.array([part.mass for part in parts])
    places = np.array([part.place for part in parts])
    mass = float(masses.sum())
    centre = masses @ places / mass
    inertia = np.diag(sum((part.own for part in parts), np.zeros(3)))
    for m, place in zip(masses, places, strict=True):
        x, y, z = place[0] - centre[0], place[1] - centre[1], centre[2] - place[2]
        arm = np.array([x, y, z])
        inertia += m * (arm @ arm * np.eye(3) - np.outer(arm, arm))
    return MassProperties(mass, centre, inertia)


def to_body(properties: MassProperties, x: float, y: float, height: float) -> np.ndarray:
    """Body axes (m) of a point of the build axes (M1.2)."""
    centre = properties.centre
    return np.array([x - centre[0], y - centre[1], centre[2] - height])


def price(craft: Craft) -> float:
    """Price of the craft: the body and every part that has one."""
    struts = sum(len(foil.strut_offsets) for foil in craft.foils.values())
    foils = sum(foil.price for foil in craft.foils.values())
    return craft.body.price + foils + struts * craft.struts.price + craft.rangefinders.count * craft.rangefinders.price


def add_along(matrix: np.ndarray, added: float, place: np.ndarray, normal: np.ndarray) -> None:
    """Add to a (6, 6) mass matrix an added mass (kg) that acts along a normal at a place (m, body axes)."""
    column = np.concatenate([normal, np.cross(place, normal)])
    matrix += added * np.outer(column, column)


def strip_added_mass(density: float, chord: float, span: float, strips: int) -> float:
    """Added mass (kg) of one of the strips of a foil, normal to it (M2.4)."""
    return density * np.pi / 4.0 * chord**2 * (span / strips) * plate_added_mass(span / chord)

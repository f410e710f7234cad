"""Pack a craft's struts and rudders into the numbers that the kernels read."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sweep.model import layout as at
from sweep.model.pack.control import rudder_sides
from sweep.model.pack.mass import Along, MassProperties, to_body
from sweep.model.physics.strength import strut_terms
from sweep.model.physics.strut import form_factor, junction_drag_area
from sweep.model.physics.water import Water

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft, Rudder
    from sweep.campaign.foils import Struts


class _Blade(NamedTuple):
    """A strut or a rudder: its foot (body axes, m), length (m), shape, its foil or -1, and its angle for one of its servo.

    moved_by: which of `Steering.moved_by`; share: of its foil's side force, 0 for a rudder.
    """

    foot: np.ndarray
    length: float
    shape: Struts | Rudder
    foil: int
    steers: float
    moved_by: int
    share: float


def _blades(craft: Craft, properties: MassProperties) -> Iterator[_Blade]:
    """Struts foil by foil, then rudders of their own. M7.8.

    Those on the other side of the centre of gravity than the first rudder turn the other way.
    """
    steering, sides = craft.steering, rudder_sides(craft, properties)
    turning = [name for name in (steering.rudder, steering.second_rudder) if name is not None]
    which = steering.moved_by()[1]
    for index, (name, foil) in enumerate(craft.foils.items()):
        strut = craft.strut_of(foil)
        steers = sides[turning.index(name)] * sides[0] if name in turning else 0.0
        moved_by = which[turning.index(name)] if name in turning else 0
        for offset in foil.strut_offsets:
            foot = to_body(properties, foil.x, foil.y + offset, -strut.height)
            yield _Blade(foot, strut.height, strut, index, steers, moved_by, 1.0 / len(foil.strut_offsets))
    own = zip(sides[len(turning) :], which[len(turning) :], steering.rudders.values(), strict=True)
    for side, moved_by, rudder in own:
        foot = to_body(properties, rudder.x, rudder.y, rudder.top - rudder.length)
        yield _Blade(foot, rudder.length, rudder, -1, side * sides[0] * rudder.turns, moved_by, 0.0)


def pack_struts(row: np.ndarray, craft: Craft, properties: MassProperties, water: Water) -> Along:
    """Write struts and rudders to the row; return their added mass (M2.5, M2.8)."""
    blades = list(_blades(craft, properties))
    row[at.HALF_DENSITY] = 0.5 * water.density
    row[at.MATERIAL] = float(
        any(blade.shape.material for blade in blades) or any(foil.material for foil in craft.foils.values())
    )
    added, middles = [], []
    for number, (foot, length, shape, foil, steers, moved_by, share) in enumerate(blades):
        first = number * at.STRUT.width
        form, junction = form_factor(shape.thickness / shape.chord), junction_drag_area(shape.thickness, shape.chord)
        row[first + at.STRUT.x], row[first + at.STRUT.y], row[first + at.STRUT.z] = foot
        row[first + at.STRUT.length] = length
        row[first + at.STRUT.chord] = shape.chord
        row[first + at.STRUT.thickness] = shape.thickness
        row[first + at.STRUT.form] = 2.0 * form
        row[first + at.STRUT.junction] = 2.0 * junction if foil >= 0 else 0.0
        row[first + at.STRUT.foil] = foil
        row[first + (at.STRUT.steers if moved_by == 0 else at.STRUT.steers_own)] = steers
        row[first + at.STRUT.own_servo] = max(moved_by - 1, 0)
        row[first + at.STRUT.share], row[first + at.STRUT.alone] = share, float(share == 1.0)
        row[at.STRUT.strength.slots(first)] = strut_terms(shape)
        row[first + at.STRUT.chord_log] = math.log10(shape.chord / water.viscosity)
        wetted = length - craft.control.ride_height
        if foil < 0:
            wetted = min(max(foot[2] - properties.centre[2] - craft.control.ride_height, 0.0), length)
        added.append(water.density * math.pi / 4.0 * shape.chord**2 * max(wetted, 0.0))
        middles.append(foot - np.array([0.0, 0.0, 0.5 * wetted]))
    return Along(added, np.array(middles), np.array([[0.0, 1.0, 0.0]] * len(blades)))

"""Pack a craft's wands, and set them on calm water at a speed: where the arm rests, and what the control code knows of that."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from sweep.model import layout as at
from sweep.model.onboard.wand import STEEPEST
from sweep.model.pack.mass import MassProperties, mass_properties, to_body
from sweep.model.physics.spectra import GRAVITY

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft, Wand

HALVINGS = 60  # of an angle of a radian: to the last digit of a double


def pack_wands(row: np.ndarray, craft: Craft, properties: MassProperties, density: float) -> None:
    """Write the wands of one craft to its row of parameters (M19.1); density of the water, kg/m3."""
    for i, wand in enumerate(craft.wands.values()):
        first = i * at.WAND.width
        row[at.WAND.x + first], row[at.WAND.y + first], row[at.WAND.z + first] = to_body(
            properties, wand.x, wand.y, wand.height
        )
        row[at.WAND.arm + first] = wand.arm
        row[at.WAND.inertia + first] = wand.mass * wand.arm**2 / 3.0
        row[at.WAND.weight + first] = 0.5 * wand.mass * wand.arm
        row[at.WAND.spring + first] = wand.arm * (wand.press - 0.5 * wand.mass * GRAVITY)
        row[at.WAND.drag + first] = 0.5 * density * wand.drag * wand.width
        row[at.WAND.least + first] = wand.least_angle
        row[at.WAND.most + first] = wand.most_angle


def set_on_water(
    parameters: np.ndarray, crafts: Sequence[Craft], designed: Sequence[Craft], density: float, speed: float
) -> None:
    """Set every wand where it rests at the ride height on calm water, and what the control code knows of its readings there.

    parameters: (designs, slots), written in place; density of the water, kg/m3; speed in m/s. The control code knows how deep
    a tip is and what a tap reads too much of the craft as designed, whose linkages are set on it too (M19.6, M20.4, M21.1).
    """
    for row, craft, board in zip(parameters, crafts, designed, strict=True):
        for i, wand in enumerate(craft.wands.values()):
            row[at.WAND.angle + i * at.WAND.width] = rest_angle(craft, wand, density, speed)
        for foil, each in enumerate(board.foils.values()):
            if each.linkage is not None:
                rest = rest_angle(board, board.wands[each.linkage.wand], density, speed)
                row[at.FOIL.led_rest + foil * at.FOIL.width] = rest
        level = math.cos(board.control.pitch_trim)
        for i, one in enumerate((board.rangefinders.each or {}).values()):
            too_much = 0.0
            if one.wand is not None:
                known = board.wands[one.wand]
                angle = rest_angle(board, known, density, speed)
                too_much = known.arm * math.sin(angle + board.control.pitch_trim) - hinge_height(board, known)
            elif one.kind == "pressure":
                too_much = -one.pressure_coefficient * (speed * level) ** 2 / (2.0 * GRAVITY)
            row[at.KNOWN_PLACE.height + i * at.KNOWN_PLACE.width] += too_much / level


def hinge_height(craft: Craft, wand: Wand) -> float:
    """Height (m) of a wand's hinge over calm water at the ride height and the pitch trim."""
    pitch = craft.control.pitch_trim
    ahead = wand.x - float(mass_properties(craft).centre[0])
    return craft.control.ride_height + ahead * math.sin(pitch) + wand.height * math.cos(pitch)


def rest_angle(craft: Craft, wand: Wand, density: float, speed: float) -> float:
    """The angle (rad) at which a wand rests on calm water at a speed (m/s), level at the ride height, between its stops.

    density of the water, kg/m3. By halving: the water pushes the arm up the more, the deeper it reaches (M19.3).
    """
    pitch, over = craft.control.pitch_trim, hinge_height(craft, wand)
    spring = wand.press - 0.5 * wand.mass * GRAVITY

    def down(angle: float) -> float:
        drop = math.sin(angle + pitch)
        wet = min(max((wand.arm * drop - over) / max(drop, STEEPEST), 0.0), wand.arm)
        flow = speed * math.sin(angle + pitch)
        push = 0.5 * density * wand.drag * wand.width * wet * (1.0 - 0.5 * wet / wand.arm) * flow * abs(flow)
        return spring + 0.5 * wand.mass * GRAVITY * math.cos(angle + pitch) - push

    low, high = wand.least_angle, wand.most_angle
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if down(middle) > 0.0 else (low, middle)
    return 0.5 * (low + high)

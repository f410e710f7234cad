"""Running aground: the depth of a craft's lowest part, and whether it reaches the bottom.

The bottom is flat and hard, at the water's depth below the calm level. The points of a craft that may touch it are its foils'
tips, its struts' feet, its propellers' tips, and the keel of every hull station.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel
from sweep.model.kernels.frame import point_depth, vector
from sweep.model.layout import row
from sweep.model.pack.mass import MassProperties, mass_properties, to_body

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft

_NEVER = -1e9  # m: not a depth


def touching_places(craft: Craft, properties: MassProperties) -> tuple[np.ndarray, np.ndarray]:
    """Points (n, 3) that may touch the ground, body axes, and the radius (n,) of the disc about each, m: 0 except propellers.

    M17.9.
    """
    places = []
    for foil in craft.foils.values():
        half, height = 0.5 * foil.span_length, -craft.strut_of(foil).height
        tip, aft = height + half * math.tan(foil.dihedral), half * math.tan(foil.sweep)
        places += [(foil.x - aft, foil.y - half, tip), (foil.x - aft, foil.y + half, tip)]
        places += [(foil.x, foil.y + offset, height) for offset in foil.strut_offsets]
    places += [(rudder.x, rudder.y, rudder.top - rudder.length) for rudder in craft.steering.rudders.values()]
    for hull in craft.hulls.values():
        along = (np.arange(hull.stations) + 0.5) / hull.stations - 0.5
        places += [(hull.x + hull.length * share, hull.y, 0.0) for share in along]
    propulsor, wet = craft.propulsor, len(places)
    spacing = propulsor.spacing or 0.0
    places += [(propulsor.x, side * spacing, propulsor.height) for side in (-0.5, 0.5)]
    radii = np.zeros(len(places))
    radii[wet:] = 0.5 * propulsor.diameter
    return np.array([to_body(properties, *place) for place in places]), radii


def lowest_part(craft: Craft, keel_height: np.ndarray, pitch: np.ndarray, roll: np.ndarray) -> np.ndarray:
    """Depth of the craft's lowest part below the calm level, m, for poses given as arrays of one shape.

    keel_height: height above the calm level of the keel under the centre of gravity, m; pitch, roll: rad.
    """
    properties = mass_properties(craft)
    places, radii = touching_places(craft, properties)
    sine, cosine = np.sin(pitch), np.cos(pitch)
    down = np.stack([-sine, cosine * np.sin(roll), cosine * np.cos(roll)], axis=-1)
    centre = -np.asarray(keel_height) - down[..., 2] * properties.centre[2]
    depths = centre[..., None] + down @ places.T + radii * np.sqrt(1.0 - down[..., :1] ** 2)
    return np.asarray(depths.max(axis=-1))


def reach_of(craft: Craft, properties: MassProperties) -> float:
    """Distance of the craft's furthest part from its centre of gravity, m."""
    places, radii = touching_places(craft, properties)
    return float((np.linalg.norm(places, axis=1) + radii).max())


@kernel
def deepen(workspace: np.ndarray, place: int) -> None:
    """Set LOWEST to the depth of a body point if that is greater. place: slot of its x, before y and z."""
    x = row(place)
    for lane in range(LANES):
        depth = point_depth(workspace, lane, vector(workspace, x + lane))
        lowest = workspace[row(at.LOWEST) + lane]
        workspace[row(at.LOWEST) + lane] = depth if depth > lowest else lowest


@kernel
def deepen_propellers(workspace: np.ndarray) -> None:
    """Set LOWEST to the depth of the lowest propeller tip if that is greater. Discs are normal to the body's x axis."""
    for lane in range(LANES):
        x = workspace[row(at.THRUST_PLACE.x) + lane]
        y = workspace[row(at.THRUST_PLACE.y) + lane]
        z = workspace[row(at.THRUST_PLACE.z) + lane]
        half = workspace[row(at.HALF_SPACING) + lane]
        forward = workspace[row(at.ROTATION.zx) + lane]
        radius = workspace[row(at.PROPELLER_RADIUS) + lane] * math.sqrt(max(1.0 - forward * forward, 0.0))
        hub = max(point_depth(workspace, lane, (x, y - half, z)), point_depth(workspace, lane, (x, y + half, z)))
        workspace[row(at.LOWEST) + lane] = max(workspace[row(at.LOWEST) + lane], hub + radius)


@kernel
def find_lowest(workspace: np.ndarray, counts: at.PartCounts) -> None:
    """Set LOWEST: depth of the craft's lowest part below the calm level (m) at the MID state."""
    for lane in range(LANES):
        workspace[row(at.LOWEST) + lane] = _NEVER
    for strip in range(counts.strips):
        deepen(workspace, strip * at.STRIP.width + at.STRIP.tip.x)
    for strut in range(counts.struts):
        deepen(workspace, strut * at.STRUT.width + at.STRUT.x)
    for station in range(counts.stations):
        deepen(workspace, station * at.STATION.width + at.STATION.x)
    deepen_propellers(workspace)


@kernel
def measure_ground(workspace: np.ndarray, counts: at.PartCounts) -> None:
    """Set AGROUND to 1 where the lowest part reaches the bottom. Skipped where even the furthest part cannot (M17.9)."""
    nearest = _NEVER
    for lane in range(LANES):
        near = workspace[row(at.MID.z) + lane] + workspace[row(at.REACH) + lane]
        near -= workspace[row(at.WATER_DEPTH) + lane]
        near = near if workspace[row(at.ALIVE) + lane] > 0.0 else _NEVER
        nearest = near if near > nearest else nearest
        workspace[row(at.AGROUND) + lane] = 0.0
    if nearest < 0.0:
        return
    find_lowest(workspace, counts)
    for lane in range(LANES):
        touches = workspace[row(at.LOWEST) + lane] >= workspace[row(at.WATER_DEPTH) + lane]
        workspace[row(at.AGROUND) + lane] = 1.0 if touches else 0.0

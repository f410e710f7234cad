"""Forces on the hulls where they touch the water."""

from __future__ import annotations

import math

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel
from sweep.model.elementary import clip
from sweep.model.kernels.frame import add_force, point_depth, relative_velocity, vector
from sweep.model.layout import row
from sweep.model.physics.hull import (
    SIDE_DRAG,
    buoyancy_per_length,
    cross_flow_per_length,
    hump_drag,
    impact_per_length,
    wedge_area,
)
from sweep.model.physics.spectra import GRAVITY
from sweep.model.physics.strut import LEAST_FRICTION_LOG, friction_of_log


@kernel
def hull_wet(workspace: np.ndarray, stations: int) -> bool:
    """Set the keel depth (m) of every station at the MID state; return whether any station of any lane is wet."""
    wet = 0
    for station in range(stations):
        s = row(station * at.STATION.width)
        for lane in range(LANES):
            keel = vector(workspace, s + row(at.STATION.x) + lane)
            depth = point_depth(workspace, lane, keel) + workspace[s + row(at.STATION.sea.eta) + lane]
            workspace[s + row(at.STATION.depth) + lane] = depth
            wet += depth > 0.0
    return wet > 0


@kernel
def hull_forces(workspace: np.ndarray, stations: int, density: float) -> None:
    """Add the buoyancy, impact, cross-flow drag, side drag and friction of every station (M8.2 to M8.7). density in kg/m3."""
    for station in range(stations):
        s = row(station * at.STATION.width)
        for lane in range(LANES):
            keel = vector(workspace, s + row(at.STATION.x) + lane)
            beam = workspace[s + row(at.STATION.beam) + lane]
            slope = workspace[s + row(at.STATION.slope) + lane]
            length = workspace[s + row(at.STATION.slice) + lane]
            depth = clip(workspace[s + row(at.STATION.depth) + lane], 0.0, workspace[s + row(at.STATION.hull_depth) + lane])
            area, half_breadth, above_chine = wedge_area(depth, beam, slope)
            u, v, w = relative_velocity(workspace, lane, keel, vector(workspace, s + row(at.STATION.sea.u) + lane))
            up = buoyancy_per_length(density, area) * length
            up_x, up_y, up_z = vector(workspace, row(at.ROTATION.zx) + lane)
            centre = (keel[0], keel[1], keel[2] - 0.6 * depth)
            add_force(workspace, lane, centre, (-up * up_x, -up * up_y, -up * up_z))
            righting = density * GRAVITY * length * (2.0 / 3.0) * half_breadth * half_breadth * half_breadth
            workspace[row(at.FORCE.k) + lane] -= righting * up_y
            normal = impact_per_length(density, depth, beam, slope, w) + cross_flow_per_length(density, half_breadth, w)
            log = max(
                workspace[s + row(at.STATION.length_log) + lane] + workspace[row(at.FRICTION_LOG) + lane], LEAST_FRICTION_LOG
            )
            friction = friction_of_log(log)
            girth = 2.0 * (depth - above_chine) / workspace[s + row(at.STATION.sine) + lane] + 2.0 * above_chine
            froude = abs(u) * workspace[s + row(at.STATION.froude) + lane]
            fx = -0.5 * density * friction * girth * length * abs(u) * u - math.copysign(hump_drag(froude) * up, u)
            fy = -0.5 * density * SIDE_DRAG * depth * length * abs(v) * v
            fz = -normal * length
            add_force(workspace, lane, keel, (fx, fy, fz))
            workspace[row(at.HULL_LIFT) + lane] += up - (up_x * fx + up_y * fy + up_z * fz)

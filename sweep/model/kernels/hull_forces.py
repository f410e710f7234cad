"""Forces on the hulls where they touch the water."""

from __future__ import annotations

import math

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel
from sweep.model.elementary import clip
from sweep.model.kernels.frame import add_force, point_depth, relative_velocity
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

_R = at.ROTATION * LANES
_F = at.FORCE * LANES


@kernel
def hull_wet(workspace: np.ndarray, stations: int) -> bool:
    """Keel depth of every station at the MID state; whether any lane is wet anywhere."""
    wettest = 0.0
    for station in range(stations):
        s = row(at.STATION + station * at.STATION_STRIDE)
        for lane in range(LANES):
            depth = (
                point_depth(workspace, lane, workspace[s + lane], workspace[s + LANES + lane], workspace[s + 2 * LANES + lane])
                + workspace[s + at.STATION_SEA * LANES + lane]
            )
            workspace[s + at.STATION_WET * LANES + lane] = depth
        for lane in range(LANES):
            wettest = max(wettest, workspace[s + at.STATION_WET * LANES + lane])
    return wettest > 0.0


@kernel
def hull_forces(workspace: np.ndarray, stations: int, density: float) -> None:
    """Buoyancy, impact, cross flow, side drag and friction of every station."""
    for station in range(stations):
        s = row(at.STATION + station * at.STATION_STRIDE)
        for lane in range(LANES):
            x = workspace[s + lane]
            y = workspace[s + LANES + lane]
            z = workspace[s + 2 * LANES + lane]
            beam = workspace[s + at.STATION_BEAM * LANES + lane]
            slope = workspace[s + at.STATION_SLOPE * LANES + lane]
            length = workspace[s + at.STATION_SLICE * LANES + lane]
            depth = clip(workspace[s + at.STATION_WET * LANES + lane], 0.0, workspace[s + at.STATION_DEPTH * LANES + lane])
            area, half_breadth, above_chine = wedge_area(depth, beam, slope)
            u, v, w = relative_velocity(
                workspace,
                lane,
                x,
                y,
                z,
                workspace[s + (at.STATION_SEA + 1) * LANES + lane],
                workspace[s + (at.STATION_SEA + 2) * LANES + lane],
                workspace[s + (at.STATION_SEA + 3) * LANES + lane],
            )
            up = buoyancy_per_length(density, area) * length
            up_x = workspace[_R + 6 * LANES + lane]
            up_y = workspace[_R + 7 * LANES + lane]
            up_z = workspace[_R + 8 * LANES + lane]
            add_force(workspace, lane, x, y, z - 0.6 * depth, -up * up_x, -up * up_y, -up * up_z)
            righting = density * GRAVITY * length * (2.0 / 3.0) * half_breadth * half_breadth * half_breadth
            workspace[_F + 3 * LANES + lane] -= righting * up_y
            normal = impact_per_length(density, depth, beam, slope, w) + cross_flow_per_length(density, half_breadth, w)
            log = max(
                workspace[s + at.STATION_LOG * LANES + lane] + workspace[at.FRICTION_LOG * LANES + lane], LEAST_FRICTION_LOG
            )
            friction = friction_of_log(log)
            girth = 2.0 * (depth - above_chine) / workspace[s + at.STATION_SINE * LANES + lane] + 2.0 * above_chine
            froude = abs(u) * workspace[s + at.STATION_FROUDE * LANES + lane]
            fx = -0.5 * density * friction * girth * length * abs(u) * u - math.copysign(hump_drag(froude) * up, u)
            fy = -0.5 * density * SIDE_DRAG * depth * length * abs(v) * v
            fz = -normal * length
            add_force(workspace, lane, x, y, z, fx, fy, fz)
            workspace[at.HULL_LIFT * LANES + lane] += up - (up_x * fx + up_y * fy + up_z * fz)

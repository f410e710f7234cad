"""Forces on the struts."""

from __future__ import annotations

import math

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel
from sweep.model.elementary import clip
from sweep.model.kernels.frame import LEAST_SPEED, add_force, point_depth, relative_velocity
from sweep.model.layout import row
from sweep.model.physics.strut import LEAST_FRICTION_LOG, SPRAY, friction_of_log, helmbold_slope, side_coefficient


@kernel
def strut_forces(workspace: np.ndarray, struts: int, density: float) -> None:
    """Side force, friction, spray and junctions of every strut."""
    for strut in range(struts):
        s = row(at.STRUT + strut * at.STRUT_STRIDE)
        for lane in range(LANES):
            x = workspace[s + lane]
            y = workspace[s + LANES + lane]
            foot = workspace[s + 2 * LANES + lane]
            chord = workspace[s + at.STRUT_CHORD * LANES + lane]
            thickness = workspace[s + at.STRUT_THICKNESS * LANES + lane]
            depth = point_depth(workspace, lane, x, y, foot) + workspace[s + at.STRUT_SEA * LANES + lane]
            wet = clip(depth, 0.0, workspace[s + at.STRUT_LENGTH * LANES + lane])
            z = foot - 0.5 * wet
            u, v, _ = relative_velocity(
                workspace,
                lane,
                x,
                y,
                z,
                workspace[s + (at.STRUT_SEA + 1) * LANES + lane],
                workspace[s + (at.STRUT_SEA + 2) * LANES + lane],
                workspace[s + (at.STRUT_SEA + 3) * LANES + lane],
            )
            way = clip(u * (1.0 / LEAST_SPEED), -1.0, 1.0)  # drag is none at rest, and turns round astern
            u = max(u, LEAST_SPEED)
            rudder = workspace[s + at.STRUT_STEERS * LANES + lane] * workspace[at.RUDDER_MID * LANES + lane]
            angle = clip(v / u + rudder, -1.0, 1.0)
            aspect = wet / chord
            air = workspace[s + at.STRUT_VENTILATED * LANES + lane]
            left = 1.0 - air * (1.0 - workspace[(at.STRUT_VENTILATION + 1) * LANES + lane])
            side = left * side_coefficient(helmbold_slope(aspect), angle)
            workspace[s + at.STRUT_ANGLE * LANES + lane] = abs(angle) if wet > 0.0 else 0.0
            log = max(
                workspace[s + at.STRUT_LOG * LANES + lane] + workspace[at.FRICTION_LOG * LANES + lane], LEAST_FRICTION_LOG
            )
            friction = friction_of_log(log)
            drag_area = (
                workspace[s + at.STRUT_FORM * LANES + lane] * friction * chord * wet
                + SPRAY * thickness * thickness * clip(wet / thickness, 0.0, 1.0)
                + chord * wet * side * side / (math.pi * (aspect + 0.1))
                + workspace[s + at.STRUT_JUNCTION * LANES + lane] * clip(wet / thickness, 0.0, 1.0)
            )
            pressure = 0.5 * density * (u * u + v * v)
            add_force(workspace, lane, x, y, z, -way * pressure * drag_area, -pressure * chord * wet * side, 0.0)

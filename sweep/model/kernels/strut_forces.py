"""Forces on the struts: side force and drag of the wetted length."""

from __future__ import annotations

import math

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import clip
from sweep.model.kernels.frame import LEAST_SPEED, add_force, point_depth, relative_velocity, vector
from sweep.model.layout import row
from sweep.model.physics.strut import LEAST_FRICTION_LOG, SPRAY, friction_of_log, helmbold_slope, side_coefficient


@part
def steered(workspace: np.ndarray, strut: int, lane: int) -> float:
    """Angle (rad) by which a strut or rudder is turned, by the first rudder's servo or another (M7.8). strut: its row."""
    shared = workspace[strut + row(at.STRUT.steers) + lane] * workspace[row(at.RUDDER_MID) + lane]
    return shared + workspace[strut + row(at.STRUT.own_angle) + lane]


@kernel
def strut_forces(workspace: np.ndarray, struts: int, density: float) -> None:
    """Add the side force and the friction, spray, induced and junction drag of every strut (M7.1, M7.3, M7.7)."""
    for strut in range(struts):
        s = row(strut * at.STRUT.width)
        for lane in range(LANES):
            foot = vector(workspace, s + row(at.STRUT.x) + lane)
            chord = workspace[s + row(at.STRUT.chord) + lane]
            thickness = workspace[s + row(at.STRUT.thickness) + lane]
            depth = point_depth(workspace, lane, foot) + workspace[s + row(at.STRUT.sea.eta) + lane]
            wet = clip(depth, 0.0, workspace[s + row(at.STRUT.length) + lane])
            place = (foot[0], foot[1], foot[2] - 0.5 * wet)
            u, v, _ = relative_velocity(workspace, lane, place, vector(workspace, s + row(at.STRUT.sea.u) + lane))
            way = clip(u * (1.0 / LEAST_SPEED), -1.0, 1.0)  # drag is zero at rest and changes sign astern
            u = max(u, LEAST_SPEED)
            angle = clip(v / u + steered(workspace, s, lane), -1.0, 1.0)
            aspect = wet / chord
            air = workspace[s + row(at.STRUT.ventilated) + lane]
            left = 1.0 - air * (1.0 - workspace[row(at.STRUT_VENTILATION.side_left) + lane])
            side = left * side_coefficient(helmbold_slope(aspect), angle)
            workspace[s + row(at.STRUT.angle) + lane] = abs(angle) if wet > 0.0 else 0.0
            log = max(
                workspace[s + row(at.STRUT.chord_log) + lane] + workspace[row(at.FRICTION_LOG) + lane], LEAST_FRICTION_LOG
            )
            friction = friction_of_log(log)
            drag_area = (
                workspace[s + row(at.STRUT.form) + lane] * friction * chord * wet
                + SPRAY * thickness * thickness * clip(wet / thickness, 0.0, 1.0)
                + chord * wet * side * side / (math.pi * (aspect + 0.1))
                + workspace[s + row(at.STRUT.junction) + lane] * clip(wet / thickness, 0.0, 1.0)
            )
            pressure = 0.5 * density * (u * u + v * v)
            add_force(workspace, lane, place, (-way * pressure * drag_area, -pressure * chord * wet * side, 0.0))

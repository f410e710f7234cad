"""Measurements of a step for the flight's results, in all lanes: depths, air, servos, sections, acceleration.

Each goes to its own slot (see `layout`) at the middle of the step. `observe` then judges them lane by lane.
"""

from __future__ import annotations

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel
from sweep.model.layout import alike, row
from sweep.model.pack.ground import measure_ground
from sweep.model.physics.spectra import GRAVITY

LEAST_SPEED = 0.5  # m/s: floor of the speed in the cavitation number; judgement
_NEAR_LIMIT = 1e-6  # rad: a servo this near its limit is at it; allows for rounding


@kernel
def measure(workspace: np.ndarray, counts: at.PartCounts) -> None:
    """Take all measurements of this step."""
    measure_hull(workspace, counts.stations)
    begin_foils(workspace)
    for foil in range(counts.foils):
        measure_foil(workspace, foil * at.FOIL.width)
        measure_section(workspace, foil * at.FOIL.width)
    for strut in range(counts.struts):
        air = row(strut * at.STRUT.width + at.STRUT.ventilated)
        for lane in range(LANES):
            workspace[row(at.STRUT_AIR) + lane] = max(workspace[row(at.STRUT_AIR) + lane], workspace[air + lane])
    measure_acceleration(workspace)
    measure_ground(workspace, counts)


@kernel
def measure_hull(workspace: np.ndarray, stations: int) -> None:
    """Set the depth of the keel (m, negative above the water): DEEPEST, at the deepest station, and MEAN_DEPTH."""
    for lane in range(LANES):
        workspace[row(at.DEEPEST) + lane] = -1e9
        workspace[row(at.MEAN_DEPTH) + lane] = 0.0
    for station in range(stations):
        wet = row(station * at.STATION.width + at.STATION.depth)
        for lane in range(LANES):
            depth = workspace[wet + lane]
            deepest = workspace[row(at.DEEPEST) + lane]
            workspace[row(at.DEEPEST) + lane] = depth if depth > deepest else deepest
            workspace[row(at.MEAN_DEPTH) + lane] += depth
    each = alike(workspace, 1.0 / stations)
    for lane in range(LANES):
        workspace[row(at.MEAN_DEPTH) + lane] *= each


@kernel
def begin_foils(workspace: np.ndarray) -> None:
    """Reset the measurements of foils and struts, before the first is taken."""
    for lane in range(LANES):
        workspace[row(at.SHALLOWEST) + lane] = 1e9
        workspace[row(at.SHALLOWEST_CHORDS) + lane] = 1e9
        workspace[row(at.CAVITATION_MARGIN) + lane] = 1e9
        workspace[row(at.FOIL_AIR) + lane] = 0.0
        workspace[row(at.STRUT_AIR) + lane] = 0.0
        workspace[row(at.SERVO_TRAVEL) + lane] = 0.0
        workspace[row(at.SERVO_STOPPED) + lane] = 0.0
        workspace[row(at.BEYOND_DATA) + lane] = 0.0


@kernel
def measure_foil(workspace: np.ndarray, slot: int) -> None:
    """Take in one more foil: depth, air and servo. slot: where the foil's row begins."""
    foil = row(slot)
    for lane in range(LANES):
        depth = workspace[foil + row(at.FOIL.tip_depth) + lane]
        chords = depth / workspace[foil + row(at.FOIL.chord) + lane]
        air = workspace[foil + row(at.FOIL.ventilated) + lane]
        least = workspace[row(at.SHALLOWEST) + lane]
        least_chords = workspace[row(at.SHALLOWEST_CHORDS) + lane]
        before = workspace[row(at.FOIL_AIR) + lane]
        workspace[row(at.SHALLOWEST) + lane] = depth if depth < least else least
        workspace[row(at.SHALLOWEST_CHORDS) + lane] = chords if chords < least_chords else least_chords
        workspace[row(at.FOIL_AIR) + lane] = air if air > before else before
    for lane in range(LANES):
        angle = abs(workspace[foil + row(at.FOIL.servo.angle) + lane])
        travel = workspace[foil + row(at.FOIL.moved_by.travel) + lane]
        angle = angle if travel > 0.0 else -1.0  # a fixed foil is at no limit
        limit = travel - _NEAR_LIMIT
        before = workspace[row(at.SERVO_STOPPED) + lane]
        workspace[row(at.SERVO_TRAVEL) + lane] += abs(workspace[foil + row(at.FOIL.servo.speed) + lane])
        workspace[row(at.SERVO_STOPPED) + lane] = 1.0 if angle >= limit else before


@kernel
def measure_section(workspace: np.ndarray, slot: int) -> None:
    """Take in the section of one more foil: whether it is beyond its data, and its cavitation margin (M17.15, M17.16).

    The margin is the cavitation number less the suction, at the foil's mean lift and the depth of its shallowest tip.
    slot: where the foil's row begins.
    """
    foil = row(slot)
    for lane in range(LANES):
        log = workspace[row(at.FRICTION_LOG) + lane] + workspace[foil + row(at.FOIL.section.chord_log) + lane]
        low = log - workspace[foil + row(at.FOIL.polar_low) + lane]
        high = workspace[foil + row(at.FOIL.polar_high) + lane] - log
        steep = workspace[foil + row(at.FOIL.polar_angle) + lane] - workspace[foil + row(at.FOIL.loaded) + lane]
        before = workspace[row(at.BEYOND_DATA) + lane]
        before = 1.0 if low < 0.0 else before
        before = 1.0 if high < 0.0 else before
        workspace[row(at.BEYOND_DATA) + lane] = 1.0 if steep < 0.0 else before
    for lane in range(LANES):
        depth = workspace[foil + row(at.FOIL.tip_depth) + lane]
        lift = abs(workspace[foil + row(at.FOIL.lift_mean) + lane])
        suction = workspace[foil + row(at.FOIL.suction.c0) + lane] + lift * (
            workspace[foil + row(at.FOIL.suction.c1) + lane] + lift * workspace[foil + row(at.FOIL.suction.c2) + lane]
        )
        speed = workspace[row(at.MID.u) + lane]
        speed = speed if speed > LEAST_SPEED else LEAST_SPEED
        head = workspace[row(at.AIR_PRESSURE) + lane] + 2.0 * GRAVITY * (depth if depth > 0.0 else 0.0)
        margin = head / (speed * speed) - suction
        least = workspace[row(at.CAVITATION_MARGIN) + lane]
        workspace[row(at.CAVITATION_MARGIN) + lane] = margin if margin < least else least


@kernel
def measure_acceleration(workspace: np.ndarray) -> None:
    """Set VERTICAL_ACCELERATION of the centre of gravity, positive down, m/s2."""
    for lane in range(LANES):
        p = workspace[row(at.MID.p) + lane]
        q = workspace[row(at.MID.q) + lane]
        yaw = workspace[row(at.MID.r) + lane]
        u = workspace[row(at.MID.u) + lane]
        v = workspace[row(at.MID.v) + lane]
        w = workspace[row(at.MID.w) + lane]
        workspace[row(at.VERTICAL_ACCELERATION) + lane] = (
            workspace[row(at.ROTATION.zx) + lane] * (workspace[row(at.RATE.u) + lane] + q * w - yaw * v)
            + workspace[row(at.ROTATION.zy) + lane] * (workspace[row(at.RATE.v) + lane] + yaw * u - p * w)
            + workspace[row(at.ROTATION.zz) + lane] * (workspace[row(at.RATE.w) + lane] + p * v - q * u)
        )

"""What a flight's record takes of a step, of all lanes at once: depths, air, servos, sections, acceleration.

Each into a slot of its own (see `layout`), in the middle of the step, for `observe` to judge lane by lane.
"""

from __future__ import annotations

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel
from sweep.model.layout import row
from sweep.model.pack.ground import measure_ground
from sweep.model.physics.spectra import GRAVITY

LEAST_SPEED = 0.5  # m/s, of the cavitation number: judgement
_NEAR_LIMIT = 1e-6  # rad, of a servo: rounding


@kernel
def measure(workspace: np.ndarray, counts: np.ndarray) -> None:
    """All of it; counts as `fleet.Structure.counts`."""
    measure_hull(workspace, counts[3])
    begin_foils(workspace)
    for foil in range(counts[0]):
        measure_foil(workspace, row(at.FOIL + foil * at.FOIL_STRIDE))
    for strut in range(counts[2]):
        air = row(at.STRUT + strut * at.STRUT_STRIDE + at.STRUT_VENTILATED)
        for lane in range(LANES):
            workspace[at.STRUT_AIR * LANES + lane] = max(workspace[at.STRUT_AIR * LANES + lane], workspace[air + lane])
    measure_acceleration(workspace)
    measure_ground(workspace, counts)


@kernel
def measure_hull(workspace: np.ndarray, stations: int) -> None:
    """Depth of the keel (m, negative above the water) at the deepest station, and its mean."""
    for lane in range(LANES):
        workspace[at.DEEPEST * LANES + lane] = -1e9
        workspace[at.MEAN_DEPTH * LANES + lane] = 0.0
    for station in range(stations):
        wet = row(at.STATION + station * at.STATION_STRIDE + at.STATION_WET)
        for lane in range(LANES):
            depth = workspace[wet + lane]
            deepest = workspace[at.DEEPEST * LANES + lane]
            workspace[at.DEEPEST * LANES + lane] = depth if depth > deepest else deepest
            workspace[at.MEAN_DEPTH * LANES + lane] += depth
    for lane in range(LANES):
        workspace[at.MEAN_DEPTH * LANES + lane] /= stations


@kernel
def begin_foils(workspace: np.ndarray) -> None:
    """Before the first foil and strut."""
    for lane in range(LANES):
        workspace[at.SHALLOWEST * LANES + lane] = 1e9
        workspace[at.SHALLOWEST_CHORDS * LANES + lane] = 1e9
        workspace[at.CAVITATION_MARGIN * LANES + lane] = 1e9
        workspace[at.FOIL_AIR * LANES + lane] = 0.0
        workspace[at.STRUT_AIR * LANES + lane] = 0.0
        workspace[at.SERVO_TRAVEL * LANES + lane] = 0.0
        workspace[at.SERVO_STOPPED * LANES + lane] = 0.0
        workspace[at.BEYOND_DATA * LANES + lane] = 0.0


@kernel
def measure_foil(workspace: np.ndarray, foil: int) -> None:
    """One foil more; foil: index of lane 0 of its row.

    The cavitation margin, cavitation number less suction, takes its mean lift and the depth of its shallowest tip.
    """
    for lane in range(LANES):
        f = foil + lane
        depth = workspace[f + at.TIP_DEPTH * LANES]
        chords = depth / workspace[f + at.CHORD * LANES]
        least = workspace[at.SHALLOWEST * LANES + lane]
        least_chords = workspace[at.SHALLOWEST_CHORDS * LANES + lane]
        air = workspace[at.FOIL_AIR * LANES + lane]
        limit = workspace[(at.SERVO + 5) * LANES + lane] - _NEAR_LIMIT
        stopped = workspace[at.SERVO_STOPPED * LANES + lane]
        log = workspace[at.FRICTION_LOG * LANES + lane] + workspace[f + at.CHORD_LOG * LANES]
        beyond = workspace[at.BEYOND_DATA * LANES + lane]
        beyond = 1.0 if log < workspace[f + at.POLAR_LOW * LANES] else beyond
        beyond = 1.0 if log > workspace[f + at.POLAR_HIGH * LANES] else beyond
        beyond = 1.0 if workspace[f + at.LOADED * LANES] > workspace[f + at.POLAR_ANGLE * LANES] else beyond
        speed = workspace[(at.MID + 6) * LANES + lane]
        speed = speed if speed > LEAST_SPEED else LEAST_SPEED
        lift = abs(workspace[f + at.LIFT_MEAN * LANES])
        suction = workspace[f + at.SUCTION * LANES] + lift * (
            workspace[f + (at.SUCTION + 1) * LANES] + lift * workspace[f + (at.SUCTION + 2) * LANES]
        )
        head = workspace[at.AIR_PRESSURE * LANES + lane] + 2.0 * GRAVITY * (depth if depth > 0.0 else 0.0)
        margin = head / (speed * speed) - suction
        least_margin = workspace[at.CAVITATION_MARGIN * LANES + lane]
        workspace[at.SHALLOWEST * LANES + lane] = depth if depth < least else least
        workspace[at.SHALLOWEST_CHORDS * LANES + lane] = chords if chords < least_chords else least_chords
        workspace[at.FOIL_AIR * LANES + lane] = 1.0 if workspace[f + at.VENTILATED * LANES] > 0.0 else air
        workspace[at.SERVO_TRAVEL * LANES + lane] += abs(workspace[f + at.SERVO_SPEED * LANES])
        workspace[at.SERVO_STOPPED * LANES + lane] = 1.0 if abs(workspace[f + at.SERVO_ANGLE * LANES]) >= limit else stopped
        workspace[at.BEYOND_DATA * LANES + lane] = beyond
        workspace[at.CAVITATION_MARGIN * LANES + lane] = margin if margin < least_margin else least_margin


@kernel
def measure_acceleration(workspace: np.ndarray) -> None:
    """VERTICAL_ACCELERATION of the centre of gravity, down, m/s2."""
    for lane in range(LANES):
        m = at.MID * LANES + lane
        r = at.ROTATION * LANES + lane
        d = (at.RATE + 6) * LANES + lane
        p = workspace[m + 9 * LANES]
        q = workspace[m + 10 * LANES]
        yaw = workspace[m + 11 * LANES]
        u = workspace[m + 6 * LANES]
        v = workspace[m + 7 * LANES]
        w = workspace[m + 8 * LANES]
        workspace[at.VERTICAL_ACCELERATION * LANES + lane] = (
            workspace[r + 6 * LANES] * (workspace[d] + q * w - yaw * v)
            + workspace[r + 7 * LANES] * (workspace[d + LANES] + yaw * u - p * w)
            + workspace[r + 8 * LANES] * (workspace[d + 2 * LANES] + p * v - q * u)
        )

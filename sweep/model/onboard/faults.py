"""Faults and manoeuvres of a condition: what goes wrong or changes, and when.

A table of rows, the same for every design of a block. `which` counts foils or rangefinders in the order of the craft file;
-1 means all of them. A row acts while start <= time < stop (s).
"""

from __future__ import annotations

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel
from sweep.model.layout import row
from sweep.model.onboard.safety import IN_TIME

# Columns
KIND = 0
WHICH = 1
START = 2
STOP = 3
FIRST = 4
SECOND = 5
THIRD = 6
COLUMNS = 7

# Kinds, with what FIRST, SECOND and THIRD mean
WEED = 0  # weed on a foil: drag area m2, share of lift lost
SILENT = 1  # a rangefinder gives no reading
FROZEN = 2  # a rangefinder repeats its last reading
SPIKING = 3  # rangefinders: share of readings, size m
STUCK_SERVO = 4  # a foil's servo stays where it is
NO_THRUST = 5  # share of the thrust that is lost
SHIFTED_LOAD = 6  # mass kg, x m, y m in build axes: a payload that was not weighed
TURN = 7  # change of course, rad; lasts from START to the end
LOST_LINK = 8  # no message of the person in charge comes
DISARMED = 9  # the arming switch is off


@kernel
def _clear(workspace: np.ndarray, foils: int) -> None:
    for lane in range(LANES):
        workspace[row(at.THRUST_LEFT) + lane] = 1.0
        workspace[row(at.COURSE_WANTED) + lane] = 0.0
        workspace[row(at.LINK_AGE) + lane] = 0.0
        workspace[row(at.DISARMED) + lane] = 0.0
        for slot in range(at.PAYLOAD.width):
            workspace[row(at.PAYLOAD.first + slot) + lane] = 0.0
        workspace[row(at.FAULT_SPIKES.share) + lane] = 0.0
        workspace[row(at.FAULT_SPIKES.size) + lane] = 0.0
        for sensor in range(at.MAX_RANGEFINDERS):
            workspace[row(at.RANGE_SILENT + sensor) + lane] = 0.0
            workspace[row(at.RANGE_STUCK + sensor) + lane] = 0.0
    for foil in range(foils):
        f = row(foil * at.FOIL.width)
        for lane in range(LANES):
            workspace[f + row(at.FOIL.weed_area) + lane] = 0.0
            workspace[f + row(at.FOIL.weed_lift) + lane] = 1.0
            workspace[f + row(at.FOIL.stuck) + lane] = 0.0


@kernel
def _on_foils(workspace: np.ndarray, fault: np.ndarray, foils: int) -> None:
    for foil in range(foils):
        if fault[WHICH] >= 0.0 and fault[WHICH] != foil:
            continue
        f = row(foil * at.FOIL.width)
        for lane in range(LANES):
            if fault[KIND] == WEED:
                workspace[f + row(at.FOIL.weed_area) + lane] += fault[FIRST]
                workspace[f + row(at.FOIL.weed_lift) + lane] *= 1.0 - fault[SECOND]
            else:
                workspace[f + row(at.FOIL.stuck) + lane] = 1.0


@kernel
def _on_sensors(workspace: np.ndarray, fault: np.ndarray) -> None:
    flags = at.RANGE_SILENT if fault[KIND] == SILENT else at.RANGE_STUCK
    for sensor in range(at.MAX_RANGEFINDERS):
        if fault[WHICH] < 0.0 or fault[WHICH] == sensor:
            for lane in range(LANES):
                workspace[row(flags + sensor) + lane] = 1.0


@kernel
def apply_faults(workspace: np.ndarray, faults: np.ndarray, foils: int, time: float) -> None:
    """Set the effects of the faults that act at `time` (s; M10.3). faults: (rows, COLUMNS)."""
    _clear(workspace, foils)
    for i in range(faults.shape[0]):
        fault = faults[i]
        kind = fault[KIND]
        if time < fault[START] or (time >= fault[STOP] and kind != TURN):
            continue
        if kind in (WEED, STUCK_SERVO):
            _on_foils(workspace, fault, foils)
        elif kind in (SILENT, FROZEN):
            _on_sensors(workspace, fault)
        else:
            for lane in range(LANES):
                if kind == SPIKING:
                    workspace[row(at.FAULT_SPIKES.share) + lane] = fault[FIRST]
                    workspace[row(at.FAULT_SPIKES.size) + lane] = fault[SECOND]
                elif kind == NO_THRUST:
                    workspace[row(at.THRUST_LEFT) + lane] *= 1.0 - fault[FIRST]
                elif kind == SHIFTED_LOAD:
                    workspace[row(at.PAYLOAD.mass) + lane] = fault[FIRST]
                    workspace[row(at.PAYLOAD.x) + lane] = fault[SECOND]
                    workspace[row(at.PAYLOAD.y) + lane] = fault[THIRD]
                elif kind == TURN:
                    workspace[row(at.COURSE_WANTED) + lane] += fault[FIRST]
                elif kind == LOST_LINK:
                    workspace[row(at.LINK_AGE) + lane] = max(time - fault[START] - IN_TIME, workspace[row(at.LINK_AGE) + lane])
                elif kind == DISARMED:
                    workspace[row(at.DISARMED) + lane] = 1.0

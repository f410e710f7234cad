"""The wakes at work: how far each has travelled, where it passes a strip, and the downwash that it leaves there."""

from __future__ import annotations

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import clip, exp_negative
from sweep.model.kernels.frame import LEAST_SPEED, point_depth
from sweep.model.layout import row
from sweep.model.physics.downwash import NODES

_V = (at.MID + 6) * LANES
_STRIP = at.STRIP_AT_WORK * LANES


@part
def feels(workspace: np.ndarray, foil: int, other: int) -> bool:
    """Whether a foil feels the wake of another in any lane."""
    return workspace[(at.WAKES + foil * at.MAX_FOILS + other) * LANES] > 0.0


@kernel
def place_wake(workspace: np.ndarray, foil: int, other: int) -> None:
    """Where the wake of another foil passes the strip at work: WAKE_SHARE, WAKE_APART and WAKE_IMAGE."""
    f = row(at.FOIL + foil * at.FOIL_STRIDE + other)
    o = row(at.FOIL + other * at.FOIL_STRIDE)
    for lane in range(LANES):
        lift = workspace[f + at.DOWNWASH_MID * LANES + lane]
        share = min(abs(lift) * workspace[f + at.WAKE_ROLLING * LANES + lane], 1.0)
        sunk = lift * (workspace[f + at.WAKE_SINK * LANES + lane] - share * workspace[f + at.WAKE_SINK_CHANGE * LANES + lane])
        wake = workspace[o + at.CENTRE_DEPTH * LANES + lane] + sunk
        depth = point_depth(
            workspace,
            lane,
            workspace[_STRIP + lane],
            workspace[_STRIP + LANES + lane],
            workspace[_STRIP + 2 * LANES + lane],
        )
        half_spans = workspace[o + at.HALF_SPANS * LANES + lane]
        workspace[at.WAKE_SHARE * LANES + lane] = share
        workspace[at.WAKE_APART * LANES + lane] = abs(depth - wake) * half_spans
        workspace[at.WAKE_IMAGE * LANES + lane] = abs(depth + wake) * half_spans


@part
def gone(apart: float, image: float, node: float, following: float) -> float:
    """How far two distances have gone from one node to the following, 0 ... 1 each: their sum."""
    slope = 1.0 / (following - node)
    return clip((apart - node) * slope, 0.0, 1.0) + clip((image - node) * slope, 0.0, 1.0)


@part
def table_row(workspace: np.ndarray, sheet: int, ramp: int, share: float) -> float:
    """One entry of the table of a wake of which a share is rolled up; sheet: index of the sheet's first entry."""
    return workspace[sheet + ramp * LANES] + share * workspace[sheet + (at.RAMPS + 1 + ramp) * LANES]


@kernel
def gather_influence(workspace: np.ndarray, table: int) -> None:
    """WAKE_INFLUENCE (rad per unit lift coefficient) of the wake and its image; table: slot of the strip's rows for it.

    The ramps are written out: a loop over them, with its sums in memory, takes twice as long.
    """
    start = row(table)
    for lane in range(LANES):
        t = start + lane
        share = workspace[at.WAKE_SHARE * LANES + lane]
        apart = workspace[at.WAKE_APART * LANES + lane]
        image = workspace[at.WAKE_IMAGE * LANES + lane]
        workspace[at.WAKE_INFLUENCE * LANES + lane] = (
            2.0 * table_row(workspace, t, 0, share)
            + gone(apart, image, NODES[0], NODES[1]) * table_row(workspace, t, 1, share)
            + gone(apart, image, NODES[1], NODES[2]) * table_row(workspace, t, 2, share)
            + gone(apart, image, NODES[2], NODES[3]) * table_row(workspace, t, 3, share)
            + gone(apart, image, NODES[3], NODES[4]) * table_row(workspace, t, 4, share)
            + gone(apart, image, NODES[4], NODES[5]) * table_row(workspace, t, 5, share)
            + gone(apart, image, NODES[5], NODES[6]) * table_row(workspace, t, 6, share)
            + gone(apart, image, NODES[6], NODES[7]) * table_row(workspace, t, 7, share)
            + gone(apart, image, NODES[7], NODES[8]) * table_row(workspace, t, 8, share)
            + gone(apart, image, NODES[8], NODES[9]) * table_row(workspace, t, 9, share)
        )


@kernel
def strip_downwash(workspace: np.ndarray, foil: int, strip: int, foils: int) -> None:
    """Downwash angle (rad) at the strip at work from the lagged lift of every other foil; foil and strip: which they are."""
    for lane in range(LANES):
        workspace[_STRIP + at.STRIP_DOWNWASH * LANES + lane] = 0.0
    for other in range(foils):
        if not feels(workspace, foil, other):
            continue
        place_wake(workspace, foil, other)
        gather_influence(workspace, at.STRIP + strip * at.STRIP_STRIDE + at.STRIP_INFLUENCE + other * at.INFLUENCES)
        lift = row(at.FOIL + foil * at.FOIL_STRIDE + at.DOWNWASH_MID + other)
        for lane in range(LANES):
            workspace[_STRIP + at.STRIP_DOWNWASH * LANES + lane] += (
                workspace[at.WAKE_INFLUENCE * LANES + lane] * workspace[lift + lane]
            )


@kernel
def foil_depths(workspace: np.ndarray, foils: int) -> None:
    """CENTRE_DEPTH of every foil, m below the calm level."""
    for foil in range(foils):
        f = row(at.FOIL + foil * at.FOIL_STRIDE)
        for lane in range(LANES):
            workspace[f + at.CENTRE_DEPTH * LANES + lane] = point_depth(
                workspace,
                lane,
                workspace[f + at.FORE * LANES + lane],
                workspace[f + at.BESIDE * LANES + lane],
                workspace[f + at.BELOW * LANES + lane],
            )


@kernel
def send_wakes(workspace: np.ndarray, foils: int, lag_time: float) -> None:
    """The lift of every foil travels to those that feel its wake, for lag_time (s)."""
    for foil in range(foils):
        f = row(at.FOIL + foil * at.FOIL_STRIDE)
        for other in range(foils):
            if not feels(workspace, foil, other):
                continue
            o = row(at.FOIL + other * at.FOIL_STRIDE)
            before = row(at.FOIL + foil * at.FOIL_STRIDE + at.DOWNWASH + other)
            after = row(at.FOIL + foil * at.FOIL_STRIDE + at.DOWNWASH_MID + other)
            for lane in range(LANES):
                distance = workspace[f + (at.WAKE_DISTANCE + other) * LANES + lane]
                lift = workspace[o + at.LIFT_MEAN * LANES + lane]
                fade = exp_negative(-lag_time * max(workspace[_V + lane], LEAST_SPEED) / max(distance, 1e-3))
                workspace[after + lane] = lift + (workspace[before + lane] - lift) * fade

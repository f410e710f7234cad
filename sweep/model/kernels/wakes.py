"""The foils' wakes in flight: how far each has travelled, where it passes a strip, and its downwash there."""

from __future__ import annotations

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import clip, exp_negative
from sweep.model.kernels.frame import LEAST_SPEED, point_depth, vector
from sweep.model.layout import row
from sweep.model.physics.downwash import NODES


@part
def feels(workspace: np.ndarray, foil: int, other: int) -> bool:
    """Whether the wake of another foil acts on this one in any lane."""
    return workspace[row(at.WAKES + foil * at.MAX_FOILS + other)] > 0.0


@kernel
def place_wake(workspace: np.ndarray, foil: int, other: int, strip: int) -> None:
    """Set where another foil's wake passes the strip at work: WAKE_SHARE, WAKE_APART and WAKE_IMAGE (M5.4)."""
    f = row(foil * at.FOIL.width + other)
    o = row(other * at.FOIL.width)
    s = row(strip * at.STRIP.width)
    for lane in range(LANES):
        lift = workspace[f + row(at.FOIL.downwash_mid) + lane]
        share = min(abs(lift) * workspace[f + row(at.FOIL.wake_rolling) + lane], 1.0)
        sunk = lift * (
            workspace[f + row(at.FOIL.wake_sink) + lane] - share * workspace[f + row(at.FOIL.wake_sink_change) + lane]
        )
        wake = workspace[o + row(at.FOIL.centre_depth) + lane] + sunk
        depth = point_depth(workspace, lane, vector(workspace, s + row(at.STRIP.x) + lane))
        half_spans = workspace[o + row(at.FOIL.half_spans) + lane]
        workspace[row(at.WAKE_SHARE) + lane] = share
        workspace[row(at.WAKE_APART) + lane] = abs(depth - wake) * half_spans
        workspace[row(at.WAKE_IMAGE) + lane] = abs(depth + wake) * half_spans


@part
def gone(apart: float, image: float, node: float, following: float) -> float:
    """Ramp from 0 at one node to 1 at the following, taken at two distances (half spans): the sum of both."""
    slope = 1.0 / (following - node)
    return clip((apart - node) * slope, 0.0, 1.0) + clip((image - node) * slope, 0.0, 1.0)


@part
def table_row(workspace: np.ndarray, entry: int, share: float) -> float:
    """One entry of a wake's table, for the share of the wake that is rolled up. entry: workspace index of the entry's lane."""
    return workspace[entry + row(at.INFLUENCE.sheet)] + share * workspace[entry + row(at.INFLUENCE.change)]


@kernel
def gather_influence(workspace: np.ndarray, table: int) -> None:
    """Set WAKE_INFLUENCE (rad per unit lift coefficient) of a wake and its image. table: first slot of its table for the strip.

    M5.3, M5.5. The ramps are written out: a loop over them keeps its sums in memory and takes twice as long.
    """
    start = row(table)
    for lane in range(LANES):
        t = start + lane
        share = workspace[row(at.WAKE_SHARE) + lane]
        apart = workspace[row(at.WAKE_APART) + lane]
        image = workspace[row(at.WAKE_IMAGE) + lane]
        workspace[row(at.WAKE_INFLUENCE) + lane] = (
            2.0 * table_row(workspace, t, share)
            + gone(apart, image, NODES[0], NODES[1]) * table_row(workspace, t + row(1), share)
            + gone(apart, image, NODES[1], NODES[2]) * table_row(workspace, t + row(2), share)
            + gone(apart, image, NODES[2], NODES[3]) * table_row(workspace, t + row(3), share)
            + gone(apart, image, NODES[3], NODES[4]) * table_row(workspace, t + row(4), share)
            + gone(apart, image, NODES[4], NODES[5]) * table_row(workspace, t + row(5), share)
            + gone(apart, image, NODES[5], NODES[6]) * table_row(workspace, t + row(6), share)
            + gone(apart, image, NODES[6], NODES[7]) * table_row(workspace, t + row(7), share)
            + gone(apart, image, NODES[7], NODES[8]) * table_row(workspace, t + row(8), share)
            + gone(apart, image, NODES[8], NODES[9]) * table_row(workspace, t + row(9), share)
        )


@kernel
def strip_downwash(workspace: np.ndarray, foil: int, strip: int, foils: int) -> None:
    """Set the downwash angle (rad) at the strip at work, from the lagged lift of every other foil. foil, strip: their indices.

    M5.5.
    """
    for lane in range(LANES):
        workspace[row(at.STRIP_AT_WORK.downwash) + lane] = 0.0
    for other in range(foils):
        if not feels(workspace, foil, other):
            continue
        place_wake(workspace, foil, other, strip)
        gather_influence(workspace, strip * at.STRIP.width + at.STRIP.influence.first + other * at.INFLUENCE.width)
        lift = row(foil * at.FOIL.width + at.FOIL.downwash_mid + other)
        for lane in range(LANES):
            workspace[row(at.STRIP_AT_WORK.downwash) + lane] += (
                workspace[row(at.WAKE_INFLUENCE) + lane] * workspace[lift + lane]
            )


@kernel
def foil_depths(workspace: np.ndarray, foils: int) -> None:
    """Set the depth of every foil's middle below the calm level (m)."""
    for foil in range(foils):
        f = row(foil * at.FOIL.width)
        for lane in range(LANES):
            middle = vector(workspace, f + row(at.FOIL.middle.x) + lane)
            workspace[f + row(at.FOIL.centre_depth) + lane] = point_depth(workspace, lane, middle)


@kernel
def send_wakes(workspace: np.ndarray, foils: int, lag_time: float) -> None:
    """Let the lift of every foil travel aft for lag_time (s) to the foils in its wake (M5.6)."""
    for foil in range(foils):
        f = row(foil * at.FOIL.width)
        for other in range(foils):
            if not feels(workspace, foil, other):
                continue
            o = row(other * at.FOIL.width)
            before = row(foil * at.FOIL.width + at.FOIL.downwash + other)
            after = row(foil * at.FOIL.width + at.FOIL.downwash_mid + other)
            for lane in range(LANES):
                lift = workspace[o + row(at.FOIL.lift_mean) + lane]
                speed = max(workspace[row(at.MID.u) + lane], LEAST_SPEED)
                fade = exp_negative(-lag_time * speed * workspace[f + row(at.FOIL.wake_nearness + other) + lane])
                workspace[after + lane] = lift + (workspace[before + lane] - lift) * fade

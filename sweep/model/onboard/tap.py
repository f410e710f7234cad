"""A pressure tap under water: the depth that it shows, behind its tube (MODEL.md, section Pressure taps)."""

from __future__ import annotations

import math

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import exp_negative, sine_cosine
from sweep.model.layout import row
from sweep.model.onboard.choices import PRESSURE
from sweep.model.physics.spectra import GRAVITY


@kernel
def any_tap(workspace: np.ndarray, count: int) -> bool:
    """Whether a rangefinder of any lane is a pressure tap."""
    for sensor in range(count):
        for lane in range(LANES):
            if workspace[row(at.RANGE_KIND + sensor) + lane] == PRESSURE:
                return True
    return False


@kernel
def press(workspace: np.ndarray, waves: int, time: float, share: float) -> None:
    """Set TAP_SEA and TAP_HEAD at POINT (m; M20.1), in double precision in any workspace.

    waves: number of components; time in s; share: present wave height over full height.
    """
    exact = workspace.view(np.float64)
    for lane in range(LANES):
        workspace[row(at.TAP_SEA) + lane] = 0.0
        workspace[row(at.TAP_HEAD) + lane] = 0.0
    for i in range(waves):
        wave = row(i * at.WAVE.width)
        for lane in range(LANES):
            _, cosine = sine_cosine(
                exact[wave + row(at.WAVE.x) + lane] * workspace[row(at.POINT.x) + lane]
                + exact[wave + row(at.WAVE.y) + lane] * workspace[row(at.POINT.y) + lane]
                + (exact[wave + row(at.WAVE.phase) + lane] - exact[wave + row(at.WAVE.omega) + lane] * time)
            )
            exact[wave + row(at.WAVE.cosine) + lane] = cosine
            workspace[row(at.TAP_SEA) + lane] += exact[wave + row(at.WAVE.amplitude) + lane] * cosine
    for lane in range(LANES):
        workspace[row(at.TAP_SEA) + lane] *= share
        depth = workspace[row(at.POINT.z) + lane] + workspace[row(at.TAP_SEA) + lane]
        workspace[row(at.POINT.depth) + lane] = max(depth, 0.0)
    for i in range(waves):
        wave = row(i * at.WAVE.width)
        for lane in range(LANES):
            fall = exp_negative(-exact[wave + row(at.WAVE.number) + lane] * workspace[row(at.POINT.depth) + lane])
            along = exact[wave + row(at.WAVE.deep) + lane] * fall + exact[wave + row(at.WAVE.shallow) + lane] / fall
            number = max(exact[wave + row(at.WAVE.number) + lane], 1e-9)  # a sea of fewer components has rows of nothing
            rises = along * exact[wave + row(at.WAVE.omega) + lane] / (GRAVITY * number)
            workspace[row(at.TAP_HEAD) + lane] += rises * exact[wave + row(at.WAVE.cosine) + lane]
    for lane in range(LANES):
        workspace[row(at.TAP_HEAD) + lane] *= share


@part
def depth_shown(workspace: np.ndarray, lane: int, sensor: int, count: int) -> float:
    """The depth (m) that the pressure behind the tube of a tap shows, at a reading of it; NaN out of the water (M20.2, M20.3).

    count: of rangefinders. Needs TAP_SEA and TAP_HEAD.
    """
    still, u = workspace[row(at.POINT.z) + lane], workspace[row(at.STATE.u) + lane]
    wet = still + workspace[row(at.TAP_SEA) + lane] > 0.0
    shown = still + workspace[row(at.TAP_HEAD) + lane] + workspace[row(at.RANGE_PRESSURE + sensor) + lane] * u * u
    shown = shown if wet else 0.0
    before, behind = workspace[row(at.TAP_DEPTH + sensor) + lane], workspace[row(at.TAP_BEHIND + sensor) + lane]
    lag = workspace[row(at.RANGE_TUBE_LAG + sensor) + lane]
    passed = count / workspace[row(at.RANGE_RATE + sensor) + lane]
    late = lag / passed
    fade = exp_negative(-passed / lag) if lag > 0.0 else 0.0
    follows = shown + (behind - before) * fade - (shown - before) * late * (1.0 - fade)
    follows = follows if workspace[row(at.RANGE_TICK + sensor) + lane] > 0.0 else shown
    workspace[row(at.TAP_DEPTH + sensor) + lane] = shown
    workspace[row(at.TAP_BEHIND + sensor) + lane] = follows
    return follows if wet else math.nan

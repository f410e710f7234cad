"""The sea at the craft: elevation and orbital velocity at one point of every lane, each in a sea of its own."""

from __future__ import annotations

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel
from sweep.model.elementary import exp_negative, sine_cosine
from sweep.model.layout import POINT, PREDICTED, PREDICTED_ROTATION, row

# Columns of a table of components
AMPLITUDE = 0
WAVE_X = 1
WAVE_Y = 2
WAVE_NUMBER = 3
SURFACE_SPEED = 4  # amplitude x omega
TOWARDS_X = 5
TOWARDS_Y = 6
DEEP = 7  # 1 / (1 - exp(-2 k D))
SHALLOW = 8  # exp(-2 k D) / (1 - exp(-2 k D)), 0 where it is under 1e-9
COLUMNS = 9

_POINT = POINT * LANES
_PREDICTED = PREDICTED * LANES
_ROTATION = PREDICTED_ROTATION * LANES


@kernel
def place_points(workspace: np.ndarray, place: int) -> None:
    """Earth position of a body point at the predicted pose, into POINT: x, y, and z as depth below the calm level (m)."""
    r = row(place)
    for axis in range(3):
        point = row(POINT + axis)
        predicted = row(PREDICTED + axis)
        rotation = row(PREDICTED_ROTATION + 3 * axis)
        for lane in range(LANES):
            workspace[point + lane] = (
                workspace[predicted + lane]
                + workspace[rotation + lane] * workspace[r + lane]
                + workspace[rotation + LANES + lane] * workspace[r + LANES + lane]
                + workspace[rotation + 2 * LANES + lane] * workspace[r + 2 * LANES + lane]
            )


@kernel
def elevation(workspace: np.ndarray, waves: int, time: float, share: float, out: int) -> None:
    """Elevation at POINT into slot `out` (m); keeps every component's cosine and sine for `velocity`.

    waves: how many components; time in s; share: of their full height that they have now.
    """
    eta = row(out)
    for lane in range(LANES):
        workspace[eta + lane] = 0.0
    for i in range(waves):
        wave = row(at.WAVE + i * at.WAVE_STRIDE)
        amplitude = wave + at.WAVE_AMPLITUDE * LANES
        kx = wave + at.WAVE_X * LANES
        ky = wave + at.WAVE_Y * LANES
        omega = wave + at.WAVE_OMEGA * LANES
        phase = wave + at.WAVE_PHASE * LANES
        cosine = wave + at.WAVE_COSINE * LANES
        sine = wave + at.WAVE_SINE * LANES
        for lane in range(LANES):
            s, c = sine_cosine(
                workspace[kx + lane] * workspace[_POINT + lane]
                + workspace[ky + lane] * workspace[_POINT + LANES + lane]
                + (workspace[phase + lane] - workspace[omega + lane] * time)
            )
            workspace[cosine + lane] = c
            workspace[sine + lane] = s
            workspace[eta + lane] += workspace[amplitude + lane] * c
    for lane in range(LANES):
        workspace[eta + lane] *= share


@kernel
def velocity(workspace: np.ndarray, waves: int, share: float, out: int, depth_share: float) -> None:
    """Orbital velocity at POINT into slots out + 1 ... out + 3 (m/s; earth axes, the last down).

    It is taken at `depth_share` of the point's depth under the surface whose elevation stands in slot `out`.
    """
    eta = row(out)
    for lane in range(LANES):
        depth = workspace[_POINT + 2 * LANES + lane] + workspace[eta + lane]
        workspace[_POINT + 3 * LANES + lane] = depth_share * (depth if depth > 0.0 else 0.0)
        workspace[eta + LANES + lane] = 0.0
        workspace[eta + 2 * LANES + lane] = 0.0
        workspace[eta + 3 * LANES + lane] = 0.0
    for i in range(waves):
        wave = row(at.WAVE + i * at.WAVE_STRIDE)
        kx = wave + at.WAVE_X * LANES
        ky = wave + at.WAVE_Y * LANES
        k = wave + at.WAVE_NUMBER * LANES
        deep = wave + at.WAVE_DEEP * LANES
        shallow = wave + at.WAVE_SHALLOW * LANES
        cosine = wave + at.WAVE_COSINE * LANES
        sine = wave + at.WAVE_SINE * LANES
        ground = workspace[at.WAVE_GROUND * LANES + i] > 0.0
        for lane in range(LANES):
            fall = exp_negative(-workspace[k + lane] * workspace[_POINT + 3 * LANES + lane])
            decay = workspace[deep + lane] * fall
            growth = workspace[shallow + lane] / fall if ground else 0.0
            along = (decay + growth) * workspace[cosine + lane]
            workspace[eta + LANES + lane] += along * workspace[kx + lane]
            workspace[eta + 2 * LANES + lane] += along * workspace[ky + lane]
            workspace[eta + 3 * LANES + lane] -= (decay - growth) * workspace[k + lane] * workspace[sine + lane]
    for axis in range(1, 4):
        for lane in range(LANES):
            workspace[eta + axis * LANES + lane] *= share


def put_sea(workspace: np.ndarray, lanes: np.ndarray, components: np.ndarray, omegas: np.ndarray, phases: np.ndarray) -> None:
    """Give lanes a sea: a table of components (waves, COLUMNS), rad/s and rad; rows of more waves than that stay at nothing."""
    slots, waves = workspace.reshape(-1, LANES), len(omegas)
    values = {
        at.WAVE_AMPLITUDE: components[:, AMPLITUDE],
        at.WAVE_X: components[:, WAVE_X],
        at.WAVE_Y: components[:, WAVE_Y],
        at.WAVE_NUMBER: components[:, WAVE_NUMBER],
        at.WAVE_DEEP: components[:, DEEP] * components[:, SURFACE_SPEED] / components[:, WAVE_NUMBER],
        at.WAVE_SHALLOW: components[:, SHALLOW] * components[:, SURFACE_SPEED] / components[:, WAVE_NUMBER],
        at.WAVE_PHASE: phases,
        at.WAVE_OMEGA: omegas,
    }
    first = at.WAVE + at.WAVE_STRIDE * np.arange(waves)
    for column, value in values.items():
        slots[np.ix_(first + column, lanes)] = value[:, None]
    ground = workspace[at.WAVE_GROUND * LANES :][:waves]
    ground[:] = np.maximum(ground, components[:, SHALLOW] > 0.0)
    singles = workspace.view(np.float32).reshape(-1, LANES)
    first = at.SINGLE_WAVE + at.SINGLE_STRIDE * np.arange(waves)
    for column in range(at.SINGLE_PHASE):
        singles[np.ix_(first + column, lanes)] = values[column][:, None]

"""The sea at the craft: elevation and orbital velocity at one point of every lane."""

from __future__ import annotations

import numpy as np

from sweep.model.compiled import LANES, kernel
from sweep.model.elementary import exp_negative, sine_cosine
from sweep.model.layout import POINT, PREDICTED, PREDICTED_ROTATION, WAVE_COSINE, WAVE_SINE, row

# Columns of the table of components that the kernels read
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
def elevation(workspace: np.ndarray, components: np.ndarray, phases: np.ndarray, out: int) -> None:
    """Elevation at POINT into slot `out` (m); keeps every component's cosine and sine for `velocity`."""
    eta = row(out)
    for lane in range(LANES):
        workspace[eta + lane] = 0.0
    for i in range(phases.size):
        amplitude = components[i, AMPLITUDE]
        kx = components[i, WAVE_X]
        ky = components[i, WAVE_Y]
        phase = phases[i]
        cosine = row(WAVE_COSINE + i)
        sine = row(WAVE_SINE + i)
        for lane in range(LANES):
            s, c = sine_cosine(kx * workspace[_POINT + lane] + ky * workspace[_POINT + LANES + lane] + phase)
            workspace[cosine + lane] = c
            workspace[sine + lane] = s
            workspace[eta + lane] += amplitude * c


@kernel
def velocity(workspace: np.ndarray, components: np.ndarray, out: int, depth_share: float) -> None:
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
    for i in range(components.shape[0]):
        k = components[i, WAVE_NUMBER]
        speed = components[i, SURFACE_SPEED]
        towards_x = components[i, TOWARDS_X]
        towards_y = components[i, TOWARDS_Y]
        deep = components[i, DEEP] * speed
        shallow = components[i, SHALLOW] * speed
        cosine = row(WAVE_COSINE + i)
        sine = row(WAVE_SINE + i)
        if shallow == 0.0:
            for lane in range(LANES):
                decay = deep * exp_negative(-k * workspace[_POINT + 3 * LANES + lane])
                along = decay * workspace[cosine + lane]
                workspace[eta + LANES + lane] += along * towards_x
                workspace[eta + 2 * LANES + lane] += along * towards_y
                workspace[eta + 3 * LANES + lane] -= decay * workspace[sine + lane]
        else:
            for lane in range(LANES):
                decay = exp_negative(-k * workspace[_POINT + 3 * LANES + lane])
                growth = shallow / decay
                along = (deep * decay + growth) * workspace[cosine + lane]
                workspace[eta + LANES + lane] += along * towards_x
                workspace[eta + 2 * LANES + lane] += along * towards_y
                workspace[eta + 3 * LANES + lane] -= (deep * decay - growth) * workspace[sine + lane]

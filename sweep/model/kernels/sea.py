"""The sea at the craft: elevation and orbital velocity at one point of every lane. Each lane has its own sea."""

from __future__ import annotations

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel
from sweep.model.elementary import exp_negative, sine_cosine
from sweep.model.layout import row

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


@kernel
def place_points(workspace: np.ndarray, place: int) -> None:
    """Set POINT to a body point at the predicted pose: earth x and y, and z as depth below the calm level (m)."""
    r = row(place)
    for axis in range(3):
        point = row(at.POINT.x + axis)
        predicted = row(at.PREDICTED.x + axis)
        rotation = row(at.PREDICTED_ROTATION.first + axis * at.VECTOR.width)
        for lane in range(LANES):
            workspace[point + lane] = (
                workspace[predicted + lane]
                + workspace[rotation + row(at.VECTOR.x) + lane] * workspace[r + row(at.VECTOR.x) + lane]
                + workspace[rotation + row(at.VECTOR.y) + lane] * workspace[r + row(at.VECTOR.y) + lane]
                + workspace[rotation + row(at.VECTOR.z) + lane] * workspace[r + row(at.VECTOR.z) + lane]
            )


@kernel
def elevation(workspace: np.ndarray, waves: int, time: float, share: float, out: int) -> None:
    """Write the elevation at POINT (m) to slot `out`; keep the cosine and sine of every component for `velocity` (M3.9).

    waves: number of components; time in s; share: present wave height over full height.
    """
    eta = row(out)
    for lane in range(LANES):
        workspace[eta + row(at.SEA.eta) + lane] = 0.0
    for i in range(waves):
        wave = row(i * at.WAVE.width)
        amplitude = wave + row(at.WAVE.amplitude)
        kx = wave + row(at.WAVE.x)
        ky = wave + row(at.WAVE.y)
        omega = wave + row(at.WAVE.omega)
        phase = wave + row(at.WAVE.phase)
        cosine = wave + row(at.WAVE.cosine)
        sine = wave + row(at.WAVE.sine)
        for lane in range(LANES):
            s, c = sine_cosine(
                workspace[kx + lane] * workspace[row(at.POINT.x) + lane]
                + workspace[ky + lane] * workspace[row(at.POINT.y) + lane]
                + (workspace[phase + lane] - workspace[omega + lane] * time)
            )
            workspace[cosine + lane] = c
            workspace[sine + lane] = s
            workspace[eta + row(at.SEA.eta) + lane] += workspace[amplitude + lane] * c
    for lane in range(LANES):
        workspace[eta + row(at.SEA.eta) + lane] *= share


@kernel
def velocity(workspace: np.ndarray, waves: int, share: float, out: int, depth_share: float) -> None:
    """Write the orbital velocity at POINT to slots out + 1 ... out + 3 (m/s; earth axes, the last down; M3.10).

    It is taken at `depth_share` of the point's depth below the surface. Slot `out` has the surface's elevation.
    """
    eta = row(out)
    for lane in range(LANES):
        depth = workspace[row(at.POINT.z) + lane] + workspace[eta + row(at.SEA.eta) + lane]
        workspace[row(at.POINT.depth) + lane] = depth_share * (depth if depth > 0.0 else 0.0)
        workspace[eta + row(at.SEA.u) + lane] = 0.0
        workspace[eta + row(at.SEA.v) + lane] = 0.0
        workspace[eta + row(at.SEA.w) + lane] = 0.0
    for i in range(waves):
        wave = row(i * at.WAVE.width)
        k = wave + row(at.WAVE.number)
        towards_x = wave + row(at.WAVE.towards_x)
        towards_y = wave + row(at.WAVE.towards_y)
        deep = wave + row(at.WAVE.deep)
        shallow = wave + row(at.WAVE.shallow)
        cosine = wave + row(at.WAVE.cosine)
        sine = wave + row(at.WAVE.sine)
        ground = workspace[row(at.WAVE_GROUND) + i] > 0.0
        for lane in range(LANES):
            fall = exp_negative(-workspace[k + lane] * workspace[row(at.POINT.depth) + lane])
            decay = workspace[deep + lane] * fall
            growth = workspace[shallow + lane] / fall if ground else 0.0
            along = (decay + growth) * workspace[cosine + lane]
            workspace[eta + row(at.SEA.u) + lane] += along * workspace[towards_x + lane]
            workspace[eta + row(at.SEA.v) + lane] += along * workspace[towards_y + lane]
            workspace[eta + row(at.SEA.w) + lane] -= (decay - growth) * workspace[sine + lane]
    for axis in range(at.VECTOR.width):
        for lane in range(LANES):
            workspace[eta + row(at.SEA.u + axis) + lane] *= share


def put_sea(workspace: np.ndarray, lanes: np.ndarray, components: np.ndarray, omegas: np.ndarray, phases: np.ndarray) -> None:
    """Put a sea into some lanes. The rows of components beyond its own stay zero.

    components: (waves, COLUMNS); omegas, phases: (waves,), rad/s and rad.
    """
    slots, waves = workspace.view(np.float64).reshape(-1, LANES), len(omegas)
    values = {
        at.WAVE.amplitude: components[:, AMPLITUDE],
        at.WAVE.number: components[:, WAVE_NUMBER],
        at.WAVE.towards_x: components[:, TOWARDS_X],
        at.WAVE.towards_y: components[:, TOWARDS_Y],
        at.WAVE.deep: components[:, DEEP] * components[:, SURFACE_SPEED],
        at.WAVE.shallow: components[:, SHALLOW] * components[:, SURFACE_SPEED],
        at.WAVE.x: components[:, WAVE_X],
        at.WAVE.y: components[:, WAVE_Y],
        at.WAVE.phase: phases,
        at.WAVE.omega: omegas,
    }
    first = np.arange(waves) * at.WAVE.width
    for column, value in values.items():
        slots[np.ix_(first + column, lanes)] = value[:, None]
    ground = workspace[row(at.WAVE_GROUND) :][:waves]
    ground[:] = np.maximum(ground, components[:, SHALLOW] > 0.0)
    singles = workspace.view(np.float32).reshape(-1, LANES)
    first = np.arange(waves) * at.SINGLE_WAVE.width
    for column in range(at.COMPONENT.width):
        singles[np.ix_(at.SINGLE_WAVE.first + column + first, lanes)] = values[at.WAVE.first + column][:, None]
    for column, wave_number in ((at.SINGLE_WAVE.turns_x, WAVE_X), (at.SINGLE_WAVE.turns_y, WAVE_Y)):
        singles[np.ix_(column + first, lanes)] = components[:, wave_number, None] / (2.0 * np.pi)

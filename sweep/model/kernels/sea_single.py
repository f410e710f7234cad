"""The sea at the craft in single precision, as a faster form of `sea`: a vector register takes twice as many lanes.

Phases are computed in double precision at one point of the craft and reduced to one turn. From there on, single precision is
good to about 1e-6 of a wave's amplitude.
"""

from __future__ import annotations

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, fused, kernel
from sweep.model.elementary import nearest
from sweep.model.layout import row, single_row

_F = np.float32
_ROUND = _F(12582912.0)  # 1.5 * 2^23: adding it rounds to the nearest whole number
_ZERO, _ONE = _F(0.0), _F(1.0)
_S1, _S3, _S5 = _F(6.283182818774997), _F(-41.34142141281721), _F(81.59618414939698)
_S7, _S9, _S11 = _F(-76.58010283529843), _F(41.20540352294819), _F(-12.271274340512429)
_C0, _C2, _C4 = _F(0.9999992247455859), _F(-19.73898277482547), _F(64.92873246359568)
_C6, _C8, _C10 = _F(-85.27245078051516), _F(58.79425475626453), _F(-21.077097417005998)
_E1, _E2, _E3 = _F(0.999992657962533), _F(0.4998693873758531), _F(0.16589198221586435)
_E4, _E5 = _F(0.03960749675826249), _F(0.005739150845085619)
_LEAST, _PART = _F(-12.0), _F(0.0625)

_TURN = np.float64(0.15915494309189535)  # 1 / (2 pi)


@fused
def sine_cosine(turns: np.float32) -> tuple[np.float32, np.float32]:
    """Sine and cosine of an angle in whole turns; error under 2e-6 for up to 15 turns either way, rounding of the angle aside.

    Polynomials over a whole turn, near-minimax fits as in `elementary`: they need no sign for the half of the turn.
    """
    r = turns - ((turns + _ROUND) - _ROUND)
    y = r * r
    s = r * (_S1 + y * (_S3 + y * (_S5 + y * (_S7 + y * (_S9 + y * _S11)))))
    c = _C0 + y * (_C2 + y * (_C4 + y * (_C6 + y * (_C8 + y * _C10))))
    return s, c


@fused
def exp_negative(x: np.float32) -> np.float32:
    """Exponential of x <= 0; relative error under 1e-5 down to -12; below that, the value at -12."""
    t = (x if x > _LEAST else _LEAST) * _PART
    p = _ONE + t * (_E1 + t * (_E2 + t * (_E3 + t * (_E4 + t * _E5))))
    p2 = p * p
    p4 = p2 * p2
    p8 = p4 * p4
    return p8 * p8


@kernel
def take_phases(workspace: np.ndarray, waves: int, time: float) -> None:
    """Set the phase of every component at the PREDICTED position and a time (s), within half a turn (turns; M3.14)."""
    single = workspace.view(np.float32)
    exact = workspace.view(np.float64)
    for lane in range(LANES):
        exact[row(at.WAVE_FROM.x) + lane] = workspace[row(at.PREDICTED.x) + lane]
        exact[row(at.WAVE_FROM.y) + lane] = workspace[row(at.PREDICTED.y) + lane]
    for i in range(waves):
        wave = single_row(i * at.SINGLE_WAVE.width)
        double = row(i * at.WAVE.width)
        kx = double + row(at.WAVE.x)
        ky = double + row(at.WAVE.y)
        omega = double + row(at.WAVE.omega)
        phase = double + row(at.WAVE.phase)
        out = wave + single_row(at.SINGLE_WAVE.phase)
        for lane in range(LANES):
            turns = (
                exact[kx + lane] * exact[row(at.WAVE_FROM.x) + lane]
                + exact[ky + lane] * exact[row(at.WAVE_FROM.y) + lane]
                + (exact[phase + lane] - exact[omega + lane] * time)
            ) * _TURN
            single[out + lane] = turns - nearest(turns)


@kernel
def place_single(workspace: np.ndarray, place: int) -> None:
    """Set SINGLE_POINT of a body point, X and Y from the PREDICTED position, and its depth below calm level in POINT (m)."""
    single = workspace.view(np.float32)
    p = row(place)
    for lane in range(LANES):
        px = workspace[p + row(at.VECTOR.x) + lane]
        py = workspace[p + row(at.VECTOR.y) + lane]
        pz = workspace[p + row(at.VECTOR.z) + lane]
        single[single_row(at.SINGLE_POINT.x) + lane] = (
            workspace[row(at.PREDICTED_ROTATION.xx) + lane] * px
            + workspace[row(at.PREDICTED_ROTATION.xy) + lane] * py
            + workspace[row(at.PREDICTED_ROTATION.xz) + lane] * pz
        )
        single[single_row(at.SINGLE_POINT.y) + lane] = (
            workspace[row(at.PREDICTED_ROTATION.yx) + lane] * px
            + workspace[row(at.PREDICTED_ROTATION.yy) + lane] * py
            + workspace[row(at.PREDICTED_ROTATION.yz) + lane] * pz
        )
        workspace[row(at.POINT.z) + lane] = (
            workspace[row(at.PREDICTED.z) + lane]
            + workspace[row(at.PREDICTED_ROTATION.zx) + lane] * px
            + workspace[row(at.PREDICTED_ROTATION.zy) + lane] * py
            + workspace[row(at.PREDICTED_ROTATION.zz) + lane] * pz
        )


@kernel
def place_single_point(workspace: np.ndarray) -> None:
    """Set SINGLE_POINT from POINT, which is in earth axes."""
    single = workspace.view(np.float32)
    for lane in range(LANES):
        from_x = workspace[row(at.POINT.x) + lane] - workspace[row(at.PREDICTED.x) + lane]
        from_y = workspace[row(at.POINT.y) + lane] - workspace[row(at.PREDICTED.y) + lane]
        single[single_row(at.SINGLE_POINT.x) + lane] = from_x
        single[single_row(at.SINGLE_POINT.y) + lane] = from_y


@kernel
def surface_at_point(workspace: np.ndarray, waves: int, share: float, out: int) -> None:
    """Write the elevation at POINT (m) to slot `out`. Call after `take_phases`."""
    place_single_point(workspace)
    raise_surface(workspace, waves, share)
    give(workspace, out, at.SURFACE_SLOTS)


@kernel
def place_single_reference(workspace: np.ndarray) -> None:
    """Set SINGLE_POINT of the reference point, on the keel under the centre of gravity."""
    single = workspace.view(np.float32)
    for lane in range(LANES):
        keel = workspace[row(at.KEEL) + lane]
        single[single_row(at.SINGLE_POINT.x) + lane] = workspace[row(at.PREDICTED_ROTATION.xz) + lane] * keel
        single[single_row(at.SINGLE_POINT.y) + lane] = workspace[row(at.PREDICTED_ROTATION.yz) + lane] * keel


@kernel
def raise_surface(workspace: np.ndarray, waves: int, share: float) -> None:
    """Set the elevation of SINGLE_SEA at SINGLE_POINT; keep the cosine and sine of every component (M3.9, M3.14)."""
    single = workspace.view(np.float32)
    for lane in range(LANES):
        single[single_row(at.SINGLE_SEA.eta) + lane] = _ZERO
    for i in range(waves):
        wave = single_row(i * at.SINGLE_WAVE.width)
        amplitude = wave + single_row(at.SINGLE_WAVE.amplitude)
        kx = wave + single_row(at.SINGLE_WAVE.turns_x)
        ky = wave + single_row(at.SINGLE_WAVE.turns_y)
        phase = wave + single_row(at.SINGLE_WAVE.phase)
        cosine = wave + single_row(at.SINGLE_WAVE.cosine)
        sine = wave + single_row(at.SINGLE_WAVE.sine)
        for lane in range(LANES):
            s, c = sine_cosine(
                single[kx + lane] * single[single_row(at.SINGLE_POINT.x) + lane]
                + single[ky + lane] * single[single_row(at.SINGLE_POINT.y) + lane]
                + single[phase + lane]
            )
            single[cosine + lane] = c
            single[sine + lane] = s
            single[single_row(at.SINGLE_SEA.eta) + lane] += single[amplitude + lane] * c
    scale_sea(workspace, at.SINGLE_SEA.eta, at.SINGLE_SEA.u, share)


@kernel
def scale_sea(workspace: np.ndarray, first: int, after: int, share: float) -> None:
    """Multiply slots first ... after - 1 of SINGLE_SEA by `share`, the present wave height over full height."""
    single = workspace.view(np.float32)
    if share != 1.0:
        for i in range(single_row(first), single_row(after)):
            single[i] *= np.float32(share)


@kernel
def take_turns(workspace: np.ndarray, waves: int, station: int) -> None:
    """Set `turn`: cosine and sine of every component's change of phase from the station before to this one."""
    single = workspace.view(np.float32)
    p = row(station)
    before = row(station - at.STATION.width)
    for lane in range(LANES):
        slice_ = workspace[p + lane] - workspace[before + lane]
        single[single_row(at.SINGLE_POINT.x) + lane] = workspace[row(at.PREDICTED_ROTATION.xx) + lane] * slice_
        single[single_row(at.SINGLE_POINT.y) + lane] = workspace[row(at.PREDICTED_ROTATION.yx) + lane] * slice_
    for i in range(waves):
        wave = single_row(i * at.SINGLE_WAVE.width)
        kx = wave + single_row(at.SINGLE_WAVE.turns_x)
        ky = wave + single_row(at.SINGLE_WAVE.turns_y)
        cosine = wave + single_row(at.SINGLE_WAVE.turn.cosine)
        sine = wave + single_row(at.SINGLE_WAVE.turn.sine)
        for lane in range(LANES):
            s, c = sine_cosine(
                single[kx + lane] * single[single_row(at.SINGLE_POINT.x) + lane]
                + single[ky + lane] * single[single_row(at.SINGLE_POINT.y) + lane]
            )
            single[cosine + lane] = c
            single[sine + lane] = s


@kernel
def turn_on(workspace: np.ndarray, waves: int, share: float) -> None:
    """Set the elevation of SINGLE_SEA one station on: every component's phase advances by its `turn` (M3.14)."""
    single = workspace.view(np.float32)
    for lane in range(LANES):
        single[single_row(at.SINGLE_SEA.eta) + lane] = _ZERO
    for i in range(waves):
        wave = single_row(i * at.SINGLE_WAVE.width)
        amplitude = wave + single_row(at.SINGLE_WAVE.amplitude)
        cosine = wave + single_row(at.SINGLE_WAVE.cosine)
        sine = wave + single_row(at.SINGLE_WAVE.sine)
        turn_cosine = wave + single_row(at.SINGLE_WAVE.turn.cosine)
        turn_sine = wave + single_row(at.SINGLE_WAVE.turn.sine)
        for lane in range(LANES):
            c = single[cosine + lane] * single[turn_cosine + lane] - single[sine + lane] * single[turn_sine + lane]
            s = single[sine + lane] * single[turn_cosine + lane] + single[cosine + lane] * single[turn_sine + lane]
            single[cosine + lane] = c
            single[sine + lane] = s
            single[single_row(at.SINGLE_SEA.eta) + lane] += single[amplitude + lane] * c
    scale_sea(workspace, at.SINGLE_SEA.eta, at.SINGLE_SEA.u, share)


@kernel
def move_water(workspace: np.ndarray, waves: int, share: float, depth_share: float) -> None:
    """Set the orbital velocity of SINGLE_SEA at `depth_share` of POINT's depth below the surface, which SINGLE_SEA has.

    M3.10, M3.14.
    """
    single = workspace.view(np.float32)
    part_of_depth = np.float32(depth_share)
    for lane in range(LANES):
        depth = np.float32(workspace[row(at.POINT.z) + lane]) + single[single_row(at.SINGLE_SEA.eta) + lane]
        single[single_row(at.SINGLE_POINT.z) + lane] = part_of_depth * (depth if depth > _ZERO else _ZERO)
        single[single_row(at.SINGLE_SEA.u) + lane] = _ZERO
        single[single_row(at.SINGLE_SEA.v) + lane] = _ZERO
        single[single_row(at.SINGLE_SEA.w) + lane] = _ZERO
    for i in range(waves):
        wave = single_row(i * at.SINGLE_WAVE.width)
        towards_x = wave + single_row(at.SINGLE_WAVE.towards_x)
        towards_y = wave + single_row(at.SINGLE_WAVE.towards_y)
        k = wave + single_row(at.SINGLE_WAVE.number)
        deep = wave + single_row(at.SINGLE_WAVE.deep)
        cosine = wave + single_row(at.SINGLE_WAVE.cosine)
        sine = wave + single_row(at.SINGLE_WAVE.sine)
        if workspace[row(at.WAVE_GROUND) + i] == 0.0:
            for lane in range(LANES):
                fall = exp_negative(-single[k + lane] * single[single_row(at.SINGLE_POINT.z) + lane])
                decay = single[deep + lane] * fall
                along = decay * single[cosine + lane]
                single[single_row(at.SINGLE_SEA.u) + lane] += along * single[towards_x + lane]
                single[single_row(at.SINGLE_SEA.v) + lane] += along * single[towards_y + lane]
                single[single_row(at.SINGLE_SEA.w) + lane] -= decay * single[sine + lane]
        else:
            shallow = wave + single_row(at.SINGLE_WAVE.shallow)
            for lane in range(LANES):
                fall = exp_negative(-single[k + lane] * single[single_row(at.SINGLE_POINT.z) + lane])
                decay = single[deep + lane] * fall
                growth = single[shallow + lane] / fall
                along = (decay + growth) * single[cosine + lane]
                single[single_row(at.SINGLE_SEA.u) + lane] += along * single[towards_x + lane]
                single[single_row(at.SINGLE_SEA.v) + lane] += along * single[towards_y + lane]
                single[single_row(at.SINGLE_SEA.w) + lane] -= (decay - growth) * single[sine + lane]
    scale_sea(workspace, at.SINGLE_SEA.u, at.SINGLE_SEA.first + at.SINGLE_SEA.width, share)


@kernel
def move_surface(workspace: np.ndarray, waves: int, share: float) -> None:
    """Set the orbital velocity of SINGLE_SEA at the surface (M3.10, M3.14)."""
    single = workspace.view(np.float32)
    for lane in range(LANES):
        single[single_row(at.SINGLE_SEA.u) + lane] = _ZERO
        single[single_row(at.SINGLE_SEA.v) + lane] = _ZERO
        single[single_row(at.SINGLE_SEA.w) + lane] = _ZERO
    for i in range(waves):
        wave = single_row(i * at.SINGLE_WAVE.width)
        towards_x = wave + single_row(at.SINGLE_WAVE.towards_x)
        towards_y = wave + single_row(at.SINGLE_WAVE.towards_y)
        deep = wave + single_row(at.SINGLE_WAVE.deep)
        shallow = wave + single_row(at.SINGLE_WAVE.shallow)
        cosine = wave + single_row(at.SINGLE_WAVE.cosine)
        sine = wave + single_row(at.SINGLE_WAVE.sine)
        for lane in range(LANES):
            along = (single[deep + lane] + single[shallow + lane]) * single[cosine + lane]
            down = single[deep + lane] - single[shallow + lane]
            single[single_row(at.SINGLE_SEA.u) + lane] += along * single[towards_x + lane]
            single[single_row(at.SINGLE_SEA.v) + lane] += along * single[towards_y + lane]
            single[single_row(at.SINGLE_SEA.w) + lane] -= down * single[sine + lane]
    scale_sea(workspace, at.SINGLE_SEA.u, at.SINGLE_SEA.first + at.SINGLE_SEA.width, share)


@kernel
def give(workspace: np.ndarray, out: int, slots: int) -> None:
    """Copy the first `slots` slots of SINGLE_SEA to the workspace, from slot `out` on."""
    single = workspace.view(np.float32)
    for slot in range(slots):
        target = row(out + slot)
        source = single_row(at.SINGLE_SEA.eta + slot)
        for lane in range(LANES):
            workspace[target + lane] = single[source + lane]


@kernel
def sample_point(workspace: np.ndarray, waves: int, share: float, place: int, out: int, depth_share: float) -> None:
    """Write the elevation (m) and orbital velocity (m/s) at a body point to four slots, from `out` on."""
    place_single(workspace, place)
    raise_surface(workspace, waves, share)
    move_water(workspace, waves, share, depth_share)
    give(workspace, out, at.SEA.width)

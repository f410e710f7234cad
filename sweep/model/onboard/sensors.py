"""Sensors: what they read of the true state, and when the control code learns of it."""

from __future__ import annotations

import math

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import nearest
from sweep.model.kernels.sea import elevation
from sweep.model.onboard.noise import LaneNoise
from sweep.model.physics.spectra import GRAVITY

READINGS = 64  # rangefinder ticks that are remembered; a power of two


@kernel
def any_range_due(workspace: np.ndarray, time: float) -> bool:
    """Whether the next tick of any lane's rangefinders has come by `time` (s)."""
    for lane in range(LANES):
        if (
            workspace[at.ALIVE * LANES + lane] > 0.0
            and workspace[at.RANGE_TICK * LANES + lane] <= time * workspace[at.RANGE_RATE * LANES + lane] + 1e-9
        ):
            return True
    return False


@kernel
def aim(workspace: np.ndarray, count: int) -> None:
    """POINT: where the beam of the rangefinder whose turn it is meets the calm level (m, earth); needs ROTATION."""
    for lane in range(LANES):
        turn = int(workspace[at.RANGE_TICK * LANES + lane]) % count
        x = workspace[(at.RANGE_PLACE + 3 * turn) * LANES + lane]
        y = workspace[(at.RANGE_PLACE + 3 * turn + 1) * LANES + lane]
        z = workspace[(at.RANGE_PLACE + 3 * turn + 2) * LANES + lane]
        r = at.ROTATION * LANES + lane
        px = workspace[lane] + workspace[r] * x + workspace[r + LANES] * y + workspace[r + 2 * LANES] * z
        py = (
            workspace[LANES + lane] + workspace[r + 3 * LANES] * x + workspace[r + 4 * LANES] * y + workspace[r + 5 * LANES] * z
        )
        pz = (
            workspace[2 * LANES + lane]
            + workspace[r + 6 * LANES] * x
            + workspace[r + 7 * LANES] * y
            + workspace[r + 8 * LANES] * z
        )
        level = max(workspace[r + 8 * LANES], 0.2)
        reach = max(-pz, 0.0) / level
        workspace[(at.RANGE_AIM + 2) * LANES + lane] = reach * workspace[at.RANGE_BEAM * LANES + lane]
        workspace[at.POINT * LANES + lane] = px + reach * workspace[r + 2 * LANES]
        workspace[(at.POINT + 1) * LANES + lane] = py + reach * workspace[r + 5 * LANES]
        workspace[(at.POINT + 2) * LANES + lane] = pz


@part
def range_reading(workspace: np.ndarray, lane: int, true: float, normal: float, uniform: np.ndarray) -> float:
    """What a rangefinder says of a true distance (m); NaN when nothing comes."""
    if workspace[(at.ROTATION + 8) * LANES + lane] < workspace[at.RANGE_TILT * LANES + lane]:
        workspace[at.FAULT_READINGS * LANES + lane] += 1.0
        return math.nan
    reading = true + workspace[at.RANGE_NOISE * LANES + lane] * normal
    if uniform[0] < workspace[at.RANGE_DROPOUT * LANES + lane]:
        workspace[at.FAULT_READINGS * LANES + lane] += 1.0
        return math.nan
    if uniform[1] < workspace[at.RANGE_SPIKES * LANES + lane] + workspace[at.FAULT_SPIKES * LANES + lane]:
        workspace[at.FAULT_READINGS * LANES + lane] += 1.0
        size = max(workspace[at.RANGE_SPIKE_SIZE * LANES + lane], workspace[(at.FAULT_SPIKES + 1) * LANES + lane])
        reading += size * (2.0 * uniform[2] - 1.0)
    blind = workspace[at.RANGE_BLIND * LANES + lane]
    if reading < blind:
        workspace[at.BLIND_READINGS * LANES + lane] += 1.0
        reading = blind
    if reading > workspace[at.RANGE_FAR * LANES + lane]:
        workspace[at.FAULT_READINGS * LANES + lane] += 1.0
        return math.nan
    resolution = workspace[at.RANGE_RESOLUTION * LANES + lane]
    if resolution > 0.0:
        reading = nearest(reading / resolution) * resolution
    return reading


@kernel
def take_ranges(workspace: np.ndarray, readings: np.ndarray, noise: LaneNoise, time: float, count: int) -> None:
    """Every rangefinder that is due reads the water under it; RANGE_SEA holds the elevation at its aim.

    readings: (READINGS, lanes), tick k at row k mod READINGS.
    """
    for lane in range(LANES):
        tick = workspace[at.RANGE_TICK * LANES + lane]
        if workspace[at.ALIVE * LANES + lane] == 0.0 or tick > time * workspace[at.RANGE_RATE * LANES + lane] + 1e-9:
            continue
        k = int(tick)
        level = max(workspace[(at.ROTATION + 8) * LANES + lane], 0.2)
        altitude = -workspace[(at.POINT + 2) * LANES + lane]
        true = (altitude - workspace[at.RANGE_SEA * LANES + lane]) / level
        row = min(k, noise.range_normal.shape[1] - 1)
        table = noise.of_lane[lane]
        reading = range_reading(workspace, lane, true, noise.range_normal[table, row], noise.range_uniform[table, row])
        sensor = k % count
        if workspace[(at.RANGE_SILENT + sensor) * LANES + lane] > 0.0:
            reading = math.nan
        if workspace[(at.RANGE_STUCK + sensor) * LANES + lane] > 0.0:
            reading = workspace[(at.RANGE_LAST + sensor) * LANES + lane]
        readings[k & (READINGS - 1), lane] = reading
        workspace[at.RANGE_TICK * LANES + lane] = tick + 1.0


@part
def median_of_recent(workspace: np.ndarray, lane: int, sensor: int, reading: float) -> float:
    """Median of the last MEDIAN readings of a rangefinder (m), this one included; of an even number the lower middle."""
    first = (at.RECENT + 5 * sensor) * LANES + lane
    for i in range(4, 0, -1):
        workspace[first + i * LANES] = workspace[first + (i - 1) * LANES]
    workspace[first] = reading
    wanted = int(workspace[at.MEDIAN * LANES + lane])
    known = 0
    while known < wanted and workspace[first + known * LANES] == workspace[first + known * LANES]:
        known += 1
    for i in range(known):
        value = workspace[first + i * LANES]
        below = 0
        equal = 0
        for j in range(known):
            below += workspace[first + j * LANES] < value
            equal += workspace[first + j * LANES] == value
        if below <= (known - 1) // 2 < below + equal:
            return value
    return reading


@part
def admit(workspace: np.ndarray, lane: int, sensor: int, reading: float) -> None:
    """RANGE_LAST of a rangefinder takes a reading, unless it jumps through the gate; the fourth jump in a row is believed."""
    value = median_of_recent(workspace, lane, sensor, reading)
    last = workspace[(at.RANGE_LAST + sensor) * LANES + lane]
    gate = workspace[at.GATE * LANES + lane]
    refused = workspace[(at.REFUSED_IN_A_ROW + sensor) * LANES + lane]
    if gate > 0.0 and abs(value - last) > gate and refused < 3.0:
        workspace[(at.REFUSED_IN_A_ROW + sensor) * LANES + lane] = refused + 1.0
        workspace[at.REFUSED * LANES + lane] += 1.0
        return
    workspace[(at.REFUSED_IN_A_ROW + sensor) * LANES + lane] = 0.0
    workspace[(at.RANGE_LAST + sensor) * LANES + lane] = value


@part
def see_ranges(workspace: np.ndarray, lane: int, readings: np.ndarray, count: int, time: float) -> None:
    """Admit every reading that has come since the last control tick, in order; `time` in s."""
    known = math.floor((time - workspace[at.RANGE_LATENCY * LANES + lane]) * workspace[at.RANGE_RATE * LANES + lane] + 1e-9)
    known = min(known, workspace[at.RANGE_TICK * LANES + lane] - 1.0)
    tick = workspace[at.SEEN_TICK * LANES + lane]
    while tick <= known:
        k = int(tick)
        reading = readings[k & (READINGS - 1), lane]
        if reading == reading:
            admit(workspace, lane, k % count, reading)
        tick += 1.0
    workspace[at.SEEN_TICK * LANES + lane] = tick


@kernel
def read_inertial(workspace: np.ndarray, noise: LaneNoise, tick: int) -> None:
    """GYRO_READING (rad/s) and FORCE_READING (m/s2, body axes: acceleration less gravity at the unit's place) of a tick."""
    for lane in range(LANES):
        table = noise.of_lane[lane]
        for axis in range(3):
            workspace[(at.GYRO_READING + axis) * LANES + lane] = (
                workspace[at.GYRO_NOISE * LANES + lane] * noise.gyro[table, tick, axis]
                + workspace[at.GYRO_BIAS * LANES + lane] * noise.gyro_bias[table, axis]
            )
            workspace[(at.FORCE_READING + axis) * LANES + lane] = noise.accelerometer[table, tick, axis]
            workspace[(at.BIAS_DRAWN + axis) * LANES + lane] = noise.accelerometer_bias[table, axis]
    add_motion(workspace)


@kernel
def add_motion(workspace: np.ndarray) -> None:
    """What the inertial unit would read without noise, added to the noise that its readings hold."""
    for lane in range(LANES):
        x = workspace[at.INERTIAL_PLACE * LANES + lane]
        y = workspace[(at.INERTIAL_PLACE + 1) * LANES + lane]
        z = workspace[(at.INERTIAL_PLACE + 2) * LANES + lane]
        u = workspace[6 * LANES + lane]
        v = workspace[7 * LANES + lane]
        w = workspace[8 * LANES + lane]
        p = workspace[9 * LANES + lane]
        q = workspace[10 * LANES + lane]
        r = workspace[11 * LANES + lane]
        d = (at.RATE + 6) * LANES + lane
        dp = workspace[d + 3 * LANES]
        dq = workspace[d + 4 * LANES]
        dr = workspace[d + 5 * LANES]
        g = at.ROTATION * LANES + lane
        fx = workspace[d] + q * w - r * v - GRAVITY * workspace[g + 6 * LANES]
        fy = workspace[d + LANES] + r * u - p * w - GRAVITY * workspace[g + 7 * LANES]
        fz = workspace[d + 2 * LANES] + p * v - q * u - GRAVITY * workspace[g + 8 * LANES]
        fx += dq * z - dr * y + q * (p * y - q * x) - r * (r * x - p * z)
        fy += dr * x - dp * z + r * (q * z - r * y) - p * (p * y - q * x)
        fz += dp * y - dq * x + p * (r * x - p * z) - q * (q * z - r * y)
        shaking = workspace[at.VIBRATION * LANES + lane] * workspace[at.THROTTLE * LANES + lane]
        quiet = workspace[at.ACCELEROMETER_NOISE * LANES + lane]
        spread = math.sqrt(quiet * quiet + shaking * shaking)
        bias = workspace[at.ACCELEROMETER_BIAS * LANES + lane]
        workspace[at.GYRO_READING * LANES + lane] += p
        workspace[(at.GYRO_READING + 1) * LANES + lane] += q
        workspace[(at.GYRO_READING + 2) * LANES + lane] += r
        f = at.FORCE_READING * LANES + lane
        b = at.BIAS_DRAWN * LANES + lane
        workspace[f] = fx + spread * workspace[f] + bias * workspace[b]
        workspace[f + LANES] = fy + spread * workspace[f + LANES] + bias * workspace[b + LANES]
        workspace[f + 2 * LANES] = fz + spread * workspace[f + 2 * LANES] + bias * workspace[b + 2 * LANES]


@part
def navigate(workspace: np.ndarray, lane: int, noise: LaneNoise, time: float) -> None:
    """SPEED_READING (m/s over ground), HEADING_READING (rad) and its rate, renewed at their own rate; needs ROTATION."""
    tick = workspace[at.NAVIGATION_TICK * LANES + lane]
    if tick > time * workspace[at.NAVIGATION_RATE * LANES + lane] + 1e-9:
        return
    k = min(int(tick), noise.speed.shape[1] - 1)
    table = noise.of_lane[lane]
    r = at.ROTATION * LANES + lane
    u = workspace[6 * LANES + lane]
    v = workspace[7 * LANES + lane]
    w = workspace[8 * LANES + lane]
    along_x = workspace[r] * u + workspace[r + LANES] * v + workspace[r + 2 * LANES] * w
    along_y = workspace[r + 3 * LANES] * u + workspace[r + 4 * LANES] * v + workspace[r + 5 * LANES] * w
    speed = math.sqrt(along_x * along_x + along_y * along_y)
    workspace[at.SPEED_READING * LANES + lane] = speed + workspace[at.SPEED_NOISE * LANES + lane] * noise.speed[table, k]
    heading = workspace[5 * LANES + lane] + workspace[at.HEADING_NOISE * LANES + lane] * noise.heading[table, k]
    turned = (heading - workspace[at.HEADING_READING * LANES + lane]) if tick > 0.0 else 0.0
    workspace[at.HEADING_RATE * LANES + lane] = turned * workspace[at.NAVIGATION_RATE * LANES + lane]
    workspace[at.HEADING_READING * LANES + lane] = heading
    workspace[at.NAVIGATION_TICK * LANES + lane] = tick + 1.0


@kernel
def any_beam(workspace: np.ndarray) -> bool:
    """Whether any lane's rangefinders see more than a point."""
    for lane in range(LANES):
        if workspace[at.RANGE_BEAM * LANES + lane] > 0.0:
            return True
    return False


@kernel
def look_around(workspace: np.ndarray, waves: int, time: float, share: float) -> None:
    """RANGE_SEA over the footprint: its mean, or its nearest point, of the centre and four points at its rim.

    POINT and RANGE_SEA hold the centre and its elevation.
    """
    for lane in range(LANES):
        workspace[at.RANGE_AIM * LANES + lane] = workspace[at.POINT * LANES + lane]
        workspace[(at.RANGE_AIM + 1) * LANES + lane] = workspace[(at.POINT + 1) * LANES + lane]
        workspace[at.SCRATCH * LANES + lane] = workspace[at.RANGE_SEA * LANES + lane]
    for side in range(4):
        along = (side == 0) - (side == 1)
        across = (side == 2) - (side == 3)
        for lane in range(LANES):
            radius = workspace[(at.RANGE_AIM + 2) * LANES + lane]
            workspace[at.POINT * LANES + lane] = workspace[at.RANGE_AIM * LANES + lane] + along * radius
            workspace[(at.POINT + 1) * LANES + lane] = workspace[(at.RANGE_AIM + 1) * LANES + lane] + across * radius
        elevation(workspace, waves, time, share, at.FOOTPRINT_SEA)
        for lane in range(LANES):
            rim = workspace[at.FOOTPRINT_SEA * LANES + lane]
            seen = workspace[at.RANGE_SEA * LANES + lane]
            nearest_so_far = rim if rim > seen else seen
            mean_so_far = seen + 0.2 * (rim - workspace[at.SCRATCH * LANES + lane])
            picks = workspace[at.RANGE_NEAREST * LANES + lane] > 0.0
            workspace[at.RANGE_SEA * LANES + lane] = nearest_so_far if picks else mean_so_far

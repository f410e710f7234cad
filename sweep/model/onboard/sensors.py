"""Rangefinders: their readings of the true state, and when these reach the control code."""

from __future__ import annotations

import math

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import nearest
from sweep.model.kernels.sea import elevation
from sweep.model.kernels.sea_single import surface_at_point, take_phases
from sweep.model.layout import alike, row
from sweep.model.onboard.choices import BEAM, WAND
from sweep.model.onboard.noise import LaneNoise
from sweep.model.onboard.servo import ALMOST
from sweep.model.onboard.tap import depth_shown
from sweep.model.onboard.wand import by_whole_steps, drop_of_tip

READINGS = 64  # that are stored of each rangefinder; a power of two


@kernel
def any_range_due(workspace: np.ndarray, time: float, count: int) -> bool:
    """Set RANGE_TURN: a rangefinder of each lane that is due at `time` (s), or -1; return whether any is (M14.2, M14.11).

    Called again after its reading is taken, for another may be due at the same time.
    """
    due = False
    for lane in range(LANES):
        workspace[row(at.RANGE_TURN) + lane] = -1.0
        if workspace[row(at.ALIVE) + lane] == 0.0:
            continue
        for sensor in range(count):
            slot = workspace[row(at.RANGE_TICK + sensor) + lane] * count + sensor
            if slot <= time * workspace[row(at.RANGE_RATE + sensor) + lane] + 1e-9:
                workspace[row(at.RANGE_TURN) + lane] = sensor
                due = True
                break
    return due


@kernel
def aim(workspace: np.ndarray) -> None:
    """Set POINT: where the beam of the rangefinder in RANGE_TURN meets calm water (m, earth axes; M14.3). Needs ROTATION."""
    for lane in range(LANES):
        turn = max(int(workspace[row(at.RANGE_TURN) + lane]), 0)
        place = row(turn * at.RANGE_PLACE.width)
        look = row(turn * at.RANGE_LOOK.width)
        ahead = workspace[look + row(at.RANGE_LOOK.x) + lane]
        aside = workspace[look + row(at.RANGE_LOOK.y) + lane]
        down = workspace[look + row(at.RANGE_LOOK.z) + lane]
        x = workspace[place + row(at.RANGE_PLACE.x) + lane]
        y = workspace[place + row(at.RANGE_PLACE.y) + lane]
        z = workspace[place + row(at.RANGE_PLACE.z) + lane]
        px = (
            workspace[row(at.STATE.x) + lane]
            + workspace[row(at.ROTATION.xx) + lane] * x
            + workspace[row(at.ROTATION.xy) + lane] * y
            + workspace[row(at.ROTATION.xz) + lane] * z
        )
        py = (
            workspace[row(at.STATE.y) + lane]
            + workspace[row(at.ROTATION.yx) + lane] * x
            + workspace[row(at.ROTATION.yy) + lane] * y
            + workspace[row(at.ROTATION.yz) + lane] * z
        )
        pz = (
            workspace[row(at.STATE.z) + lane]
            + workspace[row(at.ROTATION.zx) + lane] * x
            + workspace[row(at.ROTATION.zy) + lane] * y
            + workspace[row(at.ROTATION.zz) + lane] * z
        )
        lx = (
            ahead * workspace[row(at.ROTATION.xx) + lane]
            + aside * workspace[row(at.ROTATION.xy) + lane]
            + down * workspace[row(at.ROTATION.xz) + lane]
        )
        ly = (
            ahead * workspace[row(at.ROTATION.yx) + lane]
            + aside * workspace[row(at.ROTATION.yy) + lane]
            + down * workspace[row(at.ROTATION.yz) + lane]
        )
        lz = (
            ahead * workspace[row(at.ROTATION.zx) + lane]
            + aside * workspace[row(at.ROTATION.zy) + lane]
            + down * workspace[row(at.ROTATION.zz) + lane]
        )
        reach = max(-pz, 0.0) / max(lz, 0.2)
        workspace[row(at.RANGE_DOWN) + lane] = lz
        workspace[row(at.RANGE_AIM.radius) + lane] = reach * workspace[row(at.RANGE_BEAM + turn) + lane]
        workspace[row(at.POINT.x) + lane] = px + reach * lx
        workspace[row(at.POINT.y) + lane] = py + reach * ly
        workspace[row(at.POINT.z) + lane] = pz


@part
def loses(workspace: np.ndarray, lane: int, true: float, uniform: float) -> bool:
    """Whether the reading of the rangefinder in RANGE_TURN is lost: a chain of two states (Gilbert 1960, Elliott 1963; M14.12).

    true: distance along its beam, m; uniform: a draw in 0 ... 1. Needs RANGE_DOWN; sets RANGE_LOST.
    """
    turn = int(workspace[row(at.RANGE_TURN) + lane])
    down = workspace[row(at.RANGE_DOWN) + lane]
    limit = workspace[row(at.RANGE_TILT + turn) + lane]
    tilted = workspace[row(at.RANGE_TILT_LOSS + turn) + lane] * min((1.0 - down * down) / (1.0 - limit * limit), 1.0)
    dry = min(max(true * down / workspace[row(at.RANGE_SPRAY_HEIGHT + turn) + lane], 0.0), 1.0)
    sprayed = workspace[row(at.RANGE_SPRAY_LOSS + turn) + lane] * (1.0 - dry)
    alone = workspace[row(at.RANGE_DROPOUT + turn) + lane]
    share = alone + (1.0 - alone) * (tilted + sprayed - tilted * sprayed)
    length = workspace[row(at.RANGE_BURST + turn) + lane]
    limit_of_draw = share
    if length * (1.0 - share) > 1.0:
        limit_of_draw = (
            1.0 - 1.0 / length if workspace[row(at.RANGE_LOST + turn) + lane] > 0.0 else share / (length * (1.0 - share))
        )
    lost = uniform < limit_of_draw
    workspace[row(at.RANGE_LOST + turn) + lane] = 1.0 if lost else 0.0
    return lost


@part
def range_reading(workspace: np.ndarray, lane: int, true: float, normal: float, uniform: np.ndarray) -> float:
    """The reading (m) of the rangefinder in RANGE_TURN of a true distance (m); NaN for no reading (M14.4).

    normal: standard normal draw; uniform: (3,) draws for drop-out, spike and size of the spike. Needs RANGE_DOWN.
    """
    turn = int(workspace[row(at.RANGE_TURN) + lane])
    if workspace[row(at.RANGE_DOWN) + lane] < workspace[row(at.RANGE_TILT + turn) + lane]:
        workspace[row(at.FAULT_READINGS) + lane] += 1.0
        return math.nan
    if true != true:  # a tap out of the water
        workspace[row(at.FAULT_READINGS) + lane] += 1.0
        return math.nan
    reading = true + workspace[row(at.RANGE_NOISE + turn) + lane] * normal
    if loses(workspace, lane, true, uniform[0]):
        workspace[row(at.FAULT_READINGS) + lane] += 1.0
        return math.nan
    if uniform[1] < workspace[row(at.RANGE_SPIKES + turn) + lane] + workspace[row(at.FAULT_SPIKES.share) + lane]:
        workspace[row(at.FAULT_READINGS) + lane] += 1.0
        size = max(workspace[row(at.RANGE_SPIKE_SIZE + turn) + lane], workspace[row(at.FAULT_SPIKES.size) + lane])
        reading += size * (2.0 * uniform[2] - 1.0)
    blind = workspace[row(at.RANGE_BLIND + turn) + lane]
    if reading < blind:
        workspace[row(at.BLIND_READINGS) + lane] += 1.0
        reading = blind
    if reading > workspace[row(at.RANGE_FAR + turn) + lane]:
        workspace[row(at.FAULT_READINGS) + lane] += 1.0
        return math.nan
    resolution = workspace[row(at.RANGE_RESOLUTION + turn) + lane]
    if resolution > 0.0:
        reading = nearest(reading / resolution) * resolution
    if workspace[row(at.RANGE_ANGLE_STEP + turn) + lane] > 0.0:
        reading = by_whole_steps(workspace, lane, turn, reading)
    return reading


@kernel
def felt(workspace: np.ndarray, lane: int, sensor: int, count: int) -> float:
    """What a rangefinder without a beam feels, m (M19.5, M20.3)."""
    if workspace[row(at.RANGE_KIND + sensor) + lane] == WAND:
        return drop_of_tip(workspace, lane, sensor)
    return depth_shown(workspace, lane, sensor, count)


@kernel
def take_ranges(workspace: np.ndarray, readings: np.ndarray, noise: LaneNoise, count: int) -> None:
    """Take a reading from the rangefinder in RANGE_TURN. RANGE_SEA must have the elevation at its aim (M14.2).

    readings: (count * READINGS, lanes), reading m of a sensor at row sensor * READINGS + m mod READINGS.
    """
    for lane in range(LANES):
        sensor = int(workspace[row(at.RANGE_TURN) + lane])
        if sensor < 0:
            continue
        tick = workspace[row(at.RANGE_TICK + sensor) + lane]
        k = int(tick) * count + sensor
        level = max(workspace[row(at.RANGE_DOWN) + lane], 0.2)
        altitude = -workspace[row(at.POINT.z) + lane]
        true = (altitude - workspace[row(at.RANGE_SEA) + lane]) / level
        if workspace[row(at.RANGE_KIND + sensor) + lane] != BEAM:
            true = felt(workspace, lane, sensor, count)
        sample = min(k, noise.range_normal.shape[1] - 1)
        table = noise.of_lane[lane]
        reading = range_reading(workspace, lane, true, noise.range_normal[table, sample], noise.range_uniform[table, sample])
        if workspace[row(at.RANGE_SILENT + sensor) + lane] > 0.0:
            reading = math.nan
        if workspace[row(at.RANGE_STUCK + sensor) + lane] > 0.0:
            reading = workspace[row(at.RANGE_LAST + sensor) + lane]
        readings[sensor * READINGS + (int(tick) & (READINGS - 1)), lane] = reading
        workspace[row(at.RANGE_TICK + sensor) + lane] = tick + 1.0


@part
def median_of_recent(workspace: np.ndarray, lane: int, sensor: int, reading: float) -> float:
    """Median of a rangefinder's last MEDIAN readings (m), this one included; for an even number, the lower of the middle two.

    M14.8.
    """
    first = at.RECENT + sensor * at.LONGEST_MEDIAN
    for i in range(at.LONGEST_MEDIAN - 1, 0, -1):
        workspace[row(first + i) + lane] = workspace[row(first + i - 1) + lane]
    workspace[row(first) + lane] = reading
    wanted = int(workspace[row(at.MEDIAN) + lane])
    known = 0
    while known < wanted and workspace[row(first + known) + lane] == workspace[row(first + known) + lane]:
        known += 1
    for i in range(known):
        value = workspace[row(first + i) + lane]
        below = 0
        equal = 0
        for j in range(known):
            below += workspace[row(first + j) + lane] < value
            equal += workspace[row(first + j) + lane] == value
        if below <= (known - 1) // 2 < below + equal:
            return value
    return reading


@part
def admit(workspace: np.ndarray, lane: int, sensor: int, reading: float) -> None:
    """Put a reading (m) into a rangefinder's RANGE_LAST; refuse a jump beyond the gate, but accept the fourth in a row.

    M14.9.
    """
    value = median_of_recent(workspace, lane, sensor, reading)
    last = workspace[row(at.RANGE_LAST + sensor) + lane]
    gate = workspace[row(at.GATE + sensor) + lane]
    refused = workspace[row(at.REFUSED_IN_A_ROW + sensor) + lane]
    if gate > 0.0 and abs(value - last) > gate and refused < 3.0:
        workspace[row(at.REFUSED_IN_A_ROW + sensor) + lane] = refused + 1.0
        workspace[row(at.REFUSED) + lane] += 1.0
        return
    workspace[row(at.REFUSED_IN_A_ROW + sensor) + lane] = 0.0
    workspace[row(at.RANGE_LAST + sensor) + lane] = value


@part
def see_ranges(workspace: np.ndarray, lane: int, readings: np.ndarray, count: int, time: float) -> None:
    """Admit every reading that has arrived since the last control tick, in order; `time` in s."""
    for sensor in range(count):
        since = time - workspace[row(at.RANGE_LATENCY + sensor) + lane]
        known = math.floor(since * workspace[row(at.RANGE_RATE + sensor) + lane] + ALMOST)
        taken = workspace[row(at.RANGE_TICK + sensor) + lane]
        tick = workspace[row(at.SEEN_TICK + sensor) + lane]
        while tick < taken and tick * count + sensor <= known:
            reading = readings[sensor * READINGS + (int(tick) & (READINGS - 1)), lane]
            if reading == reading:
                admit(workspace, lane, sensor, reading)
                workspace[row(at.RANGE_HEARD + sensor) + lane] = time
            tick += 1.0
        workspace[row(at.SEEN_TICK + sensor) + lane] = tick


@kernel
def any_beam(workspace: np.ndarray, count: int) -> bool:
    """Whether a rangefinder of any lane has a beam with a width."""
    for sensor in range(count):
        for lane in range(LANES):
            if workspace[row(at.RANGE_BEAM + sensor) + lane] > 0.0:
                return True
    return False


@kernel
def look(workspace: np.ndarray, waves: int, time: float, share: float, beams: bool) -> None:
    """Set RANGE_SEA: elevation (m) where the rangefinders look, at POINT or, with beams, over the footprint (M14.5).

    waves, time, share: as in `elevation`.
    """
    elevation(workspace, waves, time, share, at.RANGE_SEA)
    if beams:
        keep_centre(workspace)
        for side in range(4):
            aim_aside(workspace, side)
            elevation(workspace, waves, time, share, at.FOOTPRINT_SEA)
            add_rim(workspace)


@kernel
def look_single(workspace: np.ndarray, waves: int, time: float, share: float, beams: bool) -> None:
    """As `look`, in single precision."""
    take_phases(workspace, waves, time)
    surface_at_point(workspace, waves, share, at.RANGE_SEA)
    if beams:
        keep_centre(workspace)
        for side in range(4):
            aim_aside(workspace, side)
            surface_at_point(workspace, waves, share, at.FOOTPRINT_SEA)
            add_rim(workspace)


@kernel
def keep_centre(workspace: np.ndarray) -> None:
    """Store the centre of the footprint and the elevation there, before its rim is sampled."""
    for lane in range(LANES):
        workspace[row(at.RANGE_AIM.x) + lane] = workspace[row(at.POINT.x) + lane]
        workspace[row(at.RANGE_AIM.y) + lane] = workspace[row(at.POINT.y) + lane]
        workspace[row(at.SCRATCH) + lane] = workspace[row(at.RANGE_SEA) + lane]


@kernel
def aim_aside(workspace: np.ndarray, side: int) -> None:
    """Set POINT to one of four points on the rim of the footprint: fore, aft and to both sides along X and Y."""
    along = alike(workspace, (side == 0) - (side == 1))
    across = alike(workspace, (side == 2) - (side == 3))
    for lane in range(LANES):
        radius = workspace[row(at.RANGE_AIM.radius) + lane]
        workspace[row(at.POINT.x) + lane] = workspace[row(at.RANGE_AIM.x) + lane] + along * radius
        workspace[row(at.POINT.y) + lane] = workspace[row(at.RANGE_AIM.y) + lane] + across * radius


@kernel
def add_rim(workspace: np.ndarray) -> None:
    """Take a point of the rim into RANGE_SEA: add it to the mean, or keep the nearest so far."""
    for lane in range(LANES):
        rim = workspace[row(at.FOOTPRINT_SEA) + lane]
        seen = workspace[row(at.RANGE_SEA) + lane]
        nearest_so_far = rim if rim > seen else seen
        mean_so_far = seen + 0.2 * (rim - workspace[row(at.SCRATCH) + lane])
        turn = max(int(workspace[row(at.RANGE_TURN) + lane]), 0)
        picks = workspace[row(at.RANGE_NEAREST + turn) + lane] > 0.0
        workspace[row(at.RANGE_SEA) + lane] = nearest_so_far if picks else mean_so_far

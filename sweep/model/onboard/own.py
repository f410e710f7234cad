"""A control law of the builder's own: what it is given at a tick and what it commands, through the address of its code.

The code lies in a library that another room compiles, guards and loads; here it is two buffers and an address to call.
"""

from __future__ import annotations

import ctypes
import math
from itertools import count, islice
from typing import Any, NamedTuple, Protocol

import numpy as np
from llvmlite import ir
from numba import config, types
from numba.extending import intrinsic

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import clip, wrapped
from sweep.model.layout import alike, keep, row
from sweep.model.onboard.control import Tick, follow_course, quantised, steer_others
from sweep.model.onboard.motion_sensors import navigate, read_inertial
from sweep.model.onboard.noise import LaneNoise
from sweep.model.onboard.sensors import READINGS
from sweep.model.onboard.servo import ALMOST, RING


class Given(NamedTuple):
    """Places of what a lane's code is given, in one column; `queue` is the first of pairs of rangefinder and distance (m)."""

    flies: int  # 1 in a lane whose flight goes on
    elapsed: int
    gyro: int  # three
    force: int  # three
    speed: int
    heading: int
    is_new: int
    armed: int
    link_age: int
    go: int
    wanted_speed: int
    wanted_course: int
    wanted_height: int
    trim: int  # three: height and pitch command, throttle
    waiting: int  # how many pairs there are
    queue: int


class Wanted(NamedTuple):
    """Places of what a lane's code commands; failed: the kind of `FAILURES`, or 0; what, value, tick: of what was wrong."""

    foils: int  # MAX_FOILS
    rudder: int
    port: int
    starboard: int
    height: int
    refused: int
    failed: int
    what: int
    value: int
    tick: int


GIVEN = Given(0, 1, 2, 5, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 20, 21)
WANTED = Wanted(0, *islice(count(at.MAX_FOILS), len(Wanted._fields) - 1))
WANTED_WIDTH = WANTED.tick + 1  # numbers in the row of a lane
LEADS = 3.0  # rad, less than half a turn: by so much the wanted course leads, so that a longer turn goes its way (M15.12)
FAILURES = ("", "crashed", "hung", "endless", "not-a-number", "out-of-range")


class Sizes(NamedTuple):
    """What a builder's code is compiled for: its text's digest, the craft's parts, and the sizes of its header."""

    code: str
    foils: tuple[str, ...]
    rangefinders: tuple[str, ...]
    most_ranges: int
    height_ticks: int
    median: int
    rudder: bool
    differential: bool
    settings: tuple[str, ...]


class OwnCode(NamedTuple):
    """Code to call: its address, and a number to call it with.

    given, wanted: a row of lanes for each of their places, flat as the workspace is, in the single precision that the code has.
    """

    address: int
    context: int
    given: np.ndarray
    wanted: np.ndarray


class Library(Protocol):
    """Compiled code of one `Sizes`."""

    def begin(self, slots: np.ndarray, period: float) -> OwnCode:
        """Start the code of all lanes; slots: (slots, lanes), as the flights begin; period: of control ticks, s."""


NO_CODE = OwnCode(0, 0, np.zeros(LANES, np.float32), np.zeros(LANES, np.float32))
LIBRARIES: dict[Sizes, Library] = {}
"""What is loaded in this process: nothing, but in the children that `sweep.own` starts."""


class NotLoadedError(LookupError):
    """A flight asks for code that this process has not loaded."""


def code_of(sizes: Sizes | None, workspace: np.ndarray, period: float) -> OwnCode:
    """The code that flies lanes, started; NO_CODE for a law that is built in. Raises NotLoadedError."""
    if sizes is None:
        return NO_CODE
    if sizes not in LIBRARIES:
        raise NotLoadedError(f"code {sizes.code} is not loaded in this process")
    return LIBRARIES[sizes].begin(workspace.reshape(-1, LANES), period)


def _called(address: int, context: int) -> int:
    """As `_call`, interpreted."""
    found: int = ctypes.CFUNCTYPE(ctypes.c_int64, ctypes.c_int64)(int(address))(int(context))
    return found


@intrinsic
def _call(_: Any, address: Any, context: Any) -> Any:
    """Call a C function (int64) -> int64 at an address, which machine code on the disk does not hold."""

    def made(_: Any, builder: Any, __: Any, arguments: Any) -> Any:
        kind = ir.FunctionType(ir.IntType(64), [ir.IntType(64)])
        return builder.call(builder.inttoptr(arguments[0], kind.as_pointer()), [arguments[1]])

    return types.int64(types.int64, types.int64), made


call: Any = _called if getattr(config, "DISABLE_JIT") else _call  # noqa: B009


@part
def queue_ranges(workspace: np.ndarray, lane: int, given: np.ndarray, readings: np.ndarray, count: int, time: float) -> None:
    """Give every reading that has arrived since the last tick, of each rangefinder the oldest first; time in s (M15.19)."""
    waiting = 0
    room = (given.size // LANES - GIVEN.queue) // 2
    for sensor in range(count):
        since = time - workspace[row(at.RANGE_LATENCY + sensor) + lane]
        known = math.floor(since * workspace[row(at.RANGE_RATE + sensor) + lane] + ALMOST)
        taken = workspace[row(at.RANGE_TICK + sensor) + lane]
        tick = workspace[row(at.SEEN_TICK + sensor) + lane]
        while tick < taken and tick * count + sensor <= known:
            reading = readings[sensor * READINGS + (int(tick) & (READINGS - 1)), lane]
            if reading == reading:
                workspace[row(at.RANGE_LAST + sensor) + lane] = reading
                if waiting < room:
                    given[row(GIVEN.queue + 2 * waiting) + lane] = sensor
                    given[row(GIVEN.queue + 2 * waiting + 1) + lane] = reading
                    waiting += 1
            tick += 1.0
        workspace[row(at.SEEN_TICK + sensor) + lane] = tick
    given[row(GIVEN.waiting) + lane] = waiting


@kernel
def give(
    workspace: np.ndarray, given: np.ndarray, readings: np.ndarray, noise: LaneNoise, counts: at.PartCounts, tick: Tick
) -> None:
    """Fill in what the code of every lane is given at a tick. ROTATION must be that of the STATE."""
    time, period = tick.number * tick.period, alike(workspace, tick.period)
    for lane in range(LANES):
        if workspace[row(at.ALIVE) + lane] > 0.0:
            queue_ranges(workspace, lane, given, readings, counts.rangefinders, time)
            fix = workspace[row(at.NAVIGATION_TICK) + lane]
            navigate(workspace, lane, noise, time)
            given[row(GIVEN.is_new) + lane] = workspace[row(at.NAVIGATION_TICK) + lane] > fix
    for lane in range(LANES):
        follow_course(workspace, lane, period)
    for axis in range(3):
        gyro, force, trim = row(at.GYRO_READING.first + axis), row(at.FORCE_READING.first + axis), row(at.TRIM.first + axis)
        for lane in range(LANES):
            given[row(GIVEN.gyro + axis) + lane] = workspace[gyro + lane]
            given[row(GIVEN.force + axis) + lane] = workspace[force + lane]
            given[row(GIVEN.trim + axis) + lane] = workspace[trim + lane]
    for lane in range(LANES):
        given[row(GIVEN.flies) + lane] = workspace[row(at.ALIVE) + lane]
        given[row(GIVEN.elapsed) + lane] = tick.period
        given[row(GIVEN.armed) + lane] = 1.0 - workspace[row(at.DISARMED) + lane]
        given[row(GIVEN.link_age) + lane] = workspace[row(at.LINK_AGE) + lane]
        given[row(GIVEN.go) + lane] = 1.0 - workspace[row(at.AT_REST) + lane]
        given[row(GIVEN.speed) + lane] = workspace[row(at.SPEED_READING) + lane]
        given[row(GIVEN.wanted_speed) + lane] = workspace[row(at.WANTED_SPEED) + lane]
        given[row(GIVEN.wanted_height) + lane] = workspace[row(at.RIDE_HEIGHT) + lane]
    for lane in range(LANES):
        wanted = workspace[row(at.COURSE_WANTED) + lane] + workspace[row(at.LEG_HEADING) + lane]
        course = workspace[row(at.COURSE) + lane]
        led = course + clip(wanted - course, -LEADS, LEADS)
        given[row(GIVEN.wanted_course) + lane] = wrapped(wanted if abs(wanted - course) <= LEADS else led)
        given[row(GIVEN.heading) + lane] = wrapped(workspace[row(at.HEADING_READING) + lane])


@kernel
def take(workspace: np.ndarray, wanted: np.ndarray, counts: at.PartCounts, commands: np.ndarray, newest: int) -> None:
    """Command what the code wanted; a lane whose code has failed ends its flight, BROKEN (M15.19)."""
    for lane in range(LANES):
        failed, alive = alike(workspace, wanted[row(WANTED.failed) + lane]), workspace[row(at.ALIVE) + lane]
        breaks = alive > 0.0 and failed > 0.0
        workspace[row(at.BROKEN) + lane] = 1.0 + failed if breaks else workspace[row(at.BROKEN) + lane]
        workspace[row(at.ALIVE) + lane] = 0.0 if breaks else alive
    for foil in range(counts.foils):
        quantum = row(at.FOIL.moved_by.quantum + foil * at.FOIL.width)
        travel = row(at.FOIL.moved_by.travel + foil * at.FOIL.width)
        order = commands[foil, newest]
        for lane in range(LANES):
            angle = alike(workspace, wanted[row(WANTED.foils + foil) + lane])
            angle = quantised(angle, workspace[quantum + lane], workspace[travel + lane])
            order[lane] = angle if workspace[row(at.ALIVE) + lane] > 0.0 else order[lane]
    order = commands[counts.foils, newest]
    for lane in range(LANES):
        angle = alike(workspace, wanted[row(WANTED.rudder) + lane])
        quantum, travel = workspace[row(at.RUDDER_SERVO.quantum) + lane], workspace[row(at.RUDDER_SERVO.travel) + lane]
        workspace[row(at.RUDDER_WISH) + lane] = clip(angle, -travel, travel)
        order[lane] = quantised(angle, quantum, travel) if workspace[row(at.ALIVE) + lane] > 0.0 else order[lane]
    steer_others(workspace, counts, commands, newest)
    for lane in range(LANES):
        port, starboard = (
            alike(workspace, wanted[row(WANTED.port) + lane]),
            alike(workspace, wanted[row(WANTED.starboard) + lane]),
        )
        keep(workspace, at.THROTTLE, lane, 0.5 * (port + starboard))
        keep(workspace, at.SIDE_THROTTLE, lane, 0.5 * (port - starboard))
        keep(workspace, at.HEIGHT_ESTIMATE, lane, alike(workspace, wanted[row(WANTED.height) + lane]))
        keep(workspace, at.REFUSED, lane, alike(workspace, wanted[row(WANTED.refused) + lane]))


@kernel
def control_own(
    workspace: np.ndarray, commands: np.ndarray, readings: np.ndarray, run: tuple[OwnCode, LaneNoise], counts: at.PartCounts,
    tick: Tick,
) -> None:  # fmt: skip
    """As `control.control`, by the builder's own code."""
    own, noise = run
    read_inertial(workspace, noise, min(tick.number, noise.gyro.shape[1] - 1))
    give(workspace, own.given, readings, noise, counts, tick)
    call(own.address, own.context)
    take(workspace, own.wanted, counts, commands, tick.number & (RING - 1))

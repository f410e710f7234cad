"""A builder's own code, loaded: only in a child process that is there to contain it."""

from __future__ import annotations

import ctypes
import math
from pathlib import Path

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES
from sweep.model.layout import vector_zeros
from sweep.model.onboard.own import FAILURES, GIVEN, LIBRARIES, WANTED, WANTED_WIDTH, OwnCode, Sizes
from sweep.model.physics.spectra import GRAVITY
from sweep.own.source import numbers

TICKS_BEFORE = 10
"""Ticks in calm water, armed in the last one, before a flight begins, so that filters are full (judgement)."""
SIGNALS = {
    "SIGFPE": "it divided a whole number by 0",
    "SIGABRT": "it wrote past an array on its stack",
    "SIGILL": "it ran into what cannot be carried out",
    "SIGTRAP": "it ran into what cannot be carried out",
    "SIGBUS": "it read or wrote at an address that is none",
    "SIGSEGV": "it read or wrote outside its memory",
}


class Loaded:
    """Code of one `Sizes` with its guard; see `model.onboard.own.Library`."""

    def __init__(self, sizes: Sizes, place: Path) -> None:
        self._sizes, self._code = sizes, ctypes.CDLL(str(place))
        self._period = 0.0
        self._given = vector_zeros((GIVEN.queue + 2 * sizes.most_ranges, LANES), np.float32)
        self._wanted = vector_zeros((WANTED_WIDTH, LANES), np.float32)
        self._numbers = np.zeros((LANES, 1))
        self._log: list[str] = []
        opened = self._code.guard_open(_of(self._given), _of(self._wanted))
        if opened:
            raise MemoryError
        self._code.guard_tick.argtypes, self._code.guard_tick.restype = [ctypes.c_int64], ctypes.c_int64
        self._address = ctypes.cast(self._code.guard_tick, ctypes.c_void_p).value or 0

    def begin(self, slots: np.ndarray, period: float) -> OwnCode:
        """Start every lane's code, as a boat that waits in calm water is armed.

        It is armed on the course that the flight begins on: in the flight's first tick it would take a noisy heading for it.
        """
        self._log += self._told()
        self._period = period
        self._numbers = numbers(self._sizes, slots, period)
        width, first = ctypes.c_long(self._numbers.shape[1]), ctypes.c_long(-TICKS_BEFORE)
        self._code.guard_begin(_of(self._numbers), width, 0, first)
        self._given[:] = before(self._sizes, slots, period).T
        for tick in range(TICKS_BEFORE):
            self._given[GIVEN.armed] = float(tick == TICKS_BEFORE - 1)
            self._code.guard_tick(0)
        return OwnCode(self._address, 0, self._given.reshape(-1), self._wanted.reshape(-1))

    def told(self) -> list[str]:
        """What is known of the flights whose code failed since this was asked last: a clause each."""
        found, self._log = [*self._log, *self._told()], []
        self._wanted[WANTED.failed] = 0.0
        return found

    def _told(self) -> list[str]:
        failed = np.flatnonzero(self._wanted[WANTED.failed] > 0.0)
        return list(dict.fromkeys(clause(self._sizes, self._wanted[:, lane], self._period) for lane in failed))


def _of(array: np.ndarray) -> ctypes.c_void_p:
    return ctypes.c_void_p(array.ctypes.data)


def before(sizes: Sizes, slots: np.ndarray, period: float) -> np.ndarray:
    """What a boat that lies level as its code knows it is given, not armed, (lanes, columns).

    No fix is new: the first one of the flight is the first that it knows, as for a built-in law. A rate of turning from this
    heading to a noisy one would stir it.
    """
    given = np.zeros((LANES, GIVEN.queue + 2 * sizes.most_ranges))
    pitch = slots[at.PITCH_ESTIMATE]
    given[:, GIVEN.flies], given[:, GIVEN.elapsed] = 1.0, period
    given[:, GIVEN.force] = GRAVITY * np.sin(pitch)
    given[:, GIVEN.force + 2] = -GRAVITY * np.cos(pitch)
    given[:, GIVEN.speed] = slots[at.SPEED_READING]
    given[:, GIVEN.go] = slots[at.AT_REST] == 0.0
    given[:, GIVEN.wanted_speed], given[:, GIVEN.wanted_height] = slots[at.WANTED_SPEED], slots[at.RIDE_HEIGHT]
    given[:, GIVEN.trim : GIVEN.trim + 3] = slots[at.TRIM.slots()].T
    given[:, GIVEN.waiting] = len(sizes.rangefinders)
    for i in range(len(sizes.rangefinders)):
        x, _, mounted = slots[at.KNOWN_PLACE.slots(i * at.KNOWN_PLACE.width)]
        look = np.nan_to_num(slots[at.KNOWN_LOOK.slots(i * at.KNOWN_LOOK.width)], nan=1.0)
        height = slots[at.HEIGHT_ESTIMATE] + mounted * np.cos(pitch) + x * np.sin(pitch)
        distance = height / (look[2] * np.cos(pitch) - look[0] * np.sin(pitch))
        given[:, GIVEN.queue + 2 * i] = i
        given[:, GIVEN.queue + 2 * i + 1] = np.clip(distance, 0.0, np.minimum(slots[at.RANGE_FAR + i], 1e6))
    return given


def clause(sizes: Sizes, wanted: np.ndarray, period: float) -> str:
    """What failed, when, in words; wanted: of a lane; period: of control ticks, s."""
    kind, what, value = FAILURES[int(wanted[WANTED.failed])], int(wanted[WANTED.what]), float(wanted[WANTED.value])
    tick = int(wanted[WANTED.tick])
    hidden = kind == "not-a-number" and what < 0  # memories are not looked through at every tick
    when = f"{'by' if hidden else 'at'} tick {tick}, {tick * period:.2f} s" if tick >= 0 else "before the flight"
    return f"{when}, {_said(sizes, kind, what, value)}"


def _said(sizes: Sizes, kind: str, what: int, value: float) -> str:
    if kind == "crashed":
        import signal

        return SIGNALS.get(signal.Signals(what).name if what in {*signal.Signals} else "", SIGNALS["SIGSEGV"])
    if kind == "hung":
        return "it did not come back within a fifth of a second of processor time"
    if kind == "endless":
        return "it called itself without end, or wanted more than half a megabyte of stack"
    named = _command(sizes, what)
    if kind == "not-a-number":
        inside = "somewhere inside it made a value that is not a number (0/0, a root of less than 0, NAN)"
        return inside if what < 0 else f"{named} was not a number, or was not set"
    most = "0 ... 1" if what in (WANTED.port, WANTED.starboard) else "its servo's travel"
    shown = f"{value:.3g}" if most == "0 ... 1" else f"{math.degrees(value):.1f} deg"
    return f"{named} was {shown}, out of {most}"


def _command(sizes: Sizes, what: int) -> str:
    if what == WANTED.rudder:
        return "its command to the rudder"
    if what in (WANTED.port, WANTED.starboard):
        return "its throttle"
    return f"its command to foil {sizes.foils[what]}" if 0 <= what < len(sizes.foils) else "its command"


def load(sizes: Sizes, place: Path) -> Loaded:
    """Load code into this process, for the kernels to find. Once for each `Sizes`; the last one's guard is in charge."""
    loaded = Loaded(sizes, place)
    LIBRARIES.clear()
    LIBRARIES[sizes] = loaded
    return loaded

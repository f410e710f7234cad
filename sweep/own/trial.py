"""The first flight of a builder's own code: on made-up readings, in a process of its own, under the compiler's checks.

It is no flight of a boat: readings within what control.h allows, steady and rough, with none and with many of the rangefinders,
a heading that crosses half a turn, and a boat that is armed and told to go.
"""

from __future__ import annotations

import math
import os
import re
import subprocess
import tempfile
from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np

from sweep.model.compiled import LANES
from sweep.model.onboard.own import GIVEN, WANTED, WANTED_WIDTH, Sizes
from sweep.model.physics.spectra import GRAVITY
from sweep.own.compiling import PATTERNED, SANITIZED, ZEROED, OwnCodeError, program
from sweep.own.library import before, clause
from sweep.own.source import numbers

TICKS, ARMED_AT, GO_AT = 400, 10, 30  # ticks (judgement)
LONGEST = 4  # s of processor time, for all ticks (judgement)
ROW = WANTED_WIDTH * np.dtype(np.float32).itemsize
"""Bytes of what the code wants at a tick."""
FILLED = ((ZEROED, 0), (PATTERNED, 63))
"""Fillings of the stack and of every byte of the memory before control_start; of 63s, a float is 0.75."""


class _Tried(NamedTuple):
    """Code, its sizes, the name of its file, and the file of readings."""

    sizes: Sizes
    text: str
    name: str
    readings: Path


@cache
def try_out(sizes: Sizes, text: str, name: str, slots: bytes, period: float) -> None:
    """Fly it once. slots: of a craft as a flight begins, (slots,) float64; period: of control ticks, s. Raises OwnCodeError."""
    row = np.frombuffer(slots)
    settings = numbers(sizes, np.repeat(row[:, None], LANES, axis=1), period)[0]
    given = readings(sizes, row, period)
    with tempfile.TemporaryDirectory() as place:
        tried = _Tried(sizes, text, name, Path(place) / "readings")
        head = np.array([len(given), given.shape[1], len(settings)], dtype=np.float64)
        tried.readings.write_bytes(head.tobytes() + settings.tobytes() + given.astype(np.float32).tobytes())
        _checked(tried, Path(place) / "checked", period)
        one, other = (_flown(tried, Path(place) / f"{fill}", option, fill) for option, fill in FILLED)
        if one is not None and other is not None and one != other:
            raise OwnCodeError(
                f"{name} reads what nobody set: with another filling of its stack, or of its memory before control_start, it "
                f"commands something else from tick {_first_other(one, other)} on. control_start must set all of control_memory"
            )


def readings(sizes: Sizes, slots: np.ndarray, period: float) -> np.ndarray:
    """What the code is given, (ticks, columns): the same each time."""
    still = before(sizes, np.repeat(slots[:, None], LANES, axis=1), period)[0]
    given = np.repeat(still[None], TICKS, axis=0)
    time = np.arange(TICKS) * period
    rough = np.where(np.arange(TICKS) > TICKS // 2, 1.0, 0.2)
    for axis, rate in enumerate((1.1, 1.7, 0.6)):
        given[:, GIVEN.gyro + axis] = rough * np.sin(2.0 * math.pi * rate * time)
        given[:, GIVEN.force + axis] += rough * 0.2 * GRAVITY * np.sin(2.0 * math.pi * (rate + 0.3) * time)
    given[:, GIVEN.speed] = np.maximum(given[:, GIVEN.speed] * (1.0 - 0.5 * rough * np.sin(time)), 0.0)
    given[:, GIVEN.heading] = np.remainder(3.0 + rough * np.sin(time) + math.pi, 2.0 * math.pi) - math.pi
    given[:, GIVEN.wanted_course] = 3.1
    given[:, GIVEN.armed] = np.arange(TICKS) >= ARMED_AT
    given[:, GIVEN.go] = np.arange(TICKS) >= GO_AT
    given[:, GIVEN.is_new] = np.arange(TICKS) % 7 == 0
    given[:, GIVEN.waiting] = np.minimum(np.arange(TICKS) % 3 * len(sizes.rangefinders), sizes.most_ranges)
    for place in range(sizes.most_ranges):
        at = GIVEN.queue + 2 * place
        first = still[GIVEN.queue + 2 * (place % len(sizes.rangefinders)) + 1]
        given[:, at] = place % len(sizes.rangefinders)
        given[:, at + 1] = np.maximum(first * (1.0 + 0.5 * rough * np.sin(5.0 * time + place)), 0.0)
    return given


def _checked(tried: _Tried, folder: Path, period: float) -> None:
    """Under the sanitizers where the compiler has them; without them all the same."""
    folder.mkdir()
    name, code = tried.name, (tried.sizes, tried.text, tried.name)
    made = program(folder, *code, SANITIZED) or program(folder, *code, ("-g", ZEROED))
    if made is None:
        raise OwnCodeError(f"{name}: the compiler makes no program of it here")
    found = _run([str(made), str(tried.readings), "0"], folder)
    whole = found.stdout[: len(found.stdout) // ROW * ROW]
    rows = np.frombuffer(whole, np.float32).reshape(-1, WANTED_WIDTH)
    if found.returncode:
        raise OwnCodeError(f"{name}, tried on made-up readings, at tick {len(rows)}: {_why(found, name)}")
    if len(rows) and rows[-1, WANTED.failed] > 0.0:
        raise OwnCodeError(f"{name}, tried on made-up readings: {clause(tried.sizes, rows[-1], period)}")


def _why(found: subprocess.CompletedProcess[bytes], name: str) -> str:
    """What a checked run says of itself, in a line."""
    said = found.stderr.decode("utf-8", "replace")
    place = re.search(rf"{re.escape(name)}:(\d+)", said)
    line = f"line {place[1]}: " if place else ""
    if match := re.search(r"runtime error: (.*)", said):
        return f"{line}{match[1]}"
    if match := re.search(r"AddressSanitizer: (stack-overflow)?([a-z-]*)", said):
        told = "it called itself without end, or wanted more stack than there is" if match[1] else _plain(match[2])
        return f"{line}{told}"
    if found.returncode in (-24, -9):
        return f"it did not come back within {LONGEST} s"
    return f"{line}it crashed"


def _plain(kind: str) -> str:
    """An address that a sanitizer complains of, in words."""
    return f"it read or wrote outside its memory ({kind.replace('-', ' ').strip()})" if kind else "it crashed"


def _flown(tried: _Tried, folder: Path, option: str, fill: int) -> bytes | None:
    """What it wanted, all ticks; None if this compiler cannot fill the stack."""
    folder.mkdir()
    made = program(folder, tried.sizes, tried.text, tried.name, (option,))
    return None if made is None else _run([str(made), str(tried.readings), str(fill)], folder).stdout


def _first_other(one: bytes, other: bytes) -> int:
    return next((at // ROW for at in range(0, len(one), ROW) if one[at : at + ROW] != other[at : at + ROW]), 0)


def _run(command: list[str], folder: Path) -> subprocess.CompletedProcess[bytes]:
    options = {"ASAN_OPTIONS": "detect_leaks=0:symbolize=1:abort_on_error=0", "LC_ALL": "C", "PATH": os.environ.get("PATH", "")}
    limited = ["/bin/sh", "-c", f'ulimit -t {LONGEST}; exec "$@"', "sh", *command]
    try:
        return subprocess.run(limited, cwd=folder, capture_output=True, check=False, timeout=6 * LONGEST, env=options)
    except subprocess.TimeoutExpired:
        return subprocess.CompletedProcess(command, -9, b"", b"")

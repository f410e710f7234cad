"""The second model's safe state, from MODEL.md (M15.21): what a boat is stopped for at every control tick."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Sequence
from typing import NamedTuple


class Known(NamedTuple):
    """What a tick knows: whether the switch is on, age of the link (s), rangefinders that have read, estimates (rad)."""

    on: bool
    link_age: float
    heard: Collection[int]
    roll: float = 0.0
    pitch: float = 0.0


def patience(rates: Sequence[float], trust: Sequence[float], period: float) -> int:
    """How many ticks a rangefinder may be silent before the boat is stopped. rates: of each, Hz; period: s."""
    longest = max(1.0 / rate for rate, weight in zip(rates, trust, strict=True) if weight > 0.0)
    return max(round(sorted((0.5, 10.0 * longest, 2.0))[1] / period), 1)


def stops(ticks: Iterable[Known], used: Collection[int], most: int) -> Iterator[str]:
    """'' while the boat runs, else why not. used: rangefinders whose silence counts; most: ticks of it at which it stops."""
    silent, why = dict.fromkeys(used, 0), ""
    for known in ticks:
        silent = {sensor: 0 if sensor in known.heard else since + 1 for sensor, since in silent.items()}
        lean = math.degrees(math.acos(math.cos(known.roll) * math.cos(known.pitch)))
        if not known.on:
            why = "switch"
        elif why in ("", "switch"):
            faults = {"link": known.link_age > 0.5, "rangefinder": max(silent.values()) >= most, "lean": lean > 60.0}
            why = next((name for name, stale in faults.items() if stale), "")
        yield why

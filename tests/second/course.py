"""The second model's course, from MODEL.md (M15.12, M15.18): what the control code wants at every tick."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np


class Leg(NamedTuple):
    """length: s, or m if `by_path`; heading: wanted, rad; rate: rad/s or None; speed: m/s."""

    length: float
    by_path: bool
    heading: float
    rate: float | None
    speed: float
    stops: bool


class Wanted(NamedTuple):
    """At a tick: number of the leg from 1, course that is steered, rad, speed, m/s, whether the throttle is shut."""

    leg: int
    course: float
    speed: float
    stops: bool


def wanted(legs: Sequence[Leg], readings: Sequence[float], period: float, turn_rate: float) -> list[Wanted]:
    """From the first tick of the scored time on. readings: of the speed, m/s, that each tick finds."""
    begins = list(_begins(legs, np.asarray(readings), period))
    found, course = [], 0.0
    for tick in range(len(readings)):
        number = max(at for at, begin in enumerate(begins) if begin <= tick)
        leg = legs[number]
        step = period * (turn_rate if leg.rate is None else leg.rate)
        course = leg.heading if abs(leg.heading - course) <= step else course + step * np.sign(leg.heading - course)
        found.append(Wanted(number + 1, course, leg.speed, leg.stops))
    return found


def _begins(legs: Sequence[Leg], readings: np.ndarray, period: float) -> Iterator[int]:
    """The tick at which each leg begins, as far as the ticks go."""
    tick = 0
    for leg in legs:
        if tick >= len(readings):
            return
        yield tick
        if leg.by_path:
            gone = np.cumsum(readings[tick + 1 :]) * period
            after = np.flatnonzero(gone >= leg.length)
            tick += 1 + int(after[0]) if len(after) else len(readings)
        else:
            tick += int(np.ceil(leg.length / period - 1e-5 / period))

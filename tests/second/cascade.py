"""The second model's cascaded loops of pitch and roll, from MODEL.md (M15.20): an axis from readings to commands."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple


class Tick(NamedTuple):
    """At a control tick: the angle wanted beside the trim's, the trim's less the estimate (rad), the gyro's rate (rad/s)."""

    wanted: float
    off: float
    rate: float
    gathers: bool


def within(value: float, limit: float) -> float:
    """The value, at most so far from 0."""
    return math.copysign(min(abs(value), limit), value)


def commands(angle: Mapping[str, float], rate: Mapping[str, float], period: float, ticks: Iterable[Tick]) -> Iterator[float]:
    """Pitch or roll command (rad) of every tick. angle, rate: of both loops, by the craft file's keys, SI; period: s."""
    wanted = turning = gathered = 0.0
    shares = [period / (period + 1.0 / (2.0 * math.pi * loop["filter"])) for loop in (angle, rate)]
    for tick in ticks:
        wanted = (1.0 - shares[0]) * wanted + shares[0] * tick.wanted
        quickening = (tick.rate - turning) * shares[1] / period
        turning = (1.0 - shares[1]) * turning + shares[1] * tick.rate
        asked = within(angle["proportional"] * (wanted + tick.off), angle["limit"])
        answer = rate["proportional"] * (asked - turning) - rate["derivative"] * quickening
        yield within(answer + gathered, rate["limit"])
        if tick.gathers:
            gathered = within(gathered + period * rate["integral"] * (asked - turning), rate["limit"])

"""How to spend the next hour on the water: passes out and back with the set-ups in turn, and a while adrift."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from sweep.logs.sea.sea_state import SLOW_BAND, slowest_for
from sweep.logs.sea.spectrum import met
from sweep.logs.sea.surface import SLOWEST
from sweep.words.numbers import count

ENCOUNTERS = 50  # waves that a pass against them meets (judgement)
SHORTEST, LONGEST = 45.0, 240.0  # s, of a pass (judgement)
ADRIFT = 120.0  # s, for a sea that no pass with it tells (judgement)
ADRIFT_SAID = count(round(ADRIFT / 60.0), "minute", "minutes")
TURN = 20.0  # s, between two passes (judgement)


class Plan(NamedTuple):
    """steps: in order, each a sentence; minutes: in all; pass_length: s; hidden: whether the way back shows no sea."""

    steps: tuple[str, ...]
    minutes: float
    pass_length: float
    hidden: bool


def plan_passes(first: str, second: str, speed: float, period: float, depth: float, rounds: int = 2) -> Plan:
    """Passes with two set-ups in waves of a peak period (s), at a speed (m/s), over a depth (m)."""
    omega = np.array([2.0 * math.pi / period])
    against, along = (float(met(omega, speed, heading, depth)[0]) for heading in (math.pi, 0.0))
    floor = slowest_for(0.0, SLOWEST)
    length = min(max(ENCOUNTERS / against, SHORTEST), LONGEST)
    drift = (
        f"{ADRIFT_SAID.capitalize()} adrift, motor off, log running: it shows the waves without speed, and the noise of the "
        "rangefinder without a ride."
    )
    steps = [drift]
    for number in range(rounds):
        for setup in (first, second) if number % 2 == 0 else (second, first):
            steps.append(f"{setup}: {length:.0f} s straight into the waves, turn, {length:.0f} s straight back.")
    steps.append(drift)
    minutes = (2.0 * ADRIFT + rounds * 2 * (2.0 * length + 2.0 * TURN)) / 60.0
    return Plan(tuple(steps), minutes, length, along < floor + SLOW_BAND)

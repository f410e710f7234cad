"""What the runs cannot tell of the waves' bearing and of the speed: how far off either may be, and the period that it gives."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

from sweep.logs.sea.bearing import LONGEST, turned
from sweep.logs.sea.sea_state import best_fit
from sweep.logs.sea.spectrum import Encounter

TURNS = (15, 30, 45, 60, 75, 90)
"""Degrees to either side, tried (judgement)."""
TIMES = (1.07, 1.15, 1.25, 1.4)
"""Times the speed, and the speed divided by them, tried (judgement): 1.15 parts knots from miles an hour."""
WORTH = 0.04
"""Share of the period: what changes it by less needs no word (judgement)."""


class OnTrust(NamedTuple):
    """From where to where (rad, or times the speed), and the least and most peak period (s) over that."""

    low: float
    high: float
    shortest: float
    longest: float


def bearing_on_trust(runs: Sequence[Encounter], chance: float) -> OnTrust | None:
    """By how much (rad) the waves' bearing may be off, as these runs fit one sea; None if that hardly changes the period.

    chance: misfit that chance alone may leave.
    """
    return _on_trust(runs, chance, lambda run, turn: turned(run, int(turn)), 0.0, [[-t for t in TURNS], TURNS])


def speed_on_trust(runs: Sequence[Encounter], chance: float) -> OnTrust | None:
    """The same of the speed, times what the logs have."""
    return _on_trust(runs, chance, _faster, 1.0, [[1.0 / t for t in TIMES], TIMES])


def _faster(run: Encounter, times: float) -> Encounter:
    return run._replace(speed=round(times * run.speed, 1))


def _on_trust(
    runs: Sequence[Encounter],
    chance: float,
    other: Callable[[Encounter, float], Encounter],
    right: float,
    sides: Sequence[Sequence[float]],
) -> OnTrust | None:
    """From `right` to each side as far as the misfit stays within chance, or within what it is now."""
    moving = sorted((run for run in runs if run.speed > 0.0), key=lambda run: -run.length)[:LONGEST]
    if not moving:
        return None
    misfit, period = best_fit([other(run, right) for run in moving])
    reached, periods = [right], [period]
    for side in sides:
        for each in side:
            left, then = best_fit([other(run, each) for run in moving])
            if left > max(misfit, chance):
                break
            reached.append(each)
            periods.append(then)
    if max(periods) < (1.0 + WORTH) * min(periods):
        return None
    unit = math.radians(1.0) if right == 0.0 else 1.0
    return OnTrust(min(reached) * unit, max(reached) * unit, min(periods), max(periods))

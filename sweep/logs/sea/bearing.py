"""Where the waves come from, by the runs themselves: the bearing at which one sea explains what runs of several ways met."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from sweep.logs.sea.sea_state import best_fit, chance_misfit
from sweep.logs.sea.spectrum import Encounter

STEP = 15
"""Degrees between the bearings that are tried (judgement)."""
LONGEST = 6
"""Runs that are asked, the longest ones (judgement)."""
RIGHT = 0.99
"""Share of right bearings whose misfit chance alone leaves under what raises a doubt (judgement)."""
BESIDE = 0.08
"""Misfit that a boat and its sensors may bring beside chance (judgement): with chance, right bearings of two boats came to
0.1 at most, those off by 90 degrees or more mostly to 0.15 to 0.4."""
BETTER, ALIKE = 0.4, 1.3
"""Times the misfit that another bearing must have at most, and times the least that others as good have (judgement): beside a
right bearing another came to 0.48 times or more."""


class Better(NamedTuple):
    """By how much (rad) the said bearing would have to turn: as the runs have it best, and from where to where as well."""

    best: float
    low: float
    high: float


def better_bearings(runs: Sequence[Encounter]) -> tuple[Better, ...]:
    """How the said bearing would have to turn to explain the runs, each way that would; none if it does so."""
    longest = sorted(runs, key=lambda run: -run.length)[:LONGEST]
    if len(longest) < 2:
        return ()
    misfits = {turn: best_fit([turned(run, turn) for run in longest])[0] for turn in range(0, 360, STEP)}
    least = min(misfits.values())
    if misfits[0] < BESIDE or least > BETTER * misfits[0]:
        return ()
    if misfits[0] < math.hypot(BESIDE, chance_misfit([turned(run, 0) for run in longest], RIGHT)):
        return ()
    good = [turn for turn, misfit in misfits.items() if misfit <= ALIKE * least]
    return tuple(
        Better(*map(math.radians, (min(group, key=lambda turn: misfits[turn % 360]), group[0], group[-1])))
        for group in _stretches(good)
    )


def turned(run: Encounter, degrees: int) -> Encounter:
    """The run as if the waves came from elsewhere, to whole 5 degrees."""
    whole = round((math.degrees(run.heading) + degrees) / 5.0) * 5.0  # so that runs share their tables
    return run._replace(heading=math.radians(whole))


def _stretches(turns: Sequence[int]) -> list[list[int]]:
    """Neighbours together, around the circle: one that goes past 360 begins under 0."""
    groups: list[list[int]] = []
    for turn in turns:
        if groups and turn - groups[-1][-1] == STEP:
            groups[-1].append(turn)
        else:
            groups.append([turn])
    if len(groups) > 1 and groups[0][0] == 0 and groups[-1][-1] == 360 - STEP:
        groups[0] = [turn - 360 for turn in groups.pop()] + groups[0]
    return groups

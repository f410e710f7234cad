"""The trims stored in a craft's control code: set once for the craft as designed, at a few speeds or at every speed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft


Trims: TypeAlias = tuple[np.ndarray, np.ndarray]
"""(crafts, 3) height and pitch command (rad) and throttle; (crafts,) whether there is such a trim."""


def held_trims(
    crafts: Sequence[Craft], designed: Sequence[Craft], own: Trims, speed: float, solve: Callable[[list[Craft], float], Trims]
) -> Trims:
    """The trim that each craft's control code uses at a wanted speed (m/s), and whether it has one (M15.2).

    own: trims of the crafts as built; solve: finds the trims of crafts at a speed. A design's trims are set at its
    `trim_speeds`, where it has a trim there. Between these speeds they are linear in the wanted speed; beyond them the
    trim of the nearest is used.
    """
    trims, known = own[0].copy(), own[1].copy()
    others = [
        i
        for i, each in enumerate(designed)
        if each.control.trim_speeds is not None or (each is not crafts[i] and each != crafts[i])
    ]
    distinct = list({id(designed[i]): designed[i] for i in others}.values())
    settings = dict(zip(map(id, distinct), _interpolated(distinct, speed, solve), strict=True))
    for i in others:
        setting = settings[id(designed[i])]
        known[i] = setting is not None
        if setting is not None:
            trims[i] = setting
    return trims, known


def _interpolated(
    designed: Sequence[Craft], speed: float, solve: Callable[[list[Craft], float], Trims]
) -> list[np.ndarray | None]:
    """The trim that each design uses at a speed; None for a design without a trim at any of its speeds."""
    tables = [sorted(set(each.control.trim_speeds or (speed,))) for each in designed]
    found: list[list[tuple[float, np.ndarray]]] = [[] for _ in designed]
    for at in sorted({each for table in tables for each in table}):
        which = [i for i, table in enumerate(tables) if at in table]
        trims, there = solve([designed[i] for i in which], at)
        for i, trim, has in zip(which, trims, there, strict=True):
            if has:
                found[i].append((at, trim))
    return [_between(table, speed) if table else None for table in found]


def _between(table: Sequence[tuple[float, np.ndarray]], speed: float) -> np.ndarray:
    speeds, trims = zip(*table, strict=True)
    return np.array([np.interp(speed, speeds, column) for column in np.array(trims).T])

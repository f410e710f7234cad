"""The trims in a craft's control code: set once for the craft as designed, at a few speeds or at every one."""

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
    """The trims that the control code of each craft holds at a wanted speed (m/s), and whether it has any (M15.2).

    own: of the crafts as they are; solve: trims of crafts at a speed. `trim_speeds` of the design are those at which its trims
    were set, as far as it has one there; between them they are linear in the wanted speed, beyond them the last is held.
    """
    trims, known = own[0].copy(), own[1].copy()
    others = [i for i, each in enumerate(designed) if each.control.trim_speeds is not None or each != crafts[i]]
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
    """What each design holds at a speed; None for one that has a trim at none of its speeds."""
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

"""How far gains may shrink and grow before a craft is unstable: of each loop alone, and of all together."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sweep.linear.craft import LinearCraft
from sweep.linear.differences import Floats
from sweep.linear.onboard import MIXED
from sweep.linear.ticks import closed_loop, felt, settles

Span = tuple[float, float]

TRIED: Floats = np.array([0.125, 0.25, 0.5, 0.7, 1.0, 1.4, 2.0, 4.0])
"""From an eighth to four times: nobody goes beyond these on the water (judgement)."""

HALVINGS = 4
"""Of a step at an end (judgement): it is told to 2 % near 1."""

FOILS, HEADING, TOGETHER = "height", "heading", "all gains"


def share_spans(craft: LinearCraft) -> dict[str, Span | None]:
    """Least and largest share of each gain group with which the closed loop is stable, by name; None if none is.

    The stretch around 1, or the one nearest to it. An end of `TRIED` means anything beyond it.
    """
    whole = closed_loop(craft)
    return {name: _span(Scaled(craft, rows, whole)) for name, rows in gain_groups(craft).items()}


def gain_groups(craft: LinearCraft) -> dict[str, list[int]]:
    """Gains that go together, as the craft file has them, each with the commands (as `Code.loops`) that they make.

    If each foil answers for itself, one gain of height makes the commands of all.
    """
    loops = list(craft.code.loops)
    own = loops[: len(MIXED)] != list(MIXED)
    groups = {FOILS: [*range(len(loops) - 1)]} if own else {name: [loops.index(name)] for name in MIXED}
    return {**groups, HEADING: [len(loops) - 1], TOGETHER: [*range(len(loops))]}


class Scaled:
    """The closed loop with any share of the gains behind some commands; its matrix is linear in that share."""

    def __init__(self, craft: LinearCraft, rows: Sequence[int], whole: Floats | None = None) -> None:
        """rows: of the commands, as `Code.loops`; whole: the closed loop with all gains, if it is known."""
        none, whole = closed_loop(_scaled(craft, rows, 0.0)), closed_loop(craft) if whole is None else whole
        felt_here = felt(whole)
        kept = np.ix_(felt_here, felt_here)
        self.none, self.added, self.period = none[kept], (whole - none)[kept], craft.period

    def growth(self, shares: Floats) -> Floats:
        """Growth (1/s) of the slowest mode at each of the shares, above 0."""
        sizes = np.abs(np.linalg.eigvals(self.none + shares[:, None, None] * self.added)).max(axis=1)
        result: Floats = np.log(np.maximum(sizes, 1e-300)) / self.period
        return result

    def stable(self, share: float) -> bool:
        """Whether the loop is stable at a share."""
        return settles(self.none + share * self.added)


def _scaled(craft: LinearCraft, rows: Sequence[int], share: float) -> LinearCraft:
    c, d = craft.code.c.copy(), craft.code.d.copy()
    c[list(rows)] *= share
    d[list(rows)] *= share
    return craft._replace(code=craft.code._replace(c=c, d=d))


def _span(loop: Scaled) -> Span | None:
    nearest = sorted(range(len(TRIED)), key=lambda at: float(abs(np.log(TRIED[at]))))
    first = next((at for at in nearest if loop.stable(TRIED[at])), None)
    if first is None:
        return None
    low = high = first
    while low > 0 and loop.stable(TRIED[low - 1]):
        low -= 1
    while high < len(TRIED) - 1 and loop.stable(TRIED[high + 1]):
        high += 1
    least = _end(loop, TRIED[low], TRIED[low - 1]) if low > 0 else float(TRIED[0])
    most = _end(loop, TRIED[high], TRIED[high + 1]) if high < len(TRIED) - 1 else float(TRIED[-1])
    return least, most


def _end(loop: Scaled, stable: float, other: float) -> float:
    """The last stable share, between a stable and an unstable one."""
    for _ in range(HALVINGS):
        middle = float(np.sqrt(stable * other))
        stable, other = (middle, other) if loop.stable(middle) else (stable, middle)
    return float(stable)

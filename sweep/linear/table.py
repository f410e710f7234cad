"""Stability of a craft over its speeds: for the check of a campaign, and for the site."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import groupby
from math import pi
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sweep.linear.craft import LinearCraft, linearise
from sweep.linear.differences import Complexes
from sweep.linear.frequency import loop_gains
from sweep.linear.margins import Margins, margins
from sweep.linear.shares import Span, share_spans
from sweep.linear.ticks import Mode, modes, stable
from sweep.model.pack.fleet import Packed, fleets_at, pack_crafts
from sweep.model.physics.water import Water

if TYPE_CHECKING:
    import pandas as pd

    from sweep.campaign.craft import Craft

CLOSE = 0.05  # m/s, within which two speeds are one row (judgement)
LOWEST = 0.05  # rad/s: slower than any loop's crossing (judgement)
NYQUIST_SHARE = 0.95  # of half the control rate: the highest frequency whose crossings count (judgement)
STILL = Mode(0.0, "")
SWING_SHARE = 0.5  # of half the control rate: what is quicker goes from tick to tick and is no oscillation (judgement)


class SpeedStability(NamedTuple):
    """A craft at one speed (m/s). Without a trim the rest is empty.

    slowest: the mode that fades last or grows first; least_damped: the oscillation of least damping (its rate is 0 if there
    is none); margins by loop; shares of gains as in `share_spans`; eigenvalues: all modes, 1/s.
    """

    speed: float
    trims: bool
    stable: bool
    slowest: Mode
    least_damped: Mode
    margins: dict[str, Margins]
    shares: dict[str, Span | None]
    eigenvalues: Complexes


def stability_table(craft: Craft, water: Water, speeds: Sequence[float]) -> tuple[SpeedStability, ...]:
    """The craft, trimmed and linear, loops closed with the gains of its file, at each speed (m/s)."""
    packed = pack_crafts([craft], water)
    return tuple(_stability(speed, _at_speed(packed, speed)) for speed in speeds)


def stable_spans(
    craft: Craft, water: Water, speeds: Sequence[float], known: Mapping[float, float] | None = None
) -> tuple[tuple[float, float], ...]:
    """Between which speeds (m/s) the closed loop is stable: each stable stretch of `speeds` (which go up), from and to.

    An end within them is sought between the two neighbours that differ, to 0.05. Without a trim it is not stable.
    known: growth (1/s) of the slowest mode at speeds where it is known already.
    """
    told, packed = known or {}, pack_crafts([craft], water)
    settled = [told[speed] < 0.0 if speed in told else _stable(_at_speed(packed, speed)) for speed in speeds]
    spans: list[tuple[float, float]] = []
    for stays, some in groupby(zip(speeds, settled, strict=True), key=lambda each: each[1]):
        if stays:
            inside = [speed for speed, _ in some]
            before, after = (speeds.index(inside[end]) + step for end, step in ((0, -1), (-1, 1)))
            low = inside[0] if before < 0 else _edge(packed, inside[0], speeds[before])
            high = inside[-1] if after == len(speeds) else _edge(packed, inside[-1], speeds[after])
            spans.append((low, high))
    return tuple(spans)


def _edge(packed: Packed, good: float, other: float) -> float:
    """The speed (m/s) at the edge of stability, between a stable and an unstable one."""
    while abs(other - good) > 2.0 * CLOSE:
        middle = 0.5 * (good + other)
        good, other = (middle, other) if _stable(_at_speed(packed, middle)) else (good, middle)
    return 0.5 * (good + other)


def mode_table(craft: Craft, water: Water, speeds: Sequence[float]) -> pd.DataFrame:
    """All modes at each speed (m/s) that trims: columns speed, growth (1/s), frequency (Hz, at least 0), motion."""
    import pandas as pd

    packed = pack_crafts([craft], water)
    trimmed = {speed: linear for speed in speeds if (linear := _at_speed(packed, speed)) is not None}
    parts = []
    for speed, linear in trimmed.items():
        half = [mode for mode in modes(linear) if mode.rate.imag >= 0.0]
        rates = np.array([mode.rate for mode in half])
        columns = {"growth": rates.real, "frequency": rates.imag / (2.0 * pi), "motion": [mode.motion for mode in half]}
        parts.append(pd.DataFrame({"speed": speed, **columns}))
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=["speed", "growth", "frequency", "motion"])


def loop_margins(craft: LinearCraft) -> dict[str, Margins]:
    """Margins of every loop, broken at its command, the others closed."""
    grid = np.geomspace(LOWEST, NYQUIST_SHARE * pi / craft.period, 250)
    found = loop_gains(craft, grid)

    def of_loop(index: int) -> Margins:
        return margins(lambda frequency: loop_gains(craft, frequency)[:, index], grid, found[:, index])

    return {name: of_loop(index) for index, name in enumerate(craft.code.loops)}


def damping(mode: complex) -> float:
    """Share of critical damping of a mode (1/s, complex)."""
    return -mode.real / abs(mode)


def _at_speed(packed: Packed, speed: float) -> LinearCraft | None:
    ((_, fleet),) = fleets_at(packed, speed)
    return linearise(fleet)[0]


def _stable(craft: LinearCraft | None) -> bool:
    return craft is not None and stable(craft)


def _stability(speed: float, craft: LinearCraft | None) -> SpeedStability:
    if craft is None:
        return SpeedStability(speed, False, False, STILL, STILL, {}, {}, np.empty(0, dtype=complex))
    found = modes(craft)
    swinging = [mode for mode in found if 0.0 < mode.rate.imag < SWING_SHARE * pi / craft.period]
    least, slowest = min(swinging, key=lambda mode: damping(mode.rate), default=STILL), found[0]
    rates = np.array([mode.rate for mode in found])
    return SpeedStability(speed, True, slowest.rate.real < 0.0, slowest, least, loop_margins(craft), share_spans(craft), rates)

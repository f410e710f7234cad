"""Rules for what happens along a course: soon after a boat has lifted off, and in a turn or soon after it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from sweep.insight.following import HEELED, MOMENT, lifted_by_heel
from sweep.insight.scene import Cause, Scene

# All judgement; times are of a hull of the reference length, as in `causes`.
LIFTED, STARTING = 2.0, 6.0  # s since it lifted off
TURNS = 0.02  # rad/s of the wanted heading
SOON, PAUSE, BEFORE, LAST = 1.5, 0.5, 2.0, 0.3  # s
SLOWED, KEPT = 0.85, 0.9  # of the speed before the turn; of the speed wanted
LOWER = 0.25  # of the ride height before the turn


class Turn(NamedTuple):
    """When a turn of the wanted heading began and ended, s; side: 1 to starboard, -1 to port."""

    begin: float
    end: float
    side: float

    def seen(self) -> str:
        """Its seconds."""
        return f"the turn of {self.begin:.1f} to {self.end:.1f} s"


def turn_before(scene: Scene) -> Turn | None:
    """The turn in which an event began, or that had ended at most `SOON` before; None if there is none."""
    if "wanted_heading" not in scene.past or len(scene.past) < 2:
        return None
    time = scene.past["time"].to_numpy(dtype=np.float64)
    rate = np.gradient(scene.past["wanted_heading"].to_numpy(dtype=np.float64), time) * scene.scale()
    turning = np.flatnonzero(np.abs(rate) > TURNS)
    if len(turning) == 0 or time[-1] - time[turning[-1]] > SOON * scene.scale():
        return None
    apart = np.flatnonzero(np.diff(time[turning]) > PAUSE * scene.scale())
    own = turning[apart[-1] + 1 :] if len(apart) else turning
    return Turn(float(time[own[0]]), float(time[own[-1]]), float(np.sign(rate[own].sum())))


def _before(scene: Scene, turn: Turn, name: str) -> float:
    """Mean of a column over the seconds before a turn in which it flew; NaN if there are none."""
    past = scene.past
    flew = (
        (past["time"] >= turn.begin - BEFORE * scene.scale()) & (past["time"] < turn.begin) & (past["time"] > scene.lifted_at)
    )
    return float(past.loc[flew, name].mean()) if flew.any() else math.nan


def just_lifted(scene: Scene) -> Iterator[Cause]:
    """It had lifted off at most `LIFTED` before."""
    since = scene.since_lifted()
    if since < LIFTED * scene.scale():
        yield Cause("start", f"it had lifted off {since:.1f} s before, and made {scene.column('speed')[-1]:.1f} m/s")


def starting(scene: Scene) -> Iterator[Cause]:
    """It had lifted off at most `STARTING` before, and no other rule holds."""
    since = scene.since_lifted()
    if since < STARTING * scene.scale():
        yield Cause("start", f"nothing else stands out; it had lifted off {since:.1f} s before")


def slowed_in_turn(scene: Scene) -> Iterator[Cause]:
    """In a turn it lost speed: to under `SLOWED` of what it made before, which was over `KEPT` of what is wanted."""
    turn = turn_before(scene)
    if turn is None:
        return
    before, now = _before(scene, turn, "speed"), float(scene.column("speed")[-1])
    if before > KEPT * scene.speed and now < SLOWED * before:
        yield Cause("speed lost in a turn", f"in {turn.seen()} the speed fell from {before:.1f} to {now:.1f} m/s")


def banked_in_turn(scene: Scene) -> Iterator[Cause]:
    """In a turn its heel had lifted a tip by more than `HEELED` of how deep tips are upright; out of the turn, or into it."""
    turn = turn_before(scene)
    if turn is None:
        return
    lifted, upright = lifted_by_heel(scene)
    last = max(round(MOMENT * scene.scale() / scene.step), 1)
    if not 0.0 < HEELED * upright < float(lifted[-last:].mean()):
        return
    roll = float(scene.column("roll")[-last:].mean())
    out = roll * turn.side < 0.0
    name, way, tip = ("rolled out of a turn", "out of", "inner") if out else ("banked too far into a turn", "into", "outer")
    heel, lift = math.degrees(abs(roll)), 100.0 * float(lifted[-last:].mean())
    yield Cause(name, f"the boat heeled {heel:.0f} deg {way} {turn.seen()}, which lifts the {tip} tip by {lift:.0f} cm")


def height_in_turn(scene: Scene) -> Iterator[Cause]:
    """In a turn it rode lower or higher than before by more than `LOWER` of the ride height, and the boat itself had moved.

    Means of the last `LAST` and of the seconds before the turn.
    """
    turn = turn_before(scene)
    if turn is None:
        return
    last = max(round(LAST * scene.scale() / scene.step), 1)
    ride, keel = (
        float(scene.column(name)[-last:].mean()) - _before(scene, turn, name) for name in ("ride_height", "keel_height")
    )
    if abs(ride) > LOWER * abs(_before(scene, turn, "ride_height")) and keel * ride > 0.5 * ride * ride:
        way, name = ("lower", "sank in a turn") if ride < 0.0 else ("higher", "rose in a turn")
        share = 100.0 * float(scene.column("speed")[-1]) / _before(scene, turn, "speed")
        said = f"it came to ride {100 * abs(ride):.0f} cm {way} than before, at {share:.0f} % of that speed"
        yield Cause(name, f"in {turn.seen()} {said}")


def in_turn(scene: Scene) -> Iterator[Cause]:
    """It was in a turn or had just been, and no other rule holds."""
    turn = turn_before(scene)
    if turn is not None:
        yield Cause(
            "in a turn",
            f"nothing else stands out; {turn.seen()} had begun {scene.past['time'].iloc[-1] - turn.begin:.1f} s before",
        )

"""Rules for what a sound boat does in waves: it follows them late or not at all, or heels a foil out of the water."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from sweep.insight.scene import Array, Cause, Scene

# All judgement; the rule that uses one says what it is.
LATE, LEVEL = 1.2, 0.75  # s; of the water's rise and fall
EXPLAINED, MOVED = 0.5, 0.004  # of the variance; m
HEELED, MOMENT = 0.5, 0.2  # of the depth of the tips; s


def waves_followed(scene: Scene) -> Iterator[Cause]:
    """The waves explain `EXPLAINED` of the ride height's variance, by how far and how late the boat rose and fell with them.

    The boat's height is taken as the surface's up to `LATE` earlier, times a share. Under `LEVEL` it rode too level for these
    waves; over it, it followed them too late or too far. A surface that hardly moves (`MOVED`, standard deviation) explains
    nothing.
    """
    scale = scene.scale()
    keel, surface = scene.column("keel_height"), scene.column("surface")
    longest = round(LATE * scale / scene.step)
    if len(keel) < 2 * longest or surface.std() < MOVED * scale**2:
        return
    share, late, left = min((_lagged(keel, surface, lag, longest) for lag in range(longest + 1)), key=lambda fit: fit[2])
    ride = float((keel - surface)[longest:].var())
    if share <= 0.0 or left > (1.0 - EXPLAINED) * ride:
        return
    seconds = late * scene.step
    if share < LEVEL:
        yield Cause("waves not followed", f"the boat rose and fell {share:.1f} times as far as the water did")
    else:
        yield Cause(
            "waves followed late", f"the boat rose and fell {share:.1f} times as far as the water, {seconds:.1f} s after it"
        )


def _lagged(keel: Array, surface: Array, lag: int, longest: int) -> tuple[float, int, float]:
    """Slope of the boat's height on the surface `lag` rows before, the lag, and the variance that is left."""
    water, boat = surface[longest - lag : len(surface) - lag], keel[longest:]
    covered = float(np.cov(water, boat, bias=True)[0, 1])
    share = covered / max(float(water.var()), 1e-12)
    return share, lag, float(boat.var()) - share * covered


def heeled(scene: Scene) -> Iterator[Cause]:
    """By its heel over the last `MOMENT` the boat had lifted a foil's tip by more than `HEELED` of how deep tips are upright.

    The tips' depth upright is the mean of the shallowest over the time, with its own heel taken off.
    """
    lifted, upright = lifted_by_heel(scene)
    last = lifted[-max(round(MOMENT * scene.scale() / scene.step), 1) :]
    if upright > 0.0 and last.mean() > HEELED * upright:
        degrees = math.degrees(float(np.abs(scene.column("roll"))[-len(last) :].mean()))
        yield Cause("heel", f"the boat heeled {degrees:.0f} deg, which lifts a tip by {100 * last.mean():.0f} cm")


def lifted_by_heel(scene: Scene) -> tuple[Array, float]:
    """How far the heel lifts the outermost tip, m, row by row; and the mean depth (m) of the shallowest tip without it."""
    arm = max(abs(foil.y) + 0.5 * foil.span_length * math.cos(foil.dihedral) for foil in scene.craft.foils.values())
    lifted = arm * np.sin(np.abs(scene.column("roll")))
    return lifted, float((scene.column("submergence") + lifted).mean())

"""The wake of every foil on the foils behind it: a table of influences made once per design."""

from __future__ import annotations

import math

CORE = 0.1  # of the chord: radius within which a leg's velocity fades; judgement


def leg_downwash(across: float, below: float, behind: float, core: float) -> float:
    """Downward velocity over circulation (1/m) that a trailing leg gives at a point.

    across: how far (m) the point is to starboard of the leg; below: how far under it; behind: how far aft of its start;
    core: m. The leg is the starboard one of its pair; the port one has the opposite sign. Biot-Savart for a
    half-infinite line.
    """
    squared = across * across + below * below + core * core
    length = (1.0 + behind / math.sqrt(behind * behind + squared)) / (4.0 * math.pi)
    return -length * across / squared


def downwash_per_lift(
    x: float, y: float, depth: float, fore_x: float, fore_y: float, fore_depth: float, chord: float, span: float
) -> float:
    """Downwash angle (rad) at a point per unit lift coefficient of a foil ahead of it.

    Places in m, body axes, depth below the water; chord and span of the foil ahead. Its two trailing legs stand pi/4 of the
    span apart, of circulation (4/pi) C_L chord speed / 2 (elliptic loading), with their image of the same
    circulation over the surface (the surface at high Froude number works as a biplane).
    """
    half = math.pi / 8.0 * span
    total = 0.0
    for side, leg_y in ((1.0, fore_y + half), (-1.0, fore_y - half)):
        for leg_depth in (fore_depth, -fore_depth):
            total += side * leg_downwash(y - leg_y, depth - leg_depth, fore_x - x, CORE * chord)
    return 2.0 / math.pi * chord * total

"""The second model's flaps: what a servo's angle does to a section, by MODEL.md."""

from __future__ import annotations

from math import acos, copysign, degrees, pi, radians, sin, sqrt
from typing import NamedTuple

import numpy as np

from sweep.campaign.craft import Foil
from tests.second.sea import smoothstep
from tests.second.sections import Section

BASE = {0.0: 1.0, 0.02: 1.0, 0.04: 0.979, 0.05: 0.95, 0.06: 0.92, 0.08: 0.82, 0.09: 0.80, 0.10: 0.82, 0.11: 0.85, 0.12: 0.91,
        0.14: 1.09, 0.15: 1.19, 0.16: 1.31, 0.17: 1.43, 0.18: 1.51, 0.19: 1.57, 0.20: 1.60}  # fmt: skip
BY_SHARE = {0.0: 0.0, 0.02: 0.20, 0.04: 0.34, 0.06: 0.47, 0.08: 0.57, 0.10: 0.65, 0.12: 0.72, 0.14: 0.78, 0.16: 0.83,
            0.20: 0.92, 0.24: 0.99, 0.28: 1.04, 0.30: 1.06}  # fmt: skip


class Turned(NamedTuple):
    """What a foil's servo does: angle of attack, rad; changes of the largest lift (downward the other way), of C_m and C_D."""

    angle: float
    most_lift: float = 0.0
    moment: float = 0.0
    drag: float = 0.0


def flap_effectiveness(foil: Foil, section: Section) -> float:
    """Angle of attack per small angle of the servo; 1 of a foil that moves as a whole."""
    if foil.flap is None:
        return 1.0
    share, slope = foil.flap, section.lift_slope
    phi = acos(2.0 * share - 1.0)
    thin = 2.0 * pi * (1.0 - (phi - sin(phi)) / pi)
    lacks = min(max(1.0 - slope / (2.0 * pi * (1.0 + 0.77 * foil.thickness_ratio)), 0.0), 0.3)
    held = min(share, 0.5)
    friction = 1.0 - lacks * (2.007 - 1.997 * held) - lacks**2 * (0.590 + 1.991 * held)
    gap = 0.85 if foil.flap_gap == "open" else 1.0
    return gap * thin * (1.0 + foil.thickness_ratio * share * (3.16 - 2.12 * share)) / slope * friction


def separated(share: float, deflection: float) -> float:
    """What a flap's angle counts for, rad."""
    held, size = min(max(share, 0.1), 0.5), degrees(abs(deflection))
    gone = smoothstep((size - 10.06 + 0.73 * held) / (17.51 - 9.90 * held))
    return copysign(radians(size - gone * max((0.57 + 0.29 * held) * size - 9.79 + 4.06 * held, 0.0)), deflection)


def turned(foil: Foil, section: Section, deflection: float) -> Turned:
    """What the servo's angle does to a foil."""
    if foil.flap is None:
        return Turned(deflection)
    share, size = foil.flap, abs(deflection)
    counts, most = separated(share, deflection), min(size, 1.0472)
    base = float(np.interp(foil.thickness_ratio, list(BASE), list(BASE.values())))
    by_share = float(np.interp(share, list(BY_SHARE), list(BY_SHARE.values())))
    growth = 2.126 * most - 1.502 * most**2 + 0.364 * most**3
    cosine, sine = 2.0 * share - 1.0, min(max(size - size**3 / 6.0, 0.0), 1.0)
    return Turned(
        flap_effectiveness(foil, section) * counts,
        copysign(base * by_share * growth, deflection),
        -0.425 * sqrt(1.0 - cosine**2) * (1.0 - cosine) * counts,
        1.8 * share**1.17 * sine**2,
    )

"""Struts: side force of a surface-piercing strut, its friction and its spray."""

from __future__ import annotations

import math

from sweep.model.compiled import part

SPRAY = 0.24  # Hoerner, Fluid-Dynamic Drag, 1965, ch. 10: 0.2 to 0.4 in the literature (M7.7)
LEAST_FRICTION_LOG = 4.301029995663981  # log10 of the least Reynolds number of friction, 2e4
STALL = 0.9  # largest side-force coefficient: judgement


@part
def friction_of_log(log10_reynolds: float) -> float:
    """ITTC-57 friction coefficient (ITTC 7.5-02-02-01, M7.4), from log10 of the Reynolds number; too high below Re = 5e5."""
    return 0.075 / ((log10_reynolds - 2.0) * (log10_reynolds - 2.0))


@part
def friction_line(reynolds: float) -> float:
    """ITTC-57 friction coefficient, from the Reynolds number (M7.4)."""
    return friction_of_log(math.log10(reynolds))


@part
def form_factor(thickness_ratio: float) -> float:
    """Form factor: drag of both sides of a section over flat-plate friction (Hoerner 1965, ch. 6; M7.5)."""
    squared = thickness_ratio * thickness_ratio
    return 1.0 + 2.0 * thickness_ratio + 60.0 * squared * squared


@part
def helmbold_slope(aspect_ratio: float) -> float:
    """Lift slope per radian of a low-aspect-ratio surface (Helmbold 1942; M7.2)."""
    return 2.0 * math.pi * aspect_ratio / (2.0 + math.sqrt(aspect_ratio * aspect_ratio + 4.0))


@part
def side_coefficient(slope: float, angle: float) -> float:
    """Side-force coefficient with a smooth stall; odd in the angle, rad (M7.3)."""
    linear = slope * angle
    ratio = linear / STALL
    ratio *= ratio
    return linear / math.sqrt(math.sqrt(1.0 + ratio * ratio))


def junction_drag_area(thickness: float, chord: float) -> float:
    """Drag area (m2) of a strut's junction with one side of its foil, thickness and chord in m (Hoerner 1965, ch. 8; M7.6)."""
    ratio = thickness / chord
    return max(17.0 * ratio * ratio - 0.05, 0.0) * thickness * thickness

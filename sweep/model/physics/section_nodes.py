"""The values of a foil section that the kernel reads."""

from __future__ import annotations

from typing import NamedTuple, TypeAlias

AtNodes: TypeAlias = tuple[float, float, float, float, float]


class SectionNodes(NamedTuple):
    """A section as the kernel reads it: values at the Reynolds numbers of `section.NODES`, then values that hold at all.

    Profile drag is exp(log_drag) + drag_rise d^2 + drag_steep d^4 with d = lift - lift_of_least_drag. Minus the least pressure
    coefficient is s0 + s1 lift + s2 lift^2, lift from 0 up. Angles rad, slope per rad; the moment is about the quarter chord.
    The last four are the range of the data behind the numbers.
    """

    lift_slope: AtNodes
    lift_max: AtNodes
    zero_lift_angle: AtNodes
    log_drag: AtNodes
    drag_rise: AtNodes
    drag_steep: AtNodes
    lift_of_least_drag: AtNodes
    suction: tuple[float, float, float]
    moment: float
    reynolds_low: float
    reynolds_high: float
    angle_low: float
    angle_high: float

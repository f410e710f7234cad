"""The second model's foil sections: seven numbers at a Reynolds number, between five at which they are given."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sweep.campaign.craft import Craft, Foil
from tests.second.sea import Water

NODES = np.array([3e4, 7e4, 1.6e5, 4e5, 1e6])


class Section(NamedTuple):
    """Slope per rad, largest lift, zero-lift angle rad, least drag and its growth with the square and the fourth power."""

    lift_slope: float
    lift_max: float
    zero_lift_angle: float
    drag_least: float
    drag_rise: float
    drag_steep: float
    lift_of_least_drag: float


def reynolds_of(foil: Foil, water: Water, forward_speed: float) -> float:
    """Reynolds number of a foil at the body's forward speed, m/s."""
    return min(max(forward_speed, 0.5), 50.0) * foil.chord / water.viscosity


def flat_section(craft: Craft, foil: Foil, reynolds: float) -> Section:
    """A foil's section without its sweep, linear in the Reynolds number's logarithm between the nodes and held beyond them."""

    def between(values: np.ndarray) -> float:
        return float(np.interp(np.log10(reynolds), np.log10(NODES), values))

    given = foil.section
    gap = 0.93 if foil.flap is not None and foil.flap_gap == "open" else 1.0
    if given.polar is not None:
        slope, most, zero, log_drag, rise, steep, least = (between(np.array(each)) for each in craft.polars[given.polar][:7])
        return Section(gap * slope, most, zero, float(np.exp(log_drag)), rise, steep, least)
    drag = float(np.exp(between(np.log(given.drag_min * np.sqrt(given.reynolds / NODES)))))
    slope, least = gap * given.lift_slope, given.lift_of_least_drag
    return Section(slope, given.lift_max, foil.zero_lift_angle, drag, given.drag_rise, 0.0, least)


def section_at(craft: Craft, foil: Foil, reynolds: float) -> Section:
    """A foil's section at a Reynolds number, as the flow along the craft meets it."""
    section, cosine = flat_section(craft, foil, reynolds), np.cos(foil.sweep)
    pressure = cosine**2  # of the flow normal to the quarter-chord line, over that of the whole
    return Section(
        lift_slope=section.lift_slope * pressure / cosine,  # the normal flow's angle is larger by 1 / cosine
        lift_max=section.lift_max * pressure,
        zero_lift_angle=section.zero_lift_angle * cosine,
        drag_least=section.drag_least,
        drag_rise=section.drag_rise / pressure**2,
        drag_steep=section.drag_steep / pressure**4,
        lift_of_least_drag=section.lift_of_least_drag * pressure,
    )

"""Where the model is valid: ranges that its parts rest on, and which flights of a design leave them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from sweep.model.physics.spectra import GRAVITY
from sweep.model.physics.waves import steepness

if TYPE_CHECKING:
    from sweep.campaign.conditions import Condition
    from sweep.campaign.craft import Craft
    from sweep.model.physics.water import Water


class Range(NamedTuple):
    """A quantity with its range from `low` to `high`, the reason, and what to expect of the model beyond."""

    title: str
    low: float
    high: float
    rests_on: str
    beyond: str

    def holds(self, value: float) -> bool:
        """Whether a value lies within; one that is not known does."""
        return not (value < self.low or value > self.high)


RANGES = {
    "reynolds": Range(
        "Reynolds number of a foil",
        5e4,
        1e6,
        "sections that were calculated or measured from 5e4 to 1e6",
        "laminar separation on the foil: drag and the best angle may be off by half, differently for two sections",
    ),
    "froude": Range(
        "speed over the root of gravity x foil depth",
        2.0,
        math.inf,
        "a lattice under a free surface at 2 to 8, and above by theory",
        "the foil makes waves of its own; the lift keeps its value at 2, a few per cent off",
    ),
    "depth": Range(
        "foil depth in chords, on average",
        0.5,
        math.inf,
        "a lattice under a free surface from half a chord down",
        "the surface bends over the foil: lift up to a tenth too low, drag as far off",
    ),
    "shallowest": Range(
        "depth of the shallowest tip in chords, 1st percentile",
        0.0,
        math.inf,
        "theory of wet foils; coming out of the water is spread over a quarter chord by judgement",
        "tips in the air for longer than that: compare designs by it, do not count on the number",
    ),
    "ground": Range(
        "height of a foil over the ground in spans, on average",
        0.5,
        math.inf,
        "theory of wings far from the ground; half a span up its image adds 2 or 3 % of lift (Prandtl's biplane factor)",
        "the ground carries part of the lift, and shallow water has a drag of its own: both are left out",
    ),
    "aspect": Range(
        "aspect ratio of a foil",
        2.0,
        12.0,
        "lattices and plates from 1 to 20, lag of lift from 3 to 8",
        "the lag of lift keeps the nearest known value",
    ),
    "flap": Range(
        "share of a foil's chord that is its flap",
        0.1,
        0.5,
        "charts of flaps of 0.1 to 0.5 of the chord, at Reynolds numbers of a million and more",
        "separation and friction keep the values of the nearest known share: the flap may do a fifth more or less",
    ),
    "steepness": Range(
        "height of the sea over the length of its peak wave",
        0.0,
        0.05,
        "linear waves: crests and speeds within a few per cent up to there",
        "real crests are sharper, higher and break: more touchdowns than here",
    ),
}


class Left(NamedTuple):
    """A range that a design leaves: in which condition (its index), how far (the value), in how many flights of how many."""

    key: str
    condition: int
    value: float
    flights: int
    of: int


def leaves(craft: Craft, water: Water, conditions: Sequence[Condition], flights: pd.DataFrame) -> list[Left]:
    """Every range that a design's flights leave.

    flights: rows of the design with condition and submergence_p01 (m). What does not depend on the flight counts for all.
    """
    found = []
    chord = min(foil.chord for foil in craft.foils.values())
    for condition in conditions:
        rows = flights[flights["condition"] == condition.index]
        fixed = design_values(craft, water, condition.speed) | {"steepness": _steepness(condition, water)}
        found += [
            Left(key, condition.index, value, len(rows), len(rows))
            for key, value in fixed.items()
            if len(rows) and not RANGES[key].holds(value)
        ]
        depths = rows["submergence_p01"].to_numpy(dtype=np.float64) / chord if "submergence_p01" in rows else np.empty(0)
        out = depths < RANGES["shallowest"].low
        if out.any():
            found.append(Left("shallowest", condition.index, float(np.nanmin(depths)), int(out.sum()), len(rows)))
    return found


def design_values(craft: Craft, water: Water, speed: float) -> dict[str, float]:
    """Of the foil that is furthest out, at a speed (m/s).

    Reynolds and depth Froude number, mean depth in chords, mean height over the ground in spans, aspect ratio; the share of
    its flap, not a number where no foil has one.
    """
    foils = list(craft.foils.values())
    depths = [max(craft.strut_of(foil).height - craft.control.ride_height, 1e-3) for foil in foils]
    numbers = [speed * foil.chord / water.viscosity for foil in foils]
    ratios = [foil.area / foil.chord**2 for foil in foils]
    return {
        "reynolds": _furthest("reynolds", numbers),
        "froude": speed / math.sqrt(GRAVITY * max(depths)),
        "depth": min(depth / foil.chord for depth, foil in zip(depths, foils, strict=True)),
        "ground": min((water.depth - depth) / foil.span_length for depth, foil in zip(depths, foils, strict=True)),
        "aspect": _furthest("aspect", ratios),
        "flap": _furthest("flap", [foil.flap for foil in foils if foil.flap is not None]),
    }


def _furthest(key: str, values: Sequence[float]) -> float:
    low, high = RANGES[key].low, RANGES[key].high
    return max(values, key=lambda value: max(low / value, value / high), default=math.nan)


def _steepness(condition: Condition, water: Water) -> float:
    systems = condition.sea.systems if condition.sea.is_steady else ()
    return max((steepness(part.height, part.period, water.depth) for part in systems), default=0.0)

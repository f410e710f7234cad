"""Doubts about what is in the way, or is not there, in some designs: a wand that strikes a strut, a fault of no rangefinder."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sweep.campaign.contradictions import wand_flown
from sweep.model.onboard.faults import FROZEN, KIND, SILENT, WHICH

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft, Wand

STEP = math.radians(0.1)
"""Between the angles of a wand that are tried, rad."""


class Upright(NamedTuple):
    """A strut or a rudder, build axes, m: its middle, half its chord and thickness, its ends above the keel."""

    name: str
    x: float
    y: float
    half_chord: float
    half_thickness: float
    foot: float
    top: float


class Struck(NamedTuple):
    """A wand's arm as it swings up: what it strikes, at which angle below straight aft, rad."""

    wand: str
    part: str
    angle: float


def struck(craft: Craft) -> Iterator[Struck]:
    """What each wand strikes first as it swings up from its lower stop; nothing for one that swings free.

    The arm is a straight line as wide as the wand; a strut is as wide as it is thickest, and goes from the keel to its foil.
    """
    for name, wand in craft.wands.items():
        angles = np.arange(wand.most_angle, wand.least_angle, -STEP)
        hits = [(_first(wand, part, angles), part.name) for part in _uprights(craft)]
        found = [hit for hit in hits if not math.isnan(hit[0])]
        if found:
            angle, part = max(found)
            yield Struck(name, part, angle)


def _uprights(craft: Craft) -> Iterator[Upright]:
    """Struts and rudders where the craft file has them."""
    for name, foil in craft.foils.items():
        strut = craft.strut_of(foil)
        for offset in foil.strut_offsets:
            sizes = 0.5 * strut.chord, 0.5 * strut.thickness
            yield Upright(f"the strut of {name}", foil.x, foil.y + offset, *sizes, -strut.height, 0.0)
    for name, blade in craft.steering.rudders.items():
        sizes = 0.5 * blade.chord, 0.5 * blade.thickness
        yield Upright(f"rudder {name}", blade.x, blade.y, *sizes, blade.top - blade.length, blade.top)


def _first(wand: Wand, part: Upright, angles: np.ndarray) -> float:
    """The first of these angles (rad) at which the arm meets the part; NaN if none does."""
    if abs(wand.y - part.y) >= part.half_thickness + 0.5 * wand.width:
        return math.nan
    ahead, behind = wand.x - part.x - part.half_chord, wand.x - part.x + part.half_chord  # of the hinge, to its edges
    along, down = np.cos(angles), np.sin(angles)
    near = np.maximum(ahead, 0.0)
    reaches = (behind >= 0.0) & (along * wand.arm >= near) & (along > 0.0)
    slope = down / np.where(along > 0.0, along, 1.0)
    far = np.minimum(behind, along * wand.arm)
    high, low = wand.height - near * slope, wand.height - far * slope
    hits = reaches & (np.minimum(high, low) <= part.top) & (np.maximum(high, low) >= part.foot)
    return float(angles[hits.argmax()]) if hits.any() else math.nan


def wands_that_strike(crafts: Sequence[Craft], of: str) -> Iterator[str]:
    """A sentence for each wand and what it strikes; of: 'of so many designs', the crafts."""
    found: dict[tuple[str, str], list[tuple[float, Craft]]] = {}
    for craft in crafts:
        for each in struck(craft):
            found.setdefault((each.wand, each.part), []).append((each.angle, craft))
    for (name, part), same in found.items():
        angle, craft = same[0]
        over, _ = wand_flown(craft, craft.wands[name])
        rides = math.asin(min(max(over / craft.wands[name].arm, -1.0), 1.0)) - craft.control.pitch_trim
        strikes, trails = math.degrees(angle), math.degrees(rides)
        yield (
            f"wand {name} of {len(same)} {of} strikes {part} as it swings up to {strikes:.0f} deg below straight aft; at the "
            f"ride height it trails at {trails:.0f} deg. The flights let it pass. Hinge it beside the strut or farther ahead, "
            "or use a shorter arm."
        )


def faults_of_nothing(campaign: Campaign, crafts: Sequence[Craft], of: str) -> Iterator[str]:
    """A sentence for each fault of one rangefinder that some designs have not, so that it does nothing there."""
    for fault in campaign.faults:
        which = max((int(row[WHICH]) for row in fault.rows if row[KIND] in (SILENT, FROZEN)), default=-1)
        without = sum(craft.rangefinders.number <= which for craft in crafts)
        if without:
            yield (
                f"{fault.name}: {without} {of} have no rangefinder {which + 1}, so that it does nothing there: they "
                "are judged as if nothing had failed. Fail one that all have, or all of them: where: rangefinders.*."
            )

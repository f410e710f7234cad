"""The names that a craft file may choose for its control law and sensors, each with its number in the kernels.

Craft files use these names, and packing looks up their numbers. Pages ask what a law does, not what it is called.
"""

from __future__ import annotations

from typing import NamedTuple


class Law(NamedTuple):
    """A control law: its number in the kernels, and what it does.

    levels: loops of height, pitch and roll command all foils together; else each foil follows its own rangefinder.
    fuses: its height estimate combines the rangefinders with the accelerometer.
    cascades: the loops of pitch and roll ask for rates of turning, which loops within them hold.
    own: it is code of the builder's own, of which nothing else is known.
    """

    number: int
    levels: bool
    fuses: bool
    cascades: bool = False
    own: bool = False


LAWS = {
    "level-and-height": Law(0, levels=True, fuses=False),
    "fused-height": Law(1, levels=True, fuses=True),
    "each-foil": Law(2, levels=False, fuses=False),
    "own-code": Law(3, levels=False, fuses=False, own=True),
    "cascaded": Law(4, levels=True, fuses=True, cascades=True),
}
FUSED_HEIGHT, EACH_FOIL, CASCADED = (LAWS[name].number for name in ("fused-height", "each-foil", "cascaded"))

COMBINED = {"mean": 0.0, "vote": 1.0, "plane": 2.0}
"""How the heights from several rangefinders are combined into one."""
VOTE, PLANE = COMBINED["vote"], COMBINED["plane"]
TRUSTED = 10.0
"""Added to a way of combining where some rangefinders are trusted more than others."""

FINDERS = {"beam": 0.0, "wand": 1.0, "pressure": 2.0}
"""How a rangefinder measures: an echo along its beam, the angle of a wand, or the pressure under water."""
BEAM, WAND, PRESSURE = FINDERS["beam"], FINDERS["wand"], FINDERS["pressure"]

FOOTPRINTS = {"mean": 0.0, "nearest": 1.0}
"""What a rangefinder reports of the water in its beam."""


def law_of(number: int) -> Law:
    """The law with this number; raises KeyError if there is none."""
    return {law.number: law for law in LAWS.values()}[number]

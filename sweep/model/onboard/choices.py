"""What a craft file chooses by name of the control code and its sensors: each name once, with what it means to the kernels.

Craft files take these names, crafts are packed by them, and pages ask what a law does instead of what it is called.
"""

from __future__ import annotations

from typing import NamedTuple


class Law(NamedTuple):
    """A control law as the kernels know it, and what it does.

    levels: its foils go together, by loops of height, pitch and roll; else each foil answers a rangefinder of its own.
    fuses: its height is made of the rangefinders and the accelerometer together.
    """

    number: int
    levels: bool
    fuses: bool


LAWS = {
    "level-and-height": Law(0, levels=True, fuses=False),
    "fused-height": Law(1, levels=True, fuses=True),
    "each-foil": Law(2, levels=False, fuses=False),
}
FUSED_HEIGHT, EACH_FOIL = (LAWS[name].number for name in ("fused-height", "each-foil"))

COMBINED = {"mean": 0.0, "vote": 1.0, "plane": 2.0}
"""How the heights of several rangefinders become one."""
VOTE, PLANE = COMBINED["vote"], COMBINED["plane"]

FOOTPRINTS = {"mean": 0.0, "nearest": 1.0}
"""What a rangefinder reports of the water in its beam."""


def law_of(number: int) -> Law:
    """The law of a number; raises KeyError if there is none."""
    return {law.number: law for law in LAWS.values()}[number]

"""What a craft that has no trim is short of, in sentences."""

from __future__ import annotations

import math
from collections.abc import Iterator

from sweep.linear.shortfall import Short
from sweep.words.numbers import number
from sweep.words.phrases import together

LEAST = 0.001
"""Shares of the weight that are not told (judgement)."""


def lacking(short: Short) -> str:
    """'thrust is short by 3.2 N', and so on; what would mend it."""
    if said := "; ".join(_each(short)):
        return said
    if short.balanced:
        return "the boat itself has one, but its control code has none: none of control.trim_speeds can be flown"
    return "lift, balance and thrust are each enough, but not together: it stalls there, or a foil comes out of the water"


def _each(short: Short) -> Iterator[str]:
    if short.carried < 1.0:
        yield (
            "lift is short: at the end of their travel or at their stall the foils carry "
            f"{number(100.0 * short.carried, 2)} % of its {number(short.weight)} N. Fly faster, with larger foils, or lighter"
        )
    if short.carried > 1.0:
        yield (
            "travel is short: turned down to its end the foils still carry "
            f"{number(100.0 * short.carried, 2)} % of its {number(short.weight)} N. Rig them nose down, or fly slower"
        )
    if abs(short.moment) > LEAST * short.weight:
        lever, way = 100.0 * abs(short.moment) / short.weight, ("down", "aft") if short.moment < 0.0 else ("up", "forward")
        yield (
            f"balance is short: foils that carry its weight leave a moment of {number(abs(short.moment), 2)} N m, bow "
            f"{way[0]}, also at the end of their travel. Its centre of gravity {number(lever, 2)} cm further {way[1]} would "
            "balance it"
        )
    for (needs, has, turned), names in _alike(short).items():
        one = len(names) == 1
        whose = f"foil {names[0]} would need {needs}" if one else f"foils {together(names)} would each need {needs}"
        yield (
            f"travel is short: {whose} deg {turned} and {'has' if one else 'have'} {has} either way. Give more travel, or rig "
            f"{'it' if one else 'them'} nose {turned} by the difference"
        )
    if short.thrust > 0.0:
        yield f"thrust is short by {number(short.thrust, 2)} N at full throttle"


def _alike(short: Short) -> dict[tuple[str, str, str], list[str]]:
    """The foils beyond their travel, by what they need, what they have (deg) and which way."""
    found: dict[tuple[str, str, str], list[str]] = {}
    for foil in short.beyond:
        needs, has = (number(abs(math.degrees(angle)), 3) for angle in (foil.angle, foil.travel))
        found.setdefault((needs, has, "up" if foil.angle > 0.0 else "down"), []).append(foil.name)
    return found

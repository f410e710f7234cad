"""Tolerances of a campaign file: how far a boat as built may be off its description, and what that makes of a craft."""

from __future__ import annotations

import math
from typing import Literal, NamedTuple, TypeAlias

from pydantic import ValidationError

from sweep.campaign.addresses import replace_values, value_at
from sweep.campaign.craft import Craft

ToleranceWord: TypeAlias = Literal["none", "usual"]

WAKE = "wake of the foils"


class Off(NamedTuple):
    """One deviation: what is off (`name`), how (`side`), and changes (address, times, plus), SI.

    With times 0 a value, which may not exist yet, becomes plus.
    """

    name: str
    side: str
    changes: tuple[tuple[str, float, float], ...] = ()

    def of(self, craft: Craft) -> dict[str, float] | None:
        """The changed values of a craft, by address; None if there is no such craft."""
        values = {address: times * value_at(craft, address) + plus if times else plus for address, times, plus in self.changes}
        try:
            replace_values(craft, values)
        except ValidationError:
            return None
        return values


AS_DESCRIBED = Off("as described", "")


def usual(craft: Craft) -> tuple[Off, ...]:
    """The usual deviations of a careful builder's boat (judgement), the craft as described first.

    The foil whose incidence is off is the one farthest from the middle, where it rolls the boat as well.
    """
    foil, sensors = max(craft.foils, key=lambda name: abs(craft.foils[name].y)), craft.rangefinders
    return (
        AS_DESCRIBED,
        *_both("mass", "body.mass", ("5 % lighter", 0.95, 0.0), ("5 % heavier", 1.05, 0.0)),
        *_both("centre of gravity", "body.x", ("1 cm aft", 1.0, -0.01), ("1 cm forward", 1.0, 0.01)),
        *(off for loop in ("height", "pitch", "roll") for off in _loop(craft, loop)),
        Off("rangefinder noise", "twice", tuple((each, 2.0, 0.0) for each in sensors.addresses("noise"))),
        Off("rangefinder delay", "20 ms more", tuple((each, 1.0, 0.02) for each in sensors.addresses("latency"))),
        *_both(
            f"incidence of the {foil} foil",
            f"foils.{foil}.incidence",
            ("1 deg down", 1.0, -math.radians(1.0)),
            ("1 deg up", 1.0, math.radians(1.0)),
        ),
        _weak_drive(craft),
        *_both(WAKE, "wake.rolled_up", ("a flat sheet all the way", 0.0, 0.0), ("rolled up at once", 0.0, 1.0)),
        *_both(WAKE, "wake.strength", ("25 % weaker", 0.75, 0.0), ("25 % stronger", 1.25, 0.0)),
    )


def _weak_drive(craft: Craft) -> Off:
    """With a propeller's curves the motor is weak instead: such a craft has no static_thrust."""
    if craft.propulsor.propeller is None:
        return Off("thrust", "15 % less", (("propulsor.static_thrust", 0.85, 0.0),))
    return Off("shaft power", "15 % less", (("propulsor.propeller.shaft_power", 0.85, 0.0),))


def _both(name: str, address: str, *sides: tuple[str, float, float]) -> tuple[Off, ...]:
    return tuple(Off(name, side, ((address, times, plus),)) for side, times, plus in sides)


def _loop(craft: Craft, loop: str) -> tuple[Off, ...]:
    sides, gains = (("20 % less", 0.8), ("20 % more", 1.2)), craft.control.gains_of(loop)
    return tuple(Off(f"{loop} gains", side, tuple((gain, times, 0.0) for gain in gains)) for side, times in sides)

"""Numbers that are asked for together, each group with how to take them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Self

from pydantic import Field, model_validator

from sweep.campaign.text.base import Part
from sweep.campaign.text.dimensions import Angle, Charge, Count, Duration, Frequency, Length, Power, Voltage, quantity
from sweep.campaign.text.problems import wrong


class Asked(Part):
    """Numbers that are asked for together."""

    @classmethod
    def needless(cls, key: str, answers: Mapping[str, Any]) -> str:
        """Why a key need not be asked for, by the answers so far, as they were typed; '' if it must."""
        return ""


class Balance(Asked):
    """Hang the boat by one string from the bow, then from a point amidships, each time with a plumb line from the string.

    It balances where the two lines cross.
    """

    forward: Length = Field(gt=0, description="from the stern to where it balances")
    height: Length = Field(description="of the same point above the keel; negative below it")


class Swing(Asked):
    """Hang the boat by two vertical strings of equal length, one as far from its balance as the other.

    Twist it, let go, and time twenty swings: one swing is a twentieth of that. It turns about the vertical axis, so hang it
    level on its keel for yaw, on its side for pitch, bow up for roll. A swing that you leave out is guessed from the size of
    the hull; without any you need no strings.
    """

    strings: Length | None = Field(None, gt=0, description="length of the two strings")
    apart: Length | None = Field(None, gt=0, description="between the two strings")
    roll: Duration | None = Field(None, gt=0, description="one swing, there and back, bow up")
    pitch: Duration | None = Field(None, gt=0, description="one swing, on its side")
    yaw: Duration | None = Field(None, gt=0, description="one swing, on its keel")

    @classmethod
    def needless(cls, key: str, answers: Mapping[str, Any]) -> str:
        """Without strings nothing swings."""
        return "for there are no strings to swing it by" if key != "strings" and "strings" not in answers else ""

    @model_validator(mode="after")
    def _hung(self) -> Self:
        if any(swing is not None for swing in (self.roll, self.pitch, self.yaw)):
            for name in ("strings", "apart"):
                if getattr(self, name) is None:
                    raise wrong("the length of the strings, and how far apart they are, with a swing", f"no {name}", at=(name,))
        return self


class HullSize(Asked):
    """Use a tape. The deadrise is the angle between the bottom and a level held across the keel."""

    length: Length = Field(gt=0, description="stern to bow")
    beam: Length = Field(gt=0, description="breadth at the chine")
    depth: Length = Field(gt=0, description="keel to deck")
    deadrise: Angle = Field(math.radians(14), gt=0.05, lt=1.0, description="angle at which the bottom rises from keel to chine")


def check_slender(chord: float, thickness: float) -> None:
    """Raises ValueError, of the thickness, where a blade is as thick as its chord or thicker; both in m."""
    if thickness >= chord:
        raise wrong(f"less than the chord, {quantity(chord, 'mm')}", at=("thickness",))


class StrutSizes(Asked):
    """Use a tape, and callipers for the thickness."""

    height: Length = Field(gt=0, description="keel to foil")
    chord: Length = Field(gt=0, description="leading to trailing edge")
    thickness: Length = Field(gt=0, description="at its thickest")

    @model_validator(mode="after")
    def _slender(self) -> Self:
        check_slender(self.chord, self.thickness)
        return self


class RudderBlade(Asked):
    """Use a tape. The blade turns as a whole, by a servo like those of the foils."""

    at: Length = Field(description="from the stern to its quarter chord; negative if it is behind the stern")
    top: Length = Field(description="its upper end, above the keel; negative below it")
    length: Length = Field(gt=0, description="from its upper end down")
    chord: Length = Field(gt=0, description="leading to trailing edge")
    thickness: Length = Field(gt=0, description="at its thickest")

    @model_validator(mode="after")
    def _slender(self) -> Self:
        check_slender(self.chord, self.thickness)
        return self


class ServoTimes(Asked):
    """Film the servo's arm while it turns from end to end of its travel with the foil on, and count the frames."""

    travel: Angle = Field(gt=0, lt=0.7, description="of the foil, either way from the middle")
    arm: Angle = Field(gt=0, lt=2.5, description="of the servo's arm, either way, for that travel of the foil")
    sixty: Duration = Field(gt=0.01, lt=5, description="time that the arm takes for 60 degrees")
    backlash: Angle = Field(0.0, ge=0, lt=0.5, description="how far the arm turns to and fro by hand, the servo on")

    @property
    def linkage(self) -> float:
        """Turns of the arm for one of the foil."""
        return self.arm / self.travel

    @model_validator(mode="after")
    def _geared_as_servos_are(self) -> Self:
        if not 0.1 <= self.linkage <= 10.0:
            raise wrong("from a tenth to ten times the travel of the foil", at=("arm",))
        return self


class RangefinderLog(Asked):
    """Log it for a minute over still water at ride height. Then jerk it up, film that, and see how late the log follows."""

    at: Length = Field(description="from the stern to its mounting")
    noise: Length = Field(ge=0, description="standard deviation of the still log")
    latency: Duration = Field(ge=0, le=0.3, description="from the water to a number in the control code")
    rate: Frequency = Field(20.0, gt=0, le=100, description="readings a second")
    blind: Length = Field(0.02, ge=0, description="closer than this it reads nothing of use")
    resolution: Length = Field(0.001, ge=0, description="smallest step between two numbers of its log")
    count: Count = Field(1, ge=1, le=4, description="how many there are, side by side; the rate is then of all together")
    apart: Length | None = Field(None, gt=0, description="between the outermost two, if there are several")
    ahead: Angle = Field(0.0, gt=-1.2, lt=1.2, description="by how much it looks ahead of straight down, seen from the side")
    height: Length = Field(0.0, description="of its mounting above the keel, if it is not level with it")

    @classmethod
    def needless(cls, key: str, answers: Mapping[str, Any]) -> str:
        """One is not apart from itself."""
        return "for there is one rangefinder" if key == "apart" and str(answers.get("count", 1)) == "1" else ""

    @model_validator(mode="after")
    def _several_are_apart(self) -> Self:
        if (self.count > 1) != (self.apart is not None):
            wanted = "a distance between the outermost two" if self.count > 1 else "none for one rangefinder"
            raise wrong(wanted, at=("apart",))
        return self


class OtherRangefinder(Asked):
    """One that is elsewhere along the boat, or of another kind. Leave out what is as for the first."""

    at: Length = Field(description="from the stern to its mounting")
    out: Length = Field(0.0, description="to starboard of the middle of the boat; negative to port")
    height: Length | None = Field(None, description="of its mounting above the keel")
    ahead: Angle = Field(0.0, gt=-1.2, lt=1.2, description="by how much it looks ahead of straight down, seen from the side")
    noise: Length | None = Field(None, ge=0, description="standard deviation of its still log")
    latency: Duration | None = Field(None, ge=0, le=0.3, description="from the water to a number in the control code")
    rate: Frequency | None = Field(None, gt=0, le=100, description="its own readings a second")
    blind: Length | None = Field(None, ge=0, description="closer than this it reads nothing of use")
    resolution: Length | None = Field(None, ge=0, description="smallest step between two numbers of its log")


class MotorWatts(Asked):
    """Put a wattmeter between battery and motor, tie the boat to a post, and read it at full throttle."""

    power: Power = Field(gt=0, description="that the motor takes, of all motors together")
    diameter: Length = Field(gt=0, description="of the propeller")


class BatteryPrint(Asked):
    """What is printed on it, and a voltmeter at its plug."""

    capacity: Charge = Field(gt=0, description="as printed")
    full: Voltage = Field(gt=0, description="at rest, just charged: 12.6 V of three lithium cells, sold as 11.1 V")
    empty: Voltage = Field(gt=0, description="at rest, when you stop: 10.5 V of three lithium cells")
    loaded: Voltage | None = Field(None, gt=0, description="just charged, at full throttle, the boat tied to a post")

    @model_validator(mode="after")
    def _falls(self) -> Self:
        if self.empty >= self.full:
            raise wrong(f"less than full, {self.full:g} V", at=("empty",))
        if self.loaded is not None and not 0.5 * self.full < self.loaded < self.full:
            raise wrong(f"less than full, {self.full:g} V, and more than half of it", at=("loaded",))
        return self

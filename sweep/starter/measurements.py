"""The ten measurements that make a craft file, each with how to take it."""

from __future__ import annotations

import math
from typing import Self

from pydantic import Field, model_validator

from sweep.campaign.text.base import Part
from sweep.campaign.text.dimensions import Angle, Count, Duration, Force, Frequency, Length, Mass, Speed, quantity
from sweep.campaign.text.problems import wrong


class Balance(Part):
    """Hang the boat by one string from the bow, then from a point amidships, each time with a plumb line from the string.

    It balances where the two lines cross.
    """

    forward: Length = Field(gt=0, description="from the stern to where it balances")
    height: Length = Field(description="of the same point above the keel; negative below it")


class Swing(Part):
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

    @model_validator(mode="after")
    def _hung(self) -> Self:
        if any(swing is not None for swing in (self.roll, self.pitch, self.yaw)):
            for name in ("strings", "apart"):
                if getattr(self, name) is None:
                    raise wrong("the length of the strings, and how far apart they are, with a swing", f"no {name}", at=(name,))
        return self


class HullSize(Part):
    """Use a tape. The deadrise is the angle between the bottom and a level held across the keel."""

    length: Length = Field(gt=0, description="stern to bow")
    beam: Length = Field(gt=0, description="breadth at the chine")
    depth: Length = Field(gt=0, description="keel to deck")
    deadrise: Angle = Field(math.radians(14), gt=0.05, lt=1.0, description="angle at which the bottom rises from keel to chine")


class FoilSizes(Part):
    """Use a tape. There are three foils, one or two of them ahead: a pair side by side, and one by itself, of its own size or
    of the pair's. Measure places to a quarter chord behind the leading edge.
    """

    ahead: Count = Field(ge=1, le=2, description="how many of the three foils are ahead: 1 or 2")
    span: Length = Field(gt=0, description="tip to tip, of each; of a pair and one unlike it, of the pair's")
    chord: Length = Field(gt=0, description="leading to trailing edge, the mean")
    ahead_at: Length = Field(description="from the stern to the foils ahead")
    behind_at: Length = Field(description="from the stern to the foils behind; negative if they are behind the stern")
    apart: Length = Field(gt=0, description="between the middles of the two foils that are side by side")
    other_span: Length | None = Field(None, gt=0, description="tip to tip, of the foil by itself if it is unlike the pair")
    other_chord: Length | None = Field(None, gt=0, description="its mean chord")

    @property
    def other(self) -> tuple[float, float]:
        """Span and chord of the foil by itself, m."""
        return self.other_span or self.span, self.other_chord or self.chord

    @property
    def alike(self) -> bool:
        """Whether all three are of one size."""
        return self.other == (self.span, self.chord)

    @property
    def area(self) -> float:
        """Of all three, m2."""
        span, chord = self.other
        return 2 * self.span * self.chord + span * chord

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.ahead_at <= self.behind_at:
            found = f"{quantity(self.behind_at, 'cm')} from the stern, with the others at {quantity(self.ahead_at, 'cm')}"
            raise wrong("a place behind that of the foils ahead", found, at=("behind_at",))
        for key, (span, chord) in {"span": (self.span, self.chord), "other_span": self.other}.items():
            if not 1.5 * chord <= span <= 29 * chord:
                raise wrong(f"from 1.5 to 29 chords of {quantity(chord, 'cm')}", at=(key,))
        return self


class StrutSizes(Part):
    """Use a tape, and callipers for the thickness."""

    height: Length = Field(gt=0, description="keel to foil")
    chord: Length = Field(gt=0, description="leading to trailing edge")
    thickness: Length = Field(gt=0, description="at its thickest")

    @model_validator(mode="after")
    def _slender(self) -> Self:
        if self.thickness >= self.chord:
            raise wrong(f"less than the chord, {quantity(self.chord, 'mm')}", at=("thickness",))
        return self


class ServoTimes(Part):
    """Film the servo's arm while it turns from end to end of its travel with the foil on, and count the frames."""

    travel: Angle = Field(gt=0, lt=0.7, description="of the foil, either way from the middle")
    arm: Angle = Field(gt=0, lt=2.5, description="of the servo's arm, either way, for that travel of the foil")
    sixty: Duration = Field(gt=0.01, lt=5, description="time that the arm takes for 60 degrees")


class RangefinderLog(Part):
    """Log it for a minute over still water at ride height. Then jerk it up, film that, and see how late the log follows."""

    at: Length = Field(description="from the stern to its mounting")
    noise: Length = Field(ge=0, description="standard deviation of the still log")
    latency: Duration = Field(ge=0, le=0.3, description="from the water to a number in the control code")
    rate: Frequency = Field(20.0, gt=0, le=100, description="readings a second")
    blind: Length = Field(0.02, ge=0, description="closer than this it reads nothing of use")
    resolution: Length = Field(0.001, ge=0, description="smallest step between two numbers of its log")
    count: Count = Field(1, ge=1, le=4, description="how many there are, side by side; the rate is then of all together")
    apart: Length | None = Field(None, gt=0, description="between the outermost two, if there are several")

    @model_validator(mode="after")
    def _several_are_apart(self) -> Self:
        if (self.count > 1) != (self.apart is not None):
            wanted = "a distance between the outermost two" if self.count > 1 else "none for one rangefinder"
            raise wrong(wanted, at=("apart",))
        return self


class Measurements(Part):
    """Everything that is asked for."""

    name: str = Field(min_length=1, max_length=60, pattern=r"^[A-Za-z][A-Za-z0-9 _-]*$", description="of the boat")
    mass: Mass = Field(gt=0, description="ready to go: battery in, foils on")
    balance: Balance
    swing: Swing = Field(default_factory=Swing, description="if left out, it is guessed from the size of the hull")
    hull: HullSize
    foils: FoilSizes
    struts: StrutSizes
    servo: ServoTimes
    rangefinder: RangefinderLog
    cruise: Speed = Field(ge=0.5, le=15, description="the speed that it should fly at")
    pull: Force = Field(gt=0, description="at full throttle, read on a luggage scale, the boat tied to a post")

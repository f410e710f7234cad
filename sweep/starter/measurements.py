"""The ten measurements that make a craft file, each with how to take it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Annotated, Any, ClassVar, NamedTuple, Self

from pydantic import BeforeValidator, Field, model_validator
from pydantic_core import PydanticCustomError

from sweep.campaign.contradictions import ONE_PLACE
from sweep.campaign.text.base import OneOf, Part
from sweep.campaign.text.dimensions import (
    Angle,
    Charge,
    Count,
    Duration,
    Force,
    Frequency,
    Length,
    Mass,
    Power,
    Speed,
    Voltage,
    quantity,
)
from sweep.campaign.text.problems import wrong

NONE = "none"
"""What a builder who has none answers for a group that may be left out."""
OrNone = BeforeValidator(lambda value: None if value == NONE else value)


class Placed(NamedTuple):
    """A foil: span and mean chord, how far it is forward of the stern and to starboard, m; whether a servo moves it."""

    span: float
    chord: float
    at: float
    out: float
    moves: bool = True


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


class FoilSizes(Asked):
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
    def alone(self) -> str:
        """What the foil by itself is called."""
        return "aft" if self.ahead == 2 else "bow"

    @property
    def other(self) -> tuple[float, float]:
        """Span and chord of the foil by itself, m."""
        return self.other_span or self.span, self.other_chord or self.chord

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.ahead_at <= self.behind_at:
            found = f"{quantity(self.behind_at, 'cm')} from the stern, with the others at {quantity(self.ahead_at, 'cm')}"
            raise wrong("a place behind that of the foils ahead", found, at=("behind_at",))
        for key, (span, chord) in {"span": (self.span, self.chord), "other_span": self.other}.items():
            if not 1.5 * chord <= span <= 29 * chord:
                raise wrong(f"from 1.5 to 29 chords of {quantity(chord, 'cm')}", at=(key,))
        return self


class Unlike(Asked):
    """Of the pair, what the starboard foil has unlike the port one, and which foil has no servo. Leave out what is alike."""

    starboard_span: Length | None = Field(None, gt=0, description="tip to tip")
    starboard_chord: Length | None = Field(None, gt=0, description="its mean chord")
    starboard_at: Length | None = Field(None, description="from the stern to it, if the two are not abreast")
    starboard_out: Length | None = Field(None, gt=0, description="from the middle of the boat out to its middle")
    fixed: Annotated[str, OneOf(("port", "starboard", "other"))] | None = Field(
        None, description="the foil without a servo: port, starboard, or other, the one by itself"
    )


def foils_of(foils: FoilSizes, own: Unlike) -> dict[str, Placed]:
    """The foils by name."""
    pair, single = (foils.ahead_at, foils.behind_at) if foils.ahead == 2 else (foils.behind_at, foils.ahead_at)
    half, span, chord = foils.apart / 2, own.starboard_span or foils.span, own.starboard_chord or foils.chord
    at = pair if own.starboard_at is None else own.starboard_at
    return {
        "port": Placed(foils.span, foils.chord, pair, -half, own.fixed != "port"),
        "starboard": Placed(span, chord, at, own.starboard_out or half, own.fixed != "starboard"),
        foils.alone: Placed(*foils.other, single, 0.0, own.fixed != "other"),
    }


def check_unlike(foils: FoilSizes, own: Unlike, hull: HullSize) -> None:
    """Raises PydanticCustomError for a foil of no possible size, and for foils that cannot hold a pitch."""
    placed = foils_of(foils, own)
    span, chord = placed["starboard"][:2]
    if not 1.5 * chord <= span <= 29 * chord:
        raise wrong(f"from 1.5 to 29 chords of {quantity(chord, 'cm')}", at=("unlike", "starboard_span"))
    if own.fixed == "other" and abs(placed["starboard"].at - placed["port"].at) < ONE_PLACE * hull.length:
        found = "other, while the two foils that move are abreast"
        wanted = "port or starboard: foils that move must be at two places along the boat, or nothing holds its pitch"
        raise wrong(wanted, found, at=("unlike", "fixed"))


class StrutSizes(Asked):
    """Use a tape, and callipers for the thickness."""

    height: Length = Field(gt=0, description="keel to foil")
    chord: Length = Field(gt=0, description="leading to trailing edge")
    thickness: Length = Field(gt=0, description="at its thickest")

    @model_validator(mode="after")
    def _slender(self) -> Self:
        if self.thickness >= self.chord:
            raise wrong(f"less than the chord, {quantity(self.chord, 'mm')}", at=("thickness",))
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


class Measurements(Asked):
    """Everything that is asked for."""

    optional: ClassVar[dict[str, str]] = {
        "unlike": "Is one foil of the pair unlike the other, or has a foil no servo? yes, or Enter for no: ",
        "battery": "Do you know the battery? Then its sag and the range are told. yes, or Enter for no: ",
    }
    """What else may be said, each with the question whether there is any."""

    name: str = Field(min_length=1, max_length=60, pattern=r"^[A-Za-z][A-Za-z0-9 _-]*$", description="of the boat")
    mass: Mass = Field(gt=0, description="ready to go: battery in, foils on")
    balance: Balance
    swing: Swing = Field(default_factory=Swing, description="if left out, it is guessed from the size of the hull")
    hull: HullSize
    foils: FoilSizes
    unlike: Annotated[Unlike | None, OrNone] = Field(None, description="what of a foil is unlike its fellow")
    struts: StrutSizes
    servo: ServoTimes
    rangefinder: RangefinderLog
    cruise: Speed = Field(ge=0.5, le=15, description="the speed that it should fly at")
    pull: Force | None = Field(
        None,
        gt=0,
        description="at full throttle, read on a luggage scale, the boat tied to a post; else its watts are asked for",
    )
    motor: MotorWatts | None = Field(None, description="its watts, if there is no pull")
    battery: Annotated[BatteryPrint | None, OrNone] = Field(None, description="what is printed on it, and its voltages")

    @classmethod
    def needless(cls, key: str, answers: Mapping[str, Any]) -> str:
        """The pull says more than the watts."""
        return "for you know its pull" if key == "motor" and "pull" in answers else ""

    @property
    def alike(self) -> bool:
        """Whether all foils are of one size."""
        return len({(foil.span, foil.chord) for foil in self.placed.values()}) == 1

    @property
    def area(self) -> float:
        """Of all foils, m2."""
        return sum(foil.span * foil.chord for foil in self.placed.values())

    @property
    def placed(self) -> dict[str, Placed]:
        """The foils by name."""
        return foils_of(self.foils, self.unlike or Unlike())

    @classmethod
    def clash(cls, name: str, answers: Mapping[str, Any]) -> str:
        """What would be right instead of answers to a group that do not go with those before; '' if they do."""
        if name != "unlike":
            return ""
        try:
            foils, own = FoilSizes.model_validate(answers["foils"]), Unlike.model_validate(answers["unlike"])
            check_unlike(foils, own, HullSize.model_validate(answers["hull"]))
        except PydanticCustomError as error:
            return error.message()
        return ""

    @model_validator(mode="after")
    def _pulls(self) -> Self:
        if (self.pull is None) == (self.motor is None):
            found = "neither pull nor motor" if self.pull is None else "both pull and motor"
            raise wrong("the pull at full throttle, or else motor: {power: 150 W, diameter: 6 cm}", found, at=("pull",))
        return self

    @model_validator(mode="after")
    def _unlike_foils_fly(self) -> Self:
        if self.unlike is not None:
            check_unlike(self.foils, self.unlike, self.hull)
        return self

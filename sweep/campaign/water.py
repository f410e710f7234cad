"""What a campaign file says of the water: the body of water, its seas, and how the craft goes through them."""

from __future__ import annotations

import math
from itertools import product
from typing import Annotated, Any, Literal, Self

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    ValidationInfo,
    model_validator,
)
from pydantic_core import CoreSchema, core_schema

from sweep.campaign.craft import Part
from sweep.campaign.problems import listed, wrong
from sweep.campaign.units import Count, Duration, Kind, Length, Number, OneOrMore, Speed, Temperature, quantity

GRAVITY = 9.81
STEEP, TOO_STEEP = 0.05, 0.07
HEADINGS = {"head": 180.0, "bow": 135.0, "beam": 90.0, "quartering": 45.0, "following": 0.0}
MOST_CONDITIONS = 10_000
_ANGLE = Kind("an angle", ("deg", "rad"))


class WaterBody(Part):
    """The water that the campaign takes place in; temperature in kelvin, depth in metres."""

    kind: Literal["fresh", "sea"] = "fresh"
    temperature: Temperature = Field(288.15, ge=271.15, le=313.15)
    depth: Length = Field(10.0, gt=0, description="from the calm level to the ground")


class NamedSea(BaseModel):
    """One sea that flights meet, SI; height is the significant one of an irregular sea, period that of its peak."""

    model_config = ConfigDict(frozen=True)

    name: str
    kind: Literal["flat", "regular", "jonswap"]
    height: float = 0.0
    period: float = 0.0
    gamma: float = 0.0


class NamedHeading(BaseModel):
    """The angle between the way the craft goes and the way the waves go, rad: head seas are pi."""

    model_config = ConfigDict(frozen=True)

    name: str
    angle: float


Heights = Annotated[tuple[Annotated[Length, Field(gt=0)], ...], Field(min_length=1, max_length=1000), OneOrMore()]
Periods = Annotated[tuple[Annotated[Duration, Field(ge=0.3, le=30)], ...], Field(min_length=1, max_length=1000), OneOrMore()]


class Flat(Part):
    """Calm water."""

    kind: Literal["flat"]

    def waves(self) -> list[tuple[float, float, float]]:
        """(height, period, gamma): none of them."""
        return [(0.0, 0.0, 0.0)]


class _Waves(Part):
    """Waves of every height with every period."""

    height: Heights
    period: Periods

    def waves(self) -> list[tuple[float, float, float]]:
        """(height, period, gamma) of every sea that this entry stands for."""
        return [(height, period, getattr(self, "gamma", 0.0)) for height, period in product(self.height, self.period)]

    @model_validator(mode="after")
    def _stands(self, info: ValidationInfo) -> Self:
        depth = (info.context or {}).get("depth", math.inf)
        for height, period in product(self.height, self.period):
            length = wave_length(period, depth)
            most = length * steepest(self.irregular, length, depth)
            if height > most:
                raise wrong(
                    f"waves that do not break: height at most {quantity(_down(most), 'cm')} at this period, or a longer one",
                    f"{quantity(height, 'cm')} over a wavelength of {quantity(length, 'm')} ({quantity(period, 's')})",
                    at=("height", self.height.index(height)),
                )
        return self

    @property
    def irregular(self) -> bool:
        """Whether the height is a significant height."""
        return False


class Regular(_Waves):
    """One wave train; height from trough to crest."""

    kind: Literal["regular"]


class Jonswap(_Waves):
    """A wind sea of the JONSWAP form; significant height and peak period."""

    kind: Literal["jonswap"]
    gamma: Number = Field(3.3, ge=1, le=10, description="peak enhancement; 1 is a fully grown sea")

    @property
    def irregular(self) -> bool:
        """Whether the height is a significant height."""
        return True


Sea = Annotated[Flat | Regular | Jonswap, Field(discriminator="kind")]
SeaName = Annotated[str, Field(pattern=r"^[A-Za-z][A-Za-z0-9 _-]*$", max_length=40)]


class _HeadingText:
    """Metadata of a heading: a word or an angle in the file."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_before_validator_function(_heading, handler(source))

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return {"anyOf": [{"enum": list(HEADINGS)}, {"type": "string", "pattern": _ANGLE.pattern()}]}


def _heading(value: object) -> object:
    if isinstance(value, NamedHeading):
        return value
    if isinstance(value, str) and value in HEADINGS:
        return NamedHeading(name=value, angle=math.radians(HEADINGS[value]))
    if not isinstance(value, str) or not any(mark.isdigit() for mark in value):
        raise wrong(f"{listed(HEADINGS)}, or an angle such as 120 deg")
    angle = _ANGLE.read(value)
    if not 0 <= angle <= 2 * math.pi:
        raise wrong("an angle from 0 deg (following) to 180 deg (head), or on to 360 deg from the other side")
    degrees = round(math.degrees(angle), 9)
    word = next((word for word, known in HEADINGS.items() if known == degrees), None)
    return NamedHeading(name=word or f"{degrees:g} deg", angle=angle)


def _once(entries: tuple[Any, ...], key: str, noun: str) -> None:
    for place, entry in enumerate(entries):
        if entry in entries[:place]:
            raise wrong(f"every {noun} once", at=(key, place))


Heading = Annotated[NamedHeading, _HeadingText()]


class Conditions(Part):
    """What the builder cannot choose: every sea with every heading, speed and fault."""

    seas: dict[SeaName, Sea] = Field(min_length=1)
    headings: Annotated[tuple[Heading, ...], Field(min_length=1, max_length=360), OneOrMore()] = (
        NamedHeading(name="head", angle=math.pi),
    )
    speeds: Annotated[tuple[Annotated[Speed, Field(gt=0, le=30)], ...], Field(min_length=1, max_length=1000), OneOrMore()]
    faults: tuple[Literal["none"], ...] = Field(("none",), min_length=1, max_length=1)
    replicates: Count = Field(2, ge=1, le=10_000, description="flights of each condition, with other random draws")

    @model_validator(mode="after")
    def _each_once(self) -> Self:
        _once(tuple(heading.name for heading in self.headings), "headings", "heading")
        _once(self.speeds, "speeds", "speed")
        count = len(expand(self.seas)) * len(self.headings) * len(self.speeds)
        if count > MOST_CONDITIONS:
            raise wrong(f"at most {MOST_CONDITIONS} conditions", f"{count} conditions (seas x headings x speeds)")
        return self


def expand(seas: dict[str, Flat | Regular | Jonswap]) -> tuple[NamedSea, ...]:
    """Every sea by itself; where one entry stands for several, the name tells what differs."""
    return tuple(
        NamedSea(name=name, kind=sea.kind, height=height, period=period, gamma=gamma)
        for label, sea in seas.items()
        for name, (height, period, gamma) in zip(_names(label, sea.waves()), sea.waves(), strict=True)
    )


def _names(label: str, waves: list[tuple[float, float, float]]) -> list[str]:
    heights, periods, _ = (set(column) for column in zip(*waves, strict=True))
    return [
        label
        + (f" {quantity(height, 'cm')}" if len(heights) > 1 else "")
        + (f" {quantity(period, 's')}" if len(periods) > 1 else "")
        for height, period, _ in waves
    ]


def wave_length(period: float, depth: float) -> float:
    """Length of a linear wave, m, within 1.7 %: Fenton & McKee 1990, Coastal Engineering 14, 499-513, eq. (10)."""
    deep = GRAVITY * period**2 / (2 * math.pi)
    return float(deep * math.tanh((2 * math.pi * math.sqrt(depth / GRAVITY) / period) ** 1.5) ** (2 / 3))


def steepest(irregular: bool, length: float, depth: float) -> float:
    """Largest height over length: Miche 1944 for a regular wave, half of it, at most 0.07, for a significant height."""
    breaking = 0.142 * math.tanh(2 * math.pi * depth / length)
    return min(TOO_STEEP, breaking / 2) if irregular else breaking


def steep_seas(seas: tuple[NamedSea, ...], depth: float) -> tuple[str, ...]:
    """A caution for every sea that linear waves describe poorly."""
    shares = {sea.name: sea.height / wave_length(sea.period, depth) for sea in seas if sea.kind != "flat"}
    return tuple(
        f"{name}: height over wavelength is {share:.3f}; "
        f"over {STEEP} crests are higher and sharper than the linear waves flown here"
        for name, share in shares.items()
        if share > STEEP
    )


def _down(height: float) -> float:
    """Rounded down to a tenth of a millimetre, so that the height that a message names is taken."""
    return math.floor(height * 1e4) / 1e4

"""The seas of a campaign file: each entry says what waves there are, and stands for one sea or several."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from itertools import product
from typing import Annotated, ClassVar, Literal, NamedTuple, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationInfo, model_validator

from sweep.campaign.text.base import Part
from sweep.campaign.text.dimensions import Angle, Count, Duration, Length, Number, OneOrMore, Speed, quantity
from sweep.campaign.text.problems import wrong
from sweep.model.physics.spectra import sea_state_code_bounds, wind_sea
from sweep.model.physics.waves import STEEPEST_SEA, breaking_steepness, wave_number

STEEP = 0.05
"""Significant height over the length of waves of the peak period, from which a caution is said (judgement)."""


class NamedSea(BaseModel):
    """One sea that flights meet, SI; height is the significant one of an irregular sea, period that of its peak.

    Of a packet, height is that of its highest wave; of a sum, the root of the sum of its parts' squares, with the period of the
    highest part. spreading: exponent of the spreading function, None for waves that all go one way. turned: from the heading of
    the condition, rad. wind: mean wind 10 m up, m/s; wind_turned: from the way the waves go, rad.
    """

    model_config = ConfigDict(frozen=True)

    name: str = ""
    kind: Literal["flat", "regular", "jonswap", "bretschneider", "packet", "sum"]
    height: float = 0.0
    period: float = 0.0
    gamma: float = 0.0
    spreading: float | None = None
    waves: float = 0.0
    arrives: float = 0.0
    turned: float = 0.0
    wind: float = 0.0
    wind_turned: float = 0.0
    parts: tuple[NamedSea, ...] = ()

    @property
    def windiest(self) -> NamedSea:
        """The sea whose wind blows: itself, or of a sum the part with the most."""
        return max(self.parts, key=lambda part: part.wind) if self.parts else self

    @property
    def directed(self) -> bool:
        """Whether a heading tells one flight from another: not in calm water without wind."""
        return self.kind != "flat" or self.wind > 0.0

    @property
    def irregular(self) -> bool:
        """Whether the height is a significant height."""
        return self.kind in ("jonswap", "bretschneider")


class Meant(NamedTuple):
    """One sea that an entry stands for, where in the entry its height stands, and what may tell it from the others."""

    sea: NamedSea
    at: tuple[str | int, ...]
    marks: tuple[str, ...]


Heights = Annotated[tuple[Annotated[Length, Field(gt=0)], ...], Field(min_length=1, max_length=1000), OneOrMore()]
Periods = Annotated[tuple[Annotated[Duration, Field(ge=0.32, le=30)], ...], Field(min_length=1, max_length=1000), OneOrMore()]
Winds = Annotated[tuple[Annotated[Speed, Field(ge=1, le=30)], ...], Field(min_length=1, max_length=1000), OneOrMore()]
Fetches = Annotated[tuple[Annotated[Length, Field(ge=20, le=1e5)], ...], Field(min_length=1, max_length=1000), OneOrMore()]
Gamma = Annotated[Number, Field(ge=1, le=10)]
Spreading = Annotated[
    Number | None,
    Field(
        ge=1, le=100, description="exponent of cos^2s of the half angle; about 10 for a young wind sea, 25 or more for a swell"
    ),
]
Turned = Annotated[Angle, Field(ge=-math.pi, le=math.pi, description="from the condition's heading, as in a cross sea")]


MeanWind = Annotated[
    Speed,
    Field(ge=0, le=30, description="mean wind 10 m up, blowing the way the waves go; a wind sea has its own"),
]
WindTurned = Annotated[Angle, Field(ge=-math.pi, le=math.pi, description="from the way the waves go, clockwise")]


class Flat(Part):
    """Calm water, with or without a wind over it."""

    kind: Literal["flat"]
    wind: Annotated[
        Speed, Field(ge=0, le=30, description="mean wind 10 m up, blowing the way that waves of the heading would go")
    ] = 0.0

    def meant(self, depth: float) -> Iterator[Meant]:
        """The one sea without waves."""
        yield Meant(NamedSea(kind="flat", wind=self.wind), (), ())


class _Waves(Part):
    """Waves of every height with every period."""

    height: Heights
    period: Periods
    wind: MeanWind = 0.0
    wind_turned: WindTurned = 0.0
    flown: ClassVar[Literal["regular", "jonswap", "bretschneider", "packet"]]

    def meant(self, depth: float) -> Iterator[Meant]:
        """Every sea that this entry stands for, in water of this depth (m)."""
        more = {name: getattr(self, name) for name in type(self).model_fields if name in NamedSea.model_fields}
        for (place, height), period in product(enumerate(self.height), self.period):
            sea = NamedSea(**more | {"kind": self.flown, "height": height, "period": period})
            yield Meant(sea, ("height", place), (quantity(height, "cm"), quantity(period, "s")))

    @model_validator(mode="after")
    def _stands(self, info: ValidationInfo) -> Self:
        depth = (info.context or {}).get("depth", math.inf)
        for meant in self.meant(depth):
            _refuse_breaking(meant, depth)
        return self


class Regular(_Waves):
    """One wave train; height from trough to crest."""

    kind: Literal["regular"]
    turned: Turned = 0.0
    flown = "regular"


class Jonswap(_Waves):
    """A wind sea of the JONSWAP form; significant height and peak period."""

    kind: Literal["jonswap"]
    gamma: Gamma = Field(3.3, description="peak enhancement; 1 is a fully grown sea")
    spreading: Spreading = None
    turned: Turned = 0.0
    flown = "jonswap"


class Bretschneider(_Waves):
    """The ITTC two-parameter sea; significant height and peak period."""

    kind: Literal["bretschneider"]
    spreading: Spreading = None
    turned: Turned = 0.0
    flown = "bretschneider"


class Code(_Waves):
    """A sea by its state in WMO code table 3700; the codes are wide, so it needs a height too. Of the ITTC form."""

    kind: Literal["code"]
    state: Count = Field(ge=0, le=9, description="number in WMO table 3700: 1 is up to 10 cm, 2 up to 50 cm")
    spreading: Spreading = None
    turned: Turned = 0.0
    flown = "bretschneider"

    @model_validator(mode="after")
    def _in_its_band(self) -> Self:
        low, high = sea_state_code_bounds(self.state)
        if self.state == 0:
            raise wrong("kind: flat, which is what state 0 means", at=("state",))
        for place, height in enumerate(self.height):
            if not low < height <= high:
                band = f"over {quantity(low, 'cm')} up to {quantity(high, 'cm')}" if high < math.inf else "over 1400 cm"
                raise wrong(f"a height of state {self.state}: {band}", at=("height", place))
        return self


class Wind(Part):
    """What a steady wind raises over a fetch of the campaign's depth, of the JONSWAP form."""

    kind: Literal["wind"]
    speed: Winds = Field(description="10 m above the water")
    fetch: Fetches = Field(description="how far the wind has blown over water")
    gamma: Gamma = Field(3.3, description="peak enhancement; 1 is a fully grown sea")
    spreading: Spreading = None
    turned: Turned = 0.0

    def meant(self, depth: float) -> Iterator[Meant]:
        """Every sea that this entry stands for, in water of this depth (m)."""
        more = {"gamma": self.gamma, "spreading": self.spreading, "turned": self.turned}
        for (place, speed), fetch in product(enumerate(self.speed), self.fetch):
            height, period = wind_sea(speed, fetch, min(depth, 1e4))
            sea = NamedSea(kind="jonswap", height=height, period=period, wind=speed, **more)
            yield Meant(sea, ("speed", place), (quantity(speed, "m/s"), quantity(fetch, "m")))

    @model_validator(mode="after")
    def _stands(self, info: ValidationInfo) -> Self:
        depth = (info.context or {}).get("depth", math.inf)
        for meant in self.meant(depth):
            if meant.sea.period < 0.32:
                found = f"a wind sea of {quantity(meant.sea.period, 's')}"
                raise wrong("waves of 0.32 s or more: a stronger wind or a longer fetch", found, at=meant.at)
            _refuse_breaking(meant, depth)
        return self


class Packet(_Waves):
    """A passing boat's wake: a group of waves that meets the craft once; height of the highest."""

    kind: Literal["packet"]
    period: Annotated[tuple[Annotated[Duration, Field(ge=0.5, le=30)], ...], Field(min_length=1, max_length=1000), OneOrMore()]
    waves: Number = Field(ge=3, le=50, description="how many are higher than half of the highest")
    arrives: Duration = Field(gt=0, description="when its middle meets the craft, from the start of the flight")
    turned: Turned = 0.0
    flown = "packet"


SumPart = Annotated[Regular | Jonswap | Bretschneider | Wind | Code | Packet, Field(discriminator="kind")]


class Sum(Part):
    """Several seas at once, each turned from the heading if it likes."""

    kind: Literal["sum"]
    of: tuple[SumPart, ...] = Field(min_length=2, max_length=4, description="the seas that meet")

    def meant(self, depth: float) -> Iterator[Meant]:
        """Every choice of one sea of each part."""
        for chosen in product(*(part.meant(depth) for part in self.of)):
            parts = tuple(meant.sea for meant in chosen)
            height = math.sqrt(sum(part.height**2 for part in parts))
            period = max(parts, key=lambda part: part.height).period
            sea = NamedSea(kind="sum", height=height, period=period, parts=parts)
            yield Meant(sea, (), tuple(mark for meant in chosen for mark in meant.marks))

    @model_validator(mode="after")
    def _one_packet(self) -> Self:
        packets = [place for place, part in enumerate(self.of) if isinstance(part, Packet)]
        if len(packets) > 1:
            raise wrong("one packet in a sum", at=("of", packets[1]))
        return self


Sea = Annotated[Flat | Regular | Jonswap | Bretschneider | Wind | Code | Packet | Sum, Field(discriminator="kind")]


def expand(seas: Mapping[str, Sea], depth: float) -> tuple[NamedSea, ...]:
    """Every sea by itself, in water of this depth (m); where an entry stands for several, the name tells what differs."""
    return tuple(
        meant.sea.model_copy(update={"name": " ".join((label, *telling))})
        for label, sea in seas.items()
        for meant, telling in _told_apart(list(sea.meant(depth)))
    )


def _told_apart(several: list[Meant]) -> Iterator[tuple[Meant, tuple[str, ...]]]:
    differs = [len(set(column)) > 1 for column in zip(*(meant.marks for meant in several), strict=True)]
    for meant in several:
        yield meant, tuple(mark for mark, tells in zip(meant.marks, differs, strict=True) if tells)


def wave_length(period: float, depth: float) -> float:
    """Length of a linear wave, m."""
    return 2 * math.pi / float(wave_number(2 * math.pi / period, depth))


def steepest(sea: NamedSea, depth: float) -> float:
    """Largest height over length: Miche 1944 for a regular wave, 0.07 at most and half of Miche's for a significant height."""
    breaking = breaking_steepness(sea.period, depth)
    return min(STEEPEST_SEA, breaking / 2) if sea.irregular else breaking


def _refuse_breaking(meant: Meant, depth: float) -> None:
    height, period = meant.sea.height, meant.sea.period
    length = wave_length(period, depth)
    most = length * steepest(meant.sea, depth)
    if height > most:
        lower = f"height at most {quantity(_down(most), 'cm')} at this period, or a longer one"
        found = f"{quantity(height, 'cm')} over a wavelength of {quantity(length, 'm')} ({quantity(period, 's')})"
        mend = lower if meant.at[0] == "height" else "a weaker wind"
        raise wrong(f"waves that do not break: {mend}", found, at=meant.at)


def _down(height: float) -> float:
    """Rounded down to a tenth of a millimetre, so that the height that a message names is taken."""
    return math.floor(height * 1e4) / 1e4


def steep_seas(seas: tuple[NamedSea, ...], depth: float) -> tuple[str, ...]:
    """A caution for every sea that linear waves describe poorly."""
    simple = ((sea.name, part) for sea in seas for part in sea.parts or (sea,) if part.kind != "flat")
    shares = ((name, part.height / wave_length(part.period, depth)) for name, part in simple)
    return tuple(
        f"{name}: height over wavelength is {share:.3f}; "
        f"over {STEEP} crests are higher and sharper than the linear waves flown here"
        for name, share in shares
        if share > STEEP
    )

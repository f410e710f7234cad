"""The seas of a campaign file: each entry describes waves, and stands for one sea or several."""

from __future__ import annotations

import math
from abc import abstractmethod
from collections.abc import Iterator, Mapping
from itertools import product
from typing import Annotated, Any, ClassVar, Literal, NamedTuple, Self

from pydantic import Field, ValidationInfo, model_validator

from sweep.campaign.named_seas import (
    SHORTEST_PERIOD,
    BretschneiderSea,
    FlatSea,
    JonswapSea,
    NamedSea,
    PacketSea,
    RegularSea,
    SumOfSeas,
    wave_length,
)
from sweep.campaign.text.base import Part
from sweep.campaign.text.dimensions import Angle, Count, Duration, Length, Number, OneOrMore, Speed, quantity
from sweep.campaign.text.problems import wrong
from sweep.model.physics.spectra import sea_state_code_bounds, wind_sea
from sweep.model.physics.waves import Track, WavePacket, packet_components

STEEP = 0.05
"""Significant height over the length of waves of the peak period, from which a caution is said (judgement)."""


class Meant(NamedTuple):
    """One sea of an entry, the place of its height in the entry, and what may distinguish it from the others."""

    sea: NamedSea
    at: tuple[str | int, ...]
    marks: tuple[str, ...]


Heights = Annotated[tuple[Annotated[Length, Field(gt=0)], ...], Field(min_length=1, max_length=1000), OneOrMore()]
Periods = Annotated[
    tuple[Annotated[Duration, Field(ge=SHORTEST_PERIOD, le=30)], ...], Field(min_length=1, max_length=1000), OneOrMore()
]
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


class _Entry(Part):
    """A sea in a campaign file."""

    @abstractmethod
    def meant(self, depth: float) -> Iterator[Meant]:
        """Every sea that this entry stands for, in water of this depth (m)."""

    def packets(self) -> Iterator[tuple[tuple[str | int, ...], Packet]]:
        """The packets in it, each with where in the entry it stands."""
        return iter(())


class Flat(_Entry):
    """Calm water, with or without a wind over it."""

    kind: Literal["flat"] = Field(description="which sea")
    wind: Annotated[
        Speed, Field(ge=0, le=30, description="mean wind 10 m up, blowing the way that waves of the heading would go")
    ] = 0.0

    def meant(self, depth: float) -> Iterator[Meant]:
        """The one sea without waves."""
        yield Meant(FlatSea(wind=self.wind), (), ())


class _Waves(_Entry):
    """Waves of every height with every period."""

    height: Heights = Field(
        description="from trough to crest; of irregular waves the significant height, of a packet the highest"
    )
    period: Periods = Field(description="from crest to crest; of irregular waves that of the peak of their spectrum")
    wind: MeanWind = 0.0
    wind_turned: WindTurned = 0.0
    flown: ClassVar[type[NamedSea]]

    def meant(self, depth: float) -> Iterator[Meant]:
        """Every sea that this entry stands for, in water of this depth (m)."""
        shared = (type(self).model_fields.keys() & self.flown.model_fields.keys()) - {"kind"}
        more: dict[str, Any] = {name: getattr(self, name) for name in shared}
        for (place, height), period in product(enumerate(self.height), self.period):
            sea = self.flown(**more | {"height": height, "period": period})
            yield Meant(sea, ("height", place), (quantity(height, "cm"), quantity(period, "s")))

    @model_validator(mode="after")
    def _stands(self, info: ValidationInfo) -> Self:
        depth = (info.context or {}).get("depth", math.inf)
        for meant in self.meant(depth):
            _refuse_breaking(meant, depth)
        return self


class Regular(_Waves):
    """One wave train; height from trough to crest."""

    kind: Literal["regular"] = Field(description="which sea")
    turned: Turned = 0.0
    flown = RegularSea


class Jonswap(_Waves):
    """A wind sea of the JONSWAP form; significant height and peak period."""

    kind: Literal["jonswap"] = Field(description="which sea")
    gamma: Gamma = Field(3.3, description="peak enhancement; 1 is a fully grown sea")
    spreading: Spreading = None
    turned: Turned = 0.0
    flown = JonswapSea


class Bretschneider(_Waves):
    """The ITTC two-parameter sea; significant height and peak period."""

    kind: Literal["bretschneider"] = Field(description="which sea")
    spreading: Spreading = None
    turned: Turned = 0.0
    flown = BretschneiderSea


class Code(_Waves):
    """A sea by its state in WMO code table 3700; the codes are wide, so it needs a height too. Of the ITTC form."""

    kind: Literal["code"] = Field(description="which sea")
    state: Count = Field(ge=0, le=9, description="number in WMO table 3700: 1 is up to 10 cm, 2 up to 50 cm")
    spreading: Spreading = None
    turned: Turned = 0.0
    flown = BretschneiderSea

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


class Wind(_Entry):
    """The sea that a steady wind raises over a fetch of the campaign's depth, of the JONSWAP form."""

    kind: Literal["wind"] = Field(description="which sea")
    speed: Winds = Field(description="10 m above the water")
    fetch: Fetches = Field(description="how far the wind has blown over water")
    gamma: Gamma = Field(3.3, description="peak enhancement; 1 is a fully grown sea")
    spreading: Spreading = None
    turned: Turned = 0.0

    def meant(self, depth: float) -> Iterator[Meant]:
        """Every sea that this entry stands for, in water of this depth (m)."""
        more: dict[str, Any] = {"gamma": self.gamma, "spreading": self.spreading, "turned": self.turned}
        for (place, speed), fetch in product(enumerate(self.speed), self.fetch):
            height, period = wind_sea(speed, fetch, min(depth, 1e4))
            sea = JonswapSea(height=height, period=period, wind=speed, **more)
            yield Meant(sea, ("speed", place), (quantity(speed, "m/s"), quantity(fetch, "m")))

    @model_validator(mode="after")
    def _stands(self, info: ValidationInfo) -> Self:
        depth = (info.context or {}).get("depth", math.inf)
        for meant in self.meant(depth):
            if meant.sea.period < SHORTEST_PERIOD:
                found = f"a wind sea of {quantity(meant.sea.period, 's')}"
                raise wrong(f"waves of {SHORTEST_PERIOD} s or more: a stronger wind or a longer fetch", found, at=meant.at)
            _refuse_breaking(meant, depth)
        return self


class Packet(_Waves):
    """A passing boat's wake: a group of waves that meets the craft once; height of the highest."""

    kind: Literal["packet"] = Field(description="which sea")
    period: Annotated[
        tuple[Annotated[Duration, Field(ge=0.5, le=30)], ...], Field(min_length=1, max_length=1000), OneOrMore()
    ] = Field(description="from crest to crest")
    waves: Number = Field(ge=3, le=50, description="how many are higher than half of the highest")
    arrives: Duration = Field(gt=0, description="when its middle meets the craft, from the start of the flight")
    turned: Turned = 0.0
    flown = PacketSea

    def packets(self) -> Iterator[tuple[tuple[str | int, ...], Packet]]:
        """Itself."""
        yield (), self

    def components(self, heading: float, depth: float, track: Track) -> int:
        """The most components that one of its packets takes, met at a condition's heading (rad), in a depth (m)."""
        groups = (WavePacket(height, period, self.waves, self.arrives) for height, period in product(self.height, self.period))
        return max(packet_components(group, heading + self.turned, depth, track) for group in groups)


SumPart = Annotated[Regular | Jonswap | Bretschneider | Wind | Code | Packet, Field(discriminator="kind")]


class Sum(_Entry):
    """Several seas at once, each of which may be turned from the heading."""

    kind: Literal["sum"] = Field(description="which sea")
    of: tuple[SumPart, ...] = Field(min_length=2, max_length=4, description="the seas that meet")

    def meant(self, depth: float) -> Iterator[Meant]:
        """Every choice of one sea of each part."""
        for chosen in product(*(part.meant(depth) for part in self.of)):
            parts = tuple(meant.sea for meant in chosen)
            height = math.sqrt(sum(part.height**2 for part in parts))
            period = max(parts, key=lambda part: part.height).period
            sea = SumOfSeas(height=height, period=period, parts=parts)
            yield Meant(sea, (), tuple(mark for meant in chosen for mark in meant.marks))

    @model_validator(mode="after")
    def _one_packet(self) -> Self:
        packets = [at for at, _ in self.packets()]
        if len(packets) > 1:
            raise wrong("one packet in a sum", at=packets[1])
        return self

    def packets(self) -> Iterator[tuple[tuple[str | int, ...], Packet]]:
        """Those of its parts."""
        return ((("of", place, *at), packet) for place, part in enumerate(self.of) for at, packet in part.packets())


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


def _refuse_breaking(meant: Meant, depth: float) -> None:
    height, period = meant.sea.height, meant.sea.period
    length = wave_length(period, depth)
    most = length * meant.sea.steepest(depth)
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
    systems = ((sea.name, part) for sea in seas for part in sea.systems)
    shares = ((name, part.height / wave_length(part.period, depth)) for name, part in systems)
    return tuple(
        f"{name}: height over wavelength is {share:.3f}; "
        f"over {STEEP} crests are higher and sharper than the linear waves flown here"
        for name, share in shares
        if share > STEEP
    )

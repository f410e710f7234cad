"""Seas as flights meet them: a class for each kind, which answers all questions about itself. Nobody else checks the kind."""

from __future__ import annotations

import math
from abc import abstractmethod
from typing import Any, ClassVar, Literal

import numpy as np
from pydantic import BaseModel, ConfigDict, SerializeAsAny

from sweep.campaign.text.base import set_beside
from sweep.model.physics.spectra import Spectrum
from sweep.model.physics.waves import (
    STEEPEST_SEA,
    Sea,
    Track,
    WavePacket,
    breaking_steepness,
    flat_sea,
    irregular_sea,
    join,
    packet_sea,
    regular_sea,
    wave_number,
)
from sweep.words.numbers import with_unit

SHORTEST_PERIOD = 0.32
"""s; that of a peak must be 1.5 times the shortest wave's, see `waves.draw_components`."""

WAVES: dict[str, Any] = {
    "kind": "",
    "height": 0.0,
    "period": 0.0,
    "gamma": 0.0,
    "spreading": None,
    "waves": 0.0,
    "arrives": 0.0,
    "turned": 0.0,
}
"""The fields that every sea's waves are drawn by, with the value for a kind that lacks the field.

They are frozen, and so is their order: the waves of every campaign were drawn by these. Do not add a new field here: it counts
as soon as it is not at its default.
"""
WIND: dict[str, Any] = {"wind": 0.0, "wind_turned": 0.0}
"""Fields that change no wave, but are flown."""


class NamedSea(BaseModel):
    """One sea that flights meet, SI; height is the significant one of an irregular sea, period that of its peak.

    turned: from the heading of the condition, rad. wind: mean wind 10 m up, m/s; wind_turned: from the way the waves go, rad.
    """

    model_config = ConfigDict(frozen=True)

    name: str = ""
    kind: str
    height: float = 0.0
    period: float = 0.0
    turned: float = 0.0
    wind: float = 0.0
    wind_turned: float = 0.0

    called: ClassVar[str]
    has_waves: ClassVar[bool] = True
    is_irregular: ClassVar[bool] = False
    """Whether no two of its waves are alike: rare events then need many waves."""
    is_steady: ClassVar[bool] = True
    """Whether its waves last as long as a flight."""

    @abstractmethod
    def components(self, heading: float, depth: float, generator: np.random.Generator, track: Track) -> Sea:
        """Its waves over water of a depth (m), as a craft on its track meets them at the condition's heading (rad).

        Raises ValueError if they would break.
        """

    @property
    def spectrum(self) -> Spectrum | None:
        """The spectrum of its waves, if they are drawn from one."""
        return None

    @property
    def systems(self) -> tuple[NamedSea, ...]:
        """The wave systems that meet in it: itself, if it is no sum, and none in calm water."""
        return (self,)

    @property
    def passes(self) -> bool:
        """Whether waves of it pass once, and meet only a craft that goes straight."""
        return not all(part.is_steady for part in self.systems)

    @property
    def windiest(self) -> NamedSea:
        """The sea whose wind blows: itself, or of a sum the part with the most."""
        return self

    @property
    def directed(self) -> bool:
        """Whether the heading matters: it does not in calm water without wind."""
        return True

    @property
    def text(self) -> str:
        """The sea in words, without its name."""
        return f"{self.called} of {with_unit(100.0 * self.height, 'cm')} and {with_unit(self.period, 's')}"

    def steepest(self, depth: float) -> float:
        """Largest height over length in water of a depth (m): Miche 1944, for a regular wave."""
        return breaking_steepness(self.period, depth)

    def wave_content(self) -> dict[str, Any]:
        """The values that its waves are drawn by: the same to the letter from version to version."""
        return self._content(WAVES)

    def content(self) -> dict[str, Any]:
        """All that is flown of it, which its name is not."""
        return self._content(WAVES | WIND)

    def _content(self, known: dict[str, Any]) -> dict[str, Any]:
        told = {name: getattr(self, name, absent) for name, absent in known.items()}
        return told | {"parts": []} | set_beside(self, {"name", "parts", *WAVES, *WIND})


class FlatSea(NamedSea):
    """Calm water, with or without a wind over it."""

    kind: Literal["flat"] = "flat"
    has_waves = False
    is_steady = False

    def components(self, heading: float, depth: float, generator: np.random.Generator, track: Track) -> Sea:
        """None."""
        return flat_sea(depth)

    @property
    def systems(self) -> tuple[NamedSea, ...]:
        """None."""
        return ()

    @property
    def directed(self) -> bool:
        """Whether a wind blows."""
        return self.wind > 0.0

    @property
    def text(self) -> str:
        """Its wind, if it has one."""
        return f"calm, with a wind of {with_unit(self.wind, 'm/s')}" if self.wind else "calm"


class RegularSea(NamedSea):
    """One wave train; height from trough to crest."""

    kind: Literal["regular"] = "regular"
    called = "regular waves"

    def components(self, heading: float, depth: float, generator: np.random.Generator, track: Track) -> Sea:
        """One wave of a drawn phase."""
        return regular_sea(self.height, self.period, heading + self.turned, depth, generator.uniform(0, 2 * math.pi))


class _Drawn(NamedSea):
    """An irregular sea; spreading: exponent of the spreading function, None for waves that all go one way."""

    spreading: float | None = None
    is_irregular = True

    @property
    @abstractmethod
    def spectrum(self) -> Spectrum:
        """The spectrum of its waves."""

    def components(self, heading: float, depth: float, generator: np.random.Generator, track: Track) -> Sea:
        """Waves drawn from the spectrum."""
        return irregular_sea(self.spectrum, heading + self.turned, depth, generator, track.components, self.spreading)

    def steepest(self, depth: float) -> float:
        """Largest significant height over length: 0.07, and half of Miche's at most."""
        return min(STEEPEST_SEA, super().steepest(depth) / 2)


class JonswapSea(_Drawn):
    """A wind sea of the JONSWAP form; gamma: its peak enhancement."""

    kind: Literal["jonswap"] = "jonswap"
    gamma: float = 3.3
    called = "JONSWAP sea"

    @property
    def spectrum(self) -> Spectrum:
        """The spectrum of Hasselmann et al. 1973."""
        return Spectrum(self.height, self.period, self.gamma)


class BretschneiderSea(_Drawn):
    """The ITTC two-parameter sea."""

    kind: Literal["bretschneider"] = "bretschneider"
    called = "two-parameter sea"

    @property
    def spectrum(self) -> Spectrum:
        """The fully grown form."""
        return Spectrum(self.height, self.period, 1.0)


class PacketSea(NamedSea):
    """A group of waves that meets the craft once; height of the highest, waves: how many it holds, arrives: when, s."""

    kind: Literal["packet"] = "packet"
    waves: float
    arrives: float
    is_steady = False
    called = "packet waves"

    def components(self, heading: float, depth: float, generator: np.random.Generator, track: Track) -> Sea:
        """The group, its highest crest at a drawn phase."""
        packet = WavePacket(self.height, self.period, self.waves, self.arrives)
        return packet_sea(packet, heading + self.turned, depth, track, generator.uniform(0, 2 * math.pi))


class SumOfSeas(NamedSea):
    """Several seas at once: height the root of the sum of the parts' squares, period that of the highest part."""

    kind: Literal["sum"] = "sum"
    parts: tuple[SerializeAsAny[NamedSea], ...]
    is_irregular = True

    def components(self, heading: float, depth: float, generator: np.random.Generator, track: Track) -> Sea:
        """All waves of all parts."""
        return join([part.components(heading + self.turned, depth, generator, track) for part in self.parts])

    @property
    def systems(self) -> tuple[NamedSea, ...]:
        """Its parts."""
        return self.parts

    @property
    def windiest(self) -> NamedSea:
        """The part with the most wind."""
        return max(self.parts, key=lambda part: part.wind)

    @property
    def text(self) -> str:
        """Part by part."""
        return " with ".join(part.text for part in self.parts)

    def _content(self, known: dict[str, Any]) -> dict[str, Any]:
        return super()._content(known) | {"parts": [{"name": part.name} | part._content(known) for part in self.parts]}


def wave_length(period: float, depth: float) -> float:
    """Length (m) of a linear wave of a period (s) in water of a depth (m)."""
    return 2 * math.pi / float(wave_number(2 * math.pi / period, depth))

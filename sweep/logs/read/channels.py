"""The channels that a log may hold, with their kinds; and series, each with its own times."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sweep.campaign.text.dimensions import Acceleration, Angle, AngularRate, Kind, Length, Power, Share, Speed
from sweep.model.physics.spectra import Floats


class Series(NamedTuple):
    """Readings of one channel: times (s, going up) and values (SI), each (readings,); missing readings are left out."""

    time: Floats
    value: Floats

    def at(self, time: Floats) -> Floats:
        """Values in between, linear; the first and last beyond the ends."""
        return np.interp(time, self.time, self.value)

    def between(self, begin: float, end: float) -> Series:
        """The readings of begin <= time <= end, s."""
        some = slice(*np.searchsorted(self.time, [begin, end + 1e-9]))
        return Series(self.time[some], self.value[some])


Record = dict[str, Series]


class ChannelKind(NamedTuple):
    """kind: of the quantity; meaning: for people; low, high: SI, limits of what such a craft can read."""

    kind: Kind
    meaning: str
    low: float
    high: float


def _kind(annotated: object) -> Kind:
    found: Kind = annotated.__metadata__[0]  # type: ignore[attr-defined]
    return found


_LENGTH, _ANGLE, _RATE, _FORCE = map(_kind, (Length, Angle, AngularRate, Acceleration))
_RANGE = "distance to the water along the beam of the rangefinder that steers"
CHANNELS: dict[str, ChannelKind] = {
    "range": ChannelKind(_LENGTH, _RANGE, 0.0, 5.0),
    "witness": ChannelKind(
        _LENGTH, "keel above the water, by something that does not steer: a second rangefinder, video", -0.5, 2.0
    ),
    "pitch": ChannelKind(_ANGLE, "bow up", -1.0, 1.0),
    "roll": ChannelKind(_ANGLE, "starboard down", -1.6, 1.6),
    "heading": ChannelKind(_ANGLE, "clockwise from above", -1e4, 1e4),
    "pitch_rate": ChannelKind(_RATE, "bow up", -10.0, 10.0),
    "force_x": ChannelKind(_FORCE, "accelerometer forward: acceleration less gravity", -100.0, 100.0),
    "force_z": ChannelKind(_FORCE, "accelerometer down: acceleration less gravity, about -9.81 m/s^2 at rest", -150.0, 150.0),
    "speed": ChannelKind(_kind(Speed), "over ground", 0.0, 30.0),
    "throttle": ChannelKind(_kind(Share), "of full throttle", 0.0, 1.0),
    "power": ChannelKind(_kind(Power), "from the battery", 0.0, 1e5),
}
FURTHER_RANGE = ChannelKind(_LENGTH, "distance to the water along the beam of that rangefinder, which steers too", 0.0, 5.0)
FOIL = ChannelKind(_ANGLE, "angle of a foil from its rigging, lifting positive", -0.8, 0.8)
NEEDED = ("range",)
FURTHER = "range_"
"""What the channel of a rangefinder that steers beside the first begins with, before its name in the craft."""


def channel_kind(name: str) -> ChannelKind:
    """The kind of a channel; `foil_<name>` is the angle of that foil, `range_<name>` another rangefinder. Raises KeyError."""
    if name.startswith(FURTHER):
        return FURTHER_RANGE
    return FOIL if name.startswith("foil_") else CHANNELS[name]

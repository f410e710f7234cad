"""What the control code knew at each of its ticks, by a log: stretches without holes, on the ticks of the code."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sweep.logs.read.channels import FURTHER, Record, Series
from sweep.model.physics.spectra import GRAVITY, Floats

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft

HOLE = 2.5
"""Times the usual step between rows, beyond which the code's memory is not known any more (judgement)."""
SHORTEST, LONGEST = 6.0, 40.0
"""s, of a stretch that is replayed (judgement)."""
TICK_NEAR = 0.2
"""Share by which the rate of the log's rows may differ from the code's, for a row to be a tick (judgement)."""

NOTHING = Series(np.zeros(0), np.zeros(0))


class Inputs(NamedTuple):
    """Sensors at the ticks of the code, (ticks,), and the angles that were logged.

    time: s; readings: of each rangefinder, m, (rangefinders, ticks), NaN where none is new; roll, pitch: rad; rates: rad/s,
    (3, ticks), force: m/s2, (3, ticks), body axes; speed: m/s; heading: rad; foils: the logged angle of each foil, rad, or
    None without it; times as the log has them.
    """

    time: Floats
    readings: Floats
    roll: Floats
    pitch: Floats
    rates: Floats
    force: Floats
    speed: Floats
    heading: Floats
    foils: tuple[Series | None, ...]


def stretches(record: Record, craft: Craft, speed: float) -> list[Inputs]:
    """The replayable stretches of a record, none if it has no range, pitch or foil. speed: m/s, where no column has it.

    A rate that was not logged is the slope of its angle; a force that was not is that of gravity alone.
    """
    foils = tuple(record.get(f"foil_{name}") for name in craft.foils)
    if "range" not in record or "pitch" not in record or not any(foils):
        return []
    period = 1.0 / craft.control.rate
    found = []
    for begin, end in _whole(record["pitch"].time, period):
        end = min(end, begin + LONGEST)
        if end - begin > SHORTEST:
            found.append(_inputs(record, craft, np.arange(begin, end, period), speed))
    return found


def _whole(time: Floats, period: float) -> list[tuple[float, float]]:
    """Begin and end (s) of the stretches of rows without a hole, by the rows of the attitude."""
    usual = max(float(np.median(np.diff(time))), period)
    cuts = [0, *(np.flatnonzero(np.diff(time) > HOLE * usual) + 1).tolist(), len(time)]
    return [(float(time[first]), float(time[last - 1])) for first, last in pairwise(cuts) if last - first > 1]


def _inputs(record: Record, craft: Craft, time: Floats, speed: float) -> Inputs:
    period = float(time[1] - time[0])

    def found(name: str, otherwise: float) -> Floats:
        return record[name].at(time) if name in record else np.full(len(time), otherwise)

    roll, pitch = found("roll", 0.0), found("pitch", 0.0)
    heading = found("heading", 0.0)
    rolling = np.gradient(roll, period)
    pitching = record["pitch_rate"].at(time) if "pitch_rate" in record else np.gradient(pitch, period)
    ahead = found("force_x", 0.0) if "force_x" in record else GRAVITY * np.sin(pitch)
    force = np.array([ahead, -GRAVITY * np.sin(roll) * np.cos(pitch), found("force_z", -GRAVITY)])
    return Inputs(
        time=time,
        readings=np.array([_arrived(record.get(name, NOTHING), time) for name in range_channels(craft)]),
        roll=roll,
        pitch=pitch,
        rates=np.array([rolling, pitching, np.zeros(len(time))]),
        force=force,
        speed=found("speed", speed),
        heading=heading,
        foils=tuple(record.get(f"foil_{name}") for name in craft.foils),
    )


def range_channels(craft: Craft) -> list[str]:
    """The channel of each rangefinder of a craft, in the order of its file."""
    return ["range", *(f"{FURTHER}{name}" for name in craft.rangefinders.names()[1:])]


def lacking_ranges(craft: Craft, found: Sequence[Inputs]) -> list[str]:
    """The channels of rangefinders that the code trusts, of which some stretch has no reading."""
    trusted = zip(range_channels(craft), craft.rangefinders.of_each("trust"), strict=True)
    return [
        name
        for place, (name, trust) in enumerate(trusted)
        if trust > 0.0 and not all(np.isfinite(each.readings[place]).any() for each in found)
    ]


def _arrived(readings: Series, time: Floats) -> Floats:
    """The reading that came since the tick before, at each tick; NaN where none did."""
    found = np.full(len(time), np.nan)
    at = np.searchsorted(time, readings.time - 1e-6)
    inside = (at < len(time)) & (readings.time > time[0] - (time[1] - time[0]))
    found[at[inside]] = readings.value[inside]
    return found

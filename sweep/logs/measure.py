"""What a run measures: the same numbers of a log from the water and of a flight of the model, by the same code."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sweep.logs.channels import Record, Series
from sweep.logs.surface import odd_ones, sensor_arms, upward
from sweep.model.mass import rangefinder_places
from sweep.model.spectra import Floats

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft


class Measure(NamedTuple):
    """One number of a run: `scale` turns its SI value into the unit shown."""

    name: str
    title: str
    unit: str
    scale: float


MEASURES: tuple[Measure, ...] = (
    Measure("sensed_error", "ride height error, as its own rangefinder tells it", "cm", 100.0),
    Measure("witness_error", "ride height error, by the witness", "cm", 100.0),
    Measure("acceleration", "vertical acceleration", "m/s^2", 1.0),
    Measure("pitch", "pitch", "deg", 180.0 / np.pi),
    Measure("roll", "roll", "deg", 180.0 / np.pi),
    Measure("throttle", "throttle", "%", 100.0),
    Measure("power", "battery power", "W", 1.0),
)
MEASURE = {measure.name: measure for measure in MEASURES}


def sensed_height(record: Record, craft: Craft) -> Series:
    """Keel above the water (m) by the first rangefinder and the attitude, as the control code reckons it; no odd readings."""
    reading = record["range"]
    x, y, height = rangefinder_places(craft)[0]
    arm, unit = sensor_arms(craft)
    ahead = arm[0] + unit[0]
    del x, y
    pitch = record["pitch"].at(reading.time) if "pitch" in record else np.zeros_like(reading.time)
    roll = record["roll"].at(reading.time) if "roll" in record else np.zeros_like(reading.time)
    values = (reading.value - height) * np.cos(roll) * np.cos(pitch) - np.sin(pitch) * ahead
    good = ~odd_ones(values)
    return Series(reading.time[good], values[good])


def measures(record: Record, craft: Craft) -> dict[str, float]:
    """The numbers of one run, SI, of the channels that it has; root mean squares about the wanted height, or about the mean."""
    wanted = craft.control.ride_height
    found = {"sensed_error": _size(sensed_height(record, craft).value - wanted)}
    if "witness" in record:
        found["witness_error"] = _size(record["witness"].value - wanted)
    if "force_z" in record and "pitch" in record:
        found["acceleration"] = float(np.std(upward(record).value))
    for name in ("pitch", "roll"):
        if name in record:
            found[name] = float(np.std(record[name].value))
    for name in ("throttle", "power"):
        if name in record:
            found[name] = float(np.mean(record[name].value))
    return found


def _size(values: Floats) -> float:
    return float(np.sqrt(np.mean(values**2)))

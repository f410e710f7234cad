"""Responses in the words and the units that people read."""

from __future__ import annotations

from sweep.model.quantities import RESPONSE
from sweep.words.numbers import with_unit


def response(name: str, value: float) -> str:
    """A response in the unit that people read: 0.012 -> '1.2 cm'. `value` is SI."""
    return with_unit(value * RESPONSE[name].scale, RESPONSE[name].unit)


def response_title(name: str) -> str:
    """'ride_height_error' -> 'ride height error'."""
    return name.replace("_p01", " (1st percentile)").replace("_p99", " (99th percentile)").replace("_", " ")

"""Which sources flew a flight: those of the model, and those that pack crafts and draw blocks for it."""

from __future__ import annotations

from functools import cache

from sweep.model.identity import digest_of
from sweep.model.sources import MODEL

FLIGHT = (
    *MODEL,
    "flying/flights.py",
    "flying/own_flights.py",
    "flying/packing.py",
    *(f"campaign/{name}.py" for name in ("addresses", "conditions", "courses", "craft", "designs", "draws", "drives")),
    *(f"campaign/{name}.py" for name in ("faults", "foils", "headings", "named_seas", "rangefinders", "seas")),
    *(f"campaign/{name}.py" for name in ("servos", "steering", "unknowns", "wands", "water")),
    *(f"campaign/text/{name}.py" for name in ("base", "dimensions")),
)
"""The sources that a flight runs through, from a campaign that has been read to its row. Reading a file is left out: if it
changes, what was read differs."""


@cache
def flight_digest() -> str:
    """Digest of all that a flight runs through: flights of the same digest and content are the same flight."""
    return digest_of(FLIGHT)

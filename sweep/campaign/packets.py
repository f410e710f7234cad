"""Packets of waves and their flights: each packet must come while the flight is scored, and once."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from typing import NamedTuple

from sweep.campaign.flight import Flight
from sweep.campaign.seas import Packet
from sweep.campaign.text.dimensions import quantity
from sweep.campaign.water import Conditions
from sweep.model.physics.waves import MOST_OF_PACKET, Track


class Misfit(NamedTuple):
    """A mistake of a packet: where below the seas, what would be right, what was found."""

    at: tuple[str | int, ...]
    wanted: str
    found: str


def misfits(conditions: Conditions, flight: Flight, depth: float) -> Iterator[Misfit]:
    """Every packet that comes too early or late, or that its flight would meet again; depth of the water in m."""
    packets = (((label, *at), packet) for label, sea in conditions.seas.items() for at, packet in sea.packets())
    for at, packet in packets:
        arrives = quantity(packet.arrives, "s")
        if not flight.settle <= packet.arrives < flight.length:
            scored = f"{quantity(flight.settle, 's')} and {quantity(flight.length, 's')}"
            yield Misfit((*at, "arrives"), f"a time between {scored}, while the flight is scored", arrives)
        elif not _met_once(packet, conditions, flight, flight.length, depth):
            lengths = range(int(flight.length), int(packet.arrives), -1)
            longest = next((length for length in lengths if _met_once(packet, conditions, flight, length, depth)), None)
            shorter = "an earlier one" if longest is None else f"a flight of at most {longest} s"
            found = f"{packet.waves:g} waves, which a flight of {quantity(flight.length, 's')} would meet again"
            yield Misfit((*at, "waves"), f"{shorter}, more waves, or a lower speed", found)


def _met_once(packet: Packet, conditions: Conditions, flight: Flight, length: float, depth: float) -> bool:
    start = flight.settle if flight.start == "rest" else 0.0
    return all(
        packet.components(heading.angle, depth, Track(speed, start, length)) <= MOST_OF_PACKET
        for heading, speed in product(conditions.headings, conditions.speeds)
    )

"""Courses of a campaign file: legs one after the other, turns between them, and stops with another start after each."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Annotated, NamedTuple, Self, TypeAlias

from pydantic import BaseModel, ConfigDict, Field, model_validator

from sweep.campaign.flight import Flight
from sweep.campaign.headings import Heading
from sweep.campaign.text.base import Part
from sweep.campaign.text.dimensions import Angle, AngularRate, Duration, Length, Speed, quantity
from sweep.campaign.text.problems import wrong
from sweep.model.layout import MOST_LEGS

__all__ = ["MOST_LEGS", "STRAIGHT", "Leg", "NamedCourse", "never_begun"]

STRAIGHT = "straight"
"""The course without legs."""
Row: TypeAlias = tuple[float, ...]


class Leg(Part):
    """A piece of a course, at one heading and speed; or a stop."""

    time: Duration | None = Field(None, gt=0, description="how long it takes")
    distance: Length | None = Field(None, gt=0, description="length of its path, which the craft reckons by its speed readings")
    stop: Duration | None = Field(None, gt=0, description="instead: the throttle is shut so long, and the craft lies afloat")
    turn: Annotated[Angle, Field(ge=-2 * math.pi, le=2 * math.pi)] | None = Field(
        None, description="to starboard, as it begins, from the heading before"
    )
    heading: Heading | None = Field(None, description="to the waves, as in headings; it turns there the shorter way")
    rate: AngularRate | None = Field(None, gt=0, description="of that turn; control.turn_rate if left out")
    radius: Length | None = Field(None, gt=0, description="of that turn, at the wanted speed")
    speed: Speed | None = Field(None, gt=0, le=30, description="wanted; that of the condition if left out")

    @model_validator(mode="after")
    def _one_end(self) -> Self:
        if sum(each is not None for each in (self.time, self.distance, self.stop)) != 1:
            raise wrong("a leg with one of time, distance or stop")
        beside = [name for name in ("turn", "heading", "rate", "radius", "speed") if getattr(self, name) is not None]
        if self.stop is not None and beside:
            raise wrong("a stop by itself: the leg after it turns, at its speed", at=(beside[0],))
        if self.turn is not None and self.heading is not None:
            raise wrong("turn or heading, not both", at=("heading",))
        if self.turn is None and self.heading is None and (self.rate or self.radius):
            raise wrong("turn or heading beside it", at=("rate" if self.rate else "radius",))
        if self.rate is not None and self.radius is not None:
            raise wrong("rate or radius, not both", at=("radius",))
        return self


class NamedCourse(BaseModel):
    """A course as flights follow it."""

    model_config = ConfigDict(frozen=True)

    name: str = STRAIGHT
    legs: tuple[Leg, ...] = ()

    def rows(self, speed: float, heading: float) -> tuple[Row, ...]:
        """Its legs for the model (see `sweep.model.onboard.course`), in a condition of this speed (m/s) and heading (rad)."""
        rows, now = [], 0.0
        for leg in self.legs:
            wanted = leg.speed or speed
            now += _turn(leg, heading - now)
            rate = leg.rate or (wanted / leg.radius if leg.radius else 0.0)
            time = leg.time or leg.stop or 0.0
            rows.append((time, leg.distance or 0.0, now, rate, wanted, float(leg.stop is not None)))
        return tuple(rows)


def _turn(leg: Leg, heading: float) -> float:
    """By what a leg turns from a heading to the waves, rad to starboard: by half a turn to starboard, else the shorter way."""
    if leg.heading is None:
        return leg.turn or 0.0
    by = heading - leg.heading.angle
    return math.pi - (math.pi - by) % (2.0 * math.pi)


class NeverBegun(NamedTuple):
    """A leg that no flight would come to: where below the courses, what would be right, what was found."""

    at: tuple[str | int, ...]
    wanted: str
    found: str


def never_begun(courses: Mapping[str, tuple[Leg, ...]], flight: Flight, slowest: float) -> Iterator[NeverBegun]:
    """The first leg of each course that begins when the flights are over, at their slowest speed (m/s)."""
    for name, legs in courses.items():
        begins = flight.settle
        for place, leg in enumerate(legs):
            if begins >= flight.length:
                wanted = f"a leg that begins within the flight, which ends at {quantity(flight.length, 's')}"
                found = f"one that begins at about {quantity(round(begins, 1), 's')}, at {quantity(slowest, 'm/s')}"
                yield NeverBegun((name, place), wanted, found)
                break
            begins += leg.time or leg.stop or (leg.distance or 0.0) / (leg.speed or slowest)

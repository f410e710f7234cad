"""The water in a campaign file: the body of water, its seas, and how the craft goes through them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import product
from typing import Annotated, Any, Literal, Self, TypeAlias

from pydantic import Field, ValidationInfo, model_validator

from sweep.campaign.courses import MOST_LEGS, STRAIGHT, Leg, NamedCourse
from sweep.campaign.faults import Fault, FaultFile, NamedFault, repeated
from sweep.campaign.headings import HEADINGS, Heading, NamedHeading
from sweep.campaign.named_seas import NamedSea
from sweep.campaign.seas import Sea, expand
from sweep.campaign.text.base import Part
from sweep.campaign.text.dimensions import Count, Length, OneOrMore, Share, Speed, Temperature
from sweep.campaign.text.problems import wrong
from sweep.model.physics.water import Water, fresh_water, sea_water

__all__ = ["HEADINGS", "Conditions", "Heading", "NamedHeading", "WaterBody", "each_once"]

MOST_CONDITIONS = 10_000
"""Conditions of one campaign (judgement)."""


class WaterBody(Part):
    """The water that the campaign takes place in."""

    kind: Literal["fresh", "sea"] = Field("fresh", description="its density and viscosity")
    temperature: Temperature = Field(288.15, ge=273.15, le=313.15, description="of the water")
    depth: Length = Field(10.0, ge=0.05, description="from the calm level to the ground; what touches that ends its flight")

    def for_model(self) -> Water:
        """The water as the model takes it."""
        return (fresh_water if self.kind == "fresh" else sea_water)(self.temperature, self.depth)


SeaName = Annotated[str, Field(pattern=r"^[A-Za-z][A-Za-z0-9 _-]*$", max_length=40)]
CourseName = SeaName


def each_once(entries: tuple[Any, ...], key: str, noun: str) -> None:
    """Refuse an entry of a list that is there twice."""
    for place, entry in enumerate(entries):
        if entry in entries[:place]:
            raise wrong(f"every {noun} once", at=(key, place))


Often = Annotated[Share, Field(gt=0, le=1e6)]


class SeasonFile(Part):
    """How often each sea, heading and fault occurs: days, per cent or any numbers whose ratio says it.

    A group that is left out occurs evenly, and so do the speeds, and the seas that one entry stands for.
    """

    seas: dict[str, Often] = Field({}, description="by the names of the seas, all of them: days, per cent or any like number")
    headings: dict[str, Often] = Field({}, description="by the headings, all of them")
    faults: dict[str, Often] = Field({}, description="by the names of the faults, all of them, `none` too")


class Conditions(Part):
    """The conditions, which the builder cannot choose: every sea with every heading, speed, fault and course."""

    seas: dict[SeaName, Sea] = Field(min_length=1, description="the waves to fly through, by name")
    headings: Annotated[tuple[Heading, ...], Field(min_length=1, max_length=360), OneOrMore()] = Field(
        (NamedHeading(name="head", angle=math.pi),), description="where the waves come from, seen from the boat"
    )
    speeds: Annotated[tuple[Annotated[Speed, Field(gt=0, le=30)], ...], Field(min_length=1, max_length=1000), OneOrMore()] = (
        Field(description="wanted speeds over ground")
    )
    faults: Annotated[tuple[Fault, ...], Field(min_length=1, max_length=100), OneOrMore()] = Field(
        (FaultFile(),), description="what goes wrong: none, or one fault after the other"
    )
    courses: dict[CourseName, Annotated[tuple[Leg, ...], Field(max_length=MOST_LEGS)]] = Field(
        {STRAIGHT: ()}, min_length=1, max_length=20, description="legs by the name of the course; none for one that is straight"
    )
    season: SeasonFile | None = Field(None, description="how often each of them occurs; without it all count alike")
    replicates: Count = Field(2, ge=1, le=10_000, description="flights of each condition, with other random draws")

    @model_validator(mode="after")
    def _each_once(self, info: ValidationInfo) -> Self:
        each_once(tuple(heading.name for heading in self.headings), "headings", "heading")
        each_once(self.speeds, "speeds", "speed")
        for place, title in repeated(self.faults).items():
            found = f"two faults of the name {title!r}"
            raise wrong("every fault by a name of its own (name: ...)", found, at=("faults", place))
        names = [sea.name for sea in expand(self.seas, (info.context or {}).get("depth", math.inf))]
        twice = next((name for place, name in enumerate(names) if name in names[:place]), None)
        if twice is not None:
            raise wrong("every sea by a name of its own", f"two seas of the name {twice!r}", at=("seas",))
        count = len(names) * len(self.headings) * len(self.speeds) * len(self.faults) * len(self.courses)
        if count > MOST_CONDITIONS:
            found = f"{count} conditions (seas x headings x speeds x faults x courses)"
            raise wrong(f"at most {MOST_CONDITIONS} conditions", found)
        return self


Case: TypeAlias = tuple[NamedSea, NamedHeading, float, NamedFault, NamedCourse]
"""What a condition is: its sea, its heading, its speed (m/s), its fault and its course."""


def cases(
    seas: Iterable[NamedSea],
    headings: Sequence[NamedHeading],
    speeds: Sequence[float],
    faults: Sequence[NamedFault],
    courses: Sequence[NamedCourse],
) -> Iterator[Case]:
    """Every condition: seas, in each the headings, the speeds, the faults, the courses.

    A flat sea without wind has no direction: it stands once for each speed, fault and course, with the first heading.
    A packet of waves passes a craft that goes straight: it stands once for each, without the courses that have legs.
    """
    for sea in seas:
        for heading in headings if sea.directed else headings[:1]:
            for speed, fault, course in product(speeds, faults, courses):
                if not (course.legs and sea.passes):
                    yield sea, heading, speed, fault, course

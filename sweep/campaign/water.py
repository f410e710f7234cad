"""The water in a campaign file: the body of water, its seas, and how the craft goes through them."""

from __future__ import annotations

import math
from typing import Annotated, Any, Literal, Self

from pydantic import Field, ValidationInfo, model_validator

from sweep.campaign.courses import MOST_LEGS, STRAIGHT, Leg
from sweep.campaign.faults import Fault, FaultFile, repeated
from sweep.campaign.headings import HEADINGS, Heading, NamedHeading
from sweep.campaign.seas import Sea, expand
from sweep.campaign.text.base import Part
from sweep.campaign.text.dimensions import Count, Length, OneOrMore, Speed, Temperature
from sweep.campaign.text.problems import wrong
from sweep.model.physics.water import Water, fresh_water, sea_water

__all__ = ["HEADINGS", "Conditions", "Heading", "NamedHeading", "WaterBody", "each_once"]

MOST_CONDITIONS = 10_000
"""Conditions of one campaign (judgement)."""


class WaterBody(Part):
    """The water that the campaign takes place in; temperature in kelvin, depth in metres."""

    kind: Literal["fresh", "sea"] = "fresh"
    temperature: Temperature = Field(288.15, ge=273.15, le=313.15)
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


class Conditions(Part):
    """The conditions, which the builder cannot choose: every sea with every heading, speed, fault and course."""

    seas: dict[SeaName, Sea] = Field(min_length=1)
    headings: Annotated[tuple[Heading, ...], Field(min_length=1, max_length=360), OneOrMore()] = (
        NamedHeading(name="head", angle=math.pi),
    )
    speeds: Annotated[tuple[Annotated[Speed, Field(gt=0, le=30)], ...], Field(min_length=1, max_length=1000), OneOrMore()]
    faults: Annotated[tuple[Fault, ...], Field(min_length=1, max_length=100), OneOrMore()] = (FaultFile(),)
    courses: dict[CourseName, Annotated[tuple[Leg, ...], Field(max_length=MOST_LEGS)]] = Field(
        {STRAIGHT: ()}, min_length=1, max_length=20, description="legs by the name of the course; none for one that is straight"
    )
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

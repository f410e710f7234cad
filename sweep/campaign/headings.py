"""Headings of a campaign file: the angle between the way that the craft goes and that of the waves."""

from __future__ import annotations

import math
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, core_schema

from sweep.campaign.text.dimensions import Kind
from sweep.campaign.text.problems import wrong
from sweep.words.phrases import listed

HEADINGS = {"head": 180.0, "bow": 135.0, "beam": 90.0, "quartering": 45.0, "following": 0.0}
"""Angle between the way of the craft and that of the waves, deg, by its name (common practice, no source)."""
ELSEWHERE = {
    ("upwind", "upwave", "into the waves", "ahead"): "head",
    ("downwind", "downwave", "with the waves", "astern", "stern"): "following",
    ("side", "across", "abeam", "crosswind"): "beam",
}
"""Words for the same that are no heading here (common practice, no source)."""
_ANGLE = Kind("an angle", ("deg", "rad"))


class NamedHeading(BaseModel):
    """The angle between the way the craft goes and the way the waves go, rad: head seas are pi."""

    model_config = ConfigDict(frozen=True)

    name: str
    angle: float


class _HeadingText:
    """Metadata of a heading: a word or an angle in the file."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_before_validator_function(_heading, handler(source))

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return {"anyOf": [{"enum": list(HEADINGS)}, {"type": "string", "pattern": _ANGLE.pattern()}]}


def _heading(value: object) -> object:
    if isinstance(value, NamedHeading):
        return value
    if isinstance(value, str) and value in HEADINGS:
        return NamedHeading(name=value, angle=math.radians(HEADINGS[value]))
    if not isinstance(value, str) or not any(mark.isdigit() for mark in value):
        usual = next((word for words, word in ELSEWHERE.items() if str(value).lower() in words), None)
        raise wrong(f"{usual} for that" if usual else f"{listed(HEADINGS)}, or an angle such as 120 deg")
    angle = _ANGLE.read(value)
    if not 0 <= angle <= 2 * math.pi:
        raise wrong("an angle from 0 deg (following) to 180 deg (head), or on to 360 deg from the other side")
    degrees = round(math.degrees(angle), 9)
    word = next((word for word, known in HEADINGS.items() if known == degrees), None)
    return NamedHeading(name=word or f"{degrees:g} deg", angle=angle)


Heading = Annotated[NamedHeading, _HeadingText()]

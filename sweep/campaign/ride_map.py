"""Where it rides: the speeds, wave heights and headings over which the leaders of a campaign are flown once more.

The seas of the map have the form and the steepness of one sea of the campaign, its steepest: the period follows the square
root of the height, as in deep water waves of one steepness do.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import product
from typing import Annotated, NamedTuple

from pydantic import BaseModel, ConfigDict, Field, SerializeAsAny, model_validator

from sweep.campaign.named_seas import SHORTEST_PERIOD, NamedSea, wave_length
from sweep.campaign.packets import Misfit
from sweep.campaign.seas import Heights
from sweep.campaign.text.base import Part
from sweep.campaign.text.dimensions import Count, OneOrMore, Speed, quantity
from sweep.campaign.water import Conditions, Heading, NamedHeading, each_once

HEIGHT_SHARES = (0.5, 1.0, 1.5, 2.0, 2.5, 3.0)
"""Heights of the map over the height of the campaign's steepest sea (judgement)."""
SPEED_SHARES = (0.8, 1.25)
"""Factors beyond the campaign's own on both sides: from where it rides to where it does not (judgement)."""

USUAL_HEADINGS = tuple(
    NamedHeading(name=name, angle=angle) for name, angle in (("head", math.pi), ("beam", math.pi / 2), ("following", 0.0))
)


class MapFile(Part):
    """The map of where the leaders and the base craft ride; by default it follows the campaign's conditions."""

    speeds: (
        Annotated[tuple[Annotated[Speed, Field(gt=0, le=30)], ...], Field(min_length=1, max_length=50), OneOrMore()] | None
    ) = Field(
        None, description="wanted speeds over ground; by default from under the slowest of the conditions to over the fastest"
    )
    heights: Heights | None = Field(None, description="of the waves; by default shares and multiples of the steepest sea's")
    headings: Annotated[tuple[Heading, ...], Field(min_length=1, max_length=50), OneOrMore()] | None = Field(
        None, description="where the waves come from; by default those of the conditions, or the usual ones if these are few"
    )
    replicates: Count = Field(6, ge=0, le=1000, description="flights of each design in each; 0 for no map")

    @model_validator(mode="after")
    def _each_once(self) -> MapFile:
        each_once(self.speeds or (), "speeds", "speed")
        each_once(self.heights or (), "heights", "height")
        each_once(tuple(heading.name for heading in self.headings or ()), "headings", "heading")
        return self


class Cell(NamedTuple):
    """One speed (m/s), sea and heading of the map."""

    speed: float
    sea: NamedSea
    heading: NamedHeading


class RideMap(BaseModel):
    """The map with all its values: `sea` gives all its seas their form and steepness; SI. asked: whether the file has it."""

    model_config = ConfigDict(frozen=True)

    sea: SerializeAsAny[NamedSea]
    speeds: tuple[float, ...]
    heights: tuple[float, ...]
    headings: tuple[NamedHeading, ...]
    replicates: int
    asked: bool = False

    def cells(self) -> tuple[Cell, ...]:
        """Every speed with every height and heading, in this order."""
        return tuple(
            Cell(speed, at_height(self.sea, height), heading)
            for speed, height, heading in product(self.speeds, self.heights, self.headings)
        )


def at_height(sea: NamedSea, height: float) -> NamedSea:
    """A sea of the same form and deep-water steepness, of another height (m)."""
    return sea.model_copy(update={"height": height, "period": sea.period * math.sqrt(height / sea.height)})


def shaping_sea(seas: tuple[NamedSea, ...]) -> NamedSea | None:
    """The steepest irregular sea, or else the steepest regular one, parts of sums among them; None without either."""
    systems = [part.model_copy(update={"name": sea.name, "turned": 0.0}) for sea in seas for part in sea.systems]
    fit = [sea for sea in systems if sea.is_steady]
    return max(fit, key=lambda sea: (sea.is_irregular, sea.height / sea.period**2), default=None)


def ride_map(file: MapFile, conditions: Conditions, seas: tuple[NamedSea, ...], depth: float) -> RideMap | None:
    """The map that a file asks for, in water of this depth (m); None if it wants none or has no sea to shape one."""
    sea = shaping_sea(seas)
    if sea is None or file.replicates == 0:
        return None
    return RideMap(
        sea=sea,
        speeds=file.speeds or _usual_speeds(conditions.speeds),
        heights=file.heights or tuple(height for height in _usual_heights(sea) if _misfit(sea, height, depth) is None),
        headings=file.headings or (conditions.headings if len(conditions.headings) > 2 else USUAL_HEADINGS),
        replicates=file.replicates,
        asked=bool(file.model_fields_set),
    )


def _usual_speeds(speeds: tuple[float, ...]) -> tuple[float, ...]:
    """From under the slowest to over the fastest."""
    low, high = min(speeds), max(speeds)
    return tuple(_rounded(speed, 2) for speed in (SPEED_SHARES[0] * low, math.sqrt(low * high), SPEED_SHARES[1] * high))


def _usual_heights(sea: NamedSea) -> tuple[float, ...]:
    return tuple(_rounded(share * sea.height, 3) for share in HEIGHT_SHARES)


def _rounded(value: float, digits: int) -> float:
    return float(f"{value:.{digits}g}")


def map_misfits(file: MapFile, seas: tuple[NamedSea, ...], depth: float) -> Iterator[Misfit]:
    """The mistakes of a map; depth of the water in m."""
    sea = shaping_sea(seas)
    if sea is None:
        wanted = "a regular or irregular sea among the conditions, which gives the map's seas their form"
        if file.model_fields_set and file.replicates:
            yield Misfit((), wanted, "no such sea")
        return
    for place, height in enumerate(file.heights or ()):
        if misfit := _misfit(sea, height, depth):
            yield misfit._replace(at=("heights", place))


def _misfit(sea: NamedSea, height: float, depth: float) -> Misfit | None:
    scaled = at_height(sea, height)
    period = quantity(round(scaled.period, 3), "s")
    found = f"{quantity(height, 'cm')}, which with the steepness of {sea.name} has a period of {period}"
    if scaled.period < SHORTEST_PERIOD:
        least = math.ceil(1e4 * sea.height * (SHORTEST_PERIOD / sea.period) ** 2) / 1e4  # to a tenth of a millimetre
        return Misfit((), f"waves of {SHORTEST_PERIOD} s or more: a height of at least {quantity(least, 'cm')}", found)
    if height > scaled.steepest(depth) * wave_length(scaled.period, depth) * (1 + 1e-9):
        return Misfit((), "waves that do not break: a lower height", found)
    return None

"""What a craft's foils and struts are: a part of its description, in SI."""

from __future__ import annotations

import math
import re
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, ValidationInfo, model_validator

from sweep.campaign.servos import OwnServo
from sweep.campaign.text.base import OneOf, Part, of_a_file
from sweep.campaign.text.dimensions import (
    Angle,
    Area,
    Count,
    Density,
    Duration,
    Length,
    Number,
    Price,
    PricePerArea,
    PricePerLength,
    Share,
    quantity,
)
from sweep.campaign.text.problems import wrong
from sweep.campaign.wands import Linkage
from sweep.model.physics.strength import MATERIALS
from sweep.words.phrases import listed


def _polar_name(name: str) -> str:
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9 ._-]*", name):
        raise wrong("the name of a shipped polar, as naca-2412, or of a CSV beside the craft file, as mine.csv: no folders")
    return name


class Section(Part):
    """The foil section's behaviour at low Reynolds number: a polar, or a few numbers."""

    polar: Annotated[str, Field(max_length=80), AfterValidator(_polar_name)] | None = Field(
        None, description="a shipped polar, as naca-2412, or a CSV beside the craft file, instead of the numbers"
    )
    lift_slope: Number = Field(5.97, gt=3, lt=8, description="two-dimensional lift slope, per radian (0.95 x 2 pi)")
    lift_max: Number = Field(1.1, gt=0.2, lt=2.5, description="largest lift coefficient of the section")
    drag_min: Number = Field(0.0117, gt=0, lt=0.1, description="least drag coefficient at the reference Reynolds number")
    reynolds: Number = Field(1.6e5, gt=1e4, description="reference Reynolds number of the drag")
    lift_of_least_drag: Number = Field(0.2, ge=-1, le=1, description="lift coefficient at which its drag is least")
    moment: Number = Field(-0.03, ge=-0.5, le=0.5, description="pitching moment coefficient at the quarter chord")
    drag_rise: Number = Field(0.012, ge=0, lt=0.2, description="growth of drag with the square of lift")

    @model_validator(mode="after")
    def _polar_alone(self, info: ValidationInfo) -> Self:
        if self.polar is not None and of_a_file(info) and (numbers := self.model_fields_set - {"polar"}):
            raise wrong(
                "either a polar or numbers: the polar decides them all", f"{listed(sorted(numbers), 'and')} beside polar"
            )
        return self


class Ventilation(Part):
    """When air reaches a foil (shallow and loaded), and when it leaves again, with hysteresis.

    The defaults are judgement within what towing tanks report (Breslin & Skalak 1959; Young, Harwood, Montero, Ward & Ceccio
    2017).
    """

    depth: Number = Field(0.6, ge=0, le=3, description="shallower than this many chords (its tip) it may ventilate")
    angle: Angle = Field(0.14, gt=0, lt=1, description="loaded beyond this angle from zero lift it does")
    lift_left: Share = Field(0.3, ge=0, le=1, description="share of its lift that is left")
    rewet_depth: Number = Field(1.0, ge=0, le=6, description="deeper than this many chords it wets again")
    washout: Duration = Field(0.4, ge=0, le=10, description="after this long down there")

    @model_validator(mode="after")
    def _hysteresis(self) -> Self:
        if self.rewet_depth < self.depth:
            raise wrong(
                f"rewet_depth {self.rewet_depth:g}",
                f"at least depth, {self.depth:g}: a foil wets again deeper than it ventilates",
            )
        return self


class StrutVentilation(Part):
    """When air runs down a strut. Judgement: surface-piercing struts ventilate at or under their stall, about 15 degrees."""

    angle: Angle = Field(0.21, gt=0, le=1.2, description="side angle of the flow beyond which it does")
    side_left: Share = Field(0.4, ge=0, le=1, description="share of its side force that is left")
    washout: Duration = Field(0.3, ge=0, le=10, description="after this long at under half that angle it wets again")


class Struts(Part):
    """The struts: one kind under the whole craft, from the keel to each foil."""

    height: Length = Field(gt=0, description="keel to foil")
    chord: Length = Field(gt=0, description="fore and aft")
    thickness: Length = Field(gt=0, description="across the flow, at its thickest")
    ventilation: StrutVentilation = StrutVentilation()
    material: Annotated[str, OneOf(MATERIALS)] | None = Field(
        None, description="of the struts: their strength is then told; none: it is not known"
    )
    wall: Length | None = Field(
        None, gt=0, description="thickness of their wall, if they are hollow and dry inside; none: solid"
    )
    density: Density = Field(1500.0, gt=0, description="of the strut's material")
    price: Price = Field(0.0, ge=0, description="of each, whatever its height")
    price_per_length: PricePerLength = Field(0.0, ge=0, description="of each, by its height")

    @model_validator(mode="after")
    def _slender(self) -> Self:
        if self.thickness >= self.chord:
            raise wrong(f"a strut thinner than its chord, {quantity(self.chord, 'mm')}", at=("thickness",))
        return self


class OwnStrut(Part):
    """What of a foil's struts is not as the craft's `struts`; what is left out is."""

    height: Length | None = Field(None, gt=0, description="keel to foil")
    chord: Length | None = Field(None, gt=0, description="fore and aft")
    thickness: Length | None = Field(None, gt=0, description="across the flow, at its thickest")
    material: Annotated[str, OneOf(MATERIALS)] | None = Field(None, description="of these struts")
    wall: Length | None = Field(None, gt=0, description="of hollow struts; half their thickness is solid")
    density: Density | None = Field(None, gt=0, description="of the strut's material")
    price: Price | None = Field(None, ge=0, description="of each, whatever its height")
    price_per_length: PricePerLength | None = Field(None, ge=0, description="of each, by its height")

    def over(self, usual: Struts) -> Struts:
        """The usual struts with what is said here instead."""
        own = {name: value for name in self.model_fields_set if (value := getattr(self, name)) is not None}
        return usual.model_copy(update=own) if own else usual


class Foil(Part):
    """One underwater wing, moved by its servo as a whole or by its flap, hung from the hull by its struts."""

    x: Length = Field(description="quarter-chord line in the middle of its span, forward of the datum")
    y: Length = Field(0.0, description="middle of its span, to starboard")
    area: Area = Field(ge=1e-6, description="of its planform")
    aspect_ratio: Number | None = Field(None, gt=1, lt=30, description="kept when the area changes")
    span: Length | None = Field(None, gt=0, description="instead of aspect_ratio: kept when the area changes")
    thickness_ratio: Number = Field(0.12, gt=0.02, lt=0.3, description="greatest thickness over the chord")
    zero_lift_angle: Angle = Field(-0.035, ge=-0.2, le=0.2, description="angle of attack at no lift")
    incidence: Angle = Field(0.0, ge=-0.35, le=0.35, description="rigging angle to the keel, nose up")
    dihedral: Angle = Field(0.0, ge=-0.8, le=0.8, description="tips up")
    taper: Number = Field(
        1.0, ge=0.3, le=1, description="chord at the tips over that in the middle; under 0.3 strips no longer tell its lift"
    )
    sweep: Angle = Field(
        0.0, ge=-0.53, le=0.53, description="of the quarter-chord line, tips aft; simple-sweep theory holds to 30 degrees"
    )
    mounting: Literal["moving", "fixed"] = Field(
        "moving", description="moving: turned by its servo, as a whole or by its flap; fixed at its rigging angle"
    )
    linkage: Linkage | None = Field(None, description="to a wand that moves it or its flap, instead of a servo")
    section: Section = Section()
    ventilation: Ventilation = Ventilation()
    flap: Share | None = Field(
        None, gt=0.05, lt=0.6, description="share of the chord that is a flap; none: the whole foil moves"
    )
    flap_gap: Literal["sealed", "open"] = Field(
        "sealed", description="of a flap: taped or hinged by its skin, or open by half a per cent of the chord"
    )
    pivot: Number = Field(0.0, ge=-0.25, le=0.75, description="axis it turns about, chords aft of the quarter chord")
    strut: OwnStrut = Field(OwnStrut(), description="of its struts, what is not as the craft's")
    servo: OwnServo = Field(OwnServo(), description="of its servo, what is not as the craft's")
    strut_offsets: tuple[Length, ...] = Field((0.0,), min_length=1, max_length=3, description="struts along its span")
    strips: Count | None = Field(
        None,
        ge=2,
        le=16,
        multiple_of=2,
        description="pieces along its span, each at its own depth and in its own wake; none: two, more with dihedral",
    )
    material: Annotated[str, OneOf(MATERIALS)] | None = Field(
        None, description="of the foil: its strength is then told; none: it is not known"
    )
    wall: Length | None = Field(None, gt=0, description="thickness of its skin, if it is hollow and dry inside; none: solid")
    density: Density = Field(1250.0, gt=0, description="of the foil's material: its mass follows its size")
    price: Price = Field(0.0, ge=0, description="whatever its size")
    price_per_area: PricePerArea = Field(0.0, ge=0, description="by its area")

    @model_validator(mode="after")
    def _one_shape(self) -> Self:
        if (self.aspect_ratio is None) == (self.span is None):
            found = "neither aspect_ratio nor span" if self.span is None else "both aspect_ratio and span"
            raise wrong("either of aspect_ratio and span: the one that is kept when the area changes", found)
        return self

    @model_validator(mode="after")
    def _wall_inside(self) -> Self:
        half = 0.5 * self.thickness_ratio * self.chord
        if self.wall is not None and self.wall > half:
            raise wrong(f"at most half the foil's thickness, {quantity(half, 'mm')}: a solid one", at=("wall",))
        return self

    @model_validator(mode="after")
    def _linked_or_fixed(self) -> Self:
        if self.linkage is not None and self.mounting == "fixed":
            raise wrong("no linkage of a fixed foil", at=("linkage",))
        return self

    @model_validator(mode="after")
    def _swept_as_a_whole(self) -> Self:
        if self.sweep != 0.0 and self.flap is not None:
            raise wrong("no sweep on a foil with a flap, whose hinge line it would turn: not modelled", at=("sweep",))
        return self

    @model_validator(mode="after")
    def _zero_lift_of_the_polar(self, info: ValidationInfo) -> Self:
        if self.section.polar is not None and of_a_file(info) and "zero_lift_angle" in self.model_fields_set:
            raise wrong("no zero_lift_angle where the section has a polar, which decides it", at=("zero_lift_angle",))
        return self

    @property
    def span_length(self) -> float:
        """Span, m."""
        if self.span is not None:
            return self.span
        assert self.aspect_ratio is not None
        return math.sqrt(self.area * self.aspect_ratio)

    @property
    def chord(self) -> float:
        """Mean chord, m."""
        return self.area / self.span_length

    @property
    def moves(self) -> bool:
        """Whether a servo moves it."""
        return self.mounting == "moving" and self.linkage is None

    @property
    def swept_back(self) -> float:
        """How far (m) the middle of its area is aft of the quarter-chord line in the middle of its span (M2.6)."""
        out = self.span_length / 6.0 * (1.0 + 2.0 * self.taper) / (1.0 + self.taper)
        return out * math.tan(self.sweep)

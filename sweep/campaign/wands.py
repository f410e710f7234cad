"""Wands: arms that trail from the hull with their end in the water. A part of a craft's description, in SI."""

from __future__ import annotations

from typing import Self

from pydantic import Field, model_validator

from sweep.campaign.text.base import Name, Part
from sweep.campaign.text.dimensions import Angle, Force, Length, Mass, Number, Price, quantity
from sweep.campaign.text.problems import wrong


class Linkage(Part):
    """What joins a wand to a foil, or to its flap: as the arm swings down, the foil loses lift.

    It is set so that the craft is in trim at its ride height and the speed wanted, as a builder turns its screw.
    """

    wand: Name = Field(description="the name of the wand that moves the foil")
    gearing: Number = Field(0.3, gt=0, le=5, description="turn of the foil or the flap for one of the arm")
    travel: Angle = Field(0.26, gt=0, lt=0.7, description="largest angle either way, of the foil or the flap")
    play: Angle = Field(0.0, ge=0, lt=0.3, description="slack of the linkage, of the foil or the flap, in all")


class Wand(Part):
    """An arm that swings about a hinge and trails aft: a spring and its weight press it down, the water lifts it.

    Its defaults but the drag are judgement.
    """

    x: Length = Field(description="of its hinge, forward of the datum")
    y: Length = Field(0.0, description="of its hinge, to starboard")
    height: Length = Field(0.0, description="of its hinge, above the keel")
    arm: Length = Field(gt=0, description="from the hinge to the tip")
    mass: Mass = Field(0.003, gt=0, description="of the arm, even along it")
    press: Force = Field(
        0.05, gt=0, description="of its spring and its weight: what a scale under the tip of the level arm reads"
    )
    width: Length = Field(0.003, gt=0, description="of the arm where it is in the water, seen from ahead")
    drag: Number = Field(
        0.5, gt=0, le=3, description="coefficient of the arm in the water, across it: 0.5 of a round rod, 0.9 of a flat blade"
    )
    least_angle: Angle = Field(-0.35, gt=-1.6, lt=1.5, description="its upper stop, below straight aft")
    most_angle: Angle = Field(1.4, gt=-1.5, le=1.6, description="its lower stop, below straight aft")
    price: Price = Field(0.0, ge=0, description="of the wand and its sensor")

    @model_validator(mode="after")
    def _swings(self) -> Self:
        if self.least_angle >= self.most_angle:
            found, most = quantity(self.least_angle, "deg"), quantity(self.most_angle, "deg")
            raise wrong(f"an upper stop above the lower one, {most}", found, at=("least_angle",))
        return self

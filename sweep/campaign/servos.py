"""The servos of a craft's foils and rudder: a part of its description, in SI."""

from __future__ import annotations

import math
from typing import Annotated, Any, Self

from pydantic import Field, model_validator

from sweep.campaign.text.base import AtReading, Part
from sweep.campaign.text.dimensions import Angle, AngularRate, Duration, Length, Mass, Number, Price, Torque
from sweep.campaign.text.problems import wrong

SIXTY = math.radians(60.0)
"""The angle, rad, whose time is a servo's speed (common practice, no source)."""


class AsSold(Part):
    """A servo by what is said of it at its own arm, and the lengths of the linkage from there to the foil."""

    sixty: Duration = Field(gt=0.01, lt=5, description="time that the arm takes for 60 degrees")
    turn: Angle | None = Field(None, gt=0, lt=1.4, description="of the arm, either way from the middle; instead of travel")
    backlash: Angle | None = Field(None, ge=0, lt=0.5, description="play of the arm, in all; instead of that of the foil")
    arm: Length | None = Field(None, gt=0, description="from the servo's axis to the rod; with horn, instead of linkage")
    horn: Length | None = Field(None, gt=0, description="from the foil's axis to the rod")

    @model_validator(mode="after")
    def _both_lengths(self) -> Self:
        if (self.arm is None) != (self.horn is None):
            raise wrong("arm and horn, each from its axis to the rod", "one of them", at=("arm" if self.arm else "horn",))
        if self.turn is not None and self.arm and self.horn and self.arm * math.sin(self.turn) >= self.horn:
            raise wrong("a turn of the arm that the horn can follow: less, or a longer horn", at=("turn",))
        return self

    def at_foil(self, linkage: float) -> dict[str, float]:
        """The keys of a servo that it decides, SI. linkage: turns of the arm for one of the foil, near the middle.

        With lengths the travel follows from them: a rod moves both its ends alike.
        """
        found = {"rate": SIXTY / self.sixty / linkage, "linkage": linkage}
        if self.backlash is not None:
            found["backlash"] = self.backlash / linkage
        if self.turn is not None:
            found["travel"] = math.asin(math.sin(self.turn) / linkage) if self.arm else self.turn / linkage
        return found


class Sold(Part):
    """What may be said of a servo as it is sold."""

    as_sold: Annotated[AsSold | None, AtReading()] = Field(
        None, exclude=True, description="by its arm: time for 60 degrees, play and lengths, instead of rate, backlash, linkage"
    )

    @model_validator(mode="after")
    def _at_the_foil(self) -> Self:
        sold = self.as_sold
        if sold is None:
            return self
        own: dict[str, Any] = {name: getattr(self, name) for name in self.model_fields_set}
        if sold.arm and sold.horn:
            if "linkage" in own:
                raise wrong("either linkage, or arm and horn in as_sold", "both", at=("linkage",))
            linkage = sold.horn / sold.arm
        elif own.get("linkage") is None:
            raise wrong(
                "arm and horn in as_sold, or linkage beside it: turns of the servo for one of the foil", at=("as_sold",)
            )
        else:
            linkage = own["linkage"]
        found = sold.at_foil(linkage)
        for name in found.keys() & own.keys() - {"linkage"}:
            raise wrong(f"no {name} beside as_sold, which decides it", at=(name,))
        return self.model_copy(update=found | {"as_sold": None})


class Servo(Sold):
    """What moves a foil or the rudder."""

    bandwidth: AngularRate = Field(50.0, gt=0, description="natural frequency of its second-order response")
    damping: Number = Field(0.8, gt=0.1, le=2, description="share of critical damping of that response")
    rate: AngularRate = Field(2.6, gt=0, description="largest speed of the foil")
    travel: Angle = Field(0.157, gt=0, lt=0.7, description="largest angle either way, of the foil")
    torque: Torque | None = Field(None, gt=0, description="at which it stalls; none if it is ample")
    linkage: Number = Field(1.0, gt=0, le=10, description="turns of the servo for one of the foil")
    backlash: Angle = Field(0.0, ge=0, lt=0.3, description="slack of the linkage, of the foil, in all")
    quantum: Angle = Field(0.0026, ge=0, description="smallest step it takes")
    mass: Mass = Field(0.0, ge=0, description="of each that the body's mass does not hold, over its foil at the keel")
    price: Price = Field(0.0, ge=0, description="of each")


class OwnServo(Sold):
    """What of a foil's servo is not as the craft's `servos`; what is left out is."""

    bandwidth: AngularRate | None = Field(None, gt=0, description="natural frequency of its second-order response")
    damping: Number | None = Field(None, gt=0.1, le=2, description="share of critical damping of that response")
    rate: AngularRate | None = Field(None, gt=0, description="largest speed of the foil")
    travel: Angle | None = Field(None, gt=0, lt=0.7, description="largest angle either way, of the foil")
    torque: Torque | None = Field(None, gt=0, description="at which it stalls")
    linkage: Number | None = Field(None, gt=0, le=10, description="turns of the servo for one of the foil")
    backlash: Angle | None = Field(None, ge=0, lt=0.3, description="slack of the linkage, of the foil, in all")
    quantum: Angle | None = Field(None, ge=0, description="smallest step it takes")
    mass: Mass | None = Field(None, ge=0, description="where the body's mass does not hold it, over the foil at the keel")
    price: Price | None = Field(None, ge=0, description="of the foil's servo")

    def over(self, usual: Servo) -> Servo:
        """The usual servo with what is said here instead."""
        own = {name: value for name in self.model_fields_set if (value := getattr(self, name)) is not None}
        return usual.model_copy(update=own) if own else usual

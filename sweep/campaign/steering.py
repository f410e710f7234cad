"""What steers a craft: struts of foils that turn, rudders of their own, propellers against each other; in SI."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, model_validator

from sweep.campaign.servos import OwnServo, Servo
from sweep.campaign.text.base import OneOf, Part
from sweep.campaign.text.dimensions import Density, Length, Number, Price, ThrottlePerAngle, quantity
from sweep.campaign.text.problems import wrong
from sweep.model.physics.strength import MATERIALS

Name = Annotated[str, Field(pattern=r"^[A-Za-z][A-Za-z0-9_-]*$", max_length=40)]


class Rudder(Part):
    """A rudder that carries no foil: an upright blade that turns as a whole, on the servo of the steering or on its own."""

    x: Length = Field(description="forward of the datum")
    y: Length = Field(0.0, description="to starboard")
    top: Length = Field(0.0, description="its upper end, above the keel")
    length: Length = Field(gt=0, description="from its upper end down")
    chord: Length = Field(gt=0, description="fore and aft")
    thickness: Length = Field(gt=0, description="across the flow, at its thickest")
    turns: Number = Field(1.0, gt=0, le=10, description="angle of the rudder for one of the servo")
    material: Annotated[str, OneOf(MATERIALS)] | None = Field(
        None, description="of the rudder: its strength is then told; none: it is not known"
    )
    wall: Length | None = Field(None, gt=0, description="thickness of its wall, if it is hollow and dry inside; none: solid")
    density: Density = Field(1500.0, gt=0, description="of its material")
    price: Price = Field(0.0, ge=0, description="of this rudder")
    servo: OwnServo | None = Field(
        None,
        description="one of its own: what of it is not as the steering's; {} for one like it; none: the steering's moves it",
    )

    @model_validator(mode="after")
    def _slender(self) -> Self:
        if self.thickness >= self.chord:
            raise wrong(f"a rudder thinner than its chord, {quantity(self.chord, 'mm')}", at=("thickness",))
        if self.wall is not None and self.wall > 0.5 * self.thickness:
            raise wrong(f"at most half its thickness, {quantity(0.5 * self.thickness, 'mm')}: a solid one", at=("wall",))
        return self


class Steering(Part):
    """The rudders: struts of one foil or two, blades of their own, or none; and propellers against each other."""

    rudder: Name | None = Field(None, description="name of the foil whose struts turn")
    second_rudder: Name | None = Field(None, description="name of another foil whose struts turn with it")
    rudders: dict[Name, Rudder] = Field({}, max_length=2, description="rudders that are no foil's strut, by name")
    servo: Servo = Servo.model_construct(travel=0.175)
    second_servo: OwnServo | None = Field(
        None, description="the second rudder's own: what of it is not as the servo's; none: that moves both"
    )
    differential: ThrottlePerAngle = Field(
        0.0, ge=0, description="throttle that one of two propellers gains and the other loses for an angle of rudder command"
    )

    @model_validator(mode="after")
    def _second_after_the_first(self) -> Self:
        if self.second_rudder is not None and self.second_rudder in (self.rudder, None if self.rudder else self.second_rudder):
            raise wrong("another foil than rudder, and rudder beside it", at=("second_rudder",))
        if self.second_servo is not None and self.second_rudder is None:
            raise wrong("second_rudder, the foil whose struts it turns", at=("second_servo",))
        return self

    @property
    def turns(self) -> bool:
        """Whether any strut or blade turns."""
        return self.rudder is not None or bool(self.rudders)

    def own_servos(self) -> list[OwnServo | None]:
        """Of each rudder its own servo, if it has one: foils whose struts turn, then rudders of their own."""
        struts = [None] * (self.rudder is not None) + [self.second_servo] * (self.second_rudder is not None)
        return [*struts, *(rudder.servo for rudder in self.rudders.values())]

    @property
    def shares_a_servo(self) -> bool:
        """Whether any rudder is on the steering's servo."""
        return None in self.own_servos()

    def moved_by(self) -> tuple[list[Servo], list[int]]:
        """Every servo, that of the first rudder first; and for each rudder, in the order of `own_servos`, which of them."""
        servos: list[Servo] = []
        which: list[int] = []
        for own in (owned := self.own_servos()):
            if own is None and None in owned[: len(which)]:
                which.append(which[owned.index(None)])
                continue
            which.append(len(servos))
            servos.append(self.servo if own is None else own.over(self.servo))
        return servos or [self.servo], which

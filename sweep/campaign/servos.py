"""The servos of a craft's foils and rudder: a part of its description, in SI."""

from __future__ import annotations

from pydantic import Field

from sweep.campaign.text.base import Part
from sweep.campaign.text.dimensions import Angle, AngularRate, Mass, Number, Price, Torque


class Servo(Part):
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


class OwnServo(Part):
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

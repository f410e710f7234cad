"""What drives a craft: propellers, motor and battery; a part of its description, in SI."""

from __future__ import annotations

from typing import Self

from pydantic import Field, model_validator

from sweep.campaign.text.base import Part
from sweep.campaign.text.dimensions import (
    AngularRate,
    Count,
    Duration,
    Energy,
    Force,
    Length,
    Number,
    Power,
    Price,
    Resistance,
    Share,
    Speed,
    Voltage,
)
from sweep.campaign.text.problems import wrong


class Propeller(Part):
    """A propeller of the Wageningen B-series on a motor whose shaft speed follows the throttle."""

    blades: Count = Field(ge=2, le=7, description="of one propeller")
    pitch_ratio: Number = Field(ge=0.5, le=1.4, description="pitch over diameter")
    area_ratio: Number = Field(ge=0.3, le=1.05, description="expanded blade area over disc area")
    top_speed: AngularRate = Field(gt=0, description="of the shaft at full throttle")
    shaft_power: Power = Field(gt=0, description="the most that the motor gives its shaft")
    motor_efficiency: Share = Field(0.75, gt=0, le=1, description="shaft power over battery power, motor and its controller")


class Propulsor(Part):
    """One propeller, or two side by side: as a static thrust that falls with speed, or by a propeller's curves."""

    x: Length = Field(-0.3, description="of the propeller, forward of the datum")
    height: Length = Field(description="of the thrust line above the keel; negative below it")
    count: Count = Field(1, ge=1, le=2, description="of propellers")
    spacing: Length | None = Field(None, gt=0, description="of two propellers, shaft to shaft")
    diameter: Length = Field(0.06, gt=0, description="of a propeller: bounds what it can push for its power")
    static_thrust: Force | None = Field(None, gt=0, description="of all propellers together")
    no_thrust_speed: Speed | None = Field(None, gt=0, description="at full throttle")
    propeller: Propeller | None = Field(None, description="instead of static_thrust and no_thrust_speed")
    lag: Duration = Field(0.1, gt=0, description="time constant of the thrust")
    efficiency: Share = Field(
        0.45, gt=0, le=1, description="power of an ideal propeller of that diameter over battery power; without curves"
    )
    electronics: Power = Field(6.0, ge=0, description="computer, sensors and servos")

    @model_validator(mode="after")
    def _one_description(self) -> Self:
        if self.propeller is None and (self.static_thrust is None or self.no_thrust_speed is None):
            raise wrong("static_thrust and no_thrust_speed, or a propeller")
        if self.propeller is not None and (self.static_thrust is not None or self.no_thrust_speed is not None):
            raise wrong("either a propeller, or static_thrust and no_thrust_speed", "both")
        if (self.count == 2) != (self.spacing is not None):
            raise wrong("a spacing for two propellers, and none for one", at=("spacing",) if self.spacing is not None else ())
        return self


class Battery(Part):
    """The battery, whose voltage falls with its charge and with what is drawn from it; without a voltage it does not sag."""

    energy: Energy | None = Field(None, gt=0, description="usable; without it no range is given")
    power: Power | None = Field(
        None, gt=0, description="the most that it gives; bounds the shaft power of a propeller with curves"
    )
    voltage: Voltage | None = Field(None, gt=0, description="at rest, full; thrust and shaft speed are those of a full battery")
    empty_voltage: Voltage | None = Field(None, gt=0, description="at rest, empty")
    resistance: Resistance = Field(0.0, ge=0, description="inside it and in its leads")
    charge: Share = Field(1.0, ge=0, le=1, description="at which it flies: constant over a flight")
    price: Price = Field(0.0, ge=0, description="of the battery")

    @model_validator(mode="after")
    def _sags_from_a_voltage(self) -> Self:
        if self.voltage is None and (self.empty_voltage is not None or self.resistance > 0.0 or self.charge < 1.0):
            raise wrong("a voltage beside empty_voltage, resistance and charge", "none", at=("voltage",))
        if self.voltage is not None and (self.empty_voltage or 0.0) > self.voltage:
            raise wrong(f"an empty_voltage of at most voltage, {self.voltage:g} V", at=("empty_voltage",))
        if self.charge < 1.0 and self.empty_voltage is None:
            raise wrong("an empty_voltage beside a charge under 1", "none", at=("empty_voltage",))
        return self

    @property
    def sags(self) -> bool:
        """Whether its voltage is ever less than that of a full battery."""
        return self.voltage is not None and (self.charge < 1.0 or self.resistance > 0.0)

    @property
    def voltage_at_rest(self) -> float:
        """Voltage at rest at its charge, V: linear from empty to full; 0 where none is given (M9.8)."""
        full = self.voltage or 0.0
        return full if self.empty_voltage is None else self.empty_voltage + self.charge * (full - self.empty_voltage)

"""What drives a craft: propellers, motor and battery; a part of its description, in SI."""

from __future__ import annotations

import math
from typing import Annotated, Self

from pydantic import Field, field_validator, model_validator

from sweep.campaign.text.base import AtReading, Part
from sweep.campaign.text.dimensions import (
    AngularRate,
    Charge,
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
    is_charge,
    split,
)
from sweep.campaign.text.problems import wrong

WATER = 1000.0
"""kg/m3, by which watts become thrust: sea water gives 1 % more."""
EFFICIENCIES = (0.30, 0.55)
"""Power of an ideal propeller over battery power, held: that of the B-series with pitches of 0.8 to 1.2, 0.53 to 0.7, on
motors of 60 to 80 % (judgement)."""


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
    power: Annotated[Power | None, AtReading()] = Field(
        None,
        gt=0,
        exclude=True,
        description="that all motors take at full throttle while the boat is held, by a wattmeter; instead of static_thrust, "
        "which diameter and efficiency then give. A pull on a scale says more",
    )
    propeller: Propeller | None = Field(None, description="instead of static_thrust and no_thrust_speed")
    lag: Duration = Field(0.1, gt=0, description="time constant of the thrust")
    efficiency: Share = Field(
        0.45, gt=0, le=1, description="power of an ideal propeller of that diameter over battery power; without curves"
    )
    electronics: Power = Field(6.0, ge=0, description="computer, sensors and servos")

    @model_validator(mode="after")
    def _thrust_of_watts(self) -> Self:
        if self.power is None:
            return self
        if self.static_thrust is not None or self.propeller is not None:
            raise wrong("power alone, without static_thrust and propeller, which say the thrust", at=("power",))
        if "diameter" not in self.model_fields_set:
            raise wrong("diameter beside power, of the propeller: it decides what watts push", "none", at=("power",))
        thrust = thrust_of(self.power * self.efficiency, self.count, self.diameter)
        return self.model_copy(update={"static_thrust": thrust, "power": None})

    @model_validator(mode="after")
    def _one_description(self) -> Self:
        if self.propeller is None and (self.static_thrust is None or self.no_thrust_speed is None):
            raise wrong(
                "static_thrust (the pull on a scale, the boat held) or the power that a wattmeter reads then, and "
                "no_thrust_speed; or a propeller"
            )
        if self.propeller is not None and (self.static_thrust is not None or self.no_thrust_speed is not None):
            raise wrong("either a propeller, or static_thrust and no_thrust_speed", "both")
        if (self.count == 2) != (self.spacing is not None):
            raise wrong("a spacing for two propellers, and none for one", at=("spacing",) if self.spacing is not None else ())
        return self


def thrust_of(power: float, count: int, diameter: float) -> float:
    """Thrust, N, of so many ideal propellers of a diameter (m) that take this power (W) together, at no speed in fresh water.

    Momentum theory, P = T^1.5 / sqrt(2 rho A) (textbooks; the inverse of M9 at no speed).
    """
    disc = count * math.pi / 4.0 * diameter**2
    return math.cbrt(2.0 * WATER * disc * power**2)


def power_of(thrust: float, count: int, diameter: float) -> float:
    """Power, W, that so many ideal propellers of a diameter (m) take for a thrust (N) together: the inverse of `thrust_of`."""
    return math.sqrt(thrust**3) / math.sqrt(2.0 * WATER * count * math.pi / 4.0 * diameter**2)


PER_CELL = (3.7, 3.6)
"""Nominal V of a lithium cell, as batteries are sold by; common practice, no source."""
FULL_CELL = 4.2
"""V of such a cell at rest, full; common practice, no source."""
SAME = 0.005
"""How far apart two voltages are written for the same (judgement): 0.5 %."""


def sold_by(volts: float) -> str:
    """What speaks for a voltage (V) being the one that a battery is sold by, and not that of a full one; '' if nothing does."""
    if _cells(volts, FULL_CELL):
        return ""
    for cell in PER_CELL:
        if cells := _cells(volts, cell):
            return (
                f"{volts:g} V is what {cells} lithium cell{'s are' if cells > 1 else ' is'} sold by ({cell:g} V each), with "
                f"{cells * FULL_CELL:.3g} V full"
            )
    return ""


def _cells(volts: float, cell: float) -> int:
    """How many cells of a voltage have these volts together; 0 if no whole number has."""
    cells = round(volts / cell)
    return cells if cells and math.isclose(cells * cell, volts, rel_tol=SAME) else 0


class Battery(Part):
    """The battery, whose voltage falls with its charge and with what is drawn from it; without a voltage it does not sag."""

    energy: Energy | None = Field(None, gt=0, description="usable; without it no range is given")
    capacity: Annotated[Charge | None, AtReading()] = Field(
        None, gt=0, exclude=True, description="as printed on it, such as 2200 mAh: instead of energy, beside both voltages"
    )
    usable: Annotated[Share, AtReading()] = Field(
        0.8, gt=0, le=1, exclude=True, description="of the capacity, before one lands (common practice, no source)"
    )
    power: Power | None = Field(
        None, gt=0, description="the most that it gives; bounds the shaft power of a propeller with curves"
    )
    voltage: Voltage | None = Field(None, gt=0, description="at rest, full; thrust and shaft speed are those of a full battery")
    empty_voltage: Voltage | None = Field(None, gt=0, description="at rest, empty")
    resistance: Resistance = Field(0.0, ge=0, description="inside it and in its leads")
    charge: Share = Field(1.0, ge=0, le=1, description="at which it flies: constant over a flight")
    price: Price = Field(0.0, ge=0, description="of the battery")

    @field_validator("energy", mode="before")
    @classmethod
    def _no_charge(cls, value: object) -> object:
        parts = split(value) if isinstance(value, str) else None
        if parts and is_charge(parts[1]):
            raise wrong(
                f"capacity: {value} beside voltage (full) and empty_voltage, or an energy, such as 20 Wh",
                f"{value!r}, a charge",
            )
        return value

    @model_validator(mode="after")
    def _energy_of_the_capacity(self) -> Self:
        if self.capacity is None:
            return self
        if self.energy is not None:
            raise wrong("either energy or capacity", "both", at=("capacity",))
        if self.voltage is None or self.empty_voltage is None:
            raise wrong(
                "voltage (full) and empty_voltage beside capacity: energy is charge times the mean of both", at=("capacity",)
            )
        energy = self.capacity * self.usable * 0.5 * (self.voltage + self.empty_voltage)
        return self.model_copy(update={"energy": energy, "capacity": None})

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

"""A craft's servos, drive and battery in the numbers that sellers and scales give, to compare with those of the craft file."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from sweep.campaign.drives import EFFICIENCIES, sold_by, thrust_of
from sweep.campaign.servos import SIXTY
from sweep.model.pack.propulsion import full_power, full_thrust
from sweep.words.numbers import number
from sweep.words.phrases import together

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft, Servo


def as_bought(craft: Craft, density: float) -> Iterator[str]:
    """Sentences on servos, drive and battery; density: of the water, kg/m3."""
    servos: dict[Servo, list[str]] = {}
    for name, foil in craft.foils.items():
        if foil.moves:
            servos.setdefault(craft.servo_of(foil), []).append(name)
    for servo, names in servos.items():
        whose = (
            f"The servos of {together(names)} turn their foils" if len(names) > 1 else f"The servo of {names[0]} turns its foil"
        )
        yield f"{whose} {_servo(servo)}."
    yield from _drive(craft, density)
    yield from _battery(craft)


def _servo(servo: Servo) -> str:
    """What a servo does at the foil and at its arm."""
    at_foil = f"at up to {_deg(servo.rate)}/s by {_deg(servo.travel)} either way, with {_deg(servo.backlash, 2)} of slack"
    sixty = number(SIXTY / (servo.rate * servo.linkage), 2)
    at_arm = f"{sixty} s for 60 deg and {_deg(servo.linkage * servo.backlash, 2)} of slack at the arm"
    return f"{at_foil}. By {number(servo.linkage, 3)} turns of the arm for one of the foil that is {at_arm}"


def _drive(craft: Craft, density: float) -> Iterator[str]:
    propulsor = craft.propulsor
    thrust, watts = full_thrust(propulsor, 0.0, density), full_power(craft, density)
    said = f"Held at full throttle it pulls {number(thrust, 3)} N and takes {number(watts, 3)} W of the battery"
    if propulsor.propeller is not None:
        yield f"{said}, by its propeller's curves."
        return
    used = watts - propulsor.electronics
    least, most = (thrust_of(used * share, propulsor.count, propulsor.diameter) for share in EFFICIENCIES)
    shares = [f"{100.0 * share:.0f}" for share in EFFICIENCIES]
    yield (
        f"{said}, with an efficiency of {number(100.0 * propulsor.efficiency, 2)} %. Which of both was measured? If it is the "
        f"power, efficiencies of {shares[0]} to {shares[1]} % would pull {number(least, 2)} to {number(most, 2)} N."
    )


def _battery(craft: Craft) -> Iterator[str]:
    battery = craft.battery
    if battery.energy is not None:
        volts = f", {number(battery.voltage, 3)} V full" if battery.voltage else ""
        empty = f" and {number(battery.empty_voltage, 3)} V empty" if battery.voltage and battery.empty_voltage else ""
        yield f"Of its battery {number(battery.energy / 3600.0, 3)} Wh are used{volts}{empty}."


def nominal_voltage(craft: Craft) -> Iterator[str]:
    """A doubt if the voltage of the full battery is one that lithium batteries are sold by."""
    if craft.battery.voltage is not None and (said := sold_by(craft.battery.voltage)):
        yield f"battery.voltage is that of the full battery, and {said}. Measure it after charging."


def _deg(angle: float, digits: int = 3) -> str:
    return f"{number(math.degrees(angle), digits)} deg"

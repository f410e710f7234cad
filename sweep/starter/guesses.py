"""What `foilsweep new` had to guess: told at the end, so that the builder knows what to measure next."""

from __future__ import annotations

import math
from collections.abc import Iterator

from sweep.campaign.craft import Craft
from sweep.campaign.text.dimensions import in_unit
from sweep.starter.measurements import Measurements
from sweep.words.numbers import number
from sweep.words.phrases import listed


def guesses(measured: Measurements, craft: Craft) -> Iterator[str]:
    """Every number of the craft file that no measurement gave, each with its value and its key."""
    body, foil, servo, propulsor = craft.body, craft.foils["port"], craft.servos, craft.propulsor
    swung = [name for name in ("roll", "pitch", "yaw") if getattr(measured.swing, name) is None]
    if swung:
        radii = [f"{name} {_in(getattr(body, f'{name}_radius'), 'cm')}" for name in swung]
        yield f"radii of gyration, from the size of the hull: {listed(radii, 'and')} (body.*_radius)"
    if measured.hull.deadrise == math.radians(14):
        yield f"deadrise {_in(measured.hull.deadrise, 'deg')}, unless you gave it (hulls.main.deadrise)"
    yield "the foils' section, 12 % thick, that of a few usual numbers (foils.*.section: name a polar if you know it)"
    yield f"their angle of no lift, {_in(foil.zero_lift_angle, 'deg')} (foils.*.zero_lift_angle)"
    yield f"the angle at which they are rigged, {_in(foil.incidence, 'deg')}, for servos in the middle (foils.*.incidence)"
    yield f"the servos' bandwidth, {_in(servo.bandwidth, 'rad/s')}, and smallest step, {_in(servo.quantum, 'deg')} (servos)"
    assert propulsor.no_thrust_speed is not None
    yield (
        f"the propeller: {_in(propulsor.diameter, 'cm')} across, at the foils behind, {_in(-propulsor.height, 'cm')} under the "
        f"keel, without thrust from {_in(propulsor.no_thrust_speed, 'm/s')} on (propulsor)"
    )
    yield "the inertial unit, at the balance, with usual noise (inertial)"
    yield f"the height to ride at, {_in(craft.control.ride_height, 'cm')} (control.ride_height)"
    yield "the control code's rate, delay and gains, after a demo's (control)"


def _in(value: float, unit: str) -> str:
    return f"{number(in_unit(value, unit), 2)} {unit}"

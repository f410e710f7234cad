"""What `foilsweep new` had to guess: told at the end, so that the builder knows what to measure next."""

from __future__ import annotations

from collections.abc import Iterator

from sweep.campaign.craft import Craft
from sweep.campaign.drives import EFFICIENCIES, thrust_of
from sweep.campaign.text.dimensions import in_unit
from sweep.starter.first_craft import held_power
from sweep.starter.measurements import Measurements
from sweep.words.numbers import number
from sweep.words.phrases import listed, together


def guesses(measured: Measurements, craft: Craft) -> Iterator[str]:
    """Every number of the craft file that no measurement gave, each with its value and its key."""
    body, propulsor = craft.body, craft.propulsor
    swung = [name for name in ("roll", "pitch", "yaw") if getattr(measured.swing, name) is None]
    if swung:
        radii = [f"{name} {_in(getattr(body, f'{name}_radius'), 'cm')}" for name in swung]
        yield f"radii of gyration, from the size of the hull: {listed(radii, 'and')} (body.*_radius)"
    if "deadrise" not in measured.hull.model_fields_set:
        yield f"deadrise {_in(measured.hull.deadrise, 'deg')} (hulls.main.deadrise)"
    yield from _of_foils(measured, craft)
    yield "what foils and struts weigh, by their size and a usual density (foils.*.density, struts.density)"
    yield from _of_servos(measured, craft)
    yield from _of_rangefinders(measured, craft)
    assert propulsor.no_thrust_speed is not None
    across = "" if measured.motor else f"{_in(propulsor.diameter, 'cm')} across, "
    yield (
        f"the propeller: {across}at the foils behind, {_in(-propulsor.height, 'cm')} under the "
        f"keel, without thrust from {_in(propulsor.no_thrust_speed, 'm/s')} on (propulsor)"
    )
    yield from _of_drive(measured, craft)
    yield "the inertial unit, at the balance, with usual noise (inertial)"
    yield f"the height to ride at, {_in(craft.control.ride_height, 'cm')} (control.ride_height)"
    yield "the control code's rate, delay and gains, after a demo's (control)"


def _of_foils(measured: Measurements, craft: Craft) -> Iterator[str]:
    unnamed = {name: foil for name, foil in craft.foils.items() if foil.section.polar is None}
    if unnamed:
        whose = "the foils'" if len(unnamed) == len(craft.foils) else f"of {listed(list(unnamed), 'and')} the"
        yield f"{whose} section, 12 % thick, that of a few usual numbers (foils.*.section: name a polar if you know it)"
        angles = listed(sorted({_in(foil.zero_lift_angle, "deg") for foil in unnamed.values()}), "and")
        yield f"its angle of no lift, {angles} (foils.*.zero_lift_angle)"
    given = measured.own.fixed_angle is not None
    rigged = {_in(foil.incidence, "deg"): None for foil in craft.foils.values() if foil.moves or not given}
    yield f"the angle at which foils are rigged, {listed(list(rigged), 'and')}, for servos in the middle (foils.*.incidence)"


def _of_servos(measured: Measurements, craft: Craft) -> Iterator[str]:
    servo = craft.servos
    yield f"the servos' bandwidth, {_in(servo.bandwidth, 'rad/s')}, and smallest step, {_in(servo.quantum, 'deg')} (servos)"
    if "backlash" not in measured.servo.model_fields_set:
        yield "no slack in servos and linkage (servos.backlash)"
    turning = [name for name in (craft.steering.rudder, craft.steering.second_rudder) if name is not None]
    if turning:
        struts = "the strut of {} steers" if len(turning) == 1 else "the struts of {} steer"
        yield f"that {struts.format(listed(turning, 'and'))} (steering)"
    yield "what steers has a servo like those of the foils (steering.servo)"


def _of_rangefinders(measured: Measurements, craft: Craft) -> Iterator[str]:
    sensor, given = craft.rangefinders, measured.rangefinder.model_fields_set
    usual = {
        "rate": f"{_in(sensor.rate, 'Hz')}",
        "resolution": f"steps of {_in(sensor.resolution, 'mm')}",
        "blind": f"blind within {_in(sensor.blind, 'cm')}",
        "ahead": "looking straight down",
    }
    said = [*(words for name, words in usual.items() if name not in given), f"seeing {_in(sensor.far, 'm')} far"]
    yield f"the rangefinder{'s' * (sensor.number > 1)}: {together(said)} (rangefinders)"


def _of_drive(measured: Measurements, craft: Craft) -> Iterator[str]:
    motor, battery, propulsor = measured.motor, craft.battery, craft.propulsor
    if motor is not None:
        pulls = [number(thrust_of(motor.power * share, 1, motor.diameter), 2) for share in EFFICIENCIES]
        yield (
            f"a pull of {number(propulsor.static_thrust or 0.0, 2)} N, that of an ideal propeller with "
            f"{100.0 * propulsor.efficiency:.0f} % of your watts; {pulls[0]} to {pulls[1]} N are possible "
            "(propulsor.static_thrust)"
        )
    if measured.battery is None:
        yield "a battery that does not sag; how far it goes is not told (battery)"
        return
    assert battery.energy is not None
    yield f"that you use {number(battery.energy / 3600.0, 2)} Wh of the battery, 80 % of what is printed (battery.energy)"
    if measured.battery.loaded is None:
        yield "that its voltage does not fall under load (battery.resistance)"
    elif motor is None:
        yield (
            f"its resistance, {_in(battery.resistance, 'mohm')}, by a guess of {number(held_power(measured), 2)} W at full "
            "throttle (battery.resistance)"
        )


def _in(value: float, unit: str) -> str:
    return f"{number(in_unit(value, unit), 2)} {unit}"

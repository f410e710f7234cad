"""A craft from measurements: what they do not say is the courier's, scaled."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np

from sweep.campaign.craft import Craft, Propulsor
from sweep.campaign.drives import power_of, sold_by
from sweep.campaign.polars import read_polar
from sweep.campaign.servos import SIXTY
from sweep.campaign.text.dimensions import quantity
from sweep.campaign.text.resources import shipped
from sweep.model.pack.foils import deep_slope
from sweep.model.pack.mass import MassProperties, mass_properties
from sweep.model.pack.propulsion import full_thrust
from sweep.model.physics.section import section_of
from sweep.model.physics.section_nodes import SectionNodes
from sweep.model.physics.spectra import GRAVITY
from sweep.model.physics.strut import helmbold_slope
from sweep.starter.foil_sizes import Placed
from sweep.starter.measurements import Measurements

WATER = 1000.0  # kg/m3: fresh water, to a part in a thousand
UNLOADED = 3.2  # no thrust at this many times cruise, as the demo boats have it (judgement)
GUESSED_RADII = {"roll": ("beam", 0.70), "pitch": ("length", 0.28), "yaw": ("length", 0.30)}  # of the demo boats (judgement)
TRIAL = {"mass": 1.0, "height": 0.05, "roll_radius": 1e-3, "pitch_radius": 1e-3, "yaw_radius": 1e-3}
"""A body to begin with, SI, whose numbers are then worked out (judgement)."""
USUAL_ZERO_LIFT = -math.radians(2)  # of a section that is not named: a little camber (judgement)
SI = {"si": True}


class MeasurementError(Exception):
    """Measurements that contradict each other: at which of them, what was found, what would be right."""

    def __init__(self, at: tuple[str, ...], found: str, wanted: str) -> None:
        super().__init__(f"{'.'.join(at)}: found {found}, wanted {wanted}")
        self.at, self.found, self.wanted = at, found, wanted


class Authority(NamedTuple):
    """Acceleration by one radian of a command, or by full throttle, at a speed: m/s2, then 1/s2, then m/s2."""

    height: float
    pitch: float
    roll: float
    heading: float
    speed: float


def first_craft(measured: Measurements, model: Craft, model_speed: float) -> Craft:
    """The craft of these measurements, its gains scaled from those of a model craft that flies well at its own speed (m/s).

    Raises MeasurementError for measurements that contradict each other.
    """
    description = _parts(measured, model)
    trial = Craft.model_validate(description | {"body": TRIAL}, context=SI)
    description["body"] = _body(measured, trial)
    _floats(measured)
    _steers(measured, trial.control.ride_height)
    first = Craft.model_validate(description, context=SI)
    description["control"] |= _gains(first, measured.cruise, model, model_speed)
    return Craft.model_validate(description, context=SI)


def swing_radius(period: float, strings: float, apart: float) -> float:
    """Radius of gyration, m, of what swings on two strings: period s, their length and distance m.

    Twisted by an angle a, it turns back with mass x g x (apart / 2)^2 / strings x a: the bifilar pendulum (textbooks).
    """
    return period / (2 * math.pi) * (apart / 2) * math.sqrt(GRAVITY / strings)


def _parts(measured: Measurements, model: Craft) -> dict[str, Any]:
    """Everything but the body and the gains, SI; places forward of the middle of the hull."""
    foils, struts, servo = measured.foils, measured.struts, measured.servo
    half = measured.hull.length / 2
    moved = {
        "bandwidth": min(max(6.0 / servo.sixty, 10.0), 80.0),  # rad/s; 0.12 s for 60 degrees is 50 (judgement)
        "rate": SIXTY / servo.sixty / servo.linkage,
        "travel": servo.travel,
        "linkage": servo.linkage,
        "backlash": servo.backlash / servo.linkage,
        "quantum": math.radians(0.5) / servo.linkage,  # half a degree at the servo (judgement)
    }
    shortest = min(struts.height, measured.own.strut.get("height", struts.height))
    ride = min(0.5 * shortest, max(shortest - 2.5 * foils.chord, 0.3 * shortest))
    polars = _polars(measured)
    return {
        "name": measured.name,
        "hulls": {"main": measured.hull.model_dump()},
        "foils": {name: _foil(foil, measured, polars) for name, foil in measured.placed.items()},
        "polars": polars,
        "struts": struts.model_dump(),
        "servos": moved,
        "rangefinders": _rangefinders(measured),
        "inertial": {"x": measured.balance.forward - half, "height": measured.balance.height},
        "propulsor": _drive(measured),
        "battery": _battery(measured),
        "steering": _steering(measured) | {"servo": moved},
        "control": model.control.model_dump() | {"ride_height": ride, "scheduled_at": measured.cruise},
    }


def _polars(measured: Measurements) -> dict[str, SectionNodes]:
    """The shipped polars of the sections that are named."""
    named = {measured.section_of(foil) for foil in measured.placed.values()} - {None}
    return {str(name): read_polar(shipped("configs") / "polars" / f"{name}.csv").section for name in named}


def _foil(foil: Placed, measured: Measurements, polars: dict[str, SectionNodes]) -> dict[str, Any]:
    """A foil, SI."""
    polar, own = measured.section_of(foil), measured.own
    zero_lift = USUAL_ZERO_LIFT if polar is None else polars[polar].zero_lift_angle[1]  # at a small boat's Reynolds number
    fixed = not foil.moves and own.fixed_angle is not None
    return {
        "x": foil.at - measured.hull.length / 2,
        "y": foil.out,
        "area": foil.span * foil.chord,
        "aspect_ratio": foil.span / foil.chord,
        "incidence": own.fixed_angle if fixed else _incidence(measured, zero_lift),
        "mounting": "moving" if foil.moves else "fixed",
        **({"zero_lift_angle": USUAL_ZERO_LIFT} if polar is None else {"section": {"polar": polar}}),
        **({"strut": own.strut} if foil.other and own.strut else {}),
    }


def _steering(measured: Measurements) -> dict[str, Any]:
    """The blade that was measured, or else the struts of the foils that are not of the pair."""
    blade = measured.rudder
    if blade is None:
        return dict(zip(("rudder", "second_rudder"), measured.foils.others, strict=False))
    own = blade.model_dump(exclude={"at"}) | {"x": blade.at - measured.hull.length / 2}
    return {"rudders": {"blade": own}}


def _rangefinders(measured: Measurements) -> dict[str, Any]:
    """All alike, across the bow if there are several; each by itself if they look ahead or are unlike."""
    sensor, half = measured.rangefinder, measured.hull.length / 2
    x = sensor.at - half
    alike = {
        "x": x,
        **sensor.model_dump(exclude={"at", "apart", "count", "ahead"}),
        "far": max(1.0, 4 * measured.struts.height),
    }
    if (second := measured.second) is not None:
        own = second.model_dump(exclude={"at", "out"}, exclude_none=True) | {"x": second.at - half, "y": second.out}
        bow = {"ahead": sensor.ahead, "rate": sensor.rate}
        return alike | {"each": {"bow": bow, "second": {"rate": sensor.rate} | own}}
    if sensor.ahead:
        names = {1: ["bow"], 2: ["port", "starboard"]}.get(sensor.count, [f"number-{i + 1}" for i in range(sensor.count)])
        across = np.linspace(-0.5, 0.5, sensor.count) * sensor.apart if sensor.apart else [0.0]
        each = {name: {"y": float(y), "ahead": sensor.ahead} for name, y in zip(names, across, strict=True)}
        return alike | {"each": each}
    return alike | {"count": sensor.count} | ({"layout": "across-bow", "spacing": sensor.apart} if sensor.count > 1 else {})


def _drive(measured: Measurements) -> dict[str, float]:
    """The propeller, at the foils behind."""
    if measured.motor is None:
        assert measured.pull is not None
        push = {"diameter": 0.011 * math.sqrt(measured.pull), "static_thrust": measured.pull}  # 6 cm for 30 N (judgement)
    else:
        push = measured.motor.model_dump()
    place = {"x": measured.foils.behind_at - measured.hull.length / 2, "height": -0.9 * measured.struts.height}
    return place | push | {"no_thrust_speed": UNLOADED * measured.cruise}


def _battery(measured: Measurements) -> dict[str, float]:
    """What is printed on it; its resistance is what the voltage falls by, over the current that full throttle takes then."""
    battery = measured.battery
    if battery is None:
        return {}
    found = {"capacity": battery.capacity, "voltage": battery.full, "empty_voltage": battery.empty}
    if battery.loaded is not None:
        current = held_power(measured) / battery.loaded
        found["resistance"] = (battery.full - battery.loaded) / current
    return found


def held_power(measured: Measurements) -> float:
    """W that the battery gives at full throttle, the boat held: the watts that were read, or those that its pull takes."""
    drive = Propulsor.model_validate(_drive(measured), context=SI)
    if measured.motor is not None:
        return measured.motor.power + drive.electronics
    return power_of(drive.static_thrust or 0.0, drive.count, drive.diameter) / drive.efficiency + drive.electronics


def _incidence(measured: Measurements, zero_lift: float) -> float:
    """Rigging angle, rad, to half a degree, with which the servos are in the middle of their travel at cruise.

    zero_lift: angle of the section at no lift, rad.
    """
    area = measured.area
    aspect = measured.foils.span / measured.foils.chord
    needed = lift_coefficient(measured.mass, area, measured.cruise)
    angle = math.degrees(needed * (1 + 2 / aspect) / 5.7 + zero_lift)  # lifting line, and a little for the depth
    return math.radians(min(max(round(2 * angle) / 2, -3.0), 8.0))


def lift_coefficient(mass: float, area: float, speed: float) -> float:
    """Lift coefficient that carries a mass (kg) on foils of this total area (m2) at a speed (m/s)."""
    return mass * GRAVITY / (0.5 * WATER * speed**2 * area)


def _body(measured: Measurements, trial: Craft) -> dict[str, float]:
    """Mass, balance and swings of the body: the measured ones less foils, struts and rangefinders of a trial craft."""
    whole = mass_properties(trial)
    parts = whole.mass - trial.body.mass
    mass = measured.mass - parts
    if mass <= 0:
        wanted = f"more than {quantity(parts, 'kg')}, which foils and struts of these sizes weigh by themselves"
        raise MeasurementError(("mass",), quantity(measured.mass, "kg"), wanted)
    balance = (measured.balance.forward - measured.hull.length / 2, measured.balance.height)
    without = whole.mass * whole.centre - trial.body.mass * np.array([trial.body.x, 0.0, trial.body.height])
    x, height = ((measured.mass * at - without[axis]) / mass for at, axis in zip(balance, (0, 2), strict=True))
    if height <= 0:
        wanted = "a higher one: with the foils and struts off, the rest would balance under its keel"
        raise MeasurementError(("balance", "height"), quantity(measured.balance.height, "cm"), wanted)
    placed = TRIAL | {"mass": mass, "x": x, "height": height}
    rest = mass_properties(trial.model_copy(update={"body": trial.body.model_copy(update=placed)}))
    return placed | _radii(measured, mass, rest)


def _radii(measured: Measurements, mass: float, rest: MassProperties) -> dict[str, float]:
    """Radii of gyration of the body, m, with which the whole craft swings as measured."""
    radii = {}
    for axis, name in enumerate(("roll", "pitch", "yaw")):
        period, strings, apart = getattr(measured.swing, name), measured.swing.strings, measured.swing.apart
        if period is None or strings is None or apart is None:
            side, share = GUESSED_RADII[name]
            radii[f"{name}_radius"] = share * getattr(measured.hull, side)
            continue
        radius, reach = swing_radius(period, strings, apart), measured.hull.length / 2
        if radius > reach:  # the mass of a boat is on average no further from its balance than half its length
            mend = f"less than {quantity(period * reach / radius, 's')}: the time of one swing, not of twenty"
            raise MeasurementError(("swing", name), quantity(period, "s"), mend)
        wanted = measured.mass * radius**2
        square = (wanted - float(rest.inertia[axis, axis])) / mass + TRIAL["roll_radius"] ** 2
        if square <= 0:
            at_least = period * math.sqrt(float(rest.inertia[axis, axis]) / wanted)
            mend = f"more than {quantity(at_least, 's')}, with which foils and struts alone would swing"
            raise MeasurementError(("swing", name), quantity(period, "s"), mend)
        radii[f"{name}_radius"] = math.sqrt(square)
    return radii


def _floats(measured: Measurements) -> None:
    hull = measured.hull
    rise = min(hull.beam / 2 * math.tan(hull.deadrise), hull.depth)
    volume = hull.length * hull.beam * (hull.depth - rise / 2)
    if measured.mass > WATER * volume:
        wanted = f"a hull that floats {quantity(measured.mass, 'kg')}: this one holds {quantity(WATER * volume, 'kg')} of water"
        raise MeasurementError(("hull", "depth"), quantity(hull.depth, "cm"), wanted)


def _steers(measured: Measurements, ride_height: float) -> None:
    if measured.rudder is not None and measured.rudder.length - measured.rudder.top <= ride_height:
        wanted = f"more than {quantity(measured.rudder.top + ride_height, 'cm')}, to reach the water at the ride height"
        raise MeasurementError(("rudder", "length"), quantity(measured.rudder.length, "cm"), wanted)


def authority(craft: Craft, speed: float) -> Authority:
    """What the commands of a craft do at a speed (m/s), as its mixer distributes them over the foils."""
    whole = mass_properties(craft)
    pressure = 0.5 * WATER * speed**2
    lifts = [
        (pressure * foil.area * deep_slope(foil, section_of(craft, foil)), foil.x - float(whole.centre[0]), foil.y)
        for foil in craft.foils.values()
        if foil.moves
    ]
    roll, pitch, yaw = (float(inertia) for inertia in np.diag(whole.inertia))
    side, lever = _rudder(craft, pressure)
    return Authority(
        height=sum(lift for lift, _, _ in lifts) / whole.mass,
        pitch=sum(lift * abs(x) for lift, x, _ in lifts) / pitch,
        roll=sum(lift * abs(y) for lift, _, y in lifts) / roll,
        heading=side * abs(lever - float(whole.centre[0])) / yaw,
        speed=max(full_thrust(craft.propulsor, speed, WATER), 0.1 * full_thrust(craft.propulsor, 0.0, WATER)) / whole.mass,
    )


def _rudder(craft: Craft, pressure: float) -> tuple[float, float]:
    """Side force (N) of one radian of the rudders at a dynamic pressure (Pa), and how far forward of the datum they are, m."""
    steering, ride = craft.steering, craft.control.ride_height
    if steering.rudders:
        blades = [(each.x, each.length - each.top - ride, each.chord, each.length) for each in steering.rudders.values()]
    else:
        turning = [craft.foils[name] for name in (steering.rudder, steering.second_rudder) if name is not None]
        struts = [(foil.x, craft.strut_of(foil)) for foil in turning]
        blades = [(x, strut.height - ride, strut.chord, strut.height) for x, strut in struts]
    if not blades:
        return 0.0, 0.0
    wet = [(x, min(depth, length), chord) for x, depth, chord, length in blades]
    return sum(pressure * chord * depth * helmbold_slope(depth / chord) for _, depth, chord in wet), wet[0][0]


def _delays(craft: Craft) -> tuple[float, float]:
    """Delay of the height loop and of the attitude loops, s: sensor, control code, servo."""
    moving = craft.control.delay + 2 * craft.servos.damping / craft.servos.bandwidth
    return moving + craft.rangefinders.latency + 0.5 / min(craft.rangefinders.own_rates()), moving


def _gains(craft: Craft, speed: float, model: Craft, model_speed: float) -> dict[str, Any]:
    """Gains with which every loop is as quick as the model's, or slower by as much as the craft's delays are longer.

    The square of a loop's bandwidth is its gain times the authority. So gains scale with the inverse of the authority, the
    integral with one more power of the bandwidth and the derivative with one less.
    """
    mine, theirs = authority(craft, speed), authority(model, model_speed)
    slower = [min(1.0, of_model / own) for own, of_model in zip(_delays(craft), _delays(model), strict=True)]
    loops = {"height": slower[0], "pitch": slower[1], "roll": slower[1], "heading": slower[1], "speed": 1.0}
    scaled: dict[str, Any] = {}
    for loop, quickness in loops.items():
        gains = getattr(model.control, loop).model_dump()
        stronger = getattr(theirs, loop) / getattr(mine, loop)
        for gain, power in (("proportional", 2), ("integral", 3), ("derivative", 1)):
            if gain in gains:
                gains[gain] *= stronger * quickness**power
        scaled[loop] = gains
    return scaled


def cautions(measured: Measurements, craft: Craft) -> list[str]:
    """What will probably keep the craft from flying as measured."""
    said = []
    area = sum(foil.area for foil in craft.foils.values())
    needed, most = (lift_coefficient(measured.mass, area, measured.cruise), 0.7 * craft.foils["port"].section.lift_max)
    if needed > most:
        larger = quantity(area / len(craft.foils) * needed / most, "cm^2") + (" each" if measured.alike else " on the mean")
        said.append(f"its foils are small for {quantity(measured.cruise, 'm/s')}: it takes {larger}, or a higher speed")
    pull = craft.propulsor.static_thrust or 0.0
    if pull * (1 - 1 / UNLOADED) < measured.mass * GRAVITY / 6:  # lift over drag of 6 with struts and spray (judgement)
        said.append(f"its pull of {pull:.3g} N may be too little to fly {quantity(measured.mass, 'kg')}")
    if craft.control.ride_height < craft.rangefinders.blind:
        said.append("its rangefinder is blind at the ride height: mount it higher, or lengthen the struts")
    if measured.battery is not None and (sold := sold_by(measured.battery.full)):
        said.append(f"its battery's full voltage: {sold}")
    return said

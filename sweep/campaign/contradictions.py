"""What makes a craft impossible, whatever its gains: it sinks, flies in the air or the ground, or is blind at its ride height.

Each is certain from the files alone. The check takes a level craft at its ride height and pitch trim, on calm water.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from sweep.campaign.craft import Craft, Hull, Servo, Wand
from sweep.campaign.servos import OwnServo
from sweep.campaign.steering import Steering
from sweep.campaign.text.dimensions import in_unit
from sweep.campaign.text.document import Document
from sweep.campaign.text.problems import Problem
from sweep.model.pack.mass import mass_properties, rangefinder_beams, rangefinder_places
from sweep.model.pack.propulsion import full_power
from sweep.model.physics.water import Water

DEPTH = ("water", "depth")
ONE_PLACE = 0.02  # of the longest hull (judgement)


class Clash(NamedTuple):
    """Where in the craft (or for `DEPTH` in the campaign), what is there, and what would be right."""

    at: tuple[str, ...]
    found: str
    wanted: str


def contradictions(
    base: Craft, water: Water, from_rest: bool, document: Document, craft_document: Document
) -> Iterator[Problem]:
    """All contradictions of the base craft, each at its place; designs are judged one by one, elsewhere."""
    for clash in clashes(base, water, from_rest):
        yield (document if clash.at == DEPTH else craft_document).problem(clash.at, clash.wanted, clash.found)


def clashes(craft: Craft, water: Water, from_rest: bool) -> Iterator[Clash]:
    """The contradictions of one craft in this water; from_rest: whether its flights start afloat."""
    yield from _sinks(craft, water.density)
    yield from _in_the_air(craft)
    yield from _in_the_ground(craft, water, from_rest)
    yield from _blind(craft)
    yield from _pitches_freely(craft)
    for name, wand in craft.wands.items():
        yield from _out_of_reach(craft, wand, ("wands", name))
    yield from _weak_battery(craft, water.density)
    yield from _stiff(("servos",), craft.servos)
    for name, foil in craft.foils.items():
        if foil.moves and craft.servo_of(foil) is not craft.servos:
            yield from _stiff(("foils", name, "servo"), craft.servo_of(foil))
    yield from _of_rudders(craft.steering)


def _of_rudders(steering: Steering) -> Iterator[Clash]:
    """Servos of rudders that move nothing."""
    if steering.shares_a_servo:
        yield from _stiff(("steering", "servo"), steering.servo)
    owned: list[tuple[tuple[str, ...], OwnServo | None]] = [(("second_servo",), steering.second_servo)]
    owned += [(("rudders", name, "servo"), rudder.servo) for name, rudder in steering.rudders.items()]
    own = [(("steering", *at), servo) for at, servo in owned if servo is not None]
    for at, servo in own:
        yield from _stiff(at, servo.over(steering.servo))


def _sinks(craft: Craft, density: float) -> Iterator[Clash]:
    carries, weighs = density * sum(_volume(hull, hull.depth) for hull in craft.hulls.values()), mass_properties(craft).mass
    if carries < weighs:
        carried = f"hulls that carry {_figures(carries, 'kg')} up to the deck"
        yield Clash(
            ("hulls",), f"{carried}, while the boat weighs {_figures(weighs, 'kg')}: it sinks", "more hull, or less mass"
        )


def _pitches_freely(craft: Craft) -> Iterator[Clash]:
    """A fixed foil beside moving ones that are all at one place along the boat: no angle of theirs gives the wanted pitch."""
    moving = [foil.x for foil in craft.foils.values() if foil.moves]
    fixed = [name for name, foil in craft.foils.items() if not foil.moves and foil.linkage is None]
    length = max(hull.length for hull in craft.hulls.values())
    if fixed and moving and max(moving) - min(moving) < ONE_PLACE * length:
        wanted = "moving foils at two places along the boat: the control code holds a pitch, for which one place is not enough"
        found = "fixed, while all foils that move are at one place along the boat"
        yield Clash(("foils", fixed[0], "mounting"), found, wanted)


def _in_the_air(craft: Craft) -> Iterator[Clash]:
    name, depth = min(foil_depths(craft).items(), key=lambda each: each[1])
    if depth <= 0.0:
        found = f"{_cm(craft.control.ride_height)}, at which foil {name} is {_cm(-depth)} over the water"
        yield Clash(("control", "ride_height"), found, "a ride height under the height of the struts, or less pitch trim")


def _in_the_ground(craft: Craft, water: Water, from_rest: bool) -> Iterator[Clash]:
    what, deepest = deepest_part(craft)
    if deepest >= water.depth:
        found = f"{_cm(water.depth)} of water, while {what} is {_cm(deepest)} deep at the ride height"
        yield Clash(DEPTH, found, f"more than {_cm(deepest)} of water, shorter struts, or a higher ride")
        return
    draught = draught_afloat(craft, water.density)
    if from_rest and draught >= water.depth:
        found = f"{_cm(water.depth)} of water, while afloat it draws {_cm(draught)} and starts from rest"
        yield Clash(DEPTH, found, f"more than {_cm(draught)} of water, shorter struts, or flight: {{start: flying}}")


def _blind(craft: Craft) -> Iterator[Clash]:
    sensors, pitch = craft.rangefinders, craft.control.pitch_trim
    ride = f"at the ride height, {_cm(craft.control.ride_height)},"
    told: set[tuple[str, ...]] = set()
    for i, seen in enumerate(beams_flown(craft)):
        if sensors.of_each("kind")[i] == "pressure" and seen.distance >= 0.0:
            had = f"{_cm(seen.mounted)}, where {ride} the tap is {_cm(seen.distance)} over the water"
            yield Clash(tuple(sensors.address("height", i).split(".")), had, "a lower tap: it feels the water only under it")
        if sensors.of_each("kind")[i] != "beam":
            continue
        what, blind, far, limit = _who(craft, i), *(sensors.of_each(each)[i] for each in ("blind", "far", "tilt_limit"))
        found = list(_out_of_sight(what, seen, (blind, far)))
        if seen.tilt > limit:
            off = f"so that {what} looks {_figures(seen.tilt, 'deg')} off"
            lies = f"pitched {_figures(abs(pitch), 'deg')}" if sensors.each is None else off
            had = f"a tilt limit of {_figures(limit, 'deg')}, while the boat flies {lies}"
            found = [("tilt_limit", had, "a larger tilt limit, or less pitch trim: no echo comes back"), *found]
        for name, had, wanted in found:
            place = tuple(sensors.address(name, i).split("."))
            if place not in told:
                yield Clash(place, had.replace("RIDE", ride), wanted)
            told.add(place)


def _out_of_sight(what: str, seen: BeamFlown, limits: tuple[float, float]) -> Iterator[tuple[str, str, str]]:
    """Key, what is there and what would be right; limits: nearest and farthest that it sees, m."""
    blind, far = limits
    if seen.distance <= 0.0:
        found = f"{_cm(seen.mounted)}, where RIDE {what} is {_cm(-seen.distance)} under water"
        yield "height", found, "a higher mounting, or a higher ride"
    elif seen.distance <= blind:
        found = f"a blind range of {_cm(blind)}, while RIDE {what} is {_cm(seen.distance)} from the water"
        yield "blind", found, "a smaller blind range, a higher mounting, or a higher ride"
    if seen.distance >= far:
        found = f"a far limit of {_cm(far)}, while RIDE {what} is {_cm(seen.distance)} from the water"
        yield "far", found, "a larger far limit, a lower mounting, or a lower ride"


def _out_of_reach(craft: Craft, wand: Wand, at: tuple[str, ...]) -> Iterator[Clash]:
    """A wand whose hinge is under water at the ride height, or that cannot reach the water."""
    over, reach = wand_flown(craft, wand)
    ride = f"at the ride height, {_cm(craft.control.ride_height)},"
    if over <= 0.0:
        found = f"{_cm(wand.height)}, where {ride} the hinge of the wand is {_cm(-over)} under water"
        yield Clash((*at, "height"), found, "a higher hinge, or a higher ride")
    elif over >= reach:
        found = f"an arm of {_cm(wand.arm)}, whose tip is {_cm(over - reach)} over the water {ride} at its lower stop"
        yield Clash((*at, "arm"), found, "a longer arm, a lower hinge, a lower stop, or a lower ride")


def wand_flown(craft: Craft, wand: Wand) -> tuple[float, float]:
    """Height (m) of a wand's hinge over calm water at ride height and pitch trim, and how far (m) below it its tip comes."""
    lowest = min(wand.most_angle + craft.control.pitch_trim, 0.5 * math.pi)
    return _height(craft, wand.x, wand.height), wand.arm * math.sin(lowest)


def _who(craft: Craft, which: int) -> str:
    return "a rangefinder" if craft.rangefinders.each is None else f"rangefinder {craft.rangefinders.names()[which]}"


def _weak_battery(craft: Craft, density: float) -> Iterator[Clash]:
    battery = craft.battery
    if battery.voltage is None or battery.resistance == 0.0:
        return
    most, wanted = battery.voltage**2 / (4.0 * battery.resistance), full_power(craft, density)
    if most < wanted:
        found = (
            f"{_figures(battery.resistance, 'mohm')}, through which {_figures(battery.voltage, 'V')} gives "
            f"{_figures(most, 'W')} at most, while full throttle at no speed takes {_figures(wanted, 'W')}"
        )
        yield Clash(("battery", "resistance"), found, "a smaller resistance, or less thrust")


def _stiff(at: tuple[str, ...], servo: Servo) -> Iterator[Clash]:
    travel = f"a travel of {_figures(servo.travel, 'deg')} either way"
    if servo.quantum > 2.0 * servo.travel:
        found = f"steps of {_figures(servo.quantum, 'deg')}, while there is {travel}: no command moves it"
        yield Clash((*at, "quantum"), found, "steps much smaller than the travel")
    if servo.backlash >= 2.0 * servo.travel:
        found = f"a slack of {_figures(servo.backlash, 'deg')}, while there is {travel}: it never moves what it drives"
        yield Clash((*at, "backlash"), found, "a slack much smaller than the travel")


def foil_depths(craft: Craft) -> dict[str, float]:
    """How deep (m) the middle of each foil is at the ride height and the pitch trim."""
    return {name: -_height(craft, foil.x, -craft.strut_of(foil).height) for name, foil in craft.foils.items()}


def deepest_part(craft: Craft) -> tuple[str, float]:
    """The deepest part at the ride height and the pitch trim, a foil, a rudder or the propeller, and its depth (m)."""
    drops = {name: max(-foil.dihedral, 0.0) for name, foil in craft.foils.items()}
    depths = {
        f"foil {name}": depth + 0.5 * craft.foils[name].span_length * math.tan(drops[name])
        for name, depth in foil_depths(craft).items()
    }
    for name, rudder in craft.steering.rudders.items():
        depths[f"rudder {name}"] = -_height(craft, rudder.x, rudder.top - rudder.length)
    propulsor = craft.propulsor
    depths["the propeller"] = 0.5 * propulsor.diameter - _height(craft, propulsor.x, propulsor.height)
    return max(depths.items(), key=lambda each: each[1])


class BeamFlown(NamedTuple):
    """A rangefinder at the ride height and the pitch trim: its mounting over the keel and its distance to calm water along
    its beam, m (below 0 under water); the tilt of its beam from straight down, rad.
    """

    mounted: float
    distance: float
    tilt: float


def beams_flown(craft: Craft) -> list[BeamFlown]:
    """Every rangefinder as it flies."""
    pitch, found = craft.control.pitch_trim, []
    for (x, _, height), (ahead, _, down) in zip(rangefinder_places(craft), rangefinder_beams(craft), strict=True):
        level = down * math.cos(pitch) - ahead * math.sin(pitch)
        found.append(BeamFlown(height, _height(craft, x, height) / level, math.acos(min(level, 1.0))))
    return found


def draught_afloat(craft: Craft, density: float) -> float:
    """How deep (m) foils, rudders and propeller reach while it floats at rest on a level keel, carried by its hulls alone."""
    below = [
        craft.strut_of(foil).height + 0.5 * foil.span_length * math.tan(max(-foil.dihedral, 0.0))
        for foil in craft.foils.values()
    ]
    below += [rudder.length - rudder.top for rudder in craft.steering.rudders.values()]
    return keel_afloat(craft, density) + max(*below, 0.5 * craft.propulsor.diameter - craft.propulsor.height)


def keel_afloat(craft: Craft, density: float) -> float:
    """How deep (m) the keel is at rest; the depth of the deepest hull for a boat that its hulls do not carry."""
    low, high, mass = 0.0, max(hull.depth for hull in craft.hulls.values()), mass_properties(craft).mass
    for _ in range(40):
        draught = 0.5 * (low + high)
        sinks = density * sum(_volume(hull, draught) for hull in craft.hulls.values()) < mass
        low, high = (draught, high) if sinks else (low, draught)
    return high


def _volume(hull: Hull, draught: float) -> float:
    """m3 under water of a prismatic vee hull whose keel is so deep, up to its deck."""
    depth, slope = min(draught, hull.depth), math.tan(hull.deadrise)
    below = min(depth, 0.5 * hull.beam * slope)
    return hull.length * (below * below / slope + hull.beam * (depth - below))


def _height(craft: Craft, x: float, height: float) -> float:
    """m over calm water of a point of the build axes, at the ride height and the pitch trim."""
    pitch = craft.control.pitch_trim
    ahead = x - float(mass_properties(craft).centre[0])
    return craft.control.ride_height + ahead * math.sin(pitch) + height * math.cos(pitch)


def _cm(length: float) -> str:
    return _figures(length, "cm")


def _figures(value: float, unit: str) -> str:
    """A number in four figures."""
    return f"{in_unit(value, unit):.4g} {unit}"

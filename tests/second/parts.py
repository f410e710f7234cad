"""The second model's craft: the places of all its parts in body axes, its mass and its added mass."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sweep.campaign.craft import Craft, Foil, Hull, Rudder, Wand
from tests.second.hollow import hollow
from tests.second.sea import Vector, Water
from tests.second.trailing import LEAST
from tests.second.trailing import tables as wake_tables

# Added mass of a rectangular plate over that of the strip theory, against long side over short side
# (DNV-RP-C205's plate, nodes by a doublet lattice; see MODEL.md).
PLATE_RATIOS = (1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 20.0, np.inf)
PLATE_FACTORS = (0.5790, 0.6419, 0.6898, 0.7569, 0.8009, 0.8318, 0.8719, 0.8967, 0.9135, 0.9347, 0.9476, 0.9736, 1.0)


class MassProperties(NamedTuple):
    """Mass kg, centre in build axes (x, y, height) m, inertia about it in body axes kg m^2, shape (3, 3)."""

    mass: float
    centre: Vector
    inertia: Vector


class Strip(NamedTuple):
    """A piece of a foil: number of the foil, place and normal in body axes (3,), area m^2, chord m; its number from port."""

    foil: int
    place: Vector
    normal: Vector
    area: float
    chord: float
    number: int = 0


class Blade(NamedTuple):
    """Length, chord and thickness of a strut or a rudder, m; whether it stands on a foil."""

    length: float
    chord: float
    thickness: float
    on_foil: bool


class Strut(NamedTuple):
    """A strut or a rudder: its shape, place of its foot in body axes (3,), its angle for one of its servo, which that is."""

    blade: Blade
    foot: Vector
    steers: float
    servo: int = 0


class Station(NamedTuple):
    """A slice of a hull: its hull, place of its keel in body axes (3,), length of the slice m."""

    hull: Hull
    keel: Vector
    length: float


class Pair(NamedTuple):
    """A foil (`ahead`) whose wake another (`behind`) feels: their numbers, how far it travels (m), the tables of its strips.

    sheet, rolled: (strips of the foil behind, nodes), rad per unit lift coefficient; rolling: share rolled up per unit lift
    coefficient; sinks: path of sheet and pair, m per unit lift coefficient; middle: of the area ahead, body axes (3,).
    """

    ahead: int
    behind: int
    distance: float
    sheet: Vector
    rolled: Vector
    rolling: float
    sinks: tuple[float, float]
    middle: Vector


def rangefinder_places(craft: Craft) -> list[Vector]:
    """Build places (x, y, height) of the rangefinders."""
    finders = craft.rangefinders
    if finders.each is not None:
        own = finders.each.values()
        return [
            np.array([finders.x if one.x is None else one.x, one.y, finders.height if one.height is None else one.height])
            if one.wand is None
            else hinge_of(craft.wands[one.wand])
            for one in own
        ]
    if finders.layout == "over-foils":
        foils = list(craft.foils.values())
        chosen = [foils[j % len(foils)] for j in range(finders.count)]
        return [np.array([foil.x, foil.y, finders.height]) for foil in chosen]
    half = finders.spacing / 2.0 if finders.count > 1 else 0.0
    return [np.array([finders.x, y, finders.height]) for y in np.linspace(-half, half, finders.count)]


def hinge_of(wand: Wand) -> Vector:
    """Build place (x, y, height) of a wand's hinge."""
    return np.array([wand.x, wand.y, wand.height])


class OfStruts(NamedTuple):
    """The struts of a foil."""

    height: float
    chord: float
    thickness: float
    density: float
    wall: float | None


def struts_under(craft: Craft, foil: Foil) -> OfStruts:
    """A foil's struts: what it says of its own, else what the craft says."""
    found = {}
    for name in OfStruts._fields:
        own = getattr(foil.strut, name)
        found[name] = getattr(craft.struts, name) if own is None else own
    return OfStruts(**found)


def mean_sweep(foil: Foil) -> float:
    """How far the middle of a foil's area is aft of its middle, m: Gauss's sum over one half, exact for straight edges."""
    nodes, weights = np.polynomial.legendre.leggauss(4)
    y = 0.5 * (nodes + 1.0) * foil.span_length / 2.0
    chord = chord_at(foil, y) * weights
    return float(np.sum(chord * y) / np.sum(chord) * np.tan(foil.sweep))


def chord_at(foil: Foil, y: Vector) -> Vector:
    """Chord m at places y along the span, m, from the middle."""
    root = 2.0 * foil.area / foil.span_length / (1.0 + foil.taper)
    return np.asarray(root * (1.0 - (1.0 - foil.taper) * 2.0 * np.abs(y) / foil.span_length))


def strut_offsets(foil: Foil) -> list[float]:
    """Athwartships places of a foil's struts, m, build axes."""
    return [foil.y + offset for offset in foil.strut_offsets]


def mass_properties(craft: Craft) -> MassProperties:
    """Mass, centre and inertia of the craft, from all its parts."""
    body = craft.body
    parts = [
        (
            body.mass,
            np.array([body.x, 0.0, body.height]),
            body.mass * np.diag([body.roll_radius**2, body.pitch_radius**2, body.yaw_radius**2]),
        )
    ]

    def upright(top: Vector, length: float, shape: OfStruts | Rudder) -> None:
        mass = shape.density * 0.70 * shape.chord * shape.thickness * length
        mass *= hollow(shape.wall, shape.thickness).area
        rod = mass * length**2 / 12.0 * np.diag([1.0, 1.0, 0.0])
        parts.append((mass, top - np.array([0.0, 0.0, length / 2.0]), rod))

    for foil in craft.foils.values():
        struts = struts_under(craft, foil)
        parts.append(rod_of(foil, -struts.height))
        for y in strut_offsets(foil):
            upright(np.array([foil.x, y, 0.0]), struts.height, struts)
    for foil in craft.foils.values():
        if foil.mounting == "moving" and foil.linkage is None:
            weighs = craft.servos.mass if foil.servo.mass is None else foil.servo.mass
            parts.append((weighs, np.array([foil.x, foil.y, 0.0]), np.zeros((3, 3))))
    for mass, place in rudder_servos(craft):
        parts.append((mass, place, np.zeros((3, 3))))
    own = list((craft.rangefinders.each or {}).values())
    for i, place in enumerate(rangefinder_places(craft)):
        weighs = own[i].mass if own else None
        parts.append((craft.rangefinders.mass if weighs is None else weighs, place, np.zeros((3, 3))))
    parts += [(wand.mass, hinge_of(wand), np.zeros((3, 3))) for wand in craft.wands.values()]
    for rudder in craft.steering.rudders.values():
        top = np.array([rudder.x, rudder.y, rudder.top])
        upright(top, rudder.length, rudder)
    for ballast in craft.ballast.values():
        parts.append((ballast.mass, np.array([ballast.x, ballast.y, ballast.height]), np.zeros((3, 3))))

    total = sum(mass for mass, _, _ in parts)
    centre = sum((mass * place for mass, place, _ in parts), np.zeros(3)) / total
    inertia = np.zeros((3, 3))
    for mass, place, own in parts:
        r = to_body(place, centre)
        inertia += own + mass * (r @ r * np.eye(3) - np.outer(r, r))
    return MassProperties(total, centre, inertia)


def rudder_servos(craft: Craft) -> list[tuple[float, Vector]]:
    """Mass kg and build place of each servo that turns rudders: the shared one at the body, any other over its rudder."""
    steering, found = craft.steering, []
    alone = [(one.servo, (one.x, one.y)) for one in steering.rudders.values()]
    if steering.second_rudder is not None:
        foil = craft.foils[steering.second_rudder]
        alone.append((steering.second_servo, (foil.x, foil.y)))
    if steering.rudder is not None or any(own is None for own, _ in alone):
        found.append((steering.servo.mass, np.array([craft.body.x, 0.0, craft.body.height])))
    for own, (x, y) in alone:
        if own is not None:
            found.append((steering.servo.mass if own.mass is None else own.mass, np.array([x, y, 0.0])))
    return found


def rod_of(foil: Foil, height: float) -> tuple[float, Vector, Vector]:
    """A foil's mass, place and own inertia: Gauss's sums, exact for these polynomials, of a thin bent rod."""
    nodes, weights = np.polynomial.legendre.leggauss(8 if foil.wall is None else 40)
    u, weights = 0.5 * (nodes + 1.0), 0.5 * weights
    across = u * foil.span_length / 2.0
    chords = chord_at(foil, across)
    masses = foil.density * 0.68 * foil.thickness_ratio * chords**2 * foil.span_length * weights
    masses *= [hollow(foil.wall, foil.thickness_ratio * chord).area for chord in chords.tolist()]
    total, aft = masses.sum(), across * np.tan(foil.sweep)
    centre = (masses * aft).sum() / total
    about_x, about_y = (masses * across**2).sum(), (masses * (aft - centre) ** 2).sum()
    return float(total), np.array([foil.x - centre, foil.y, height]), np.diag([about_x, about_y, about_x + about_y])


def to_body(place: Vector, centre: Vector) -> Vector:
    """Build place (x, y, height) to body axes at the centre of gravity (z down)."""
    return np.array([place[0] - centre[0], place[1] - centre[1], centre[2] - place[2]])


def strip_count(foil: Foil) -> int:
    """How many strips a foil is cut into."""
    if foil.strips is not None:
        return foil.strips
    wanted = 2 * int(np.ceil(foil.span_length * abs(np.tan(foil.dihedral)) / foil.chord - 1e-9))
    return min(max(wanted, 2 if (foil.taper, foil.sweep) == (1.0, 0.0) else 4), 16)


def strips_of(craft: Craft, centre: Vector, count: int | None) -> list[Strip]:
    """All strips, foil by foil in the file's order, each from port to starboard; count: of each foil, if not its own."""
    strips = []
    for number, foil in enumerate(craft.foils.values()):
        pieces = count or strip_count(foil)
        for s in range(pieces):
            middle, breadth = foil.span_length * ((s + 0.5) / pieces - 0.5), foil.span_length / pieces
            inner, outer = chord_at(foil, np.abs(middle) + breadth * np.array([-0.5, 0.5]))
            y = middle + np.sign(middle) * breadth / 6.0 * (outer - inner) / (outer + inner)  # of the trapezium's area
            x = foil.x - abs(y) * np.tan(foil.sweep)
            place = np.array([x, foil.y + y, -struts_under(craft, foil).height + abs(y) * np.tan(foil.dihedral)])
            # Tips up: the normal, which points down, leans outboard.
            normal = np.array([0.0, np.sign(y) * np.sin(foil.dihedral), np.cos(foil.dihedral)])
            chord = float(inner + outer) / 2.0
            strips.append(Strip(number, to_body(place, centre), normal, chord * breadth, chord, s))
    return strips


def struts_of(craft: Craft, centre: Vector) -> list[Strut]:
    """All struts, foil by foil in the file's order, then the rudders that are none."""
    steering = craft.steering
    turning = [craft.foils[name].x for name in (steering.rudder, steering.second_rudder) if name is not None]
    turning += [rudder.x for rudder in steering.rudders.values()]

    def way(x: float) -> float:
        return 1.0 if (x > centre[0]) == (turning[0] > centre[0]) else -1.0

    # Servos by number: the first rudder's is 0; who has none of his own is on the steering's.
    numbers: dict[str, int] = {}

    def servo(own: object, name: str) -> int:
        return numbers.setdefault("steering" if own is None else name, len(numbers))

    of_foils = {}
    if steering.rudder is not None:
        of_foils[steering.rudder] = servo(None, "")
    if steering.second_rudder is not None:
        of_foils[steering.second_rudder] = servo(steering.second_servo, "second")

    found = []
    for name, foil in craft.foils.items():
        struts = struts_under(craft, foil)
        steers = way(foil.x) if name in (steering.rudder, steering.second_rudder) else 0.0
        blade = Blade(struts.height, struts.chord, struts.thickness, True)
        for y in strut_offsets(foil):
            foot = to_body(np.array([foil.x, y, -struts.height]), centre)
            found.append(Strut(blade, foot, steers, of_foils.get(name, 0)))
    for name, rudder in steering.rudders.items():
        foot = np.array([rudder.x, rudder.y, rudder.top - rudder.length])
        blade = Blade(rudder.length, rudder.chord, rudder.thickness, False)
        found.append(Strut(blade, to_body(foot, centre), way(rudder.x) * rudder.turns, servo(rudder.servo, f"rudder {name}")))
    return found


def stations_of(craft: Craft, centre: Vector) -> list[Station]:
    """All hull slices, hull by hull in the file's order, each from aft to forward."""
    stations = []
    for hull in craft.hulls.values():
        for i in range(hull.stations):
            x = hull.x + hull.length * ((i + 0.5) / hull.stations - 0.5)
            keel = to_body(np.array([x, hull.y, 0.0]), centre)
            stations.append(Station(hull, keel, hull.length / hull.stations))
    return stations


def pairs_of(craft: Craft, centre: Vector, count: int | None) -> list[Pair]:
    """Ordered pairs of foils of which the second feels the first's wake; count: strips of each foil, if not its own."""
    foils, wake = list(craft.foils.values()), craft.wake
    found = []
    for j, behind in enumerate(foils):
        pieces = count or strip_count(behind)
        for i, ahead in enumerate(foils):
            if i == j:
                continue
            ends = behind.y - ahead.y + behind.span_length * np.linspace(-0.5, 0.5, pieces + 1)
            away = ahead.x - mean_sweep(ahead) - behind.x + mean_sweep(behind)
            aspect = ahead.span_length / ahead.chord
            sheet, rolled = wake_tables(away, tuple(ends), ahead.span_length, ahead.chord)
            if max(np.abs(sheet).max(), np.abs(rolled).max()) < LEAST:
                continue
            flown = max(away, 0.0)
            rolling = flown / (0.28 * aspect * ahead.span_length)
            sinks = np.array([2.0 / np.pi, 4.0 / np.pi**3]) / aspect * flown * wake.strength
            if wake.rolled_up is not None:
                sheet = rolled = (1.0 - wake.rolled_up) * sheet + wake.rolled_up * rolled
                sinks = np.full(2, (1.0 - wake.rolled_up) * sinks[0] + wake.rolled_up * sinks[1])
            sheet, rolled = wake.strength * sheet, wake.strength * rolled
            place = np.array([ahead.x - mean_sweep(ahead), ahead.y, -struts_under(craft, ahead).height])
            middle = to_body(place, centre)
            found.append(Pair(i, j, max(away, ahead.chord / 4.0), sheet, rolled, rolling, (sinks[0], sinks[1]), middle))
    return found


def plate_factor(ratio: float) -> float:
    """C of a plate whose long side is `ratio` short sides: linear in short side over long side."""
    inverses = [1.0 / node for node in reversed(PLATE_RATIOS)]
    return float(np.interp(1.0 / ratio, inverses, PLATE_FACTORS[::-1]))


def added_mass(craft: Craft, water: Water, centre: Vector, count: int | None) -> Vector:
    """Added mass of foils and struts about the centre of gravity, shape (6, 6)."""
    total = np.zeros((6, 6))
    for strip in strips_of(craft, centre, count):
        foil = list(craft.foils.values())[strip.foil]
        mass = water.density * np.pi / 4.0 * strip.chord * strip.area
        mass *= plate_factor(foil.span_length / foil.chord)
        total += directed_mass(mass, strip.place, strip.normal)
    for strut in struts_of(craft, centre):
        below_keel = strut.foot[2] - centre[2]
        wetted = min(max(below_keel - craft.control.ride_height, 0.0), strut.blade.length)
        mass = water.density * np.pi / 4.0 * strut.blade.chord**2 * wetted
        place = strut.foot - np.array([0.0, 0.0, wetted / 2.0])
        total += directed_mass(mass, place, np.array([0.0, 1.0, 0.0]))
    return total


def directed_mass(mass: float, place: Vector, direction: Vector) -> Vector:
    """Inertia (6, 6) of a mass at a place (3,) that only resists motion along a direction (3,)."""
    along = np.concatenate([direction, np.cross(place, direction)])
    return mass * np.outer(along, along)


def rigid_mass(properties: MassProperties) -> Vector:
    """Rigid-body inertia about the centre of gravity, shape (6, 6)."""
    matrix = np.zeros((6, 6))
    matrix[:3, :3] = properties.mass * np.eye(3)
    matrix[3:, 3:] = properties.inertia
    return matrix

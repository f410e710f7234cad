"""Crafts as the numbers that the kernels read: designs of one structure, packed and trimmed for one speed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import accumulate
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from sweep.model import layout as at
from sweep.model.events import REFERENCE_LENGTH
from sweep.model.kernels.propulsion_forces import CURVES
from sweep.model.onboard.choices import LAWS
from sweep.model.onboard.own import Sizes
from sweep.model.pack.board import Trims, held_trims
from sweep.model.pack.control import own_sizes, pack_control, pack_settings
from sweep.model.pack.foils import mix_of, pack_foils, strip_count
from sweep.model.pack.ground import reach_of
from sweep.model.pack.mass import MassProperties, mass_properties, to_body
from sweep.model.pack.propulsion import likely_throttle, pack_drive
from sweep.model.pack.struts import pack_struts
from sweep.model.pack.trim import solve_trim
from sweep.model.pack.wands import pack_wands, set_on_water
from sweep.model.physics.spectra import GRAVITY
from sweep.model.physics.water import Water

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft

LONGEST_STEP = 0.005  # s: longest step of the integration
STIFFEST = 0.9  # largest step x damping rate; the midpoint rule is stable up to 2
ATMOSPHERE = 101325.0  # Pa, ISO 2533
WATER_ROUGHNESS = 2e-4  # m
_INVERSE = slice(at.INVERSE.first, at.INVERSE.first + at.INVERSE.width**2)


class Structure(NamedTuple):
    """What the flights of one workspace share: counts (strips by foil, stations by hull), control period (s), steps a tick.

    own: what the builder's own code is compiled for, where it is the law.
    """

    foils: int
    strips: tuple[int, ...]
    struts: int
    hulls: tuple[int, ...]
    rangefinders: int
    wands: int
    rudder_servos: int
    law: int
    propeller: int
    period: float
    steps_per_tick: int
    own: Sizes | None = None

    @property
    def stations(self) -> int:
        """Number of stations of all hulls."""
        return sum(self.hulls)

    @property
    def step(self) -> float:
        """Length of a step, s."""
        return self.period / self.steps_per_tick

    @property
    def counts(self) -> at.PartCounts:
        """The counts as the kernels read them."""
        each = [*self.strips, *[0] * (at.MAX_FOILS - self.foils)]
        return at.PartCounts(
            foils=self.foils,
            strips=sum(self.strips),
            struts=self.struts,
            stations=self.stations,
            rangefinders=self.rangefinders,
            wands=self.wands,
            rudder_servos=self.rudder_servos,
            law=self.law,
            propeller=self.propeller,
            strip_starts=tuple(accumulate(each, initial=0)),
        )

    @property
    def slots(self) -> int:
        """Number of slots that describe a design of this structure."""
        return at.STRIP.first + sum(self.strips) * at.STRIP.width


class Fleet(NamedTuple):
    """Designs of one structure at one speed.

    parameters: (designs, slots of the structure), see `layout`; feasible: (designs,) whether the craft has a trim within travel
    and thrust, and its control code has a trim too; trim: (designs, 3) height command rad, pitch command rad, throttle of the
    craft as built.
    """

    structure: Structure
    parameters: np.ndarray
    feasible: np.ndarray
    trim: np.ndarray
    density: float
    speed: float

    @property
    def size(self) -> int:
        """Number of designs."""
        return len(self.parameters)

    def __reduce__(self) -> tuple[Any, ...]:
        """Pickle the numbers that all designs share once only."""
        first = self.parameters[:1]
        differ = (self.parameters.view(np.int64) != first.view(np.int64)).any(axis=0)
        return _spread, (tuple(self._replace(parameters=first)), np.flatnonzero(differ), self.parameters[:, differ])

    def part(self, start: int, stop: int) -> Fleet:
        """The designs start ... stop - 1."""
        return self.some(slice(start, stop))

    def some(self, which: slice | np.ndarray) -> Fleet:
        """The designs at these indices; an index may repeat."""
        return self._replace(parameters=self.parameters[which], feasible=self.feasible[which], trim=self.trim[which])


def _spread(fields: tuple[Any, ...], differing: np.ndarray, values: np.ndarray) -> Fleet:
    """Rebuild a fleet from the numbers of its first design and those that differ between designs."""
    fleet = Fleet(*fields)
    parameters = np.repeat(fleet.parameters, len(values), axis=0)
    parameters[:, differing] = values
    return fleet._replace(parameters=parameters)


class Packed(NamedTuple):
    """Crafts as rows of parameters that do not depend on speed yet.

    crafts: as built; designed: for each, the craft that its control code is set up for; rows: (crafts, slots of the
    largest structure); masses: (crafts, 6, 6), rigid body and added mass; dampings: (crafts, 6, 6), of all strips at 1 m/s;
    structures: with the steps a tick not set yet; strips: number on each foil, or None to choose it by the foil's geometry.
    """

    crafts: Sequence[Craft]
    designed: Sequence[Craft]
    water: Water
    strips: int | None
    structures: list[Structure]
    rows: np.ndarray
    masses: np.ndarray
    dampings: np.ndarray


def build_fleets(
    crafts: Sequence[Craft],
    water: Water,
    speed: float,
    strips: int | None = None,
    step: float | None = None,
    designed: Sequence[Craft] | None = None,
) -> list[tuple[np.ndarray, Fleet]]:
    """Pack and trim designs for one speed; see `pack_crafts` and `fleets_at`."""
    return fleets_at(pack_crafts(crafts, water, strips, designed), speed, step)


def fleets_at(
    packed: Packed, speed: float, step: float | None = None, legs: Sequence[float] = ()
) -> list[tuple[np.ndarray, Fleet]]:
    """Crafts trimmed for a speed (m/s), grouped by structure: pairs of (indices of the crafts, their fleet).

    step: s; without it, each design's damping sets the step. legs: wanted speeds of a course's legs, m/s; without them every
    leg is flown at this speed (M16.3).
    """
    fleets = _trimmed(packed, speed, step, max([speed, *legs]))
    held, known = _held(packed, fleets, speed, step)
    others = {leg: _held(packed, _trimmed(packed, leg, step), leg, step) for leg in {*legs} - {speed}}
    of_legs = [others.get(leg, (held, known)) for leg in legs] + [(held, known)] * (at.MOST_LEGS - len(legs))
    trims = np.concatenate([trim for trim, _ in of_legs], axis=1)
    known = np.logical_and.reduce([known, *(there for _, there in of_legs)])
    for indices, fleet in fleets:
        fleet.parameters[:, at.TRIM.slots()] = held[indices]
        fleet.parameters[:, at.LEG_TRIM.first : at.LEG_TRIM.first + at.MOST_LEGS * at.LEG_TRIM.width] = trims[indices]
        if any(craft.wands or craft.rangefinders.each for craft in packed.crafts):
            built, designed = ([crafts[i] for i in indices] for crafts in (packed.crafts, packed.designed))
            set_on_water(fleet.parameters, built, designed, fleet.density, speed)
    return [(indices, fleet._replace(feasible=fleet.feasible & known[indices])) for indices, fleet in fleets]


def _held(packed: Packed, fleets: Sequence[tuple[np.ndarray, Fleet]], speed: float, step: float | None) -> Trims:
    """The trims that the control codes hold at a speed, and where craft and code have one; fleets: trimmed for that speed."""

    def solve(some: list[Craft], at_speed: float) -> Trims:
        return _gathered(_trimmed(pack_crafts(some, packed.water, packed.strips), at_speed, step), len(some))

    own = _gathered(fleets, len(packed.crafts))
    held, known = held_trims(packed.crafts, packed.designed, own, speed, solve)
    return held, known & own[1]


def _gathered(fleets: Sequence[tuple[np.ndarray, Fleet]], crafts: int) -> Trims:
    """Trims of all fleets, in the order of the crafts."""
    trims, feasible = np.zeros((crafts, 3)), np.zeros(crafts, dtype=bool)
    for indices, fleet in fleets:
        trims[indices], feasible[indices] = fleet.trim, fleet.feasible
    return trims, feasible


def _trimmed(packed: Packed, speed: float, step: float | None, fastest: float | None = None) -> list[tuple[np.ndarray, Fleet]]:
    """As `fleets_at`, with each craft in its own trim. The trims of the control code are not set yet.

    fastest: speed that a flight wants anywhere, m/s, for which the step is set.
    """
    damping_at = speed if fastest is None else fastest
    groups: dict[Structure, list[int]] = {}
    for index, (structure, damping) in enumerate(zip(packed.structures, _fastest_damping(packed, damping_at), strict=True)):
        paced = structure._replace(steps_per_tick=_steps_per_tick(structure.period, float(damping), step))
        groups.setdefault(paced, []).append(index)
    fleets = []
    for structure, indices in groups.items():
        parameters, trim, feasible = _solved(packed, structure, indices, np.full(len(indices), speed))
        parameters[:, at.START_TRIM.slots()] = trim
        fleets.append((np.array(indices), Fleet(structure, parameters, feasible, trim, packed.water.density, speed)))
    return fleets


def own_trims(packed: Packed, which: Sequence[int], speeds: Sequence[float]) -> Trims:
    """The trims of crafts as built, each of `which` at a speed (m/s) of its own: all side by side, whatever their number."""
    trims, feasible, flown = np.zeros((len(which), 3)), np.zeros(len(which), dtype=bool), np.array(speeds, dtype=np.float64)
    groups: dict[Structure, list[int]] = {}
    for place, craft in enumerate(which):
        groups.setdefault(packed.structures[craft], []).append(place)
    for structure, places in groups.items():
        crafts = [which[place] for place in places]
        _, trims[places], feasible[places] = _solved(packed, structure, crafts, flown[places])
    return trims, feasible


def _solved(
    packed: Packed, structure: Structure, indices: list[int], speeds: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Parameters of crafts of one structure, each at its speed (m/s), their own trims, and whether there is such a trim."""
    parameters = packed.rows[indices, : structure.slots]
    parameters[:, at.WANTED_SPEED] = speeds
    if structure.propeller:
        parameters[:, at.TRIM.throttle] = likely_throttle(parameters, speeds)
    trim, feasible = solve_trim(parameters, structure.counts, packed.water.density, speeds)
    return parameters, trim, feasible


def _fastest_damping(packed: Packed, speed: float) -> np.ndarray:
    """Fastest damping rate of each craft at a speed (m/s), 1/s: it limits the step (M2.5)."""
    inverses = packed.rows[:, _INVERSE].reshape(packed.dampings.shape)
    rates: np.ndarray = np.linalg.eigvals(inverses @ (packed.dampings * speed)).real.max(axis=1)
    return rates


def _steps_per_tick(period: float, damping: float, step: float | None) -> int:
    """Number of steps in a control period (s). step: s; without it, the damping rate (1/s) sets the step."""
    longest = step or LONGEST_STEP
    if step is None:
        while longest * damping > STIFFEST and longest > 0.001:
            longest *= 0.5
    return math.ceil(period / longest - 1e-9)


def _structure(craft: Craft, strips: tuple[int, ...]) -> Structure:
    return Structure(
        foils=len(craft.foils),
        strips=strips,
        struts=sum(len(foil.strut_offsets) for foil in craft.foils.values()) + len(craft.steering.rudders),
        hulls=tuple(hull.stations for hull in craft.hulls.values()),
        rangefinders=craft.rangefinders.number,
        wands=len(craft.wands),
        rudder_servos=len(craft.steering.moved_by()[0]) - 1,
        law=LAWS[craft.control.law].number,
        propeller=CURVES if craft.propulsor.propeller is not None else 0,
        period=1.0 / craft.control.rate,
        steps_per_tick=1,
        own=own_sizes(craft) if craft.control.traits.own else None,
    )


def pack_crafts(
    crafts: Sequence[Craft], water: Water, strips: int | None = None, designed: Sequence[Craft] | None = None
) -> Packed:
    """Pack crafts, for any speed.

    strips: number on each foil, even; without it, the foil's geometry sets it. designed: for each craft, the craft that its
    control code is set up for, with the same parts; without it, every craft is as designed. Raises ValueError if there are
    more strips than the kernels have room for.
    """
    boards = crafts if designed is None else designed
    numbers = [tuple(strips or strip_count(foil) for foil in craft.foils.values()) for craft in crafts]
    if (most := max(map(max, numbers), default=0)) > at.MAX_STRIPS_OF_A_FOIL:
        raise ValueError(f"{most} strips on a foil; there is room for {at.MAX_STRIPS_OF_A_FOIL}")
    structures = [_structure(craft, each) for craft, each in zip(crafts, numbers, strict=True)]
    rows = np.zeros((len(crafts), max((structure.slots for structure in structures), default=at.PARAMETERS)))
    masses, dampings = np.zeros((2, len(crafts), 6, 6))
    for index, (craft, board, each) in enumerate(zip(crafts, boards, numbers, strict=True)):
        masses[index], dampings[index] = _pack(rows[index], craft, water, each, board)
    rows[:, _INVERSE] = np.linalg.inv(masses).reshape(len(crafts), -1)
    return Packed(crafts, boards, water, strips, structures, rows, masses, dampings)


def _pack(
    row: np.ndarray, craft: Craft, water: Water, strips: tuple[int, ...], designed: Craft
) -> tuple[np.ndarray, np.ndarray]:
    """Write one craft to its row of parameters; return its mass matrix and its damping matrix at 1 m/s.

    strips: number on each foil; designed: the craft that its control code is set up for.
    """
    properties = mass_properties(craft)
    mass = np.zeros((6, 6))
    mass[:3, :3] = properties.mass * np.eye(3)
    mass[3:, 3:] = properties.inertia
    _pack_body(row, craft, properties, water)
    pack_drive(row, craft, to_body(properties, craft.propulsor.x, 0.0, craft.propulsor.height), water.density)
    foils = pack_foils(row, craft, properties, water, strips)
    struts = pack_struts(row, craft, properties, water)
    _pack_hulls(row, craft, properties, water)
    pack_wands(row, craft, properties, water.density)
    row[at.WATER_DEPTH], row[at.REACH] = water.depth, reach_of(craft, properties)
    pack_control(row, craft, properties)
    known = properties if designed is craft else mass_properties(designed)
    pack_settings(row, craft, designed, known)
    for foil, angles in enumerate(foils.mix if designed is craft else mix_of(designed, known)):
        row[at.FOIL.mix.slots(foil * at.FOIL.width)] = angles
    return struts.added_to(foils.added.added_to(mass)), foils.damping.added_to(np.zeros((6, 6)))


def _pack_body(row: np.ndarray, craft: Craft, properties: MassProperties, water: Water) -> None:
    inertia = properties.inertia
    row[at.MASS] = properties.mass
    row[at.INERTIA.slots()] = inertia[[0, 1, 2, 0, 0, 1], [0, 1, 2, 1, 2, 2]]
    row[at.KEEL] = properties.centre[2]
    row[at.CENTRE.slots()] = properties.centre[:2]
    windage = craft.windage
    aloft = to_body(properties, windage.x, 0.0, windage.height)
    row[at.WINDAGE.slots()] = [windage.area, aloft[0], aloft[2]]
    row[at.WIND_SHARE] = wind_share(craft.control.ride_height + windage.height)
    row[at.AIR_PRESSURE] = (ATMOSPHERE - water.vapour_pressure) / (0.5 * water.density)
    air = craft.struts.ventilation
    row[at.STRUT_VENTILATION.slots()] = [air.angle, air.side_left, air.washout]
    longest = max(hull.length for hull in craft.hulls.values())
    row[at.TIME_SCALE] = math.sqrt(longest / REFERENCE_LENGTH)
    row[at.HULL_DEPTH] = max(hull.depth for hull in craft.hulls.values())
    row[at.WINDOW_CLEARANCE] = craft.window.clearance
    row[at.WINDOW_CHORDS] = craft.window.submergence


def wind_share(height: float) -> float:
    """Wind at a height (m) above the water over the wind at 10 m: the logarithmic law with a roughness of 0.2 mm (M10.2).

    The roughness is that of the WMO's first class, open water (Guide to Instruments, Davenport's classes).
    """
    return math.log(max(height, 2.0 * WATER_ROUGHNESS) / WATER_ROUGHNESS) / math.log(10.0 / WATER_ROUGHNESS)


def _pack_hulls(row: np.ndarray, craft: Craft, properties: MassProperties, water: Water) -> None:
    s = 0
    for hull in craft.hulls.values():
        alike = (
            (at.STATION.slice, hull.length / hull.stations),
            (at.STATION.beam, hull.beam),
            (at.STATION.slope, math.tan(hull.deadrise)),
            (at.STATION.sine, math.sin(hull.deadrise)),
            (at.STATION.hull_depth, hull.depth),
            (at.STATION.froude, 1.0 / math.sqrt(GRAVITY * hull.length)),
            (at.STATION.length_log, math.log10(hull.length / water.viscosity)),
        )
        for i in range(hull.stations):
            first = s * at.STATION.width
            x = hull.x + hull.length * ((i + 0.5) / hull.stations - 0.5)
            row[first + at.STATION.x], row[first + at.STATION.y], row[first + at.STATION.z] = to_body(
                properties, x, hull.y, 0.0
            )
            row[first + at.STATION.follows] = float(i > 0)
            for slot, value in alike:
                row[first + slot] = value
            s += 1

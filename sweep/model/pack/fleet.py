"""From crafts to the numbers that the kernels read: designs of one structure, packed and trimmed for one speed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import accumulate
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sweep.model import layout as at
from sweep.model.events import REFERENCE_LENGTH
from sweep.model.kernels.propulsion_forces import CURVES
from sweep.model.onboard.choices import LAWS
from sweep.model.pack.board import Trims, held_trims
from sweep.model.pack.control import pack_control, pack_settings
from sweep.model.pack.foils import mix_of, pack_foils, strip_count
from sweep.model.pack.ground import reach_of
from sweep.model.pack.mass import MassProperties, add_along, mass_properties, to_body
from sweep.model.pack.propulsion import pack_drive
from sweep.model.pack.trim import solve_trim
from sweep.model.physics.spectra import GRAVITY
from sweep.model.physics.strut import form_factor, junction_drag_area
from sweep.model.physics.water import Water

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft

LONGEST_STEP = 0.005  # s
STIFFEST = 0.9  # step x fastest damping; the method's own limit is 2
ATMOSPHERE = 101325.0  # Pa, ISO 2533
WATER_ROUGHNESS = 2e-4  # m


class Structure(NamedTuple):
    """What flights side by side share: counts (strips by foil, stations by hull), control period (s), steps a tick."""

    foils: int
    strips: tuple[int, ...]
    struts: int
    hulls: tuple[int, ...]
    rangefinders: int
    law: int
    propeller: int
    period: float
    steps_per_tick: int

    @property
    def stations(self) -> int:
        """Of all hulls."""
        return sum(self.hulls)

    @property
    def step(self) -> float:
        """Length of a step, s."""
        return self.period / self.steps_per_tick

    @property
    def counts(self) -> at.PartCounts:
        """As the kernels take them."""
        each = [*self.strips, *[0] * (at.MAX_FOILS - self.foils)]
        return at.PartCounts(
            foils=self.foils,
            strips=sum(self.strips),
            struts=self.struts,
            stations=self.stations,
            rangefinders=self.rangefinders,
            law=self.law,
            propeller=self.propeller,
            strip_starts=tuple(accumulate(each, initial=0)),
        )

    @property
    def slots(self) -> int:
        """How many of a design's numbers it needs."""
        return at.STRIP.first + sum(self.strips) * at.STRIP.width


class Fleet(NamedTuple):
    """Designs of one structure at one speed.

    parameters: (designs, slots of the structure), see `layout`; feasible: (designs,) whether there is a trim within travel
    and thrust, and the control code has one to hold; trim: (designs, 3) height command rad, pitch command rad, throttle of the
    craft as it is.
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

    def part(self, start: int, stop: int) -> Fleet:
        """Some of its designs, in order."""
        return self.some(slice(start, stop))

    def some(self, which: slice | np.ndarray) -> Fleet:
        """Its designs of these places, of which one may come again."""
        return self._replace(parameters=self.parameters[which], feasible=self.feasible[which], trim=self.trim[which])


def build_fleets(
    crafts: Sequence[Craft],
    water: Water,
    speed: float,
    strips: int | None = None,
    step: float | None = None,
    designed: Sequence[Craft] | None = None,
) -> list[tuple[np.ndarray, Fleet]]:
    """Pack and trim designs for a speed (m/s), grouped by structure: pairs of (which of the crafts, their fleet).

    strips: of each foil, even, instead of what its geometry asks; step: s, instead of the one that each design's damping
    allows; designed: of each craft the one that its control code is set up for, of the same parts, without which every craft
    is as designed. Raises ValueError for more strips than the kernels have room for.
    """
    boards = crafts if designed is None else designed
    fleets = _trimmed(crafts, boards, water, speed, strips, step)

    def solve(some: list[Craft], at_speed: float) -> Trims:
        return _gathered(_trimmed(some, some, water, at_speed, strips, step), len(some))

    held, known = held_trims(crafts, boards, _gathered(fleets, len(crafts)), speed, solve)
    for indices, fleet in fleets:
        fleet.parameters[:, at.TRIM.slots()] = held[indices]
    return [(indices, fleet._replace(feasible=fleet.feasible & known[indices])) for indices, fleet in fleets]


def _gathered(fleets: Sequence[tuple[np.ndarray, Fleet]], crafts: int) -> Trims:
    """Trims of all crafts in their order."""
    trims, feasible = np.zeros((crafts, 3)), np.zeros(crafts, dtype=bool)
    for indices, fleet in fleets:
        trims[indices], feasible[indices] = fleet.trim, fleet.feasible
    return trims, feasible


def _trimmed(
    crafts: Sequence[Craft], designed: Sequence[Craft], water: Water, speed: float, strips: int | None, step: float | None
) -> list[tuple[np.ndarray, Fleet]]:
    """As `build_fleets`, each at the start in its own trim; what its control code holds is still to come."""
    groups: dict[Structure, tuple[list[int], list[np.ndarray]]] = {}
    for index, (craft, board) in enumerate(zip(crafts, designed, strict=True)):
        each = tuple(strips or strip_count(foil) for foil in craft.foils.values())
        row, damping = pack(craft, water, speed, each, board)
        structure = _structure(craft, each, damping, step)
        indices, rows = groups.setdefault(structure, ([], []))
        indices.append(index)
        rows.append(row[: structure.slots])
    fleets = []
    for structure, (indices, rows) in groups.items():
        parameters = np.array(rows)
        trim, feasible = solve_trim(parameters, structure.counts, water.density, speed)
        parameters[:, at.START_TRIM.slots()] = trim
        fleets.append((np.array(indices), Fleet(structure, parameters, feasible, trim, water.density, speed)))
    return fleets


def _structure(craft: Craft, strips: tuple[int, ...], damping: float, step: float | None) -> Structure:
    period = 1.0 / craft.control.rate
    longest = step or LONGEST_STEP
    if step is None:
        while longest * damping > STIFFEST and longest > 0.001:
            longest *= 0.5
    return Structure(
        foils=len(craft.foils),
        strips=strips,
        struts=sum(len(foil.strut_offsets) for foil in craft.foils.values()),
        hulls=tuple(hull.stations for hull in craft.hulls.values()),
        rangefinders=craft.rangefinders.count,
        law=LAWS[craft.control.law].number,
        propeller=CURVES if craft.propulsor.propeller is not None else 0,
        period=period,
        steps_per_tick=math.ceil(period / longest - 1e-9),
    )


def pack(craft: Craft, water: Water, speed: float, strips: tuple[int, ...], designed: Craft) -> tuple[np.ndarray, float]:
    """One craft as a row of parameters, and the fastest damping (1/s) that the step must follow (M2.5).

    strips: of each foil; designed: what its control code is set up for.
    """
    if max(strips) > at.MAX_STRIPS_OF_A_FOIL:
        raise ValueError(f"{max(strips)} strips on a foil; there is room for {at.MAX_STRIPS_OF_A_FOIL}")
    row = np.zeros(at.PARAMETERS)
    properties = mass_properties(craft)
    matrix = np.zeros((6, 6))
    matrix[:3, :3] = properties.mass * np.eye(3)
    matrix[3:, 3:] = properties.inertia
    _pack_body(row, craft, properties, water)
    pack_drive(row, craft, to_body(properties, craft.propulsor.x, 0.0, craft.propulsor.height), water.density, speed)
    damping = pack_foils(row, craft, properties, water, strips, matrix)
    _pack_struts(row, craft, properties, water, matrix)
    _pack_hulls(row, craft, properties, water)
    row[at.WATER_DEPTH], row[at.REACH] = water.depth, reach_of(craft, properties)
    pack_control(row, craft, properties, speed)
    known = properties if designed is craft else mass_properties(designed)
    pack_settings(row, craft, designed, known)
    for foil, angles in enumerate(mix_of(designed, known)):
        row[at.FOIL.mix.slots(foil * at.FOIL.width)] = angles
    inverse = np.linalg.inv(matrix)
    row[at.INVERSE.first : at.INVERSE.first + inverse.size] = inverse.ravel()
    rates = np.linalg.eigvals(inverse @ (damping * speed))
    return row, float(np.max(rates.real))


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
    """Wind at a height (m) over the water as a share of that 10 m up: the logarithmic law over a roughness of 0.2 mm (M10.2).

    The roughness is that of the WMO's first class, open water (Guide to Instruments, Davenport's classes).
    """
    return math.log(max(height, 2.0 * WATER_ROUGHNESS) / WATER_ROUGHNESS) / math.log(10.0 / WATER_ROUGHNESS)


def _pack_struts(row: np.ndarray, craft: Craft, properties: MassProperties, water: Water, matrix: np.ndarray) -> None:
    struts = craft.struts
    wetted = struts.height - craft.control.ride_height
    s = 0
    for name, foil in craft.foils.items():
        for offset in foil.strut_offsets:
            first = s * at.STRUT.width
            foot = to_body(properties, foil.x, foil.y + offset, -struts.height)
            row[first + at.STRUT.x], row[first + at.STRUT.y], row[first + at.STRUT.z] = foot
            row[first + at.STRUT.length] = struts.height
            row[first + at.STRUT.chord] = struts.chord
            row[first + at.STRUT.thickness] = struts.thickness
            row[first + at.STRUT.form] = 2.0 * form_factor(struts.thickness / struts.chord)
            row[first + at.STRUT.junction] = 2.0 * junction_drag_area(struts.thickness, struts.chord)
            row[first + at.STRUT.foil] = list(craft.foils).index(name)
            row[first + at.STRUT.steers] = float(name == craft.steering.rudder)
            row[first + at.STRUT.chord_log] = math.log10(struts.chord / water.viscosity)
            added = water.density * math.pi / 4.0 * struts.chord**2 * max(wetted, 0.0)
            add_along(matrix, added, foot - np.array([0.0, 0.0, 0.5 * wetted]), np.array([0.0, 1.0, 0.0]))
            s += 1


def _pack_hulls(row: np.ndarray, craft: Craft, properties: MassProperties, water: Water) -> None:
    s = 0
    for hull in craft.hulls.values():
        for i in range(hull.stations):
            first = s * at.STATION.width
            x = hull.x + hull.length * ((i + 0.5) / hull.stations - 0.5)
            row[first + at.STATION.x], row[first + at.STATION.y], row[first + at.STATION.z] = to_body(
                properties, x, hull.y, 0.0
            )
            row[first + at.STATION.slice] = hull.length / hull.stations
            row[first + at.STATION.beam] = hull.beam
            row[first + at.STATION.slope] = math.tan(hull.deadrise)
            row[first + at.STATION.sine] = math.sin(hull.deadrise)
            row[first + at.STATION.hull_depth] = hull.depth
            row[first + at.STATION.follows] = float(i > 0)
            row[first + at.STATION.froude] = 1.0 / math.sqrt(GRAVITY * hull.length)
            row[first + at.STATION.length_log] = math.log10(hull.length / water.viscosity)
            s += 1

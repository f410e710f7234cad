"""From crafts to the numbers that the kernels read: designs of one structure, packed and trimmed for one speed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import accumulate
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sweep.model import layout as at
from sweep.model.board import Trims, held_trims
from sweep.model.control import LAWS
from sweep.model.downwash import LEAST_INFLUENCE, PAIR_SINKS, ROLL_UP, SHEET_SINKS, SPREAD, wake_tables
from sweep.model.drive import CURVES
from sweep.model.flap import flap_terms, hinge_terms, of_foil
from sweep.model.foil import indicial_coefficients, lift_slope
from sweep.model.ground import reach_of
from sweep.model.mass import MassProperties, add_along, mass_properties, strip_added_mass, to_body
from sweep.model.pack_control import pack_control, pack_settings
from sweep.model.pack_drive import pack_drive
from sweep.model.section import SectionNodes, section_of
from sweep.model.spectra import GRAVITY
from sweep.model.strut import form_factor, junction_drag_area
from sweep.model.trim import solve_trim
from sweep.model.water import Water

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft, Foil

LONGEST_STEP = 0.005  # s
STIFFEST = 0.9  # step x fastest damping; the method's own limit is 2
ATMOSPHERE = 101325.0  # Pa, ISO 2533
WATER_ROUGHNESS = 2e-4  # m
REFERENCE_LENGTH = 0.9  # m: the hull whose event times are as written


class Structure(NamedTuple):
    """What flights side by side must share: counts (strips by foil, stations by hull), control period (s), steps a tick."""

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
    def counts(self) -> np.ndarray:
        """As the kernels take them: foils, strips, struts, stations, rangefinders, law, propeller; first strip of each foil."""
        kinds = [self.foils, sum(self.strips), self.struts, self.stations, self.rangefinders, self.law, self.propeller]
        return np.array([*kinds, *accumulate(self.strips, initial=0)])

    @property
    def slots(self) -> int:
        """How many of a design's numbers it needs."""
        return at.STRIP + sum(self.strips) * at.STRIP_STRIDE


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
        fleet.parameters[:, at.TRIM_HEIGHT : at.TRIM_HEIGHT + 3] = held[indices]
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
        parameters[:, at.START_TRIM : at.START_TRIM + 3] = trim
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
        law=LAWS.index(craft.control.law),
        propeller=CURVES if craft.propulsor.propeller is not None else 0,
        period=period,
        steps_per_tick=math.ceil(period / longest - 1e-9),
    )


def strip_count(foil: Foil) -> int:
    """Strips of a foil: what its file says, else two, and as many more as keep each to half a chord of depth (judgement)."""
    if foil.strips is not None:
        return foil.strips
    rise = 0.5 * foil.span_length * abs(math.tan(foil.dihedral))
    return min(max(2 * math.ceil(2.0 * rise / foil.chord - 1e-9), 2), at.MAX_STRIPS_OF_A_FOIL)


def pack(craft: Craft, water: Water, speed: float, strips: tuple[int, ...], designed: Craft) -> tuple[np.ndarray, float]:
    """One craft as a row of parameters, and the fastest damping (1/s) that the step must follow.

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
    damping = _pack_foils(row, craft, properties, water, strips, matrix)
    _pack_struts(row, craft, properties, water, matrix)
    _pack_hulls(row, craft, properties, water)
    row[at.WATER_DEPTH], row[at.REACH] = water.depth, reach_of(craft, properties)
    pack_control(row, craft, properties, speed)
    known = properties if designed is craft else mass_properties(designed)
    pack_settings(row, craft, designed, known)
    for foil, angles in enumerate(_mix_of(designed, known)):
        first = at.FOIL + foil * at.FOIL_STRIDE + at.MIX
        row[first : first + 3] = angles
    inverse = np.linalg.inv(matrix)
    row[at.INVERSE : at.INVERSE + 36] = inverse.ravel()
    rates = np.linalg.eigvals(inverse @ (damping * speed))
    return row, float(np.max(rates.real))


def _mix_of(craft: Craft, properties: MassProperties) -> np.ndarray:
    foils = list(craft.foils.values())
    places = [to_body(properties, foil.x, foil.y, -craft.struts.height) for foil in foils]
    return mixer(foils, [section_of(craft, foil) for foil in foils], places)


def _pack_body(row: np.ndarray, craft: Craft, properties: MassProperties, water: Water) -> None:
    inertia = properties.inertia
    row[at.MASS] = properties.mass
    row[at.INERTIA : at.INERTIA + 6] = inertia[[0, 1, 2, 0, 0, 1], [0, 1, 2, 1, 2, 2]]
    row[at.KEEL] = properties.centre[2]
    row[at.CENTRE_X : at.CENTRE_X + 2] = properties.centre[:2]
    windage = craft.windage
    aloft = to_body(properties, windage.x, 0.0, windage.height)
    row[at.WINDAGE : at.WINDAGE + 3] = [windage.area, aloft[0], aloft[2]]
    row[at.WIND_SHARE] = wind_share(craft.control.ride_height + windage.height)
    row[at.AIR_PRESSURE] = (ATMOSPHERE - water.vapour_pressure) / (0.5 * water.density)
    air = craft.struts.ventilation
    row[at.STRUT_VENTILATION : at.STRUT_VENTILATION + 3] = [air.angle, air.side_left, air.washout]
    longest = max(hull.length for hull in craft.hulls.values())
    row[at.TIME_SCALE] = math.sqrt(longest / REFERENCE_LENGTH)
    row[at.HULL_DEPTH] = max(hull.depth for hull in craft.hulls.values())
    row[at.WINDOW_CLEARANCE] = craft.window.clearance
    row[at.WINDOW_CHORDS] = craft.window.submergence


def wind_share(height: float) -> float:
    """Wind at a height (m) over the water as a share of that 10 m up: the logarithmic law over a roughness of 0.2 mm.

    The roughness is that of the WMO's first class, open water (Guide to Instruments, Davenport's classes).
    """
    return math.log(max(height, 2.0 * WATER_ROUGHNESS) / WATER_ROUGHNESS) / math.log(10.0 / WATER_ROUGHNESS)


def _pack_section(row: np.ndarray, first: int, foil: Foil, section: SectionNodes, viscosity: float) -> None:
    share, rate = indicial_coefficients(foil.span_length / foil.chord)
    row[first + at.CHORD] = foil.chord
    row[first + at.SPAN] = foil.span_length
    row[first + at.ASPECT] = foil.span_length / foil.chord
    row[first + at.LAG_SHARE : first + at.LAG_SHARE + 2] = [share, 2.0 * rate / foil.chord]
    row[first + at.FIXED_ANGLE] = foil.incidence
    nodes = np.array(section[: at.SECTION_VALUES]).T
    row[first + at.SECTION : first + at.SECTION + nodes.size] = np.vstack([nodes[:1], np.diff(nodes, axis=0)]).ravel()
    row[first + at.CHORD_LOG] = math.log10(foil.chord / viscosity)
    row[first + at.POLAR_LOW : first + at.POLAR_LOW + 3] = [
        math.log10(section.reynolds_low),
        math.log10(section.reynolds_high),
        section.angle_high - max(section.zero_lift_angle),
    ]
    row[first + at.SUCTION : first + at.SUCTION + 3] = section.suction
    row[first + at.FLAPPED] = float(foil.flap is not None)
    row[first + at.FLAP : first + at.FLAP + at.FLAP_VALUES] = flap_terms(foil)
    row[first + at.HINGE : first + at.HINGE + 4] = hinge_terms(foil, section.lift_slope[2], section.moment)


def _pack_foils(
    row: np.ndarray, craft: Craft, properties: MassProperties, water: Water, strips: tuple[int, ...], matrix: np.ndarray
) -> np.ndarray:
    """Foils and strips; their added mass into the matrix. Returns their damping matrix at 1 m/s, (6, 6)."""
    foils = list(craft.foils.values())
    places = [to_body(properties, foil.x, foil.y, -craft.struts.height) for foil in foils]
    sections = [section_of(craft, foil) for foil in foils]
    damping = np.zeros((6, 6))
    for f, (foil, place) in enumerate(zip(foils, places, strict=True)):
        first = at.FOIL + f * at.FOIL_STRIDE
        _pack_section(row, first, foil, sections[f], water.viscosity)
        row[first + at.STRIP_AREA] = foil.area / strips[f]
        row[first + at.FORE] = place[0]
        row[first + at.BESIDE : first + at.BELOW + 1] = place[1:]
        row[first + at.HALF_SPANS] = 2.0 / foil.span_length
        row[first + at.LIFT_FACTOR] = 1.0
        row[first + at.WEED_LIFT] = 1.0
        air = foil.ventilation
        row[first + at.VENTILATION : first + at.VENTILATION + 5] = [
            air.depth,
            air.angle,
            air.lift_left,
            air.rewet_depth,
            air.washout,
        ]
        added = strip_added_mass(water.density, foil.chord, foil.span_length, strips[f])
        drag = 0.5 * water.density * foil.area / strips[f] * deep_slope(foil, sections[f])
        for s in range(strips[f]):
            strip = at.STRIP + (sum(strips[:f]) + s) * at.STRIP_STRIDE
            where, normal, tip = _strip(foil, place, s, strips[f])
            row[strip : strip + 3] = where
            row[strip + at.STRIP_NORMAL : strip + at.STRIP_NORMAL + 2] = normal[1:]
            row[strip + at.STRIP_TIP : strip + at.STRIP_TIP + 2] = tip[1:]
            add_along(matrix, added, where, normal)
            add_along(damping, drag, where, normal)
        for other, ahead in enumerate(foils):
            if other != f:
                _pack_wake(row, craft, (f, other), ahead, place - places[other], sum(strips[:f]), strips[f])
    return damping


def _strip(foil: Foil, place: np.ndarray, index: int, strips: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Centre, normal and outer end of a strip, body axes."""
    rise = math.tan(foil.dihedral)
    y = foil.span_length * ((index + 0.5) / strips - 0.5)
    side = 1.0 if y > 0.0 else -1.0
    outer = y + side * 0.5 * foil.span_length / strips
    normal = np.array([0.0, side * math.sin(foil.dihedral), math.cos(foil.dihedral)])
    return place + np.array([0.0, y, -abs(y) * rise]), normal, place + np.array([0.0, outer, -abs(outer) * rise])


def _pack_wake(
    row: np.ndarray, craft: Craft, pair: tuple[int, int], ahead: Foil, apart: np.ndarray, first: int, strips: int
) -> None:
    """What a foil feels of another's wake. pair: it and the other; apart: from the other's place, m; first: of its strips."""
    foil = list(craft.foils.values())[pair[0]]
    distance, chord, span = -float(apart[0]), ahead.chord, ahead.span_length
    ends = apart[1] + foil.span_length * (np.arange(strips + 1) / strips - 0.5)
    sheet, rolled = wake_tables(distance, tuple(ends.tolist()), span, chord)
    if max(np.abs(sheet).max(), np.abs(rolled).max()) < LEAST_INFLUENCE:
        return
    wake, aspect = craft.wake, span / chord
    change = rolled - sheet
    if wake.rolled_up is not None:
        sheet, change = sheet + wake.rolled_up * change, 0.0 * change
    table = wake.strength * np.hstack([_ramps(sheet), _ramps(change)])
    for s in range(strips):
        start = at.STRIP + (first + s) * at.STRIP_STRIDE + at.STRIP_INFLUENCE + pair[1] * at.INFLUENCES
        row[start : start + at.INFLUENCES] = table[s]
    behind = at.FOIL + pair[0] * at.FOIL_STRIDE + pair[1]
    flown = max(distance, 0.0)
    as_sheet, as_pair = (wake.strength * rate / aspect * flown for rate in (SHEET_SINKS, PAIR_SINKS))
    row[behind + at.WAKE_DISTANCE] = max(distance, SPREAD * chord)
    row[behind + at.WAKE_ROLLING] = flown / (ROLL_UP * aspect * span)
    row[behind + at.WAKE_SINK], row[behind + at.WAKE_SINK_CHANGE] = as_sheet, as_sheet - as_pair
    if wake.rolled_up is not None:
        row[behind + at.WAKE_ROLLING] = 0.0
        row[behind + at.WAKE_SINK] -= wake.rolled_up * row[behind + at.WAKE_SINK_CHANGE]


def _ramps(table: np.ndarray) -> np.ndarray:
    """Values at the nodes, (strips, nodes), as the first of them and what each ramp adds."""
    return np.hstack([table[:, :1], np.diff(table, axis=1)])


def deep_slope(foil: Foil, section: SectionNodes) -> float:
    """Lift slope per radian far under the surface, at the middle node of the section's Reynolds number."""
    return lift_slope(section.lift_slope[2], foil.span_length / foil.chord, 1.0, 0.0, 1.0)


def mixer(foils: Sequence[Foil], sections: Sequence[SectionNodes], places: Sequence[np.ndarray]) -> np.ndarray:
    """(foils, 3): angle of each foil for one unit of height, pitch and roll command.

    One degree of a command gives the lift, bow-up or starboard-down moment of one degree on every foil, and nothing of
    the other two, as far as the arrangement allows (least squares).
    """
    moved = [of_foil(foil, section.lift_slope[2]) for foil, section in zip(foils, sections, strict=True)]
    slopes = [deep_slope(foil, section) for foil, section in zip(foils, sections, strict=True)]
    effect = np.array([foil.area * slope * share for foil, slope, share in zip(foils, slopes, moved, strict=True)])
    x = np.array([place[0] for place in places])
    y = np.array([place[1] for place in places])
    levers = np.array([effect, effect * x, -effect * y])
    wanted = np.array([effect.sum(), (effect * abs(x)).sum(), (effect * abs(y)).sum()])
    return np.linalg.pinv(levers, rcond=1e-9) * wanted


def _pack_struts(row: np.ndarray, craft: Craft, properties: MassProperties, water: Water, matrix: np.ndarray) -> None:
    struts = craft.struts
    wetted = struts.height - craft.control.ride_height
    s = 0
    for name, foil in craft.foils.items():
        for offset in foil.strut_offsets:
            first = at.STRUT + s * at.STRUT_STRIDE
            foot = to_body(properties, foil.x, foil.y + offset, -struts.height)
            row[first : first + 3] = foot
            row[first + at.STRUT_LENGTH] = struts.height
            row[first + at.STRUT_CHORD] = struts.chord
            row[first + at.STRUT_THICKNESS] = struts.thickness
            row[first + at.STRUT_FORM] = 2.0 * form_factor(struts.thickness / struts.chord)
            row[first + at.STRUT_JUNCTION] = 2.0 * junction_drag_area(struts.thickness, struts.chord)
            row[first + at.STRUT_FOIL] = list(craft.foils).index(name)
            row[first + at.STRUT_STEERS] = float(name == craft.steering.rudder)
            row[first + at.STRUT_LOG] = math.log10(struts.chord / water.viscosity)
            added = water.density * math.pi / 4.0 * struts.chord**2 * max(wetted, 0.0)
            add_along(matrix, added, foot - np.array([0.0, 0.0, 0.5 * wetted]), np.array([0.0, 1.0, 0.0]))
            s += 1


def _pack_hulls(row: np.ndarray, craft: Craft, properties: MassProperties, water: Water) -> None:
    s = 0
    for hull in craft.hulls.values():
        for i in range(hull.stations):
            first = at.STATION + s * at.STATION_STRIDE
            x = hull.x + hull.length * ((i + 0.5) / hull.stations - 0.5)
            row[first : first + 3] = to_body(properties, x, hull.y, 0.0)
            row[first + at.STATION_SLICE] = hull.length / hull.stations
            row[first + at.STATION_BEAM] = hull.beam
            row[first + at.STATION_SLOPE] = math.tan(hull.deadrise)
            row[first + at.STATION_SINE] = math.sin(hull.deadrise)
            row[first + at.STATION_DEPTH] = hull.depth
            row[first + at.STATION_FOLLOWS] = float(i > 0)
            row[first + at.STATION_FROUDE] = 1.0 / math.sqrt(GRAVITY * hull.length)
            row[first + at.STATION_LOG] = math.log10(hull.length / water.viscosity)
            s += 1

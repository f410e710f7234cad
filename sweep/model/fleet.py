"""From crafts to the numbers that the kernels read: designs of one structure, packed and trimmed for one speed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sweep.model import layout as at
from sweep.model.control import LAWS
from sweep.model.downwash import downwash_per_lift
from sweep.model.foil import flap_effectiveness, indicial_coefficients, lift_slope
from sweep.model.mass import MassProperties, add_along, mass_properties, rangefinder_places, strip_added_mass
from sweep.model.servo import transition
from sweep.model.spectra import GRAVITY
from sweep.model.strut import form_factor, junction_drag_area
from sweep.model.trim import solve_trim
from sweep.model.water import Water

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft, Foil, Servo

LONGEST_STEP = 0.005  # s
STIFFEST = 0.9  # step x fastest damping; the method's own limit is 2
REFERENCE_LENGTH = 0.9  # m: the hull whose event times are as written


class Structure(NamedTuple):
    """What flights side by side must share: counts, control period (s) and steps a control tick."""

    foils: int
    strips: int
    struts: int
    stations: int
    rangefinders: int
    law: int
    period: float
    steps_per_tick: int

    @property
    def step(self) -> float:
        """Length of a step, s."""
        return self.period / self.steps_per_tick

    @property
    def counts(self) -> np.ndarray:
        """The counts as the kernels take them."""
        return np.array([self.foils, self.strips, self.struts, self.stations, self.rangefinders, self.law])


class Fleet(NamedTuple):
    """Designs of one structure at one speed.

    parameters: (designs, PARAMETERS), see `layout`; feasible: (designs,) whether there is a trim within travel and thrust;
    trim: (designs, 3) height command rad, pitch command rad, throttle.
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
        return self._replace(
            parameters=self.parameters[start:stop], feasible=self.feasible[start:stop], trim=self.trim[start:stop]
        )


def build_fleets(
    crafts: Sequence[Craft], water: Water, speed: float, strips: int = 2, step: float | None = None
) -> list[tuple[np.ndarray, Fleet]]:
    """Pack and trim designs for a speed (m/s), grouped by structure: pairs of (which of the crafts, their fleet).

    strips: of each foil, even. step: s, instead of the one that each design's damping allows.
    """
    groups: dict[Structure, tuple[list[int], list[np.ndarray]]] = {}
    for index, craft in enumerate(crafts):
        row, damping = pack(craft, water, speed, strips)
        structure = _structure(craft, strips, damping, step)
        indices, rows = groups.setdefault(structure, ([], []))
        indices.append(index)
        rows.append(row)
    fleets = []
    for structure, (indices, rows) in groups.items():
        parameters = np.array(rows)
        trim, feasible = solve_trim(parameters, structure.counts, water.density, speed)
        parameters[:, at.TRIM_HEIGHT : at.TRIM_HEIGHT + 3] = trim
        fleets.append((np.array(indices), Fleet(structure, parameters, feasible, trim, water.density, speed)))
    return fleets


def _structure(craft: Craft, strips: int, damping: float, step: float | None) -> Structure:
    period = 1.0 / craft.control.rate
    longest = step or LONGEST_STEP
    if step is None:
        while longest * damping > STIFFEST and longest > 0.001:
            longest *= 0.5
    return Structure(
        foils=len(craft.foils),
        strips=strips,
        struts=sum(len(foil.strut_offsets) for foil in craft.foils.values()),
        stations=sum(hull.stations for hull in craft.hulls.values()),
        rangefinders=craft.rangefinders.count,
        law=LAWS.index(craft.control.law),
        period=period,
        steps_per_tick=math.ceil(period / longest - 1e-9),
    )


def pack(craft: Craft, water: Water, speed: float, strips: int) -> tuple[np.ndarray, float]:
    """One design as a row of parameters, and the fastest damping (1/s) that the step must follow."""
    row = np.zeros(at.PARAMETERS)
    properties = mass_properties(craft)
    matrix = np.zeros((6, 6))
    matrix[:3, :3] = properties.mass * np.eye(3)
    matrix[3:, 3:] = properties.inertia
    _pack_body(row, craft, properties, water.density)
    damping = _pack_foils(row, craft, properties, water, strips, matrix)
    _pack_struts(row, craft, properties, water, matrix)
    _pack_hulls(row, craft, properties, water)
    _pack_control(row, craft, properties, speed)
    inverse = np.linalg.inv(matrix)
    row[at.INVERSE : at.INVERSE + 36] = inverse.ravel()
    rates = np.linalg.eigvals(inverse @ (damping * speed))
    return row, float(np.max(rates.real))


def to_body(properties: MassProperties, x: float, y: float, height: float) -> np.ndarray:
    """Body axes (m) of a point of the build axes."""
    centre = properties.centre
    return np.array([x - centre[0], y - centre[1], centre[2] - height])


def _pack_body(row: np.ndarray, craft: Craft, properties: MassProperties, density: float) -> None:
    inertia = properties.inertia
    row[at.MASS] = properties.mass
    row[at.INERTIA : at.INERTIA + 6] = inertia[[0, 1, 2, 0, 0, 1], [0, 1, 2, 1, 2, 2]]
    row[at.KEEL] = properties.centre[2]
    propulsor = craft.propulsor
    place = to_body(properties, propulsor.x, 0.0, propulsor.height)
    row[at.STATIC_THRUST] = propulsor.static_thrust
    row[at.NO_THRUST_SPEED] = propulsor.no_thrust_speed
    row[at.THRUST_LAG] = propulsor.lag
    row[[at.THRUST_X, at.THRUST_X + 1, at.THRUST_X + 2]] = place
    row[at.PROPELLER_RADIUS] = 0.5 * propulsor.diameter
    row[at.CENTRE_X : at.CENTRE_X + 2] = properties.centre[:2]
    windage = craft.windage
    aloft = to_body(properties, windage.x, 0.0, windage.height)
    row[at.WINDAGE : at.WINDAGE + 3] = [windage.area, aloft[0], aloft[2]]
    air = craft.struts.ventilation
    row[at.STRUT_VENTILATION : at.STRUT_VENTILATION + 3] = [air.angle, air.side_left, air.washout]
    row[at.DISC] = 2.0 * density * math.pi / 4.0 * propulsor.diameter**2
    row[at.EFFICIENCY] = propulsor.efficiency
    row[at.ELECTRONICS] = propulsor.electronics
    longest = max(hull.length for hull in craft.hulls.values())
    row[at.TIME_SCALE] = math.sqrt(longest / REFERENCE_LENGTH)
    row[at.HULL_DEPTH] = max(hull.depth for hull in craft.hulls.values())
    row[at.WINDOW_CLEARANCE] = craft.window.clearance
    row[at.WINDOW_CHORDS] = craft.window.submergence


def _section(foil: Foil, viscosity: float) -> dict[int, float]:
    section = foil.section
    share, rate = indicial_coefficients(foil.span_length / foil.chord)
    speed_at_reynolds_1 = viscosity / foil.chord
    return {
        at.CHORD: foil.chord,
        at.SPAN: foil.span_length,
        at.ASPECT: foil.span_length / foil.chord,
        at.SECTION_SLOPE: section.lift_slope,
        at.LIFT_MAX: section.lift_max,
        at.PROFILE: section.drag_min * math.sqrt(section.reynolds * speed_at_reynolds_1),
        at.SPEED_LOW: 2e4 * speed_at_reynolds_1,
        at.SPEED_HIGH: 3e6 * speed_at_reynolds_1,
        at.DRAG_RISE: section.drag_rise,
        at.LEAST_DRAG: section.lift_of_least_drag,
        at.LAG_SHARE: share,
        at.LAG_RATE: 2.0 * rate / foil.chord,
        at.FIXED_ANGLE: foil.incidence - foil.zero_lift_angle,
    }


def _pack_foils(
    row: np.ndarray, craft: Craft, properties: MassProperties, water: Water, strips: int, matrix: np.ndarray
) -> np.ndarray:
    """Foils and strips; their added mass into the matrix. Returns their damping matrix at 1 m/s, (6, 6)."""
    foils = list(craft.foils.values())
    places = [to_body(properties, foil.x, foil.y, -craft.struts.height) for foil in foils]
    mix = mixer(foils, places)
    damping = np.zeros((6, 6))
    for f, (foil, place) in enumerate(zip(foils, places, strict=True)):
        first = at.FOIL + f * at.FOIL_STRIDE
        for slot, value in _section(foil, water.viscosity).items():
            row[first + slot] = value
        row[first + at.STRIP_AREA] = foil.area / strips
        row[first + at.FORE] = place[0]
        row[first + at.LIFT_FACTOR] = 1.0
        row[first + at.WEED_LIFT] = 1.0
        row[first + at.FLAP] = flap_effectiveness(foil.flap) if foil.flap is not None else 1.0
        row[first + at.PITCHING : first + at.PITCHING + 2] = [foil.section.moment, foil.pivot]
        air = foil.ventilation
        row[first + at.VENTILATION : first + at.VENTILATION + 5] = [
            air.depth,
            air.angle,
            air.lift_left,
            air.rewet_depth,
            air.washout,
        ]
        row[first + at.MIX : first + at.MIX + 3] = mix[f]
        added = strip_added_mass(water.density, foil.chord, foil.span_length, strips)
        drag = 0.5 * water.density * foil.area / strips * deep_slope(foil)
        for s in range(strips):
            strip = at.STRIP + (f * strips + s) * at.STRIP_STRIDE
            where, normal, tip = _strip(foil, place, s, strips)
            row[strip : strip + 3] = where
            row[strip + at.STRIP_NORMAL : strip + at.STRIP_NORMAL + 2] = normal[1:]
            row[strip + at.STRIP_TIP : strip + at.STRIP_TIP + 2] = tip[1:]
            add_along(matrix, added, where, normal)
            add_along(damping, drag, where, normal)
            for other, ahead in enumerate(foils):
                row[strip + at.STRIP_INFLUENCE + other] = _influence(craft, ahead, places[other], where)
    return damping


def _strip(foil: Foil, place: np.ndarray, index: int, strips: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Centre, normal and outer end of a strip, body axes."""
    rise = math.tan(foil.dihedral)
    y = foil.span_length * ((index + 0.5) / strips - 0.5)
    side = 1.0 if y > 0.0 else -1.0
    outer = y + side * 0.5 * foil.span_length / strips
    normal = np.array([0.0, side * math.sin(foil.dihedral), math.cos(foil.dihedral)])
    return place + np.array([0.0, y, -abs(y) * rise]), normal, place + np.array([0.0, outer, -abs(outer) * rise])


def _influence(craft: Craft, ahead: Foil, place_ahead: np.ndarray, where: np.ndarray) -> float:
    """Downwash angle at a strip per unit lift coefficient of a foil; none unless that foil is ahead by over a chord."""
    if place_ahead[0] - where[0] <= ahead.chord:
        return 0.0
    depth = craft.struts.height - craft.control.ride_height
    strip_depth = depth + where[2] - place_ahead[2]
    return downwash_per_lift(
        where[0], where[1], strip_depth, place_ahead[0], place_ahead[1], depth, ahead.chord, ahead.span_length
    )


def deep_slope(foil: Foil) -> float:
    """Lift slope per radian far under the surface."""
    return lift_slope(foil.section.lift_slope, foil.span_length / foil.chord, 1.0, 0.0, 1.0)


def mixer(foils: Sequence[Foil], places: Sequence[np.ndarray]) -> np.ndarray:
    """(foils, 3): angle of each foil for one unit of height, pitch and roll command.

    One degree of a command gives the lift, bow-up or starboard-down moment of one degree on every foil, and nothing of
    the other two, as far as the arrangement allows (least squares).
    """
    moved = [1.0 if foil.flap is None else flap_effectiveness(foil.flap) for foil in foils]
    effect = np.array([foil.area * deep_slope(foil) * share for foil, share in zip(foils, moved, strict=True)])
    x = np.array([place[0] for place in places])
    y = np.array([place[1] for place in places])
    levers = np.array([effect, effect * x, -effect * y])
    wanted = np.array([effect.sum(), (effect * abs(x)).sum(), (effect * abs(y)).sum()])
    return np.linalg.pinv(levers, rcond=1e-9) * wanted


def bank_limit(craft: Craft) -> float:
    """The bank (rad) that brings the outermost foil tip to half a chord under the surface; none if it is there already."""
    depth = craft.struts.height - craft.control.ride_height
    limits = []
    for foil in craft.foils.values():
        reach = abs(foil.y) + 0.5 * foil.span_length
        limits.append(math.atan2(depth - 0.5 * foil.chord, reach))
    return max(min(limits), 0.0)


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
            row[first + at.STATION_FROUDE] = 1.0 / math.sqrt(GRAVITY * hull.length)
            row[first + at.STATION_LOG] = math.log10(hull.length / water.viscosity)
            s += 1


def _pack_servo(row: np.ndarray, first: int, servo: Servo) -> None:
    row[first : first + 4] = [servo.bandwidth, servo.damping, 0.0, 0.0]
    torque = math.inf if servo.torque is None else servo.torque * servo.linkage
    row[first + 4 : first + 9] = [servo.rate, servo.travel, servo.quantum, torque, servo.backlash]


def servo_terms(parameters: np.ndarray, half: float) -> None:
    """Turn bandwidth and damping of both servos into the terms that carry them over half a step (s), in place."""
    for first in (at.SERVO, at.RUDDER_SERVO):
        known: dict[tuple[float, float], np.ndarray] = {}
        for row in parameters:
            key = (float(row[first]), float(row[first + 1]))
            if key not in known:
                known[key] = transition(*key, half)
            row[first : first + 4] = known[key]


def plane_weights(places: Sequence[np.ndarray]) -> np.ndarray:
    """Share of each rangefinder's height in the height, at the centre of gravity, of the plane fitted through them.

    Equal shares where they do not span a plane.
    """
    across = np.array([[1.0, place[0], place[1]] for place in places])
    if len(places) < 3 or np.linalg.matrix_rank(across, tol=1e-6) < 3:
        return np.full(len(places), 1.0 / len(places))
    weights: np.ndarray = np.linalg.pinv(across)[0]
    return weights


def _pack_control(row: np.ndarray, craft: Craft, properties: MassProperties, speed: float) -> None:
    control, sensors = craft.control, craft.rangefinders
    _pack_servo(row, at.SERVO, craft.servos)
    _pack_servo(row, at.RUDDER_SERVO, craft.steering.servo)
    row[at.RIDE_HEIGHT] = control.ride_height
    row[at.PITCH_TRIM] = control.pitch_trim
    height = control.height
    row[at.HEIGHT_GAINS : at.HEIGHT_GAINS + 5] = [
        height.proportional,
        height.integral,
        height.derivative,
        height.limit,
        height.smoothing,
    ]
    for first, gains in ((at.PITCH_GAINS, control.pitch), (at.ROLL_GAINS, control.roll)):
        row[first : first + 4] = [gains.proportional, gains.integral, gains.derivative, gains.limit]
    row[at.HEADING_GAINS : at.HEADING_GAINS + 3] = [
        control.heading.proportional,
        control.heading.derivative,
        control.heading.limit,
    ]
    row[at.SPEED_GAINS : at.SPEED_GAINS + 2] = [control.speed.proportional, control.speed.integral]
    row[at.TURN_RATE] = control.turn_rate
    row[at.BANK_SHARE] = control.bank_share
    row[at.BANK_LIMIT] = bank_limit(craft)
    row[at.THROTTLE_SHARE] = control.throttle_share
    row[at.PITCH_SHARE] = control.pitch_share
    row[at.DELAY] = control.delay
    if craft.steering.rudder is not None:
        ahead = craft.foils[craft.steering.rudder].x > properties.centre[0]
        row[at.RUDDER_SIDE] = -1.0 if ahead else 1.0
    row[at.RANGE_RATE : at.RANGE_RATE + 9] = [
        sensors.rate,
        sensors.latency,
        sensors.noise,
        sensors.resolution,
        sensors.blind,
        sensors.far,
        sensors.dropout,
        sensors.spikes,
        sensors.spike_size,
    ]
    places = rangefinder_places(craft)
    for i, place in enumerate(places):
        first = at.RANGE_PLACE + 4 * i
        row[first : first + 3] = to_body(properties, *place)
        row[first + 3] = place[2]
    row[at.PLANE_WEIGHT : at.PLANE_WEIGHT + len(places)] = plane_weights([to_body(properties, *place) for place in places])
    row[at.SCHEDULE_SPEED] = control.schedule_speed or 0.0
    row[at.COMBINE] = ("mean", "vote", "plane").index(control.combine)
    row[at.MEDIAN] = control.median
    row[at.GATE] = control.gate
    row[at.CORNER] = control.corner
    row[at.RANGE_BEAM] = math.tan(0.5 * sensors.beam)
    row[at.RANGE_NEAREST] = float(sensors.footprint == "nearest")
    row[at.RANGE_TILT] = math.cos(sensors.tilt_limit)
    inertial = craft.inertial
    row[at.VIBRATION] = inertial.vibration
    row[at.INERTIAL_PLACE : at.INERTIAL_PLACE + 3] = to_body(properties, inertial.x, inertial.y, inertial.height)
    row[at.GYRO_NOISE : at.GYRO_NOISE + 5] = [
        inertial.gyro_noise,
        inertial.gyro_bias,
        inertial.accelerometer_noise,
        inertial.accelerometer_bias,
        inertial.levelling_time,
    ]
    row[at.NAVIGATION_RATE : at.NAVIGATION_RATE + 3] = [
        craft.navigation.rate,
        craft.navigation.speed_noise,
        craft.navigation.heading_noise,
    ]
    row[at.WANTED_SPEED] = speed

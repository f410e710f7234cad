"""A slow second implementation of MODEL.md: plain vectors and rotation matrices, integrated by scipy.

It shares no code with `sweep.model`, holds nothing over a step, and takes servo angles, rudder and throttle as given
functions of time. State vector: position (X, Y, Z), angles (phi, theta, psi), velocity (u, v, w), rates (p, q, r),
one lift lag a strip, one downwash lag an ordered pair of foils, the lagged throttle, side throttle and voltage.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import least_squares, root

from sweep.campaign.craft import Craft, Foil
from tests.second.drive import Push, Throttles, pushes, voltage_share
from tests.second.flaps import flap_effectiveness, turned
from tests.second.loads import LEAST_SPEED, lift_slope, station_wrench, strip_load, strut_force, wrench
from tests.second.parts import (
    MassProperties,
    Pair,
    Station,
    Strip,
    Strut,
    added_mass,
    mass_properties,
    mean_sweep,
    pairs_of,
    rigid_mass,
    stations_of,
    strips_of,
    struts_of,
    to_body,
)
from tests.second.sea import FLAT, GRAVITY, Sea, Vector, Water, cross, elevation, orbital_velocity
from tests.second.sections import reynolds_of, section_at
from tests.second.trailing import between

WIND_HEIGHT, ROUGHNESS = 10.0, 0.2e-3  # m: where the wind is told, and of open water


class State(NamedTuple):
    """Earth position m, angles rad, body velocity m/s, body rates rad/s, (3,) each; the lags of MODEL.md."""

    position: Vector
    angles: Vector
    velocity: Vector
    rates: Vector
    lift_lag: Vector
    downwash: Vector
    thrust: float
    side: float
    voltage: float = 1.0

    def vector(self) -> Vector:
        """All of it in one row."""
        return np.concatenate([*self[:6], self[6:]])


class Inputs(NamedTuple):
    """Foil angles and angles of the rudders' servos (or one of all), rad, throttle 0 ... 1, what port gains of it."""

    foil_angles: Vector
    rudder: float | Vector = 0.0
    throttle: float = 0.0
    side: float = 0.0


class Loads(NamedTuple):
    """Force and moment about the centre of gravity of each kind of part, body axes (6,); what the lags see."""

    wrenches: dict[str, Vector]
    lift_lag_goal: Vector
    lift_lag_rate: Vector
    downwash_goal: Vector
    downwash_rate: Vector
    hull_lift: float

    def total(self) -> Vector:
        """Force and moment of everything about the centre of gravity, body axes (6,)."""
        return np.asarray(np.sum(list(self.wrenches.values()), axis=0))


class Trim(NamedTuple):
    """Height command rad, pitch command rad, throttle, thrust N, foil angles rad, state."""

    height_command: float
    pitch_command: float
    throttle: float
    thrust: float
    foil_angles: Vector
    state: State


@dataclass(frozen=True)
class SecondModel:
    """What stays the same during a flight. Pair p blows on the strips of foil `pairs[p].behind`."""

    craft: Craft
    water: Water
    foils: list[Foil]
    mass: MassProperties
    inertia: Vector
    strips: list[Strip]
    struts: list[Strut]
    stations: list[Station]
    pairs: list[Pair]


def build(craft: Craft, water: Water, strip_count: int | None = None) -> SecondModel:
    """The second model of a craft in a water; strip_count: of each foil, if not its own."""
    mass = mass_properties(craft)
    strips = strips_of(craft, mass.centre, strip_count)
    return SecondModel(
        craft=craft,
        water=water,
        foils=list(craft.foils.values()),
        mass=mass,
        inertia=rigid_mass(mass) + added_mass(craft, water, mass.centre, strip_count),
        strips=strips,
        struts=struts_of(craft, mass.centre),
        stations=stations_of(craft, mass.centre),
        pairs=pairs_of(craft, mass.centre, strip_count),
    )


def state_of(model: SecondModel, row: Vector) -> State:
    """The state in one row, by name."""
    lags, downwash = 12 + len(model.strips), 12 + len(model.strips) + len(model.pairs)
    drive = float(row[downwash]), float(row[downwash + 1]), float(row[downwash + 2])
    return State(row[0:3], row[3:6], row[6:9], row[9:12], row[12:lags], row[lags:downwash], *drive)


def rotation(angles: Vector) -> Vector:
    """R = Rz(psi) Ry(theta) Rx(phi): body components to earth components, shape (3, 3)."""
    (sin_phi, sin_theta, sin_psi), (cos_phi, cos_theta, cos_psi) = np.sin(angles), np.cos(angles)
    about_z = np.array([[cos_psi, -sin_psi, 0.0], [sin_psi, cos_psi, 0.0], [0.0, 0.0, 1.0]])
    about_y = np.array([[cos_theta, 0.0, sin_theta], [0.0, 1.0, 0.0], [-sin_theta, 0.0, cos_theta]])
    about_x = np.array([[1.0, 0.0, 0.0], [0.0, cos_phi, -sin_phi], [0.0, sin_phi, cos_phi]])
    return np.asarray(about_z @ about_y @ about_x)


def angle_rates(angles: Vector, rates: Vector) -> Vector:
    """Rates of the Euler angles (phi, theta, psi) from the body rates, rad/s."""
    (phi, theta, _), (p, q, r) = angles, rates
    turn = q * np.sin(phi) + r * np.cos(phi)
    return np.array([p + turn * np.tan(theta), q * np.cos(phi) - r * np.sin(phi), turn / np.cos(theta)])


@dataclass(frozen=True)
class Pose:
    """Where the craft and the water are at a moment."""

    model: SecondModel
    sea: Sea
    time: float
    state: State
    turn: Vector

    def at(self, place: Vector) -> tuple[Vector, float]:
        """Earth place (3,) and depth under the surface, m, of a body point."""
        earth = self.state.position + self.turn @ place
        return earth, earth[2] + elevation(self.sea, earth[0], earth[1], self.time)

    def calm_depth(self, place: Vector) -> float:
        """Depth below the calm level of a body point, m."""
        return float((self.state.position + self.turn @ place)[2])

    def water_velocity(self, earth: Vector, depth: float) -> Vector:
        """Orbital velocity at an earth place and a depth, body axes (3,), m/s."""
        water = orbital_velocity(self.sea, self.model.water, earth[0], earth[1], depth, self.time)
        return self.turn.T @ water

    def point_velocity(self, place: Vector) -> Vector:
        """Velocity of a body point over ground, body axes (3,), m/s."""
        return self.state.velocity + cross(self.state.rates, place)


def forces(model: SecondModel, sea: Sea, time: float, state: State, inputs: Inputs) -> Loads:
    """All forces on the craft and the rates of its lift and downwash lags."""
    pose = Pose(model, sea, time, state, rotation(state.angles))
    foils, lift_lag_goal, lift_lag_rate, foil_lift = foil_loads(pose, inputs)
    hulls = hull_loads(pose)
    up = pose.turn.T @ np.array([0.0, 0.0, -1.0])
    weight = model.mass.mass * GRAVITY
    wrenches = {
        "foils": foils,
        "struts": strut_loads(pose, inputs),
        "hulls": hulls,
        "propulsor": propulsor_load(pose),
        "air": air_load(pose),
        "gravity": wrench(-weight * up, np.zeros(3)),
    }
    downwash_goal = np.array([foil_lift[pair.ahead] for pair in model.pairs])
    arrival = max(state.velocity[0], LEAST_SPEED) / np.array([pair.distance for pair in model.pairs])
    downwash_rate = (downwash_goal - state.downwash) * arrival
    hull_lift = float(hulls[:3] @ up)
    return Loads(wrenches, lift_lag_goal, lift_lag_rate, downwash_goal, downwash_rate, hull_lift)


def foil_loads(pose: Pose, inputs: Inputs) -> tuple[Vector, Vector, Vector, Vector]:
    """Wrench of all foils (6,), goal and rate of each lift lag, each foil's mean lift coefficient x wetted share."""
    model, state = pose.model, pose.state
    total, foil_lift = np.zeros(6), np.zeros(len(model.foils))
    goal, rate = np.zeros(len(model.strips)), np.zeros(len(model.strips))
    speed_along = state.velocity[0]
    sections = [section_at(model.craft, foil, reynolds_of(foil, model.water, speed_along)) for foil in model.foils]
    for s, strip in enumerate(model.strips):
        downwash = downwash_at(pose, strip)
        earth, depth = pose.at(strip.place)
        flow = pose.point_velocity(strip.place) - pose.water_velocity(earth, depth)
        foil, lag = model.foils[strip.foil], state.lift_lag[s]
        section = sections[strip.foil]
        by_servo = turned(foil, section, inputs.foil_angles[strip.foil])
        load = strip_load(foil, section, model.water, strip, flow, depth, by_servo, downwash, lag)
        ahead = max(flow[0], LEAST_SPEED)
        speed = np.hypot(ahead, flow @ strip.normal)
        leaning = -0.5 * model.water.density * speed * ahead * strip.area * load.lift * downwash
        total += wrench(load.force + np.array([leaning, 0.0, 0.0]), strip.place) + np.concatenate([np.zeros(3), load.moment])
        goal[s], rate[s] = load.lag_goal, load.lag_rate
        foil_lift[strip.foil] += load.lift * strip.area / foil.area
    return total, goal, rate, foil_lift


def downwash_at(pose: Pose, strip: Strip) -> float:
    """Downwash angle at a strip, from every wake that it feels and their images, rad."""
    model = pose.model
    depth = pose.calm_depth(strip.place)
    total = 0.0
    for lift, pair in zip(pose.state.downwash, model.pairs, strict=True):
        if pair.behind != strip.foil:
            continue
        rolled = min(abs(lift) * pair.rolling, 1.0)
        sunk = lift * ((1.0 - rolled) * pair.sinks[0] + rolled * pair.sinks[1])
        wake = pose.calm_depth(pair.middle) + sunk
        table = (1.0 - rolled) * pair.sheet[strip.number] + rolled * pair.rolled[strip.number]
        span = model.foils[pair.ahead].span_length
        total += lift * sum(between(table, apart, span) for apart in (depth - wake, depth + wake))
    return float(total)


def strut_loads(pose: Pose, inputs: Inputs) -> Vector:
    """Wrench of all struts and their junctions (6,)."""
    model = pose.model
    total = np.zeros(6)
    for strut in model.struts:
        earth, depth = pose.at(strut.foot)
        wetted = min(max(depth, 0.0), strut.blade.length)
        place = strut.foot - np.array([0.0, 0.0, wetted / 2.0])
        flow = pose.point_velocity(place) - pose.water_velocity(earth, depth / 2.0)
        rudder = turned_by(inputs, strut)
        total += wrench(strut_force(strut.blade, model.water, wetted, flow, pose.state.velocity[0], rudder), place)
    return total


def turned_by(inputs: Inputs, strut: Strut) -> float:
    """How far a strut or rudder is turned by its servo, rad."""
    servos = np.atleast_1d(inputs.rudder)
    return float(servos[strut.servo if len(servos) > 1 else 0]) * strut.steers


def hull_loads(pose: Pose) -> Vector:
    """Wrench of all hulls (6,)."""
    model, state = pose.model, pose.state
    up = pose.turn.T @ np.array([0.0, 0.0, -1.0])
    total = np.zeros(6)
    for hull, keel, length in model.stations:
        earth, depth = pose.at(keel)
        immersion = min(max(depth, 0.0), hull.depth)
        flow = pose.point_velocity(keel) - pose.water_velocity(earth, 0.0)
        roll, ahead = state.angles[0], state.velocity[0]
        total += station_wrench(hull, model.water, keel, length, flow, up, immersion, roll, ahead)
    return total


def propulsor_load(pose: Pose) -> Vector:
    """Wrench of the propellers (6,)."""
    total = np.zeros(6)
    for y, push in halves_of_the_drive(pose):
        total += wrench(np.array([push.thrust, 0.0, 0.0]), hub_place(pose.model, y))
    return total


def halves_of_the_drive(pose: Pose) -> list[tuple[float, Push]]:
    """The port and the starboard half of the drive: y of the shaft, build axes m, and its push."""
    state, model = pose.state, pose.model

    def hub_depth(y: float) -> float:
        earth, _ = pose.at(hub_place(model, y))
        amidships, _ = pose.at(hub_place(model, 0.0))
        return float(earth[2] + elevation(pose.sea, amidships[0], amidships[1], pose.time))

    drive = Throttles(state.thrust, state.side, state.voltage)
    return pushes(model.craft, model.water, state.velocity[0], drive, hub_depth)


def hub_place(model: SecondModel, y: float) -> Vector:
    """Place of a propeller's hub, body axes (3,)."""
    propulsor = model.craft.propulsor
    return to_body(np.array([propulsor.x, y, propulsor.height]), model.mass.centre)


def battery_power(pose: Pose) -> float:
    """Power that drive and electronics take from the battery, W."""
    return pose.model.craft.propulsor.electronics + sum(push.power for _, push in halves_of_the_drive(pose))


def voltage_rate(pose: Pose) -> float:
    """Rate of the lagged voltage, 1/s."""
    craft = pose.model.craft
    settled = voltage_share(craft, pose.model.water, battery_power(pose))
    return (settled - pose.state.voltage) / craft.propulsor.lag


def air_load(pose: Pose) -> Vector:
    """Wrench of the wind and the craft's own headwind (6,)."""
    craft, windage = pose.model.craft, pose.model.craft.windage
    aloft = np.log((craft.control.ride_height + windage.height) / ROUGHNESS) / np.log(WIND_HEIGHT / ROUGHNESS)
    felt = pose.turn.T @ np.array([*pose.sea.wind, 0.0]) * aloft - pose.state.velocity
    felt[2] = 0.0
    push = 0.5 * 1.225 * windage.area * np.linalg.norm(felt) * felt
    centre = pose.model.mass.centre
    return wrench(push, np.array([windage.x - centre[0], 0.0, centre[2] - windage.height]))


def acceleration(model: SecondModel, state: State, loads: Loads) -> Vector:
    """nu' of (M) nu' = tau + gravity - C_RB(nu) nu, shape (6,)."""
    turning_force = -model.mass.mass * cross(state.rates, state.velocity)
    turning_moment = -cross(state.rates, model.mass.inertia @ state.rates)
    turning = np.concatenate([turning_force, turning_moment])
    return np.linalg.solve(model.inertia, loads.total() + turning)


def derivative(model: SecondModel, sea: Sea, time: float, state: State, inputs: Inputs) -> State:
    """Rate of every part of the state, named like the state."""
    loads = forces(model, sea, time, state, inputs)
    accelerations = acceleration(model, state, loads)
    return State(
        position=rotation(state.angles) @ state.velocity,
        angles=angle_rates(state.angles, state.rates),
        velocity=accelerations[:3],
        rates=accelerations[3:],
        lift_lag=loads.lift_lag_rate,
        downwash=loads.downwash_rate,
        thrust=(inputs.throttle - state.thrust) / model.craft.propulsor.lag,
        side=(inputs.side - state.side) / model.craft.propulsor.lag,
        voltage=voltage_rate(Pose(model, sea, time, state, rotation(state.angles))),
    )


def fly(
    model: SecondModel,
    sea: Sea,
    start: State,
    inputs: Callable[[float], Inputs],
    times: Vector,
    tolerance: float = 1e-7,
) -> Vector:
    """Open-loop flight from `start` at times[0]: the states at `times`, shape (times, states)."""

    def rate(time: float, row: Vector) -> Vector:
        return derivative(model, sea, time, state_of(model, row), inputs(time)).vector()

    # The short steps are for inputs and touches that a long step could jump over.
    solution = solve_ivp(
        rate, (times[0], times[-1]), start.vector(), "DOP853", times, rtol=tolerance, atol=tolerance, max_step=0.05
    )
    if not solution.success:
        raise RuntimeError(f"the second model did not fly: {solution.message}")
    return np.asarray(solution.y.T)


def mixer(model: SecondModel) -> Vector:
    """Foil angles per (height, pitch, roll) command, shape (foils, 3)."""
    xg, yg, _ = model.mass.centre
    deep = 1e9
    sections = [section_at(model.craft, foil, 1.6e5) for foil in model.foils]
    slopes = [lift_slope(foil, section, deep, 1e9) for foil, section in zip(model.foils, sections, strict=True)]
    shares = [flap_effectiveness(foil, section) for foil, section in zip(model.foils, sections, strict=True)]
    effect = np.array([foil.area for foil in model.foils]) * slopes * shares
    effect = np.where([foil.mounting == "fixed" or foil.linkage is not None for foil in model.foils], 0.0, effect)
    x = np.array([foil.x - mean_sweep(foil) - xg for foil in model.foils])
    y = np.array([foil.y - yg for foil in model.foils])
    allocation = np.array([effect, effect * x, -effect * y])
    scale = np.diag([effect.sum(), (effect * abs(x)).sum(), (effect * abs(y)).sum()])
    return np.asarray(np.linalg.pinv(allocation) @ scale)


def steady_state(model: SecondModel, speed: float, foil_angles: Vector, throttle: float, near: State | None = None) -> State:
    """Level flight at the wanted ride height and pitch in calm water, with all lags at rest; `near`: lags to begin with."""
    pitch = model.craft.control.pitch_trim
    z = -model.craft.control.ride_height - model.mass.centre[2] * np.cos(pitch)
    state = State(
        position=np.array([0.0, 0.0, z]),
        angles=np.array([0.0, pitch, 0.0]),
        velocity=speed * np.array([np.cos(pitch), 0.0, np.sin(pitch)]),
        rates=np.zeros(3),
        lift_lag=np.zeros(len(model.strips)) if near is None else near.lift_lag,
        downwash=np.zeros(len(model.pairs)) if near is None else near.downwash,
        thrust=throttle,
        side=0.0,
    )
    for _ in range(100):  # the wakes settle from the foremost foil to the last, and where two foils feel each other
        loads = forces(model, FLAT, 0.0, state, Inputs(foil_angles))
        before = state.vector()
        voltage = voltage_share(model.craft, model.water, battery_power(Pose(model, FLAT, 0.0, state, rotation(state.angles))))
        state = state._replace(lift_lag=loads.lift_lag_goal, downwash=loads.downwash_goal, voltage=voltage)
        if np.max(np.abs(state.vector() - before)) < 1e-14:
            break
    return state


def trim(model: SecondModel, speed: float) -> Trim:
    """Level flight at a speed in calm water: X, Z and M vanish."""
    mix, states = mixer(model), [steady_state(model, speed, np.zeros(len(model.foils)), 0.0)]

    def angles(commands: Vector) -> Vector:
        by_wands = np.array([commands[0] if foil.linkage is not None else 0.0 for foil in model.foils])
        return np.asarray(mix[:, :2] @ commands[:2] + by_wands)

    def residual(commands: Vector) -> Vector:
        states[0] = steady_state(model, speed, angles(commands), commands[2], states[0])
        return forces(model, FLAT, 0.0, states[0], Inputs(angles(commands))).total()[[0, 2, 4]]

    for throttle in (0.3, 0.6, 0.9):  # a propeller that is turned too slowly only brakes, however slowly
        near = least_squares(residual, np.array([0.02, 0.0, throttle]), x_scale=[0.1, 0.1, 0.3])
        found = root(residual, near.x, tol=1e-12)
        if np.max(np.abs(found.fun)) <= 1e-8:
            break
    else:
        raise RuntimeError(f"no trim at {speed} m/s: {found.message}")
    state = steady_state(model, speed, angles(found.x), found.x[2])
    thrust = propulsor_load(Pose(model, FLAT, 0.0, state, rotation(state.angles)))[0]
    height_command, pitch_command, throttle = found.x
    return Trim(height_command, pitch_command, throttle, thrust, angles(found.x), state)

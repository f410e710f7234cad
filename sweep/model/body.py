"""Forces on every part of the craft at its state of the moment, and the accelerations that follow.

Every function works on all lanes of the workspace (see `layout`) at the MID state. Forces are in body axes at the
centre of gravity, newtons and newton metres; their sum gathers in FORCE.
"""

from __future__ import annotations

import math

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import arctangent, clip, exp_negative, sine_cosine, smoothstep
from sweep.model.foil import (
    biplane_factor,
    drag_coefficient,
    froude_factor,
    lift_and_stall,
    lift_slope,
    surface_factor,
)
from sweep.model.hull import (
    SIDE_DRAG,
    buoyancy_per_length,
    cross_flow_per_length,
    hump_drag,
    impact_per_length,
    wedge_area,
)
from sweep.model.layout import row
from sweep.model.propulsion import ideal_power
from sweep.model.spectra import GRAVITY
from sweep.model.strut import SPRAY, friction_of_log, helmbold_slope, side_coefficient

AIR_DENSITY = 1.225  # kg/m3, 15 degC at sea level (ISO 2533)
LEAST_SPEED = 0.1  # m/s: floor of the forward speed in angles of attack
LEAST_FRICTION_LOG = 4.301029995663981  # log10 of the least Reynolds number of friction, 2e4

_R = at.ROTATION * LANES
_V = (at.MID + 6) * LANES
_W = (at.MID + 9) * LANES
_F = at.FORCE * LANES
_FOIL = at.AT_WORK * LANES
_STRIP = at.STRIP_AT_WORK * LANES


@kernel
def turn(workspace: np.ndarray, angles: int, rotation: int) -> None:
    """Rotation matrix (body to earth, row by row) of the angles phi, theta, psi in three slots; rad."""
    a = row(angles)
    r = row(rotation)
    for lane in range(LANES):
        sin_phi, cos_phi = sine_cosine(workspace[a + lane])
        sin_theta, cos_theta = sine_cosine(workspace[a + LANES + lane])
        sin_psi, cos_psi = sine_cosine(workspace[a + 2 * LANES + lane])
        workspace[r + lane] = cos_psi * cos_theta
        workspace[r + LANES + lane] = cos_psi * sin_theta * sin_phi - sin_psi * cos_phi
        workspace[r + 2 * LANES + lane] = cos_psi * sin_theta * cos_phi + sin_psi * sin_phi
        workspace[r + 3 * LANES + lane] = sin_psi * cos_theta
        workspace[r + 4 * LANES + lane] = sin_psi * sin_theta * sin_phi + cos_psi * cos_phi
        workspace[r + 5 * LANES + lane] = sin_psi * sin_theta * cos_phi - cos_psi * sin_phi
        workspace[r + 6 * LANES + lane] = -sin_theta
        workspace[r + 7 * LANES + lane] = cos_theta * sin_phi
        workspace[r + 8 * LANES + lane] = cos_theta * cos_phi


@part
def point_depth(workspace: np.ndarray, lane: int, x: float, y: float, z: float) -> float:
    """Depth of a body point below the calm level (m) at the MID state."""
    return (
        workspace[(at.MID + 2) * LANES + lane]
        + workspace[_R + 6 * LANES + lane] * x
        + workspace[_R + 7 * LANES + lane] * y
        + workspace[_R + 8 * LANES + lane] * z
    )


@part
def relative_velocity(
    workspace: np.ndarray, lane: int, x: float, y: float, z: float, east: float, north: float, down: float
) -> tuple[float, float, float]:
    """Velocity of a body point through the water (m/s, body axes), given the water's own in earth axes."""
    p = workspace[_W + lane]
    q = workspace[_W + LANES + lane]
    r = workspace[_W + 2 * LANES + lane]
    u = workspace[_V + lane] + q * z - r * y
    v = workspace[_V + LANES + lane] + r * x - p * z
    w = workspace[_V + 2 * LANES + lane] + p * y - q * x
    u -= workspace[_R + lane] * east + workspace[_R + 3 * LANES + lane] * north + workspace[_R + 6 * LANES + lane] * down
    v -= (
        workspace[_R + LANES + lane] * east + workspace[_R + 4 * LANES + lane] * north + workspace[_R + 7 * LANES + lane] * down
    )
    w -= (
        workspace[_R + 2 * LANES + lane] * east
        + workspace[_R + 5 * LANES + lane] * north
        + workspace[_R + 8 * LANES + lane] * down
    )
    return u, v, w


@part
def add_force(workspace: np.ndarray, lane: int, x: float, y: float, z: float, fx: float, fy: float, fz: float) -> None:
    """Gather a force (N) that acts at a body point (m)."""
    workspace[_F + lane] += fx
    workspace[_F + LANES + lane] += fy
    workspace[_F + 2 * LANES + lane] += fz
    workspace[_F + 3 * LANES + lane] += y * fz - z * fy
    workspace[_F + 4 * LANES + lane] += z * fx - x * fz
    workspace[_F + 5 * LANES + lane] += x * fy - y * fx


@kernel
def start(workspace: np.ndarray) -> None:
    """Rotation of the MID state, empty force sums, the logarithm that friction needs."""
    turn(workspace, at.MID + 3, at.ROTATION)
    for slot in range(7):
        f = row(at.FORCE + slot)
        for lane in range(LANES):
            workspace[f + lane] = 0.0
    for lane in range(LANES):
        workspace[at.FRICTION_LOG * LANES + lane] = math.log10(max(workspace[_V + lane], 0.5))


@kernel
def copy_rows(workspace: np.ndarray, to: int, source: int, slots: int) -> None:
    """Copy neighbouring slots of all lanes."""
    for slot in range(slots):
        target = row(to + slot)
        origin = row(source + slot)
        for lane in range(LANES):
            workspace[target + lane] = workspace[origin + lane]


@kernel
def strip_downwash(workspace: np.ndarray, foil: int, strip: int, foils: int) -> None:
    """Downwash angle (rad) at a strip from the lagged lift of every other foil."""
    s = row(at.STRIP + strip * at.STRIP_STRIDE)
    for lane in range(LANES):
        workspace[s + at.STRIP_DOWNWASH * LANES + lane] = 0.0
    for other in range(foils):
        influence = row(at.STRIP + strip * at.STRIP_STRIDE + at.STRIP_INFLUENCE + other)
        lift = row(at.FOIL + foil * at.FOIL_STRIDE + at.DOWNWASH_MID + other)
        for lane in range(LANES):
            workspace[s + at.STRIP_DOWNWASH * LANES + lane] += workspace[influence + lane] * workspace[lift + lane]


@kernel
def strip_force(workspace: np.ndarray, density: float, lag_time: float, share: float) -> None:
    """Lift and drag of the strip at work; its lift lag moves on by lag_time (s).

    share: what the strip counts for in the foil's mean lift.
    """
    for lane in range(LANES):
        x = workspace[_STRIP + lane]
        y = workspace[_STRIP + LANES + lane]
        z = workspace[_STRIP + 2 * LANES + lane]
        normal_y = workspace[_STRIP + at.STRIP_NORMAL * LANES + lane]
        normal_z = workspace[_STRIP + (at.STRIP_NORMAL + 1) * LANES + lane]
        eta = workspace[_STRIP + at.STRIP_SEA * LANES + lane]
        u, v, w = relative_velocity(
            workspace,
            lane,
            x,
            y,
            z,
            workspace[_STRIP + (at.STRIP_SEA + 1) * LANES + lane],
            workspace[_STRIP + (at.STRIP_SEA + 2) * LANES + lane],
            workspace[_STRIP + (at.STRIP_SEA + 3) * LANES + lane],
        )
        u = max(u, LEAST_SPEED)
        w = v * normal_y + w * normal_z
        speed_squared = u * u + w * w
        speed = math.sqrt(speed_squared)
        angle = (
            arctangent(clip(w / u, -2.0, 2.0))
            + workspace[_FOIL + at.FIXED_ANGLE * LANES + lane]
            + workspace[_FOIL + at.FLAP * LANES + lane] * workspace[_FOIL + at.SERVO_MID * LANES + lane]
            - workspace[_STRIP + at.STRIP_DOWNWASH * LANES + lane]
        )
        lag = workspace[_STRIP + at.STRIP_LAG_MID * LANES + lane]
        lag_share = workspace[_FOIL + at.LAG_SHARE * LANES + lane]
        effective = (1.0 - lag_share) * angle + lag_share * lag
        fade = exp_negative(-lag_time * workspace[_FOIL + at.LAG_RATE * LANES + lane] * speed)
        workspace[_STRIP + at.STRIP_LAG_MID * LANES + lane] = (
            angle + (workspace[_STRIP + at.STRIP_LAG * LANES + lane] - angle) * fade
        )

        depth = point_depth(workspace, lane, x, y, z) + eta
        chord = workspace[_FOIL + at.CHORD * LANES + lane]
        span = workspace[_FOIL + at.SPAN * LANES + lane]
        aspect = workspace[_FOIL + at.ASPECT * LANES + lane]
        under = max(depth, 0.0)
        chords_deep = under / chord
        biplane = biplane_factor(2.0 * under / span)
        froude = froude_factor(chords_deep, aspect, speed_squared, under)
        slope = lift_slope(
            workspace[_FOIL + at.SECTION_SLOPE * LANES + lane], aspect, surface_factor(chords_deep), biplane, froude
        )
        lift, stalled, sine = lift_and_stall(slope, effective, workspace[_FOIL + at.LIFT_MAX * LANES + lane])
        lift *= workspace[_FOIL + at.LIFT_FACTOR * LANES + lane]
        slow = workspace[_FOIL + at.SPEED_LOW * LANES + lane]
        fast = workspace[_FOIL + at.SPEED_HIGH * LANES + lane]
        drag = drag_coefficient(
            lift,
            workspace[_FOIL + at.PROFILE * LANES + lane] / math.sqrt(clip(speed, slow, fast)),
            workspace[_FOIL + at.DRAG_RISE * LANES + lane],
            workspace[_FOIL + at.LEAST_DRAG * LANES + lane],
            biplane,
            aspect,
            stalled,
            sine,
        )
        wet = smoothstep(4.0 * depth / chord + 0.5)  # judgement: emerges over a quarter chord
        pressure_area = 0.5 * density * speed_squared * workspace[_FOIL + at.STRIP_AREA * LANES + lane] * wet
        weed = 0.5 * density * speed_squared * share * workspace[_FOIL + at.WEED_AREA * LANES + lane] * wet
        along = pressure_area * (lift * w - drag * u) / speed - weed
        across = -pressure_area * (lift * u + drag * w) / speed
        add_force(workspace, lane, x, y, z, along, across * normal_y, across * normal_z)

        tip = (
            point_depth(
                workspace,
                lane,
                x,
                workspace[_STRIP + at.STRIP_TIP * LANES + lane],
                workspace[_STRIP + (at.STRIP_TIP + 1) * LANES + lane],
            )
            + eta
        )
        shallowest = workspace[_FOIL + at.TIP_DEPTH * LANES + lane]
        workspace[_FOIL + at.TIP_DEPTH * LANES + lane] = tip if tip < shallowest else shallowest
        loaded = abs(effective)
        most = workspace[_FOIL + at.LOADED * LANES + lane]
        workspace[_FOIL + at.LOADED * LANES + lane] = loaded if loaded > most else most
        workspace[_FOIL + at.LIFT_MEAN * LANES + lane] += share * lift * wet
        workspace[_STRIP + at.STRIP_DEPTH * LANES + lane] = depth
        workspace[_STRIP + at.STRIP_LIFT * LANES + lane] = lift * wet


@kernel
def foil_forces(workspace: np.ndarray, foils: int, strips: int, density: float, lag_time: float) -> None:
    """All foils, each of `strips` strips; then their wakes travel aft for lag_time (s)."""
    for foil in range(foils):
        copy_rows(workspace, at.AT_WORK, at.FOIL + foil * at.FOIL_STRIDE, at.FIRST_RESULT)
        for lane in range(LANES):
            workspace[_FOIL + at.LIFT_MEAN * LANES + lane] = 0.0
            workspace[_FOIL + at.TIP_DEPTH * LANES + lane] = 1e9
            workspace[_FOIL + at.LOADED * LANES + lane] = 0.0
        for i in range(strips):
            strip = foil * strips + i
            strip_downwash(workspace, foil, strip, foils)
            strip_row = at.STRIP + strip * at.STRIP_STRIDE
            copy_rows(workspace, at.STRIP_AT_WORK, strip_row, at.STRIP_FIRST_RESULT + 1)
            strip_force(workspace, density, lag_time, 1.0 / strips)
            results = at.STRIP_AFTER_RESULT - at.STRIP_FIRST_RESULT
            copy_rows(workspace, strip_row + at.STRIP_FIRST_RESULT, at.STRIP_AT_WORK + at.STRIP_FIRST_RESULT, results)
        results = at.AFTER_RESULT - at.FIRST_RESULT
        copy_rows(workspace, at.FOIL + foil * at.FOIL_STRIDE + at.FIRST_RESULT, at.AT_WORK + at.FIRST_RESULT, results)
    for foil in range(foils):
        f = row(at.FOIL + foil * at.FOIL_STRIDE)
        for other in range(foils):
            o = row(at.FOIL + other * at.FOIL_STRIDE)
            before = row(at.FOIL + foil * at.FOIL_STRIDE + at.DOWNWASH + other)
            after = row(at.FOIL + foil * at.FOIL_STRIDE + at.DOWNWASH_MID + other)
            for lane in range(LANES):
                distance = workspace[o + at.FORE * LANES + lane] - workspace[f + at.FORE * LANES + lane]
                lift = workspace[o + at.LIFT_MEAN * LANES + lane]
                fade = exp_negative(-lag_time * max(workspace[_V + lane], LEAST_SPEED) / max(distance, 1e-3))
                workspace[after + lane] = lift + (workspace[before + lane] - lift) * fade


@kernel
def strut_forces(workspace: np.ndarray, struts: int, density: float) -> None:
    """Side force, friction, spray and junctions of every strut."""
    for strut in range(struts):
        s = row(at.STRUT + strut * at.STRUT_STRIDE)
        for lane in range(LANES):
            x = workspace[s + lane]
            y = workspace[s + LANES + lane]
            foot = workspace[s + 2 * LANES + lane]
            chord = workspace[s + at.STRUT_CHORD * LANES + lane]
            thickness = workspace[s + at.STRUT_THICKNESS * LANES + lane]
            depth = point_depth(workspace, lane, x, y, foot) + workspace[s + at.STRUT_SEA * LANES + lane]
            wet = clip(depth, 0.0, workspace[s + at.STRUT_LENGTH * LANES + lane])
            z = foot - 0.5 * wet
            u, v, _ = relative_velocity(
                workspace,
                lane,
                x,
                y,
                z,
                workspace[s + (at.STRUT_SEA + 1) * LANES + lane],
                workspace[s + (at.STRUT_SEA + 2) * LANES + lane],
                workspace[s + (at.STRUT_SEA + 3) * LANES + lane],
            )
            u = max(u, LEAST_SPEED)
            rudder = workspace[s + at.STRUT_STEERS * LANES + lane] * workspace[at.RUDDER_MID * LANES + lane]
            angle = clip(v / u + rudder, -1.0, 1.0)
            aspect = wet / chord
            air = workspace[s + at.STRUT_VENTILATED * LANES + lane]
            left = 1.0 - air * (1.0 - workspace[(at.STRUT_VENTILATION + 1) * LANES + lane])
            side = left * side_coefficient(helmbold_slope(aspect), angle)
            workspace[s + at.STRUT_ANGLE * LANES + lane] = abs(angle) if wet > 0.0 else 0.0
            log = max(
                workspace[s + at.STRUT_LOG * LANES + lane] + workspace[at.FRICTION_LOG * LANES + lane], LEAST_FRICTION_LOG
            )
            friction = friction_of_log(log)
            drag_area = (
                workspace[s + at.STRUT_FORM * LANES + lane] * friction * chord * wet
                + SPRAY * thickness * thickness * clip(wet / thickness, 0.0, 1.0)
                + chord * wet * side * side / (math.pi * (aspect + 0.1))
                + workspace[s + at.STRUT_JUNCTION * LANES + lane] * clip(wet / thickness, 0.0, 1.0)
            )
            pressure = 0.5 * density * (u * u + v * v)
            add_force(workspace, lane, x, y, z, -pressure * drag_area, -pressure * chord * wet * side, 0.0)


@kernel
def hull_wet(workspace: np.ndarray, stations: int) -> bool:
    """Keel depth of every station at the MID state; whether any lane is wet anywhere."""
    wettest = 0.0
    for station in range(stations):
        s = row(at.STATION + station * at.STATION_STRIDE)
        for lane in range(LANES):
            depth = (
                point_depth(workspace, lane, workspace[s + lane], workspace[s + LANES + lane], workspace[s + 2 * LANES + lane])
                + workspace[s + at.STATION_SEA * LANES + lane]
            )
            workspace[s + at.STATION_WET * LANES + lane] = depth
        for lane in range(LANES):
            wettest = max(wettest, workspace[s + at.STATION_WET * LANES + lane])
    return wettest > 0.0


@kernel
def hull_forces(workspace: np.ndarray, stations: int, density: float) -> None:
    """Buoyancy, impact, cross flow, side drag and friction of every station."""
    for station in range(stations):
        s = row(at.STATION + station * at.STATION_STRIDE)
        for lane in range(LANES):
            x = workspace[s + lane]
            y = workspace[s + LANES + lane]
            z = workspace[s + 2 * LANES + lane]
            beam = workspace[s + at.STATION_BEAM * LANES + lane]
            slope = workspace[s + at.STATION_SLOPE * LANES + lane]
            length = workspace[s + at.STATION_SLICE * LANES + lane]
            depth = clip(workspace[s + at.STATION_WET * LANES + lane], 0.0, workspace[s + at.STATION_DEPTH * LANES + lane])
            area, half_breadth, above_chine = wedge_area(depth, beam, slope)
            u, v, w = relative_velocity(
                workspace,
                lane,
                x,
                y,
                z,
                workspace[s + (at.STATION_SEA + 1) * LANES + lane],
                workspace[s + (at.STATION_SEA + 2) * LANES + lane],
                workspace[s + (at.STATION_SEA + 3) * LANES + lane],
            )
            up = buoyancy_per_length(density, area) * length
            up_x = workspace[_R + 6 * LANES + lane]
            up_y = workspace[_R + 7 * LANES + lane]
            up_z = workspace[_R + 8 * LANES + lane]
            add_force(workspace, lane, x, y, z - 0.6 * depth, -up * up_x, -up * up_y, -up * up_z)
            righting = density * GRAVITY * length * (2.0 / 3.0) * half_breadth * half_breadth * half_breadth
            workspace[_F + 3 * LANES + lane] -= righting * up_y
            normal = impact_per_length(density, depth, beam, slope, w) + cross_flow_per_length(density, half_breadth, w)
            log = max(
                workspace[s + at.STATION_LOG * LANES + lane] + workspace[at.FRICTION_LOG * LANES + lane], LEAST_FRICTION_LOG
            )
            friction = friction_of_log(log)
            girth = 2.0 * (depth - above_chine) / workspace[s + at.STATION_SINE * LANES + lane] + 2.0 * above_chine
            froude = abs(u) * workspace[s + at.STATION_FROUDE * LANES + lane]
            fx = -0.5 * density * friction * girth * length * abs(u) * u - math.copysign(hump_drag(froude) * up, u)
            fy = -0.5 * density * SIDE_DRAG * depth * length * abs(v) * v
            fz = -normal * length
            add_force(workspace, lane, x, y, z, fx, fy, fz)
            workspace[at.HULL_LIFT * LANES + lane] += up - (up_x * fx + up_y * fy + up_z * fz)


@part
def propeller_share(workspace: np.ndarray, lane: int) -> float:
    """Share of its thrust that a propeller keeps: it sucks air as its hub comes within a radius of the surface (judgement)."""
    hub = point_depth(
        workspace,
        lane,
        workspace[at.THRUST_X * LANES + lane],
        workspace[at.THRUST_Y * LANES + lane],
        workspace[at.THRUST_Z * LANES + lane],
    )
    depth = hub + workspace[at.PROPELLER_SEA * LANES + lane]
    return clip(depth / workspace[at.PROPELLER_RADIUS * LANES + lane], 0.0, 1.0)


@kernel
def wind_and_payload(workspace: np.ndarray) -> None:
    """Air drag of the craft above the water, and the weight of a payload that was not there when it was measured."""
    for lane in range(LANES):
        u = workspace[_V + lane]
        v = workspace[_V + LANES + lane]
        over_x = workspace[at.WIND * LANES + lane]
        over_y = workspace[(at.WIND + 1) * LANES + lane]
        air_x = workspace[_R + lane] * over_x + workspace[_R + 3 * LANES + lane] * over_y - u
        air_y = workspace[_R + LANES + lane] * over_x + workspace[_R + 4 * LANES + lane] * over_y - v
        drag = 0.5 * AIR_DENSITY * workspace[at.WINDAGE * LANES + lane] * math.sqrt(air_x * air_x + air_y * air_y)
        x = workspace[(at.WINDAGE + 1) * LANES + lane]
        z = workspace[(at.WINDAGE + 2) * LANES + lane]
        add_force(workspace, lane, x, 0.0, z, drag * air_x, drag * air_y, 0.0)
        weight = GRAVITY * workspace[at.PAYLOAD * LANES + lane]
        x = workspace[(at.PAYLOAD + 1) * LANES + lane] - workspace[at.CENTRE_X * LANES + lane]
        y = workspace[(at.PAYLOAD + 2) * LANES + lane] - workspace[at.CENTRE_Y * LANES + lane]
        fx = weight * workspace[_R + 6 * LANES + lane]
        fy = weight * workspace[_R + 7 * LANES + lane]
        fz = weight * workspace[_R + 8 * LANES + lane]
        add_force(workspace, lane, x, y, 0.0, fx, fy, fz)


@kernel
def accelerate(workspace: np.ndarray) -> None:
    """Thrust, weight and the turning body's own momentum; then RATE: the derivatives of all twelve states."""
    for lane in range(LANES):
        u = workspace[_V + lane]
        v = workspace[_V + LANES + lane]
        w = workspace[_V + 2 * LANES + lane]
        p = workspace[_W + lane]
        q = workspace[_W + LANES + lane]
        r = workspace[_W + 2 * LANES + lane]
        mass = workspace[at.MASS * LANES + lane]
        weight = mass * GRAVITY
        thrust = (
            workspace[at.STATIC_THRUST * LANES + lane]
            * workspace[at.THRUST_MID * LANES + lane]
            * (1.0 - u / workspace[at.NO_THRUST_SPEED * LANES + lane])
            * propeller_share(workspace, lane)
        )
        workspace[at.POWER * LANES + lane] = (
            ideal_power(thrust, u, workspace[at.DISC * LANES + lane]) / workspace[at.EFFICIENCY * LANES + lane]
            + workspace[at.ELECTRONICS * LANES + lane]
        )
        ixx = workspace[at.INERTIA * LANES + lane]
        iyy = workspace[(at.INERTIA + 1) * LANES + lane]
        izz = workspace[(at.INERTIA + 2) * LANES + lane]
        ixy = workspace[(at.INERTIA + 3) * LANES + lane]
        ixz = workspace[(at.INERTIA + 4) * LANES + lane]
        iyz = workspace[(at.INERTIA + 5) * LANES + lane]
        hx = ixx * p + ixy * q + ixz * r
        hy = ixy * p + iyy * q + iyz * r
        hz = ixz * p + iyz * q + izz * r
        workspace[_F + lane] += thrust + weight * workspace[_R + 6 * LANES + lane] - mass * (q * w - r * v)
        workspace[_F + LANES + lane] += weight * workspace[_R + 7 * LANES + lane] - mass * (r * u - p * w)
        workspace[_F + 2 * LANES + lane] += weight * workspace[_R + 8 * LANES + lane] - mass * (p * v - q * u)
        workspace[_F + 3 * LANES + lane] -= q * hz - r * hy
        workspace[_F + 4 * LANES + lane] += workspace[at.THRUST_Z * LANES + lane] * thrust - (r * hx - p * hz)
        workspace[_F + 5 * LANES + lane] -= workspace[at.THRUST_Y * LANES + lane] * thrust + p * hy - q * hx
    for i in range(6):
        rate = row(at.RATE + 6 + i)
        inverse = row(at.INVERSE + 6 * i)
        for lane in range(LANES):
            workspace[rate + lane] = (
                workspace[inverse + lane] * workspace[_F + lane]
                + workspace[inverse + LANES + lane] * workspace[_F + LANES + lane]
                + workspace[inverse + 2 * LANES + lane] * workspace[_F + 2 * LANES + lane]
                + workspace[inverse + 3 * LANES + lane] * workspace[_F + 3 * LANES + lane]
                + workspace[inverse + 4 * LANES + lane] * workspace[_F + 4 * LANES + lane]
                + workspace[inverse + 5 * LANES + lane] * workspace[_F + 5 * LANES + lane]
            )
    kinematics(workspace, at.MID, at.ROTATION)


@kernel
def kinematics(workspace: np.ndarray, state: int, rotation: int) -> None:
    """RATE of position (earth, m/s) and Euler angles (rad/s) of a state."""
    m = row(state)
    r = row(rotation)
    out = row(at.RATE)
    for lane in range(LANES):
        u = workspace[m + 6 * LANES + lane]
        v = workspace[m + 7 * LANES + lane]
        w = workspace[m + 8 * LANES + lane]
        p = workspace[m + 9 * LANES + lane]
        q = workspace[m + 10 * LANES + lane]
        yaw = workspace[m + 11 * LANES + lane]
        workspace[out + lane] = workspace[r + lane] * u + workspace[r + LANES + lane] * v + workspace[r + 2 * LANES + lane] * w
        workspace[out + LANES + lane] = (
            workspace[r + 3 * LANES + lane] * u + workspace[r + 4 * LANES + lane] * v + workspace[r + 5 * LANES + lane] * w
        )
        workspace[out + 2 * LANES + lane] = (
            workspace[r + 6 * LANES + lane] * u + workspace[r + 7 * LANES + lane] * v + workspace[r + 8 * LANES + lane] * w
        )
        sin_phi, cos_phi = sine_cosine(workspace[m + 3 * LANES + lane])
        sin_theta = -workspace[r + 6 * LANES + lane]
        cos_theta = math.sqrt(max(1.0 - sin_theta * sin_theta, 1e-6))
        turning = (q * sin_phi + yaw * cos_phi) / cos_theta
        workspace[out + 3 * LANES + lane] = p + turning * sin_theta
        workspace[out + 4 * LANES + lane] = q * cos_phi - yaw * sin_phi
        workspace[out + 5 * LANES + lane] = turning


@kernel
def evaluate(workspace: np.ndarray, counts: np.ndarray, density: float, lag_time: float) -> None:
    """Accelerations at the MID state; lags move on by lag_time (s).

    counts: foils, strips a foil, struts, stations.
    """
    start(workspace)
    foil_forces(workspace, counts[0], counts[1], density, lag_time)
    strut_forces(workspace, counts[2], density)
    if hull_wet(workspace, counts[3]):
        hull_forces(workspace, counts[3], density)
    wind_and_payload(workspace)
    accelerate(workspace)

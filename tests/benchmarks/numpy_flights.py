"""What the kernel is measured against: the second model's equations in batched NumPy, many designs at once, points too.

Open loop, without sensors, servos and control code, which a user would have to write too. Arrays are (points, designs).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import pi
from typing import NamedTuple

import numpy as np

from tests.second.loads import jones
from tests.second.sea import GRAVITY, Sea, ramp
from tests.second.second_model import ROUGHNESS, WIND_HEIGHT, SecondModel, Trim, to_body
from tests.second.trailing import NODES

Array = np.ndarray
LEAST_SPEED = 0.1
STARTS, STEPS = np.array(NODES[:-1]), np.diff(NODES)


class Water(NamedTuple):
    """At every point: elevation m, and velocity of the water, earth axes, m/s, of those points that have one."""

    elevation: Array
    velocity: Array


class Craft:
    """Numbers of designs of one build: a craft without dihedral, rudder turns and curves of a propeller."""

    def __init__(self, models: Sequence[SecondModel], trims: Sequence[Trim]) -> None:
        self.models, self.count, first = models, len(models), models[0]
        self.water, self.strips, self.struts = first.water, len(first.strips), len(first.struts)
        hubs = [to_body(np.array([m.craft.propulsor.x, 0.0, m.craft.propulsor.height]), m.mass.centre) for m in models]
        places = [
            [*(s.place for s in m.strips), *(s.foot for s in m.struts), *(s.keel for s in m.stations), hub]
            for m, hub in zip(models, hubs, strict=True)
        ]
        self.places = np.ascontiguousarray(np.array(places).transpose(2, 1, 0))  # (3, points, designs)
        foil_of = [strip.foil for strip in first.strips]

        def each(of: str) -> Array:
            return np.array([[getattr(m.foils[f], of) for m in models] for f in foil_of])

        self.foil_of, self.foil_area = np.array(foil_of), each("area")
        self.chord, self.span = each("chord"), each("span_length")
        self.area = np.array([[s.area for s in m.strips] for m in models]).T
        self.zero = each("zero_lift_angle") - each("incidence")
        self.aspect = self.span / self.chord
        self.jones = np.array([[jones(value) for value in row] for row in self.aspect]).transpose(2, 0, 1)
        self.section = first.foils[0].section
        of_foil = [[s for s, foil in enumerate(foil_of) if foil == pair.behind] for pair in first.pairs]
        self.wakes = np.zeros((2, len(first.pairs), self.strips, len(NODES), self.count))
        for design, model in enumerate(models):
            for p, pair in enumerate(model.pairs):
                self.wakes[0, p, of_foil[p], :, design] = pair.sheet
                self.wakes[1, p, of_foil[p], :, design] = pair.rolled
        self.rolling = np.array([[pair.rolling for pair in m.pairs] for m in models]).T
        self.sinks = np.array([[pair.sinks for pair in m.pairs] for m in models]).T.swapaxes(0, 1).copy()
        self.middles = np.array([[middle(m, pair.ahead) for pair in m.pairs] for m in models]).T  # (3, pairs, designs)
        self.half_span = np.array([[0.5 * m.foils[pair.ahead].span_length for pair in m.pairs] for m in models]).T
        self.pairs = first.pairs
        self.ahead = np.array([pair.ahead for pair in first.pairs])
        self.distance = np.array([[pair.distance for pair in m.pairs] for m in models]).T
        self.mass = np.array([m.mass.mass for m in models])
        self.inertia = np.array([m.mass.inertia for m in models])
        self.inverse = np.linalg.inv(np.array([m.inertia for m in models]))
        self.height = np.array([m.craft.struts.height for m in models])
        self.foil_angles = np.array([trim.foil_angles for trim in trims]).T
        self.throttle = np.array([trim.throttle for trim in trims])
        self.start = np.array([trim.state.vector() for trim in trims]).T


def middle(model: SecondModel, foil: int) -> Array:
    """Place of a foil's middle, body axes (3,)."""
    found = model.foils[foil]
    return to_body(np.array([found.x, found.y, -model.craft.struts.height]), model.mass.centre)


def downwash_angles(craft: Craft, row: Array, lifts: Array) -> Array:
    """Downwash angle at every strip (strips, designs) of every wake and its image; lifts: (pairs, designs), lagged."""
    down = rotation(row[3:6])[2]
    rolled = np.minimum(np.abs(lifts) * craft.rolling, 1.0)
    sunk = lifts * ((1.0 - rolled) * craft.sinks[:, 0] + rolled * craft.sinks[:, 1])
    wake = row[2] + np.einsum("jl,jpl->pl", down, craft.middles) + sunk
    depth = row[2] + np.einsum("jl,jsl->sl", down, craft.places[:, : craft.strips])
    table = (1.0 - rolled)[:, None, None] * craft.wakes[0] + rolled[:, None, None] * craft.wakes[1]
    total = np.zeros_like(depth)
    for image in (-1.0, 1.0):
        apart = np.abs(depth[None] + image * wake[:, None]) / craft.half_span[:, None]  # (pairs, strips, designs)
        gone = np.clip((apart[:, :, None] - STARTS[:, None]) / STEPS[:, None], 0.0, 1.0)
        influence = table[:, :, 0] + (gone * np.diff(table, axis=2)).sum(axis=2)
        total += (lifts[:, None] * influence).sum(axis=0)
    return total


def rotation(angles: Array) -> Array:
    """Body to earth, (3, 3, designs)."""
    (sp, st, sy), (cp, ct, cy) = np.sin(angles), np.cos(angles)
    return np.array(
        [
            [cy * ct, cy * st * sp - sy * cp, cy * st * cp + sy * sp],
            [sy * ct, sy * st * sp + cy * cp, sy * st * cp - cy * sp],
            [-st, ct * sp, ct * cp],
        ]
    )


def sample(craft: Craft, sea: Sea, time: float, row: Array) -> Water:
    """The sea at every point of every design."""
    earth = row[0:3, None] + np.einsum("ijl,jpl->ipl", rotation(row[3:6]), craft.places)
    shape, wet, moving = earth.shape[1:], craft.strips + craft.struts, earth.shape[1] - 1
    phase = sea.kx[:, None, None] * earth[0] + sea.ky[:, None, None] * earth[1] + (sea.phase - sea.omega * time)[:, None, None]
    cosine, sine = np.cos(phase), np.sin(phase)
    size, count = ramp(sea, time), len(sea.amplitude)
    elevation = (size * sea.amplitude @ cosine.reshape(count, -1)).reshape(shape)
    share = np.concatenate([np.ones(craft.strips), np.full(craft.struts, 0.5)])[:, None]
    depth = np.maximum(share * (earth[2] + elevation)[:wet], 0.0)
    k = np.hypot(sea.kx, sea.ky)
    below = np.exp(-k[:, None, None] * depth)
    mirror = np.exp(-2.0 * k * craft.water.depth)
    shallow = mirror[:, None, None] / below
    cosine, sine = cosine[:, :moving], sine[:, :moving]
    cosine[:, :wet] *= below + shallow
    sine[:, :wet] *= below - shallow
    cosine[:, wet:] *= (1.0 + mirror)[:, None, None]
    sine[:, wet:] *= (1.0 - mirror)[:, None, None]
    speed = size * sea.amplitude * sea.omega / (1.0 - mirror)
    along, up = cosine.reshape(count, -1), sine.reshape(count, -1)
    velocity = np.array([speed * sea.kx / k @ along, speed * sea.ky / k @ along, -(speed @ up)])
    return Water(elevation, velocity.reshape(3, moving, -1))


def smoothstep(share: Array) -> Array:
    """As the second model's."""
    s = np.clip(share, 0.0, 1.0)
    return s * s * (3.0 - 2.0 * s)


def strip_loads(craft: Craft, row: Array, flow: Array, depth: Array, lag: Array, downwash: Array) -> tuple[Array, Array, Array]:
    """Forces of the strips (3, strips, designs), lift coefficient x wetted share, rate of the lift lag."""
    ahead, down = np.maximum(flow[0], LEAST_SPEED), flow[2]
    leaning = downwash_angles(craft, row, downwash)
    turned = craft.foil_angles[craft.foil_of] - leaning
    angle = np.arctan(np.clip(down / ahead, -2.0, 2.0)) + turned - craft.zero
    squared = ahead**2 + down**2
    speed = np.sqrt(squared)
    share, rate = craft.jones
    effective = (1.0 - share) * angle + share * lag
    wet, section = np.maximum(depth, 0.0), craft.section
    x, g = wet / craft.chord, 2.0 * wet / craft.span
    top = x * (0.65084893 + 0.99820827 * x)
    flat = section.lift_slope * (1.0 - 1.0 / (2.0 + 16.0 * x * x + top / (0.0954397 + 0.62514104 * x + x * x)))
    image = 1.0 + (1.0 + 2.65695246 * g) / (1.0 + 8.60600425 * g + 8.36354637 * g * g + 22.07401236 * g * g * g)
    froude = np.maximum(squared / (GRAVITY * wet + 1e-9), 4.0)
    finite = np.maximum(1.0 - craft.aspect / 4.0 / ((0.33 + 2.3 * x * x) * (froude + 2.56)), 0.5)
    y = flat / (pi * craft.aspect)
    slope = finite * flat / (np.sqrt(1.0 + y * y) + y * image)
    most = section.lift_max
    straight = slope * effective
    ratio = (straight / most) ** 2
    attached = straight / np.sqrt(np.sqrt(1.0 + ratio * ratio))
    stalled = smoothstep((np.abs(effective) - 1.3 * most / slope) / 0.14)
    sine = np.clip(effective - effective * effective * effective / 6.0, -1.0, 1.0)
    lift = (1.0 - stalled) * attached + stalled * 1.8 * sine * np.sqrt(1.0 - sine * sine)
    off = lift - section.lift_of_least_drag
    reynolds = np.clip(np.clip(row[6], 0.5, 50.0) * craft.chord / craft.water.viscosity, 3e4, 1e6)
    drag = section.drag_min * np.sqrt(section.reynolds / reynolds) + section.drag_rise * off * off
    drag = drag + lift * lift * image / (pi * craft.aspect * 0.95) + 2.0 * stalled * sine * sine
    wetted = smoothstep(depth / (0.25 * craft.chord) + 0.5)
    scale = 0.5 * craft.water.density * speed * craft.area * wetted
    way = np.clip(flow[0] / LEAST_SPEED, -1.0, 1.0)
    force = scale * np.array(
        [lift * (down - leaning * ahead) - way * drag * ahead, np.zeros_like(lift), -(lift * ahead + drag * down)]
    )
    return force, lift * wetted, 2.0 * rate * speed / craft.chord * (angle - lag)


def friction(reynolds: Array) -> Array:
    """The ITTC-57 line."""
    return np.asarray(0.075 / (np.log10(np.maximum(reynolds, 2e4)) - 2.0) ** 2)


def strut_loads(craft: Craft, row: Array, flow: Array, wetted: Array) -> Array:
    """Forces of the struts (3, struts, designs)."""
    struts = craft.models[0].craft.struts
    chord, thickness = struts.chord, struts.thickness
    ahead, side = np.maximum(flow[0], LEAST_SPEED), flow[1]
    aspect, ratio = wetted / chord, thickness / chord
    straight = 2.0 * pi * aspect / (2.0 + np.sqrt(aspect * aspect + 4.0)) * np.clip(side / ahead, -1.0, 1.0)
    squared = (straight / 0.9) ** 2
    lift = straight / np.sqrt(np.sqrt(1.0 + squared * squared))
    skin = 2.0 * friction(np.maximum(row[6], 0.5) * chord / craft.water.viscosity) * (1.0 + 2.0 * ratio + 60.0 * ratio**4)
    in_water = np.minimum(wetted / thickness, 1.0)
    junction = max(17.0 * ratio**2 * thickness**2 - 0.05 * thickness**2, 0.0) * in_water
    induced = chord * wetted * lift * lift / (pi * (aspect + 0.1))
    pressure = 0.5 * craft.water.density * (ahead * ahead + side * side)
    drag_area = skin * chord * wetted + 0.24 * thickness**2 * in_water + induced + 2.0 * junction
    way = np.clip(flow[0] / LEAST_SPEED, -1.0, 1.0)
    return np.array([-way * pressure * drag_area, -pressure * chord * wetted * lift, np.zeros_like(lift)])


def hull_loads(craft: Craft, row: Array, flow: Array, depth: Array, up: Array) -> tuple[Array, Array, Array]:
    """Buoyancy and force of the flow (3, stations, designs), and the righting moment (designs,)."""
    hull, station, density = craft.models[0].stations[0].hull, craft.models[0].stations[0].length, craft.water.density
    immersion = np.clip(depth, 0.0, hull.depth)
    tangent = np.tan(hull.deadrise)
    chine = hull.beam / 2.0 * tangent
    vee, wall = np.minimum(immersion, chine), np.maximum(immersion - chine, 0.0)
    half = vee / tangent
    area, girth = half * vee + hull.beam * wall, 2.0 * vee / np.sin(hull.deadrise) + 2.0 * wall
    ahead, side, into = flow
    fading = np.clip(3.0 - 2.0 * immersion / chine, 0.0, 1.0)
    impact = density * pi * vee / tangent**2 * np.maximum(into, 0.0) ** 2 * station * fading
    cross = 0.5 * density * half * station * np.abs(into) * into
    sideways = 0.5 * density * immersion * station * np.abs(side) * side
    skin = friction(np.maximum(row[6], 0.5) * hull.length / craft.water.viscosity)
    froude = np.abs(ahead) / np.sqrt(GRAVITY * hull.length)
    hump = 0.12 / (1.0 + (4.0 * (froude - 0.5)) ** 2) ** 2 * np.minimum(froude / 0.3, 1.0) ** 4
    drag = 0.5 * density * skin * girth * station * np.abs(ahead) * ahead
    drag = drag + np.sign(ahead) * hump * density * GRAVITY * area * station
    righting = (density * GRAVITY * station * 2.0 / 3.0 * half * half * half * up[1]).sum(axis=0)
    return density * GRAVITY * station * area * up[:, None], -np.array([drag, sideways, impact + cross]), righting


def cross(a: Array, b: Array) -> Array:
    """Vectors along the first axis."""
    return np.array([a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]])


def rate(craft: Craft, water: Water, wind: tuple[float, float], row: Array) -> Array:
    """Rate of the state in the sea that was sampled: rows as the second model's, (states, designs)."""
    n, m = craft.strips, craft.strips + craft.struts
    turn, velocity, rates = rotation(row[3:6]), row[6:9], row[9:12]
    lag, downwash, thrust = row[12 : 12 + n], row[12 + n : -3], row[-3]
    depth = row[2] + np.einsum("jl,jpl->pl", turn[2], craft.places) + water.elevation
    still = np.einsum("jil,jpl->ipl", turn, water.velocity)
    wetted = np.clip(depth[n:m], 0.0, craft.height)
    places = craft.places.copy()
    places[2, n:m] -= wetted / 2.0
    flow = velocity[:, None] + cross(rates[:, None], places[:, :-1]) - still
    strips, lift, lag_rate = strip_loads(craft, row, flow[:, :n], depth[:n], lag, downwash)
    up = -turn[2]
    buoyancy, stations, righting = hull_loads(craft, row, flow[:, m:], depth[m:-1], up)
    propulsor = craft.models[0].craft.propulsor
    push = propulsor.static_thrust * thrust * (1.0 - row[6] / propulsor.no_thrust_speed)
    push = push * np.clip(depth[-1] / (propulsor.diameter / 2.0), 0.0, 1.0)
    hub = np.zeros((3, 1, craft.count))
    hub[0, 0] = push
    forces = np.concatenate([strips, strut_loads(craft, row, flow[:, n:m], wetted), stations, hub], axis=1)
    raised = places[:, m:-1].copy()
    raised[2] -= 0.6 * np.clip(depth[m:-1], 0.0, craft.models[0].stations[0].hull.depth)
    air, at = wind_load(craft, turn, velocity, wind)
    force = forces.sum(axis=1) + buoyancy.sum(axis=1) + air - craft.mass * GRAVITY * up - craft.mass * cross(rates, velocity)
    moment = cross(places, forces).sum(axis=1) + cross(raised, buoyancy).sum(axis=1) + cross(at, air)
    moment[0] += righting
    moment -= cross(rates, np.einsum("lij,jl->il", craft.inertia, rates))
    acceleration = np.einsum("lij,jl->il", craft.inverse, np.concatenate([force, moment]))
    by_foil = np.array([(lift * craft.area / craft.foil_area)[craft.foil_of == foil].sum(axis=0) for foil in range(3)])
    downwash_rate = (by_foil[craft.ahead] - downwash) * np.maximum(row[6], LEAST_SPEED) / craft.distance
    (phi, theta, _), (p, q, r) = row[3:6], rates
    turning = q * np.sin(phi) + r * np.cos(phi)
    angles = np.array([p + turning * np.tan(theta), q * np.cos(phi) - r * np.sin(phi), turning / np.cos(theta)])
    drive = np.array([(craft.throttle - thrust) / propulsor.lag, -row[-2] / propulsor.lag, np.zeros(craft.count)])
    position = np.einsum("ijl,jl->il", turn, velocity)
    return np.concatenate([position, angles, acceleration, lag_rate, downwash_rate, drive])


def wind_load(craft: Craft, turn: Array, velocity: Array, wind: tuple[float, float]) -> tuple[Array, Array]:
    """Force of the air and where it acts, (3, designs)."""
    first = craft.models[0].craft
    windage = first.windage
    aloft = np.log((first.control.ride_height + windage.height) / ROUGHNESS) / np.log(WIND_HEIGHT / ROUGHNESS)
    felt = np.einsum("jil,j->il", turn, np.array([*wind, 0.0])) * aloft - velocity
    felt[2] = 0.0
    centre = np.array([m.mass.centre for m in craft.models]).T
    at = np.array([windage.x - centre[0], np.zeros(craft.count), centre[2] - windage.height])
    return 0.5 * 1.225 * windage.area * np.sqrt(felt[0] ** 2 + felt[1] ** 2) * felt, at


def fly(craft: Craft, sea: Sea, length: float, step: float) -> Array:
    """The explicit midpoint rule, as the kernel has it; the last states."""
    row = craft.start.copy()
    for n in range(round(length / step)):
        middle = row + 0.5 * step * rate(craft, sample(craft, sea, n * step, row), sea.wind, row)
        row = row + step * rate(craft, sample(craft, sea, (n + 0.5) * step, middle), sea.wind, middle)
    return row


def fly_sparing(craft: Craft, sea: Sea, length: float, step: float) -> Array:
    """The same with one sampling of the sea for two steps, the kernel's economy."""
    row = craft.start.copy()
    for n in range(round(length / step)):
        if n % 2 == 0:
            drift = row.copy()
            drift[:3] += step * np.einsum("ijl,jl->il", rotation(row[3:6]), row[6:9])
            water = sample(craft, sea, (n + 1) * step, drift)
        middle = row + 0.5 * step * rate(craft, water, sea.wind, row)
        row = row + step * rate(craft, water, sea.wind, middle)
    return row

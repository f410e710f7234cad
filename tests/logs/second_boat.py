"""Forces on the courier with other numbers, by formulas of the second model: many days side by side, in numpy.

The kernels have no part in it; `test_second_boat` holds it against the second model. Waves come from straight ahead or
astern, so that nothing rolls or yaws, and the two foils ahead are one. Arrays are (days,) or (days, foils), ahead and aft.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from sweep.campaign.craft import Craft
from tests.logs.foreign import equal_lines
from tests.second.courier import FRESH
from tests.second.loads import LEAST_SPEED, biplane_factor, friction, jones, station_area, surface_lift_factor
from tests.second.parts import Pair
from tests.second.sea import GRAVITY, wave_number
from tests.second.second_model import build
from tests.second.sections import reynolds_of, section_at
from tests.second.trailing import NODES

SETTLE = 15.0
"""s before a log begins: the sea grows over the first third."""


class Waves(NamedTuple):
    """Amplitude m, frequency rad/s, wave number along the craft's way 1/m, phase rad: (days, lines)."""

    amplitude: np.ndarray
    omega: np.ndarray
    along: np.ndarray
    phase: np.ndarray

    def surface(self, x: np.ndarray, time: float) -> np.ndarray:
        """Elevation, m, at places (days, points) along the way."""
        phase = self.along[:, None] * x[:, :, None] - (self.omega * time - self.phase)[:, None]
        return np.einsum("dl,dpl->dp", ramp(time) * self.amplitude, np.cos(phase))

    def flow(self, x: np.ndarray, depth: np.ndarray, time: float) -> tuple[np.ndarray, np.ndarray]:
        """Velocity of the water along the way and down, m/s, at places and depths (days, points)."""
        phase = self.along[:, None] * x[:, :, None] - (self.omega * time - self.phase)[:, None]
        number = np.abs(self.along)[:, None]
        deep = np.maximum(depth, 0.0)[:, :, None]
        below, mirrored = np.exp(-number * deep), np.exp(number * (deep - 2.0 * FRESH.depth))
        size = (ramp(time) * self.amplitude * self.omega)[:, None] / (1.0 - np.exp(-2.0 * number * FRESH.depth))
        ahead = (size * (below + mirrored) * np.cos(phase) * np.sign(self.along)[:, None]).sum(axis=2)
        return ahead, -(size * (below - mirrored) * np.sin(phase)).sum(axis=2)


def ramp(time: float) -> float:
    """Share of the full sea."""
    share = min(max(time / (0.3 * SETTLE), 0.0), 1.0)
    return share * share * (3.0 - 2.0 * share)


def waves_of(height: float, period: float, days: Sequence[int], way: int, heading: float, lines: int = 192) -> Waves:
    """Gaussian seas of lines of equal energy of a JONSWAP spectrum, a draw a day. heading: rad, pi against the craft."""
    omega = 2.0 * np.pi * equal_lines(lines) / period
    number = np.array([wave_number(each, FRESH.depth) for each in omega]) * np.cos(heading)
    draws = [np.random.default_rng([51, day, way]) for day in days]
    amplitude = np.array([height / 4.0 * np.sqrt(draw.exponential(2.0, lines) / lines) for draw in draws])
    phase = np.array([draw.uniform(0.0, 2.0 * np.pi, lines) for draw in draws])
    return Waves(amplitude, np.tile(omega, (len(days), 1)), np.tile(number, (len(days), 1)), phase)


class State(NamedTuple):
    """Place m (Z down), pitch rad, velocity m/s and rate rad/s in body axes, thrust 0 ... 1.

    lag: of the lift, (days, foils); wake: its mean lift coefficient, (days,).
    """

    x: np.ndarray
    z: np.ndarray
    pitch: np.ndarray
    u: np.ndarray
    w: np.ndarray
    q: np.ndarray
    thrust: np.ndarray
    lag: np.ndarray
    wake: np.ndarray


class Points(NamedTuple):
    """Of the craft: places in body axes, m, (days, points, 3); where the water is felt: along the way, and how deep, m."""

    places: np.ndarray
    x: np.ndarray
    depth: np.ndarray


class Rates(NamedTuple):
    """Accelerations (days, 3) of u, w, q; where the lags of lift and wake go, and how fast, 1/s."""

    acceleration: np.ndarray
    lag_goal: np.ndarray
    lag_rate: np.ndarray
    wake_goal: np.ndarray
    wake_rate: np.ndarray


class Boats:
    """The crafts of the days: their numbers are their own, their shape is the courier's."""

    def __init__(self, crafts: Sequence[Craft], speed: float) -> None:
        models = [build(craft, FRESH) for craft in crafts]
        self.model, self.crafts, self.speed = models[0], crafts, speed
        keep = np.ix_([0, 2, 4], [0, 2, 4])
        self.inertia = np.array([model.inertia[keep] for model in models])
        self.foils = [self.model.foils[0], self.model.foils[2]]
        sections = [[section_at(m.craft, m.foils[i], reynolds_of(m.foils[i], FRESH, speed)) for i in (0, 2)] for m in models]
        self.slope, self.least, self.rise, self.best, self.most, self.zero = (
            np.array([[getattr(each, name) for each in row] for row in sections])
            for name in ("lift_slope", "drag_least", "drag_rise", "lift_of_least_drag", "lift_max", "zero_lift_angle")
        )
        of_aft = [strip for strip in self.model.strips if strip.foil == 2]
        assert len(of_aft) == 2  # a half each, alike
        self.places = np.array([self.model.strips[0].place, of_aft[0].place])
        self.areas = np.array([2.0 * self.foils[0].area, self.foils[1].area])
        self.pairs = [pair for pair in self.model.pairs if pair.behind == 2]

    def rates(self, waves: Waves, time: float, now: State, angles: np.ndarray) -> Rates:
        """angles: of the foils, rad, (days, 2)."""
        model = self.model
        force, goal, rate, lift = self._foils(waves, time, now, angles)
        force += self._struts(waves, time, now) + self._hull(waves, time, now) + self._rest(waves, time, now)
        mass = model.mass.mass
        force += mass * np.column_stack([-now.q * now.w, now.q * now.u, np.zeros_like(now.u)])
        weight = mass * GRAVITY
        force[:, 0] -= weight * np.sin(now.pitch)
        force[:, 1] += weight * np.cos(now.pitch)
        found = np.linalg.solve(self.inertia, force[:, :, None])[:, :, 0]
        return Rates(found, goal, rate, lift[:, 0], np.maximum(now.u, LEAST_SPEED) / self.pairs[0].distance)

    def earth(self, now: State, places: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """X and Z (days, points) of body points (points, 3)."""
        sine, cosine = np.sin(now.pitch)[:, None], np.cos(now.pitch)[:, None]
        forward, down = places[:, 0], places[:, 2]
        return now.x[:, None] + cosine * forward + sine * down, now.z[:, None] - sine * forward + cosine * down

    def through(self, waves: Waves, time: float, now: State, points: Points) -> tuple[np.ndarray, np.ndarray]:
        """Velocity of points through the water, body axes: ahead and down, (days, points)."""
        places = points.places
        sine, cosine = np.sin(now.pitch)[:, None], np.cos(now.pitch)[:, None]
        ahead, down = waves.flow(points.x, points.depth, time)
        u = now.u[:, None] + now.q[:, None] * places[..., 2] - (cosine * ahead - sine * down)
        w = now.w[:, None] - now.q[:, None] * places[..., 0] - (sine * ahead + cosine * down)
        return u, w

    def _foils(
        self, waves: Waves, time: float, now: State, angles: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        x, z = self.earth(now, self.places)
        depth = z + waves.surface(x, time)
        u, w = self.through(waves, time, now, Points(np.broadcast_to(self.places, (len(now.u), 2, 3)), x, depth))
        ahead = np.maximum(u, LEAST_SPEED)
        speed = np.hypot(ahead, w)
        downwash = np.column_stack([np.zeros_like(now.u), self._downwash(now, z)])
        incidence, chord = np.array([foil.incidence for foil in self.foils]), np.array([foil.chord for foil in self.foils])
        aspect = np.array([foil.span_length / foil.chord for foil in self.foils])
        angle = np.arctan(np.clip(w / ahead, -2.0, 2.0)) + incidence + angles - downwash - self.zero
        share, quick = np.array([jones(each) for each in aspect]).T
        effective = (1.0 - share) * angle + share * now.lag
        wet = np.maximum(depth, 0.0)
        span = aspect * chord
        lift, stalled = self._lift(self._slope(wet, speed**2, chord, aspect, span), effective)
        image = 1.0 + biplane_factor(2.0 * wet / span)
        drag = self.least + self.rise * (lift - self.best) ** 2 + lift**2 * image / (np.pi * aspect * 0.95) + stalled
        wetted = smooth(depth / (0.25 * chord) + 0.5)
        push = 0.5 * FRESH.density * speed**2 * self.areas * wetted
        sine, cosine = w / speed, ahead / speed
        lean = 0.5 * FRESH.density * speed * ahead * self.areas * lift * wetted * downwash
        forward = push * (lift * sine - drag * cosine) - lean
        down = -push * (lift * cosine + drag * sine)
        moment = self.places[:, 2] * forward - self.places[:, 0] * down
        force = np.column_stack([forward.sum(axis=1), down.sum(axis=1), moment.sum(axis=1)])
        return force, angle, 2.0 * quick * speed / chord, lift * wetted

    def _slope(
        self, depth: np.ndarray, squared: np.ndarray, chord: np.ndarray, aspect: np.ndarray, span: np.ndarray
    ) -> np.ndarray:
        flat = self.slope * surface_lift_factor(depth / chord)
        y = flat / (np.pi * aspect)
        froude = np.maximum(squared / (GRAVITY * depth + 1e-9), 4.0)
        left = np.maximum(1.0 - aspect / 4.0 / ((0.33 + 2.3 * (depth / chord) ** 2) * (froude + 2.56)), 0.5)
        return left * flat / (np.sqrt(1.0 + y**2) + y * (1.0 + biplane_factor(2.0 * depth / span)))

    def _lift(self, slope: np.ndarray, angle: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        straight = slope * angle
        stalled = smooth((np.abs(angle) - 1.3 * self.most / slope) / 0.14)
        sine = np.clip(angle - angle**3 / 6.0, -1.0, 1.0)
        plate = 0.9 * 2.0 * sine * np.sqrt(1.0 - sine**2)
        attached = straight / (1.0 + (straight / self.most) ** 4) ** 0.25
        return (1.0 - stalled) * attached + stalled * plate, 2.0 * stalled * sine**2

    def _downwash(self, now: State, z: np.ndarray) -> np.ndarray:
        """At the foil aft, by the wakes of both foils ahead; z: of the foils, m."""
        total = np.zeros_like(now.u)
        for pair in self.pairs:
            sunk, table = _wake(pair, now.wake)
            wake = z[:, 0] + sunk
            for apart in (z[:, 1] - wake, z[:, 1] + wake):
                far = np.abs(apart) / (self.foils[0].span_length / 2.0)
                total += now.wake * np.array([np.interp(*each) for each in zip(far, [NODES] * len(far), table, strict=True)])
        return total

    def _struts(self, waves: Waves, time: float, now: State) -> np.ndarray:
        feet = np.array([strut.foot for strut in self.model.struts])
        blade = self.model.struts[0].blade
        x, z = self.earth(now, feet)
        depth = z + waves.surface(x, time)
        wetted = np.clip(depth, 0.0, blade.length)
        places = np.broadcast_to(feet, (*wetted.shape, 3)).copy()
        places[..., 2] -= wetted / 2.0
        u, _ = self.through(waves, time, now, Points(places, x, depth / 2.0))
        ahead, ratio = np.maximum(u, LEAST_SPEED), blade.thickness / blade.chord
        skin = 2.0 * friction(self.speed * blade.chord / FRESH.viscosity) * (1.0 + 2.0 * ratio + 60.0 * ratio**4)
        covered = np.minimum(wetted / blade.thickness, 1.0)
        ends = 0.24 * blade.thickness**2 + 2.0 * max(17.0 * ratio**2 - 0.05, 0.0) * blade.thickness**2
        drag = 0.5 * FRESH.density * ahead**2 * (skin * blade.chord * wetted + ends * covered)
        return np.column_stack([-drag.sum(axis=1), np.zeros_like(now.u), -(drag * places[..., 2]).sum(axis=1)])

    def _hull(self, waves: Waves, time: float, now: State) -> np.ndarray:
        keels = np.array([station.keel for station in self.model.stations])
        x, z = self.earth(now, keels)
        depth = z + waves.surface(x, time)
        total = np.zeros((len(now.u), 3))
        if depth.max() <= 0.0:
            return total
        u, w = self.through(waves, time, now, Points(np.broadcast_to(keels, (*depth.shape, 3)), x, np.zeros_like(depth)))
        for day, place in np.argwhere(depth > 0.0):
            total[day] += self._station(place, depth[day, place], u[day, place], w[day, place], float(now.pitch[day]))
        return total

    def _station(self, place: int, immersion: float, ahead: float, into: float, pitch: float) -> np.ndarray:
        """Force and pitching moment of one slice of the hull in the water."""
        hull, keel, length = self.model.stations[place]
        immersion = min(immersion, hull.depth)
        half, area, girth = station_area(hull, immersion)
        tangent, density = np.tan(hull.deadrise), FRESH.density
        chine = hull.beam / 2.0 * tangent
        fading = min(max(3.0 - 2.0 * immersion / chine, 0.0), 1.0) if into > 0.0 else 0.0
        impact = density * np.pi * min(immersion, chine) / tangent**2 * into**2 * length * fading
        cross = 0.5 * density * 0.5 * 2.0 * half * length * abs(into) * into
        skin = friction(self.speed * hull.length / FRESH.viscosity)
        froude = abs(ahead) / np.sqrt(GRAVITY * hull.length)
        hump = 0.12 / (1.0 + (4.0 * (froude - 0.5)) ** 2) ** 2 * min(froude / 0.3, 1.0) ** 4
        buoyancy = density * GRAVITY * area * length
        drag = 0.5 * density * skin * girth * length * abs(ahead) * ahead + np.sign(ahead) * hump * buoyancy
        x, z = buoyancy * np.sin(pitch), -buoyancy * np.cos(pitch)
        moment = (keel[2] - 0.6 * immersion) * x - keel[0] * z
        return np.array([x - drag, z - impact - cross, moment - keel[2] * drag + keel[0] * (impact + cross)])

    def _rest(self, waves: Waves, time: float, now: State) -> np.ndarray:
        """Propeller and air."""
        craft, centre = self.model.craft, self.model.mass.centre
        propulsor, windage = craft.propulsor, craft.windage
        hub = np.array([[propulsor.x - centre[0], 0.0, centre[2] - propulsor.height]])
        x, z = self.earth(now, hub)
        share = np.clip((z + waves.surface(x, time))[:, 0] / (propulsor.diameter / 2.0), 0.0, 1.0)
        assert propulsor.static_thrust is not None
        assert propulsor.no_thrust_speed is not None
        thrust = propulsor.static_thrust * now.thrust * (1.0 - now.u / propulsor.no_thrust_speed) * share
        air = -0.5 * 1.225 * windage.area * np.abs(now.u) * now.u
        moment = thrust * hub[0, 2] + air * (centre[2] - windage.height)
        return np.column_stack([thrust + air, np.zeros_like(air), moment])


def _wake(pair: Pair, lift: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """How far a wake sank, m (days,), and its table at the strip behind, (days, nodes)."""
    rolled = np.minimum(np.abs(lift) * pair.rolling, 1.0)
    sunk = lift * ((1.0 - rolled) * pair.sinks[0] + rolled * pair.sinks[1])
    return sunk, (1.0 - rolled)[:, None] * pair.sheet[0] + rolled[:, None] * pair.rolled[0]


def smooth(share: np.ndarray) -> np.ndarray:
    """0 below 0, 1 above 1, 3 s^2 - 2 s^3 between."""
    s = np.clip(share, 0.0, 1.0)
    return s * s * (3.0 - 2.0 * s)


def moved(now: State, rates: Rates, mean: State, step: float, throttle: np.ndarray, lag: float) -> State:
    """After a step (s) from `now` with these rates, which were met at `mean`; lags fade exactly."""
    accelerations = rates.acceleration
    sine, cosine = np.sin(mean.pitch), np.cos(mean.pitch)

    def faded(value: np.ndarray, goal: np.ndarray, rate: np.ndarray | float) -> np.ndarray:
        return goal + (value - goal) * np.exp(-rate * step)

    return State(
        now.x + step * (cosine * mean.u + sine * mean.w),
        now.z + step * (cosine * mean.w - sine * mean.u),
        now.pitch + step * mean.q,
        now.u + step * accelerations[:, 0],
        now.w + step * accelerations[:, 1],
        now.q + step * accelerations[:, 2],
        faded(now.thrust, throttle, 1.0 / lag),
        faded(now.lag, rates.lag_goal, rates.lag_rate),
        faded(now.wake, rates.wake_goal, rates.wake_rate),
    )

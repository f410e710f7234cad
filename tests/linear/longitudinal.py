"""A model of the courier's own: heave, pitch and surge in small regular waves, from first principles.

It shares no equation with the model that flies but those of its control code, which are the board's. Foils lift by Helmbold's
slope in deep water, as if there were no surface and no wake; lift follows a change by R. T. Jones's lag; water moves as Airy
has it in deep water; readings are old by latency, sampling and holding. Complex amplitudes of exp(i w t), of 1 m of elevation
at the centre of gravity; heights up, bow up, SI.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import pi, sqrt

import numpy as np

from sweep.campaign.craft import Craft
from sweep.model.pack.mass import mass_properties
from sweep.model.physics.water import Water

GRAVITY = 9.81
PLATE = 0.9135  # added mass of a plate of 1 : 6 over that of an endless one (DNV-RP-C205)
Row = np.ndarray
HEIGHT, PITCH, SURGE, LIFT, HEIGHT_COMMAND, PITCH_COMMAND, THROTTLE, SIZE = 0, 1, 2, 3, 6, 7, 8, 9


@dataclass(frozen=True)
class Left:
    """What is left out, or put in, to see what it does to the ride.

    latency, hold: of the rangefinder; servo: its lag, and the code's delay; surge: of the craft; along: the water's motion
    along the waves; unsteady: the lift's lag; at: chords aft of the quarter chord where a foil meets the water; water: what the
    accelerating water does to the added mass.
    """

    latency: bool = True
    hold: bool = True
    servo: bool = True
    surge: bool = True
    along: bool = True
    unsteady: bool = True
    at: float = 0.0
    water: bool = False


@dataclass
class Response:
    """Of one wave: frequency of encounter rad/s, negative where the craft overtakes it; height m/m; pitch rad/m."""

    encounter: float
    height: complex
    pitch: complex


@dataclass
class _Sum:
    """A quantity that is linear in the unknowns, and what the wave adds to it."""

    row: Row = field(default_factory=lambda: np.zeros(SIZE, dtype=complex))
    wave: complex = 0.0

    def __add__(self, other: _Sum) -> _Sum:
        return _Sum(self.row + other.row, self.wave + other.wave)

    def __sub__(self, other: _Sum) -> _Sum:
        return self + -1.0 * other

    def __rmul__(self, factor: complex) -> _Sum:
        return _Sum(factor * self.row, factor * self.wave)


def of(unknown: int) -> _Sum:
    """One of the unknowns."""
    return _Sum(np.eye(SIZE, dtype=complex)[unknown])


@dataclass
class _Sea:
    """A wave as the craft meets it: rad/s and 1/m along the way it goes; depth of the foils, m."""

    omega: float
    heading: float
    depth: float

    @property
    def number(self) -> float:
        """1/m, deep water."""
        return self.omega**2 / GRAVITY

    def surface(self, place: float) -> complex:
        """Elevation there, m."""
        return complex(np.exp(-1j * self.number * np.cos(self.heading) * place))

    def moving(self, place: float) -> complex:
        """Speed of the water at the foils' depth, the way the waves go, m/s; a quarter of a wave ahead of its rise."""
        return float(self.omega * np.exp(-self.number * self.depth)) * self.surface(place)


def ride(craft: Craft, water: Water, speed: float, period: float, heading: float, left: Left | None = None) -> Response:
    """The craft, its loops closed, in a wave of a period (s) from a heading (rad, 0 from behind), deep water."""
    left, body, struts = left or Left(), mass_properties(craft), craft.struts
    sea = _Sea(2.0 * pi / period, heading, struts.height - craft.control.ride_height)
    s = 1j * (sea.omega - sea.number * np.cos(heading) * speed)
    x = np.array([foil.x for foil in craft.foils.values()]) - body.centre[0]
    down = body.centre[2] + struts.height
    lifts = _trim(body.mass * GRAVITY / (0.5 * water.density * speed**2 * craft.foils["port"].area), x)
    turned = _turned(craft, x, s, left)

    equations: list[_Sum] = []
    lift, moment, push, drag = _Sum(), _Sum(), _Sum(), 0.0
    for i, place in enumerate(x):
        equation, up, forward, steady = _foil(craft, water, speed, s, sea, (place, down, lifts[i]), i, turned[i], left)
        equations.append(equation)
        lift, push, moment, drag = lift + up, push + forward, moment + place * up + down * forward, drag + steady
    thrust = _thrust(craft, speed, s, drag)
    equations += [
        lift + drag * of(PITCH) - (body.mass * s * s) * of(HEIGHT),
        moment + (body.centre[2] - craft.propulsor.height) * thrust - (body.inertia[1, 1] * s * s) * of(PITCH),
        push + thrust - (body.mass * s) * of(SURGE) if left.surge else of(SURGE),
        *_code(craft, body.centre, s, sea, left),
    ]
    rows = np.array([equation.row for equation in equations])
    solved = np.linalg.solve(rows, [-equation.wave for equation in equations])
    return Response(float(s.imag), complex(solved[HEIGHT]), complex(solved[PITCH]))


def _foil(
    craft: Craft, water: Water, speed: float, s: complex, sea: _Sea, stands: tuple[float, float, float], number: int,
    turned: _Sum, left: Left,
) -> tuple[_Sum, _Sum, _Sum, float]:  # fmt: skip
    """What its lift coefficient is, the changes of its force up and, with its strut's, forward (N), and its steady drag (N).

    stands: how far ahead of and below the centre of gravity (m), and its lift coefficient in trim.
    """
    place, down, steady = stands
    foil = craft.foils["port"]
    section, chord, aspect = foil.section, foil.chord, foil.span_length / foil.chord
    flow = 0.5 * water.density * speed**2 * foil.area
    y = section.lift_slope / (pi * aspect)
    slope = section.lift_slope / (sqrt(1.0 + y**2) + y)
    lag = 1.0 - 0.361 + 0.361 / (1.0 + s * chord / (2.0 * 0.381 * speed)) if left.unsteady else 1.0
    met = place - left.at * chord
    rising = s * of(HEIGHT) + (s * met) * of(PITCH) - _Sum(wave=1j * sea.moving(met))
    ahead = of(SURGE) + (s * down) * of(PITCH) - _Sum(wave=np.cos(sea.heading) * sea.moving(place) * left.along)
    lift = of(LIFT + number)
    equation = lift - (slope * lag) * (of(PITCH) - (1.0 / speed) * rising + turned)

    added = water.density * pi / 4.0 * chord**2 * foil.span_length * PLATE
    moved = (s * s) * of(HEIGHT) + (s * s * place - s * speed) * of(PITCH)
    inertia = added * (moved - _Sum(wave=1j * s * sea.moving(place)) if left.water else moved)
    up = flow * (lift + (2.0 * steady / speed) * ahead) - inertia

    off = steady - section.lift_of_least_drag
    least = section.drag_min * sqrt(section.reynolds * water.viscosity / (speed * chord)) + section.drag_rise * off**2
    drag = least + steady**2 / (pi * aspect * 0.95)
    by_lift = 2.0 * steady / (pi * aspect * 0.95) + 2.0 * section.drag_rise * off
    deeper = _Sum(wave=sea.surface(place)) - of(HEIGHT) - place * of(PITCH)
    forward = (-flow * steady / speed) * rising - flow * (by_lift * lift + (2.0 * drag / speed) * ahead)
    return equation, up, forward - _strut(craft, water, speed, sea.depth, ahead, deeper), flow * drag


def _trim(total: float, x: Row) -> Row:
    """Lift coefficients of equal foils, the two in front alike, that carry a weight over dynamic pressure x area."""
    front, aft = x[0], x[2]
    return np.array([-aft, -aft, 2.0 * front]) * total / (2.0 * (front - aft))


def _turned(craft: Craft, x: Row, s: complex, left: Left) -> list[_Sum]:
    """Angles of the foils, by the board's mixer, its delay and hold, and the servo."""
    levers = np.array([np.ones(3), x, -np.array([foil.y for foil in craft.foils.values()])])
    mix = np.linalg.pinv(levers) * np.abs(levers).sum(axis=1)
    bandwidth = craft.servos.bandwidth
    follows = bandwidth**2 / (s**2 + 2.0 * craft.servos.damping * bandwidth * s + bandwidth**2)
    share = np.exp(-0.5 * s / craft.control.rate) * (np.exp(-s * craft.control.delay) * follows if left.servo else 1.0)
    return [(share * height) * of(HEIGHT_COMMAND) + (share * pitch) * of(PITCH_COMMAND) for height, pitch, _ in mix]


def _strut(craft: Craft, water: Water, speed: float, depth: float, ahead: _Sum, deeper: _Sum) -> _Sum:
    """Change of a strut's drag with speed and depth: its skin's by ITTC-57, thickened."""
    chord = craft.struts.chord
    skin = 2.0 * 0.075 / (np.log10(speed * chord / water.viscosity) - 2.0) ** 2 * (1.0 + 2.0 * craft.struts.thickness / chord)
    pressure = 0.5 * water.density * speed**2
    return (pressure * skin * chord) * (deeper + (2.0 * depth / speed) * ahead)


def _thrust(craft: Craft, speed: float, s: complex, drag: float) -> _Sum:
    """Change of the thrust with throttle and speed; in trim it is the drag (N)."""
    propulsor = craft.propulsor
    assert propulsor.static_thrust is not None
    assert propulsor.no_thrust_speed is not None
    share = 1.0 - speed / propulsor.no_thrust_speed
    by_throttle = propulsor.static_thrust * share / (1.0 + s * propulsor.lag)
    return by_throttle * of(THROTTLE) - (drag / share / propulsor.no_thrust_speed) * of(SURGE)


def _code(craft: Craft, centre: Row, s: complex, sea: _Sea, left: Left) -> list[_Sum]:
    """Height, pitch and throttle commands, by what the board knows: an old range, a gyro levelled by an accelerometer."""
    finder, inertial, control = craft.rangefinders, craft.inertial, craft.control
    bow, box = finder.x - centre[0], inertial.height - centre[2]
    between = 1.0 / finder.rate
    half = 0.5 * s * between
    held = np.sinh(half) / half * np.exp(-half + 0.5 * s / control.rate)
    old = (np.exp(-s * finder.latency) if left.latency else 1.0) * (held if left.hold else 1.0)
    leaning = of(PITCH) + (s / GRAVITY) * of(SURGE) - (box * s**2 / GRAVITY) * of(PITCH)
    settle = s * inertial.levelling_time
    pitch = (1.0 / (1.0 + settle)) * (settle * of(PITCH) + leaning)
    height = old * (of(HEIGHT) + bow * of(PITCH) - _Sum(wave=sea.surface(bow))) - bow * pitch
    loop = control.height
    gain = loop.proportional + loop.integral / s + loop.derivative * s / (1.0 + s * loop.smoothing)
    upright = control.pitch.proportional * pitch + (control.pitch.derivative * s) * of(PITCH)
    hurry = control.speed.proportional + control.speed.integral / s
    return [of(HEIGHT_COMMAND) + gain * height, of(PITCH_COMMAND) + upright, of(THROTTLE) + hurry * of(SURGE)]

"""Linear waves in water of finite depth: dispersion, random seas and their kinematics.

Earth axes: X forward along the craft's course, Y to starboard, Z down from the calm level; elevation is positive up.
A heading is the angle between the directions of travel of the craft and the waves: 0 following, 90 degrees beam, 180 head.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, cos, log, pi, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweep.model.physics.spectra import GRAVITY, Floats, Spectrum, spreading

SHORTEST_WAVE = 0.07  # m: for shorter waves surface tension, left out here, changes the wave number by over 5 %
BROADEST = 10.0  # times the peak frequency: 0.01 % of the variance lies beyond
STEEPEST_SEA = 0.07  # significant height over the length of the peak wave (common practice, no source; M3.3)
MOST_OF_PACKET = 160  # with three seas of 32 components, the most that may be added to it, it fills layout.MAX_COMPONENTS
COMPONENTS, ALONG_A_COURSE = 32, 64  # of a drawn sea; and of one along a course, which lasts longer (M3.7): judgement
PACKET_REACH = 3.0  # standard deviations of a packet's frequencies; 0.3 % of its amplitude lies beyond


class Sea(NamedTuple):
    """Components of a sea, arrays (components,), in m, rad/s, 1/m, 1/m, 1/m and rad by field; and the water's depth, m."""

    amplitude: Floats
    omega: Floats
    wave_number: Floats
    kx: Floats
    ky: Floats
    phase: Floats
    depth: float


class WavePacket(NamedTuple):
    """A group of waves: height of the highest (m), period (s), number of waves, time when its middle meets the craft (s)."""

    height: float
    period: float
    waves: float
    arrives: float


class Track(NamedTuple):
    """The craft's path: along X at `speed` m/s from time `start` (s) on, in a flight of `length` s.

    components: how many a drawn sea has.
    """

    speed: float = 0.0
    start: float = 0.0
    length: float = 60.0
    components: int = COMPONENTS

    def place(self, time: float) -> float:
        """X at a time, m."""
        return self.speed * max(time - self.start, 0.0)


def wave_number(omega: Floats | float, depth: float) -> Floats:
    """k, 1/m, of omega^2 = g k tanh(k depth), to 1e-12; omega rad/s (any shape), depth m or infinite (M3.2).

    Raises ValueError unless both are positive.
    """
    omega = np.asarray(omega, dtype=np.float64)
    if not (np.all(omega > 0) and depth > 0):
        raise ValueError(f"wave number of omega {omega} rad/s in depth {depth:g} m: both must be positive")
    deep: Floats = omega**2 / GRAVITY
    x = np.minimum(deep * depth, 20.0)  # above it tanh is 1 in double precision
    y = x / np.sqrt(np.tanh(x))  # Eckart 1952, within 5 %
    for _ in range(5):
        t = np.tanh(y)
        y = y - (y * t - x) / (t + y * (1 - t**2))
    k: Floats = deep * y / x
    return k


def group_speed(omega: Floats | float, depth: float) -> Floats:
    """Speed of a group of waves, m/s (M3.2)."""
    k = wave_number(omega, depth)
    kd = np.minimum(k * depth, 300.0)  # keeps sinh finite
    speed: Floats = omega / k * (0.5 + kd / np.sinh(2 * kd))
    return speed


def encounter_frequency(omega: Floats, wave_number: Floats, speed: float, heading: float) -> Floats:
    """Encounter frequency, rad/s (M3.2). It is negative where the craft overtakes the waves; the sign matters for phase.

    omega in rad/s, wave_number in 1/m, speed in m/s, heading in rad.
    """
    return omega - wave_number * speed * cos(heading)


def steepness(height: float, period: float, depth: float) -> float:
    """Wave height over wave length; height and depth in m, period in s."""
    return height * float(wave_number(2 * pi / period, depth)) / (2 * pi)


def breaking_steepness(period: float, depth: float) -> float:
    """Largest height over wave length of a regular wave before it breaks (Miche 1944; M3.3). period in s, depth in m."""
    return 0.142 * float(np.tanh(wave_number(2 * pi / period, depth) * depth))


def draw_components(
    spectrum: Spectrum,
    heading: float,
    depth: float,
    generator: np.random.Generator,
    count: int = COMPONENTS,
    spread: float | None = None,
) -> Sea:
    """Draw a sea of `count` components whose variance is the spectrum's (M3.7).

    Each component has a bin of equal energy and a random frequency inside it, so that the record does not repeat. With
    `spread`, the exponent of the spreading function, the directions are random too.
    Raises ValueError if the sea's peak is too near the shortest wave of the model.
    """
    omega = _equal_energy(spectrum, depth, (np.arange(count) + generator.random(count)) / count)
    phase = generator.uniform(0, 2 * pi, count)
    amplitude = np.full(count, (2 * spectrum.variance / count) ** 0.5)
    direction = np.full(count, heading)
    if spread is not None:
        direction += _spread_angles(generator.random(count), spread)
    return _assemble(amplitude, omega, direction, phase, depth)


def random_amplitudes(sea: Sea, generator: np.random.Generator) -> Sea:
    """The sea with Rayleigh-distributed amplitudes, as in a piece of a long record: its variance is right on average (M3.7)."""
    return sea._replace(amplitude=sea.amplitude * np.sqrt(generator.exponential(size=len(sea.amplitude))))


def irregular_sea(
    spectrum: Spectrum,
    heading: float,
    depth: float,
    generator: np.random.Generator,
    count: int = COMPONENTS,
    spread: float | None = None,
) -> Sea:
    """Draw a sea as `draw_components`; raises ValueError if it would break."""
    _refuse_breaking("sea", spectrum.significant_height, spectrum.peak_period, depth, STEEPEST_SEA)
    return draw_components(spectrum, heading, depth, generator, count, spread)


def _equal_energy(spectrum: Spectrum, depth: float, shares: Floats) -> Floats:
    """The frequencies (rad/s) below which the given shares of the energy lie (M3.7)."""
    shortest = 2 * pi / SHORTEST_WAVE
    highest = (GRAVITY * shortest * np.tanh(shortest * depth)) ** 0.5
    if highest < 1.5 * spectrum.peak:
        least = 1.5 * 2 * pi / highest
        raise ValueError(f"peak period is {spectrum.peak_period:g} s; wanted at least {least:.2f} s")
    grid = np.linspace(0.4 * spectrum.peak, min(BROADEST * spectrum.peak, highest), 4001)
    return _inverse_cumulative(grid, spectrum.density(grid), shares)


def _spread_angles(shares: Floats, exponent: float) -> Floats:
    """The angles (rad) below which the given shares of the spreading function lie."""
    grid = np.linspace(-pi, pi, 4001)
    return _inverse_cumulative(grid, spreading(grid, exponent), shares)


def _inverse_cumulative(grid: Floats, density: Floats, shares: Floats) -> Floats:
    """The points of an even grid where the running integral of a density reaches the given shares of its total."""
    running = np.concatenate(([0.0], np.cumsum(density[1:] + density[:-1])))
    places: Floats = np.interp(shares * running[-1], running, grid)
    return places


def regular_sea(height: float, period: float, heading: float, depth: float, phase: float = 0.0) -> Sea:
    """A regular wave. height: crest to trough, m; period in s; heading in rad; phase: rad, 0 is a crest at the origin at 0 s.

    Raises ValueError if it would break.
    """
    _refuse_breaking("wave", height, period, depth, breaking_steepness(period, depth))
    return _assemble(np.array([height / 2]), np.array([2 * pi / period]), np.array([heading]), np.array([phase]), depth)


def flat_sea(depth: float) -> Sea:
    """Calm water."""
    nothing = np.empty(0)
    return _assemble(nothing, nothing, nothing, nothing, depth)


def join(seas: Sequence[Sea]) -> Sea:
    """The sum of several seas over the same depth."""
    depths = {sea.depth for sea in seas}
    if len(depths) != 1:
        raise ValueError(f"seas to join have depths {sorted(depths)}; wanted one depth")
    arrays = {name: np.concatenate([getattr(sea, name) for sea in seas]) for name in Sea._fields if name != "depth"}
    return Sea(**arrays, depth=depths.pop())


def packet_components(packet: WavePacket, heading: float, depth: float, track: Track) -> int:
    """Number of components that a packet needs for the craft to meet it only once in its flight (M3.8)."""
    omega = _packet_band(packet)
    crowding = _crowding(packet, omega, heading, depth, track)
    return ceil(float(crowding.mean()) * (omega[-1] - omega[0]) / (2 * pi))


def packet_sea(packet: WavePacket, heading: float, depth: float, track: Track, phase: float = 0.0) -> Sea:
    """A group of waves under a Gaussian envelope, which meets the craft at its time; phase 0: with its highest crest (M3.8).

    The envelope is above half its height for `waves` periods. Raises ValueError if the highest wave would break, or if the
    packet needs more than MOST_OF_PACKET components.
    """
    _refuse_breaking("packet", packet.height, packet.period, depth, breaking_steepness(packet.period, depth))
    count = packet_components(packet, heading, depth, track)
    if count > MOST_OF_PACKET:
        raise ValueError(f"a packet takes {count} components; wanted at most {MOST_OF_PACKET}: a shorter flight or more waves")
    band = _packet_band(packet)
    crowding = _crowding(packet, band, heading, depth, track)
    omega = _inverse_cumulative(band, crowding, (np.arange(count) + 0.5) / count)
    shape = np.exp(-0.5 * ((omega - 2 * pi / packet.period) / _packet_deviation(packet)) ** 2)
    shape /= np.interp(omega, band, crowding)
    along = wave_number(omega, depth) * cos(heading)
    phases = phase - along * track.place(packet.arrives) + omega * packet.arrives
    return _assemble(packet.height / 2 * shape / shape.sum(), omega, np.full(count, heading), phases, depth)


def _crowding(packet: WavePacket, omega: Floats, heading: float, depth: float, track: Track) -> Floats:
    """Density of components over frequency, times 2 pi: number per rad/s.

    Waves at even steps of the encounter frequency repeat after 2 pi / step, which here is after the flight.
    """
    meeting = np.abs(1 - track.speed * cos(heading) / group_speed(omega, depth))
    longest = max(packet.arrives, track.length - packet.arrives)
    crowding: Floats = meeting * longest + PACKET_REACH / _packet_deviation(packet)
    return crowding


def _packet_deviation(packet: WavePacket) -> float:
    """Standard deviation of a packet's frequencies, rad/s: one over that of its envelope in time (s)."""
    return sqrt(8 * log(2)) / (packet.waves * packet.period)


def _packet_band(packet: WavePacket) -> Floats:
    reach = PACKET_REACH * _packet_deviation(packet)
    return 2 * pi / packet.period + np.linspace(-reach, reach, 401)


def _refuse_breaking(what: str, height: float, period: float, depth: float, most: float) -> None:
    found = steepness(height, period, depth)
    if found > most * (1 + 1e-9):
        shown = f"height over length is {found:.3f}; wanted at most {most:.3f}"
        raise ValueError(f"a {what} of {height:g} m and {period:g} s breaks: {shown}")


def _assemble(amplitude: Floats, omega: Floats, direction: Floats, phase: Floats, depth: float) -> Sea:
    k = wave_number(omega, depth)
    return Sea(amplitude, omega, k, k * np.cos(direction), k * np.sin(direction), phase, depth)


def elevation(sea: Sea, x: Floats | float, y: Floats | float, t: Floats | float) -> Floats:
    """Surface above the calm level, m, at X, Y (m) and time (s) of any shapes that broadcast (M3.9)."""
    return np.cos(_phase(sea, x, y, t)) @ sea.amplitude


def orbital_velocity(
    sea: Sea, x: Floats | float, y: Floats | float, depth_below_surface: Floats | float, t: Floats | float
) -> Floats:
    """Velocity of the water, m/s, shape (..., 3) along X, Y and Z down (M3.10).

    The depth (m, taken as 0 above water) is below the instantaneous surface; infinite water depth is allowed.
    """
    p = _phase(sea, x, y, t)
    down = sea.wave_number * np.maximum(np.asarray(depth_below_surface), 0.0)[..., None]
    bottom = 2 * sea.wave_number * sea.depth
    incident, reflected = np.exp(-down), np.exp(down - bottom)
    speed = sea.amplitude * sea.omega / (1 - np.exp(-bottom))
    along = speed * (incident + reflected) * np.cos(p) / sea.wave_number
    upward = speed * (incident - reflected) * np.sin(p)
    return np.stack((along @ sea.kx, along @ sea.ky, -upward.sum(axis=-1)), axis=-1)


def _phase(sea: Sea, x: Floats | float, y: Floats | float, t: Floats | float) -> NDArray[np.float64]:
    """Shape (..., components)."""
    x, y, t = (np.asarray(value, dtype=np.float64)[..., None] for value in (x, y, t))
    return x * sea.kx + y * sea.ky - sea.omega * t + sea.phase

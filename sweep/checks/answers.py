"""Our answer to a row of a reference: one function a quantity, each a plain call of the model."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache
from itertools import pairwise

import numpy as np
from scipy.integrate import quad

from sweep.checks.references import Row
from sweep.insight.intervals import Estimate
from sweep.insight.limits import share_bounds
from sweep.linear.margins import Margins, margins
from sweep.model.elementary import smoothstep
from sweep.model.kernels import rigid_body
from sweep.model.onboard import servo
from sweep.model.pack import fleet
from sweep.model.physics import flap, foil, hull, propulsion, spectra, strut, water, waves

FREEZING, STANDARD_PRESSURE = 273.15, 101_325.0
"""K, by the definition of the degree Celsius; Pa, the standard atmosphere."""
THIN = 2.0 * math.pi
"""Lift slope of a thin section, per radian (thin-aerofoil theory)."""
SECTION = 0.95 * THIN
"""Lift slope of the sections that the references are compared with: a craft file's default."""
HEIGHT, PERIOD = 0.1, 1.5  # of the spectra's ordinates
GRID = np.geomspace(1e-2, 1e2, 400)  # rad/s, about the crossings of the references' loops


def fresh(row: Row) -> water.Water:
    """Fresh water at the row's temperature."""
    return water.fresh_water(FREEZING + row["temperature degC"], 4.0)


def sea(row: Row) -> water.Water:
    """Sea water at the row's temperature."""
    return water.sea_water(FREEZING + row["temperature degC"], 4.0)


def cavitation(row: Row) -> float:
    """A tenth of a metre deep, as the model's loads at that depth and its vapour pressure give it."""
    fresh = water.fresh_water(FREEZING + 15.0, 4.0)
    pressure = STANDARD_PRESSURE + hull.buoyancy_per_length(fresh.density, 0.1) - fresh.vapour_pressure
    return float(pressure / (0.5 * fresh.density * row["speed m/s"] ** 2))


def table_c1(row: Row) -> tuple[float, float, float]:
    """kd, group speed and phase speed over the deep wave's speed, of a wave of 1 s in water of this relative depth."""
    deep = spectra.GRAVITY / THIN
    depth = row["d/L0"] * deep
    k = float(waves.wave_number(THIN, depth))
    return k * depth, float(waves.group_speed(THIN, depth)) / deep, THIN / k / deep


def wave(row: Row) -> tuple[float, float, float]:
    """omega, k and speed of a group."""
    omega = THIN / row["period s"]
    depth = row.get("depth m", math.inf)
    return omega, float(waves.wave_number(omega, depth)), float(waves.group_speed(omega, depth))


def breaking(row: Row) -> float:
    """Height over length of the steepest wave at the row's kd."""
    return waves.breaking_steepness(THIN / math.sqrt(spectra.GRAVITY * row["kd"] * math.tanh(row["kd"])), 1.0)


def orbital(row: Row, moment: float, axis: int) -> float:
    """m/s, at the row's height in a wave of 0.2 m and 1.5 s over 1 m, at a moment (s)."""
    sea = waves.regular_sea(0.2, 1.5, 0.0, 1.0)
    return float(waves.orbital_velocity(sea, 0.0, 0.0, -row["z m"], moment)[axis])


def decay(row: Row) -> float:
    """Speed of the water at the row's depth over that at the surface, deep water."""
    sea = waves.regular_sea(0.05, row["period s"], 0.0, math.inf)
    top, below = waves.orbital_velocity(sea, 0.0, 0.0, np.array([0.0, row["depth m"]]), 0.0)[:, 0]
    return float(below / top)


def encounter(row: Row, degrees: float) -> float:
    """Hz, from a heading, deep water."""
    omega = np.array([THIN / row["period s"]])
    k = waves.wave_number(omega, math.inf)
    return float(waves.encounter_frequency(omega, k, row["speed m/s"], math.radians(degrees))[0]) / THIN


def contouring(row: Row, degrees: float) -> float:
    """Acceleration in g that follows the surface of a wave of 5 cm amplitude at 4 m/s."""
    return 0.05 * (THIN * encounter(row | {"speed m/s": 4.0}, degrees)) ** 2 / spectra.GRAVITY


def incidence(row: Row) -> float:
    """Largest flow angle, degrees, a tenth of a metre down, at 4 m/s."""
    sea = waves.regular_sea(0.1, row["period s"], math.pi, math.inf, phase=0.5 * math.pi)
    return math.degrees(abs(float(waves.orbital_velocity(sea, 0.0, 0.0, 0.1, 0.0)[2])) / 4.0)


@cache
def moment(order: int, gamma: float, cut: float = 400.0) -> float:
    """Of a spectrum whose peak is at 1 rad/s and whose height is 1 m."""

    def density(omega: float) -> float:
        return float(spectra.jonswap(np.array([omega]), 1.0, THIN, gamma)[0]) * omega**order

    parts = [0.2, *(edge for edge in (0.8, 1.0, 1.2, 2.0, 8.0, 60.0) if edge < cut), cut]
    return sum(quad(density, low, high, epsabs=0.0, epsrel=1e-10, limit=200)[0] for low, high in pairwise(parts))


def mean_period(gamma: float) -> float:
    """m0 / m1 of a spectrum whose peak is at 1 rad/s, 1/(rad/s)."""
    return moment(0, gamma) / moment(1, gamma)


def crossing_period(gamma: float, cut: float = 400.0) -> float:
    """root of m0 / m2, 1/(rad/s), of the spectrum up to a cut (rad/s)."""
    return math.sqrt(moment(0, gamma, cut) / moment(2, gamma, cut))


def energy_period(gamma: float) -> float:
    """m-1 / m0, 1/(rad/s)."""
    return moment(-1, gamma) / moment(0, gamma)


def normaliser(row: Row) -> float:
    """What keeps the height of a peaked spectrum exact."""
    far = np.array([5.0])  # the peak's enhancement is 1 here
    return float(spectra.jonswap(far, 1.0, THIN, row["gamma"])[0] / spectra.bretschneider(far, 1.0, THIN)[0])


def ordinate(row: Row, gamma: float) -> float:
    """Spectral density, m2/Hz, of a sea of 10 cm and 1.5 s."""
    omega = np.array([THIN * row["frequency Hz"]])
    return THIN * float(spectra.jonswap(omega, HEIGHT, PERIOD, gamma)[0])


def form_in(period: float) -> tuple[float, float]:
    """A T^4 / H^2 and B T^4 of the ITTC spectrum S = A w^-5 exp(-B w^-4), by two of our ordinates.

    The peak is at 1 rad/s; period T in 1/(rad/s).
    """
    one, two = 0.9, 1.7
    first, second = (float(spectra.bretschneider(np.array([omega]), 1.0, THIN)[0]) * omega**5 for omega in (one, two))
    b = math.log(second / first) / (one**-4 - two**-4)
    time = THIN * period
    return first * math.exp(b * one**-4) * time**4, b * time**4


def grown(row: Row, law: str, at: int) -> float:
    """Height (m) or period (s) of the sea that the row's wind raises, by one of the laws."""
    if law == "jonswap":
        return spectra.jonswap_growth(row["wind m/s"], row["fetch m"])[at]
    return spectra.young_verhagen(row["wind m/s"], row["fetch m"], row["depth m"])[at]


def wind_aloft(row: Row) -> float:
    """Wind at the row's height over the water as a share of that 10 m up."""
    return fleet.wind_share(row["height m"])


def wind_pressure(row: Row) -> float:
    """Pressure, N/m2, of the row's wind on a drag area."""
    return 0.5 * rigid_body.AIR_DENSITY * float(row["wind m/s"]) ** 2


def spread_peak(row: Row) -> float:
    """1/rad, of the row's exponent."""
    return float(spectra.spreading(np.array([0.0]), row["exponent"])[0])


def circular_spread(row: Row) -> float:
    """Degrees, of the row's exponent, by integration."""
    angle = np.linspace(-math.pi, math.pi, 20_001)[:-1]
    first = float(spectra.spreading(angle, row["exponent"]) @ np.cos(angle)) * (angle[1] - angle[0])
    return math.degrees(math.sqrt(2.0 * (1.0 - first)))


def deep_slope(row: Row) -> float:
    """1/rad, in deep water, with the craft's default section."""
    return float(foil.lift_slope(SECTION, row["aspect ratio"], 1.0, 0.0, 1.0))


def at_depth(row: Row) -> float:
    """Lift at a depth and depth Froude number over lift in deep water."""
    aspect_ratio, chords, chord = row["aspect ratio"], row["h/c"], 0.03
    depth = chords * chord
    slow = foil.froude_factor(chords, aspect_ratio, row.get("froude", 1e6) ** 2 * spectra.GRAVITY * depth, depth)
    biplane = foil.biplane_factor(2.0 * chords / aspect_ratio)
    here = foil.lift_slope(THIN, aspect_ratio, foil.surface_factor(chords), biplane, slow)
    return float(here / foil.lift_slope(THIN, aspect_ratio, 1.0, 0.0, 1.0))


def induced(row: Row) -> float:
    """Induced drag under the surface over that in deep water."""
    return 1.0 + float(foil.biplane_factor(2.0 * row["h/c"] / row["aspect ratio"]))


def indicial(row: Row, aspect_ratio: float) -> float:
    """Share of the steady lift at the row's distance after a step."""
    a, b = foil.indicial_coefficients(aspect_ratio)
    return 1.0 - a * math.exp(-b * row["s"])


def flap_in_tunnel(row: Row) -> float:
    """Effectiveness of a sealed flap on a section of the lift slope that the tunnel found."""
    return flap.effectiveness(row["chord share"], row["thickness ratio"], math.degrees(row["slope per deg"]))


def flap_left(row: Row) -> float:
    """Share of its angle that a flap is worth."""
    kept, start, first, width = flap.separation(row["chord share"])
    angle = math.radians(row["deflection deg"])
    return 1.0 - float(smoothstep((angle - first) / width)) * max(kept * angle - start, 0.0) / angle


def flap_friction(row: Row) -> float:
    """What friction leaves of a flap's ideal lift."""
    first, second = flap.friction_terms(row["chord share"])
    lost = 1.0 - float(row["slope left"])
    return 1.0 - lost * (first + second * lost)


def flap_moment(row: Row) -> float:
    """Moment coefficient of the section, by a flap's angle."""
    return flap.moment_slope(row["chord share"]) * flap_left(row) * math.radians(row["deflection deg"])


def hinge_friction(row: Row, hinge: Callable[[float, float, float], float]) -> float:
    """Share of a hinge moment that friction leaves, by the share of a thin section's slope that it leaves."""
    share, ideal = float(row["chord share"]), flap.theoretical_slope(0.0)
    return hinge(share, 0.0, ideal * float(row["slope left"])) / hinge(share, 0.0, ideal)


def hinge_ideal(row: Row, hinge: Callable[[float, float, float], float]) -> float:
    """Hinge moment per rad of a section without friction."""
    return hinge(row["chord share"], row["thickness ratio"], flap.theoretical_slope(row["thickness ratio"]))


def spray(row: Row) -> float:
    """N, of a strut of 6 mm in fresh water of 15 degC."""
    density = water.fresh_water(FREEZING + 15.0, 4.0).density
    return strut.SPRAY * 0.006**2 * 0.5 * density * float(row["speed m/s"]) ** 2


def junction(row: Row) -> float:
    """Drag over dynamic pressure and thickness squared."""
    return strut.junction_drag_area(0.006, 0.006 / row["thickness over chord"]) / 0.006**2


def entry(row: Row) -> float:
    """Force of a wedge entering at constant speed, over density x speed^3 x time."""
    speed, time = 1.5, 0.01
    slope = math.tan(math.radians(row["deadrise deg"]))
    return float(hull.impact_per_length(1000.0, speed * time, 2.0, slope, speed)) / (1000.0 * speed**3 * time)


def disc_efficiency(row: Row) -> float:
    """Of an actuator disc at the row's thrust coefficient."""
    speed, disc = 4.0, 5.0  # disc: 2 x density x area
    thrust = row["thrust coefficient"] * disc * speed**2 / 4.0
    return float(thrust * speed / propulsion.ideal_power(thrust, speed, disc))


def static_thrust(row: Row) -> float:
    """The thrust at rest that our disc gives for the published power."""
    density = water.fresh_water(FREEZING + 15.0, 4.0).density
    disc = 2.0 * density * math.pi / 4.0 * row["diameter m"] ** 2
    asked = float(propulsion.ideal_power(row["thrust N"], 0.0, disc))
    return float(row["thrust N"] * (row["power W"] / asked) ** (2.0 / 3.0))


def overshoot(row: Row) -> float:
    """Of a servo of the row's damping after a step, a share of it."""
    damping = row["damping"]
    return -float(servo.transition(1.0, damping, math.pi / math.sqrt(1.0 - damping**2))[0])


def settling(row: Row) -> float:
    """Time x natural frequency from which a step is within 2 %."""
    times = np.arange(3.0, 13.0, 4e-3)
    off = np.array([servo.transition(1.0, row["damping"], float(time))[0] for time in times])
    return float(times[np.flatnonzero(np.abs(off) > 0.02)[-1] + 1])


@cache
def textbook(gain: float, roots: tuple[float, ...]) -> Margins:
    """Margins of gain / product of (s + root), unit negative feedback."""

    def gains(frequency: np.ndarray[tuple[int], np.dtype[np.float64]]) -> np.ndarray[tuple[int], np.dtype[np.complex128]]:
        s = 1j * frequency
        found: np.ndarray[tuple[int], np.dtype[np.complex128]] = gain / np.prod([s + root for root in roots], axis=0)
        return found

    return margins(gains, GRID)


def loop(row: Row) -> Margins:
    """Margins of the row's loop."""
    return textbook(row["gain"], tuple(row["denominator roots"]))


def second_order(row: Row) -> float:
    """Phase margin in degrees of a second-order loop of the row's damping."""
    return math.degrees(textbook(1.0, (0.0, 2.0 * row["damping"])).phase)


def student(row: Row) -> float:
    """Half of an interval that leaves 2.5 % at either end, for a standard error of 1."""
    freedom = np.array([min(row["degrees of freedom"], 1e12)])
    return float(Estimate(np.zeros(1), np.ones(1), freedom).half_width(0.025)[0])


def exact_bound(row: Row, upper: bool) -> float:
    """Bound of a share, 2.5 % outside."""
    bounds = share_bounds(np.array([float(row["successes"])]), np.array([float(row["trials"])]), 0.975)
    return float(bounds[upper][0])


def is_exact(row: Row) -> bool:
    """Whether the row's method is ours."""
    return bool(row["method"] == "Clopper-Pearson")

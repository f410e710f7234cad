"""The craft model against outside values: what a source says, and what the model's own functions make of it.

The values are kept here so that an installed package can show them; tests hold them against tests/references.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache
from typing import NamedTuple

import numpy as np

from sweep.model import foil, hull, propulsion, servo, spectra, strut, water, waves

CELSIUS = 273.15
THIN = 2.0 * math.pi
SECTION = 0.95 * THIN


class Check(NamedTuple):
    """An outside value beside ours, in `unit`; tolerance: how far ours may be off, a share of the value unless absolute."""

    quantity: str
    source: str
    unit: str
    published: float
    tolerance: float
    absolute: bool
    ours: float

    @property
    def deviation(self) -> float:
        """Ours less theirs: in the unit, or as a share."""
        off = self.ours - self.published
        return off if self.absolute else off / abs(self.published)

    @property
    def kept(self) -> bool:
        """Whether ours is as close as it should be."""
        return abs(self.deviation) <= self.tolerance


class Published(NamedTuple):
    """A value of a source, and how ours is found."""

    quantity: str
    source: str
    unit: str
    value: float
    tolerance: float
    ours: Callable[[], float]
    absolute: bool = False


@cache
def list_checks() -> tuple[Check, ...]:
    """Every check, by topic: water, waves, seas, foils, struts and hull, propeller and servo."""
    return tuple(
        Check(each.quantity, each.source, each.unit, each.value, each.tolerance, each.absolute, float(each.ours()))
        for each in PUBLISHED
    )


def _fresh() -> water.Water:
    return water.fresh_water(CELSIUS + 15.0, 4.0)


def _sea() -> water.Water:
    return water.sea_water(CELSIUS + 15.0, 4.0)


def _relative_depth(share: float) -> tuple[float, float]:
    """Angular frequency (rad/s) and depth (m) of a wave of 1 s whose depth is this share of its deep-water length."""
    return THIN, share * spectra.GRAVITY / THIN


def _depth_over_length(share: float) -> float:
    omega, depth = _relative_depth(share)
    return float(waves.wave_number(omega, depth)) * depth / THIN


def _group_speed_share(share: float) -> float:
    omega, depth = _relative_depth(share)
    return float(waves.group_speed(omega, depth)) / (spectra.GRAVITY / THIN)


def _orbital_speed() -> float:
    """Largest horizontal speed half a metre down in 1 m of water, under a wave of 0.2 m and 1.5 s."""
    sea = waves.regular_sea(0.2, 1.5, 0.0, 1.0)
    return float(waves.orbital_velocity(sea, 0.0, 0.0, 0.5, 0.0)[0])


def _breaking() -> float:
    """Height over length where wave number x depth is 1."""
    return waves.breaking_steepness(THIN / math.sqrt(spectra.GRAVITY * math.tanh(1.0)), 1.0)


def _encounter() -> float:
    omega = np.array([THIN])
    met = waves.encounter_frequency(omega, omega**2 / spectra.GRAVITY, 5.0, math.pi)
    return float(met[0]) / THIN


def _moment_period(gamma: float, order: int) -> float:
    """(m0 / m_n)^(1/n) over the peak period, of a spectrum whose peak is at 1 s."""
    omega = np.linspace(0.5 * THIN, 60.0 * THIN, 400_001)
    density = spectra.jonswap(omega, 1.0, 1.0, gamma)
    moment = float(np.trapezoid(density, omega)) / float(np.trapezoid(density * omega**order, omega))
    return float(THIN * moment ** (1.0 / order))


def _ordinate() -> float:
    return THIN * float(spectra.jonswap(np.array([THIN]), 0.1, 1.5)[0])


def _at_depth(aspect_ratio: float, chords: float, froude: float) -> float:
    """Lift at a depth and depth Froude number over lift in deep water."""
    chord = 0.03
    depth = chords * chord
    slow = foil.froude_factor(chords, aspect_ratio, froude**2 * spectra.GRAVITY * depth, depth)
    biplane = foil.biplane_factor(2.0 * chords / aspect_ratio)
    here = foil.lift_slope(THIN, aspect_ratio, foil.surface_factor(chords), biplane, slow)
    return float(here / foil.lift_slope(THIN, aspect_ratio, 1.0, 0.0, 1.0))


def _indicial(aspect_ratio: float, travelled: float) -> float:
    a, b = foil.indicial_coefficients(aspect_ratio)
    return 1.0 - a * math.exp(-b * travelled)


def _spray() -> float:
    """N, of a strut of 6 mm at 5 m/s in fresh water of 15 degC."""
    return strut.SPRAY * 0.006**2 * 0.5 * _fresh().density * 5.0**2


def _entry() -> float:
    """Force of a wedge of 20 degrees entering at constant speed, over density x speed^3 x time."""
    speed, time = 1.5, 0.01
    force = hull.impact_per_length(1000.0, speed * time, 1.0, math.tan(math.radians(20.0)), speed)
    return float(force) / (1000.0 * speed**3 * time)


def _disc_efficiency() -> float:
    """Of an actuator disc at thrust coefficient 1."""
    speed, disc = 4.0, 5.0  # disc: 2 x density x area
    thrust = disc * speed**2 / 4.0
    return thrust * speed / float(propulsion.ideal_power(thrust, speed, disc))


def _overshoot() -> float:
    """Of a servo of damping 0.4 after a step."""
    peak = math.pi / math.sqrt(1.0 - 0.4**2)
    return -float(servo.transition(1.0, 0.4, peak)[0])


SPM = "Shore Protection Manual 1984, table C-1"
ITTC_WATER = "ITTC 7.5-02-01-03"
LATTICE = "vortex lattice, run for this project"
VORTICES = "200 vortices and their image, run for this project"

PUBLISHED = (
    Published("density of fresh water, 15 °C", ITTC_WATER, "kg/m³", 999.1026, 1e-5, lambda: _fresh().density),
    Published("viscosity of fresh water, 15 °C", ITTC_WATER, "m²/s", 1.1386e-6, 1e-3, lambda: _fresh().viscosity),
    Published("vapour pressure of fresh water, 15 °C", ITTC_WATER, "Pa", 1705.8, 1e-3, lambda: _fresh().vapour_pressure),
    Published("density of sea water, 15 °C", ITTC_WATER, "kg/m³", 1026.0210, 1e-4, lambda: _sea().density),
    Published("viscosity of sea water, 15 °C", ITTC_WATER, "m²/s", 1.1892e-6, 5e-4, lambda: _sea().viscosity),
    Published("depth over wave length, at 0.1 of the deep one", SPM, "", 0.14098, 1e-4, lambda: _depth_over_length(0.1), True),
    Published("group speed over deep wave speed, there", SPM, "", 0.57472, 1e-4, lambda: _group_speed_share(0.1), True),
    Published("water speed half way down, 0.2 m wave in 1 m", "Airy's linear theory", "m/s", 0.193778, 1e-6,
              _orbital_speed, True),
    Published("waves of 1 s met head on at 5 m/s", "deep-water encounter formula", "Hz", 4.2024, 1e-4, _encounter, True),
    Published("height over length at breaking, kd = 1", "Miche 1944", "", 0.1081, 0.01, _breaking),
    Published("zero-crossing over peak period", "ITTC spectrum, by its moments", "", 0.7103707, 1e-3,
              lambda: _moment_period(1.0, 2)),
    Published("mean over peak period, peakedness 3.3", "DNV-RP-C205, 3.5.5", "", 0.83477, 3e-3, lambda: _moment_period(3.3, 1)),
    Published("JONSWAP at 1 Hz, 10 cm and 1.5 s", "Hasselmann et al. 1973, integrated", "m²/Hz", 3.162253e-4, 1e-4, _ordinate),
    Published(
        "sea of 21.9 m/s over 53.9 km, 7 m deep", "Young & Verhagen 1996, worked example", "m", 1.637125, 1e-4,
        lambda: spectra.young_verhagen(21.9444, 53890.0, 7.0).significant_height,
    ),
    Published(
        "peak of the spreading, exponent 10", "Mitsuyasu et al. 1975", "1/rad", 0.903278, 1e-5,
        lambda: float(spectra.spreading(np.array([0.0]), 10.0)[0]),
    ),
    Published(
        "lift slope, aspect ratio 6, deep", LATTICE, "1/rad", 4.2143, 0.08,
        lambda: foil.lift_slope(SECTION, 6.0, 1.0, 0.0, 1.0),
    ),
    Published(
        "lift of an endless foil half a chord deep, over deep", VORTICES, "", 0.85452, 1e-4,
        lambda: foil.surface_factor(0.5), True,
    ),
    Published("biplane factor, gap 0.2 of the span", "Prandtl, NACA TR 116", "", 0.4849, 0.04,
              lambda: foil.biplane_factor(0.2)),
    Published("lift one chord deep, aspect ratio 4, fast, over deep", LATTICE, "", 0.9101, 0.05,
              lambda: _at_depth(4.0, 1.0, 1e6)),
    Published("the same, aspect ratio 6, Froude number 3", LATTICE, "", 0.848, 0.05, lambda: _at_depth(6.0, 1.0, 3.0)),
    Published("lift one chord travelled after a step", "Jones, NACA TR 681", "", 0.832, 1e-3,
              lambda: _indicial(6.0, 2.0), True),
    Published("added mass of a plate 1 : 6", "DNV-RP-C205", "", 0.9135, 0.003, lambda: foil.plate_added_mass(6.0), True),
    Published("side-force slope, aspect ratio 2", "Helmbold 1942", "1/rad", 2.6026, 1e-4, lambda: strut.helmbold_slope(2.0)),
    Published("friction at Reynolds number 1e6", "ITTC 7.5-02-02-01", "", 0.0046875, 1e-6,
              lambda: strut.friction_line(1e6), True),
    Published("form factor, thickness 15 %", "Hoerner 1965, ch. 6", "", 1.3304, 1e-4, lambda: strut.form_factor(0.15), True),
    Published(
        "junction drag on thickness², 12 %", "Hoerner 1965, ch. 8", "", 0.195, 5e-3,
        lambda: strut.junction_drag_area(0.006, 0.05) / 0.006**2,
    ),
    Published("spray of a 6 mm strut at 5 m/s", "Hoerner 1965, ch. 10", "N", 0.1079, 2e-3, _spray),
    Published("water entry of a wedge of 20°", "von Karman, NACA TN 321", "", 23.72, 1e-3, _entry),
    Published("best efficiency at thrust coefficient 1", "Froude's momentum theory", "", 0.82843, 1e-5, _disc_efficiency),
    Published("overshoot of a servo of damping 0.4", "second order, exp(-πζ/√(1-ζ²))", "", 0.25383, 1e-4, _overshoot, True),
)  # fmt: skip

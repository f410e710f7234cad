"""Which of our functions answers which outside value: one comparison a column of a reference's table."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial
from typing import NamedTuple

from sweep.checks import answers as our
from sweep.checks.references import Row
from sweep.model.physics import flap, foil, strut

PRINTED = "the source prints no more figures"


class Comparison(NamedTuple):
    """A column of a reference's table beside a function of its rows.

    place: which row, as a format of its columns; tolerance, absolute: in place of the reference's, with the reason;
    cited: the source in short, in place of the reference's; only: which rows.
    """

    section: str
    topic: str
    table: str
    column: str
    quantity: str
    unit: str
    place: str
    ours: Callable[[Row], float]
    cited: str = ""
    tolerance: float | None = None
    absolute: bool | None = None
    reason: str = ""
    only: Callable[[Row], bool] | None = None


WATER = [
    *(
        Comparison("3", "water", "fresh", column, f"{name} of fresh water", unit, "{temperature degC:g} °C", answer)
        for column, name, unit, answer in (
            ("density kg/m3", "density", "kg/m³", lambda row: our.fresh(row).density),
            ("viscosity m2/s", "viscosity", "m²/s", lambda row: our.fresh(row).viscosity),
            ("vapour pressure Pa", "vapour pressure", "Pa", lambda row: our.fresh(row).vapour_pressure),
        )
    ),
    *(
        Comparison("3", "water", table, column, f"{name} of sea water", unit, "{temperature degC:g} °C", answer)
        for table, column, name, unit, answer in (
            ("sea_density", "density kg/m3", "density", "kg/m³", lambda row: our.sea(row).density),
            ("sea_density_at_the_surface", "density kg/m3", "density", "kg/m³", lambda row: our.sea(row).density),
            ("sea_viscosity", "viscosity m2/s", "viscosity", "m²/s", lambda row: our.sea(row).viscosity),
            ("sea_vapour_pressure", "vapour pressure Pa", "vapour pressure", "Pa", lambda row: our.sea(row).vapour_pressure),
        )
    ),
    Comparison("3", "water", "cavitation_number", "cavitation number", "cavitation number 10 cm down", "", "{speed m/s:g} m/s",
               our.cavitation),
]  # fmt: skip

WAVES = [
    *(
        Comparison("1.1", "dispersion", "table_c1", column, name, "", "depth {d/L0:g} of the deep-water length", answer)
        for column, name, answer in (
            ("d/L", "depth over wave length", lambda row: our.table_c1(row)[0] / our.THIN),
            ("tanh", "tanh of depth x wave number", lambda row: math.tanh(our.table_c1(row)[0])),
            ("Cg/C0", "group speed over deep wave speed", lambda row: our.table_c1(row)[1]),
            ("n", "group speed over wave speed", lambda row: our.table_c1(row)[1] / our.table_c1(row)[2]),
            ("H/H0'", "shoaling", lambda row: 1.0 / math.sqrt(2.0 * our.table_c1(row)[1])),
        )
    ),
    *(
        Comparison("1.1", "dispersion", "waves", column, name, unit, "{period s:g} s over {depth m:g} m", answer,
                   tolerance=allowed, reason=PRINTED)
        for column, name, unit, answer, allowed in (
            ("wave number 1/m", "wave number", "1/m", lambda row: our.wave(row)[1], 3e-6),
            ("length m", "wave length", "m", lambda row: our.THIN / our.wave(row)[1], 2e-5),
            ("speed m/s", "wave speed", "m/s", lambda row: our.wave(row)[0] / our.wave(row)[1], 1e-5),
            ("group speed m/s", "group speed", "m/s", lambda row: our.wave(row)[2], 1e-5),
        )
    ),
    Comparison("1.1", "dispersion", "worked_example", "length m", "wave length, worked example", "m", "10 s over 3 m",
               lambda row: our.THIN / our.wave(row)[1]),
    Comparison("1.1", "dispersion", "worked_example", "speed m/s", "wave speed, worked example", "m/s", "10 s over 3 m",
               lambda row: our.wave(row)[0] / our.wave(row)[1]),
    Comparison("1.1", "dispersion", "deep", "length m", "wave length, deep", "m", "{period s:g} s",
               lambda row: our.THIN / our.wave(row)[1]),
    Comparison("1.2", "orbital_velocity", "airy", "horizontal m/s", "water speed along the wave", "m/s", "z = {z m:g} m",
               lambda row: our.orbital(row, 0.0, 0)),
    Comparison("1.2", "orbital_velocity", "airy", "vertical m/s", "water speed upwards", "m/s", "z = {z m:g} m",
               lambda row: -our.orbital(row, 0.75 * 1.5, 2)),
    Comparison("1.2", "orbital_velocity", "airy_horizontal", "horizontal m/s", "water speed along the wave", "m/s",
               "z = {z m:g} m", lambda row: our.orbital(row, 0.0, 0)),
    Comparison("1.2", "orbital_velocity", "deep_decay", "decay", "water speed over that at the surface", "",
               "{period s:g} s, {depth m:g} m down", our.decay),
    Comparison("1.3", "dispersion", "breaking", "height over length", "height over length at breaking", "", "kd = {kd:.3g}",
               our.breaking),
    *(
        Comparison("1.4", "encounter", "frequency", f"{name} Hz", f"encounter frequency, {name} seas", "Hz",
                   "{period s:g} s at {speed m/s:g} m/s", partial(our.encounter, degrees=degrees))
        for name, degrees in (("head", 180.0), ("beam", 90.0), ("following", 0.0))
    ),
    *(
        Comparison("1.4", "encounter", "contouring", f"{name} g", f"acceleration to follow the surface, {name} seas", "g",
                   "{period s:g} s", partial(our.contouring, degrees=degrees), tolerance=5e-3, absolute=True,
                   reason=PRINTED)
        for name, degrees in (("head", 180.0), ("following", 0.0))
    ),
    Comparison("1.4", "encounter", "incidence", "incidence deg", "incidence by the water's own motion", "deg", "{period s:g} s",
               our.incidence),
]  # fmt: skip

SEAS = [
    *(
        Comparison("2.1", "spectra", "bretschneider_moments", column, name, "", "", answer)
        for column, name, answer in (
            ("T1/Tp", "mean over peak period, ITTC spectrum", lambda row: our.mean_period(1.0)),
            ("Tz/Tp", "zero-crossing over peak period, ITTC spectrum", lambda row: our.crossing_period(1.0)),
            ("Te/Tp", "energy over peak period, ITTC spectrum", lambda row: our.energy_period(1.0)),
            ("T1/Tz", "mean over zero-crossing period, ITTC spectrum",
             lambda row: our.mean_period(1.0) / our.crossing_period(1.0)),
        )
    ),
    *(
        Comparison("2.1", "spectra", "bretschneider_cut", column, name, "", "cut at {cut over peak:g} times the peak", answer)
        for column, name, answer in (
            ("share of m0", "energy of a spectrum cut short", lambda row: our.moment(0, 1.0, row["cut over peak"]) * 16.0),
            ("Tz/Tp", "zero-crossing period of a spectrum cut short",
             lambda row: our.crossing_period(1.0, row["cut over peak"])),
        )
    ),
    *(
        Comparison("2.1", "spectra", table, column, f"{name} of the ITTC spectrum", "", "", answer)
        for table, column, name, answer in (
            ("ittc_coefficients", "A T1^4 / H^2", "A T1⁴ / H²", lambda row: our.form_in(our.mean_period(1.0))[0]),
            ("ittc_coefficients", "B T1^4", "B T1⁴", lambda row: our.form_in(our.mean_period(1.0))[1]),
            ("zero_crossing_form", "A Tz^4 / H^2", "A Tz⁴ / H²", lambda row: our.form_in(our.crossing_period(1.0))[0]),
            ("zero_crossing_form", "B Tz^4", "B Tz⁴", lambda row: our.form_in(our.crossing_period(1.0))[1]),
        )
    ),
    *(
        Comparison("2.2", "spectra", table, column, name, "", "peakedness {gamma:g}", answer)
        for table, column, name, answer in (
            ("jonswap_normaliser", "C", "normaliser of JONSWAP", our.normaliser),
            ("jonswap_normaliser", "T1/Tp", "mean over peak period, JONSWAP", lambda row: our.mean_period(row["gamma"])),
            ("jonswap_normaliser", "Tz/Tp", "zero-crossing over peak period, JONSWAP",
             lambda row: our.crossing_period(row["gamma"])),
            ("jonswap_normaliser", "Te/Tp", "energy over peak period, JONSWAP", lambda row: our.energy_period(row["gamma"])),
            ("jonswap_periods", "A", "normaliser of JONSWAP", our.normaliser),
            ("jonswap_periods", "T1/Tp", "mean over peak period, JONSWAP", lambda row: our.mean_period(row["gamma"])),
            ("jonswap_periods", "Tz/Tp", "zero-crossing over peak period, JONSWAP",
             lambda row: our.crossing_period(row["gamma"])),
        )
    ),
    *(
        Comparison("2.2", "spectra", table, column, name, "m²/Hz", "{frequency Hz:.3g} Hz, 10 cm, 1.5 s", answer)
        for table, column, name, answer in (
            ("ordinates", "bretschneider m2/Hz", "ITTC spectrum", lambda row: our.ordinate(row, 1.0)),
            ("ordinates", "jonswap 3.3 m2/Hz", "JONSWAP spectrum", lambda row: our.ordinate(row, 3.3)),
            ("jonswap_public", "jonswap 3.3 m2/Hz", "JONSWAP spectrum", lambda row: our.ordinate(row, 3.3)),
        )
    ),
    *(
        Comparison("2.4", "growth", table, column, f"wave {name} by wind and fetch", unit,
                   "{wind m/s:.3g} m/s over {fetch m:.3g} m", partial(our.grown, law=law, at=at))
        for table, law in (
            ("young_verhagen_example", "young"), ("young_verhagen", "young"), ("young_verhagen_small", "young"),
            ("jonswap", "jonswap"), ("jonswap_small", "jonswap"),
        )
        for at, (column, name, unit) in enumerate((("Hm0 m", "height", "m"), ("Tp s", "period", "s")))
    ),
    *(
        Comparison("2.8", "wind", table, "U/U10", f"{name} near the water over wind 10 m up", "", place, our.wind_aloft,
                   reason="our roughness is the WMO's of open water, 1.5 to 4 times what these laws have in such winds")
        for table, name, place in (
            ("lowest_metres_moderate", "wind", "{height m:g} m"),
            ("lowest_metres_by_wind", "wind by its strength", "{wind m/s:g} m/s, {height m:g} m"),
        )
    ),
    Comparison("2.8", "wind", "pressure", "pressure N/m2", "pressure of the wind", "N/m²", "{wind m/s:g} m/s",
               our.wind_pressure),
    Comparison("2.6", "spreading", "peak", "peak 1/rad", "peak of the spreading", "1/rad", "exponent {exponent:g}",
               lambda row: our.spread_peak(row)),
    Comparison("2.6", "spreading", "peak", "circular spread deg", "circular spread", "deg", "exponent {exponent:g}",
               our.circular_spread, tolerance=0.006, absolute=True, reason=PRINTED),
    Comparison("2.6", "spreading", "cartwright", "peak 1/deg", "peak of the spreading", "1/deg", "exponent {exponent:g}",
               lambda row: our.spread_peak(row) * math.pi / 180.0),
]  # fmt: skip

FOILS = [
    *(
        Comparison("5.1", "lift_slope", table, "vortex lattice", "lift slope of a foil, deep", "1/rad",
                   "aspect ratio {aspect ratio:g}", our.deep_slope, tolerance=0.08,
                   reason="a formula for all aspect ratios, beside lattices that differ by 2 % among themselves")
        for table in ("rectangular", "other_lattice")
    ),
    Comparison("5.1", "lift_slope", "rectangular", "helmbold", "side-force slope of a strut", "1/rad",
               "aspect ratio {aspect ratio:g}", lambda row: strut.helmbold_slope(row["aspect ratio"]), cited="Helmbold 1942"),
    Comparison("5.1", "lift_slope", "rectangular", "efficiency", "span efficiency", "", "aspect ratio {aspect ratio:g}",
               lambda row: foil.SPAN_EFFICIENCY, tolerance=0.055,
               reason="one number for all planforms: builders' foils are not rectangles"),
    Comparison("5.2", "control_surfaces", "flap", "effectiveness", "effectiveness of a flap", "",
               "{chord share:g} of the chord", lambda row: foil.flap_effectiveness(row["chord share"])),
    Comparison("5.2", "flaps", "tunnel", "effectiveness", "effectiveness of a flap in a tunnel", "",
               "{chord share:g} of the chord", our.flap_in_tunnel, cited="Hoerner & Borst 1975, ch. 9"),
    Comparison("5.2", "flaps", "separation", "share left", "share of its angle that a flap counts for", "",
               "{chord share:g} of the chord, {deflection deg:g}°", our.flap_left, cited="DATCOM, figure 6.1.1.1-40"),
    Comparison("5.2", "flaps", "ideal", "lift per rad", "lift of a flap without friction", "1/rad",
               "{thickness ratio:.0%} thick, {chord share:g} of the chord",
               lambda row: flap.ideal_lift(row["chord share"], row["thickness ratio"]), cited="DATCOM, figure 6.1.1.1-39a"),
    Comparison("5.2", "flaps", "friction", "lift left", "share of a flap's lift that friction leaves", "",
               "{chord share:g} of the chord, slope {slope left:g}", our.flap_friction, cited="DATCOM, figure 6.1.1.1-39b"),
    Comparison("5.2", "flaps", "largest_lift", "share", "growth of the largest lift with a flap", "", "{deflection deg:g}°",
               lambda row: float(flap.growth(math.radians(row["deflection deg"]))), cited="DATCOM, figure 6.1.1.3-13a"),
    Comparison("5.2", "flaps", "moment", "moment", "moment of a section by its flap", "",
               "{chord share:g} of the chord, {deflection deg:g}°", our.flap_moment, cited="DATCOM, figure 6.1.2.1-35b",
               reason="the chart itself goes up and down with the share"),
    Comparison("5.2", "flaps", "drag", "drag", "drag of a flap at 15°", "", "{chord share:g} of the chord",
               lambda row: flap.drag_term(row["chord share"]) * math.sin(math.radians(15.0)) ** 2,
               cited="Roskam 1990, figure 4.44"),
    *(
        Comparison("5.2", "flaps", f"hinge_by_{table}{ending}", column, f"{name} a flap's hinge moment by its {table}", unit,
                   "{" + f"{first}" + "}, {chord share:g} of the chord", partial(answer, hinge=hinge),
                   cited=f"DATCOM, figure {figure}")
        for table, hinge, charts in (("angle", flap.hinge_by_angle, ("6.1.3.1-11a", "6.1.3.1-11b")),
                                     ("deflection", flap.hinge_by_deflection, ("6.1.3.2-12a", "6.1.3.2-12b")))
        for ending, column, name, unit, first, answer, figure in (
            ("", "per rad", "ideal", "1/rad", "thickness ratio:.0%", our.hinge_ideal, charts[0]),
            ("_friction", "left", "friction on", "", "slope left:g", our.hinge_friction, charts[1]),
        )
    ),
    Comparison("5.3", "depth_effect", "flat_plate", "flat plate", "lift of an endless foil over its lift when deep", "",
               "{h/c:g} chords deep", lambda row: foil.surface_factor(row["h/c"])),
    Comparison("5.3", "depth_effect", "biplane", "sigma", "biplane factor", "", "gap {gap over span:g} of the span",
               lambda row: foil.biplane_factor(row["gap over span"]), cited="Prandtl, NACA TR 116"),
    Comparison("5.3", "depth_effect", "rectangular_infinite_froude", "lift ratio", "lift over lift when deep, fast", "",
               "aspect ratio {aspect ratio:g}, {h/c:g} chords deep", our.at_depth, only=lambda row: row["h/c"] >= 0.5,
               reason="from half a chord down; nearer the surface ours is up to 8 % low, and no theory holds"),
    Comparison("5.3", "depth_effect", "rectangular_infinite_froude", "induced drag ratio", "induced drag over deep", "",
               "aspect ratio {aspect ratio:g}, {h/c:g} chords deep", our.induced, tolerance=0.1,
               reason="one factor for all planforms"),
    Comparison("5.3", "depth_effect", "rectangular_froude", "lift ratio", "lift over lift when deep, by speed", "",
               "aspect ratio {aspect ratio:g}, {h/c:g} chords, Froude {froude:g}", our.at_depth),
    *(
        Comparison("6.3", "indicial_lift", table, name, "lift after a step over steady lift", "",
                   f"aspect ratio {name}, " + "s = {s:g}", partial(our.indicial, aspect_ratio=float(name)))
        for table, names in (("finite_span", ("3", "4", "6", "8")), ("jones", ("3", "6")))
        for name in names
    ),
    Comparison("6.4", "added_mass", "rectangular_plate", "factor", "added mass of a plate", "", "1 : {b/a:g}",
               lambda row: foil.plate_added_mass(row["b/a"])),
]  # fmt: skip

STRUTS_AND_HULL = [
    Comparison("4", "friction", "ittc_57", "friction", "friction line", "", "Reynolds number {reynolds:.0e}",
               lambda row: strut.friction_line(row["reynolds"])),
    Comparison("4", "friction", "form_factor", "form factor", "form factor of a section", "",
               "{thickness over chord:.0%} thick", lambda row: strut.form_factor(row["thickness over chord"])),
    Comparison("4", "friction", "junction", "drag coefficient", "junction drag on thickness²", "",
               "{thickness over chord:.0%} thick", our.junction),
    Comparison("4", "friction", "spray", "drag N", "spray of a strut of 6 mm", "N", "{speed m/s:g} m/s", our.spray),
    Comparison("7", "planing", "water_entry", "von karman", "water entry of a wedge", "", "{deadrise deg:g}°", our.entry,
               cited="von Karman, NACA TN 321"),
]  # fmt: skip

DRIVE_AND_LOOPS = [
    Comparison("8", "propulsor", "actuator_disc", "efficiency", "ideal efficiency of a propeller", "",
               "thrust coefficient {thrust coefficient:g}", our.disc_efficiency),
    Comparison("8", "propulsor", "static_thrust", "thrust N", "largest thrust at rest", "N", "{power W:g} W, {diameter m:g} m",
               our.static_thrust),
    Comparison("9", "control_surfaces", "overshoot", "overshoot", "overshoot of a servo", "",
               "damping {damping:g}", our.overshoot),
    Comparison("9", "control_surfaces", "settling", "time x frequency", "time in which a servo settles to 2 %", "",
               "damping {damping:g}", our.settling),
    *(
        Comparison("9", "loop_margins", table, column, name, unit, "{loop}", answer)
        for table, column, name, unit, answer in (
            ("margins", "gain margin", "gain margin", "", lambda row: our.loop(row).gain),
            ("margins", "gain frequency", "frequency of the gain margin", "rad/s", lambda row: our.loop(row).gain_frequency),
            ("margins", "phase margin", "phase margin", "deg", lambda row: math.degrees(our.loop(row).phase)),
            ("margins", "phase frequency", "frequency of the phase margin", "rad/s", lambda row: our.loop(row).phase_frequency),
            ("margins", "delay margin", "delay margin", "s", lambda row: our.loop(row).delay),
            ("margins", "sensitivity", "peak of sensitivity", "", lambda row: our.loop(row).sensitivity),
            ("unstable", "gain margin", "gain that turns an unstable loop stable", "", lambda row: our.loop(row).least_gain),
            ("unstable", "phase margin", "phase margin", "deg", lambda row: math.degrees(our.loop(row).phase)),
            ("no_gain_margin", "phase margin", "phase margin", "deg", lambda row: math.degrees(our.loop(row).phase)),
            ("no_gain_margin", "delay margin", "delay margin", "s", lambda row: our.loop(row).delay),
            ("no_gain_margin", "sensitivity", "peak of sensitivity", "", lambda row: our.loop(row).sensitivity),
            ("ultimate", "ultimate gain", "ultimate gain", "", lambda row: our.loop(row).gain),
            ("ultimate", "ultimate period", "ultimate period", "s", lambda row: our.THIN / our.loop(row).gain_frequency),
        )
    ),
    Comparison("9", "loop_margins", "second_order", "phase margin", "phase margin of a second-order loop", "deg",
               "damping {damping:g}", our.second_order),
]  # fmt: skip

STATISTICS = [
    Comparison("10", "statistics", "student", "t", "half width of a 95 % interval, in standard errors", "",
               "{degrees of freedom:g} degrees of freedom", our.student),
    *(
        Comparison("10", "statistics", "proportions", column, f"{column} bound of a share", "",
                   "{successes} of {trials}", partial(our.exact_bound, upper=bool(upper)), only=our.is_exact)
        for upper, column in enumerate(("low", "high"))
    ),
]  # fmt: skip

COMPARISONS: tuple[Comparison, ...] = (*WATER, *WAVES, *SEAS, *FOILS, *STRUTS_AND_HULL, *DRIVE_AND_LOOPS, *STATISTICS)

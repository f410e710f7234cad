"""The quantities that a flight reports: one table for columns, documents and chart axes.

The order here is the order of the columns everywhere.
"""

from __future__ import annotations

import math
from typing import NamedTuple

DEGREES = math.degrees(1.0)  # in a radian


class Quantity(NamedTuple):
    """One response: `scale` turns the SI value into the unit shown to people."""

    name: str
    unit: str
    scale: float
    meaning: str
    low: float
    high: float


RESPONSES: tuple[Quantity, ...] = (
    Quantity(
        "ride_height_error",
        "cm",
        100.0,
        "root mean square of keel height above the local water, against the wanted height",
        0.0,
        0.5,
    ),
    Quantity("ride_height_bias", "cm", 100.0, "mean of that error: positive rides high", -0.5, 0.5),
    Quantity("ride_height_deviation", "cm", 100.0, "standard deviation of that error", 0.0, 0.5),
    Quantity("ride_height_error_p99", "cm", 100.0, "99th percentile of the size of that error", 0.0, 0.5),
    Quantity(
        "level_height_error",
        "cm",
        100.0,
        "root mean square of keel height above the calm level, against the wanted height",
        0.0,
        0.5,
    ),
    Quantity("level_height_bias", "cm", 100.0, "mean of that error", -0.5, 0.5),
    Quantity("level_height_deviation", "cm", 100.0, "standard deviation of that error", 0.0, 0.5),
    Quantity("level_height_error_p99", "cm", 100.0, "99th percentile of the size of that error", 0.0, 0.5),
    Quantity("clearance_p01", "cm", 100.0, "lowest hull station above the water, 1st percentile", -0.5, 0.5),
    Quantity("clearance_least", "cm", 100.0, "lowest hull station above the water, least", -0.5, 0.5),
    Quantity("submergence_p01", "cm", 100.0, "depth of the shallowest foil tip, 1st percentile", -0.5, 1.0),
    Quantity("submergence_least", "cm", 100.0, "depth of the shallowest foil tip, least", -0.5, 1.0),
    Quantity("outside_window", "%", 100.0, "share of foilborne time outside the ride window", 0.0, 1.0),
    Quantity("foil_outs", "/min", 60.0, "foil out: a tip under half a chord deep for 50 ms", 0.0, 5.0),
    Quantity("ventilations", "/min", 60.0, "foil ventilated", 0.0, 5.0),
    Quantity("broaches", "/min", 60.0, "foil out or ventilated", 0.0, 5.0),
    Quantity("plunges", "/min", 60.0, "keel under the water while foilborne for 0.1 s", 0.0, 5.0),
    Quantity("headings_lost", "/min", 60.0, "heading over 20 degrees off, or rudder at its limit for 0.5 s", 0.0, 5.0),
    Quantity("touchdowns", "/min", 60.0, "any part of the hull in the water while foilborne", 0.0, 5.0),
    Quantity("licks", "/min", 60.0, "touchdowns under 0.1 s and under 5 % of the weight", 0.0, 5.0),
    Quantity("wet_share", "%", 100.0, "share of time with the hull in the water", 0.0, 1.0),
    Quantity("hull_impulse", "%", 100.0, "hull force over weight, mean", 0.0, 5.0),
    Quantity("time_foilborne", "s", 1.0, "scored time foilborne", 0.0, 3600.0),
    Quantity("time_flown", "s", 1.0, "scored time flown before any early end", 0.0, 3600.0),
    Quantity("lost_flights", "count", 1.0, "losses of flight: the hull carries over half the weight for 1 s", 0.0, 100.0),
    Quantity("upsets", "count", 1.0, "1 if the flight ended in an upset or under water", 0.0, 1.0),
    Quantity("vertical_acceleration", "m/s^2", 1.0, "root mean square at the centre of gravity", 0.0, 50.0),
    Quantity("pitch_rms", "deg", DEGREES, "root mean square of pitch about its mean", 0.0, 1.0),
    Quantity("roll_rms", "deg", DEGREES, "root mean square of roll", 0.0, 1.0),
    Quantity("roll_peak", "deg", DEGREES, "largest roll either way", 0.0, 3.2),
    Quantity("speed_mean", "m/s", 1.0, "mean speed over ground", 0.0, 20.0),
    Quantity("power_mean", "W", 1.0, "mean battery power", 0.0, 10000.0),
    Quantity("energy_per_metre", "J/m", 1.0, "battery energy over distance", 0.0, 10000.0),
    Quantity("servo_travel", "deg/s", DEGREES, "mean travel of the foil servos a second, each", 0.0, 20.0),
    Quantity("servo_at_limit", "%", 100.0, "share of time with any foil at its travel limit", 0.0, 1.0),
    Quantity("rangefinder_faults", "/min", 60.0, "readings that did not come or were wrong", 0.0, 100.0),
    Quantity("blind_readings", "/min", 60.0, "readings closer than the blind range", 0.0, 100.0),
    Quantity("refused_readings", "/min", 60.0, "readings that the gate refused", 0.0, 100.0),
    Quantity("power_peak", "W", 1.0, "largest battery power", 0.0, 1e5),
    Quantity("take_off_time", "s", 1.0, "from rest until the foils carry the craft", 0.0, 3600.0),
    Quantity("take_off_distance", "m", 1.0, "from rest until the foils carry the craft", 0.0, 1e4),
    Quantity("encounters", "count", 1.0, "waves met in the scored time (mean encounter period)", 0.0, 1e5),
    Quantity("ventilated_share", "%", 100.0, "share of foilborne time with a foil ventilated", 0.0, 1.0),
    Quantity("strut_ventilations", "/min", 60.0, "air ran down a strut", 0.0, 5.0),
    Quantity("lean_peak", "deg", DEGREES, "largest roll beyond the bank that was wanted", 0.0, 3.2),
    Quantity(
        "cavitation_margin",
        "",
        1.0,
        "cavitation number less suction of the foils, least; under 0 a foil may cavitate",
        -5.0,
        1e3,
    ),
    Quantity("beyond_polar", "%", 100.0, "share of foilborne time with a foil beyond its section's data", 0.0, 1.0),
    Quantity("battery_range", "km", 0.001, "distance on a full battery at this power", 0.0, 1e6),
)

RESPONSE_NAMES: tuple[str, ...] = tuple(quantity.name for quantity in RESPONSES)
RESPONSE: dict[str, Quantity] = {quantity.name: quantity for quantity in RESPONSES}

FLEW, UPSET, UNDER_WATER, NO_TRIM, NOT_A_NUMBER = range(5)
"""How a flight ended: places in the two tables."""

STATUS_SENTENCES: tuple[str, ...] = (
    "flew to the end",
    "upset: rolled past 35 degrees or pitched past 45",
    "went under: the deck was under water for half a second",
    "could not start: no trim within foil travel and thrust at this speed",
    "stopped: the numbers of this flight left the range of the model",
)
STATUS_NAMES: tuple[str, ...] = ("flew", "upset", "under-water", "no-trim", "not-a-number")

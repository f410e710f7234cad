"""The quantities that a flight reports: one table for columns, documents and chart axes.

The order here is the order of the columns everywhere.
"""

from __future__ import annotations

import math
from typing import NamedTuple

DEGREES = math.degrees(1.0)  # in a radian


FAR = 100.0  # m: no craft leaps or sinks so far from the water
OFTEN = 2000.0  # a second: once a step, of which the shortest takes 0.6 ms
HARD = 2000.0  # times its weight: twice the acceleration at which a flight has left the model
FASTEST = 100.0  # m/s: three times the fastest that a campaign may ask for
LONGEST = 3600.0  # s: no campaign asks for a longer flight


class Quantity(NamedTuple):
    """One response: `scale` turns the SI value into the unit shown to people.

    low, high (SI): what it may be at most, by what it is or, where that says nothing, by judgement: beyond is no result.
    """

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
        FAR,
    ),
    Quantity("ride_height_bias", "cm", 100.0, "mean of that error: positive rides high", -FAR, FAR),
    Quantity("ride_height_deviation", "cm", 100.0, "standard deviation of that error", 0.0, FAR),
    Quantity("ride_height_error_p99", "cm", 100.0, "99th percentile of the size of that error", 0.0, FAR),
    Quantity(
        "level_height_error",
        "cm",
        100.0,
        "root mean square of keel height above the calm level, against the wanted height",
        0.0,
        FAR,
    ),
    Quantity("level_height_bias", "cm", 100.0, "mean of that error", -FAR, FAR),
    Quantity("level_height_deviation", "cm", 100.0, "standard deviation of that error", 0.0, FAR),
    Quantity("level_height_error_p99", "cm", 100.0, "99th percentile of the size of that error", 0.0, FAR),
    Quantity("clearance_p01", "cm", 100.0, "lowest hull station above the water, 1st percentile", -FAR, FAR),
    Quantity("clearance_least", "cm", 100.0, "lowest hull station above the water, least", -FAR, FAR),
    Quantity("submergence_p01", "cm", 100.0, "depth of the shallowest foil tip, 1st percentile", -FAR, FAR),
    Quantity("submergence_least", "cm", 100.0, "depth of the shallowest foil tip, least", -FAR, FAR),
    Quantity("outside_window", "%", 100.0, "share of foilborne time outside the ride window", 0.0, 1.0),
    Quantity("foil_outs", "/min", 60.0, "foil out: a tip under half a chord deep for 50 ms", 0.0, OFTEN),
    Quantity("ventilations", "/min", 60.0, "foil ventilated", 0.0, OFTEN),
    Quantity("broaches", "/min", 60.0, "foil out or ventilated", 0.0, OFTEN),
    Quantity("plunges", "/min", 60.0, "keel under the water while foilborne for 0.1 s", 0.0, OFTEN),
    Quantity("headings_lost", "/min", 60.0, "heading over 20 degrees off, or rudder at its limit for 0.5 s", 0.0, OFTEN),
    Quantity("touchdowns", "/min", 60.0, "any part of the hull in the water while foilborne", 0.0, OFTEN),
    Quantity("licks", "/min", 60.0, "touchdowns under 0.1 s and under 5 % of the weight", 0.0, OFTEN),
    Quantity("wet_share", "%", 100.0, "share of time with the hull in the water", 0.0, 1.0),
    Quantity("hull_impulse", "%", 100.0, "hull force over weight, mean", 0.0, HARD),
    Quantity("time_foilborne", "s", 1.0, "scored time foilborne", 0.0, LONGEST),
    Quantity("time_flown", "s", 1.0, "scored time flown before any early end", 0.0, LONGEST),
    Quantity("lost_flights", "count", 1.0, "losses of flight: the hull carries over half the weight for 1 s", 0.0, LONGEST),
    Quantity("upsets", "count", 1.0, "1 if the flight ended in an upset, under water or aground", 0.0, 1.0),
    Quantity("vertical_acceleration", "m/s^2", 1.0, "root mean square at the centre of gravity", 0.0, HARD * 9.81),
    Quantity("pitch_rms", "deg", DEGREES, "root mean square of pitch about its mean", 0.0, 1.0),
    Quantity("roll_rms", "deg", DEGREES, "root mean square of roll", 0.0, 1.0),
    Quantity("roll_peak", "deg", DEGREES, "largest roll either way", 0.0, 3.2),
    Quantity("speed_mean", "m/s", 1.0, "mean speed over ground", 0.0, FASTEST),
    Quantity("power_mean", "W", 1.0, "mean battery power", 0.0, 1e7),
    Quantity("energy_per_metre", "J/m", 1.0, "battery energy over the path travelled", 0.0, 1e9),
    Quantity("servo_travel", "deg/s", DEGREES, "mean travel of the foil servos a second, each", 0.0, 1e3),
    Quantity("servo_at_limit", "%", 100.0, "share of time with any foil at its travel limit", 0.0, 1.0),
    Quantity("rangefinder_faults", "/min", 60.0, "readings that did not come or were wrong", 0.0, OFTEN),
    Quantity("blind_readings", "/min", 60.0, "readings closer than the blind range", 0.0, OFTEN),
    Quantity("refused_readings", "/min", 60.0, "readings that the gate refused", 0.0, OFTEN),
    Quantity("power_peak", "W", 1.0, "largest battery power", 0.0, 1e7),
    Quantity("take_off_time", "s", 1.0, "from rest until the foils carry the craft", 0.0, LONGEST),
    Quantity("take_off_distance", "m", 1.0, "path from rest until the foils carry the craft", 0.0, FASTEST * LONGEST),
    Quantity("encounters", "count", 1.0, "waves met in the scored time (mean encounter period)", 0.0, 10.0 * LONGEST),
    Quantity("ventilated_share", "%", 100.0, "share of foilborne time with a foil ventilated", 0.0, 1.0),
    Quantity("strut_ventilations", "/min", 60.0, "air ran down a strut", 0.0, OFTEN),
    Quantity("lean_peak", "deg", DEGREES, "largest roll beyond the bank that was wanted", 0.0, 3.2),
    Quantity(
        "cavitation_margin",
        "",
        1.0,
        "cavitation number less suction of the foils, least; under 0 a foil may cavitate",
        -100.0,
        1e4,
    ),
    Quantity("beyond_polar", "%", 100.0, "share of foilborne time with a foil beyond its section's data", 0.0, 1.0),
    Quantity("battery_range", "km", 0.001, "path on a full battery at this power", 0.0, 1e9),
)

RESPONSE_NAMES: tuple[str, ...] = tuple(quantity.name for quantity in RESPONSES)
RESPONSE: dict[str, Quantity] = {quantity.name: quantity for quantity in RESPONSES}

FLEW, UPSET, UNDER_WATER, NO_TRIM, NOT_A_NUMBER, AGROUND = range(6)
"""How a flight ended: places in the two tables."""

STATUS_SENTENCES: tuple[str, ...] = (
    "flew to the end",
    "upset: rolled past 35 degrees or pitched past 45",
    "went under: the deck was under water for half a second",
    "could not start: no trim within foil travel and thrust at this speed",
    "no result: the numbers of this flight left the range of the model",
    "touched ground: a foil, a strut, a propeller or the hull was as deep as the water",
)
STATUS_NAMES: tuple[str, ...] = ("flew", "upset", "under-water", "no-trim", "not-a-number", "aground")


LARGEST = 1e15
"""What is larger is no number that a craft gave (judgement)."""

"""The responses of a flight: one table for sums, columns, documents and chart axes, and how sums become responses.

The order here is the order of the columns everywhere.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Generic, Literal, NamedTuple, TypeAlias, TypeVar

import numpy as np

from sweep.model.events import (
    FAR_BENT,
    FAR_TWISTED,
    HEAVY_LOAD,
    HEAVY_TIME,
    LICK_LOAD,
    LICK_TIME,
    LOST_HEADING,
    OUT_DEPTH,
    OUT_TIME,
    PLUNGE_TIME,
    REFERENCE_LENGTH,
    RUDDER_TIME,
    UNDER_TIME,
    UPSET_PITCH,
    UPSET_ROLL,
    in_words,
)

DEGREES = math.degrees(1.0)  # in a radian
SCALES = {
    **dict.fromkeys(("", "count", "m", "s", "m/s", "m/s^2", "W", "J/m"), 1.0),
    **{"mm": 1000.0, "cm": 100.0, "km": 0.001, "%": 100.0, "/min": 60.0, "deg": DEGREES, "deg/s": DEGREES, "MPa": 1e-6},
}
"""Factors from SI to the units that people read."""

T = TypeVar("T")


class Sums(NamedTuple, Generic[T]):
    """The sums of a scored flight, from `stepping.observe`: for each sum its index, or its values (flights,).

    A sum starts at zero; one whose name ends in `_least` starts at infinity, one in `_most` and the take-off's time below zero.
    Sums are over all scored steps, those of the ride over steps foilborne.
    """

    status: T  # how it ended, see STATUS_NAMES
    steps: T
    foilborne_steps: T
    # Over all scored steps
    wet: T
    hull_load: T  # share of the weight
    speed: T  # over ground, m/s
    power: T  # W
    power_peak: T
    roll_peak: T  # rad
    lean_peak: T
    strut_stress_most: T  # Pa; this and the next in the order of `records.Strain`
    strut_bend_most: T  # m
    strut_twist_most: T  # rad
    foil_stress_most: T
    foil_bend_most: T
    foil_twist_most: T
    strength_used_most: T
    bent_most: T  # over what is too far
    before_touchdown: T  # M17.18
    before_broach: T
    before_loss: T
    # Of the ride
    error: T  # of the height over the local water, m
    error_squared: T
    level: T  # of the height over the calm level, m
    level_squared: T
    outside_window: T
    acceleration_squared: T  # vertical, m/s2
    pitch: T  # rad
    pitch_squared: T
    roll_squared: T
    servo_travel: T  # mean of the foils, rad/s
    servo_at_limit: T
    ventilated: T
    beyond_polar: T
    clearance_least: T  # m
    submergence_least: T
    cavitation_least: T
    # Events
    touchdowns: T
    licks: T
    foil_outs: T
    ventilations: T
    strut_ventilations: T
    broaches: T
    plunges: T
    headings_lost: T
    lost_flights: T
    take_offs: T
    encounters: T
    # Readings before the scored time
    faulty_before: T
    blind_before: T
    refused_before: T
    # From rest
    take_off_time: T  # s, below zero before there is one
    take_off_path: T  # m


SUM = Sums(*range(len(Sums._fields)))
"""The place of each sum."""


class Histograms(NamedTuple, Generic[T]):
    """Histograms of a flight while foilborne: for each its index, or its counts (flights, BINS)."""

    error: T  # size of the ride-height error
    level: T  # size of the level-height error
    clearance: T
    submergence: T


HISTOGRAM = Histograms(*range(len(Histograms._fields)))
BINS = 1024  # of each histogram: judgement
BIN_WIDTH = 0.0005  # m, for a hull of `events.REFERENCE_LENGTH`
BELOW_ZERO = 128  # bins of clearance and submergence below zero

FAR = 100.0  # m: no craft leaps or sinks so far from the water
OFTEN = 2000.0  # a second: once a step, of which the shortest takes 0.6 ms
HARD = 2000.0  # times its weight: twice the acceleration at which a flight has left the model
FASTEST = 100.0  # m/s: three times the fastest that a campaign may ask for
LONGEST = 3600.0  # s: no campaign asks for a longer flight

FLEW, UPSET, UNDER_WATER, NO_TRIM, NOT_A_NUMBER, AGROUND = range(6)
CODE_CRASHED, CODE_HUNG, CODE_ENDLESS, CODE_NOT_A_NUMBER, CODE_OUT_OF_RANGE = range(6, 11)
DISARMED, LINK_LOST, RANGE_LOST, TILTED = range(11, 15)
"""How a flight ended: places in the two tables. Five are of the builder's own control code, and four of a boat that the control
code kept still at its end."""
CODE_FAILED = (CODE_CRASHED, CODE_HUNG, CODE_ENDLESS, CODE_NOT_A_NUMBER, CODE_OUT_OF_RANGE)
STOPPED = (DISARMED, LINK_LOST, RANGE_LOST, TILTED)
NO_RESULT = (NO_TRIM, NOT_A_NUMBER, *CODE_FAILED)
"""Flights without responses."""


class Readings(NamedTuple):
    """Of the rangefinders, since the start of each flight, (flights,)."""

    faulty: np.ndarray
    blind: np.ndarray
    refused: np.ndarray


class Totals(NamedTuple):
    """The totals of flights, and the ways to make a response from them; all results are (flights,), SI.

    step, settle: s; scale: length of the longest hull over the reference hull's; battery: energy when full, J.
    """

    sums: Sums[np.ndarray]
    histograms: Histograms[np.ndarray]
    readings: Readings
    step: float
    settle: float
    from_rest: bool
    scale: np.ndarray
    battery: np.ndarray

    @property
    def time(self) -> np.ndarray:
        """Scored time flown, s."""
        return self.sums.steps * self.step

    @property
    def time_foilborne(self) -> np.ndarray:
        """Scored time foilborne, s."""
        return self.sums.foilborne_steps * self.step

    @property
    def path(self) -> np.ndarray:
        """Path over ground, m; NaN for a path under one hull length, which is too short for an energy per metre."""
        path = self.sums.speed * self.step
        return np.where(path < REFERENCE_LENGTH * self.scale, np.nan, path)

    @property
    def energy(self) -> np.ndarray:
        """Energy from the battery, J."""
        return self.sums.power * self.step

    @property
    def battery_range(self) -> np.ndarray:
        """Path on a full battery, m."""
        return np.where(self.energy > 0.0, self.battery * self.path / self.energy, np.nan)

    @property
    def upset(self) -> np.ndarray:
        """1 for a flight that ended in an upset, under water or aground, else 0."""
        return np.isin(self.sums.status, (UPSET, UNDER_WATER, AGROUND)).astype(float)

    @property
    def take_off_time(self) -> np.ndarray:
        """Time from opening the throttle to take-off, s."""
        return np.maximum(self.sums.take_off_time - self.settle, 0.0)

    def mean(self, total: np.ndarray) -> np.ndarray:
        """Over the steps foilborne."""
        return total / self.sums.foilborne_steps

    def mean_of_all_time(self, total: np.ndarray) -> np.ndarray:
        """Over all scored steps."""
        return total / self.sums.steps

    def root_mean_square(self, squares: np.ndarray) -> np.ndarray:
        """Over the steps foilborne."""
        return np.sqrt(self.mean(squares))

    def deviation(self, total: np.ndarray, squares: np.ndarray) -> np.ndarray:
        """Standard deviation over the steps foilborne."""
        return np.sqrt(np.maximum(self.mean(squares) - self.mean(total) ** 2, 0.0))

    def rate(self, events: np.ndarray) -> np.ndarray:
        """Events per second of the time foilborne."""
        return events / self.time_foilborne

    def reading_rate(self, readings: np.ndarray, before: np.ndarray) -> np.ndarray:
        """Readings per second of the scored time; readings before it do not count."""
        return (readings - before) / self.time

    def if_foilborne(self, value: np.ndarray) -> np.ndarray:
        """Not-a-number for a flight that was never foilborne."""
        return np.where(self.sums.foilborne_steps > 0, value, np.nan)

    def if_scored(self, value: np.ndarray) -> np.ndarray:
        """Not-a-number for a flight that ended before it was scored."""
        return np.where(self.sums.steps > 0, value, np.nan)

    def beyond_one(self, value: np.ndarray) -> np.ndarray:
        """1 for a flight in which it went beyond 1; not-a-number where no part has a material."""
        return np.where((self.sums.steps > 0) & (value < 0.0), np.nan, (value > 1.0).astype(float))

    def if_known(self, value: np.ndarray) -> np.ndarray:
        """Not-a-number for a flight that ended before it was scored, and where no part has a material."""
        return np.where((self.sums.steps > 0) & (value >= 0.0), value, np.nan)

    def if_took_off(self, value: np.ndarray) -> np.ndarray:
        """Not-a-number for a flight that did not take off from rest."""
        return np.where(self.from_rest & (self.sums.take_off_time >= 0.0), value, np.nan)

    def percentile(self, histogram: np.ndarray, share: float, below: int = 0) -> np.ndarray:
        """The value below which a share lies, interpolated in its bin. histogram: (flights, BINS), `below` of them negative."""
        width = BIN_WIDTH * self.scale
        running = np.cumsum(histogram, axis=1).astype(float)
        total = running[:, -1]
        wanted = share * total
        k = np.argmax(running >= wanted[:, None], axis=1)
        rows = np.arange(len(k))
        within = histogram[rows, k]
        before = running[rows, k] - within
        value = (k + (wanted - before) / np.maximum(within, 1)) * width
        return np.where(total > 0, value, np.nan) - below * width


Better: TypeAlias = Literal["smaller", "larger", "neither"]
SMALLER: Better = "smaller"
LARGER: Better = "larger"
NEITHER: Better = "neither"


class Response(NamedTuple):
    """One response.

    unit: that people read it in; better: which of two values is; low, high (SI): what it may be at most, by what it is or,
    where that says nothing, by judgement: beyond is no result; becomes: its values (flights,), SI, of what flights added up;
    from_rest: whether only a flight from rest has it.
    """

    name: str
    unit: str
    meaning: str
    better: Better
    low: float
    high: float
    becomes: Callable[[Totals], np.ndarray]
    from_rest: bool = False

    @property
    def scale(self) -> float:
        """Factor from SI to the unit that people read."""
        return SCALES[self.unit]


# fmt: off
RESPONSES: tuple[Response, ...] = (
    Response("ride_height_error", "cm", "root mean square of keel height above the local water, against the wanted height",
             SMALLER, 0.0, FAR, lambda t: t.root_mean_square(t.sums.error_squared)),
    Response("ride_height_bias", "cm", "mean of that error: positive rides high",
             NEITHER, -FAR, FAR, lambda t: t.mean(t.sums.error)),
    Response("ride_height_deviation", "cm", "standard deviation of that error",
             SMALLER, 0.0, FAR, lambda t: t.deviation(t.sums.error, t.sums.error_squared)),
    Response("ride_height_error_p99", "cm", "99th percentile of the size of that error",
             SMALLER, 0.0, FAR, lambda t: t.percentile(t.histograms.error, 0.99)),
    Response("level_height_error", "cm", "root mean square of keel height above the calm level, against the wanted height",
             SMALLER, 0.0, FAR, lambda t: t.root_mean_square(t.sums.level_squared)),
    Response("level_height_bias", "cm", "mean of that error", NEITHER, -FAR, FAR, lambda t: t.mean(t.sums.level)),
    Response("level_height_deviation", "cm", "standard deviation of that error",
             SMALLER, 0.0, FAR, lambda t: t.deviation(t.sums.level, t.sums.level_squared)),
    Response("level_height_error_p99", "cm", "99th percentile of the size of that error",
             SMALLER, 0.0, FAR, lambda t: t.percentile(t.histograms.level, 0.99)),
    Response("clearance_p01", "cm", "lowest hull station above the water, 1st percentile",
             LARGER, -FAR, FAR, lambda t: t.percentile(t.histograms.clearance, 0.01, BELOW_ZERO)),
    Response("clearance_least", "cm", "lowest hull station above the water, least",
             LARGER, -FAR, FAR, lambda t: t.if_foilborne(t.sums.clearance_least)),
    Response("submergence_p01", "cm", "depth of the shallowest foil tip, 1st percentile",
             LARGER, -FAR, FAR, lambda t: t.percentile(t.histograms.submergence, 0.01, BELOW_ZERO)),
    Response("submergence_least", "cm", "depth of the shallowest foil tip, least",
             LARGER, -FAR, FAR, lambda t: t.if_foilborne(t.sums.submergence_least)),
    Response("outside_window", "%", "share of foilborne time outside the ride window",
             SMALLER, 0.0, 1.0, lambda t: t.mean(t.sums.outside_window)),
    Response("foil_outs", "/min", f"foil out: a tip under {in_words(OUT_DEPTH)} a chord deep for {1e3 * OUT_TIME:g} ms",
             SMALLER, 0.0, OFTEN, lambda t: t.rate(t.sums.foil_outs)),
    Response("ventilations", "/min", "foil ventilated", SMALLER, 0.0, OFTEN, lambda t: t.rate(t.sums.ventilations)),
    Response("broaches", "/min", "foil out or ventilated", SMALLER, 0.0, OFTEN, lambda t: t.rate(t.sums.broaches)),
    Response("plunges", "/min", f"keel under the water while foilborne for {PLUNGE_TIME:g} s",
             SMALLER, 0.0, OFTEN, lambda t: t.rate(t.sums.plunges)),
    Response("headings_lost", "/min",
             f"heading over {DEGREES * LOST_HEADING:.0f} degrees off, or rudder at its limit for {RUDDER_TIME:g} s",
             SMALLER, 0.0, OFTEN, lambda t: t.rate(t.sums.headings_lost)),
    Response("touchdowns", "/min", "any part of the hull in the water while foilborne",
             SMALLER, 0.0, OFTEN, lambda t: t.rate(t.sums.touchdowns)),
    Response("licks", "/min", f"touchdowns under {LICK_TIME:g} s and under {100.0 * LICK_LOAD:g} % of the weight",
             SMALLER, 0.0, OFTEN, lambda t: t.rate(t.sums.licks)),
    Response("wet_share", "%", "share of time with the hull in the water",
             SMALLER, 0.0, 1.0, lambda t: t.mean_of_all_time(t.sums.wet)),
    Response("hull_impulse", "%", "hull force over weight, mean",
             SMALLER, 0.0, HARD, lambda t: t.mean_of_all_time(t.sums.hull_load)),
    Response("time_foilborne", "s", "scored time foilborne", LARGER, 0.0, LONGEST, lambda t: t.time_foilborne),
    Response("time_flown", "s", "scored time flown before any early end", LARGER, 0.0, LONGEST, lambda t: t.time),
    Response("lost_flights", "count",
             f"losses of flight: the hull carries over {in_words(HEAVY_LOAD)} the weight for {HEAVY_TIME:g} s",
             SMALLER, 0.0, LONGEST, lambda t: t.sums.lost_flights),
    Response("upsets", "count", "1 if the flight ended in an upset, under water or aground",
             SMALLER, 0.0, 1.0, lambda t: t.upset),
    Response("vertical_acceleration", "m/s^2", "root mean square at the centre of gravity",
             SMALLER, 0.0, HARD * 9.81, lambda t: t.root_mean_square(t.sums.acceleration_squared)),
    Response("pitch_rms", "deg", "root mean square of pitch about its mean",
             SMALLER, 0.0, 1.0, lambda t: t.deviation(t.sums.pitch, t.sums.pitch_squared)),
    Response("roll_rms", "deg", "root mean square of roll",
             SMALLER, 0.0, 1.0, lambda t: t.root_mean_square(t.sums.roll_squared)),
    Response("roll_peak", "deg", "largest roll either way", SMALLER, 0.0, 3.2, lambda t: t.if_scored(t.sums.roll_peak)),
    Response("speed_mean", "m/s", "mean speed over ground", LARGER, 0.0, FASTEST, lambda t: t.mean_of_all_time(t.sums.speed)),
    Response("power_mean", "W", "mean battery power", SMALLER, 0.0, 1e7, lambda t: t.mean_of_all_time(t.sums.power)),
    Response("energy_per_metre", "J/m", "battery energy over the path travelled",
             SMALLER, 0.0, 1e9, lambda t: t.energy / t.path),
    Response("servo_travel", "deg/s", "mean travel of the foil servos a second, each",
             SMALLER, 0.0, 1e3, lambda t: t.mean(t.sums.servo_travel)),
    Response("servo_at_limit", "%", "share of time with any foil at its travel limit",
             SMALLER, 0.0, 1.0, lambda t: t.mean(t.sums.servo_at_limit)),
    Response("rangefinder_faults", "/min", "readings that did not come or were wrong",
             SMALLER, 0.0, OFTEN, lambda t: t.reading_rate(t.readings.faulty, t.sums.faulty_before)),
    Response("blind_readings", "/min", "readings closer than the blind range",
             SMALLER, 0.0, OFTEN, lambda t: t.reading_rate(t.readings.blind, t.sums.blind_before)),
    Response("refused_readings", "/min", "readings that the gate refused",
             SMALLER, 0.0, OFTEN, lambda t: t.reading_rate(t.readings.refused, t.sums.refused_before)),
    Response("power_peak", "W", "largest battery power", SMALLER, 0.0, 1e7, lambda t: t.if_scored(t.sums.power_peak)),
    Response("take_off_time", "s", "from rest until the foils carry the craft",
             SMALLER, 0.0, LONGEST, lambda t: t.if_took_off(t.take_off_time), from_rest=True),
    Response("take_off_distance", "m", "path from rest until the foils carry the craft",
             SMALLER, 0.0, FASTEST * LONGEST, lambda t: t.if_took_off(t.sums.take_off_path), from_rest=True),
    Response("encounters", "count", "waves met in the scored time (mean encounter period)",
             NEITHER, 0.0, 10.0 * LONGEST, lambda t: t.sums.encounters),
    Response("ventilated_share", "%", "share of foilborne time with a foil ventilated",
             SMALLER, 0.0, 1.0, lambda t: t.mean(t.sums.ventilated)),
    Response("strut_ventilations", "/min", "air ran down a strut",
             SMALLER, 0.0, OFTEN, lambda t: t.rate(t.sums.strut_ventilations)),
    Response("lean_peak", "deg", "largest roll beyond the bank that was wanted",
             SMALLER, 0.0, 3.2, lambda t: t.if_scored(t.sums.lean_peak)),
    Response("cavitation_margin", "", "cavitation number less suction of the foils, least; under 0 a foil may cavitate",
             LARGER, -100.0, 1e4, lambda t: t.if_foilborne(t.sums.cavitation_least)),
    Response("beyond_polar", "%", "share of foilborne time with a foil beyond its section's data",
             SMALLER, 0.0, 1.0, lambda t: t.mean(t.sums.beyond_polar)),
    Response("strut_stress", "MPa", "largest bending stress of a strut or rudder, at its upper end",
             SMALLER, 0.0, 1e15, lambda t: t.if_known(t.sums.strut_stress_most)),
    Response("strut_bend", "mm", "largest bend of a strut or rudder to the side, at its foot",
             SMALLER, 0.0, 1e6, lambda t: t.if_known(t.sums.strut_bend_most)),
    Response("strut_twist", "deg", "largest twist of a strut or rudder, at its foot",
             SMALLER, 0.0, 1e6, lambda t: t.if_known(t.sums.strut_twist_most)),
    Response("foil_stress", "MPa", "largest bending stress of a foil, at its struts or between them",
             SMALLER, 0.0, 1e15, lambda t: t.if_known(t.sums.foil_stress_most)),
    Response("foil_bend", "mm", "largest bend of a foil, at its tips or between its struts",
             SMALLER, 0.0, 1e6, lambda t: t.if_known(t.sums.foil_bend_most)),
    Response("foil_twist", "deg", "largest twist of a foil, at its tips",
             SMALLER, 0.0, 1e6, lambda t: t.if_known(t.sums.foil_twist_most)),
    Response("strength_used", "%", "largest bending stress of any part over the strength of its material",
             SMALLER, 0.0, 1e6, lambda t: t.if_known(t.sums.strength_used_most)),
    Response("overloads", "count", "1 if a strut, rudder or foil was stressed beyond its material's strength",
             SMALLER, 0.0, 1.0, lambda t: t.beyond_one(t.sums.strength_used_most)),
    Response("bends", "count",
             f"1 if a part bent by {100.0 * FAR_BENT:g} % of its length or twisted by {DEGREES * FAR_TWISTED:g} deg",
             SMALLER, 0.0, 1.0, lambda t: t.beyond_one(t.sums.bent_most)),
    Response("take_offs", "count", "how often the foils took over the weight",
             NEITHER, 0.0, LONGEST, lambda t: t.sums.take_offs),
    Response("before_touchdown", "s", "scored time before the first touchdown",
             LARGER, 0.0, LONGEST, lambda t: t.sums.before_touchdown * t.step),
    Response("before_broach", "s", "scored time before the first broach",
             LARGER, 0.0, LONGEST, lambda t: t.sums.before_broach * t.step),
    Response("before_loss", "s", "scored time before the first loss of flight",
             LARGER, 0.0, LONGEST, lambda t: t.sums.before_loss * t.step),
    Response("battery_range", "km", "path on a full battery at this power", LARGER, 0.0, 1e9, lambda t: t.battery_range),
)
# fmt: on

OF_STRENGTH = (
    "strut_stress", "strut_bend", "strut_twist", "foil_stress", "foil_bend", "foil_twist", "strength_used",
    "overloads", "bends",
)  # fmt: skip
"""Responses that only parts with a material have."""

RESPONSE_NAMES: tuple[str, ...] = tuple(response.name for response in RESPONSES)
RESPONSE: dict[str, Response] = {response.name: response for response in RESPONSES}


STATUS_SENTENCES: tuple[str, ...] = (
    "flew to the end",
    f"upset: rolled past {DEGREES * UPSET_ROLL:.0f} degrees or pitched past {DEGREES * UPSET_PITCH:.0f}",
    f"went under: the deck was under water for {in_words(UNDER_TIME)} a second",
    "could not start: no trim within foil travel and thrust at this speed",
    "no result: the numbers of this flight left the range of the model",
    "touched ground: a foil, a strut, a propeller or the hull was as deep as the water",
    "no result: its own code crashed, or wrote outside its memory",
    "no result: its own code did not come back from a tick",
    "no result: its own code called itself without end, or wanted more stack than there is",
    "no result: its own code made a value that is not a number",
    "no result: its own code commanded more than a servo's travel or the throttle",
    "stopped: at the end its arming switch was off",
    "stopped by its code: the link was lost",
    "stopped by its code: a rangefinder gave no reading for too long",
    "stopped by its code: it took the boat to lean by over 60 degrees",
)
STATUS_NAMES: tuple[str, ...] = (
    "flew", "upset", "under-water", "no-trim", "not-a-number", "aground",
    "code-crashed", "code-hung", "code-endless", "code-not-a-number", "code-out-of-range",
    "disarmed", "link-lost", "range-lost", "tilted",
)  # fmt: skip


LARGEST = 1e15
"""No craft gives a larger number (judgement)."""

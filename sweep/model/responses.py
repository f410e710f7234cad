"""From what a flight added up to its responses, in SI units and the order of `quantities`."""

from __future__ import annotations

import numpy as np

from sweep.model import layout as at
from sweep.model.pack.fleet import REFERENCE_LENGTH
from sweep.model.quantities import AGROUND, NOT_A_NUMBER, RESPONSE_NAMES, RESPONSES, UNDER_WATER, UPSET
from sweep.model.stepping import observe as o

MEANS = {
    "ride_height_bias": o.ERROR,
    "level_height_bias": o.LEVEL,
    "outside_window": o.OUTSIDE,
    "servo_travel": o.TRAVEL,
    "servo_at_limit": o.AT_LIMIT,
    "ventilated_share": o.AIR_STEPS,
    "beyond_polar": o.BEYOND_POLAR,
}
MEANS_OF_ALL_TIME = {"wet_share": o.WET, "hull_impulse": o.HULL_LOAD, "speed_mean": o.SPEED, "power_mean": o.POWER}
ROOT_MEAN_SQUARES = {
    "ride_height_error": o.ERROR_SQUARED,
    "level_height_error": o.LEVEL_SQUARED,
    "vertical_acceleration": o.ACCELERATION_SQUARED,
    "roll_rms": o.ROLL_SQUARED,
}
DEVIATIONS = {
    "ride_height_deviation": (o.ERROR, o.ERROR_SQUARED),
    "level_height_deviation": (o.LEVEL, o.LEVEL_SQUARED),
    "pitch_rms": (o.PITCH, o.PITCH_SQUARED),
}
EVENTS = {  # by the time foilborne
    "foil_outs": o.FOIL_OUTS,
    "ventilations": o.VENTILATIONS,
    "broaches": o.BROACHES,
    "plunges": o.PLUNGES,
    "headings_lost": o.HEADINGS_LOST,
    "touchdowns": o.TOUCHDOWNS,
    "licks": o.LICKS,
    "strut_ventilations": o.STRUT_VENTILATIONS,
}
COUNTS = {"lost_flights": o.LOST_FLIGHTS, "encounters": o.UPCROSSINGS}
LEAST = {
    "clearance_least": o.LEAST_CLEARANCE,
    "submergence_least": o.LEAST_SUBMERGENCE,
    "cavitation_margin": o.LEAST_CAVITATION,
}
MOST_OF_ALL_TIME = {"roll_peak": o.MOST_ROLL, "power_peak": o.MOST_POWER, "lean_peak": o.MOST_LEAN}
READINGS = {  # by the time flown, since the count at the start of it
    "rangefinder_faults": o.FAULTS_AT_START,
    "blind_readings": o.BLIND_AT_START,
    "refused_readings": o.REFUSED_AT_START,
}
PERCENTILES = {  # histogram, share, bins below zero
    "ride_height_error_p99": (0, 0.99, 0),
    "level_height_error_p99": (1, 0.99, 0),
    "clearance_p01": (2, 0.01, o.OFFSET),
    "submergence_p01": (3, 0.01, o.OFFSET),
}


def responses(
    parameters: np.ndarray,
    sums: np.ndarray,
    histograms: np.ndarray,
    readings: np.ndarray,
    step: float,
    settle: float,
    from_rest: bool,
) -> tuple[np.ndarray, np.ndarray]:
    """How flights ended (flights,), see `quantities.STATUS_NAMES`, and their responses (flights, responses), SI.

    readings: (flights, 3) faulty, blind and refused rangefinder readings in all; step, settle in s. A flight that ended
    before it was scored has not-a-number for whatever needs a mean; its upset counts. A flight with a response beyond its
    declared range has none, and NOT_A_NUMBER for its status.
    """
    table = _table(parameters, sums, histograms, readings, step, settle, from_rest)
    status = np.where(beyond_range(table), NOT_A_NUMBER, sums[:, o.STATUS])
    table[status == NOT_A_NUMBER] = np.nan
    return status, table


def beyond_range(table: np.ndarray) -> np.ndarray:
    """Which flights have a response, of (flights, responses) in SI, outside of what is declared for it; NaN is not."""
    lows, highs = np.array([(quantity.low, quantity.high) for quantity in RESPONSES]).T
    return np.asarray(((table < lows) | (table > highs)).any(axis=1))


def _table(
    parameters: np.ndarray,
    sums: np.ndarray,
    histograms: np.ndarray,
    readings: np.ndarray,
    step: float,
    settle: float,
    from_rest: bool,
) -> np.ndarray:
    n, aloft = sums[:, o.STEPS], sums[:, o.FOILBORNE_STEPS]
    time, flown = n * step, aloft * step
    width = o.BIN_WIDTH * parameters[:, at.TIME_SCALE] ** 2
    hull = REFERENCE_LENGTH * parameters[:, at.TIME_SCALE] ** 2
    path = sums[:, o.SPEED] * step
    path = np.where(path < hull, np.nan, path)  # who has not gone a hull's length has no energy a metre
    took_off = from_rest & (sums[:, o.TAKE_OFF_TIME] >= 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        energy = sums[:, o.POWER] * step
        values = {
            **{name: sums[:, slot] / aloft for name, slot in MEANS.items()},
            **{name: sums[:, slot] / n for name, slot in MEANS_OF_ALL_TIME.items()},
            **{name: np.sqrt(sums[:, slot] / aloft) for name, slot in ROOT_MEAN_SQUARES.items()},
            **{name: _deviation(sums[:, mean] / aloft, sums[:, square] / aloft) for name, (mean, square) in DEVIATIONS.items()},
            **{name: sums[:, slot] / flown for name, slot in EVENTS.items()},
            **{name: sums[:, slot] for name, slot in COUNTS.items()},
            **{name: np.where(aloft > 0, sums[:, slot], np.nan) for name, slot in LEAST.items()},
            **{name: np.where(n > 0, sums[:, slot], np.nan) for name, slot in MOST_OF_ALL_TIME.items()},
            **{name: (readings[:, i] - sums[:, slot]) / time for i, (name, slot) in enumerate(READINGS.items())},
            **{
                name: _percentile(histograms[which], share, width) - below * width
                for name, (which, share, below) in PERCENTILES.items()
            },
            "time_foilborne": flown,
            "time_flown": time,
            "upsets": np.isin(sums[:, o.STATUS], (UPSET, UNDER_WATER, AGROUND)).astype(float),
            "energy_per_metre": energy / path,
            "battery_range": np.where(energy > 0.0, parameters[:, at.BATTERY] * path / energy, np.nan),
            "take_off_time": np.where(took_off, np.maximum(sums[:, o.TAKE_OFF_TIME] - settle, 0.0), np.nan),
            "take_off_distance": np.where(took_off, sums[:, o.TAKE_OFF_PATH], np.nan),
        }
    return np.column_stack([values[name] for name in RESPONSE_NAMES])


def _deviation(mean: np.ndarray, mean_square: np.ndarray) -> np.ndarray:
    return np.sqrt(np.maximum(mean_square - mean**2, 0.0))


def _percentile(histogram: np.ndarray, share: float, width: np.ndarray) -> np.ndarray:
    """The value below which a share lies, interpolated within its bin; histogram (flights, BINS)."""
    running = np.cumsum(histogram, axis=1).astype(float)
    total = running[:, -1]
    wanted = share * total
    k = np.argmax(running >= wanted[:, None], axis=1)
    rows = np.arange(len(k))
    within = histogram[rows, k]
    before = running[rows, k] - within
    value = (k + (wanted - before) / np.maximum(within, 1)) * width
    return np.where(total > 0, value, np.nan)

"""From what a flight added up to its responses, in SI units and the order of `quantities`."""

from __future__ import annotations

import numpy as np

from sweep.model import layout as at
from sweep.model import observe as o
from sweep.model.quantities import RESPONSE_NAMES

OUTCOMES_THAT_END = (1, 2)  # upset, under water
OVER_ALL_TIME = (o.WET, o.HULL_LOAD, o.SPEED, o.POWER)  # the others are judged while foilborne


def responses(
    parameters: np.ndarray,
    sums: np.ndarray,
    histograms: np.ndarray,
    readings: np.ndarray,
    step: float,
    settle: float,
    from_rest: bool,
) -> np.ndarray:
    """(flights, responses). readings: (flights, 2) faulty, blind and refused rangefinder readings in all; step, settle in s.

    A flight that ended before it was scored has not-a-number for whatever needs a mean; its upset counts.
    """
    n = sums[:, o.STEPS]
    aloft = sums[:, o.FOILBORNE_STEPS]
    with np.errstate(divide="ignore", invalid="ignore"):
        time = n * step
        flown = aloft * step
        mean = {slot: sums[:, slot] / (n if slot in OVER_ALL_TIME else aloft) for slot in range(o.ERROR, o.AT_LIMIT + 1)}
        took_off = sums[:, o.TAKE_OFF_TIME]
        scale = parameters[:, at.TIME_SCALE]
        width = o.BIN_WIDTH * scale**2
        distance = sums[:, o.END_X] - sums[:, o.START_X]
        values = {
            "ride_height_error": np.sqrt(mean[o.ERROR_SQUARED]),
            "ride_height_bias": mean[o.ERROR],
            "ride_height_deviation": _deviation(mean[o.ERROR], mean[o.ERROR_SQUARED]),
            "ride_height_error_p99": _percentile(histograms[0], 0.99, width),
            "level_height_error": np.sqrt(mean[o.LEVEL_SQUARED]),
            "level_height_bias": mean[o.LEVEL],
            "level_height_deviation": _deviation(mean[o.LEVEL], mean[o.LEVEL_SQUARED]),
            "level_height_error_p99": _percentile(histograms[1], 0.99, width),
            "clearance_p01": _percentile(histograms[2], 0.01, width) - o.OFFSET * width,
            "clearance_least": np.where(aloft > 0, sums[:, o.LEAST_CLEARANCE], np.nan),
            "submergence_p01": _percentile(histograms[3], 0.01, width) - o.OFFSET * width,
            "submergence_least": np.where(aloft > 0, sums[:, o.LEAST_SUBMERGENCE], np.nan),
            "outside_window": mean[o.OUTSIDE],
            "foil_outs": sums[:, o.FOIL_OUTS] / flown,
            "ventilations": sums[:, o.VENTILATIONS] / flown,
            "broaches": sums[:, o.BROACHES] / flown,
            "plunges": sums[:, o.PLUNGES] / flown,
            "headings_lost": sums[:, o.HEADINGS_LOST] / flown,
            "touchdowns": sums[:, o.TOUCHDOWNS] / flown,
            "licks": sums[:, o.LICKS] / flown,
            "wet_share": mean[o.WET],
            "hull_impulse": mean[o.HULL_LOAD],
            "time_foilborne": flown,
            "time_flown": time,
            "lost_flights": sums[:, o.LOST_FLIGHTS],
            "upsets": np.isin(sums[:, o.STATUS], OUTCOMES_THAT_END).astype(float),
            "vertical_acceleration": np.sqrt(mean[o.ACCELERATION_SQUARED]),
            "pitch_rms": _deviation(mean[o.PITCH], mean[o.PITCH_SQUARED]),
            "roll_rms": np.sqrt(mean[o.ROLL_SQUARED]),
            "roll_peak": np.where(n > 0, sums[:, o.MOST_ROLL], np.nan),
            "speed_mean": mean[o.SPEED],
            "power_mean": mean[o.POWER],
            "energy_per_metre": sums[:, o.POWER] * step / distance,
            "servo_travel": mean[o.TRAVEL],
            "servo_at_limit": mean[o.AT_LIMIT],
            "rangefinder_faults": (readings[:, 0] - sums[:, o.FAULTS_AT_START]) / time,
            "blind_readings": (readings[:, 1] - sums[:, o.BLIND_AT_START]) / time,
            "refused_readings": (readings[:, 2] - sums[:, o.REFUSED_AT_START]) / time,
            "power_peak": np.where(n > 0, sums[:, o.MOST_POWER], np.nan),
            "take_off_time": np.where(from_rest & (took_off >= 0.0), took_off - settle, np.nan),
            "take_off_distance": np.where(from_rest & (took_off >= 0.0), sums[:, o.TAKE_OFF_X] - sums[:, o.START_X], np.nan),
            "encounters": sums[:, o.UPCROSSINGS],
            "ventilated_share": sums[:, o.AIR_STEPS] / aloft,
            "strut_ventilations": sums[:, o.STRUT_VENTILATIONS] / flown,
            "lean_peak": np.where(n > 0, sums[:, o.MOST_LEAN], np.nan),
            "cavitation_margin": np.where(aloft > 0, sums[:, o.LEAST_CAVITATION], np.nan),
            "beyond_polar": sums[:, o.BEYOND_POLAR] / aloft,
            "battery_range": parameters[:, at.BATTERY] * distance / (sums[:, o.POWER] * step),
        }
    table = np.column_stack([values[name] for name in RESPONSE_NAMES])
    broken = sums[:, o.STATUS] == 4
    table[broken] = np.nan
    return table


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

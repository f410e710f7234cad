"""The water as the craft's own sensors saw it: heave from the accelerometer, less the rangefinder's distance."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sweep.logs.read.channels import Record, Series
from sweep.logs.sea.even import evened
from sweep.logs.sea.holes import bridge, holes_of, inside_of, step_responses
from sweep.model.pack.mass import mass_properties, rangefinder_beams, rangefinder_places, to_body
from sweep.model.physics.spectra import GRAVITY, Floats

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft

SLOWEST = 0.25  # Hz: what is slower is lost in the drift of the doubly integrated accelerometer (judgement)
SETTLES = 4.0  # s at both ends of a run, that the double integration spoils (judgement: a period of `SLOWEST`)
GLITCH = 10.0  # times the usual step off its neighbours: judgement
LEAST_GLITCH = 0.02  # m, that a reading jumps at least (judgement)
LEAST_JUMP = 4.0  # m/s2, likewise of the accelerometer (judgement)


class Surface(NamedTuple):
    """Elevation (m) under the rangefinder's beam at even times, (ticks,), 0 where `known` is not; rate in Hz.

    glitches: readings left out because they were far off their neighbours; gaps: missing readings; begin: time of the first,
    s; lacks, left: draws of what it lacks of the true one across holes in the accelerations, and of what was left in it there,
    m, (ticks, draws); none without holes; lacked: what the twice integrated heave lacks across them, m, (ticks,).
    """

    elevation: Floats
    known: np.ndarray
    rate: float
    glitches: int
    gaps: int
    begin: float = 0.0
    lacks: Floats = np.zeros((0, 0))
    left: Floats = np.zeros((0, 0))
    lacked: Floats | float = 0.0

    @property
    def length(self) -> float:
        """s."""
        return len(self.elevation) / self.rate

    @property
    def variance(self) -> float:
        """m2, of the readings, with the noise."""
        return float(np.var(self.elevation[self.known]))


def upward(record: Record) -> Series:
    """Upward acceleration at the inertial unit (m/s2), by the accelerometer and the attitude."""
    down = _without_odd(record["force_z"])
    pitch, roll = record["pitch"].at(down.time), _or_zero(record, "roll", down.time)
    ahead = _or_zero(record, "force_x", down.time)
    return Series(down.time, np.sin(pitch) * ahead - np.cos(pitch) * np.cos(roll) * down.value - GRAVITY)


def _without_odd(series: Series) -> Series:
    """Accelerations without samples that are far off both neighbours, as where one was lost and reads 0."""
    good = ~odd_ones(series.value, LEAST_JUMP)
    return Series(series.time[good], series.value[good])


def _or_zero(record: Record, name: str, time: Floats) -> Floats:
    if name not in record:
        return np.zeros_like(time)
    series = _without_odd(record[name]) if name == "force_x" else record[name]
    return series.at(time)


def passed_by(frequency: Floats, slowest: float) -> Floats:
    """Share of each frequency (Hz) that the integration keeps: nothing under 0.6 of the slowest, all from it on."""
    passed = np.clip((frequency / slowest - 0.6) / 0.4, 0.0, 1.0)
    return np.asarray(passed**2 * (3.0 - 2.0 * passed))


def twice_integrated(acceleration: Series, slowest: float = SLOWEST) -> Series:
    """Displacement (m) without what is slower than `slowest` (Hz), as if straight in holes. Its ends are not reliable."""
    gap = float(np.median(np.diff(acceleration.time)))
    time = np.arange(acceleration.time[0], acceleration.time[-1], gap)
    values = acceleration.at(time)
    frequency: Floats = np.fft.rfftfreq(len(values), gap).astype(np.float64)
    passed = passed_by(frequency, slowest)
    turning = np.where(frequency > 0.0, -((2.0 * np.pi * frequency) ** 2), 1.0)
    return Series(time, np.fft.irfft(np.fft.rfft(values - values.mean()) * passed / turning, len(values)))


def sensor_arms(craft: Craft) -> tuple[Floats, Floats]:
    """Body axes (m, z down) of the first rangefinder from the inertial unit, and of the inertial unit from the centre."""
    properties, unit = mass_properties(craft), craft.inertial
    inertial = to_body(properties, unit.x, unit.y, unit.height)
    return to_body(properties, *rangefinder_places(craft)[0]) - inertial, inertial


def beam_down(craft: Craft, pitch: Floats, roll: Floats) -> Floats:
    """Cosine of the angle between the first rangefinder's beam and straight down, by the attitude (rad)."""
    ahead, aside, down = rangefinder_beams(craft)[0]
    return np.asarray(down * np.cos(pitch) * np.cos(roll) - ahead * np.sin(pitch) + aside * np.sin(roll) * np.cos(pitch))


def measured_surface(record: Record, craft: Craft, late: float, slowest: float = SLOWEST) -> Surface:
    """The water under the first rangefinder; late: how late (s) the log has its readings."""
    sensors = craft.rangefinders
    reading = evened(record["range"], 1.0 / rate_of(record["force_z"]), sensors.own_rates()[0])
    rate = rate_of(reading)
    then = reading.time - late
    rising = upward(record)
    heave = twice_integrated(rising, slowest)
    arm, _ = sensor_arms(craft)
    pitch, roll = record["pitch"].at(then), _or_zero(record, "roll", then)
    risen = heave.at(then) + arm[0] * np.sin(pitch) - arm[2] * np.cos(pitch) * np.cos(roll)
    water = risen - reading.value * beam_down(craft, pitch, roll)
    inside = (then > heave.time[0] + SETTLES) & (then < heave.time[-1] - SETTLES)
    odd = odd_ones(water) & inside
    good, across = inside & ~odd, None
    holes = holes_of(rising)
    good &= ~inside_of(holes, then)
    if good.sum() < 2:
        return Surface(np.zeros(0), np.zeros(0, dtype=bool), rate, int(odd.sum()), 0)
    found = Series(then[good], water[good])
    if len(holes.middle):
        gap = heave.time[1] - heave.time[0]
        passed = passed_by(np.fft.rfftfreq(len(heave.time), gap), slowest)
        across = bridge(found, rate, holes, step_responses(gap, passed, len(heave.time)))
        found = Series(found.time, found.value + across.heave)
    tick = np.round((found.time - found.time[0]) * rate).astype(int)
    values, known = np.zeros(tick[-1] + 1), np.zeros(tick[-1] + 1, dtype=bool)
    values[tick], known[tick] = found.value, True
    values[known] -= values[known].mean()
    ticks = found.time[0] + np.arange(len(values)) / rate
    plain = Surface(values, known, rate, int(odd.sum()), int((~known).sum() - odd.sum()), float(found.time[0]))
    if across is None:
        return plain
    lacks, left = (_on(tick, each) for each in (across.lacks, across.left))
    return plain._replace(lacks=lacks, left=left, lacked=np.interp(ticks, found.time, across.heave))


def _on(tick: np.ndarray, draws: Floats) -> Floats:
    """Draws (readings, draws) at the ticks, about their mean; 0 at those without a reading."""
    found = np.zeros((int(tick[-1]) + 1, draws.shape[1]))
    found[tick] = draws - draws.mean(axis=0)
    return found


def rate_of(series: Series) -> float:
    """Readings a second, by the usual step; gaps do not count."""
    return 1.0 / float(np.median(np.diff(series.time)))


def odd_ones(values: Floats, least: float = LEAST_GLITCH) -> np.ndarray:
    """Which readings are far off the median of the five around them, by `least` or more."""
    if len(values) < 5:
        return np.zeros(len(values), dtype=bool)
    around = np.lib.stride_tricks.sliding_window_view(np.pad(values, 2, mode="edge"), 5)
    off = np.abs(values - np.median(around, axis=1))
    return np.asarray(off > max(GLITCH * float(np.mean(off)), least))

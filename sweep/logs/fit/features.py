"""The features of a run for a fit: ratios band by band, means and noise; of its record, and by the linear companion."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sweep.campaign.addresses import with_numbers
from sweep.linear.craft import LinearCraft, linearise
from sweep.linear.differences import Complexes
from sweep.logs.compare.bands import BANDS, SIGNALS, Bands, measured_bands, predicted_bands
from sweep.logs.fit.stamps import row_step, stamped
from sweep.logs.read.channels import Record
from sweep.logs.sea.measure import height_from
from sweep.logs.sea.surface import rate_of
from sweep.model import layout as at
from sweep.model.pack.fleet import build_fleets
from sweep.model.physics.spectra import Floats, Spectrum
from sweep.model.physics.water import Water

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft

TOP_SHARE = 0.7  # of half the rangefinder's rate: above it the spectrum of its readings is noise (judgement)
RATIOS = len(SIGNALS) * BANDS
SIZE = 2 * RATIOS + 5
"""Features of a run: logarithms of the ratios, their phases, three means, noise, mounting."""


class Fitting(NamedTuple):
    """One run to fit to: its record, the sea that it met, speed m/s, heading of the waves rad, depth m, length s.

    witness_x: how far forward of the centre of gravity its witness looks, m; late: s, how late its log has the rangefinder's
    readings, whatever the code knew when; None where a reading stands at the first row after it came.
    """

    record: Record
    sea: Spectrum
    speed: float
    waves: float
    depth: float
    length: float
    witness_x: float = 0.0
    late: float | None = None

    def alike(self, flight: Record, craft: Craft, share: float) -> Record:
        """A flight's record as the run's log would have it; share: of a row, by which the rows' clock stands off, 0 ... 1."""
        if self.late is None:
            return stamped(flight, row_step(self.record), share)
        return stamped(flight, 0.0, 0.0, self.late - craft.rangefinders.first("latency"))


def features(record: Record, craft: Craft, witness_x: float = 0.0) -> Floats:
    """(SIZE,): logarithm and phase of every band of every signal; the means; the noise; the mounting.

    Means: foil angle (in degrees, all foils), pitch (deg), logarithm of the throttle at the run's speed. Noise: half the
    logarithm of the rangefinder's density at the top of its band. Mounting: height of the rangefinder above the keel, cm, by
    its readings and the witness together. NaN for what the record does not have.
    """
    ratio = measured_bands(record, craft).ratio
    foils = [np.mean(record[f"foil_{name}"].value) for name in craft.foils if f"foil_{name}" in record]
    means = [
        math.degrees(float(np.mean(foils))) if len(foils) == len(craft.foils) else math.nan,
        math.degrees(float(np.mean(record["pitch"].value))),
        math.log(max(float(np.mean(record["throttle"].value)), 1e-3)) if "throttle" in record else math.nan,
    ]
    last = [_top(record), 100.0 * _mounting(record, craft, witness_x)]
    return np.concatenate([np.log(np.abs(ratio)).ravel(), np.angle(ratio).ravel(), means, last])


def difference(measured: Floats, predicted: Floats) -> Floats:
    """Measured less predicted, (..., runs x SIZE); phases wrap around the circle."""
    off = measured - predicted
    place = np.arange(off.shape[-1]) % SIZE
    phase = (place >= RATIOS) & (place < 2 * RATIOS)
    return np.where(phase, np.remainder(off + np.pi, 2.0 * np.pi) - np.pi, off)


def foretold(
    crafts: Sequence[Craft],
    water: Water,
    runs: Sequence[Fitting],
    bands: Sequence[Bands],
    drifting: bool = False,
    designed: Sequence[Craft] | None = None,
) -> Floats:
    """(crafts, runs x SIZE): the features by the linear companion; NaN for a craft without a trim.

    drifting: whether the clocks of rangefinder and control code are taken to drift past each other. Then the age at which the
    code uses a reading grows evenly with the latency, as the mean of the two ticks before and after it. With clocks in step it
    jumps by a whole tick, and no search finds its way across. designed: the craft that each control code is set up for, if
    another.
    """
    found = np.full((len(crafts), len(runs), SIZE), np.nan)
    flown = [_either_tick(craft) if drifting else ((craft, 1.0),) for craft in crafts]
    boards = [board for board, ticks in zip(designed or crafts, flown, strict=True) for _ in ticks]
    for speed in {run.speed for run in runs}:
        known = iter(_linearised([craft for ticks in flown for craft, _ in ticks], water, speed, boards))
        for i, (craft, ticks) in enumerate(zip(crafts, flown, strict=True)):
            mine = [each for _, each in zip(ticks, known, strict=False) if each is not None]
            for number, (run, band) in enumerate(zip(runs, bands, strict=True)):
                if run.speed == speed and len(mine) == len(ticks):
                    late = craft.rangefinders.first("latency") if run.late is None else run.late
                    ratio = sum(
                        share * predicted_bands(linear, craft, band, run.waves, run.depth, late)
                        for (_, linear), (_, share) in zip(mine, ticks, strict=True)
                    )
                    found[i, number] = _of_linear(mine[0][1], mine[0][0], craft, np.asarray(ratio))
    return found.reshape(len(crafts), -1)


def _either_tick(craft: Craft) -> tuple[tuple[Craft, float], ...]:
    """The craft with a latency in the middle of the tick before and of the tick after, each with its share."""
    tick = 1.0 / craft.control.rate
    place = craft.rangefinders.first("latency") / tick - 0.5
    before = max(math.floor(place), 0)
    after = min(max(place - before, 0.0), 1.0)
    latencies = [(before + n + 0.5) * tick for n in (0, 1)]
    crafts = [with_numbers(craft, {craft.rangefinders.address("latency"): latency}) for latency in latencies]
    return (crafts[0], 1.0 - after), (crafts[1], after)


def _linearised(
    crafts: Sequence[Craft], water: Water, speed: float, designed: Sequence[Craft]
) -> list[tuple[Floats, LinearCraft] | None]:
    """Packed parameters and companion of each craft; None without a trim."""
    found: list[tuple[Floats, LinearCraft] | None] = [None] * len(crafts)
    for indices, fleet in build_fleets(crafts, water, speed, designed=designed):
        for i, row, linear in zip(indices.tolist(), fleet.parameters, linearise(fleet), strict=True):
            found[i] = (row, linear) if linear is not None else None
    return found


def _of_linear(linear: LinearCraft, row: Floats, craft: Craft, ratio: Complexes) -> Floats:
    """The noise is the rangefinder's own white density; the mounting is the craft file's."""
    sensors = craft.rangefinders
    angles = [
        row[first + at.FOIL.mix.height] * row[at.START_TRIM.height] + row[first + at.FOIL.mix.pitch] * row[at.START_TRIM.pitch]
        for first in (i * at.FOIL.width for i in range(len(craft.foils)))
    ]
    white = 2.0 * (sensors.first("noise") ** 2 + sensors.first("resolution") ** 2 / 12.0) / sensors.own_rates()[0]
    means = [math.degrees(float(np.mean(angles))), math.degrees(linear.pitch), math.log(max(row[at.START_TRIM.throttle], 1e-3))]
    last = [0.5 * math.log(white + 1e-12), 100.0 * sensors.first("height")]
    return np.concatenate([np.log(np.abs(ratio)).ravel(), np.angle(ratio).ravel(), means, last])


def _top(record: Record) -> float:
    """Half the logarithm of the density (m2/Hz) of the rangefinder's readings in the top of its band."""
    reading = record["range"]
    rate = rate_of(reading)
    time = np.arange(reading.time[0], reading.time[-1], 1.0 / rate)
    nearest = np.clip(np.searchsorted(reading.time, time - 0.5 / rate), 0, len(reading.time) - 1)
    values = reading.value[nearest]
    values = (values - values.mean()) * np.hanning(len(values))
    density = np.abs(np.fft.rfft(values)) ** 2 / (rate * float((np.hanning(len(values)) ** 2).sum())) * 2.0
    some = np.fft.rfftfreq(len(values), 1.0 / rate) > TOP_SHARE * 0.5 * rate
    return 0.5 * math.log(float(np.median(density[some])) / math.log(2.0))


def _mounting(record: Record, craft: Craft, witness_x: float) -> float:
    """Mean height (m) of the rangefinder over its water, less the keel's by the witness; NaN without a witness."""
    if "witness" not in record:
        return math.nan
    seen = height_from(record, craft, 0.0, witness_x)
    witness = record["witness"].between(float(seen.time[0]), float(seen.time[-1]))
    return float(seen.value.mean() - witness.value.mean()) if len(witness.time) > 3 else math.nan

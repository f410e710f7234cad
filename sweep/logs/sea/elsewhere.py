"""The ride height at another place of the craft than the rangefinder's: the same waves, shifted."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sweep.logs.read.channels import Series
from sweep.logs.read.runs import Run
from sweep.logs.sea.surface import SLOWEST, measured_surface, sensor_arms, twice_integrated, upward
from sweep.model.physics.spectra import GRAVITY
from sweep.model.physics.waves import encounter_frequency, wave_number

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft


def height_at(run: Run, craft: Craft, x: float, late: float, depth: float) -> Series:
    """Height of the keel over the water (m, about its mean) at a place x (m) forward of the centre of gravity.

    It takes waves to be long-crested, from one heading, and to pass from the rangefinder's beam to that place. What is met
    slower than SLOWEST is left out. late: s, how long after the fact the rangefinder's readings stand in the record; depth: m.
    """
    record, speed, waves = run.record, run.speed, run.waves
    surface = measured_surface(record, craft, late)
    arm, unit = sensor_arms(craft)
    frequency = np.fft.rfftfreq(len(surface.elevation), 1.0 / surface.rate)
    along = speed * np.cos(waves)
    lowest = GRAVITY / along * 1.02 if along > 0.1 * speed else 0.3
    omega = lowest * np.geomspace(1.0, 60.0, 4000)
    number = wave_number(omega, depth)
    met = encounter_frequency(omega, number, speed, waves)
    way = np.interp(frequency, np.maximum.accumulate(np.abs(met)) / (2.0 * np.pi), number * np.cos(waves) * np.sign(met))
    shift = x - (arm[0] + unit[0])
    passed = frequency > SLOWEST
    there = np.fft.irfft(np.fft.rfft(surface.elevation) * passed * np.exp(-1j * way * shift), len(surface.elevation))
    time = surface.begin + np.arange(len(there)) / surface.rate
    risen = twice_integrated(upward(record)).at(time) + (x - unit[0]) * np.sin(record["pitch"].at(time))
    risen = risen + surface.lacked
    return Series(time, risen - risen.mean() - there)

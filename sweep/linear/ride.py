"""How a linear craft rides waves: transfer functions from the elevation at the craft, and root mean squares in a sea."""

from __future__ import annotations

from math import sqrt
from typing import NamedTuple

import numpy as np

from sweep.linear.craft import LinearCraft
from sweep.linear.differences import Complexes, Floats
from sweep.linear.frequency import STANDING, Motion, respond, sampled
from sweep.model.physics.spectra import GRAVITY, Spectrum
from sweep.model.physics.waves import BROADEST, SHORTEST_WAVE, Sea, wave_number


class Waves(NamedTuple):
    """Waves, each array (waves,): rad/s, and 1/m along X and Y; depth of the water, m."""

    omega: Floats
    kx: Floats
    ky: Floats
    depth: float


class Transfer(NamedTuple):
    """Complex response per wave, of 1 m of elevation at the reference point.

    ride_height, level_height: ride-height error and height above the calm level, m/m; pitch, roll: rad/m; acceleration: of
    the centre of gravity, up, 1/s2; encounter: rad/s, negative where the craft overtakes the wave.
    """

    encounter: Floats
    ride_height: Complexes
    level_height: Complexes
    pitch: Complexes
    roll: Complexes
    acceleration: Complexes


class Ride(NamedTuple):
    """Root mean squares in a sea: m, m, rad, rad, m/s2."""

    ride_height_error: float
    level_height_deviation: float
    pitch: float
    roll: float
    vertical_acceleration: float


def waves_from(omega: Floats, heading: float, depth: float) -> Waves:
    """Waves of these frequencies (rad/s) from one heading (rad, between the way the craft goes and the way they go)."""
    k = wave_number(omega, depth)
    return Waves(omega, k * np.cos(heading), k * np.sin(heading), depth)


def transfer(craft: LinearCraft, waves: Waves) -> Transfer:
    """Response of the craft, loops closed, to each wave. Phases: of the elevation at the reference point at trim."""
    return _transfer(craft, motion(craft, waves), 1.0)


def motion(craft: LinearCraft, waves: Waves) -> Motion:
    """States, commands and rangefinders of the craft in each wave, of 1 m of elevation at the reference point."""
    return _motion(craft, waves, _encounter(craft, waves))


def ride(craft: LinearCraft, sea: Sea | Spectrum, heading: float = 0.0, depth: float = np.inf) -> Ride:
    """Root mean squares that a sea gives: of its drawn components, or of a spectrum from one heading (rad) over a depth (m).

    They hold while the ride is linear: dry hull, wet foils, nothing at its limit; noise is left out. They include what the
    rangefinders' sampling folds down from waves that are met too often; the transfer functions do not.
    """
    waves = Waves(sea.omega, sea.kx, sea.ky, sea.depth) if isinstance(sea, Sea) else _grid(sea, heading, depth)
    energy = 0.5 * sea.amplitude**2 if isinstance(sea, Sea) else _energy(sea, waves.omega)
    met = motion(craft, waves)
    variances = energy @ _squares(_transfer(craft, met, 1.0))
    for some, alias in sampled(craft, met):
        variances += energy[some] @ _squares(_transfer(craft, alias, 0.0))
    return Ride(*np.sqrt(variances).tolist())


def _encounter(craft: LinearCraft, waves: Waves) -> Floats:
    met = waves.omega - waves.kx * craft.speed
    encounter: Floats = np.where(np.abs(met) < STANDING, STANDING, met)
    return encounter


def _motion(craft: LinearCraft, waves: Waves, encounter: Floats) -> Motion:
    """Of 1 m of elevation at the reference point."""
    shift = np.exp(1j * waves.kx * craft.keel * np.sin(craft.pitch))
    return respond(craft, encounter, water_at(craft, waves) * shift[:, None, None], _feet(craft, waves) * shift[:, None])


def _transfer(craft: LinearCraft, motion: Motion, surface: float) -> Transfer:
    """surface: elevation at the reference point, m, at the motion's frequencies."""
    rise, roll, pitch = -motion.states[:, 0], motion.states[:, 1], motion.states[:, 2]
    level = rise + craft.keel * np.sin(craft.pitch) * pitch
    return Transfer(motion.frequency, level - surface, level, pitch, roll, -(motion.frequency**2) * rise)


def _squares(found: Transfer) -> Floats:
    """(waves, responses) in the order of Ride."""
    responses = [found.ride_height, found.level_height, found.pitch, found.roll, found.acceleration]
    squares: Floats = np.abs(np.column_stack(responses)) ** 2
    return squares


def _grid(spectrum: Spectrum, heading: float, depth: float, count: int = 200) -> Waves:
    """Even frequencies over the band in which seas of this spectrum are drawn."""
    shortest = 2.0 * np.pi / SHORTEST_WAVE
    highest = sqrt(GRAVITY * shortest * np.tanh(shortest * depth))
    return waves_from(np.linspace(0.4 * spectrum.peak, min(BROADEST * spectrum.peak, highest), count), heading, depth)


def _energy(spectrum: Spectrum, omega: Floats) -> Floats:
    """Variance of the elevation about each of evenly spaced frequencies, m2; their sum is the spectrum's."""
    density = spectrum.density(omega)
    energy: Floats = density * (spectrum.variance / density.sum())
    return energy


def water_at(craft: LinearCraft, waves: Waves) -> Complexes:
    """(waves, points, 4): elevation and velocity along X, Y and Z at the craft's points, for 1 m at the centre of gravity.

    Airy waves as in `sweep.model.physics.waves`: under a wave that goes with cos(k x - omega t), the craft sees
    exp(+j encounter t).
    """
    x, y, down = craft.plant.places.T
    k = np.hypot(waves.kx, waves.ky)[:, None]
    eta = np.exp(-1j * (waves.kx[:, None] * x + waves.ky[:, None] * y))
    decay, bottom = np.exp(-k * np.maximum(down, 0.0)), np.exp(-2.0 * k * waves.depth)
    speed = waves.omega[:, None] * eta / (1.0 - bottom)
    along, upward = speed * (decay + bottom / decay) / k, 1j * speed * (decay - bottom / decay)
    return np.stack([eta, along * waves.kx[:, None], along * waves.ky[:, None], -upward], axis=-1)


def _feet(craft: LinearCraft, waves: Waves) -> Complexes:
    """(waves, rangefinders): mean elevation over what each sees or feels, for 1 m at the centre of gravity."""
    x, y = craft.sensing.feet.T
    radius = craft.sensing.footprint
    rim = np.cos(waves.kx[:, None] * radius) + np.cos(waves.ky[:, None] * radius)
    centre = np.exp(-1j * (waves.kx[:, None] * x + waves.ky[:, None] * y))
    k, down = np.hypot(waves.kx, waves.ky)[:, None], np.maximum(craft.sensing.depths, 0.0)
    bottom = np.exp(-2.0 * k * waves.depth)
    felt = (np.exp(-k * down) + bottom * np.exp(k * down)) / (1.0 + bottom)
    result: Complexes = centre * (1.0 + 2.0 * rim) / 5.0 * felt
    return result

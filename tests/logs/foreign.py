"""Logs of another boat model and another logger: no code of the project's model, waves or sensors has a part in them.

Long waves of one direction on deep water (their lengths by Airy's linear dispersion), a hull that follows each wave by a share
and a lag of its own, exact accelerations (derivatives term by term, no numerical integration), and a logger with faults that
are asked for. By the same hands as the project, which a stranger's recordings would not be.
"""

from __future__ import annotations

from functools import cache
from math import pi, radians
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd
import xarray as xr
from wavespectra.construct.frequency import jonswap as their_jonswap

G = 9.80665
UNIT_AT, BEAM_AT, BEAM_OVER_KEEL = 0.0, 0.35, 0.0
"""m, of the courier: its inertial unit and its beam forward of its centre, and its rangefinder over the keel."""
COLUMNS = """\
clock: {column: t, unit: s}
columns:
  range: {column: h, unit: cm, late: 60 ms}
  pitch: {column: trim, unit: deg}
  roll: {column: heel, unit: deg}
  force_x: {column: ax, unit: m/s^2}
  force_z: {column: az, unit: m/s^2}
  heading: {column: course, unit: deg}
  speed: {column: v, unit: m/s}
"""


class Sea(NamedTuple):
    """Significant height (m), peak period (s), and the seed of its waves."""

    height: float
    period: float
    seed: int = 0


class Logger(NamedTuple):
    """How a log is kept: rows a second, and what is wrong with them.

    hole: s without rows, some `every` s apart; jitter: standard deviation of a row's time, share of a step; lost: share of
    rows that never came; stalls: whether values stand still in the holes instead of rows missing; zeros: single samples of
    the accelerometer that read 0, a minute; quantum: s, to which the clock is written; speed_rate: Hz of the speed, which is
    empty between; spikes: wrong ranges a minute.
    """

    rate: float = 100.0
    hole: float = 0.0
    every: float = 10.0
    jitter: float = 0.0
    lost: float = 0.0
    stalls: bool = False
    zeros: float = 0.0
    quantum: float = 0.0
    speed_rate: float = 0.0
    spikes: float = 0.0


class Boat(NamedTuple):
    """How the hull goes with the waves: share of a long wave that it heaves, and Hz beyond which it does not; pitch, rad a
    radian of slope; ride: m of the keel over the water; lag: s by which the rangefinder's readings are late;
    deep: m of the foils under water, where short waves are weak.
    """

    follows: float = 0.7
    slow: float = 3.0
    pitches: float = 0.15
    ride: float = 0.09
    lag: float = 0.06
    deep: float = 0.08


BOAT = Boat()


@cache
def equal_lines(count: int) -> np.ndarray:
    """Frequencies, times that of the peak, of lines that share the energy of wavespectra's JONSWAP evenly."""
    fine = np.linspace(0.45, 5.0, 20_000)
    density = their_jonswap(freq=xr.DataArray(fine, dims="freq", coords={"freq": fine}), fp=1.0, gamma=3.3, hs=1.0).to_numpy()
    return np.interp((np.arange(count) + 0.5) / count, np.cumsum(density) / density.sum(), fine)


def waves_met(sea: Sea, speed: float, heading: float, count: int = 2000) -> tuple[np.ndarray, ...]:
    """Amplitude (m), phase, frequency of encounter (rad/s, negative if the craft overtakes) and wave number along its way.

    Lines of equal energy, so close that a minute does not tell them apart: lines that it tells apart scatter more than a sea.
    """
    hertz = equal_lines(count) / sea.period
    draws = np.random.default_rng([77, sea.seed])
    amplitude = sea.height / 4.0 * np.sqrt(draws.exponential(2.0, count) / count)
    omega = 2.0 * pi * hertz
    number = omega**2 / G
    along = number * np.cos(heading)
    return amplitude, draws.uniform(0.0, 2.0 * pi, count), omega - speed * along, along


def responses(wave: np.ndarray, met: np.ndarray, along: np.ndarray, boat: Boat) -> tuple[np.ndarray, np.ndarray]:
    """Heave (m) and pitch (rad) in waves of these complex amplitudes (m), as `waves_met` has them."""
    follow = boat.follows * np.exp(-1j * 0.4 * np.sign(met)) / (1.0 + (np.abs(met) / (2.0 * pi * boat.slow)) ** 2)
    deep = wave * np.exp(-np.abs(along) * boat.deep)
    return deep * follow, -1j * deep * along * boat.pitches


def sample(terms: tuple[np.ndarray, ...], time: np.ndarray) -> np.ndarray:
    """Sums of complex amplitude x exp(i frequency time), their real parts, by pieces of a few seconds: (times, signals).

    terms: amplitudes, (lines, signals), and frequencies, rad/s, (lines,).
    """
    amplitude, frequency = terms
    found = np.empty((len(time), amplitude.shape[1]))
    for first in range(0, len(time), 2000):
        part = time[first : first + 2000]
        found[first : first + 2000] = (np.exp(1j * np.outer(part, frequency)) @ amplitude).real
    return found


def log_of(sea: Sea, speed: float, heading: float, length: float, logger: Logger, boat: Boat = BOAT) -> pd.DataFrame:
    """The rows of one pass, in the units of `COLUMNS`; heading: rad between the way of the craft and that of the waves."""
    amplitude, phase, met, along = waves_met(sea, speed, heading)
    draws = np.random.default_rng([78, sea.seed])
    step = 1.0 / logger.rate
    time = np.arange(0.0, length, step)
    time = time + logger.jitter * step * draws.standard_normal(len(time)).clip(-2.0, 2.0)
    time.sort()
    complex_wave = amplitude * np.exp(1j * phase)
    heave, tilt = responses(complex_wave, met, along, boat)
    rising = heave + tilt * UNIT_AT
    pings = np.arange(0.0, length, 0.05)
    under = complex_wave * np.exp(-1j * along * (BEAM_AT))
    over, tilted = sample((np.column_stack([heave + tilt * (BEAM_AT) - under, tilt]), met), pings - boat.lag).T
    distance = (boat.ride + over + BEAM_OVER_KEEL) / np.cos(tilted) + 0.003 * draws.standard_normal(len(pings))
    rolled = 0.3 * tilt * np.exp(1j * draws.uniform(0.0, 2.0 * pi, len(tilt)))
    acceleration, pitch, roll = sample((np.column_stack([-rising * met**2, tilt, rolled]), met), time).T
    latest = np.searchsorted(pings, time, side="right") - 1
    fresh = np.diff(latest, prepend=-1) > 0
    force_z = -(G + acceleration) * np.cos(pitch) + 0.1 * draws.standard_normal(len(time))
    force_x = (G + acceleration) * np.sin(pitch) + 0.1 * draws.standard_normal(len(time))
    table = pd.DataFrame(
        {
            "t": time,
            "h": np.where(fresh, 100.0 * distance[latest], np.nan),
            "trim": np.degrees(pitch),
            "heel": np.degrees(roll),
            "ax": force_x,
            "az": force_z,
            "course": 180.0 - np.degrees(heading) + 2.0 * np.sin(0.7 * time),
            "v": speed + 0.02 * draws.standard_normal(len(time)),
        }
    )
    return _spoilt(table, logger, draws)


def _spoilt(table: pd.DataFrame, logger: Logger, draws: np.random.Generator) -> pd.DataFrame:
    time = table["t"].to_numpy()
    minutes = float(time[-1]) / 60.0
    if logger.zeros:
        table.loc[draws.choice(len(table), round(logger.zeros * minutes), replace=False), ["ax", "az"]] = 0.0
    if logger.spikes:
        some = draws.choice(np.flatnonzero(table["h"].notna()), round(logger.spikes * minutes), replace=False)
        table.loc[some, "h"] = draws.uniform(0.0, 100.0, len(some))
    if logger.speed_rate:
        slot = np.floor(time * logger.speed_rate)
        table.loc[np.diff(slot, prepend=-1) <= 0, "v"] = np.nan
    kept = draws.random(len(table)) >= logger.lost
    if logger.hole:
        begins = np.cumsum(draws.uniform(0.5, 1.5, round(float(time[-1]) / logger.every) + 1) * logger.every)
        inside = (time[:, None] >= begins) & (time[:, None] < begins + logger.hole)
        if logger.stalls:
            values = table.columns.drop("t")
            still = inside.any(axis=1)
            table[values] = table[values].ffill()
            table.loc[still, values] = np.nan
            table[values] = table[values].ffill()
        else:
            kept &= ~inside.any(axis=1)
    table = table[kept]
    return table.assign(t=np.round(table["t"] / logger.quantum) * logger.quantum) if logger.quantum else table


def write_foreign(folder: Path, passes: list[pd.DataFrame], setups: list[str] | None = None, mapping: str = COLUMNS) -> Path:
    """Logs, craft file and mapping in a folder; the mapping's path."""
    from tests.model.crafts import COURIER_FILE

    (folder / "craft.yaml").write_text(COURIER_FILE.read_text(encoding="utf-8"), encoding="utf-8")
    logs = []
    for number, table in enumerate(passes):
        table.to_csv(folder / f"pass-{number}.csv", index=False)
        logs.append(f"  - {{file: pass-{number}.csv, setup: {(setups or ['as it is'] * len(passes))[number]}}}")
    text = f"title: Another logger\ncraft: craft.yaml\nwaves: {{bearing: 0 deg}}\n{mapping}logs:\n" + "\n".join(logs) + "\n"
    (folder / "day.yaml").write_text(text, encoding="utf-8")
    return folder / "day.yaml"


HEAD = radians(180.0)

"""Control code of another boat, written from M15 of MODEL.md alone: plain Python, its own filters, limits and rounding.

No code of the project's kernels has a part in it. It sends commands for the rows of another logger's passes.
"""

from __future__ import annotations

from collections import deque
from math import cos, pi, radians, sin
from typing import NamedTuple

import numpy as np
import pandas as pd

from tests.logs.foreign import BOAT, Sea, responses, sample, waves_met

ORDER = ("port", "starboard", "aft")
COLUMNS = """\
  pitch_rate: {column: q, unit: deg/s}
  foil_port: {column: fp, unit: deg}
  foil_starboard: {column: fs, unit: deg}
  foil_aft: {column: fa, unit: deg}
"""


class Code(NamedTuple):
    """Gains as in the courier's file (rad, m, s); ticks of delay; signs of the foils as wired; place of the beam, m.

    holds: whether the height stays as it was worked out when the last reading came; further: place (m) and weight against
    the first's of a second beam, whose readings stand in the column h2 (cm), or None.
    """

    ride_height: float = 0.095
    height: tuple[float, float, float] = (radians(0.4) * 100.0, radians(0.1) * 100.0, radians(0.02) * 100.0)
    height_limit: float = 0.10
    smoothing: float = 0.08
    pitch: tuple[float, float] = (1.2, 0.06)
    pitch_limit: float = 0.10
    roll: tuple[float, float] = (0.8, 0.05)
    roll_limit: float = 0.10
    delay: int = 0
    signs: tuple[int, int, int] = (1, 1, 1)
    beam_at: float = 0.35
    trim: float = radians(1.4)
    travel: float = radians(9.0)
    period: float = 0.01
    holds: bool = False
    further: tuple[float, float] | None = None


class Beam(NamedTuple):
    """A second rangefinder, unlike the first: place (m), readings a second, s by which they are late, their noise (m)."""

    at: float = 0.10
    rate: float = 40.0
    lag: float = 0.015
    noise: float = 0.006


def with_second_beam(table: pd.DataFrame, sea: Sea, speed: float, heading: float, beam: Beam) -> pd.DataFrame:
    """The rows of a pass of `log_of` with the readings of a second beam in the column h2 (cm), at the next row each."""
    amplitude, phase, met, along = waves_met(sea, speed, heading)
    wave = amplitude * np.exp(1j * phase)
    heave, tilt = responses(wave, met, along, BOAT)
    time = table["t"].to_numpy()
    pings = np.arange(0.0, float(time[-1]), 1.0 / beam.rate) + 0.003  # which come between those of the first
    under = wave * np.exp(-1j * along * beam.at)
    over, tilted = sample((np.column_stack([heave + tilt * beam.at - under, tilt]), met), pings - beam.lag).T
    noise = beam.noise * np.random.default_rng([79, sea.seed]).standard_normal(len(pings))
    row = np.searchsorted(time, pings)
    found = np.full(len(time), np.nan)
    found[row] = 100.0 * ((BOAT.ride + over) / np.cos(tilted) + noise)
    return table.assign(h2=found)


def clipped(value: float, limit: float) -> float:
    return max(-limit, min(limit, value))


def commanded(table: pd.DataFrame, mix: np.ndarray, code: Code) -> pd.DataFrame:
    """The rows with the foils' commands (deg, to 0.01) and the pitch rate. mix: (foils, 3), as M15.14 has it."""
    pitch, roll = np.radians(table["trim"].to_numpy()), np.radians(table["heel"].to_numpy())
    turn, lean = np.gradient(pitch, code.period), np.gradient(roll, code.period)
    last, smooth, gathered = code.ride_height, code.ride_height, 0.0
    other = np.full(len(table), np.nan) if code.further is None else table["h2"].to_numpy() / 100.0
    place, weight = code.further or (0.0, 0.0)
    second = np.nan
    height = code.ride_height
    waiting = deque([np.zeros(3)] * code.delay)
    rows = []
    for i, reading in enumerate(table["h"].to_numpy() / 100.0):
        last = reading if reading == reading else last
        second = other[i] if other[i] == other[i] else second
        if reading == reading or not code.holds:
            height = last * cos(pitch[i]) * cos(roll[i]) - sin(pitch[i]) * code.beam_at
        if second == second:
            behind = second * cos(pitch[i]) * cos(roll[i]) - sin(pitch[i]) * place
            height = (last * cos(pitch[i]) * cos(roll[i]) - sin(pitch[i]) * code.beam_at + weight * behind) / (1.0 + weight)
        missing, rising = code.ride_height - height, (height - smooth) / code.smoothing
        smooth += code.period * rising
        up = code.height[0] * missing + gathered - code.height[2] * rising
        gathered = clipped(gathered + code.height[1] * missing * code.period, code.height_limit)
        nose = -code.pitch[0] * pitch[i] - code.pitch[1] * turn[i]
        side = -code.roll[0] * roll[i] - code.roll[1] * lean[i]
        loops = (clipped(up, code.height_limit), clipped(nose, code.pitch_limit), clipped(side, code.roll_limit))
        waiting.append(np.clip(code.trim + mix @ np.array(loops), -code.travel, code.travel))
        rows.append(waiting.popleft() * code.signs)
    angles = np.round(np.degrees(rows), 2)
    return table.assign(q=np.degrees(turn), fp=angles[:, 0], fs=angles[:, 1], fa=angles[:, 2])


def tilted_by_hand(length: float = 60.0, seed: int = 3) -> pd.DataFrame:
    """A bench log in the other logger's columns: the boat held over a table and tilted slowly about both axes, at rest."""
    draws = np.random.default_rng(seed)
    time = np.arange(0.0, length, 0.01)

    def sway(size: float, slow: float) -> np.ndarray:
        return size * np.sin(2.0 * pi * slow * time + draws.uniform(0.0, 6.0)) * np.sin(2.0 * pi * 0.31 * slow * time)

    pitch, roll, height = sway(9.0, 0.4), sway(12.0, 0.3), 10.0 + sway(6.0, 0.25)
    level = np.cos(np.radians(pitch)) * np.cos(np.radians(roll))
    reading = (height + 35.0 * np.sin(np.radians(pitch))) / level + 0.1 * draws.standard_normal(len(time))
    fresh = np.arange(len(time)) % 5 == 0
    return pd.DataFrame(
        {
            "t": time,
            "h": np.where(fresh, reading, np.nan),
            "trim": pitch,
            "heel": roll,
            "ax": 9.80665 * np.sin(np.radians(pitch)),
            "az": -9.80665 * level,
            "course": 90.0,
            "v": 0.0,
        }
    )

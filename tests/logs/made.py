"""What the tests of the logs share: logs that the model flew, and logs synthesised without it, as records and as files."""

from __future__ import annotations

from functools import cache
from math import pi
from pathlib import Path

import numpy as np

from sweep.logs.compare.simulated_log import Flown, fly_aboard
from sweep.logs.read.channels import Record, Series
from sweep.logs.read.mapping import load_mapping
from sweep.logs.report.day import Day, judge_day
from sweep.logs.report.demo import COLUMNS, write_csv
from sweep.model.physics.spectra import Spectrum
from sweep.model.physics.waves import draw_components, encounter_frequency, wave_number
from tests.model.crafts import COURIER_FILE, WATER, block_of, courier

GRAVITY = 9.81
DEPTH = 5.0

MAPPING = """\
title: A test day
craft: craft.yaml
water: {depth: 5 m}
waves: {bearing: 180 deg}
clock: {column: t_ms, unit: ms}
columns:
  range: {column: bow_mm, unit: mm}
  pitch: {column: nose_down_deg, unit: deg, sign: -1}
  roll: {column: roll_deg, unit: deg}
  pitch_rate: {column: q_rad_s, unit: rad/s}
  force_x: {column: ax_g, unit: g0}
  force_z: {column: az_g, unit: g0}
  heading: {column: compass_deg, unit: deg}
  speed: {column: gps_kn, unit: kn}
  throttle: {column: throttle_pct, unit: "%"}
  foil_port: {column: foil_p_deg, unit: deg}
  foil_starboard: {column: foil_s_deg, unit: deg}
  foil_aft: {column: foil_a_deg, unit: deg}
logs: {file: pass.csv}
"""


@cache
def flown(heading: float = pi, height: float = 0.05, period: float = 1.1, length: float = 70.0, speed: float = 4.0) -> Flown:
    """A flight of the courier in a drawn sea, as logged."""
    sea = draw_components(Spectrum(height, period, 3.3), heading, DEPTH, np.random.default_rng([3, round(100 * heading)]))
    return fly_aboard([courier()], WATER, block_of(sea, length + 5.0, 5.0), speed)[0]


def head_pass() -> Record:
    """A pass on a course of 180 degrees, into waves that come from there."""
    log = flown().log
    return log | {"heading": Series(log["heading"].time, log["heading"].value + pi)}


def write_day(folder: Path, text: str = MAPPING, record: Record | None = None, columns: dict | None = None) -> Path:
    """Mapping, craft file and log in a folder; the mapping's path."""
    (folder / "craft.yaml").write_text(COURIER_FILE.read_text(encoding="utf-8"), encoding="utf-8")
    write_csv(folder / "pass.csv", record or head_pass(), columns or COLUMNS)
    (folder / "day.yaml").write_text(text, encoding="utf-8")
    return folder / "day.yaml"


def judged(folder: Path, text: str = MAPPING, record: Record | None = None) -> Day:
    """The day of such a folder."""
    return judge_day(load_mapping(write_day(folder, text, record)))


def synthesised(
    omega: np.ndarray, density: np.ndarray, speed: float, heading: float, length: float, seed: int, noise: float = 0.003
) -> Record:
    """The log of a courier held level 9.5 cm over a Gaussian sea of this spectrum (m2 s); the model has no part in it."""
    random = np.random.default_rng(seed)
    step = np.gradient(omega)
    amplitude = np.sqrt(density * step * random.exponential(2.0, len(omega)))
    phase = random.uniform(0.0, 2.0 * pi, len(omega))
    met = encounter_frequency(omega, wave_number(omega, DEPTH), speed, heading)
    ping = np.arange(0.0, length, 0.05)
    surface = (amplitude[:, None] * np.cos(np.outer(met, ping) + phase[:, None])).sum(axis=0)
    tick = np.arange(0.0, length + 0.06, 0.01)
    still = np.zeros_like(tick)
    reading = 0.095 - surface + noise * random.standard_normal(len(ping))
    return {
        "range": Series(ping + courier().rangefinders.latency, reading),
        "pitch": Series(tick, still),
        "force_z": Series(tick, still - GRAVITY + 0.1 * random.standard_normal(len(tick))),
    }

"""Days of the boat of `second_boat`: its control code, from M15 of MODEL.md, its servos, sensors and logger.

The kernels have no part in it. What is planted is in the crafts; the code takes the craft to be as it was designed.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from sweep.campaign.craft import Craft
from tests.logs.second_boat import SETTLE, Boats, Rates, State, Waves, moved
from tests.second.courier import FRESH
from tests.second.sea import GRAVITY
from tests.second.second_model import SecondModel, build, mixer, trim
from tests.second.sensors import finders

TICK, PARTS = 0.01, 10
"""s; steps of a servo in a tick."""
COLUMNS = """\
clock: {column: t, unit: s}
columns:
  range: {column: h, unit: cm}
  pitch: {column: trim, unit: deg}
  pitch_rate: {column: q, unit: deg/s}
  force_x: {column: ax, unit: m/s^2}
  force_z: {column: az, unit: m/s^2}
  heading: {column: course, unit: deg}
  speed: {column: v, unit: m/s}
  throttle: {column: thr, unit: "%"}
  foil_port: {column: fp, unit: deg}
  foil_starboard: {column: fs, unit: deg}
  foil_aft: {column: fa, unit: deg}
  witness: {column: mark, unit: mm}
"""


class Servos:
    """Of the second order, with a delay, a step of the command, and limits of speed and travel; two a day, ahead and aft."""

    def __init__(self, crafts: Sequence[Craft], start: np.ndarray) -> None:
        self.own = crafts[0].servos
        self.bandwidth = np.array([craft.servos.bandwidth for craft in crafts])[:, None]
        self.ticks = np.array([craft.control.delay for craft in crafts]) / TICK
        self.angle, self.turning = np.tile(start, (len(crafts), 1)), np.zeros((len(crafts), 2))
        self.sent = [self.angle.copy()]

    def tick(self, command: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """The angles in the middle and at the end of the tick that begins with this command."""
        self.sent.append(command)
        halfway, step = self.angle, TICK / PARTS
        for part in range(PARTS):
            back = np.ceil(self.ticks - part / PARTS - 1e-6).astype(int)  # the newest whose delay is over
            known = np.array([self.sent[max(len(self.sent) - 1 - n, 0)][day] for day, n in enumerate(np.maximum(back, 0))])
            wanted = np.clip(np.round(known / self.own.quantum) * self.own.quantum, -self.own.travel, self.own.travel)
            pull = self.bandwidth**2 * (wanted - self.angle) - 2.0 * self.own.damping * self.bandwidth * self.turning
            self.turning = np.clip(self.turning + step * pull, -self.own.rate, self.own.rate)
            self.angle = np.clip(self.angle + step * self.turning, -self.own.travel, self.own.travel)
            halfway = self.angle if part == PARTS // 2 - 1 else halfway
        return halfway, self.angle


class Code:
    """The control code of the craft file, as M15 has it, for many days at once."""

    def __init__(self, designed: SecondModel, speed: float, days: int) -> None:
        self.own, self.speed, found = designed.craft.control, speed, trim(designed, speed)
        mix = mixer(designed)[[0, 2]]
        self.mix, self.trim, self.throttle = mix[:, :2], found.foil_angles[[0, 2]], found.throttle
        (finder,) = finders(designed.craft)
        self.ahead, self.mounted = finder.place[0], finder.mounted
        self.levelling = designed.craft.inertial.levelling_time
        self.pitch, self.smoothed = np.zeros(days), np.full(days, self.own.ride_height)
        self.gathered, self.driven = np.zeros(days), np.zeros(days)

    def tick(self, reading: np.ndarray, q: np.ndarray, force: np.ndarray, speed: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Foil angles (days, 2) and throttle (days,) from the last reading, rate, specific force (2, days) and speed."""
        own = self.own
        level = np.arctan2(force[0], np.abs(force[1]))
        self.pitch = self.pitch + TICK * q + TICK / self.levelling * (level - self.pitch)
        height = np.cos(self.pitch) * (reading - self.mounted) - np.sin(self.pitch) * self.ahead
        missing, rising = own.ride_height - height, (height - self.smoothed) / own.height.smoothing
        self.smoothed = self.smoothed + TICK * rising
        limit = own.height.limit
        lift = own.height.proportional * missing + self.gathered - own.height.derivative * rising
        self.gathered = np.clip(self.gathered + TICK * own.height.integral * missing, -limit, limit)
        nose = -own.pitch.proportional * self.pitch - own.pitch.derivative * q
        loops = np.column_stack([np.clip(lift, -limit, limit), np.clip(nose, -own.pitch.limit, own.pitch.limit)])
        slow = self.speed - speed
        wanted = self.throttle + own.speed.proportional * slow + self.driven
        held = ((wanted >= 1.0) & (slow > 0.0)) | ((wanted <= 0.0) & (slow < 0.0))
        self.driven = self.driven + np.where(held, 0.0, TICK * own.speed.integral * slow)
        return self.trim + loops @ self.mix.T, np.clip(wanted, 0.0, 1.0)


class Sensors:
    """Rangefinder, inertial unit, speed and witness: draws of their own, a generator for all days."""

    def __init__(self, boats: Boats, waves: Waves, key: list[int]) -> None:
        self.boats, self.waves, crafts = boats, waves, boats.crafts
        self.draws = np.random.default_rng(key)
        group = crafts[0].rangefinders
        self.rate, self.resolution = group.rate, group.resolution
        self.noise, self.latency, mounted = (
            np.array([craft.rangefinders.first(name) for craft in crafts]) for name in ("noise", "latency", "height")
        )
        centre = boats.model.mass.centre
        self.ahead, self.down = group.x - centre[0], centre[2] - mounted
        self.unit = np.array([0.0, centre[2] - crafts[0].inertial.height])
        self.keel = centre[2]
        self.bias = self.normal(3) * np.array([[0.003], [0.03], [0.03]])
        self.readings: list[np.ndarray] = []
        self.speed = np.full(len(crafts), boats.speed)

    def normal(self, rows: int) -> np.ndarray:
        """(rows, days)."""
        return self.draws.standard_normal((rows, len(self.boats.crafts)))

    def look(self, now: State, time: float) -> None:
        """One reading more."""
        sine, cosine = np.sin(now.pitch), np.cos(now.pitch)
        x = now.x + cosine * self.ahead + sine * self.down
        z = now.z - sine * self.ahead + cosine * self.down
        foot = x + np.maximum(-z, 0.0) / cosine * sine
        found = (-z - self.waves.surface(foot[:, None], time)[:, 0]) / cosine + self.noise * self.normal(1)[0]
        self.readings.append(np.round(np.maximum(found, 0.02) / self.resolution) * self.resolution)

    def known(self, time: float) -> tuple[np.ndarray, np.ndarray]:
        """The newest reading whose latency is over, and its number, -1 before the first."""
        number = np.floor((time - self.latency + 1e-5) * self.rate).astype(int)
        number = np.minimum(number, len(self.readings) - 1)
        last = np.array([self.readings[max(n, 0)][day] for day, n in enumerate(number)])
        return last, number

    def inertial(self, now: State, rates: Rates) -> tuple[np.ndarray, np.ndarray]:
        """Rate rad/s (days,), and specific force forward and down m/s2 (2, days)."""
        a, (x, z) = rates.acceleration, self.unit
        ahead = a[:, 0] + now.q * now.w + GRAVITY * np.sin(now.pitch) + a[:, 2] * z - now.q**2 * x
        down = a[:, 1] - now.q * now.u - GRAVITY * np.cos(now.pitch) - a[:, 2] * x - now.q**2 * z
        noise = self.normal(3)
        return now.q + self.bias[0] + 0.005 * noise[0], np.array([ahead, down]) + self.bias[1:] + 0.1 * noise[1:]

    def witness(self, now: State, time: float) -> np.ndarray:
        """Keel over the water below it, m, as a video shows it."""
        z = now.z + np.cos(now.pitch) * self.keel
        over = -z - self.waves.surface(now.x[:, None], time)[:, 0]
        return np.asarray(over + 0.004 * self.normal(1)[0])


def passes(boats: Boats, designed: Craft, waves: Waves, length: float, key: list[int]) -> list[pd.DataFrame]:
    """The rows of each day's pass of so many s, in the units of COLUMNS; the course is 0.

    designed: the craft file's, which the control code takes the craft to be; key: of the noise. Raises ValueError where one
    does not stay up.
    """
    crafts, speed, days = boats.crafts, boats.speed, len(boats.crafts)
    code, sensors = Code(build(designed, FRESH), speed, days), Sensors(boats, waves, key)
    servos, full = Servos(crafts, code.trim), np.ones(days)
    centre, lag = boats.model.mass.centre, crafts[0].propulsor.lag
    now = State(
        0.0 * full, (-designed.control.ride_height - centre[2]) * full, 0.0 * full, speed * full, 0.0 * full, 0.0 * full,
        code.throttle * full, np.zeros((days, 2)), 0.0 * full,
    )  # fmt: skip
    rates = boats.rates(waves, 0.0, now, servos.angle)
    now = now._replace(lag=rates.lag_goal, wake=rates.wake_goal)
    rows, every = [], round(1.0 / (TICK * sensors.rate))
    before = np.full(days, -1)
    for tick in range(round((SETTLE + length) / TICK)):
        time = tick * TICK
        if tick % every == 0:
            sensors.look(now, time)
        if tick % 10 == 0:
            sensors.speed = now.u * np.cos(now.pitch) + now.w * np.sin(now.pitch) + 0.05 * sensors.normal(1)[0]
        rates = boats.rates(waves, time, now, servos.angle)
        q, force = sensors.inertial(now, rates)
        reading, number = sensors.known(time)
        command, throttle = code.tick(reading, q, force, sensors.speed)
        seen = sensors.witness(now, time) if tick % 4 == 0 else np.full(days, np.nan)
        fresh = np.where(number > before, reading, np.nan)
        rows.append([fresh, code.pitch, q, *force, sensors.speed, throttle, *servos.angle.T, seen])
        before = number
        halfway, _ = servos.tick(command)
        middle = moved(now, rates, now, TICK / 2.0, throttle, lag)
        rates = boats.rates(waves, time + TICK / 2.0, middle, halfway)
        now = moved(now, rates, middle, TICK, throttle, lag)
        if not np.isfinite(now.z).all() or (np.abs(now.z) > 1.0).any():
            raise ValueError(f"a craft did not stay up: {np.flatnonzero(~(np.abs(now.z) <= 1.0))}")
    kept = np.array(rows)[round(SETTLE / TICK) :]
    return [_table(kept[:, :, day]) for day in range(days)]


def _table(rows: np.ndarray) -> pd.DataFrame:
    degrees = 180.0 / np.pi
    return pd.DataFrame(
        {
            "t": np.round(TICK * np.arange(len(rows)), 3),
            "h": np.round(100.0 * rows[:, 0], 1),
            "trim": np.round(degrees * rows[:, 1], 3),
            "q": np.round(degrees * rows[:, 2], 2),
            "ax": np.round(rows[:, 3], 3),
            "az": np.round(rows[:, 4], 3),
            "course": 0.0,
            "v": np.round(rows[:, 5], 2),
            "thr": np.round(100.0 * rows[:, 6], 2),
            "fp": np.round(degrees * rows[:, 7], 2),
            "fs": np.round(degrees * rows[:, 7], 2),
            "fa": np.round(degrees * rows[:, 8], 2),
            "mark": np.round(1000.0 * rows[:, 9], 0),
        }
    )

"""The figure of every lesson with its interval, from the flights that the tests of the lessons fly.

Means are over replicates; intervals are Student's of 95 % over them, of a ratio on its logarithm with the replicates paired,
of a share of flights the exact binomial one. What is asked was written before the flights (see `test_lessons`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from math import pi
from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy import stats

from tests.lessons.flown import flights_of, where

CM, DEGREE = 0.01, pi / 180.0
ABRUPT, PACED = 95.0 * DEGREE, 30.0 * DEGREE


class Estimate(NamedTuple):
    """A value and its interval; the ends are the value itself where there is nothing random in it."""

    value: float
    low: float
    high: float


class Lesson(NamedTuple):
    """One figure. asked: at least (">=") or at most ("<=") so much."""

    letter: str
    says: str
    figure: Callable[[], Estimate]
    sign: str
    asked: float
    unit: str = "x"

    def verdict(self, found: Estimate) -> str:
        """Whether the figure is what was asked for, and its whole interval too."""
        side = 1.0 if self.sign == ">=" else -1.0
        if side * found.value < side * self.asked:
            return "not shown"
        return "shown" if side * (found.low if side > 0.0 else found.high) >= side * self.asked else "shown, not surely"


def by_replicate(table: pd.DataFrame, response: str) -> np.ndarray:
    """Mean of a response in each replicate."""
    return table.groupby("replicate")[response].mean().to_numpy()


def level(table: pd.DataFrame, response: str, scale: float = 1.0) -> Estimate:
    """Mean of a response."""
    values = scale * by_replicate(table, response)
    mean = float(values.mean())
    half = _student(len(values)) * float(values.std(ddof=1)) / len(values) ** 0.5
    return Estimate(mean, max(mean - half, 0.0), mean + half)  # nothing that is asked of here can be negative


def ratio(table: pd.DataFrame, other: pd.DataFrame, response: str) -> Estimate:
    """Mean of a response over its mean in the other flights, replicate by replicate."""
    a, b = by_replicate(table, response), by_replicate(other, response)
    value = float(a.mean() / b.mean())
    apart = a / a.mean() - b / b.mean()
    half = _student(len(a)) * float(apart.std(ddof=1)) / len(a) ** 0.5
    return Estimate(value, value * float(np.exp(-half)), value * float(np.exp(half)))


def share(flags: pd.Series) -> Estimate:
    """Share of flights, in %."""
    found = stats.binomtest(int(flags.sum()), len(flags)).proportion_ci(0.95, "exact")
    return Estimate(100.0 * float(flags.mean()), 100.0 * float(found.low), 100.0 * float(found.high))


def _student(replicates: int) -> float:
    return float(stats.t.ppf(0.975, replicates - 1))


def failed(table: pd.DataFrame) -> pd.Series:
    """Flights that were lost or spent a fifth of their time outside the window."""
    return table["lost"] | (table["outside_window"] > 0.2)


def _rangefinder(sea: str | None = None, blind: float = 2 * CM, resolution: float = 1e-3) -> pd.DataFrame:
    flights = where(flights_of("a-coarse-rangefinder"), rangefinders__blind=blind, rangefinders__resolution=resolution)
    return flights if sea is None else where(flights, sea=sea)


def _astern(law: str, heading: str) -> pd.DataFrame:
    return where(flights_of("c-following-sea"), control__law=law, heading_name=heading)


def _fast(scheduling: str) -> pd.DataFrame:
    flights = where(flights_of("d-gains-at-speed"), speed=10.0, control__scheduling=scheduling)
    return where(flights, stiffness=2.4)


def _across(law: str, *headings: str) -> pd.DataFrame:
    flights = where(flights_of("e-no-inertial-unit"), control__law=law, sea="chop")
    return flights[flights["heading_name"].isin(headings)]


def _fused(sea: str, gain: float) -> tuple[pd.DataFrame, pd.DataFrame]:
    flights = where(flights_of("f-follow-or-ride-level"), sea=sea, control__height__proportional=gain * DEGREE / CM)
    alone = where(flights, control__law="level-and-height")
    return where(flights, control__law="fused-height", control__corner=1.0), alone


def _height_by(share: float, gain: float) -> pd.DataFrame:
    flights = flights_of("g-all-foils-or-one")
    return where(flights, control__height__proportional=gain * DEGREE / CM, control__pitch_share=share * DEGREE / CM)


def _weed(fault: str, held: bool) -> pd.DataFrame:
    gains = (0.3, 0.15) if held else (0.0, 0.0)
    flights = where(flights_of("h-weed"), control__speed__proportional=gains[0], control__speed__integral=gains[1])
    return where(flights, fault=fault)


def _spiky(fault: str, gate: float, median: int, share: float = 0.4) -> pd.DataFrame:
    flights = where(flights_of("i-spikes"), sea="calm", fault=fault, control__pitch_share=share * DEGREE / CM)
    return where(flights, control__gate=gate, control__median=median)


def _struts(height: float, rate: float, bank: float, turns: bool) -> pd.DataFrame:
    flights = where(flights_of("j-taller-struts"), struts__height=height, control__turn_rate=rate, control__bank_share=bank)
    return flights[(flights["fault"] != "none") == turns]


def _clearance_slope() -> Estimate:
    heights = np.array([20 * CM, 26 * CM, 32 * CM, 40 * CM])
    clearances = [by_replicate(_struts(height, PACED, 0.0, False), "clearance_p01") for height in heights]
    slopes = np.polyfit(heights, np.array(clearances), 1)[0]
    half = _student(len(slopes)) * float(slopes.std(ddof=1)) / len(slopes) ** 0.5
    return Estimate(float(slopes.mean()), float(slopes.mean()) - half, float(slopes.mean()) + half)


def _voting(count: int) -> pd.DataFrame:
    flights = where(flights_of("j-more-rangefinders"), rangefinders__count=count, rangefinders__rate=60.0)
    return where(flights, control__combine="vote", fault="spikes")


def _eyeballed(loops: float) -> pd.DataFrame:
    flights = where(flights_of("k-an-eyeballed-gain"), control__height__integral=0.0, control__height__derivative=0.0)
    return flights[np.isclose(flights["attitude loops"], loops)]


def _worst_gain() -> Estimate:
    flights = _eyeballed(1.0)
    worst = flights.groupby("control.height.proportional")["outside_window"].mean().idxmax()
    return level(flights[flights["control.height.proportional"] == worst], "outside_window", 100.0)


B = "b-height-by-a-guess"
LESSONS: tuple[Lesson, ...] = (
    Lesson(
        "a",
        "steps of a fifth of the window against 1 mm, in a calm: ride-height error",
        lambda: ratio(_rangefinder("calm", resolution=3.2 * CM), _rangefinder("calm"), "ride_height_error"),
        ">=",
        1.5,
    ),
    Lesson(
        "a",
        "blind at its ride height: time in the water",
        lambda: level(_rangefinder(blind=12 * CM), "wet_share", 100.0),
        ">=",
        20.0,
        "%",
    ),
    Lesson(
        "b",
        "height known to the length of the struts: time outside the window",
        lambda: level(where(flights_of(B), rangefinders__noise=20 * CM), "outside_window", 100.0),
        ">=",
        25.0,
        "%",
    ),
    Lesson(
        "b",
        "height known to a few hundredths of it: time outside",
        lambda: level(where(flights_of(B), rangefinders__noise=6e-3), "outside_window", 100.0),
        "<=",
        2.0,
        "%",
    ),
    Lesson(
        "c",
        "the sea follows, against met head on: level-height error",
        lambda: ratio(_astern("level-and-height", "following"), _astern("level-and-height", "head"), "level_height_error"),
        ">=",
        1.2,
    ),
    Lesson(
        "c",
        "the same, on a fused height",
        lambda: ratio(_astern("fused-height", "following"), _astern("fused-height", "head"), "level_height_error"),
        ">=",
        1.2,
    ),
    Lesson(
        "d",
        "stiff fixed gains at 10 m/s against scheduled ones: roll",
        lambda: ratio(_fast("fixed"), _fast("dynamic-pressure"), "roll_rms"),
        ">=",
        3.0,
    ),
    Lesson(
        "e",
        "no inertial unit, waves from the quarter: flights that fail",
        lambda: share(failed(_across("each-foil", "quartering"))),
        ">=",
        50.0,
        "%",
    ),
    Lesson(
        "e",
        "no inertial unit, waves abeam and on the bow: flights that fail",
        lambda: share(failed(_across("each-foil", "beam", "bow"))),
        ">=",
        50.0,
        "%",
    ),
    Lesson(
        "f",
        "fused at a low corner in chop, firm height loop: vertical acceleration",
        lambda: ratio(*_fused("chop", 1.6), "vertical_acceleration"),
        "<=",
        0.7,
    ),
    Lesson(
        "f", "the same with the shipped, soft loop", lambda: ratio(*_fused("chop", 0.4), "vertical_acceleration"), "<=", 0.7
    ),
    Lesson(
        "f",
        "fused at a low corner in long high waves: time in the water",
        lambda: ratio(*_fused("long-waves", 1.6), "wet_share"),
        ">=",
        2.0,
    ),
    Lesson(
        "g",
        "height by pitch against height by all foils: pitch",
        lambda: ratio(_height_by(0.4, 0.0), _height_by(0.0, 0.4), "pitch_rms"),
        ">=",
        1.5,
    ),
    Lesson(
        "h",
        "weed of 6 cm², throttle set: speed kept",
        lambda: ratio(_weed("weed of 6 cm2", False), _weed("none", False), "speed_mean"),
        "<=",
        0.9,
    ),
    Lesson(
        "h",
        "the same with the speed held: power",
        lambda: ratio(_weed("weed of 6 cm2", True), _weed("none", True), "power_mean"),
        ">=",
        1.0,
    ),
    Lesson(
        "h",
        "weed of 120 cm², speed held: time in the water",
        lambda: level(_weed("weed of 120 cm2", True), "wet_share", 100.0),
        ">=",
        20.0,
        "%",
    ),
    Lesson(
        "i",
        "spikes where height asks for pitch: pitch",
        lambda: ratio(_spiky("spikes", 0.0, 1), _spiky("none", 0.0, 1), "pitch_rms"),
        ">=",
        1.5,
    ),
    Lesson(
        "i", "the same with a gate", lambda: ratio(_spiky("spikes", 2 * CM, 1), _spiky("none", 0.0, 1), "pitch_rms"), "<=", 1.2
    ),
    Lesson(
        "i", "the same with a median", lambda: ratio(_spiky("spikes", 0.0, 5), _spiky("none", 0.0, 1), "pitch_rms"), "<=", 1.2
    ),
    Lesson("j", "clearance bought with strut height", _clearance_slope, ">=", 0.8),
    Lesson(
        "j",
        "abrupt turn on 40 cm struts against 20 cm: largest roll",
        lambda: ratio(_struts(40 * CM, ABRUPT, 0.0, True), _struts(20 * CM, ABRUPT, 0.0, True), "roll_peak"),
        ">=",
        1.2,
    ),
    Lesson(
        "j",
        "on 40 cm, paced and banked against abrupt: largest roll",
        lambda: ratio(_struts(40 * CM, PACED, 0.5, True), _struts(40 * CM, ABRUPT, 0.0, True), "roll_peak"),
        "<=",
        0.7,
    ),
    Lesson(
        "j",
        "three voting rangefinders against one, with spikes: vertical acceleration",
        lambda: ratio(_voting(3), _voting(1), "vertical_acceleration"),
        "<=",
        0.8,
    ),
    Lesson(
        "k", "the worst proportional gain of 0.1 to 0.8 deg/cm, attitude loops on: time outside", _worst_gain, "<=", 5.0, "%"
    ),
    Lesson("k", "attitude loops off: flights that fail", lambda: share(failed(_eyeballed(0.0))), ">=", 50.0, "%"),
)


def figures() -> Iterator[tuple[Lesson, Estimate]]:
    """Every lesson with its figure."""
    for lesson in LESSONS:
        yield lesson, lesson.figure()

"""Signs by what two sensors of any craft must agree on: the pitch, its rate and the forward accelerometer."""

from __future__ import annotations

import numpy as np

from sweep.logs.begin.guess import Columns, Guess
from sweep.model.physics.spectra import GRAVITY, Floats
from sweep.words.units import from_unit

SLOW = 0.3
"""s, over which both are meant before they are compared (judgement): noise is not, and the swing in waves is left."""
MOSTLY_TILT = 2.0
"""Times what the pitch alone makes it read, up to which the forward accelerometer tells its sign (judgement)."""
TELLS = 0.3
"""Least correlation that tells a sign (judgement)."""


def agreed(found: list[Guess], columns: Columns) -> list[Guess]:
    """The guesses with the signs of pitch, force_x and pitch_rate by each other, and a question where that tells nothing.

    At rest and in slow waves the accelerometer reads g0 x sin(pitch) forward. Axes with z up (x forward, y left) have pitch and
    its rate positive bow down; with z down (x forward, y to starboard) bow up.
    """
    by = {guess.channel: guess for guess in found}
    for first, second in (("force_z", "force_x"), ("pitch", "roll"), ("roll", "pitch")):
        if {first, second} <= set(by):
            by[second] = _alike_in_unit(by[first], by[second], columns)
    if {"pitch", "force_x"} <= set(by):
        by |= _tilt(by, columns)
    elif "pitch" in by:
        by["pitch"] = _asked(by["pitch"], "no other column tells its sign: is bow up positive?")
    if {"pitch", "pitch_rate"} <= set(by):
        by["pitch_rate"] = _rate(by["pitch"], by["pitch_rate"], columns)
    if "roll" in by and not {"starboard", "port"} & set(columns.heard[by["roll"].column].words):
        by["roll"] = _asked(by["roll"], "no other column tells its sign: is starboard down positive?")
    return [by[guess.channel] for guess in found]


def _alike_in_unit(first: Guess, second: Guess, columns: Columns) -> Guess:
    """The second in the unit of the first, where no heading says otherwise: one sensor has both, and one swings too little."""
    untold = columns.heard[second.column].unit is None
    larger = second.channel == "force_x" or first.scale * from_unit("1", first.unit) < second.scale * from_unit(
        "1", second.unit
    )
    if not untold or not larger or (first.unit, first.scale) == (second.unit, second.scale):
        return second
    why = f"{second.why}; its unit is that of {first.channel}"
    return second._replace(unit=first.unit, scale=first.scale, why=why, question="")


def _tilt(by: dict[str, Guess], columns: Columns) -> dict[str, Guess]:
    pitch, force = by["pitch"], by["force_x"]
    alike, slope = _compared(_si(pitch, columns), _si(force, columns), columns.time)
    if abs(alike) < TELLS:
        return {"pitch": _asked(pitch, "the accelerometer does not tell its sign: is bow up positive?")}
    tilts = abs(slope / alike) < MOSTLY_TILT * GRAVITY
    if not tilts:  # waves push it to and fro, which may have any phase
        pitch = by["pitch"] = _asked(pitch, "it speeds up and slows too much to be sure of its sign: is bow up positive?")
    if alike > 0.0:
        return {"pitch": pitch._replace(why=f"{pitch.why}; the forward accelerometer swings with it as with bow up")}
    up = by["force_z"].sign < 0 if "force_z" in by else False
    if up and not columns.heard[pitch.column].turned:
        why = (
            f"{pitch.why}; z is up, and the forward accelerometer swings against it: it is bow down, as in axes with y to port"
        )
        return {"pitch": _asked(pitch._replace(sign=-pitch.sign, why=why), "is bow down positive in the log?")}
    why = f"{force.why}; it swings against the pitch: it is backward, or gravity itself"
    return {"force_x": _asked(force._replace(sign=-force.sign, why=why), "is it turned, and not the pitch?")}


def _rate(pitch: Guess, rate: Guess, columns: Columns) -> Guess:
    moves = np.diff(columns.time, prepend=-np.inf) > 0.0
    time = columns.time[moves]
    turned = np.interp(columns.time, time, np.gradient(_si(pitch, columns)[moves], time))
    alike, slope = _compared(turned, _si(rate, columns), columns.time)
    if abs(alike) < TELLS:
        return _asked(rate, "it does not follow the change of pitch: is it another axis?")
    if alike < 0.0:
        rate = rate._replace(sign=-rate.sign)
    fits = {"rad/s": rate.unit == "rad/s", "deg/s": rate.unit == "deg/s"}
    if 30.0 < abs(slope) < 100.0 and fits["rad/s"]:
        rate = rate._replace(unit="deg/s")
    elif 0.01 < abs(slope) < 0.03 and fits["deg/s"]:
        rate = rate._replace(unit="rad/s")
    return rate._replace(why=f"{rate.why}; it is the change of pitch by the clock, which tells sign and unit", question="")


def _si(guess: Guess, columns: Columns) -> Floats:
    values = columns.values[guess.column].copy()
    values[np.isin(values, guess.missing)] = np.nan
    known = np.isfinite(values)
    return np.interp(columns.time, columns.time[known], values[known]) * guess.factor


def _compared(a: Floats, b: Floats, time: Floats) -> tuple[float, float]:
    """Correlation of two slow signals, and b over a."""
    width = max(round(SLOW / max(float(np.median(np.diff(time))), 1e-6)), 1)
    box = np.ones(width) / width
    a, b = (np.convolve(each - each.mean(), box, mode="valid") for each in (a, b))
    if np.ptp(a) == 0.0 or np.ptp(b) == 0.0:
        return 0.0, 0.0
    alike = float(np.corrcoef(a, b)[0, 1])
    return alike, alike * float(np.std(b) / np.std(a))


def _asked(guess: Guess, question: str) -> Guess:
    return guess._replace(question=f"{guess.question}; {question}" if guess.question else question)

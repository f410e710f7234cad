"""The search for the settings with which the replayed code sends what a log has: least squares on the foils' angles.

Angles are held against the logged ones less their means: a trim is not a setting. The search begins linear in the gains, with
the signs of the foils, the delay, and whether the log has commands or the angles that the servos reached, each tried; then
limits and filters, by small changes in the lanes of one replay (Levenberg, Quarterly of Applied Mathematics 2, 1944, 164-168,
from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from sweep.logs.law.holding import holding, may_hold
from sweep.logs.law.inputs import Inputs
from sweep.logs.law.replay import Replayed, declared, of_each_servo, replay
from sweep.logs.law.settings import Setting, settings_of
from sweep.model import layout as at
from sweep.model.compiled import LANES
from sweep.model.pack.fleet import Fleet
from sweep.model.physics.spectra import Floats
from sweep.model.physics.water import Water

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft

WARMS = 1.0  # s of a stretch, in which the code's memory comes to be that of the log (judgement)
ROUNDS = 10  # of small changes (judgement)
CHANGE = 0.05  # of a setting's scale, for a slope (judgement)
START = 0.05  # rad, the scale of an integral or a trim (judgement)
SCAN = (0.2, 0.3, 0.4, 0.5, 0.65, 0.8, 1.5)
"""Times the declared limit, from which the search goes on (judgement)."""
DELAYS = (0.0, 1.0, 2.0, 3.0, 4.0, 6.0, 8.0)
"""Ticks, from which the search goes on (judgement)."""
BETTER = 0.97  # of the squares that are left, for another limit to be taken (judgement)
LEFT = 0.003  # of the logged angles' variance, beyond which another code than the file's is tried (judgement)
HOLDS = 0.5  # of the squares that are left, for that code to be taken (judgement)
FAR = 3.0  # scales, by which a setting may differ where the log shows nothing of it (judgement)


class _Angles(NamedTuple):
    """Of one foil, replayed: at times (s), rad, (times, lanes); and by how much later (s) a log has them, (lanes,)."""

    time: Floats
    angle: Floats
    late: Floats


class Search(NamedTuple):
    """What a search holds fixed. foils: indices of those that were logged; holds: whether the code holds its height between

    readings.
    """

    craft: Craft
    fleet: Fleet
    settings: tuple[Setting, ...]
    stretches: tuple[Inputs, ...]
    foils: tuple[int, ...]
    logged: Literal["commands", "reached"] = "reached"
    signs: tuple[int, ...] = ()
    gathered: tuple[Floats, ...] = ()
    holds: bool = False

    @property
    def scale(self) -> Floats:
        """(settings,): by which changes are measured, SI."""
        return np.array([setting.scale(self.craft) for setting in self.settings])

    @property
    def slots(self) -> list[int]:
        """Of the settings, in the kernels."""
        return [setting.slot for setting in self.settings]

    @property
    def least(self) -> Floats:
        """(settings,): the smallest that the code takes, SI."""
        return np.array([setting.least for setting in self.settings])

    def replayed(self, values: Floats, starts: Floats | None = None) -> list[Replayed]:
        """values: (lanes, settings); starts: (5, lanes), what each lane has more at the start of each stretch, rad."""
        full = np.repeat(values[-1:], LANES, axis=0)
        full[: len(values)] = np.maximum(values, self.least)
        if self.logged == "commands":
            full[:, -1] = 0.0
        more = np.zeros((5, LANES))
        if starts is not None:
            more[:, : len(values)] = starts
        return [
            replay(self.fleet, full, self.slots, each, gathered[:, None] + more, self.logged == "reached")
            for each, gathered in zip(self.stretches, self.gathered, strict=True)
        ]

    def angles(self, values: Floats, replayed: list[Replayed] | None = None) -> list[Floats]:
        """Of each logged foil in each stretch: (rows, lanes) as foretold, rad, less their mean. replayed: if it is known."""
        found = []
        for each, flown in zip(self.stretches, replayed or self.replayed(values), strict=True):
            for foil in self.foils:
                if self.logged == "commands":
                    angles = _Angles(each.time, flown.commands[:, foil, : len(values)], values[:, -1])
                else:
                    angles = _Angles(flown.moved, flown.reached[:, foil, : len(values)], np.zeros(len(values)))
                found.append(self.signs[foil] * _at_rows(each, foil, angles))
        return found

    def left(self, values: Floats, starts: Floats | None = None) -> Floats:
        """(rows, lanes): logged less foretold."""
        foretold = self.angles(values, self.replayed(values, starts))
        return np.concatenate([y[:, None] - x for y, x in zip(measured(self.stretches, self.foils), foretold, strict=True)])

    def stretch_of_rows(self) -> np.ndarray:
        """(rows,): the number of the stretch that each row of `left` is of."""
        return np.concatenate(
            [
                np.full(len(logged_rows(each, foil)[0]), number)
                for number, each in enumerate(self.stretches)
                for foil in self.foils
            ]
        )

    def started(self, step: Floats) -> Search:
        """With other starts. step: (stretches x 5,), in START."""
        more = START * step.reshape(-1, 5)
        return self._replace(gathered=tuple(old + new for old, new in zip(self.gathered, more, strict=True)))


def searched(craft: Craft, water: Water, stretches: Sequence[Inputs], speed: float) -> tuple[Search, Floats]:
    """The search at its end, and the settings that explain most. speed: m/s, of trims.

    Where the file's law leaves more than rounding and servos do, a code that holds its height between readings is tried too.
    """
    model, values = _searched(craft, water, stretches, speed)
    left = _squares(model, values)
    total = float(sum(angle @ angle for angle in measured(model.stretches, model.foils)))
    if left > LEFT * total and may_hold(craft):
        held = [holding(each, model.fleet.parameters[0]) for each in stretches]
        other, its = _searched(craft, water, held, speed)
        if _squares(other, its) < HOLDS * left:
            return other._replace(holds=True), its
    return model, values


def _squares(model: Search, values: Floats) -> float:
    return float((model.left(values[None]) ** 2).sum())


def _searched(craft: Craft, water: Water, stretches: Sequence[Inputs], speed: float) -> tuple[Search, Floats]:
    foils = tuple(i for i, series in enumerate(stretches[0].foils) if series is not None)
    fleet = declared(craft, water, speed)
    fleet.parameters[:, of_each_servo(at.SERVO.quantum, fleet.structure.foils)] = 0.0
    settings = settings_of(craft)
    model = Search(craft, fleet, settings, tuple(stretches), foils, gathered=(np.zeros(5),) * len(stretches))
    start = np.array([setting.declared(craft) for setting in settings])
    model, values = _begun(model, start)
    found = []
    for first in (
        values,
        np.append(start[:-1], values[-1]),
    ):  # linear gains are far off where limits rule
        there = _gathered(model, first)
        found.append(_improved(there, _scanned(there, first)))
    model, values = min(found, key=lambda each: _squares(*each))
    model, values = _improved(model, _scanned(model, values))
    return model, values


def measured(stretches: Sequence[Inputs], foils: Sequence[int]) -> list[Floats]:
    """The logged angles of each foil in each stretch, rad, less their means, (rows,)."""
    found = []
    for each in stretches:
        for foil in foils:
            values = logged_rows(each, foil)[1]
            found.append(values - values.mean())
    return found


def logged_rows(inputs: Inputs, foil: int) -> tuple[Floats, Floats]:
    """Times and angles of a foil's rows that are held against the replay."""
    series = inputs.foils[foil]
    assert series is not None
    some = series.between(float(inputs.time[0]) + WARMS, float(inputs.time[-1]))
    return some.time, some.value


def _at_rows(inputs: Inputs, foil: int, angles: _Angles) -> Floats:
    """(rows, lanes): a replayed foil at the rows of its log, less its mean."""
    rows, _ = logged_rows(inputs, foil)
    found = np.column_stack(
        [np.interp(rows - late, angles.time, lane) for late, lane in zip(angles.late, angles.angle.T, strict=True)]
    )
    return np.asarray(found - found.mean(axis=0))


def _begun(model: Search, start: Floats) -> tuple[Search, Floats]:
    """Signs, kind of angles, delay and gains that explain most, linear in the gains: no limits yet."""
    craft, period = model.craft, 1.0 / model.craft.control.rate
    gains = [i for i, setting in enumerate(model.settings) if setting.gain]
    lanes = np.repeat(start[None], len(gains) + 1, axis=0)
    lanes[:, gains] = 0.0
    for lane, i in enumerate(gains):
        lanes[lane, i] = model.scale[i]
    for i, setting in enumerate(model.settings):
        if setting.limits:
            lanes[:, i] = 1e3
    free = model.fleet.parameters.copy()
    for slot in (at.SERVO.travel, at.SERVO.rate):
        free[:, of_each_servo(slot, model.fleet.structure.foils)] = 1e3
    ways: list[Literal["commands", "reached"]] = ["commands", "reached"]
    plain = (1,) * len(craft.foils)
    best: tuple[float, Search, Floats] | None = None
    sent: list[Replayed] | None = None  # which no delay changes
    for logged, ticks in product(ways, DELAYS):
        lanes[:, -1] = ticks * period
        tried = model._replace(fleet=model.fleet._replace(parameters=free), logged=logged, signs=plain)
        sent = (sent or tried.replayed(lanes)) if logged == "commands" else None
        squares, signs, found = _linear(tried, tried.angles(lanes, sent), len(gains))
        if best is None or squares < 0.98 * best[0]:
            values = start.copy()
            values[gains], values[-1] = found * model.scale[gains], ticks * period
            best = squares, model._replace(logged=logged, signs=signs), values
    assert best is not None
    return best[1], best[2]


def _linear(model: Search, terms: Sequence[Floats], gains: int) -> tuple[float, tuple[int, ...], Floats]:
    """Least squares in the gains for every choice of the foils' signs: squares left, signs, gains in scales."""
    foils, count = model.foils, len(model.foils)
    logged = measured(model.stretches, foils)
    inner, cross = np.zeros((count, gains, gains)), np.zeros((count, gains))
    for i, (term, angle) in enumerate(zip(terms, logged, strict=True)):
        basis = term[:, :gains]
        inner[i % count] += basis.T @ basis
        cross[i % count] += basis.T @ angle
    whole = inner.sum(axis=0)
    whole += 1e-6 * np.trace(whole) / gains * np.eye(gains)
    total = float(sum(angle @ angle for angle in logged))
    found = []
    for signs in product((1, -1), repeat=count):
        wanted = np.array(signs) @ cross
        answer = np.linalg.solve(whole, wanted)
        if answer.sum() >= 0.0:  # all signs turned and all gains turned is the same
            found.append((total - float(answer @ wanted), signs, answer))
    squares, chosen, answer = min(found, key=lambda each: each[0])
    every = [0] * len(model.craft.foils)
    for foil, sign in zip(foils, chosen, strict=True):
        every[foil] = sign
    return squares, tuple(every), answer


def _gathered(model: Search, values: Floats) -> Search:
    """Integrals and trims at the start of each stretch, by the means of the angles: what a limit holds depends on them."""
    first = model.fleet.parameters[0]
    mix = np.array([first[at.FOIL.mix.slots(foil * at.FOIL.width)] for foil in model.foils])
    integral = [_value(model, values, f"control.{loop}.integral") > 0.0 for loop in ("height", "pitch", "roll")]
    limit = [abs(_value(model, values, f"control.{loop}.limit")) for loop in ("height", "pitch", "roll")]
    found = []
    for each, flown, before in zip(model.stretches, model.replayed(values[None]), model.gathered, strict=True):
        off = np.array(
            [model.signs[foil] * logged_rows(each, foil)[1].mean() - flown.commands[:, foil, 0].mean() for foil in model.foils]
        )
        more = before[:3] + np.append(before[3:], 0.0) + np.linalg.pinv(mix) @ off
        held = np.where(integral, np.clip(more, np.negative(limit), limit), 0.0)
        found.append(np.concatenate([held, (more - held)[:2]]))
    return model._replace(gathered=tuple(found))


def _value(model: Search, values: Floats, address: str) -> float:
    return next((float(values[i]) for i, each in enumerate(model.settings) if each.address == address), 0.0)


def _scanned(model: Search, values: Floats) -> Floats:
    """With other limits, loop by loop, where that explains more."""
    limits = [i for i, setting in enumerate(model.settings) if setting.limits]
    lanes = [values]
    for i, share in product(limits, SCAN):
        other = values.copy()
        other[i] = share * model.settings[i].declared(model.craft)
        lanes.append(other)
    squares = (model.left(np.array(lanes)) ** 2).sum(axis=0)
    best = int(np.argmin(squares))
    return lanes[best] if squares[best] < BETTER * squares[0] else values


def _improved(model: Search, values: Floats) -> tuple[Search, Floats]:
    """The settings and starts that explain most, near these."""
    damping, count = 1e-3, len(values)
    left, slopes = slopes_of(model, values)
    for _ in range(ROUNDS):
        inner = slopes.T @ slopes
        ridge = np.diag(np.diag(inner) * damping + 1e-9 * max(np.trace(inner), 1e-12))
        step = np.linalg.solve(inner + ridge, slopes.T @ left).clip(-FAR, FAR)
        tried = np.maximum(values + step[:count] * model.scale, model.least)
        other = model.started(step[count:])
        found, next_slopes = slopes_of(other, tried)
        if found @ found < left @ left:
            done = found @ found > (1.0 - 1e-4) * (left @ left)
            model, values, left, slopes, damping = other, tried, found, next_slopes, damping / 5.0
            if done:
                break
        else:
            damping = max(damping, 1e-3) * 20.0
    return model, values


def slopes_of(model: Search, values: Floats) -> tuple[Floats, Floats]:
    """(rows,): logged less foretold; (rows, settings + stretches x 5): by how much a foretold angle changes with each.

    With a setting by its scale, with an integral or trim at the start of a stretch by START. An integral that no gain feeds
    stays where it is.
    """
    count = len(values)
    lanes = np.concatenate([values[None], values + CHANGE * np.diag(model.scale), np.repeat(values[None], 5, axis=0)])
    starts = np.zeros((5, len(lanes)))
    starts[:, count + 1 :] = CHANGE * START * np.eye(5)
    left = model.left(lanes, starts)
    slopes = (left[:, :1] - left[:, 1:]) / CHANGE
    control = model.craft.control
    fed = [loop.integral > 0.0 for loop in (control.height, control.pitch, control.roll)]
    of_starts = slopes[:, count:] * np.array([*fed, True, True])
    stretch = model.stretch_of_rows()
    own = [of_starts * (stretch == number)[:, None] for number in range(len(model.stretches))]
    return left[:, 0], np.concatenate([slopes[:, :count], *own], axis=1)

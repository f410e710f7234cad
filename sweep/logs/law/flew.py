"""Which settings flew, each with an interval, or that the log does not tell it.

Intervals take errors that last: the sandwich estimator, by blocks of a few seconds (Liang & Zeger, Biometrika 73, 1986, 13-22,
from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
from scipy.stats import t as student

from sweep.insight.intervals import CONFIDENCE
from sweep.logs.law.inputs import Inputs, lacking_ranges
from sweep.logs.law.search import FAR, Search, logged_rows, measured, searched, slopes_of
from sweep.logs.law.settings import DELAY, Setting, settings_of
from sweep.model import layout as at
from sweep.model.physics.spectra import Floats
from sweep.model.physics.water import Water
from sweep.words.phrases import listed

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft

BLOCK = 2.0  # s, over which errors last (judgement)
FLOOR = 0.03  # of a setting: what rows beside ticks, rounding and the servos' numbers bring (judgement)
DELAY_FLOOR = 0.004  # s, likewise (judgement)
TOLD = 0.3  # of a setting: an interval under this either way is useful (judgement)
SURE = 1.5  # times an interval, beyond which a setting is called another: of fourteen, chance alone calls none (judgement)
MATTERS = 0.1  # of a setting: a smaller difference from the craft file is not worth a word (judgement)
NOTICED = 0.005  # of the angles: a smaller change may be of places some mm off, or of rows beside ticks (judgement)
PEAKS = 0.2  # of a limit, likewise: a few peaks show it (judgement)
UNEXPLAINED = 0.3  # share of the logged angles' variance, beyond which another law flew (judgement)
LIMITS = ("control.height.limit", "control.pitch.limit", "control.roll.limit", "servos.travel")


class UntoldError(Exception):
    """Why a log does not tell its law."""


class Flew(NamedTuple):
    """A setting: by the craft file, and as it flew with its interval, SI; told: whether the log shows it."""

    setting: Setting
    declared: float
    value: float
    low: float
    high: float
    told: bool

    @property
    def differs(self) -> bool:
        """Whether what flew is surely another than the craft file's, by more than a little."""
        if not math.isfinite(self.high):
            return self.told and self.low > (1.0 + MATTERS) * self.declared
        sure = 1.0 if self.setting is DELAY else SURE
        low, high = (self.value + sure * (end - self.value) for end in (self.low, self.high))
        off, matters = abs(self.value - self.declared), PEAKS if self.setting.limits else MATTERS
        return self.told and not low <= self.declared <= high and off > matters * (abs(self.declared) or self.setting.usual)

    @property
    def exact(self) -> bool:
        """Whether a fit may take it as it flew: known to a tenth, or of little weight, as a limit and a delay in ms are."""
        return self.setting.limits or self.setting is DELAY or 0.5 * (self.high - self.low) <= MATTERS * abs(self.value)

    @property
    def flown(self) -> float:
        """Its value for a fit, SI: of a limit that no command reached, the largest command."""
        return self.value if math.isfinite(self.high) else self.low


class Law(NamedTuple):
    """What the logs of one set-up tell of its law.

    signs: of each foil in the craft file's order, 0 where it was not logged; logged: whether the angles are commands, or what
    the servos reached; unexplained: share of their variance; why: nothing is told, or ''; length: s; holds: whether the code
    holds its height between readings, which the craft file's law levels anew at every tick.
    """

    settings: tuple[Flew, ...]
    signs: tuple[int, ...]
    logged: Literal["commands", "reached"]
    unexplained: float
    length: float
    why: str = ""
    holds: bool = False

    @property
    def differing(self) -> tuple[Flew, ...]:
        """The settings that differ from the craft file's."""
        return tuple(each for each in self.settings if each.differs)

    @property
    def agrees(self) -> bool:
        """Whether nothing that the log tells is other than in the craft file."""
        return not self.why and not self.holds and not self.differing and min(self.signs) >= 0


def law_of(craft: Craft, water: Water, stretches: Sequence[Inputs], speed: float) -> Law:
    """What flew, by the stretches of one set-up. speed: m/s, of trims. Raises UntoldError where they cannot be replayed."""
    if lacking := lacking_ranges(craft, stretches):
        raise UntoldError(f"the code uses several rangefinders, and the log has no {listed(lacking)}")
    if set(craft.rangefinders.of_each("kind")) != {"beam"}:
        raise UntoldError("the code uses a rangefinder without a beam, which a log's range cannot stand for")
    if craft.control.traits.cascades:
        raise UntoldError("the craft file's law has loops within loops, whose gains a log does not tell")
    if not stretches:
        raise UntoldError("no run has the range, the pitch and a foil's angle (foil_<name>) over 6 s without a hole")
    start = np.array([setting.declared(craft) for setting in settings_of(craft)])
    model, values = searched(craft, water, stretches, speed)
    return _told(model, values, start)


def _told(model: Search, values: Floats, start: Floats) -> Law:
    """Intervals, and what the log does not show."""
    left, slopes = slopes_of(model, values)
    blocks = np.concatenate(
        [
            (logged_rows(each, foil)[0] // BLOCK).astype(int) + 100_000 * number
            for number, each in enumerate(model.stretches)
            for foil in model.foils
        ]
    )
    total = float(sum(angle @ angle for angle in measured(model.stretches, model.foils)))
    unexplained = float(left @ left) / max(total, 1e-30)
    spread, freedom = (each[: len(values)] for each in _spread(left, slopes, blocks))
    reach = np.hypot(student.ppf(0.5 + 0.5 * CONFIDENCE, freedom) * spread, FLOOR * np.abs(values) / model.scale)
    found = []
    commands = _largest(model, values)
    for i, setting in enumerate(model.settings):
        value, far = float(values[i]), float(reach[i] * model.scale[i])
        if setting is DELAY:
            far = math.hypot(far, DELAY_FLOOR)
        low, high, told = value - far, value + far, bool(far < TOLD * max(abs(value), model.scale[i]))
        if setting is DELAY:
            told = far < 1.0 / model.craft.control.rate * 1.5
        if setting.limits and not np.abs(slopes[:, i]).max() > 0.0:
            least = commands[setting.address]
            low, high, told = least, math.inf, least > (1.0 + MATTERS) * start[i]
        before = float(start[i])
        told = told or abs(value - before) > SURE * far
        if setting is DELAY and model.logged == "reached":  # an angle may wait for the log's next row, of which a tick has one
            low -= 1.0 / model.craft.control.rate
        if setting is DELAY and model.logged == "commands":
            low, high = min(low, before) if value <= before + far else low, max(high, before) if value >= -far else high
        moved = slopes[:, i] * (value - before) / model.scale[i]
        if math.isfinite(high) and moved @ moved < NOTICED**2 * total:
            low, high = min(low, before), max(high, before)
        found.append(Flew(setting, before, value, low, high, told))
    length = float(sum(each.time[-1] - each.time[0] for each in model.stretches))
    why = "another law flew, or other sensors steered" if unexplained > UNEXPLAINED else ""
    settings = tuple(each._replace(told=each.told and not why) for each in found)
    return Law(settings, model.signs, model.logged, unexplained, length, why, model.holds and not why)


def _largest(model: Search, values: Floats) -> dict[str, float]:
    """The largest command within each limit (rad), by its address; 0 for loops where gains follow the speed."""
    first = model.fleet.parameters[0]
    mix = np.array([first[at.FOIL.mix.slots(foil * at.FOIL.width)] for foil in range(len(model.craft.foils))])
    back, fixed = np.linalg.pinv(mix), model.craft.control.schedule_speed is None
    found = np.zeros(4)
    for flown, gathered in zip(model.replayed(values[None]), model.gathered, strict=True):
        angles = flown.commands[:, :, 0]
        trim = mix[:, :2] @ (np.nan_to_num(first[[at.TRIM.height, at.TRIM.pitch]]) + gathered[3:])
        loops = np.abs((angles - trim) @ back.T).max(axis=0) * fixed
        found = np.maximum(found, [*loops, np.abs(angles).max()])
    return dict(zip(LIMITS, found.tolist(), strict=True))


def _spread(left: Floats, slopes: Floats, blocks: np.ndarray) -> tuple[Floats, Floats]:
    """Standard errors in scales, FAR where the log shows nothing; and degrees of freedom, by how many blocks show each."""
    names, place = np.unique(blocks, return_inverse=True)
    scores = np.zeros((len(names), slopes.shape[1]))
    np.add.at(scores, place, slopes * left[:, None])
    variance = max(float(left @ left) / len(left), 1e-12)
    prior = np.eye(slopes.shape[1]) / FAR**2
    inverse = np.linalg.inv(slopes.T @ slopes / variance + prior)
    freedom = max(len(names) - slopes.shape[1], 3)
    meat = scores.T @ scores / variance**2 * len(names) / freedom + prior
    shown = np.zeros_like(scores)
    np.add.at(shown, place, slopes**2)
    blocks_that_show = shown.sum(axis=0) ** 2 / np.maximum((shown**2).sum(axis=0), 1e-30)
    return np.sqrt(np.diag(inverse @ meat @ inverse)), np.clip(blocks_that_show - 1.0, 1.0, freedom)

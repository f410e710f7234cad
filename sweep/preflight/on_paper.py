"""What to write down before launch: numbers that the boat shows on its first flight, with what the craft file leaves open.

Each number of the craft file that may be off is moved to either end of its range. What that does to the trim gives the interval
of what is expected, and, where a boat shows something else, which number explains it: the effects are taken as linear, their
ranges as even, their sum as normal (law of propagation of uncertainty: JCGM 100:2008, 4.3.7 and 5.1.2; cited from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray
from pydantic import ValidationError

from sweep.campaign.addresses import leaves, matches, replace_values, value_at
from sweep.campaign.draws import water_of
from sweep.linear.reach import angles_of, take_offs
from sweep.model.pack.fleet import own_trims, pack_crafts
from sweep.model.physics.spectra import GRAVITY
from sweep.words.units import in_unit

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft
    from sweep.campaign.unknowns import Unknown

Floats: TypeAlias = NDArray[np.float64]

NORMAL = 1.96
"""Standard deviations either way that hold 95 % of a normal distribution (tables of the normal distribution)."""
EVEN = math.sqrt(3.0)
"""Half the width of an even distribution over its standard deviation (JCGM 100:2008, 4.3.7)."""
READ = {"m/s": 0.15, "%": 2.0, "deg": 0.3}
"""How far off people read a speed, a throttle and the angles of foils, standard deviations (judgement)."""
LEAST = 0.1
"""Share of an interval's half under which an effect is not told (judgement)."""


class Shown(NamedTuple):
    """Something that the boat shows: what, its unit, the value that the file gives, and half its 95 % interval."""

    name: str
    unit: str
    value: float
    half: float


class Wrong(NamedTuple):
    """A number of the craft file at one end of its range: which, how it is off, what that adds to each `Shown`, (shown,)."""

    name: str
    off: str
    adds: tuple[float, ...]

    def turned(self, other: str) -> Wrong:
        """The same number off the other way."""
        return Wrong(self.name, other, tuple(-each for each in self.adds))


class OnPaper(NamedTuple):
    """What to write down at a speed (m/s), and what each number that may be off adds, less of it and more of it."""

    speed: float
    shown: tuple[Shown, ...]
    wrong: tuple[tuple[Wrong, Wrong], ...]

    def explain(self, at: int, high: bool) -> list[Wrong]:
        """Which numbers explain a value of `shown[at]` that is too high or too low, the one that may add most first."""
        sides = [max(pair, key=lambda side: side.adds[at] * (1.0 if high else -1.0)) for pair in self.wrong]
        told = [side for side in sides if abs(side.adds[at]) > LEAST * self.shown[at].half]
        return sorted(told, key=lambda side: -abs(side.adds[at]))


class Suspect(NamedTuple):
    """A number of the craft file that may be off: its name, and either end of its range in words and as a craft's values."""

    name: str
    ends: tuple[tuple[str, Mapping[str, float]], tuple[str, Mapping[str, float]]]


_SHARES = (
    ("lift slope of the foils", "foils.*.section.lift_slope", 0.15),
    ("least drag of the foils", "foils.*.section.drag_min", 0.4),
    ("mass", "body.mass", 0.05),
    ("thrust", "propulsor.static_thrust", 0.15),
    ("shaft power", "propulsor.propeller.shaft_power", 0.15),
    ("wake of the foils", "wake.strength", 0.25),
)
_STEPS = (
    ("centre of gravity", "body.x", 0.01, "cm", ("aft", "forward")),
    ("incidence of the foils", "foils.*.incidence", math.radians(1.0), "deg", ("down", "up")),
)
"""What may be off by how much (judgement, as `unknowns: usual` and `tolerances: usual` have it), where the campaign does not
say it."""


def on_paper(campaign: Campaign, craft: Craft) -> OnPaper | None:
    """What a craft is expected to show at the campaign's middle speed; None where it has no trim there."""
    speed = sorted(campaign.speeds)[len(campaign.speeds) // 2]
    tried = [suspect for suspect in suspects(campaign, craft) if _crafts(craft, suspect) is not None]
    crafts = [craft, *(each for suspect in tried for each in _crafts(craft, suspect) or ())]
    names, values = trims_shown(crafts, campaign, speed)
    if not np.isfinite(values[0]).all():
        return None
    pairs = values[1:].reshape(len(tried), 2, len(names))
    adds = 0.5 * (pairs[:, 1] - pairs[:, 0])
    known = np.asarray(np.isfinite(adds).all(axis=1))
    read = np.array([READ[unit] for _, unit in names])
    half = NORMAL * np.sqrt((adds[known] ** 2).sum(axis=0) / EVEN**2 + read**2)
    both = zip(names, values[0].tolist(), half.tolist(), strict=True)
    shown, wrong = tuple(Shown(name, unit, value, width) for (name, unit), value, width in both), []
    for suspect, more in ((tried[at], adds[at]) for at in np.flatnonzero(known).tolist()):
        (less_said, _), (more_said, _) = suspect.ends
        side = Wrong(suspect.name, more_said, tuple(more.tolist()))
        wrong.append((side.turned(less_said), side))
    return OnPaper(speed, shown, tuple(wrong))


def trims_shown(crafts: Sequence[Craft], campaign: Campaign, speed: float) -> tuple[list[tuple[str, str]], Floats]:
    """What crafts alike in their parts show: name and unit of each, and values, (crafts, shown), NaN where one has no trim.

    Take-off speed, m/s: the slowest at which it trims at its ride height, where an integral holds that; without one it sinks
    before, and no take-off speed is told. At the speed (m/s) the throttle, %; and of the
    foremost and the aftmost foil that move the mean angle and the difference, deg: what is wrong of all foils alike, or of the
    pitch, is in the one, and what is wrong of the balance in the other.
    """
    first, water = crafts[0], water_of(campaign)
    packed = pack_crafts(list(crafts), water)
    trims, feasible = own_trims(packed, range(len(crafts)), [speed] * len(crafts))
    lowest = take_offs(packed, [speed, *campaign.speeds])
    ahead, behind = ends_of(first)
    names = [("take-off speed", "m/s"), ("throttle", "%"), (f"foils {ahead} and {behind}, mean", "deg")]
    names.append((f"foil {ahead} less foil {behind}", "deg"))
    values = np.full((len(crafts), len(names)), np.nan)
    for at, (trim, low) in enumerate(zip(trims, lowest, strict=True)):
        if feasible[at] and low is not None:
            angles = dict(zip(first.foils, angles_of(packed.rows[at], len(first.foils), trim), strict=True))
            one, other = (math.degrees(angles[name]) for name in (ahead, behind))
            values[at] = low, 100.0 * trim[2], 0.5 * (one + other), one - other
    told = slice(0 if first.control.traits.levels and first.control.height.integral > 0.0 else 1, None)
    return names[told], values[:, told]


def ends_of(craft: Craft) -> tuple[str, str]:
    """The foremost and the aftmost foil that move."""
    moving = sorted((name for name, foil in craft.foils.items() if foil.moves), key=lambda name: -craft.foils[name].x)
    return moving[0], moving[-1]


def suspects(campaign: Campaign, craft: Craft) -> Iterator[Suspect]:
    """The numbers of a craft that may be off, each by what the campaign says is not known of it, or by what is usual."""
    known = leaves(craft.model_dump())
    unknowns = campaign.unknowns.each if campaign.unknowns else ()
    said = {address: unknown for unknown in unknowns for address in unknown.addresses}
    for name, pattern, share in _SHARES:
        found = [address for address in matches(pattern, known) if value_at(craft, address) and not _of_polar(craft, address)]
        if found and (own := said.get(found[0])) is not None:
            yield _of_unknown(name, own, craft)
        elif found:
            ends = (
                (f"{100.0 * share:g} % {word}", {each: value_at(craft, each) * (1.0 + sign * share) for each in found})
                for word, sign in (("less", -1.0), ("more", 1.0))
            )
            yield Suspect(name, (next(ends), next(ends)))
    for name, pattern, step, unit, words in _STEPS:
        found = matches(pattern, known)
        if found and (own := said.get(found[0])) is not None:
            yield _of_unknown(name, own, craft)
        else:
            ends = (
                (f"{in_unit(step, unit):g} {unit} {word}", {each: value_at(craft, each) + sign * step for each in found})
                for word, sign in zip(words, (-1.0, 1.0), strict=True)
            )
            yield Suspect(name, (next(ends), next(ends)))
    if craft.control.traits.levels and (tilt := EVEN * _level(craft)) > 0.0:
        degrees, pitch = f"{in_unit(tilt, 'deg'):.2g} deg bow", craft.control.pitch_trim
        sides = (("down", -1.0), ("up", 1.0))
        ends = ((f"{degrees} {word}", {"control.pitch_trim": pitch + sign * tilt}) for word, sign in sides)
        yield Suspect("level of the inertial unit", (next(ends), next(ends)))


def _level(craft: Craft) -> float:
    """How far off (rad, standard deviation) the pitch is that the inertial unit holds for level: a bias of the gyro times the
    time of levelling, and one of the accelerometer over gravity (M14, the filter at rest)."""
    unit = craft.inertial
    return math.hypot(unit.gyro_bias * unit.levelling_time, unit.accelerometer_bias / GRAVITY)


def _of_unknown(name: str, unknown: Unknown, craft: Craft) -> Suspect:
    low, high = ((unknown.number_said(number), unknown.of(craft, number)) for number in (unknown.low, unknown.high))
    return Suspect(name, (low, high))


def _of_polar(craft: Craft, address: str) -> bool:
    """Whether a polar decides what is at an address."""
    foil, dot, _ = address.removeprefix("foils.").partition(".section.")
    return bool(dot) and craft.foils[foil].section.polar is not None


def _crafts(craft: Craft, suspect: Suspect) -> list[Craft] | None:
    """The craft at both ends of a suspect's range; None if there is no such craft."""
    try:
        return [replace_values(craft, values) for _, values in suspect.ends]
    except ValidationError:
        return None

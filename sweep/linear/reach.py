"""What is known of a campaign before it is flown: where its craft trim, how they float, how many waves they will meet."""

from __future__ import annotations

import math
import pickle
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from sweep.campaign.designs import crafts_of
from sweep.campaign.draws import draw_block, water_of
from sweep.model import layout as at
from sweep.model.compiled import LANES
from sweep.model.flight import floating_draft
from sweep.model.kernels.sea import AMPLITUDE, WAVE_X
from sweep.model.pack.fleet import Fleet, Packed, fleets_at, own_trims, pack_crafts
from sweep.model.pack.ground import lowest_part
from sweep.model.pack.trim import load

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sweep.campaign.campaign import Campaign
    from sweep.campaign.conditions import Condition
    from sweep.campaign.craft import Craft
    from sweep.campaign.factors import Factor
    from sweep.model.physics.water import Water

MOST_TRIMMED = 64
"""Designs that are trimmed for a look ahead (judgement): packing one takes milliseconds, and these give a share well enough."""

TRIED_SPEEDS = (2.0, 3.0, 4.0, 6.0, 8.0, 11.0, 15.0, 1.4, 1.0, 0.7)
"""m/s, one after the other until the craft trims at one (judgement)."""
FASTEST = 60.0
"""m/s, beyond which no end of the speeds is looked for (judgement)."""
CLOSE = 0.01
"""Share of a speed to which an end is told (judgement)."""

FEW_WAVES = 50
"""With fewer waves a flight, rare events are left to chance (judgement: the highest of 50 has a standard deviation of a sixth,
0.64 / ln N for the Rayleigh heights of Longuet-Higgins 1952, Journal of Marine Research 11, 245-266)."""


class Reach(NamedTuple):
    """Speeds (m/s) between which a craft trims at its ride height, and what ends them: 'foil travel' or 'thrust'."""

    low: float
    high: float
    low_by: str
    high_by: str


def reach(craft: Craft, water: Water, speeds: Sequence[float]) -> Reach | None:
    """As `reaches`, of one craft. It is kept, for several pages ask for the same."""
    return _reach(pickle.dumps((craft, water, tuple(speeds))))


@lru_cache(maxsize=64)
def _reach(asked: bytes) -> Reach | None:
    """As `reach`, of what is pickled."""
    craft, water, speeds = pickle.loads(asked)
    return reaches([craft], water, speeds)[0]


def reaches(crafts: Sequence[Craft], water: Water, speeds: Sequence[float]) -> list[Reach | None]:
    """The speeds at which each craft trims, around one of `speeds` (m/s) or of some usual ones; None if it trims at none.

    Each end is found by bisection, to a hundredth of the speed, of all crafts side by side.
    """
    tried = _Tried(pack_crafts(crafts, water))
    starts = _starts(tried, speeds)
    tried.ask((craft, speed) for craft, start in starts.items() for speed in _doublings(start))
    lows = [_Ends(craft, start, 0.1 * start) for craft, start in starts.items()]
    highs = [_Ends(craft, start, _beyond(tried, craft, start)) for craft, start in starts.items()]
    ends = _bisected(tried, [*lows, *highs])
    tried.ask((each.craft, each.outside) for each in ends)
    found: list[Reach | None] = [None] * len(crafts)
    for low, high in zip(ends[: len(starts)], ends[len(starts) :], strict=True):
        found[low.craft] = Reach(low.inside, high.inside, tried.hindrance(low), tried.hindrance(high))
    return found


def take_offs(packed: Packed, speeds: Sequence[float]) -> list[float | None]:
    """The low end (m/s) of each craft's `reaches` alone, in half its time; None for one that trims at none."""
    tried = _Tried(packed)
    starts = _starts(tried, speeds)
    ends = _bisected(tried, [_Ends(craft, start, 0.1 * start) for craft, start in starts.items()])
    found: list[float | None] = [None] * len(packed.crafts)
    for end in ends:
        found[end.craft] = end.inside
    return found


class _Ends(NamedTuple):
    """Two speeds (m/s) of a craft: one at which it trims and one at which it does not."""

    craft: int
    inside: float
    outside: float

    @property
    def middle(self) -> float:
        """m/s, between them."""
        return 0.5 * (self.inside + self.outside)

    @property
    def open(self) -> bool:
        """Whether they are too far apart to tell the end."""
        return abs(self.outside - self.inside) > CLOSE * self.inside

    def halves(self) -> tuple[_Ends, _Ends]:
        """The half that has the end if the craft trims in the middle, and the other."""
        return self._replace(inside=self.middle), self._replace(outside=self.middle)


class _Tried:
    """Crafts at speeds: pairs of a craft's place and a speed (m/s). Those asked for together are trimmed side by side."""

    def __init__(self, packed: Packed) -> None:
        self.packed = packed
        self._known: dict[tuple[int, float], tuple[bool, NDArray[np.float64]]] = {}

    def ask(self, asked: Iterable[tuple[int, float]]) -> None:
        """Trim what is not known yet."""
        new = [each for each in dict.fromkeys(asked) if each not in self._known]
        if new:
            trims, feasible = own_trims(self.packed, [craft for craft, _ in new], [speed for _, speed in new])
            self._known.update(zip(new, zip(feasible.tolist(), trims, strict=True), strict=True))

    def knows(self, craft: int, speed: float) -> bool:
        """Whether it was asked for."""
        return (craft, speed) in self._known

    def trims(self, craft: int, speed: float) -> bool:
        """Whether a craft trims at a speed that was asked for."""
        return self._known[craft, speed][0]

    def hindrance(self, ends: _Ends) -> str:
        """What limits the speed that does not trim: thrust, if every foil is within its travel."""
        craft, (_, trim) = self.packed.crafts[ends.craft], self._known[ends.craft, ends.outside]
        angles = angles_of(self.packed.rows[ends.craft], len(craft.foils), trim)
        travels = [craft.servo_of(foil).travel for foil in craft.foils.values()]
        return "foil travel" if any(abs(angle) > most for angle, most in zip(angles, travels, strict=True)) else "thrust"


def _starts(tried: _Tried, speeds: Sequence[float]) -> dict[int, float]:
    """The first speed (m/s) at which each craft trims, for those that trim anywhere."""
    held = {craft: each.control.trim_speeds or () for craft, each in enumerate(tried.packed.crafts)}
    starts: dict[int, float] = {}
    for some in (speeds, TRIED_SPEEDS):
        left = [craft for craft in held if craft not in starts]
        tried.ask((craft, speed) for craft in left for speed in (*some, *_doublings(some[0]), *held[craft]))
        firsts = {craft: next((speed for speed in some if tried.trims(craft, speed)), None) for craft in left}
        starts |= {craft: speed for craft, speed in firsts.items() if speed is not None}

    def has_code(craft: int) -> bool:  # code that stores trims of some speeds needs one of them
        return not held[craft] or any(tried.trims(craft, speed) for speed in held[craft])

    return {craft: start for craft, start in starts.items() if has_code(craft)}


def _doublings(start: float) -> list[float]:
    """A speed (m/s), twice that, and so on below `FASTEST`."""
    found = [start]
    while 2.0 * found[-1] < FASTEST:
        found.append(2.0 * found[-1])
    return found


def _beyond(tried: _Tried, craft: int, start: float) -> float:
    """The first of the doublings of a speed (m/s) at which a craft does not trim, or the one after all."""
    speed = start
    while speed < FASTEST and tried.trims(craft, speed):
        speed *= 2.0
    return speed


def _bisected(tried: _Tried, ends: Sequence[_Ends]) -> list[_Ends]:
    """All ends, bisected. All that the next halvings may come to is tried at once, as many halvings as fill the lanes."""
    found = list(ends)
    while wide := [each for each in found if each.open]:
        levels = max(int(math.log2(LANES / len(wide) + 1.0)), 1)
        tried.ask((each.craft, speed) for each in wide for speed in _middles(each, levels))
        found = [_narrowed(tried, each) for each in found]
    return found


def _middles(ends: _Ends, levels: int) -> Iterator[float]:
    """All speeds (m/s) that so many halvings may come to."""
    if levels:
        yield ends.middle
        for half in ends.halves():
            yield from _middles(half, levels - 1)


def _narrowed(tried: _Tried, ends: _Ends) -> _Ends:
    """The ends after the halvings that are known."""
    while ends.open and tried.knows(ends.craft, ends.middle):
        ends = ends.halves()[not tried.trims(ends.craft, ends.middle)]
    return ends


def trimmed(craft: Craft, water: Water, speed: float) -> Fleet:
    """A fleet of one craft, trimmed for a speed (m/s) as far as it goes."""
    ((_, fleet),) = fleets_at(pack_crafts([craft], water), speed)
    return fleet


def foil_angles(fleet: Fleet) -> list[float]:
    """Trimmed angle of each foil of the first design, rad."""
    return angles_of(fleet.parameters[0], fleet.structure.foils, fleet.trim[0])


def angles_of(row: NDArray[np.float64], foils: int, trim: NDArray[np.float64]) -> list[float]:
    """Angle of each foil in a trim, rad; row: of the parameters of its craft."""
    mixes = [row[at.FOIL.mix.slots(foil * at.FOIL.width)] for foil in range(foils)]
    return [float(np.dot(mix[:2], trim[:2])) for mix in mixes]


def draft(fleet: Fleet) -> float:
    """How deep (m) the first design floats at rest, on a level keel, carried by its hulls alone."""
    slots = load(fleet.parameters[:1], fleet.structure.counts).reshape(-1, LANES)
    return float(floating_draft(slots, fleet.structure.stations, fleet.density)[0])


class Depths(NamedTuple):
    """How deep the lowest part of a craft is below calm water, m: at rest and afloat, and at its ride height in trim."""

    afloat: float
    riding: float


def depths(craft: Craft, fleet: Fleet) -> Depths:
    """How deep (m) the water must be for a craft, afloat on a level keel and riding at its pitch trim; fleet: it is the first.

    In water no deeper than that it is aground; as it trims and dips it needs some centimetres more.
    """
    level, pitch = np.zeros(()), np.array(craft.control.pitch_trim)
    return Depths(
        float(lowest_part(craft, np.array(-draft(fleet)), level, level)),
        float(lowest_part(craft, np.array(craft.control.ride_height), pitch, level)),
    )


class Trims(NamedTuple):
    """Which of the tried designs have a trim; feasible: (designs tried, speeds); fleets: of each speed, by `build_fleets`."""

    designs: pd.DataFrame
    speeds: tuple[float, ...]
    feasible: NDArray[np.bool_]
    crafts: tuple[Craft, ...] = ()
    fleets: tuple[list[tuple[NDArray[np.int64], Fleet]], ...] = ()


def find_trims(campaign: Campaign, designs: pd.DataFrame) -> Trims:
    """Trim the designs, or `MOST_TRIMMED` evenly over their table, at every speed of the campaign."""
    rows = np.unique(np.linspace(0, len(designs) - 1, min(len(designs), MOST_TRIMMED)).round().astype(int))
    tried, speeds = designs.iloc[rows], tuple(sorted(set(campaign.speeds)))
    crafts = list(crafts_of(campaign, tried))
    feasible = np.zeros((len(crafts), len(speeds)), dtype=np.bool_)
    packed = pack_crafts(crafts, water_of(campaign))
    fleets = tuple(fleets_at(packed, speed) for speed in speeds)
    for column, built in enumerate(fleets):
        for indices, fleet in built:
            feasible[indices, column] = fleet.feasible
    return Trims(tried, speeds, feasible, tuple(crafts), fleets)


class Blame(NamedTuple):
    """A factor's level, or a stretch of its range (low, high), that most of the failing designs share, and how many fail."""

    label: str
    level: float | str | tuple[float, float]
    failing: int
    designs: int


def blame(factors: dict[str, Factor], designs: pd.DataFrame, fails: NDArray[np.bool_]) -> Blame | None:
    """The level with which the largest share of designs fails, the most of them if several; None if it is no worse than all.

    fails: (designs,).
    """
    found = [
        Blame(label, level, int(fails[there].sum()), int(there.sum()))
        for label, factor in factors.items()
        for level, there in _groups(factor, designs[label])
        if there.any()
    ]
    worst = max(found, key=lambda each: (each.failing / each.designs, each.failing), default=None)
    if worst is None or worst.failing * len(fails) <= fails.sum() * worst.designs:
        return None
    return worst


def _groups(factor: Factor, values: pd.Series) -> list[tuple[float | str | tuple[float, float], NDArray[np.bool_]]]:
    """The levels of a factor, or the quarters of its range, each with the designs that have it."""
    if factor.levels:
        return [(level, (values == level).to_numpy()) for level in factor.levels]
    ends = np.nanquantile(values.to_numpy(dtype=np.float64), np.linspace(0.0, 1.0, 5))
    return [((low, high), values.between(low, high).to_numpy()) for low, high in pairwise(ends)]


def expected_encounters(campaign: Campaign, condition: Condition) -> float:
    """Waves that a flight meets while it is scored: upcrossings of the surface at the craft (Rice 1945), at its full speed."""
    block = draw_block(campaign, condition, 0)
    energy = block.components[:, AMPLITUDE] ** 2
    met = block.omegas - block.components[:, WAVE_X] * condition.speed
    if not energy.sum() > 0.0:
        return 0.0
    frequency = math.sqrt((energy * met**2).sum() / energy.sum()) / (2.0 * math.pi)
    return frequency * campaign.flight.scored

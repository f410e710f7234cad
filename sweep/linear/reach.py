"""What is known of a campaign before it is flown: where its craft trim, how they float, how many waves they will meet."""

from __future__ import annotations

import math
import pickle
from collections.abc import Sequence
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
from sweep.model.pack.fleet import Fleet, Packed, fleets_at, pack_crafts
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
    """The speeds at which a craft trims, around one of `speeds` (m/s) or of some usual ones; None if it trims at none.

    Each end is found by bisection, to a hundredth of the speed. It is kept, for several pages ask for the same.
    """
    return _reach(pickle.dumps((craft, water, tuple(speeds))))


@lru_cache(maxsize=64)
def _reach(asked: bytes) -> Reach | None:
    """As `reach`, of what is pickled."""
    craft, water, speeds = pickle.loads(asked)
    packed = pack_crafts([craft], water)
    start = next((speed for speed in (*speeds, *TRIED_SPEEDS) if _at(packed, speed).feasible[0]), None)
    if start is None:
        return None
    beyond = start
    while beyond < FASTEST and _at(packed, beyond).feasible[0]:
        beyond *= 2.0
    low, under = _bisect(packed, start, 0.1 * start)
    high, over = _bisect(packed, start, beyond)
    return Reach(low, high, _hindrance(packed, under), _hindrance(packed, over))


def trimmed(craft: Craft, water: Water, speed: float) -> Fleet:
    """A fleet of one craft, trimmed for a speed (m/s) as far as it goes."""
    return _at(pack_crafts([craft], water), speed)


def _at(packed: Packed, speed: float) -> Fleet:
    ((_, fleet),) = fleets_at(packed, speed)
    return fleet


def _bisect(packed: Packed, inside: float, outside: float) -> tuple[float, float]:
    """The last speed that trims and the first that does not, between one of each."""
    while abs(outside - inside) > CLOSE * inside:
        middle = 0.5 * (inside + outside)
        if _at(packed, middle).feasible[0]:
            inside = middle
        else:
            outside = middle
    return inside, outside


def _hindrance(packed: Packed, speed: float) -> str:
    """What limits a speed (m/s) that does not trim: thrust, if every foil is within its travel."""
    angles = foil_angles(_at(packed, speed))
    return "foil travel" if max(map(abs, angles)) > packed.crafts[0].servos.travel else "thrust"


def foil_angles(fleet: Fleet) -> list[float]:
    """Trimmed angle of each foil of the first design, rad."""
    mixes = [fleet.parameters[0, at.FOIL.mix.slots(foil * at.FOIL.width)] for foil in range(fleet.structure.foils)]
    return [float(np.dot(mix[:2], fleet.trim[0, :2])) for mix in mixes]


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

"""What a craft without a trim at a speed is short of, lift, balance fore and aft, travel of its foils or thrust, by how much.

Trim's own rules are asked (M16.1), with and without the limits of travel and thrust.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sweep.linear.reach import TRIED_SPEEDS
from sweep.model import layout as at
from sweep.model.compiled import LANES
from sweep.model.pack.fleet import Packed, own_trims, pack_crafts
from sweep.model.pack.trim import load, place_level, trim_forces
from sweep.model.physics.spectra import GRAVITY

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sweep.campaign.craft import Craft
    from sweep.model.physics.water import Water

TILTS = 17
"""How many ways of setting the foils against each other are tried (judgement)."""
BALANCED = 1e-6
"""Share of the weight that is left over in trim, as the trim has it."""


class Beyond(NamedTuple):
    """A foil that would have to turn beyond its travel: its name, the angle and the travel, rad."""

    name: str
    angle: float
    travel: float


class Short(NamedTuple):
    """What is lacking at a speed (m/s) for a trim.

    beyond: foils beyond their travel in the trim that there would be; thrust: N that full throttle lacks, 0 if it is enough;
    carried: share of the weight that foils within their travel carry at most if it is under 1, at least if it is over 1;
    moment: N m, bow up, that no setting of them takes away, 0 if one does; weight: N. balanced: whether it would be in trim
    without limits, and only the first two are known.
    """

    speed: float
    beyond: tuple[Beyond, ...]
    thrust: float
    weight: float
    carried: float = 1.0
    moment: float = 0.0
    balanced: bool = True

    @property
    def lack(self) -> float:
        """How far it is from a trim: 0 in trim, over 1 where there is no balance at all."""
        travel = max((abs(each.angle) / max(each.travel, 1e-6) - 1.0 for each in self.beyond), default=0.0)
        within = min(max(travel, 10.0 * self.thrust / self.weight), 1.0)
        return within if self.balanced else 1.0 + within + abs(1.0 - self.carried) + abs(self.moment) / self.weight


def shortfalls(craft: Craft, water: Water, speeds: Sequence[float]) -> list[Short]:
    """What a craft lacks at each speed (m/s)."""
    packed = pack_crafts([craft], water)
    trims, _ = own_trims(packed, [0] * len(speeds), speeds)
    return [_short(packed, speed, trim) for speed, trim in zip(speeds, trims, strict=True)]


def nearest(craft: Craft, water: Water, speeds: Sequence[float]) -> Short:
    """Of these speeds (m/s) and some usual ones, that at which a craft is nearest to a trim."""
    found = shortfalls(craft, water, list(dict.fromkeys((*speeds, *sorted(TRIED_SPEEDS)))))
    return min(found, key=lambda short: short.lack)


def _short(packed: Packed, speed: float, trim: NDArray[np.float64]) -> Short:
    craft, slots = packed.crafts[0], _level(packed, speed)
    travel = np.array([slots[foil * at.FOIL.width + at.FOIL.moved_by.travel, 0] for foil in range(len(craft.foils))])
    angles = np.array([_angle(slots[:, 0], foil, trim) for foil in range(len(craft.foils))])
    weight = float(slots[at.MASS, 0]) * GRAVITY
    found = _forces(packed, slots.copy(), _spread(angles), trim[2])[:, 0]
    if np.abs(found).max() < BALANCED * weight:
        at_full = _forces(packed, slots, _spread(angles), 1.0)[0, 0] if trim[2] > 1.0 else 0.0
        each = zip(craft.foils, angles.tolist(), travel.tolist(), strict=True)
        beyond = tuple(Beyond(*one) for one in each if abs(one[1]) > one[2])
        return Short(speed, beyond, max(-float(at_full), 0.0), weight)
    return _unbalanced(packed, speed, travel, weight)


def _unbalanced(packed: Packed, speed: float, travel: NDArray[np.float64], weight: float) -> Short:
    """What is lacking where not even foils without limits would balance: all settings within travel are looked at."""
    slots, shares = _level(packed, speed), np.linspace(-1.0, 1.0, LANES)
    against = np.array([np.sign(slots[foil * at.FOIL.width + at.FOIL.mix.pitch, 0]) for foil in range(len(travel))])
    lifts, moments, thrusts = [], [], []
    for tilt in np.linspace(-2.0, 2.0, TILTS):
        angles = travel[:, None] * np.clip(shares + tilt * against[:, None], -1.0, 1.0)
        force_x, (_, force_z, moment) = _driven(packed, slots, angles)
        carried = 1.0 - force_z / weight
        lifts += [float(carried.min()), float(carried.max())]
        peak = int(carried.argmax())
        if carried[peak] >= 1.0 > carried[0]:
            upwards = slice(0, peak + 1)  # to the stall
            moments.append(float(np.interp(1.0, carried[upwards], moment[upwards])))
            thrusts.append(float(np.interp(1.0, carried[upwards], force_x[upwards])))
    if not moments:
        return Short(speed, (), 0.0, weight, max(lifts) if max(lifts) < 1.0 else max(min(lifts), 1.0), 0.0, False)
    least = int(np.abs(moments).argmin())
    holds = min(moments) <= 0.0 <= max(moments)
    return Short(speed, (), max(-thrusts[least], 0.0), weight, 1.0, 0.0 if holds else moments[least], False)


def _driven(
    packed: Packed, slots: NDArray[np.float64], angles: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """X at full throttle, (lanes,), N; and the forces with as much throttle as holds the speed, as far as it goes (linear)."""
    idle, full = (_forces(packed, slots, angles, throttle) for throttle in (0.0, 1.0))
    share = np.clip(-idle[0] / np.maximum(full[0] - idle[0], 1e-9), 0.0, 1.0)
    return full[0], idle + share * (full - idle)


def _level(packed: Packed, speed: float) -> NDArray[np.float64]:
    """The workspace of a craft on its level course, (slots, lanes): the same in every lane."""
    structure = packed.structures[0]
    workspace = load(packed.rows[:1, : structure.slots], structure.counts)
    place_level(workspace, speed, at.MID)
    return workspace.reshape(-1, LANES)


def _angle(row: NDArray[np.float64], foil: int, trim: NDArray[np.float64]) -> float:
    """Angle (rad) of a foil in a trim, also of one that a wand moves."""
    first = foil * at.FOIL.width
    height, pitch, led = (row[first + slot] for slot in (at.FOIL.mix.height, at.FOIL.mix.pitch, at.FOIL.led))
    return float((height + led) * trim[0] + pitch * trim[1])


def _spread(angles: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.repeat(angles[:, None], LANES, axis=1)


def _forces(packed: Packed, slots: NDArray[np.float64], angles: NDArray[np.float64], throttle: float) -> NDArray[np.float64]:
    """X (N), Z (N) and M (N m), (3, lanes), with the foils at these angles (foils, lanes), rad, whatever their mix."""
    for foil, each in enumerate(angles):
        first = foil * at.FOIL.width
        slots[first + at.FOIL.mix.height] = each
        slots[[first + at.FOIL.mix.pitch, first + at.FOIL.led]] = 0.0
    commands, forces = np.zeros((3, LANES)), np.empty((3, LANES))
    commands[0], commands[2] = 1.0, throttle
    trim_forces(slots.reshape(-1), packed.structures[0].counts, packed.water.density, commands, forces)
    return forces

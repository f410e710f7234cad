"""The fleets of a range of designs; those of the next ranges are packed ahead, by those who fly, where these are many.

Packing and trimming a range takes one thread half a second, in which it sends no flights. A fleet has the same numbers wherever
it is made.
"""

from __future__ import annotations

import pickle
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.campaign.conditions import Condition
from sweep.campaign.designs import crafts_of
from sweep.campaign.draws import as_drawn, water_of
from sweep.campaign.faults import NamedFault
from sweep.model.pack.fleet import Fleet, Packed, Structure, fleets_at, pack_crafts

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft

AHEAD, AT_ONCE = 12, 2
"""Ranges that are packed ahead, and that are asked for at once, so that flights begin early (judgement)."""

Fleets: TypeAlias = list[tuple[NDArray[np.int64], Fleet]]
Key: TypeAlias = tuple[tuple[float, ...], tuple[tuple[str, float], ...], int]
"""Speeds (m/s) and tolerances of a condition, and the draw of unknowns: what fleets differ in."""
Forms: TypeAlias = tuple[tuple[Structure, tuple[int, ...]], ...]
"""Structures, and which of the crafts have each: flights of fleets with the same forms can go side by side."""
KEPT = 4096
"""Crafts whose fleets are kept (judgement): of eight draws of the largest range, some ten megabytes each a speed."""


class RangeFleets:
    """The fleets of some crafts, made once for each speed, tolerances and draw of unknowns that flights ask for.

    designed: what the control code of each is set up for, which tolerances and draws leave; ready: fleets that are made. Of
    the draws only the last few are kept.
    """

    def __init__(
        self, campaign: Campaign, crafts: Sequence[Craft], designed: Sequence[Craft], ready: dict[Key, Fleets] | None = None
    ) -> None:
        self._campaign, self._crafts, self._designed = campaign, crafts, designed
        self._packed: dict[tuple[tuple[tuple[str, float], ...], int], Packed] = {}
        self._fleets = {} if ready is None else ready
        self._boats: list[int] = []

    def at(self, speeds: tuple[float, ...], fault: NamedFault, boat: int = 0) -> Fleets:
        """Those of a speed (m/s) and of the legs' after it, with the tolerances of a fault, as one draw has them."""
        key = (speeds, fault.times, boat)
        if key not in self._fleets:
            self._keep(boat)
            if (fault.times, boat) not in self._packed:
                as_built = [fault.of(craft) for craft in as_drawn(self._campaign, self._crafts, boat)]
                water = water_of(self._campaign)
                self._packed[fault.times, boat] = pack_crafts(as_built, water, designed=self._designed)
            self._fleets[key] = fleets_at(self._packed[fault.times, boat], speeds[0], legs=speeds[1:])
        return self._fleets[key]

    def _keep(self, boat: int) -> None:
        """Let go of the draw that was asked for first, where there is one too many."""
        if boat not in self._boats:
            self._boats.append(boat)
        if len(self._boats) > max(KEPT // len(self._crafts), 1):
            gone = self._boats.pop(0)
            self._packed = {key: packed for key, packed in self._packed.items() if key[1] != gone}
            self._fleets = {key: fleets for key, fleets in self._fleets.items() if key[2] != gone}

    def all(self) -> dict[Key, Fleets]:
        """All that are made."""
        return self._fleets


def forms(fleets: Fleets) -> Forms:
    """Of the fleets of some crafts."""
    return tuple((fleet.structure, tuple(indices.tolist())) for indices, fleet in fleets)


def joined(fleets: Sequence[Fleet]) -> Fleet:
    """Fleets of one structure and speed as one, in their order."""
    if len(fleets) == 1:
        return fleets[0]
    return fleets[0]._replace(
        parameters=np.concatenate([fleet.parameters for fleet in fleets]),
        feasible=np.concatenate([fleet.feasible for fleet in fleets]),
        trim=np.concatenate([fleet.trim for fleet in fleets]),
    )


class Packing(NamedTuple):
    """Designs to be packed for some conditions, by whoever has time; first: where they begin in the design table."""

    first: int
    campaign: Campaign
    designs: pd.DataFrame
    conditions: tuple[Condition, ...]

    def fleets(self) -> bytes:
        """Their fleets, pickled: so they take a tenth of the room until they are needed."""
        crafts = list(crafts_of(self.campaign, self.designs))
        fleets = RangeFleets(self.campaign, crafts, crafts)
        for condition in self.conditions:
            fleets.at(condition.speeds, condition.fault)
        return pickle.dumps(fleets.all())


class PackedAhead:
    """Ranges of designs, (first, last) each in the order in which they fly, and the fleets of those that are packed."""

    def __init__(self, ranges: Sequence[tuple[int, int]]) -> None:
        self._coming = list(ranges)
        self._asked = 0
        self._kept: dict[int, bytes] = {}

    def ask(self, at: int, campaign: Campaign, designs: pd.DataFrame, conditions: Sequence[Condition]) -> Iterator[Packing]:
        """What to pack as range number `at` begins to fly."""
        lean = campaign.model_copy(update=dict.fromkeys(("campaign_text", "craft_text", "listed_text"), "") | {"listed": ()})
        different = tuple({(each.speeds, each.fault.times): each for each in conditions}.values())
        self._asked = max(self._asked, at + 1)  # the range itself is needed at once
        for first, last in self._coming[self._asked : min(at + 1 + AHEAD, self._asked + AT_ONCE)]:
            self._asked += 1
            yield Packing(first, lean, designs.iloc[first:last], different)

    def keep(self, first: int, fleets: bytes) -> None:
        """Keep what came back, until it is taken."""
        self._kept[first] = fleets

    def take(self, first: int) -> dict[Key, Fleets] | None:
        """The fleets of the range that begins there; None if they have not come back."""
        fleets = self._kept.pop(first, None)
        return None if fleets is None else pickle.loads(fleets)

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
from sweep.campaign.draws import water_of
from sweep.campaign.faults import NamedFault
from sweep.model.pack.fleet import Fleet, Packed, fleets_at, pack_crafts

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft

AHEAD, AT_ONCE = 12, 2
"""Ranges that are packed ahead, and that are asked for at once, so that flights begin early (judgement)."""

Fleets: TypeAlias = list[tuple[NDArray[np.int64], Fleet]]
Key: TypeAlias = tuple[float, tuple[tuple[str, float], ...]]
"""Speed (m/s) and tolerances of a condition: what fleets differ in."""


class RangeFleets:
    """The fleets of some crafts, made once for each speed and tolerances that conditions ask for.

    designed: what the control code of each is set up for, which a condition's tolerances leave; ready: fleets that are made.
    """

    def __init__(
        self, campaign: Campaign, crafts: Sequence[Craft], designed: Sequence[Craft], ready: dict[Key, Fleets] | None = None
    ) -> None:
        self._crafts, self._designed, self._water = crafts, designed, water_of(campaign)
        self._packed: dict[tuple[tuple[str, float], ...], Packed] = {}
        self._fleets = {} if ready is None else ready

    def at(self, speed: float, fault: NamedFault) -> Fleets:
        """Those of a speed (m/s), with the tolerances of a fault."""
        if (speed, fault.times) not in self._fleets:
            if fault.times not in self._packed:
                as_built = [fault.of(craft) for craft in self._crafts]
                self._packed[fault.times] = pack_crafts(as_built, self._water, designed=self._designed)
            self._fleets[speed, fault.times] = fleets_at(self._packed[fault.times], speed)
        return self._fleets[speed, fault.times]

    def all(self) -> dict[Key, Fleets]:
        """All that are made."""
        return self._fleets


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
            fleets.at(condition.speed, condition.fault)
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
        different = tuple({(each.speed, each.fault.times): each for each in conditions}.values())
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

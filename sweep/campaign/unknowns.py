"""What nobody knows of a boat before it is measured: numbers of the craft that a flight draws with its replicate.

A draw is one boat of those that there may be, the same for all designs and conditions. Draws are independent of each other:
strata over the replicates would tell a little more, but settling adds replicates as it goes, and intervals take draws for
independent.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Literal

from pydantic import BaseModel, ConfigDict

from sweep.campaign.addresses import replace_values, value_at
from sweep.campaign.craft import Craft
from sweep.model.onboard.noise import generator
from sweep.words.units import in_unit, quantity

FROM_FILE = "the rows of a file"


class Unknown(BaseModel):
    """One number that nobody knows: addresses that it moves together, and its range, SI.

    way: what a drawn number does to a craft: `times` and `plus` change what it has; `to` is the base craft's own value, and
    another craft's is as far from its own. described: what the base craft has at each address. drawn: the numbers of a file,
    by row; the same row is drawn for all unknowns that have some.
    """

    model_config = ConfigDict(frozen=True)

    label: str
    addresses: tuple[str, ...]
    way: Literal["times", "plus", "to"]
    low: float
    high: float
    described: tuple[float | None, ...]
    unit: str = ""
    drawn: tuple[float, ...] = ()

    def of(self, craft: Craft, number: float) -> dict[str, float]:
        """The craft's values by address, with a drawn number."""
        return dict(self._moved(craft, number))

    def _moved(self, craft: Craft, number: float) -> Iterator[tuple[str, float]]:
        for address, before in zip(self.addresses, self.described, strict=True):
            has = value_at(craft, address)
            if self.way == "times":
                yield address, has * number
            elif has is None or before is None:
                yield address, number
            else:
                yield address, has + number - (before if self.way == "to" else 0.0)

    @property
    def as_described(self) -> float:
        """The number that leaves the base craft as it is, or its least, where the base craft has none."""
        if self.way == "to":
            return self.low if self.described[0] is None else self.described[0]
        return 1.0 if self.way == "times" else 0.0

    def number_said(self, number: float) -> str:
        """A drawn number in words: '112 % of what the craft has', '+5 ms', '31 ms'."""
        if self.way == "times":
            return f"{100.0 * number:.4g} % of what the craft has"
        return f"{in_unit(number, self.unit):{'+' if self.way == 'plus' else ''}.4g} {self.unit}".rstrip()

    def said(self) -> str:
        """Its range in words: '+- 25 %', '0 to 40 ms'."""
        if self.way == "plus":
            return f"+- {quantity(self.high, self.unit)}"
        if self.way == "to":
            return f"{in_unit(self.low, self.unit):.4g} to {quantity(self.high, self.unit)}"
        if self.drawn:
            return f"{100.0 * self.low:.4g} to {100.0 * self.high:.4g} % of what the craft has"
        return f"+- {100.0 * (self.high - 1.0):.4g} %"


class Unknowns(BaseModel):
    """What is drawn, and which replicates share a draw.

    Where settings are chosen anew in each draw, the first `shared` replicates have one for every `waves` of them. Any other
    replicate has a draw of its own.
    """

    model_config = ConfigDict(frozen=True)

    each: tuple[Unknown, ...]
    waves: int = 1
    shared: int = 0

    def draw_of(self, replicate: int) -> int:
        """The number of a replicate's draw."""
        return replicate // self.waves if replicate < self.shared else replicate

    def numbers(self, seed: int, draw: int) -> list[float]:
        """The drawn number of each, the same whatever else is unknown; seed: of the campaign; draw: its number."""
        return [_number(unknown, seed, draw) for unknown in self.each]

    def of(self, craft: Craft, numbers: Sequence[float]) -> Craft:
        """The craft with drawn numbers. Raises pydantic's ValidationError if there is no such craft."""
        values: dict[str, float] = {}
        for unknown, number in zip(self.each, numbers, strict=True):
            values |= unknown.of(craft, number)
        return replace_values(craft, values)


def _number(unknown: Unknown, seed: int, draw: int) -> float:
    """Evenly from low to high; of a file, the number in a row that is drawn."""
    content = FROM_FILE if unknown.drawn else ", ".join(unknown.addresses)
    share = float(generator(seed, content, draw, "unknown").random())
    if unknown.drawn:
        return unknown.drawn[int(share * len(unknown.drawn))]
    return unknown.low + share * (unknown.high - unknown.low)

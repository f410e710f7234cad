"""Foils in each other's water are refused: the model lets each lift as if the other were not there."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from itertools import combinations, product
from typing import NamedTuple

from pydantic import ValidationError

from sweep.campaign.addresses import replace_values
from sweep.campaign.craft import Craft
from sweep.campaign.factors import Factor, LevelValue, ends
from sweep.campaign.foils import Foil
from sweep.campaign.text.document import Document
from sweep.campaign.text.problems import Problem
from sweep.words.phrases import listed
from sweep.words.units import quantity

LEAST = 1e-4
"""Least width that counts, m: halves of a foil may touch (judgement)."""

NEAR = 0.5
"""Chords of depth within which two foils disturb each other (judgement); along the boat the wake model needs a chord."""

MOST_CORNERS = 10
"""Factors of the arrangement whose ends are tried in every combination (judgement): of ten there are a thousand."""

_PLACES = ("x", "y", "area", "aspect_ratio", "span", "dihedral")


class Crossing(NamedTuple):
    """Two foils, the width that they share (m), and how far apart they should be: chord and centres, m."""

    first: str
    second: str
    width: float
    chord: float
    apart: float

    def __str__(self) -> str:
        return f"foils {self.first} and {self.second}, which have {_length(self.width)} of span in the same water"

    @property
    def cure(self) -> str:
        """What would be right."""
        away = f"foils over a chord apart along the boat, {_length(self.chord)}"
        if self.apart <= LEAST:
            return f"{away}: the model would have both lift there"
        return f"{away}, or spans of {_length(2.0 * self.apart)} together at most: the model would have both lift there"


def crossings(craft: Craft) -> list[Crossing]:
    """Foils whose spans cross within a chord along the boat and half a chord of depth."""
    pairs = ((one, two, _crossing(one, two, craft)) for one, two in combinations(craft.foils, 2))
    return [found for _, _, found in pairs if found is not None]


def foils_in_one_place(
    craft: Craft, factors: Mapping[str, Factor], document: Document, craft_document: Document
) -> Iterator[Problem]:
    """Crossings of the craft as it is; if it has none, of the first corner of the factors at which foils cross.

    Between the ends of factors foils cross by less than at one of the corners.
    """
    standing = crossings(craft)
    for found in standing:
        yield craft_document.problem(("foils", found.second), found.cure, str(found))
    if standing:
        return
    arranging = [factor for factor in factors.values() if any(_arranges(address) for address in factor.addresses)]
    for corner in _corners(arranging[:MOST_CORNERS]):
        crossed = _crossed(craft, corner)
        if crossed is None:
            continue
        needed = _needed(craft, corner)
        found = crossed[0]
        words = listed((f"{factor.label} {_shown(level, factor)}" for factor, level in needed), "and")
        yield document.problem(("factors", needed[-1][0].label), found.cure, f"{words}, which makes {found}")
        return


def _crossing(first: str, second: str, craft: Craft) -> Crossing | None:
    one, two = craft.foils[first], craft.foils[second]
    low = max(one.y - 0.5 * one.span_length, two.y - 0.5 * two.span_length)
    high = min(one.y + 0.5 * one.span_length, two.y + 0.5 * two.span_length)
    chord = max(one.chord, two.chord)
    if high - low <= LEAST or abs(one.x - two.x) > chord or _depth_between(one, two, low, high) >= NEAR * chord:
        return None
    return Crossing(first, second, high - low, chord, abs(one.y - two.y))


def _depth_between(one: Foil, two: Foil, low: float, high: float) -> float:
    """The least height between two foils over the span that they share, m; linear between the ends and the middles."""
    bends = sorted({low, high, *(y for y in (one.y, two.y) if low < y < high)})
    heights = [abs(y - one.y) * math.tan(one.dihedral) - abs(y - two.y) * math.tan(two.dihedral) for y in bends]
    if min(heights) <= 0.0 <= max(heights):
        return 0.0
    return min(abs(height) for height in heights)


def _arranges(address: str) -> bool:
    group, *_, last = address.split(".")
    return group == "foils" and last in _PLACES


def _corners(factors: list[Factor]) -> Iterator[list[tuple[Factor, LevelValue]]]:
    for levels in product(*(ends(factor) for factor in factors)):
        yield list(zip(factors, levels, strict=True))


def _crossed(craft: Craft, values: list[tuple[Factor, LevelValue]]) -> list[Crossing] | None:
    """None if nothing crosses, or if there is no such craft, which another check reports."""
    try:
        made = replace_values(craft, {at: value for factor, level in values for at, value in factor.values(level).items()})
    except ValidationError:
        return None
    return crossings(made) or None


def _needed(craft: Craft, corner: list[tuple[Factor, LevelValue]]) -> list[tuple[Factor, LevelValue]]:
    """The factors of a corner without which nothing crosses."""
    needed = corner
    for each in corner:
        rest = [other for other in needed if other is not each]
        if rest and _crossed(craft, rest):
            needed = rest
    return needed


def _shown(level: LevelValue, factor: Factor) -> str:
    return level if isinstance(level, str) else quantity(level, factor.unit)


def _length(metres: float) -> str:
    return f"{metres:.3g} m" if metres >= 1.0 else f"{100.0 * metres:.3g} cm"

"""Who flies what in a search: its rounds, its final, and the try whether the best lies at an end of a range.

The rounds fly in blocks of their own, the replicates from `FIRST_SEARCHED` on; the campaign's own replicates are those of the
final, so that no printed score comes from flights that chose a design.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import numpy as np

from sweep.campaign.plan import (
    FEWEST_FINALISTS,
    FINALISTS,
    SEARCH_ROUNDS,
    Search,
    after_rounds,
    blocks_a_round,
    company,
)

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.factors import Factor

Block: TypeAlias = tuple[int, int]

FIRST_SEARCHED = 15_000
"""The first replicate of the rounds, beyond all that a campaign or its settling may have."""
FINAL_SHARE = 0.15
"""Share of a budget that the final may take, if that is less than all finalists would (judgement)."""


class Axis(NamedTuple):
    """What a factor may be: `levels` of a list, 0 for anything in a range; ordered: whether they rise or fall."""

    levels: int
    ordered: bool


class Purse(NamedTuple):
    """What a search flies: new designs of each round, and finalists besides the base craft."""

    sizes: tuple[int, ...]
    finalists: int


def axes_of(campaign: Campaign) -> list[Axis]:
    """The axes of a search, factor by factor."""
    return [_axis(factor) for factor in campaign.factors.values()]


def _axis(factor: Factor) -> Axis:
    numbers = [level for level in factor.levels if not isinstance(level, str)]
    rises = len(numbers) == len(factor.levels) and numbers in (sorted(numbers), sorted(numbers, reverse=True))
    return Axis(len(factor.levels), rises)


def with_points(campaign: Campaign, points: Iterable[Iterable[float]]) -> Campaign:
    """The campaign with these designs of its search, and no others."""
    return campaign.model_copy(update={"searched": tuple(tuple(point) for point in points)})


def round_blocks(campaign: Campaign, conditions: int, number: int) -> tuple[Block, ...]:
    """The blocks of a round, counted from 0: every condition once, or some in turn, in waves of the round's own."""
    count = blocks_a_round(conditions)
    order = np.random.default_rng(campaign.plan.seed).permutation(conditions).tolist()
    chosen = sorted(order[(number * count + at) % conditions] for at in range(count))
    return tuple((condition, FIRST_SEARCHED + number) for condition in chosen)


def final_blocks(campaign: Campaign, conditions: int) -> tuple[Block, ...]:
    """The blocks of the final: all of the campaign's own."""
    return tuple((condition, replicate) for condition in range(conditions) for replicate in range(campaign.replicates))


def end_blocks(campaign: Campaign, conditions: int) -> tuple[Block, ...]:
    """The blocks of the try at the ends: as many as of the final, in other waves."""
    first = FIRST_SEARCHED + SEARCH_ROUNDS
    return tuple((condition, first + replicate) for condition, replicate in final_blocks(campaign, conditions))


def searched_replicates(campaign: Campaign) -> int:
    """Replicates from `FIRST_SEARCHED` on that a search may fly."""
    return SEARCH_ROUNDS + campaign.replicates


def purse_of(campaign: Campaign, conditions: int, flights: float | None = None) -> Purse:
    """What a search flies by its number of designs, or for so many flights."""
    assert isinstance(campaign.plan, Search)
    if campaign.plan.designs is not None:
        return Purse(_shared(campaign.plan.designs), FINALISTS)
    assert flights is not None
    each = conditions * campaign.replicates
    finalists = min(max(int(FINAL_SHARE * flights / each) - 1, FEWEST_FINALISTS), FINALISTS)
    left = (flights - after_rounds(each, finalists)) / blocks_a_round(conditions)
    return Purse(_shared(int(left) - company()), finalists)


def flights_of(campaign: Campaign, conditions: int, flights: float | None = None) -> int:
    """About how many flights a search takes: most of the ends are not tried."""
    purse = purse_of(campaign, conditions, flights)
    rounds = blocks_a_round(conditions) * (sum(purse.sizes) + company())
    return rounds + after_rounds(conditions * campaign.replicates, purse.finalists)


def _shared(designs: int) -> tuple[int, ...]:
    """Designs shared among the rounds, the first ones taking the rest."""
    least, rest = divmod(designs, SEARCH_ROUNDS)
    return tuple(least + (at < rest) for at in range(SEARCH_ROUNDS))

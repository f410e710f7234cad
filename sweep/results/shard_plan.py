"""Which flights make a shard, the file that they are kept in together."""

from __future__ import annotations

from typing import NamedTuple

DESIGNS_A_SHARD = 512
"""Packing and trimming so many takes under a second, which the pieces that wait in the queue cover; memory grows with it
(judgement)."""


class Shard(NamedTuple):
    """A block (condition, replicate) and the designs `first` <= design < `last` that fly it."""

    number: int
    condition: int
    replicate: int
    first: int
    last: int

    @property
    def flights(self) -> int:
        """Its number of flights."""
        return self.last - self.first


def plan_shards(designs: int, conditions: int, replicates: int) -> list[Shard]:
    """All shards of a campaign, by range of designs, condition, replicate; their numbers depend on nothing else."""
    blocks = [(condition, replicate) for condition in range(conditions) for replicate in range(replicates)]
    ranges = [(first, min(first + DESIGNS_A_SHARD, designs)) for first in range(0, designs, DESIGNS_A_SHARD)]
    return [
        Shard(at * len(blocks) + number, condition, replicate, first, last)
        for at, (first, last) in enumerate(ranges)
        for number, (condition, replicate) in enumerate(blocks)
    ]

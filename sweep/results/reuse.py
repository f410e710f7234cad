"""Flights of a folder's earlier campaigns, which a changed one keeps where they are the same by content.

A folder of flights has the digests of its designs and conditions beside it (`content.Keys`), so that it can be moved aside
whole and still says whose flights it holds. A flight is taken over if settings, craft, condition and replicate are the same: it
is the flight that would be flown.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.results.atomic_files import from_parquet
from sweep.results.fingerprint import Keys, share_flights
from sweep.results.identity import keys_of
from sweep.results.shard_plan import Shard
from sweep.results.store import is_of, whole_shards

Flags = NDArray[np.bool_]
Numbers = NDArray[np.int64]

EARLIER = "earlier"
NONE = -1
"""The place of a key that the other campaign does not have."""


def set_aside(folder: Path) -> list[Path]:
    """The folders of flights of earlier campaigns, the latest first."""
    paths = (folder / EARLIER).iterdir() if (folder / EARLIER).is_dir() else ()
    return sorted((path for path in paths if path.name.isdecimal()), key=lambda path: int(path.name), reverse=True)


class _Part(NamedTuple):
    """A shard of an earlier campaign, which is of one block, and the designs in it."""

    path: Path
    designs: Numbers


class _Campaign:
    """The flights of one earlier campaign, by this campaign's numbers."""

    def __init__(self, flights: Path, before: Keys, now: Keys) -> None:
        self._designs = _places(before.designs, now.designs)
        self._conditions = _places(before.conditions, now.conditions)
        self._parts: dict[tuple[int, int], list[_Part]] = {}
        for path in whole_shards(flights):
            if not is_of(path, before):
                continue
            places = from_parquet(path, ["design", "condition", "replicate"])
            block = int(places["condition"].iloc[0]), int(places["replicate"].iloc[0])
            self._parts.setdefault(block, []).append(_Part(path, places["design"].to_numpy()))

    def has(self, condition: int, replicate: int, designs: Numbers) -> Flags:
        """Which of these designs have flown the block."""
        theirs = self._designs[designs]
        flags = np.zeros(len(designs), dtype=np.bool_)
        for part in self._parts.get((int(self._conditions[condition]), replicate), []):
            flags |= np.isin(theirs, part.designs)
        return flags

    def rows(self, condition: int, replicate: int, designs: Numbers) -> pd.DataFrame:
        """The rows of designs that have flown the block, under this campaign's numbers."""
        theirs, before = self._designs[designs], int(self._conditions[condition])
        found = []
        for part in self._parts[before, replicate]:
            here = np.isin(theirs, part.designs)
            if here.any():
                table = from_parquet(part.path).set_index("design")
                found.append(table.loc[theirs[here]].assign(design=designs[here].astype(np.int32)))
        rows = pd.concat(found, ignore_index=True).assign(condition=np.int32(condition))
        ordered: pd.DataFrame = rows[["design", *rows.columns.drop("design")]]
        return ordered


def _places(theirs: list[str], ours: list[str]) -> Numbers:
    """The place of each of our keys among theirs; `NONE` if it is not there."""
    known = {key: at for at, key in enumerate(theirs)}
    return np.array([known.get(key, NONE) for key in ours], dtype=np.int64)


class Earlier:
    """The flights of the present campaign that earlier ones in its results folder have flown."""

    def __init__(self, folder: Path) -> None:
        """Raises OSError if the folder cannot be read."""
        now = keys_of(folder / "flights")
        theirs = [(path, keys_of(path)) for path in set_aside(folder)]
        self._campaigns = [
            _Campaign(path, before, now) for path, before in theirs if now and before and share_flights(now, before)
        ]

    def has(self, shard: Shard, numbers: Numbers) -> Flags:
        """Which flights of a shard they have; numbers: of the designs that its range counts among."""
        designs = numbers[shard.first : shard.last]
        flags = np.zeros(shard.flights, dtype=np.bool_)
        for campaign in self._campaigns:
            flags |= campaign.has(shard.condition, shard.replicate, designs)
        return flags

    def count(self, shards: Iterable[Shard], numbers: Numbers) -> int:
        """How many flights of these shards they have."""
        return sum(int(self.has(shard, numbers).sum()) for shard in shards) if self._campaigns else 0

    def rows(self, shard: Shard, numbers: Numbers) -> Iterator[pd.DataFrame]:
        """The rows of those flights, a table for each campaign that has some."""
        left = numbers[shard.first : shard.last]
        for campaign in self._campaigns:
            held = campaign.has(shard.condition, shard.replicate, left)
            if held.any():
                yield campaign.rows(shard.condition, shard.replicate, left[held])
            left = left[~held]

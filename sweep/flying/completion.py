"""Completes shards: with flights of earlier campaigns, and with new flights."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby

import numpy as np
import pandas as pd

from sweep.flying.flights import fly_shards
from sweep.flying.work import Work
from sweep.results.reuse import Earlier
from sweep.results.shard_plan import Shard


def complete_shards(work: Work, shards: Iterable[Shard], earlier: Earlier) -> Iterator[tuple[Shard, pd.DataFrame]]:
    """Shards as by `fly_shards`, with the flights that `earlier` has; the watcher does not hear of these."""
    numbers = work.designs.index.to_numpy(dtype=np.int64)

    def lacks(shard: Shard) -> tuple[int, bytes] | None:
        held = earlier.has(shard, numbers)
        return (shard.first, (~held).tobytes()) if held.any() else None

    for lacking, together in groupby(shards, key=lacks):
        some = list(together)
        if lacking is None:
            places = np.arange(len(numbers))
            asked = some
        else:
            places = lacking[0] + np.flatnonzero(np.frombuffer(lacking[1], dtype=np.bool_))
            asked = [shard._replace(first=0, last=len(places)) for shard in some] if len(places) else []
        fresh = fly_shards(work._replace(designs=work.designs.iloc[places]), asked)
        for shard in some:
            parts = list(earlier.rows(shard, numbers))
            if asked:
                rows = next(fresh)[1]
                parts.append(rows.assign(design=numbers[places[rows["design"].to_numpy()]].astype(np.int32)))
            yield shard, pd.concat(parts, ignore_index=True).sort_values("design", ignore_index=True)

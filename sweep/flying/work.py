"""The work of a run: designs, conditions, and who flies them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import pandas as pd

from sweep.campaign.conditions import Condition
from sweep.flying.progress import Watcher

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign


class Work(NamedTuple):
    """Designs of a campaign that fly in conditions; its index numbers the designs.

    workers: threads, all processors by default; kernels release the interpreter's lock and share one compilation. Within
    `cluster.on_cluster` they are the cluster's. watcher: hears of progress.
    """

    campaign: Campaign
    designs: pd.DataFrame
    conditions: Sequence[Condition]
    workers: int | None = None
    watcher: Watcher = Watcher()

    def begin(self, flights: int, done: int = 0) -> None:
        """Announce so many flights of the campaign's length."""
        self.watcher.begin(flights, done, self.campaign.flight.length)

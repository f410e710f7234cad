"""What is flown, and by whom."""

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

    workers: threads, all processors by default; the kernels let go of the interpreter and share one compilation. Within
    `cluster.on_cluster` they are the cluster's. watcher: is told of it.
    """

    campaign: Campaign
    designs: pd.DataFrame
    conditions: Sequence[Condition]
    workers: int | None = None
    watcher: Watcher = Watcher()

    def begin(self, flights: int, done: int = 0) -> None:
        """Say that so many flights of the campaign's length are to be flown."""
        self.watcher.begin(flights, done, self.campaign.flight.length)

"""What the rules that name causes look at: the seconds of a record before an event."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.campaign.craft import Craft
from sweep.model.events import REFERENCE_LENGTH

Array = NDArray[np.float64]


class Cause(NamedTuple):
    """A cause, and a sentence of what the record shows."""

    name: str
    said: str


class Scene(NamedTuple):
    """What the rules look at: rows of the record up to an event; the craft; the speed wanted (m/s); s from row to row.

    past: all rows of the flight up to the event; lifted_at: s, when it last lifted off, minus infinity if it began in flight.
    """

    rows: pd.DataFrame
    craft: Craft
    speed: float
    step: float
    past: pd.DataFrame
    lifted_at: float = -math.inf

    def since_lifted(self) -> float:
        """How long (s) it had flown when the event began; infinity if it began in flight."""
        return float(self.past["time"].iloc[-1]) - self.lifted_at

    def column(self, name: str) -> Array:
        """A column of the record."""
        return self.rows[name].to_numpy(dtype=np.float64)

    def foils(self) -> Array:
        """Angles of the foils, (rows, foils), rad."""
        return self.rows[[f"foil_{name}" for name in self.craft.foils]].to_numpy(dtype=np.float64)

    def scale(self) -> float:
        """How many times as long times are as on a hull of `REFERENCE_LENGTH` (Froude)."""
        return time_scale(self.craft)


def time_scale(craft: Craft) -> float:
    """How many times as long times are as on a hull of `REFERENCE_LENGTH`: Froude scaling by the longest hull."""
    return math.sqrt(max(hull.length for hull in craft.hulls.values()) / REFERENCE_LENGTH)

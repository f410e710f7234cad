"""Outside values, raw: one TOML file a topic, each of its tables with source, mark, tolerance, columns and rows.

They are kept with the tests. An installed package has those that its checks read.
"""

from __future__ import annotations

import tomllib
from functools import cache
from typing import Any, NamedTuple

from sweep.campaign.text.resources import shipped

Row = dict[str, Any]


class Reference(NamedTuple):
    """One table of outside values; mark holds one or more of SEEN, COMPUTED, MEMORY; absolute: whether its tolerances are."""

    source: str
    mark: str
    tolerance: float | dict[str, float]
    absolute: bool
    rows: list[Row]

    def allowed(self, column: str) -> float:
        """How far off our value may be in a column."""
        return self.tolerance[column] if isinstance(self.tolerance, dict) else self.tolerance


@cache
def read_topic(topic: str) -> dict[str, Any]:
    """The raw tables of a topic."""
    return tomllib.loads((shipped("references") / f"{topic}.toml").read_text(encoding="utf-8"))


def read_reference(topic: str, table: str) -> Reference:
    """One table. Raises KeyError if there is none of that name."""
    raw = read_topic(topic)[table]
    rows = [dict(zip(raw["columns"], row, strict=True)) for row in raw["rows"]]
    absolute = str(raw.get("tolerance_kind", "")).startswith("absolute")
    return Reference(raw["source"], raw["mark"], raw["tolerance"], absolute, rows)

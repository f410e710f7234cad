"""Numbers from outside the project, raw, one TOML file a topic.

Each table says where its numbers come from (`source`), how they were had (`mark`), how close our own code should come
(`tolerance`, a number or one a column; relative unless `tolerance_kind` says absolute) and its `columns` and `rows`.

Marks: SEEN, read in a page or public transcription of the source; COMPUTED, run with the library or script named;
MEMORY, recalled and confirmed by nobody, never a gate of its own.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any, NamedTuple

FOLDER = Path(__file__).parent
MARKS = ("SEEN", "COMPUTED", "MEMORY")


class Table(NamedTuple):
    """One table of outside numbers: `rows` are dictionaries by column name, `mark` holds one or more of MARKS."""

    source: str
    mark: str
    tolerance: Any
    rows: list[dict[str, Any]]


def topics() -> list[str]:
    """Names of all topics."""
    return sorted(path.stem for path in FOLDER.glob("*.toml"))


def tables(topic: str) -> dict[str, dict[str, Any]]:
    """The raw tables of a topic."""
    return tomllib.loads((FOLDER / f"{topic}.toml").read_text(encoding="utf-8"))


def reference(topic: str, table: str) -> Table:
    """One table; raises KeyError if there is none of that name."""
    raw = tables(topic)[table]
    rows = [dict(zip(raw["columns"], row, strict=True)) for row in raw["rows"]]
    return Table(raw["source"], raw["mark"], raw["tolerance"], rows)

"""Numbers from outside the project, raw, one TOML file a topic.

Each table says where its numbers come from (`source`), how they were had (`mark`), how close our own code should come
(`tolerance`, a number or one a column; relative unless `tolerance_kind` says absolute) and its `columns` and `rows`.

Marks: SEEN, read in a page or public transcription of the source; COMPUTED, run with the library or script named;
MEMORY, recalled and confirmed by nobody, never a gate of its own.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sweep.checks.references import Reference as Table
from sweep.checks.references import read_reference as reference
from sweep.checks.references import read_topic

__all__ = ["MARKS", "Table", "reference", "tables", "topics"]

FOLDER = Path(__file__).parent
MARKS = ("SEEN", "COMPUTED", "MEMORY")
SCOPE = "scope"


def topics() -> list[str]:
    """Names of all topics of values; the scope is none."""
    return sorted(path.stem for path in FOLDER.glob("*.toml") if path.stem != SCOPE)


def tables(topic: str) -> dict[str, dict[str, Any]]:
    """The raw tables of a topic."""
    return read_topic(topic)

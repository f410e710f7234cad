"""What a site says of a day's logs, as it stands in the results folder."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from pathlib import Path
from typing import Any, NamedTuple

from sweep.results.plain_files import StoreError, read_plain
from sweep.results.values import LOGS, read_note, wrong_shape

LOG_SUMMARY = "logs.json"


class SplitSummary(NamedTuple):
    """Two set-ups of a day compared: of whom, each quantity in sentences, and how that was done."""

    title: str
    sentences: list[str]
    parts: list[list[str]]


def _headed(heading: str) -> Any:
    """A field of a pass, with its heading in a table."""
    return field(metadata={"heading": heading})


@dataclass(frozen=True)
class Pass:
    """A pass with its ride-height error as the rangefinder tells it, measured and expected; None where it is not known."""

    label: str = _headed("run")
    setup: str = _headed("set-up")
    speed: float | None = _headed("speed, m/s")
    waves: float | None = _headed("waves, deg from following")
    height: float | None = _headed("significant height, cm")
    height_low: float | None = _headed("at least, cm")
    height_high: float | None = _headed("at most, cm")
    period: float | None = _headed("peak period, s")
    measured: float | None = _headed("height error sensed, measured, cm")
    measured_low: float | None = _headed("measured at least, cm")
    measured_high: float | None = _headed("measured at most, cm")
    predicted: float | None = _headed("height error sensed, expected, cm")
    low: float | None = _headed("expected at least, cm")
    high: float | None = _headed("expected at most, cm")


@dataclass(frozen=True)
class Change:
    """What one part, the water or the set-up, made of a measure: in % of the first set-up's mean, so that 100 is no change."""

    measure: str = _headed("measure")
    setup: str = _headed("set-up")
    way: str = _headed("passes")
    part: str = _headed("part")
    share: float = _headed("% of the first set-up's mean")
    low: float = _headed("at least, %")
    high: float = _headed("at most, %")


CHANGE_HEADINGS: dict[str, str] = {each.name: each.metadata["heading"] for each in fields(Change)}
PASS_HEADINGS: dict[str, str] = {each.name: each.metadata["heading"] for each in fields(Pass)}


@dataclass(frozen=True)
class LogSummary:
    """All that a site says of a day's logs: no number without its interval.

    result: the answer; doubts: what looks wrong in the logs; why: set-ups are not compared; runs: a row each under
    `run_headings`; table: the passes of the chart; local: that local rules come first; changes: of the set-ups' parts, all
    passes together and each way alone.
    """

    title: str
    result: list[str]
    made_up: bool
    craft: str
    sentences: list[str]
    sea: list[str]
    doubts: list[str]
    splits: list[SplitSummary]
    why: str
    run_headings: list[str]
    runs: list[list[str]]
    table: list[Pass]
    local: str
    changes: list[Change] = field(default_factory=list)


def as_note(summary: LogSummary) -> Mapping[str, Any]:
    """A summary as JSON takes it."""
    return {**asdict(summary), "splits": [split._asdict() for split in summary.splits]}


def summary_of(note: Mapping[str, Any]) -> LogSummary:
    """What a note of the shape `LOGS` holds; what is not known of a pass is None, and what else it has of one is left out."""
    parts = {
        "splits": [SplitSummary(**{name: split[name] for name in SplitSummary._fields}) for split in note["splits"]],
        "table": [Pass(**{name: row.get(name) for name in PASS_HEADINGS}) for row in note["table"]],
        "changes": [Change(**{name: row[name] for name in CHANGE_HEADINGS}) for row in note.get("changes", [])],
    }
    return LogSummary(**{each.name: note[each.name] for each in fields(LogSummary) if each.name not in parts} | parts)


def read_log_summary(folder: Path | None) -> LogSummary | None:
    """The summary in a results folder, or None; raises StoreError for a file that no run has written like that."""
    path = folder / LOG_SUMMARY if folder is not None else None
    if path is None or not path.exists():
        return None
    try:
        note = read_note(read_plain(path))
        wrong = wrong_shape(note, LOGS)
    except ValueError as error:
        wrong = str(error)
    if wrong:
        raise StoreError(f"{path}: cannot be read ({wrong}). Delete it: `foilsweep publish` with --logs keeps the logs anew.")
    return summary_of(note)

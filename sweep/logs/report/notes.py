"""What the subcommands of `log` found, as values for a script: SI, angles in rad."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sweep.logs.fit.craft_fit import Result
from sweep.logs.law.day import SetupLaw
from sweep.logs.report.day import Day, SetupComparison
from sweep.logs.report.law import law_rows
from sweep.logs.sea.judge import Judged
from sweep.logs.sea.passes import Plan

RUN_KEYS = (
    "kind",
    "log",
    "setup",
    "begin",
    "length",
    "speed",
    "heading",
    "waves",
    "measures",
    "sure",
    "sea",
    "glitches",
    "gaps",
    "why",
)
LAW_KEYS = ("setting", "declared", "flown", "interval", "verdict")


def day_note(day: Day) -> dict[str, Any]:
    """The runs of a day, what looks wrong, and the sea of all together."""
    return {
        "title": day.mapping.title,
        "runs": [_run(run) for run in day.runs],
        "sea": day.sea(),
        "doubts": list(day.doubts),
        "withheld": day.grave,
    }


def _run(run: Judged) -> dict[str, Any]:
    return {name: getattr(run, name) for name in RUN_KEYS}


def comparison_note(day: Day, found: Mapping[str, SetupComparison]) -> dict[str, Any]:
    """Each set-up against the first, measure by measure."""
    first = day.setups[0] if day.setups else ""
    return {"comparisons": [{"setup": name, "against": first, "splits": each.splits} for name, each in found.items()]}


def fit_note(result: Result) -> dict[str, Any]:
    """The fitted numbers, those that go together, and the misfit."""
    return {"numbers": result.numbers, "alike": result.alike, "misfit": result.misfit}


def law_note(found: Sequence[SetupLaw]) -> dict[str, Any]:
    """The settings of the law of each set-up, in words with units."""
    return {
        "laws": [
            {
                "setup": each.setup,
                "bench": each.bench,
                "why": each.why or (each.law.why if each.law else ""),
                "settings": [dict(zip(LAW_KEYS, row, strict=True)) for row in law_rows(each.law)] if each.law else [],
            }
            for each in found
        ]
    }


def plan_note(plan: Plan) -> dict[str, Any]:
    """The passes to fly next, in order."""
    return plan._asdict()

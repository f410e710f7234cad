"""The page of the logs: measured beside predicted, from what `keep_logs` left in the results folder."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from scipy.stats import norm as normal

from sweep.insight.intervals import CONFIDENCE
from sweep.results.plain_files import StoreError, read_plain
from sweep.results.values import LOGS, read_note, wrong_shape
from sweep.words.numbers import number

if TYPE_CHECKING:
    from sweep.logs.compare.comparison import Split
    from sweep.logs.report.day import Comparison, Day

KEPT = "logs.json"
HEADINGS = {
    "label": "run",
    "setup": "set-up",
    "speed": "speed, m/s",
    "waves": "waves, deg from following",
    "height": "significant height, cm",
    "height_low": "at least, cm",
    "height_high": "at most, cm",
    "period": "peak period, s",
    "measured": "height error sensed, measured, cm",
    "measured_low": "measured at least, cm",
    "measured_high": "measured at most, cm",
    "predicted": "height error sensed, expected, cm",
    "low": "expected at least, cm",
    "high": "expected at most, cm",
}
REACH = round(float(normal.ppf(0.5 + 0.5 * CONFIDENCE)), 2)
"""Standard deviations to either side of an interval."""


def keep_logs(folder: Path, mapping: Path, say: Callable[[str], None]) -> None:
    """Judge the logs of a mapping against its craft, and keep what the page tells in the results folder."""
    from sweep.logs.report.commands import judged
    from sweep.logs.report.day import compare_day
    from sweep.results.atomic_files import write_whole

    day = judged(mapping, say)
    compared: dict[str, Comparison] = {}
    why = ""
    try:
        compared = compare_day(day, lambda done, whole: say(f"flown {done} of {whole}") if done % 12 == 0 else None)
    except ValueError as error:
        why = f"Set-ups are not compared: {error}."
    write_whole(folder / KEPT, json.dumps(account(day, compared, why), indent=1, allow_nan=False).encode())


def account(day: Day, compared: dict[str, Comparison], why: str = "") -> dict[str, Any]:
    """All that the page tells, as JSON: no number without its interval."""
    from sweep.logs.report import sentences

    splits = [
        {
            "title": f"{sentences.named(second)} against {sentences.named(day.setups[0])}",
            "sentences": sentences.comparison_sentences(comparison),
            "parts": [
                [sentence for sentence in sentences.split_sentences(split, name) if sentence]
                for name, split in comparison.splits.items()
            ],
        }
        for second, comparison in compared.items()
    ]
    ridden = {second: comparison.splits.get("sensed_error") for second, comparison in compared.items()}
    return {
        "title": day.mapping.title,
        "result": [_result(split) for split in ridden.values() if split is not None],
        "made_up": day.mapping.made_up,
        "craft": day.mapping.craft.name,
        "sentences": sentences.day_sentences(day),
        "sea": sentences.day_sea_sentences(day),
        "doubts": list(day.doubts),
        "splits": splits,
        "why": why,
        "run_headings": list(sentences.RUN_HEADINGS),
        "runs": [list(row) for row in sentences.run_rows(day.runs)],
        "table": _table(day, compared),
        "local": sentences.LOCAL,
    }


def _result(split: Split) -> str:
    """Which of two set-ups rides closer to its height, and how sure that is."""
    from sweep.logs.report import sentences

    first, second = sentences.named(split.first), sentences.named(split.second)
    value, low, high = (100.0 * each for each in split.relative)
    if split.verdict == "not told apart":
        return (
            f"These logs cannot tell whether {second} or {first} rides closer to its height in the same sea: with {second} the "
            f"sensed error changes by {number(value, 2)} % ({number(low, 2)} to {number(high, 2)})."
        )
    less, most = sorted((abs(low), abs(high)))
    way, size = ("closer to its height", "less") if split.verdict == "better" else ("further off its height", "more")
    return (
        f"In the same sea {second} rides {way} than {first}: its sensed error is {number(abs(value), 2)} % "
        f"({number(less, 2)} to {number(most, 2)}) {size}."
    )


def _table(day: Day, compared: dict[str, Comparison]) -> list[dict[str, Any]]:
    """A row a pass: measured and expected ride height error as the rangefinder tells it."""
    from sweep.logs.report.day import group_of, passes_of

    if not compared:
        return []
    groups = next(iter(compared.values())).groups
    rows = []
    for at, (run, sea) in enumerate(passes_of(day)[0]):
        expected = groups[group_of(run, groups)].expected
        height, period = sea.height.value, sea.period.value
        middle = float(expected.value("sensed_error", height, period)[0])
        reach = REACH * math.hypot(expected.scatter["sensed_error"], expected.doubt("sensed_error", height, period))
        rows.append(
            {
                "label": f"{at + 1}: {run.log} from {run.begin:.0f} s",
                "setup": run.setup,
                "speed": _short(run.speed),
                "waves": _short(abs(math.degrees(math.remainder(run.waves, 2.0 * math.pi)))),
                "height": _short(100.0 * height),
                "height_low": _short(100.0 * sea.height.low),
                "height_high": _short(100.0 * sea.height.high),
                "period": _short(period),
                "measured": _short(100.0 * run.measures["sensed_error"]),
                "measured_low": _short(100.0 * run.sure["sensed_error"].low),
                "measured_high": _short(100.0 * run.sure["sensed_error"].high),
                "predicted": _short(100.0 * middle),
                "low": _short(100.0 * middle * math.exp(-reach)),
                "high": _short(100.0 * middle * math.exp(reach)),
            }
        )
    return rows


def _short(value: float) -> float | None:
    return float(number(value, 4)) if np.isfinite(value) else None


def kept_logs(folder: Path | None) -> dict[str, Any] | None:
    """What `keep_logs` left, or None; raises StoreError for what it leaves never."""
    path = folder / KEPT if folder is not None else None
    if path is None or not path.exists():
        return None
    try:
        found: dict[str, Any] = read_note(read_plain(path))
        wrong = wrong_shape(found, LOGS)
    except ValueError as error:
        wrong = str(error)
    if wrong:
        raise StoreError(f"{path}: cannot be read ({wrong}). Delete it: `foilsweep publish` with --logs keeps the logs anew.")
    return found


def log_table(kept: dict[str, Any]) -> pd.DataFrame:
    """The passes, columns of HEADINGS."""
    return pd.DataFrame(kept["table"], columns=list(HEADINGS))

"""The page of the logs: measured beside predicted, from what `keep_logs` left in the results folder."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd
from scipy.stats import norm as normal

from sweep.insight.intervals import CONFIDENCE, CONFIDENCE_SAID
from sweep.report.charts.logs import measured_beside_predicted
from sweep.report.embed import as_csv, as_spec, data_script
from sweep.report.page import Made, Material
from sweep.results.plain_files import StoreError, read_plain
from sweep.results.values import LOGS, read_note, wrong_shape
from sweep.words.numbers import number

if TYPE_CHECKING:
    from markupsafe import Markup

    from sweep.logs.compare.comparison import Split
    from sweep.logs.report.day import Day, SetupComparison

KEPT = "logs.json"
REACH = round(float(normal.ppf(0.5 + 0.5 * CONFIDENCE)), 2)
"""Standard deviations to either side of an interval."""


class SplitSaid(NamedTuple):
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


HEADINGS: dict[str, str] = {each.name: each.metadata["heading"] for each in fields(Pass)}


@dataclass(frozen=True)
class KeptLogs:
    """All that is told of a day's logs, as `keep_logs` leaves it: no number without its interval.

    result: the answer; doubts: what looks wrong in the logs; why: set-ups are not compared; runs: a row each under
    `run_headings`; table: the passes of the chart; local: that local rules come first.
    """

    title: str
    result: list[str]
    made_up: bool
    craft: str
    sentences: list[str]
    sea: list[str]
    doubts: list[str]
    splits: list[SplitSaid]
    why: str
    run_headings: list[str]
    runs: list[list[str]]
    table: list[Pass]
    local: str


CHART_NOTE = (
    f"Points are measured; their lines are {CONFIDENCE_SAID} intervals for the chance of so short a pass. Ticks are what the "
    f"model expects of the craft in the craft file; {CONFIDENCE_SAID} of single passes in that sea would lie within the bars. "
    "A pass with another set-up may lie outside."
)


@dataclass(frozen=True)
class LogsPage:
    """After the water: what was measured, beside what the model expects; chart: '' without a pass to compare."""

    log: KeptLogs
    sentences: list[str]
    chart: Markup | str
    chart_note: str
    runs_summary: str


def make(material: Material) -> Made | None:
    """The page, and what its chart and its CSV file hold; none without logs."""
    log = material.logs
    if log is None:
        return None
    table = log_table(log)
    chart = as_spec(measured_beside_predicted(table), "passes") if len(table) else ""
    summary = f"All {len(log.runs)} runs: foilborne, at one speed, straight"
    page = LogsPage(log, log.result + log.sentences, chart, CHART_NOTE, summary)
    return Made(page, data_script("passes", table) | as_csv("passes", table, HEADINGS))


def keep_logs(folder: Path, mapping: Path, say: Callable[[str], None]) -> None:
    """Judge the logs of a mapping against its craft, and keep what the page tells in the results folder."""
    from sweep.logs.report.commands import judged
    from sweep.logs.report.day import compare_day
    from sweep.results.atomic_files import write_whole

    day = judged(mapping, say)
    compared: dict[str, SetupComparison] = {}
    why = ""
    try:
        compared = compare_day(
            day, lambda done, whole: say(f"flown {done} of {whole} flights of the model") if done % 12 == 0 else None
        )
    except ValueError as error:
        why = f"Set-ups are not compared: {error}."
    write_whole(folder / KEPT, json.dumps(as_note(account(day, compared, why)), indent=1, allow_nan=False).encode())


def account(day: Day, compared: dict[str, SetupComparison], why: str = "") -> KeptLogs:
    """All that the page tells of a day and of its comparisons, by the name of the second set-up."""
    from sweep.logs.report import sentences

    ridden = [comparison.splits.get("sensed_error") for comparison in compared.values()]
    return KeptLogs(
        title=day.mapping.title,
        result=[_result(split) for split in ridden if split is not None],
        made_up=day.mapping.made_up,
        craft=day.mapping.craft.name,
        sentences=sentences.day_sentences(day),
        sea=sentences.day_sea_sentences(day),
        doubts=list(day.doubts),
        splits=[_split(day, second, comparison) for second, comparison in compared.items()],
        why=why,
        run_headings=list(sentences.RUN_HEADINGS),
        runs=[list(row) for row in sentences.run_rows(day.runs)],
        table=_passes(day, compared),
        local=sentences.LOCAL,
    )


def _split(day: Day, second: str, comparison: SetupComparison) -> SplitSaid:
    from sweep.logs.report import sentences

    return SplitSaid(
        f"{sentences.named(second)} against {sentences.named(day.setups[0])}",
        sentences.comparison_sentences(comparison),
        [
            [sentence for sentence in sentences.split_sentences(split, name) if sentence]
            for name, split in comparison.splits.items()
        ],
    )


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


def _passes(day: Day, compared: dict[str, SetupComparison]) -> list[Pass]:
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
            Pass(
                label=f"{at + 1}: {run.log} from {run.begin:.0f} s",
                setup=run.setup,
                speed=_short(run.speed),
                waves=_short(abs(math.degrees(math.remainder(run.waves, 2.0 * math.pi)))),
                height=_short(100.0 * height),
                height_low=_short(100.0 * sea.height.low),
                height_high=_short(100.0 * sea.height.high),
                period=_short(period),
                measured=_short(100.0 * run.measures["sensed_error"]),
                measured_low=_short(100.0 * run.sure["sensed_error"].low),
                measured_high=_short(100.0 * run.sure["sensed_error"].high),
                predicted=_short(100.0 * middle),
                low=_short(100.0 * middle * math.exp(-reach)),
                high=_short(100.0 * middle * math.exp(reach)),
            )
        )
    return rows


def _short(value: float) -> float | None:
    return float(number(value, 4)) if np.isfinite(value) else None


def as_note(kept: KeptLogs) -> Mapping[str, Any]:
    """What is kept, as JSON takes it."""
    return {**asdict(kept), "splits": [split._asdict() for split in kept.splits]}


def logs_of(note: Mapping[str, Any]) -> KeptLogs:
    """What a note of the shape `LOGS` holds; what is not known of a pass is None, and what else it has of one is left out."""
    parts = {
        "splits": [SplitSaid(**{name: split[name] for name in SplitSaid._fields}) for split in note["splits"]],
        "table": [Pass(**{name: row.get(name) for name in HEADINGS}) for row in note["table"]],
    }
    return KeptLogs(**{each.name: note[each.name] for each in fields(KeptLogs)} | parts)


def kept_logs(folder: Path | None) -> KeptLogs | None:
    """What `keep_logs` left, or None; raises StoreError for what it leaves never."""
    path = folder / KEPT if folder is not None else None
    if path is None or not path.exists():
        return None
    try:
        note = read_note(read_plain(path))
        wrong = wrong_shape(note, LOGS)
    except ValueError as error:
        wrong = str(error)
    if wrong:
        raise StoreError(f"{path}: cannot be read ({wrong}). Delete it: `foilsweep publish` with --logs keeps the logs anew.")
    return logs_of(note)


def log_table(kept: KeptLogs) -> pd.DataFrame:
    """The passes, columns of HEADINGS."""
    return pd.DataFrame([asdict(each) for each in kept.table], columns=list(HEADINGS))

"""The page of the logs: measured beside predicted, from what `write_log_summary` left in the results folder."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.stats import norm as normal

from sweep.insight.intervals import CONFIDENCE, CONFIDENCE_SAID
from sweep.report.charts.logs import PARTS, measured_beside_predicted, water_and_setup
from sweep.report.embed import as_csv, as_spec, data_script
from sweep.report.log_summary import (
    CHANGE_HEADINGS,
    LOG_SUMMARY,
    PASS_HEADINGS,
    Change,
    LogSummary,
    Pass,
    SplitSummary,
    as_note,
)
from sweep.report.page import Made, Material
from sweep.words.numbers import number

if TYPE_CHECKING:
    from markupsafe import Markup

    from sweep.logs.compare.comparison import Split
    from sweep.logs.report.day import Day, SetupComparison
    from sweep.logs.sea.sea_state import Estimate

REACH = round(float(normal.ppf(0.5 + 0.5 * CONFIDENCE)), 2)
"""Standard deviations to either side of an interval."""


CHART_NOTE = (
    f"Points are measured; their lines are {CONFIDENCE_SAID} intervals for the chance of so short a pass. Ticks are what the "
    f"model expects of the craft in the craft file; {CONFIDENCE_SAID} of single passes in that sea would lie within the bars. "
    "A pass with another set-up may lie outside."
)


SHORT = {"sensed_error": "height error, sensed", "witness_error": "height error, by the witness"}
"""Measures whose titles are too long for a chart."""
CHANGES_NOTE = (
    "100 % is what the first set-up measured on the mean: less is better. One bar is what the water alone made of it, the "
    f"other what the set-up made of it in the same sea; both times each other give the second set-up's mean. Lines are "
    f"{CONFIDENCE_SAID} intervals: where the set-up's line crosses 100 %, these passes tell no effect of it."
)


@dataclass(frozen=True)
class LogsPage:
    """After the water: what was measured, beside what the model expects; chart: '' without a pass to compare.

    changes: the parts of the water and of the set-up, '' where set-ups are not compared; data: of the charts.
    """

    log: LogSummary
    sentences: list[str]
    data: list[str]
    changes: Markup | str
    changes_note: str
    chart: Markup | str
    chart_note: str
    runs_summary: str


def make(material: Material) -> Made | None:
    """The page, and what its chart and its CSV file hold; none without logs."""
    log = material.logs
    if log is None:
        return None
    table, parts = log_table(log), change_table(log)
    chart = as_spec(measured_beside_predicted(table), "passes") if len(table) else ""
    changes = as_spec(water_and_setup(parts), "changes") if len(parts) else ""
    data = [name for name, there in (("changes", changes), ("passes", chart)) if there]
    summary = f"All {len(log.runs)} runs: foilborne, at one speed, straight"
    page = LogsPage(log, log.result + log.sentences, data, changes, CHANGES_NOTE, chart, CHART_NOTE, summary)
    files = data_script("passes", table) | as_csv("passes", table, PASS_HEADINGS)
    if changes:
        files |= data_script("changes", parts) | as_csv("changes", parts, CHANGE_HEADINGS)
    return Made(page, files)


def write_log_summary(folder: Path, mapping: Path, boat: str, say: Callable[[str], None]) -> None:
    """Judge the logs of a mapping, and keep what the page tells in the results folder; boat: the name of the folder's own."""
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
    told = account(day, compared, why)
    if another := of_another_boat(told.craft, boat):
        say(another)
        told = replace(told, result=[another, *told.result], doubts=[another, *told.doubts])
    write_whole(folder / LOG_SUMMARY, json.dumps(as_note(told), indent=1, allow_nan=False).encode())


def of_another_boat(logged: str, boat: str) -> str:
    """A warning where the logs' craft file has another name than the boat of the site; or ""."""
    if " ".join(logged.split()).casefold() == " ".join(boat.split()).casefold():
        return ""
    return (
        f"These logs are of “{logged}” by its craft file, and the designs of this site are of “{boat}”: "
        "what is measured here says nothing of them, unless the two are one boat."
    )


def account(day: Day, compared: dict[str, SetupComparison], why: str = "") -> LogSummary:
    """All that the page tells of a day and of its comparisons, by the name of the second set-up."""
    from sweep.logs.report import sentences

    ridden = [comparison.splits.get("sensed_error") for comparison in compared.values()]
    return LogSummary(
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
        changes=[change for second, comparison in compared.items() for change in _changes(second, comparison)],
    )


def _changes(second: str, comparison: SetupComparison) -> list[Change]:
    """The parts of the water and of the set-up in every measure: of all passes, then of each way alone."""
    from sweep.logs.report import sentences
    from sweep.logs.sea.measure import MEASURE

    ways = {sentences.met_said(comparison.groups[number].case.waves): splits for number, splits in comparison.ways.items()}
    return [
        Change(SHORT.get(name, MEASURE[name].title), second, way, part, *(float(number(100.0 * each, 4)) for each in estimate))
        for name in comparison.splits
        for way, splits in {"all passes": comparison.splits, **ways}.items()
        for part, estimate in zip(PARTS, parts_of(splits[name]), strict=True)
    ]


def parts_of(found: Split) -> tuple[Estimate, Estimate]:
    """By how many times the water alone, and the set-up alone, make the second mean another than the first, with intervals."""
    from sweep.logs.sea.sea_state import Estimate

    whole = found.means[1].value / found.means[0].value
    setup = Estimate(*(1.0 + each for each in found.relative))
    return Estimate(whole / setup.value, whole / setup.high, whole / setup.low), setup


def _split(day: Day, second: str, comparison: SetupComparison) -> SplitSummary:
    from sweep.logs.report import sentences

    return SplitSummary(
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


def change_table(kept: LogSummary) -> pd.DataFrame:
    """The parts of the water and of the set-up, columns of CHANGE_HEADINGS."""
    return pd.DataFrame([asdict(each) for each in kept.changes], columns=list(CHANGE_HEADINGS))


def log_table(kept: LogSummary) -> pd.DataFrame:
    """The passes, columns of PASS_HEADINGS."""
    return pd.DataFrame([asdict(each) for each in kept.table], columns=list(PASS_HEADINGS))

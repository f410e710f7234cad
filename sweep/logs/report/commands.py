"""The subcommands of `log`: each reads a mapping and returns the lines to print; `note` gets what it found as values."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

from sweep.campaign.text.problems import ChoiceError
from sweep.logs.fit.numbers import NUMBERS
from sweep.logs.law.day import law_of_runs, laws_of
from sweep.logs.read.mapping import load_mapping
from sweep.logs.report.day import Day, SetupComparison, compare_day, judge_day
from sweep.logs.report.fit_day import fit_day
from sweep.logs.report.law import (
    LAW_HEADINGS,
    WHAT_IS_LEFT,
    law_rows,
    law_sentences,
    settings_sentence,
    settings_that_flew,
    why_not_fit,
)
from sweep.logs.report.notes import comparison_note, day_note, fit_note, law_note, plan_note
from sweep.logs.report.score import foretold_day, foretold_sentences, keep_score
from sweep.logs.report.sentences import (
    FIT_HEADINGS,
    RUN_HEADINGS,
    aligned_columns,
    comparison_sentences,
    day_sea_sentences,
    day_sentences,
    fit_rows,
    fit_sentences,
    named,
    plan_lines,
    run_rows,
    split_sentences,
)
from sweep.logs.report.written import write_fitted
from sweep.logs.sea.passes import ADRIFT_SAID, plan_passes

USUAL_FIT = ("lift", "drag", "range_lag", "range_noise")
Say = Callable[[str], None]
Note = Callable[[dict[str, Any]], None]


def _unheard(found: dict[str, Any]) -> None:
    """A note that nobody asked for."""


def judged(path: Path, say: Say) -> Day:
    """Read the logs of a mapping and estimate their runs and seas, with a word on progress."""
    return judge_day(load_mapping(path), _reading(say))


def _reading(say: Say) -> Callable[[int, int], None]:
    """Says how much is read, of bytes in all."""
    seen = [-1]

    def progress(done: int, size: int) -> None:
        share = 100 * done // max(size, 1)
        if share // 5 > seen[0]:
            seen[0] = share // 5
            say(f"read {share} % of {size / 1e6:.1f} MB")

    return progress


def law(path: Path, say: Say, note: Note = _unheard) -> list[str]:
    """Which settings of the control law flew, by a replay of the logged sensors."""
    mapping = load_mapping(path)
    lines = [f"{mapping.title}: what flew, beside {mapping.craft_path.name}."]
    laws = laws_of(mapping, _reading(say))
    note({"title": mapping.title, **law_note(laws)})
    for found in laws:
        lines += ["", f"{named(found.setup)}:", *law_sentences(found, list(mapping.craft.foils))]
        if found.law is not None and not found.law.why:
            lines.append(aligned_columns(LAW_HEADINGS, law_rows(found.law)))
    return [*lines, "", WHAT_IS_LEFT]


def read(path: Path, say: Say, note: Note = _unheard) -> list[str]:
    """What the logs hold, and what looks wrong."""
    day = judged(path, say)
    note(day_note(day))
    lines = [*day_sentences(day), "", aligned_columns(RUN_HEADINGS, run_rows(day.runs))]
    return [*lines, "", *doubt_lines(day)]


def doubt_lines(day: Day) -> list[str]:
    """What looks wrong, a line each."""
    return ["Looks wrong:", *(f"  {text}" for text in day.doubts)] if day.doubts else ["Nothing looks wrong."]


def sea(path: Path, say: Say, note: Note = _unheard) -> list[str]:
    """The sea of the day, and of every run."""
    day = judged(path, say)
    note(day_note(day))
    lines = [*day_sentences(day)[:1], *day_sea_sentences(day), "", aligned_columns(RUN_HEADINGS, run_rows(day.runs))]
    return [*lines, "", *doubt_lines(day)]


def compare(path: Path, say: Say, score: Path | None = None, note: Note = _unheard) -> list[str]:
    """The set-ups compared, with the water's part and the set-up's, and what the model foretold. score: a file to keep."""
    day = judged(path, say)
    try:
        found = compare_day(
            day, lambda done, whole: say(f"flown {done} of {whole} flights of the model") if done % 8 == 0 else None
        )
    except ValueError as error:
        raise ChoiceError(f"{path}: {error}") from error
    note(day_note(day) | comparison_note(day, found))
    lines = day_sentences(day)
    for second, comparison in found.items():
        lines += ["", f"{named(second)} against {named(day.setups[0])}:", *comparison_sentences(comparison)]
        for name, split in comparison.splits.items():
            lines += [f"  {sentence}" for sentence in split_sentences(split, name) if sentence]
    lines += _foretold(day, found, score, say)
    return [*lines, "", *doubt_lines(day)]


def _foretold(day: Day, found: dict[str, SetupComparison], score: Path | None, say: Say) -> list[str]:
    """What the model foretold of the settings that flew, beside what the water showed."""
    kept, untold = foretold_day(
        day, found, laws_of(day.mapping), date.today().isoformat(), lambda flights: say(f"flown {flights} flights to foretell")
    )
    said = ["", *foretold_sentences(kept), *untold]
    return said + (keep_score(score, kept, day.mapping.craft.name) if score is not None else [])


def fit(path: Path, names: str | None, out: Path | None, say: Say, note: Note = _unheard) -> list[str]:
    """Numbers of the craft fitted, and a craft file written."""
    chosen = tuple(name.strip() for name in names.split(",")) if names else USUAL_FIT
    if unknown := [name for name in chosen if name not in NUMBERS]:
        raise ChoiceError(f"{unknown[0]!r}: wanted numbers of {', '.join(NUMBERS)}")
    day = judged(path, say)
    flew = law_of_runs(day.mapping, day.recorded)
    if flew is not None and (wrong := why_not_fit(flew, chosen, day.mapping)):
        raise ChoiceError(f"{path}: {wrong}")
    seen = [0]

    def progress(flights: int) -> None:
        seen[0] += flights
        if seen[0] % 6 == 0:
            say(f"flown {seen[0]} flights of the model for the fit")

    try:
        result = fit_day(day, chosen, progress, settings_that_flew(flew, chosen))
    except ValueError as error:
        raise ChoiceError(f"{path}: {error}") from error
    note(day_note(day) | fit_note(result))
    lines = [*day_sentences(day)[:1], aligned_columns(FIT_HEADINGS, fit_rows(result)), "", *fit_sentences(result)]
    if flew is not None:
        taken = settings_sentence(flew, chosen)
        lines += [taken] if taken else []
        lines += law_sentences(flew, list(day.mapping.craft.foils))
    if out is not None:
        beside = write_fitted(out, day, result, date.today().isoformat())
        lines.append(f"Craft file: {out}")
        if beside is not None:
            lines.append(
                f"What the logs leave open of it: {beside}. A campaign in that folder with this craft takes it as "
                f"“unknowns: {{file: {beside.name}}}”."
            )
    return [*lines, "", *doubt_lines(day)]


def passes(path: Path, say: Say, note: Note = _unheard) -> list[str]:
    """What to fly next."""
    day = judged(path, say)
    found = day.sea()
    setups = [*day.setups, "the other set-up"][:2]
    note({"title": day.mapping.title})
    if found is None or found.verdict != "measured" or not day.flying:
        return [f"The logs show no sea to plan by. Begin with {ADRIFT_SAID} adrift, motor off, log running."]
    speed = sum(run.speed for run in day.flying) / len(day.flying)
    plan = plan_passes(setups[0], setups[-1], speed, found.period.value, day.mapping.water.depth)
    note({"title": day.mapping.title, **plan_note(plan)})
    return plan_lines(plan)

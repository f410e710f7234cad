"""`log begin`: drafts a mapping file from logs, a page of traces beside it, and says what it took each column for."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from sweep.campaign.craft import Craft
from sweep.campaign.text.document import read_document
from sweep.campaign.text.explain import problems_of
from sweep.campaign.text.file_kind import CRAFT, of_sort
from sweep.campaign.text.problems import CampaignError, ChoiceError, Problem
from sweep.logs.begin.draft import Answers, Draft, clocks_agree, draft, mapping_text, without
from sweep.logs.begin.page import page
from sweep.results.plain_files import write_whole


def begin(files: Sequence[Path], out: Path | None, craft: Path | None, waves: str | None) -> list[str]:
    """Write the mapping and its page; the lines to print. Raises CampaignError or ChoiceError, and then writes nothing."""
    out = out or files[0].parent / "mapping.yaml"
    traces = out.with_suffix(".html")
    there = [
        Problem(str(each), 0, 0, "", "a file that is there already", "a new one, by --out FILE")
        for each in (out, traces)
        if each.exists()
    ]
    if there:
        raise CampaignError(there)
    known = _craft(craft) if craft else None
    logs, others = _parted([draft(path, known) for path in files])
    names, beside = (tuple(_seen_from(out, each.path) for each in some) for some in (logs, others))
    answers = Answers(_seen_from(out, craft) if craft else None, known, waves and _waves(waves), names, beside)
    write_whole(out, mapping_text(logs[0], others, answers).encode())
    write_whole(traces, page([logs[0], *others]).encode())
    return [
        *(line for each in (logs[0], *others) for line in told(each)),
        "",
        *_next(out, traces, answers, not all(clocks_agree(logs[0], each) for each in others)),
    ]


def _parted(drafts: Sequence[Draft]) -> tuple[list[Draft], list[Draft]]:
    """Logs that are written alike, and other loggers' files of the same outing, with what the log has not.

    Raises ChoiceError where that cannot be told.
    """
    first = next((each for each in drafts if _has(each, "range")), drafts[0])
    logs = [each for each in drafts if _form(each) == _form(first)]
    others = [each for each in drafts if _form(each) != _form(first)]
    for other in others:
        why = "it has a range too" if _has(other, "range") else "it may be of any of them" if len(logs) > 1 else ""
        if why:
            raise ChoiceError(
                f"{other.path}: is written otherwise than {first.path}, and {why}: draft it alone. Another logger's file "
                "of the same outing goes under also: of its log"
            )
    return logs, [without(other, first) for other in others]


def _has(found: Draft, channel: str) -> bool:
    return any(guess.channel == channel for guess in found.guesses)


def told(found: Draft) -> list[str]:
    """What a log was taken for, in words."""
    dialect = found.sniffed.dialect.model_dump(exclude_defaults=True)
    form = ", ".join(f"{key} {value}" for key, value in dialect.items()) or "comma between cells, names in the first line"
    clock = found.clock
    assert clock is not None
    lines = [f"{found.path}: {form}", f"  clock: {clock.column!r}: {clock.why}"]
    lines += [f"    ? {clock.question}"] if clock.question else []
    for guess in found.guesses:
        unit = f"{guess.scale:g} {guess.unit}" if guess.scale != 1.0 else guess.unit
        lines.append(f"  {guess.channel}: {guess.column!r} in {unit}{', sign turned' if guess.sign < 0 else ''}: {guess.why}")
        lines += [f"    ? {guess.question}"] if guess.question else []
    lines += [f"  not taken for anything: {', '.join(found.others)}"] if found.others else []
    return lines


def _next(out: Path, traces: Path, answers: Answers, asks: bool) -> list[str]:
    gaps = [name for name, said in (("craft", answers.craft_path), ("waves", answers.waves)) if not said]
    gaps += ["off"] if asks else []
    fill = f"fill in {' and '.join(gaps)}, which no log tells, and " if gaps else ""
    return [
        f"Traces to confirm: {traces}",
        f"Mapping: {out}: {fill}answer each line that begins with ?; then `foilsweep log read {out}`",
    ]


def _form(found: Draft) -> tuple[object, ...]:
    clock = found.clock
    return (
        found.sniffed.dialect,
        clock and clock[:5],
        [(guess.channel, guess.column, guess.unit, guess.scale) for guess in found.guesses],
    )


def _seen_from(out: Path, path: Path) -> str:
    """How a file beside `out` names a path; a whole path where no way leads there, as to another drive of Windows."""
    try:
        return os.path.relpath(path, out.parent).replace(os.sep, "/")
    except ValueError:
        return path.absolute().as_posix()


def _waves(text: str) -> str:
    return text if text.startswith("{") else f"{{{text}}}"


def _craft(path: Path) -> Craft:
    from pydantic import ValidationError

    document = of_sort(read_document(path), CRAFT)
    try:
        return Craft.model_validate(document.plain())
    except ValidationError as error:
        raise CampaignError(problems_of(error, document, Craft)) from None

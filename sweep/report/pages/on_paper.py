"""What the card has a builder write down before launch, and what is wrong where the boat shows something else."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from sweep.insight.intervals import CONFIDENCE_SAID
from sweep.linear.stability import speed_words
from sweep.preflight.on_paper import OnPaper, Shown, Wrong
from sweep.words.numbers import with_unit

if TYPE_CHECKING:
    from collections.abc import Sequence

MOST_NAMED = 2  # explanations in a cell: judgement


class Line(NamedTuple):
    """Something that the boat shows: what is expected, and what explains less and more of it."""

    name: str
    expect: str
    low: str
    high: str


@dataclass(frozen=True)
class Paper:
    """The table to write down, and what each number of the craft file that may be off adds to it.

    adds: rows of a number and how it is off, and its effects under `headings`; how: how to read them.
    """

    caption: str
    lines: list[Line]
    rule: str
    how: str
    headings: list[str]
    adds: list[tuple[str, list[str]]]


def paper_of(found: OnPaper | None) -> Paper | None:
    """The words of what is expected; None where the boat has no trim at the campaign's speed."""
    if found is None:
        return None
    return Paper(
        caption=f"Write these down before launch; then fly steadily at {speed_words(found.speed)} and compare",
        lines=[_line(found, at, each) for at, each in enumerate(found.shown)],
        rule=(
            "Outside one of them: stop, this boat is not the one of the file. On a screen this card says which two numbers to "
            "measure first. Change nothing that you have not measured."
        ),
        how=(
            f"The intervals are {CONFIDENCE_SAID} of what the model's trim gives for boats that are off by what is usual, as "
            "people read them; of such boats, flown in the model, about 88 % of the numbers were inside. Of boats that were "
            "flown with one number far off, the right one was among the two that are named in about 61 %. Here, look for the "
            "same signs in the same proportions; the other way off, every sign turns."
        ),
        headings=[_heading(each) for each in found.shown],
        adds=[
            (f"{more.name}: {more.off}", [_added(add, each) for add, each in zip(more.adds, found.shown, strict=True)])
            for _, more in found.wrong
        ],
    )


def _line(found: OnPaper, at: int, shown: Shown) -> Line:
    low, high = shown.value - shown.half, shown.value + shown.half
    low = max(low, 0.0) if shown.unit != "deg" else low
    expect = f"{_number(shown.value, shown)} ({_number(low, shown)} to {_number(high, shown)}) {shown.unit}"
    return Line(shown.name, expect, *(_because(found.explain(at, high)) for high in (False, True)))


def _because(wrong: Sequence[Wrong]) -> str:
    """'check lift slope of the foils (more), then mass (less)'; that nothing here explains it, where that is so."""
    if not wrong:
        return "no number below explains it"
    return "check " + ", then ".join(f"{each.name} ({each.off.split()[-1]})" for each in wrong[:MOST_NAMED])


def _heading(shown: Shown) -> str:
    return f"{shown.name}, {shown.unit}"


def _added(add: float, shown: Shown) -> str:
    digits = 2 if shown.unit == "m/s" else 1
    text = f"{add:+.{digits}f}"
    return "0" if float(text) == 0.0 else text


def _number(value: float, shown: Shown) -> str:
    return with_unit(value, "", 2) if shown.unit == "m/s" else f"{value:.0f}" if shown.unit == "%" else f"{value + 0.0:.1f}"

"""What long studies of the model found, for How sure: tables made by commands of the project, carried beside the templates."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from typing import NamedTuple

from sweep.campaign.text.resources import shipped
from sweep.model.identity import model_digest
from sweep.words.numbers import number

Value = float | str

LONGEST_NUMBER = 24  # characters of an interval with its unit, or of a verdict; what is longer is a sentence
STUDIES = {
    "tows": "Measured foils, hulls and boats beside the model",
    "convergence": "How far results depend on step, strips, waves and length of flight",
    "lessons": "What practitioners know, and whether the model shows it",
    "companion": "The linear model compared with flights",
    "mutations": "Whether the tests would notice a mistake in the model",
}


class StudyTable(NamedTuple):
    """A table of a study as text; kinds: of each column, 'word' or 'number'."""

    id: str
    caption: str
    note: str
    headings: list[str]
    kinds: list[str]
    rows: list[list[str]]


class Study(NamedTuple):
    """A study: what it is of, its tables, and when and by what command it was made."""

    title: str
    tables: list[StudyTable]
    made: str


def studies() -> list[Study]:
    """Every study that was made."""
    folder = shipped("site") / "evidence"
    return [
        _study(key, title, (folder / f"{key}.toml").read_text(encoding="utf-8"))
        for key, title in STUDIES.items()
        if (folder / f"{key}.toml").is_file()
    ]


def met_of_measured() -> tuple[int, int]:
    """How many of the measured values of towed foils, hulls and boats the model meets, and how many there are."""
    table = tomllib.loads((shipped("site") / "evidence" / "tows.toml").read_text(encoding="utf-8"))["tows"]
    return table["agree"], len(table["rows"])


def _study(key: str, title: str, text: str) -> Study:
    """The study of this key from the text of its file."""
    found = tomllib.loads(text)
    made = found.pop("made")
    ending = "." if made["model"] == model_digest() else ", with a model that has changed since."
    tables = [
        _table(f"study-{key}-{at}", table["caption"], table["note"], table["headings"], table["rows"])
        for at, table in enumerate(found.values(), 1)
    ]
    return Study(title, tables, f"Made by “{made['command']}” with version {made['version']}, {made['date']}{ending}")


def _table(id_: str, caption: str, note: str, headings: Sequence[str], rows: Sequence[Sequence[Value]]) -> StudyTable:
    return StudyTable(
        id=id_,
        caption=caption,
        note=note,
        headings=[heading.replace("^2", "²") for heading in headings],
        kinds=[_kind(column) for column in zip(*rows, strict=True)],
        rows=[[_cell(cell) for cell in row] for row in rows],
    )


def _kind(column: tuple[Value, ...]) -> str:
    """How a page sets a column: 'word' where it has sentences, which may wrap, else 'number'."""
    return "word" if any(isinstance(cell, str) and len(cell) > LONGEST_NUMBER for cell in column) else "number"


def _cell(value: Value) -> str:
    return value if isinstance(value, str) else number(value, 4)

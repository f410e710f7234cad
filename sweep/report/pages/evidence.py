"""What long studies of the model found, for How sure: tables made by commands of the project, carried beside the templates."""

from __future__ import annotations

import tomllib
from typing import Any

from sweep.campaign.text.resources import shipped
from sweep.model.identity import model_digest
from sweep.words.numbers import number

LONGEST_NUMBER = 24  # characters of an interval with its unit, or of a verdict; what is longer is a sentence
STUDIES = {
    "tows": "Measured foils, hulls and boats beside the model",
    "convergence": "How far results depend on what is not physics",
    "lessons": "What practitioners know, and whether the model shows it",
    "companion": "The linear companion beside flights",
    "mutations": "Whether the tests would notice a mistake in the model",
}


def studies() -> list[dict[str, Any]]:
    """Every study that was made: title, what it was made by, and its tables as text."""
    folder = shipped("site") / "evidence"
    return [
        {"key": name} | _study(title, tomllib.loads((folder / f"{name}.toml").read_text(encoding="utf-8")))
        for name, title in STUDIES.items()
        if (folder / f"{name}.toml").is_file()
    ]


def met_of_measured() -> tuple[int, int]:
    """How many of the measured values of towed foils, hulls and boats the model meets, and how many there are."""
    table = tomllib.loads((shipped("site") / "evidence" / "tows.toml").read_text(encoding="utf-8"))["tows"]
    return table["agree"], len(table["rows"])


def _study(title: str, found: dict[str, Any]) -> dict[str, Any]:
    made = found.pop("made")
    same = made["model"] == model_digest()
    return {
        "title": title,
        "made": f"Made by “{made['command']}” with version {made['version']}, {made['date']}"
        + ("." if same else ", of a model that has changed a little since."),
        "tables": [
            {
                "caption": table["caption"],
                "note": table["note"],
                "headings": table["headings"],
                "kinds": [_kind(column) for column in zip(*table["rows"], strict=True)],
                "rows": [[_cell(cell) for cell in row] for row in table["rows"]],
            }
            for table in found.values()
        ],
    }


def _kind(column: tuple[float | str, ...]) -> str:
    """How a page sets a column: 'word' where it has sentences, which may wrap, else 'number'."""
    return "word" if any(isinstance(cell, str) and len(cell) > LONGEST_NUMBER for cell in column) else "number"


def _cell(value: float | str) -> str:
    return value if isinstance(value, str) else number(value, 4)

"""The numbers of the equations in MODEL.md: in order, each once, and the code cites no other."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
MODEL = ROOT / "sweep" / "model" / "MODEL.md"
TEXT = MODEL.read_text(encoding="utf-8")
DEFINED = [(int(section), int(number)) for section, number in re.findall(r"^\*\*M(\d+)\.(\d+)\*\* ", TEXT, re.MULTILINE)]


def cited(text: str) -> set[tuple[int, int]]:
    """The numbers of equations that a text names, those of a span such as M3.12 to M3.14 only at its ends."""
    return {(int(section), int(number)) for section, number in re.findall(r"\bM(\d+)\.(\d+)\b", text)}


def test_equations_are_numbered_in_order() -> None:
    heads = [int(number) for number in re.findall(r"^## (\d+) ", TEXT, re.MULTILINE)]
    assert heads == list(range(1, heads[-1] + 1))
    for section in heads:
        numbers = [number for of, number in DEFINED if of == section]
        assert numbers == list(range(1, len(numbers) + 1)), section
    assert sorted(DEFINED) == DEFINED


def test_every_number_that_is_cited_exists() -> None:
    assert cited(TEXT) == set(DEFINED)
    for path in [*ROOT.glob("sweep/**/*.py"), *ROOT.glob("tests/**/*.py")]:
        unknown = cited(path.read_text(encoding="utf-8")) - set(DEFINED)
        assert not unknown or path == Path(__file__), f"{path}: {unknown}"


def test_every_equation_is_cited_by_the_code() -> None:
    """A formula without its code is not flown; one whose code cannot be found is not checked."""
    texts = [path.read_text(encoding="utf-8") for path in ROOT.glob("sweep/**/*.py")]
    missing = set(DEFINED).difference(*(cited(text) for text in texts))
    assert not missing, sorted(missing)

"""DEVELOPERS.md lists the files that an addition touches: they are all the files that hold its example's name."""

from __future__ import annotations

import re
from pathlib import Path
from typing import NamedTuple

import pytest

ROOT = Path(__file__).parents[1]
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
TEXTS = {".py", ".md", ".js", ".html", ".css", ".toml"}


class Addition(NamedTuple):
    """What is added, the names by which an example of it is found, and the files that the guide lists."""

    what: str
    names: tuple[str, ...]
    files: tuple[str, ...]


def additions(guide: str) -> list[Addition]:
    """Sections '### A ...' of the guide with a line 'Example: `name` ...' and items '- `path`: what'."""
    found = []
    for section in re.split(r"^### (?=An? )", guide, flags=re.M)[1:]:
        what, *lines = re.split(r"^#", section, maxsplit=1, flags=re.M)[0].splitlines()
        named = [line for line in lines if line.startswith("Example: ")]
        files = [match[1] for line in lines if (match := re.match(r"- `([^`]+)`: \S", line))]
        found.append(Addition(what, tuple(re.findall(r"`(\w[\w-]*)`", named[0])) if named else (), tuple(files)))
    return found


def holders(names: tuple[str, ...], root: Path) -> set[str]:
    """Files of sweep/ and site/ in which one of the names stands as a whole word."""
    wanted = re.compile(rf"(?<![\w-])({'|'.join(map(re.escape, names))})(?![\w-])")
    paths = (path for room in ("sweep", "site") for path in (root / room).rglob("*") if path.suffix in TEXTS)
    return {path.relative_to(root).as_posix() for path in paths if wanted.search(path.read_text(encoding="utf-8"))}


ADDITIONS = additions(GUIDE)


def test_the_guide_has_examples() -> None:
    assert "A response" in [addition.what for addition in ADDITIONS]


@pytest.mark.parametrize("addition", ADDITIONS, ids=lambda addition: addition.what)
def test_the_guide_lists_the_files_that_an_addition_touches(addition: Addition) -> None:
    assert addition.names, "wanted a line 'Example: `name`'"
    assert len(set(addition.files)) == len(addition.files)
    assert set(addition.files) == holders(addition.names, ROOT)


def test_a_list_that_is_not_true_is_found(tmp_path: Path) -> None:
    """Of this file's own tools: a file too many, one too few, a name that is part of another, and where a section ends."""
    (tmp_path / "sweep").mkdir()
    (tmp_path / "site").mkdir()
    (tmp_path / "sweep" / "one.py").write_text("lean_peak = 1\n")
    (tmp_path / "sweep" / "two.py").write_text("lean_peaks = other_lean_peak\n")
    (tmp_path / "site" / "three.js").write_text("row.lean_peak\n")
    section = "### A thing\n\nExample: `lean_peak`, of `two` names.\n\n- `sweep/one.py`: why\n- not this\n\n"
    (read,) = additions(f"{section}## Next\n\n- `sweep/two.py`: not of it\n")
    assert read == Addition("A thing", ("lean_peak", "two"), ("sweep/one.py",))
    assert holders(("lean_peak",), tmp_path) == {"sweep/one.py", "site/three.js"}
    assert additions("### A thing\n\nNothing.\n") == [Addition("A thing", (), ())]

"""The results page: one command's section is measured anew, the others stay to the byte, and every heading has its command."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

from tests.benchmarks.results import PAGE, page_text, read_page, refresh

README = (PAGE.parents[2] / "README.md").read_text(encoding="utf-8")
TEXT = """\
# Results

What was measured.

## `python -m tests.benchmarks.growth`

Measured 2026-01-01, commit abc.

| a | b |
|---|---|
| 1 | 2 |

## `python -m tests.benchmarks.causes 11`

Measured 2026-01-02, commit abc.

    as it was

### Notes

Two of these were close.
"""


@pytest.fixture
def page(tmp_path: Path) -> Path:
    path = tmp_path / "RESULTS.md"
    path.write_text(TEXT, encoding="utf-8")
    return path


def test_a_page_is_read_and_written_back_to_the_byte() -> None:
    for text in (TEXT, PAGE.read_text(encoding="utf-8")):
        assert page_text(*read_page(text)) == text


def test_one_command_is_measured_anew_and_the_other_stays(page: Path) -> None:
    refresh(page, ["causes 12"], lambda command: f"flown by {command}\n")
    text = page.read_text(encoding="utf-8")
    assert text.startswith(TEXT[: TEXT.index("## `python -m tests.benchmarks.causes")])
    assert "## `python -m tests.benchmarks.causes 12`" in text
    assert "```\nflown by causes 12\n```" in text
    assert "as it was" not in text
    assert text.endswith("### Notes\n\nTwo of these were close.\n")


def test_a_new_command_gets_a_section_at_the_end(page: Path) -> None:
    refresh(page, ["tail"], lambda _: "| c |\n|---|\n| 3 |\n")
    text = page.read_text(encoding="utf-8")
    assert text.startswith(TEXT)
    assert text.endswith(".\n\n| c |\n|---|\n| 3 |\n")
    assert re.search(r"Measured \d{4}-\d\d-\d\d, commit .+, \d+ processors, ", text)


def test_without_a_command_all_are_measured_in_their_order(page: Path) -> None:
    asked: list[str] = []
    refresh(page, [], lambda command: asked.append(command) or command)
    assert asked == ["growth", "causes 11"]


def test_a_failed_command_leaves_the_page_as_it_was(page: Path) -> None:
    def fail(command: str) -> str:
        raise subprocess.CalledProcessError(1, command)

    with pytest.raises(subprocess.CalledProcessError):
        refresh(page, ["growth"], fail)
    assert page.read_text(encoding="utf-8") == TEXT


def test_another_heading_is_refused() -> None:
    with pytest.raises(ValueError, match="must be"):
        read_page("# Results\n\n## Figures\n")


def test_every_command_of_the_page_exists() -> None:
    names = [section.name for section in read_page(PAGE.read_text(encoding="utf-8"))[1]]
    assert len(names) == len(set(names)) > 15
    for name in names:
        text = (PAGE.parent / f"{name}.py").read_text(encoding="utf-8")
        assert f"python -m tests.benchmarks.{name}" in text, name


def test_the_readme_says_how_fast_the_model_is_as_it_was_measured() -> None:
    said = re.search(
        r"about ([\d ]+) times as fast.*?; (\d+) to (\d+) times .*?\((\d+) times.*?and (\d+) times", README, re.DOTALL
    )
    table = PAGE.read_text(encoding="utf-8")
    rows = re.findall(r"^\| \([abc]\).*\| ([\d .]+) \([\d .]+ to", table, re.MULTILINE)[1:]
    assert said is not None
    measured = [float(row.replace(" ", "")) for row in rows]
    told = [float(number.replace(" ", "")) for number in said.groups()]
    assert told == pytest.approx([measured[row] for row in (0, 2, 1, 3, 4)], rel=0.05)

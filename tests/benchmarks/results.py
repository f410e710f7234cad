"""The results page: runs benchmarks and writes what they print into tests/benchmarks/RESULTS.md.

    python -m tests.benchmarks.results [COMMAND ...] [--from FILE]

COMMAND is a benchmark with its arguments, in quotes: "growth", "causes 11". Its section is measured anew; the others stay as
they are. A command that the page does not have yet gets a section at the end. Without COMMAND every section is measured anew,
in the page's order (most of a day). --from FILE takes the output of one command from a file instead of running it.
What stands under "### Notes" in a section is written by hand, and stays.
"""

from __future__ import annotations

import argparse
import datetime
import os
import platform
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import llvmlite.binding as llvm

ROOT = Path(__file__).parents[2]
PAGE = Path(__file__).with_name("RESULTS.md")
PREFIX, SUFFIX = "## `python -m tests.benchmarks.", "`"
NOTES = "### Notes"


@dataclass(frozen=True)
class Section:
    """One command's part of the page: the command with its arguments, what was measured, and the notes, Markdown."""

    command: str
    measured: str
    notes: str = ""

    @property
    def name(self) -> str:
        """The benchmark, without its arguments."""
        return self.command.split()[0]

    def text(self) -> str:
        """The section as it stands on the page."""
        notes = f"\n{NOTES}\n\n{self.notes}\n" if self.notes else ""
        return f"{PREFIX}{self.command}{SUFFIX}\n\n{self.measured}\n{notes}"


def read_page(text: str) -> tuple[str, list[Section]]:
    """The introduction and the sections of the page's text. ValueError: a heading is not that of a command."""
    introduction, *parts = text.split("\n## ")
    sections = []
    for part in parts:
        heading, _, body = f"## {part}".partition("\n")
        if not (heading.startswith(PREFIX) and heading.endswith(SUFFIX)):
            raise ValueError(f"{heading}: a heading of the results page must be {PREFIX}NAME{SUFFIX}")
        measured, _, notes = body.partition(f"\n{NOTES}\n")
        sections.append(Section(heading.removeprefix(PREFIX).removesuffix(SUFFIX), measured.strip("\n"), notes.strip("\n")))
    return introduction.strip("\n"), sections


def page_text(introduction: str, sections: list[Section]) -> str:
    """The page's text; `read_page` reads it back."""
    return "\n".join([f"{introduction}\n", *(section.text() for section in sections)])


def with_section(sections: list[Section], command: str, measured: str) -> list[Section]:
    """The sections with one measured anew, in its place and with its notes, or added at the end."""
    name = command.split()[0]
    if name not in [section.name for section in sections]:
        return [*sections, Section(command, measured)]
    return [replace(each, command=command, measured=measured) if each.name == name else each for each in sections]


def shown(output: str) -> str:
    """Output as Markdown: as it is if it has a table, else as plain text."""
    text = output.strip("\n")
    return text if any(line.startswith("|--") for line in text.splitlines()) else f"```\n{text}\n```"


def provenance() -> str:
    """The day, the commit and the kind of machine of a measurement made now, in a line."""
    commit = subprocess.run(
        ["git", "describe", "--always", "--dirty=, changed"], cwd=ROOT, capture_output=True, text=True, check=False
    ).stdout.strip()
    features = llvm.get_host_cpu_features()
    vectors = next((said for flag, said in (("avx512f", "AVX-512"), ("avx2", "AVX2")) if features.get(flag)), "short vectors")
    machine = f"{os.cpu_count()} processors, {platform.machine()} with {vectors}, Python {platform.python_version()}"
    return f"Measured {datetime.datetime.now(datetime.UTC):%Y-%m-%d}, commit {commit or 'unknown'}, {machine}."


def run(command: str) -> str:
    """What a benchmark prints. Raises CalledProcessError if it fails."""
    name, *arguments = command.split()
    whole = [sys.executable, "-m", f"tests.benchmarks.{name}", *arguments]
    return subprocess.run(whole, cwd=ROOT, stdout=subprocess.PIPE, text=True, check=True).stdout


def refresh(page: Path, commands: list[str], runner: Callable[[str], str] = run) -> None:
    """Measure commands, or all those of the page, and write each as soon as it is there: a stop loses one at most."""
    for command in commands or [section.command for section in read_page(page.read_text(encoding="utf-8"))[1]]:
        measured = f"{provenance()}\n\n{shown(runner(command))}"
        introduction, sections = read_page(page.read_text(encoding="utf-8"))
        page.write_text(page_text(introduction, with_section(sections, command, measured)), encoding="utf-8")


def main() -> None:
    """Run what is named on the command line."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.results")
    parser.add_argument("commands", nargs="*", metavar="COMMAND")
    parser.add_argument("--from", dest="file", type=Path, metavar="FILE")
    told = parser.parse_args()
    if told.file and len(told.commands) != 1:
        parser.error("--from FILE is the output of one COMMAND: name it")
    refresh(PAGE, told.commands, (lambda _: told.file.read_text(encoding="utf-8")) if told.file else run)


if __name__ == "__main__":
    main()

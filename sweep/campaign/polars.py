"""Polars of foil sections: CSV files, shipped or beside the craft file, checked and reduced to what the model takes.

A polar has a line of headings and a row for each Reynolds number and angle; lines that begin with # are comments.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import numpy as np

from sweep.campaign.text.document import read_text
from sweep.campaign.text.explain import nearest
from sweep.campaign.text.problems import MOST_PROBLEMS, CampaignError, Problem
from sweep.campaign.text.resources import shipped
from sweep.model.physics.section import reduce_polar
from sweep.model.physics.section_nodes import SectionNodes
from sweep.words.phrases import listed

LARGEST_POLAR = 2_000_000
"""Bytes of a polar's file (judgement)."""
MOST_ROWS = 20_000
"""Rows of a polar (judgement): a hundred angles at two hundred Reynolds numbers."""
LEAST_REYNOLDS, LEAST_ANGLES = 2, 6
"""Reynolds numbers, and angles at each, that a polar has at least (judgement: a line along one, a curve along the other)."""
SMALLEST_DEGREES = 0.4  # a table whose angles are all smaller is in radians (judgement)
STEEPEST = 15.0  # lift slope per radian: 2 pi, and as much again for what laminar bubbles do (judgement)
LEAST_LIFT = 0.2  # as a craft file's lift_max
COLUMNS = {
    "reynolds": (1e3, 1e8, "a Reynolds number from 1e3 to 1e8"),
    "angle_deg": (-180.0, 180.0, "an angle from -180 to 180, in degrees"),
    "lift": (-5.0, 5.0, "a lift coefficient from -5 to 5"),
    "drag": (1e-6, 5.0, "a drag coefficient of more than 0, at most 5"),
    "moment": (-2.0, 2.0, "a moment coefficient about the quarter chord, from -2 to 2"),
    "suction": (-1.0, 100.0, "minus the least pressure coefficient, from -1 to 100"),
}
"""The columns of a polar: least and largest value (judgement), and the name in messages."""


class Polar(NamedTuple):
    """A polar as the model takes it, and the file's text."""

    section: SectionNodes
    text: str


class Named(NamedTuple):
    """A polar's name, and its place in a file; `problem` makes a mistake at that place."""

    name: str
    problem: Problem


def shipped_polars() -> tuple[str, ...]:
    """Names of the polars that travel with the program."""
    return tuple(sorted(path.stem for path in (shipped("configs") / "polars").glob("*.csv")))


def is_own(name: str) -> bool:
    """Whether a polar's name is that of the builder's own file."""
    return name.lower().endswith(".csv")


def read_polars(names: Iterable[Named], folder: Path) -> tuple[dict[str, Polar], list[Problem]]:
    """The polars of some names, shipped ones or else from the folder; and everything that is wrong with them.

    What is wrong with a file is told once, however many foils have it; a misspelt name at each of its places.
    """
    polars: dict[str, Polar] = {}
    problems: list[Problem] = []
    read: set[str] = set()
    for name, place in names:
        if name in read:
            continue
        if not is_own(name) and name not in shipped_polars():
            near = nearest(name, shipped_polars()) or shipped_polars()
            problems.append(_at(place, f"a shipped polar, as {listed(near)}, or a CSV beside the craft file, as mine.csv"))
            continue
        read.add(name)
        try:
            polars[name] = read_polar(folder / name if is_own(name) else shipped("configs") / "polars" / f"{name}.csv")
        except CampaignError as error:
            if any(problem.line for problem in error.problems):
                problems += error.problems
            else:
                problems += [_at(place, each.wanted, f"{place.found}, where there is {each.found}") for each in error.problems]
    return polars, problems


def _at(place: Problem, wanted: str, found: str | None = None) -> Problem:
    return Problem(place.file, place.line, place.column, place.address, found or place.found, wanted)


def read_polar(path: Path) -> Polar:
    """Read and reduce one polar. Raises CampaignError with everything that is wrong in it."""
    text = read_text(path, "a CSV file of a polar", LARGEST_POLAR)
    reader = PolarReader(path)
    table = reader.read(text)
    if reader.problems:
        raise CampaignError(reader.problems)
    columns = {name: table[:, place] for place, name in enumerate(COLUMNS)}
    try:
        section = reduce_polar(angle=np.radians(columns.pop("angle_deg")), **columns)
    except ValueError as error:
        raise CampaignError(
            [reader.problem(reader.first, 0, "", str(error), "a polar whose lift rises through zero")]
        ) from None
    if unlike := list(_unlike_a_section(section, reader)):
        raise CampaignError(unlike)
    return Polar(section, text)


def _unlike_a_section(section: SectionNodes, reader: PolarReader) -> Iterator[Problem]:
    """Values that no foil has."""
    slope = next((each for each in section.lift_slope if not 0.0 < each < STEEPEST), None)
    if slope is not None:
        wanted = f"one between 0 and {STEEPEST:g}; a thin section has 6.28: are the angles degrees?"
        yield reader.problem(reader.first, 0, "angle_deg", f"a lift slope of {slope:.3g} per radian", wanted)
    if min(section.lift_max) < LEAST_LIFT:
        found = f"a largest lift of {min(section.lift_max):.3g} before lift first falls"
        yield reader.problem(reader.first, 0, "lift", found, f"at least {LEAST_LIFT:g}")


class PolarReader:
    """Reads a polar's rows, and notes every mistake; in its problems a column is the table's."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.problems: list[Problem] = []
        self.first = 1

    def problem(self, line: int, column: int, address: str, found: str, wanted: str) -> Problem:
        """A mistake in the file."""
        return Problem(str(self.path), line, column, address, found, wanted)

    def _wrong(self, line: int, column: int, address: str, found: str, wanted: str) -> None:
        self.problems.append(self.problem(line, column, address, found, wanted))

    def read(self, text: str) -> np.ndarray:
        """The numbers, (rows, columns in the order of `COLUMNS`); mistakes are in `problems`."""
        blank = "\n".join("" if line.startswith("#") else line for line in text.splitlines())  # lines keep their numbers
        lines = csv.reader(io.StringIO(blank, newline=""), strict=True)
        rows: list[tuple[int, list[float]]] = []
        try:
            order = self._headings(next((cells for cells in lines if any(cells)), []), max(lines.line_num, 1))
            if not self.problems:
                rows = list(self._rows(lines, order))
        except csv.Error as error:
            self._wrong(lines.line_num, 0, "", f"a mistake ({error})", "CSV: numbers between commas")
        if not self.problems:
            self._check_table(rows)
        return np.array([values for _, values in rows])

    def _headings(self, cells: list[str], line: int) -> list[int]:
        """The cell of a row for each of the columns."""
        self.first = line
        headings = [cell.strip() for cell in cells]
        for place, heading in enumerate(headings, start=1):
            if heading not in COLUMNS:
                hint = " (cells are separated by commas)" if ";" in heading or "\t" in heading else ""
                near = nearest(heading, COLUMNS) or list(COLUMNS)
                self._wrong(line, place, "", f"the heading {heading[:60]!r}", f"one of the columns, as {listed(near)}{hint}")
            elif heading in headings[: place - 1]:
                self._wrong(line, place, heading, f"the heading {heading!r} again", "every column once")
        for name in COLUMNS:
            if name not in headings:
                self._wrong(line, 0, name, "no such column", f"the columns {', '.join(COLUMNS)}")
        return [] if self.problems else [headings.index(name) for name in COLUMNS]

    def _rows(self, lines: Iterator[list[str]], order: Sequence[int]) -> Iterator[tuple[int, list[float]]]:
        count = 0
        for cells in lines:
            line = lines.line_num  # type: ignore[attr-defined]
            if len(self.problems) >= MOST_PROBLEMS:
                return
            if not any(cell.strip() for cell in cells):
                continue
            count += 1
            if count > MOST_ROWS:
                self._wrong(line, 0, "", f"more than {MOST_ROWS} rows", "a polar of fewer")
                return
            if len(cells) != len(order):
                hint = " (a decimal comma?)" if len(cells) > len(order) else ""
                self._wrong(line, 0, "", f"{len(cells)} cells{hint}", f"{len(order)} cells, as the headings have")
                continue
            yield line, [self._number(line, place, name, cells[place]) for name, place in zip(COLUMNS, order, strict=True)]

    def _number(self, line: int, place: int, name: str, cell: str) -> float:
        low, high, wanted = COLUMNS[name]
        try:
            value = float(cell)
        except ValueError:
            value = math.nan
        if not low <= value <= high:  # nor is what is no number
            found = repr(cell.strip()[:60]) if cell.strip() else "an empty cell"
            self._wrong(line, place + 1, name, found, wanted)
        return value

    def _check_table(self, rows: list[tuple[int, list[float]]]) -> None:
        """Notes mistakes that show only in the table as a whole."""
        groups: dict[float, list[tuple[int, list[float]]]] = {}
        for line, values in rows:
            groups.setdefault(values[0], []).append((line, values))
        if len(groups) < LEAST_REYNOLDS:
            found = "none" if not groups else "one"
            self._wrong(self.first, 0, "reynolds", f"{found} only", f"at least {LEAST_REYNOLDS} Reynolds numbers")
        if groups and all(abs(values[1]) < SMALLEST_DEGREES for _, values in rows):
            self._wrong(rows[0][0], 0, "angle_deg", f"no angle of {SMALLEST_DEGREES:g} or more: radians?", "angles in degrees")
            return
        for reynolds, group in groups.items():
            self._check_angles(reynolds, group)

    def _check_angles(self, reynolds: float, group: list[tuple[int, list[float]]]) -> None:
        """The rows of one Reynolds number."""
        at = f"at a Reynolds number of {reynolds:g}"
        lift = [values[2] for _, values in group]
        for (_, before), (line, values) in pairwise(group):
            if values[1] <= before[1] and len(self.problems) < MOST_PROBLEMS:
                found = f"{values[1]:g} after {before[1]:g} {at}"
                self._wrong(line, 0, "angle_deg", found, "every angle once, in rising order")
        if len(group) < LEAST_ANGLES:
            angles = f"{len(group)} angle{'' if len(group) == 1 else 's'} {at}"
            self._wrong(group[-1][0], 0, "angle_deg", angles, f"at least {LEAST_ANGLES}")
        elif not any(one <= 0.0 < two for one, two in pairwise(lift)):
            found = f"lift from {min(lift):g} to {max(lift):g} that never rises through zero {at}"
            self._wrong(group[0][0], 0, "lift", found, "angles from below that of no lift to the stall")

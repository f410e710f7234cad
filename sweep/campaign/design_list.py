"""Designs listed in a CSV file: a column for each factor, a row for each design."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple, TypeAlias

from pydantic import ValidationError

from sweep.campaign.addresses import Leaf, replace_values
from sweep.campaign.craft import Craft
from sweep.campaign.crossing import crossings
from sweep.campaign.factors import Factor, LevelValue, MoreThanNothing
from sweep.campaign.text.dimensions import Kind, quantity, split
from sweep.campaign.text.document import read_text
from sweep.campaign.text.explain import nearest, reason
from sweep.campaign.text.problems import MOST_PROBLEMS, CampaignError, Problem
from sweep.campaign.text.shapes import metadata
from sweep.words.phrases import listed

LARGEST_LIST = 50_000_000
"""Bytes of a list of designs (judgement)."""
DesignLevels: TypeAlias = tuple[LevelValue, ...]


class DesignList(NamedTuple):
    """Designs, each with its values in the order of the factors, SI; and the file's text."""

    designs: tuple[DesignLevels, ...]
    text: str


class ListReader:
    """Reads the rows by the factors, and notes every mistake; in its problems a column is the table's."""

    def __init__(self, path: Path, factors: Mapping[str, Factor], known: Mapping[str, Leaf], craft: Craft) -> None:
        self.path = path
        self.factors = factors
        self.known = known
        self.craft = craft
        self.problems: list[Problem] = []
        self.seen: dict[DesignLevels, int] = {}

    def read(self, text: str) -> tuple[DesignLevels, ...]:
        """The designs, each with its values in the order of the factors, SI; mistakes are in `problems`."""
        lines = csv.reader(io.StringIO(text, newline=""), strict=True)
        try:
            headings = self._headings(next(lines, []))
            if not self.problems:
                rows = list(self._rows(lines, headings))
                if not rows and not self.problems:
                    self._wrong(1, 0, "", "a heading alone", "a row for each design below it")
                return tuple(rows)
        except csv.Error as error:
            self._wrong(lines.line_num, 0, "", f"a mistake ({error})", "CSV: cells between commas, those with commas in quotes")
        return ()

    def _wrong(self, line: int, column: int, address: str, found: str, wanted: str) -> None:
        self.problems.append(Problem(str(self.path), line, column, address, found, wanted))

    def _headings(self, cells: list[str]) -> list[tuple[Factor, str]]:
        """The factor and the unit of each column."""
        headings: list[tuple[Factor, str]] = []
        for column, cell in enumerate(cells, start=1):
            label = max((label for label in self.factors if _heads(cell, label)), key=len, default=None)
            if label is None:
                near = nearest(cell, self.factors) or list(self.factors)
                hint = " (cells are separated by commas)" if ";" in cell else ""
                self._wrong(1, column, "", f"the heading {cell[:60]!r}", f"the name of a factor, as {listed(near)}{hint}")
                continue
            if any(factor.label == label for factor, _ in headings):
                self._wrong(1, column, label, f"the heading {cell!r} again", "every factor in one column")
            unit = cell.strip()[len(label) :].strip(" ,()[]")
            self._check_unit(column, self.factors[label], unit)
            headings.append((self.factors[label], unit))
        for label in self.factors if not self.problems else ():
            if all(factor.label != label for factor, _ in headings):
                self._wrong(1, 0, label, "no such column", f"a column for each factor: {', '.join(self.factors)}")
        return headings

    def _leaf(self, factor: Factor) -> Leaf:
        """What the cells of a factor are: values at its address, or shares of them."""
        address = factor.addresses[0]
        return Leaf(address, address, MoreThanNothing) if factor.scaled else self.known[address]

    def _check_unit(self, column: int, factor: Factor, unit: str) -> None:
        kind = next((item for item in metadata(self._leaf(factor).annotation) if isinstance(item, Kind)), None)
        if not unit or (kind and kind.suits(unit)):
            return
        wanted = f"a unit of {kind.noun}: {listed(kind.units[:4])}" if kind and kind.units else "no unit"
        self._wrong(1, column, factor.label, f"the unit {unit!r}", wanted)

    def _rows(self, lines: Any, headings: list[tuple[Factor, str]]) -> Iterator[DesignLevels]:
        for cells in lines:
            if len(self.problems) >= MOST_PROBLEMS:
                return
            if not any(cell.strip() for cell in cells):
                continue
            row = self._row(lines.line_num, cells, headings)
            if row is not None:
                yield row

    def _row(self, line: int, cells: list[str], headings: list[tuple[Factor, str]]) -> DesignLevels | None:
        if len(cells) != len(headings):
            self._wrong(line, 0, "", f"{len(cells)} cells", f"{len(headings)} cells, as the headings have")
            return None
        values = {
            factor.label: self._value(line, column, cell.strip(), factor, unit)
            for column, (cell, (factor, unit)) in enumerate(zip(cells, headings, strict=True), start=1)
        }
        if None in values.values():
            return None
        row: DesignLevels = tuple(values[label] for label in self.factors)
        first = self.seen.setdefault(row, line)
        if first != line:
            self._wrong(line, 0, "", f"the design of line {first} again", "every design once")
        elif self._possible(line, row):
            return row
        return None

    def _value(self, line: int, column: int, cell: str, factor: Factor, unit: str) -> Any:
        """A cell in SI, or None; it must be valid at every address, and one of the levels or in the range."""
        leaf = self._leaf(factor)
        try:
            value = leaf.adapter.validate_python(_raw(cell, leaf, unit))
        except ValidationError as error:
            _, wanted = reason(error)
            hint = f", or the unit in the heading: '{factor.label} ({factor.unit})'" if factor.unit and not unit else ""
            self._wrong(line, column, factor.label, repr(cell) if cell else "an empty cell", wanted + hint)
            return None
        taken = _taken(value, factor)
        if taken is None:
            self._wrong(line, column, factor.label, repr(cell), _allowed(factor))
        return taken

    def _possible(self, line: int, row: DesignLevels) -> bool:
        values: dict[str, LevelValue] = {}
        for factor, level in zip(self.factors.values(), row, strict=True):
            values |= factor.values(level)
        try:
            made = replace_values(self.craft, values)
        except ValidationError as error:
            where, wanted = reason(error)
            self._wrong(line, 0, where, "a row that makes an impossible craft", wanted)
            return False
        for found in crossings(made):
            self._wrong(line, 0, f"foils.{found.second}", f"a row that makes {found}", found.cure)
        return not crossings(made)


def read_list(path: Path, factors: Mapping[str, Factor], known: Mapping[str, Leaf], craft: Craft) -> DesignList:
    """Read the designs of a CSV. Raises CampaignError with everything that is wrong in it.

    The first line names the factors, each with a unit where the numbers below have none: 'struts.height (cm)'.
    """
    text = read_text(path, "a CSV file", LARGEST_LIST)
    reader = ListReader(path, factors, known, craft)
    designs = reader.read(text)
    if reader.problems:
        raise CampaignError(reader.problems)
    return DesignList(designs, text)


def _heads(cell: str, label: str) -> bool:
    rest = cell.strip()
    return rest.startswith(label) and (rest == label or rest[len(label)] in " ,([")


def _raw(cell: str, leaf: Leaf, unit: str) -> LevelValue:
    """A cell as a campaign file would hold it."""
    if leaf.kind == "word":
        return cell
    parts = split(cell)
    if parts is None or parts[1]:
        return cell
    return f"{cell} {unit}" if unit else float(cell)


def _taken(value: LevelValue, factor: Factor) -> LevelValue | None:
    """The value as the factor has it, or None if it is none of its choices; for levels the last digits may differ."""
    if isinstance(value, str | int):
        return value if value in factor.levels else None
    if factor.levels:
        close = (level for level in factor.levels if not isinstance(level, str) and abs(value - level) <= 1e-6 * abs(level))
        return next(close, None)
    assert factor.low is not None
    assert factor.high is not None
    return value if factor.low <= value <= factor.high else None


def _allowed(factor: Factor) -> str:
    if factor.low is not None and factor.high is not None and not factor.levels:
        return f"from {quantity(factor.low, factor.unit)} to {quantity(factor.high, factor.unit)}, the range of the factor"
    levels = (level if isinstance(level, str) else quantity(level, factor.unit) for level in factor.levels[:12])
    return f"a level of the factor: {listed(levels)}"

"""What is wrong in a file: where, what was found, and what would be right."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from pydantic_core import PydanticCustomError


@dataclass(frozen=True, order=True)
class Problem:
    """One mistake in a campaign or craft file; line and column count from 1 (0: the file as a whole)."""

    file: str
    line: int
    column: int
    address: str
    found: str
    wanted: str

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}:{self.column}" if self.line else self.file
        address = f"{self.address}: " if self.address else ""
        return f"{place}: {address}found {self.found}, wanted {self.wanted}"


MOST_PROBLEMS = 20
"""Of a table that is read row by row, so many mistakes are told (judgement)."""


class CampaignError(Exception):
    """Everything that is wrong in a campaign and its craft file, in the order of files and lines."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(sorted(set(problems)))
        super().__init__("\n".join(map(str, self.problems)))


class ChoiceError(Exception):
    """The campaign has no such design or condition; the message lists those that it has."""


def wrong(wanted: str, found: str | None = None, at: tuple[str | int, ...] = ()) -> PydanticCustomError:
    """An error for a validator to raise: `found` replaces the file's own text, `at` points below the checked value."""
    context: dict[str, object] = {"wanted": wanted, "at": at}
    if found is not None:
        context["found"] = found
    return PydanticCustomError("wrong", "{wanted}", context)

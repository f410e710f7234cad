"""Control code of the builder's own: the C files that a craft and its factors name, and the settings that it declares."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from sweep.campaign.craft import Craft
from sweep.campaign.factors import Factor
from sweep.campaign.text.dimensions import unit_of
from sweep.campaign.text.document import Document, read_text
from sweep.campaign.text.problems import CampaignError, Problem
from sweep.words.units import split

LARGEST_CODE = 200_000
"""Bytes of a file of code (judgement)."""
CODE = "control.code"


class Codes(NamedTuple):
    """The texts of code files by their names, and what is wrong with them or with settings."""

    texts: dict[str, str]
    problems: list[Problem]


def read_codes(
    craft: Craft, factors: Mapping[str, Factor], document: Document, craft_document: Document, folder: Path
) -> Codes:
    """The code that a craft and the factors name, from a folder."""
    texts: dict[str, str] = {}
    problems = [*_unlike_units(factors, document, craft_document)]
    for name, place in _named(craft, factors, document, craft_document):
        if name in texts:
            continue
        try:
            texts[name] = read_text(folder / name, "C code beside the craft file, as my_control.c", LARGEST_CODE)
        except CampaignError as error:
            problems += [
                replace(place, found=f"{name!r}, where there is {each.found}", wanted=each.wanted) for each in error.problems
            ]
    return Codes(texts, problems)


def _named(
    craft: Craft, factors: Mapping[str, Factor], document: Document, craft_document: Document
) -> Iterator[tuple[str, Problem]]:
    """Every file that is named, and where."""
    if craft.control.code is not None:
        yield craft.control.code, craft_document.problem(("control", "code"), "")
    for label, factor in factors.items():
        if CODE in factor.addresses:
            for level in factor.levels:
                yield str(level), document.problem(("factors", label), "")


def _unlike_units(factors: Mapping[str, Factor], document: Document, craft_document: Document) -> Iterator[Problem]:
    """Mistakes: a factor whose levels are another kind of quantity than the setting in the craft file."""
    for label, factor in factors.items():
        for address in factor.addresses:
            if not (match := re.fullmatch(r"control\.settings\.(\w+)", address)):
                continue
            unit = _unit(craft_document.plain(("control", "settings", match[1])))
            if any(unit_of(_unit(level)).dimension != unit_of(unit).dimension for level in _written(document, label)):
                wanted = f"every level in {unit}" if unit else "plain numbers"
                yield document.problem(("factors", label), f"{wanted}, or another of its kind, as the craft file has it")


def _written(document: Document, label: str) -> list[object]:
    """The levels or ends of a factor as the file has them."""
    entry = document.plain(("factors", label))
    if isinstance(entry, dict):
        levels = entry.get("levels")
        return [*(levels if isinstance(levels, list) else []), *(entry[end] for end in ("from", "to") if end in entry)]
    return entry if isinstance(entry, list) else []


def _unit(written: object) -> str:
    parts = split(written) if isinstance(written, str) else None
    return parts[1] if parts else ""

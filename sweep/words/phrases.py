"""Words and lists of words in a sentence."""

from __future__ import annotations

from collections.abc import Iterable, Sequence


def listed(words: Iterable[str], last: str = "or") -> str:
    """Words in a row as a sentence has them: 'a, b or c'."""
    *most, end = words
    return f"{', '.join(most)} {last} {end}" if most else end


def together(names: Sequence[str]) -> str:
    """'bow', 'bow and stern', 'port, starboard and aft'."""
    return listed(names, "and")


def sentence(text: str) -> str:
    """The text with a capital at its start, as a sentence has it; names of people's own stay as they are within it."""
    return f"{text[:1].upper()}{text[1:]}"


def called(design: int) -> str:
    """What a design is called at the start of a sentence."""
    return "The base craft (design 0)" if design == 0 else f"Design {design}"


def called_within(design: int) -> str:
    """What a design is called within a sentence."""
    name = called(design)
    return f"{name[0].lower()}{name[1:]}"

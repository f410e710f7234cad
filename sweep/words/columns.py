"""Text that fits a terminal: sentences break between words, and a table that is too wide stands in parts, nothing left out."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence

GAP = "  "
"""What is at least between two columns of a table."""


def fitted(lines: Iterable[str], width: int) -> Iterator[str]:
    """Lines within a width; a table is one text of several lines, or several lines that begin with spaces."""
    block: list[str] = []
    for line in (each for text in lines for each in _whole(text)):
        if isinstance(line, list):
            yield from [*_block(block, width), *in_parts(line, width)]
            block = []
        elif line.startswith(" "):
            block.append(line)
        else:
            yield from [*_block(block, width), *_broken(line, width)]
            block = []
    yield from _block(block, width)


def _whole(text: str) -> list[str | list[str]]:
    lines = text.split("\n")
    return [lines] if len(lines) > 1 else [text]


def _block(lines: Sequence[str], width: int) -> Iterator[str]:
    """Lines that begin with spaces: a table, if they have columns, or else sentences."""
    if len(lines) > 1 and len(_begins(lines)) > 1:
        yield from in_parts(lines, width)
    else:
        for line in lines:
            yield from _broken(line, width)


def _broken(line: str, width: int) -> list[str]:
    """A sentence between words; a path that is longer than a line stays whole, to be copied."""
    indent = " " * (len(line) - len(line.lstrip()))
    return textwrap.wrap(line, width, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False) or [line]


def in_parts(table: Sequence[str], width: int) -> list[str]:
    """The lines of a table, in parts that fit, each with its first column; a column that never fits is as it is."""
    if max(map(len, table)) <= width:
        return [line.rstrip() for line in table]
    begins = _begins(table)
    ends = [*begins[1:], max(map(len, table))]
    cells = [[line[begin:end].rstrip() for begin, end in zip(begins, ends, strict=True)] for line in table]
    widths = [max(len(row[at]) for row in cells) for at in range(len(begins))]
    parts: list[list[int]] = [[0]]
    for at in range(1, len(begins)):
        taken = sum(widths[each] + len(GAP) for each in parts[-1])
        if taken + widths[at] > width and len(parts[-1]) > 1:
            parts.append([0])
        parts[-1].append(at)
    told = [[GAP.join(row[at].ljust(widths[at]) for at in part).rstrip() for row in cells] for part in parts]
    return [line for number, part in enumerate(told) for line in ([""] if number else []) + part]


def _begins(table: Sequence[str]) -> list[int]:
    """Where columns begin: after two characters that are blank in every line, where one line has something."""
    longest = max(map(len, table))
    blank = [all(line[at : at + 1] in ("", " ") for line in table) for at in range(longest)]
    first = next((at for at in range(longest) if not blank[at]), 0)
    return [0, *(at for at in range(first + 2, longest) if blank[at - 2] and blank[at - 1] and not blank[at])]

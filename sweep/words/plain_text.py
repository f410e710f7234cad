"""Text that leaves the program for a terminal or a spreadsheet: the only place that prints, and that makes CSV.

Names and sentences may come from a file that somebody else has written. No character of theirs controls a terminal or turns the
direction of the text beside it, and no cell is a formula.
"""

from __future__ import annotations

import re
import sys
from typing import TYPE_CHECKING, Any, TextIO

if TYPE_CHECKING:
    import pandas as pd

TURNING = "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
"""Characters that turn the direction of the text around them (Unicode Standard Annex 9): each is shown as one sign."""
_STEERING = "".join(map(chr, [*range(0x00, 0x09), *range(0x0B, 0x20), *range(0x7F, 0xA0)]))  # ISO 6429
_PLAIN = str.maketrans(dict.fromkeys(TURNING + _STEERING + "\u2028\u2029", "\ufffd"))
IN_LETTERS = {
    **{
        "\u00d7": "x",
        "\u2013": "-",
        "\u2014": "-",
        "\u2212": "-",
        "\u00b1": "+-",
        "\u2026": "...",
        "\u2264": "<=",
        "\u2265": ">=",
    },
    **{"\u00b0": " deg", "\u00b2": "^2", "\u00b3": "^3", "\u00b7": "*", "\u00b5": "u", "\u03bc": "u"},
    **{
        "\u2018": "'",
        "\u2019": "'",
        "\u201c": '"',
        "\u201d": '"',
        "\u2192": "->",
        "\u221a": "sqrt",
        "\u00a0": " ",
        "\u202f": " ",
    },
}
"""Signs that sentences use, as they are typed where an encoding lacks them."""
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""First characters of a cell that a spreadsheet takes for a formula; the last four are the wide forms of the first."""


def plain(text: str) -> str:
    """The text without control characters, but for tab and line feed."""
    return text.replace("\r\n", "\n").translate(_PLAIN)


def tell(text: str, stream: TextIO | None = None, *, before: str = "", end: str = "\n") -> None:
    """Print a text to standard output; before, end: characters of our own, which may control a terminal.

    A character that the stream's encoding lacks is printed in plain letters where there are such, as x for a times sign, or as
    '?'.
    """
    to = stream or sys.stdout
    encoding = getattr(to, "encoding", None) or "utf-8"
    said = _within(plain(text), encoding)
    print(f"{before}{said}", end=end, file=to, flush=True)


def _within(text: str, encoding: str) -> str:
    """The text in what an encoding has."""
    try:
        return text.encode(encoding).decode(encoding)
    except UnicodeEncodeError:
        for sign, letters in IN_LETTERS.items():
            if sign in text and sign.encode(encoding, errors="ignore") == b"":
                text = text.replace(sign, letters)
        return text.encode(encoding, errors="replace").decode(encoding)


def csv_text(table: pd.DataFrame) -> str:
    """The table as CSV: a cell that a spreadsheet would take for a formula is quoted, and no cell breaks a line."""
    from pandas.api.types import is_numeric_dtype

    said = table.rename(columns=_cell)
    texts = [at for at, kind in enumerate(said.dtypes) if not is_numeric_dtype(kind)]
    for at in texts:
        said.isetitem(at, [_cell(value) for value in said.iloc[:, at]])
    return said.to_csv(index=False, lineterminator="\n")


def _cell(value: Any) -> Any:
    if not isinstance(value, str):
        return value
    text, bare = plain(value.replace("\r", " ")), value.lstrip(" \n")
    return f"'{text}" if bare.startswith(FORMULA) and not _is_number(text) else text


def _is_number(text: str) -> bool:
    return re.fullmatch(r"[+-]?[0-9.]+(?:[eE][+-]?[0-9]+)?", text) is not None

"""How a file is written, by its first bytes: format, encoding, delimiter, decimal mark, headings, comments."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path
from typing import NamedTuple

from sweep.logs.begin.names import UNITS
from sweep.logs.read.dialect import Dialect
from sweep.logs.read.plain_bytes import MARKS, plain_bytes
from sweep.logs.read.rows import cells_of

LOOKED_AT = 200_000
"""Bytes (judgement)."""
_NUMBER = re.compile(r"^[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?$|^[+-]?(nan|inf)$|^$", re.IGNORECASE)
_TIME = re.compile(r"^\d{1,4}[-./:]\d{1,2}[-./:]\d|^\d{1,2}:\d{2}")
_COMMA = re.compile(r"^[+-]?\d+,\d+$")


class Sniffed(NamedTuple):
    """A file's dialect; the cells of a row of units under the headings; reasons, by key; and what could not be told."""

    dialect: Dialect
    units: tuple[str, ...]
    why: dict[str, str]
    untold: str


def sniff(path: Path) -> Sniffed:
    """How a log is written. Raises CampaignError if it cannot be read."""
    with plain_bytes(path, Dialect(), text=False) as (stream, _):
        raw = stream.read(LOOKED_AT)
    if raw.startswith(b"PAR1"):
        return Sniffed(Dialect(format="parquet"), (), {"format": "it begins with PAR1"}, "")
    if raw.startswith((b"ARROW1", b"\xff\xff\xff\xff")):
        return Sniffed(Dialect(format="arrow"), (), {"format": "it begins as Arrow files do"}, "")
    encoding, why = _encoding(raw)
    if encoding == "":
        untold = "what its bytes are, which are no text: packed records need their layout, which no file says by itself"
        return Sniffed(Dialect(), (), {}, untold)
    marked = next((name for mark, name in MARKS.items() if raw.startswith(mark)), None)
    text = raw.decode(marked or {"utf-16": "utf-16-le", "latin-1": "cp1252"}.get(encoding or "", "utf-8"), errors="replace")
    whole = text.lstrip("\ufeff")
    lines = whole.splitlines()[: -1 if len(raw) == LOOKED_AT else None]
    if whole.lstrip().startswith("{"):
        return Sniffed(Dialect(format="json-lines"), (), why | {"format": "each line is a JSON object"}, "")
    return _csv(lines, None if marked else encoding, why)


def _encoding(raw: bytes) -> tuple[str | None, dict[str, str]]:
    """The key of the mapping, None where none is wanted, "" where it is no text."""
    if any(raw.startswith(mark) for mark in MARKS):
        return None, {}
    if raw[1:200:2].count(0) > 80:
        return "utf-16", {"encoding": "every second byte is 0"}
    if raw[:2000].count(0) or sum(byte < 9 for byte in raw[:2000]) > 20:
        return "", {}
    try:
        raw[: raw.rfind(b"\n") + 1 or None].decode()
    except UnicodeDecodeError:
        return "latin-1", {"encoding": "some bytes are no UTF-8"}
    return None, {}


def _csv(lines: list[str], encoding: str | None, why: dict[str, str]) -> Sniffed:
    marks = Counter(line.lstrip()[0] for line in lines if line.lstrip()[:1] in ("#", "%"))
    comments = marks.most_common(1)[0][0] if marks else ""
    rows = [line for line in lines if line.strip() and not (comments and line.startswith(comments))]
    delimiter, decimal = _separators(rows)
    base = Dialect(delimiter=delimiter, decimal=decimal)
    width = Counter(len(cells_of(line, base)) for line in rows[-200:]).most_common(1)[0][0]
    plain = [place for place, line in enumerate(lines) if not (comments and line.startswith(comments))]
    first = next((place for place in plain if _is_row(lines[place], base, width)), 0)
    above = [place for place in plain if place < first and len(cells_of(lines[place], base)) == width]
    units: tuple[str, ...] = ()
    if len(above) > 1 and _is_units(cells_of(lines[above[-1]], base)):
        units = tuple(cells_of(lines[above[-1]], base))
        place = above[-2]
    elif above:
        place = above[-1]
    else:
        place = -1
    under = first - place - 1 if place >= 0 else 0
    later = any(line.startswith(comments) for line in lines[first:]) if comments else False
    found = Dialect.model_validate(
        {
            "delimiter": delimiter,
            "decimal": decimal,
            "encoding": encoding,
            "headings": place >= 0,
            "skip": max(place, 0) if place >= 0 else first,
            "under": under,
            "comments": comments if later else "",
        }
    )
    said = {
        "delimiter": f"rows have {width} cells by it",
        "decimal": "numbers as 3,14 stand between",
        "skip": f"the names of the columns stand in line {place + 1}" if place >= 0 else f"the first row is line {first + 1}",
        "headings": "the first line has numbers as all others",
        "under": "the line under the headings has units",
        "comments": f"lines with {comments} stand among the rows",
    }
    return Sniffed(found, units, why | said, "" if width > 1 else "its columns: no delimiter parts its rows alike")


def _separators(rows: list[str]) -> tuple[str, str]:
    """The delimiter that parts most rows alike into most numbers, and the decimal mark."""
    best, found = -1.0, ("comma", "point")
    some = rows[-200:]
    for delimiter in ("tab", "semicolon", "bar", "comma", "space"):
        dialect = Dialect(delimiter=delimiter)
        cells = [cells_of(line, dialect) for line in some]
        width, times = Counter(map(len, cells)).most_common(1)[0] if cells else (1, 0)
        if width < 2:
            continue
        flat = [cell for row in cells if len(row) == width for cell in row]
        score = times / len(some) * sum(bool(_NUMBER.match(cell) or _TIME.match(cell)) for cell in flat) / len(flat)
        if score > best + 0.02:
            commas, points = sum(bool(_COMMA.match(cell)) for cell in flat), sum("." in cell for cell in flat)
            decimal = "comma" if delimiter != "comma" and commas > 3 and commas > points else "point"
            best, found = score, (delimiter, decimal)
    return found


def _is_row(line: str, dialect: Dialect, width: int) -> bool:
    cells = cells_of(line, dialect)
    filled = [cell for cell in cells if cell]
    numbers = sum(bool(_NUMBER.match(cell) or _TIME.match(cell)) for cell in filled)
    return len(cells) == width and numbers >= 0.5 * max(len(filled), 1)


def _is_units(cells: list[str]) -> bool:
    known = sum(cell.strip("[]() ").lower() in UNITS for cell in cells)
    return known >= 0.5 * len(cells)

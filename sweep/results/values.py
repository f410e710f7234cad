"""What the tables and notes of a results folder may hold, so that one from somebody else is read like a campaign file.

A value is checked by the name of its column, which means the same in every table; a note, which is JSON, by its shape.
"""

from __future__ import annotations

import json
import math
from collections.abc import Collection, Iterator, Mapping
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
from pandas.api.types import is_bool_dtype, is_integer_dtype, is_numeric_dtype

from sweep.insight.limits import POOLED, VERDICTS
from sweep.insight.scores import CAP
from sweep.model.quantities import LARGEST, RESPONSES, STATUS_NAMES

OPEN = ("low", "high", "more_flights", "f")
"""Numbers that may be infinite, as a bound is where nothing is known yet: columns of these names, and of names that end so."""
ROUNDING = 1e-9
"""How far over its end a number may be, as sums of shares are (judgement)."""


class Wanted(NamedTuple):
    """What the values of a column are: `kind` is whole, number, text or truth; a number from low to high, a text of `words`."""

    kind: str
    low: float = -math.inf
    high: float = math.inf
    words: tuple[str, ...] = ()

    def __str__(self) -> str:
        if self.words:
            return f"one of {', '.join(self.words)}"
        said = {"whole": "a whole number", "number": "a finite number", "text": "a text", "truth": "true or false"}[self.kind]
        ends = (("from", self.low), ("to", self.high))
        low, high = (f" {way} {end:g}" if abs(end) < LARGEST else "" for way, end in ends)
        return f"{said}{low}{high}"


NUMBER, POSITIVE, SHARE = Wanted("number", -LARGEST, LARGEST), Wanted("number", 0.0, LARGEST), Wanted("number", 0.0, 1.0)
WHOLE, TEXT = Wanted("whole", 0.0), Wanted("text")

COLUMNS: dict[str, Wanted] = {
    **{each.name: Wanted("number", each.low, each.high) for each in RESPONSES},
    **dict.fromkeys(
        ("design", "replicate", "flights", "settings", "good", "round", "blocks", "designs", "build", "draws"), WHOLE
    ),
    **dict.fromkeys(("place", "place_low", "place_high"), Wanted("number", 1.0)),
    **dict.fromkeys(("score", "score_seen"), Wanted("number", 0.0, CAP)),
    "outing": WHOLE,
    **dict.fromkeys(("at_risk", "path", "energy"), POSITIVE),
    **dict.fromkeys(("mass", "price", "time", "begin", "end", "sea_height", "sea_period", "period"), POSITIVE),
    **dict.fromkeys(("failed", "failing_high", "share_low", "share_high", "clean_before", "lost", "changes", "chance"), SHARE),
    **dict.fromkeys(
        ("reason", "response", "factor", "beside", "label", "was", "becomes", "group", "kind", "why", "cause", "unknown"), TEXT
    ),
    **dict.fromkeys(("off", "side", "kind", "name", "sea", "heading_name", "fault", "course", "first_failure"), TEXT),
    "verdict": Wanted("text", words=VERDICTS),
    **dict.fromkeys(("may_be_best", "good_enough", "told"), Wanted("truth")),
    **dict.fromkeys(("above_low", "above_high", "riding_high"), POSITIVE),
    "condition": Wanted("whole", POOLED),
    "status": Wanted("whole", 0, len(STATUS_NAMES) - 1),
}
"""By the name of a column; in others, numbers that are there are finite. A number may be missing, all else is there."""


def wrong_values(table: pd.DataFrame, needed: Collection[str] = (), counts: Mapping[str, int] | None = None) -> Iterator[str]:
    """What is wrong in a table, a sentence a column: where, what was found, what was wanted.

    needed: columns that are read whatever they are called, and so hold numbers if nothing else is known of them. counts: how
    many designs and conditions there are, as `design` and `condition`; numbers of them count from 0.
    """
    for name in table:
        values, wanted = table[name], COLUMNS.get(str(name))
        if wanted is None and (name in needed or is_numeric_dtype(values.dtype)):
            wanted = NUMBER
        if wanted is not None and counts and name in counts:
            wanted = wanted._replace(high=counts[str(name)] - 1)
        if wanted is not None and len(values) and (row := _first_wrong(str(name), values, wanted)) is not None:
            yield f"column {name}, row {row + 1}: found {_shortened(values.iloc[row])}, wanted {wanted}"


def with_numbers(table: pd.DataFrame, needed: Collection[str] = ()) -> pd.DataFrame:
    """A table that `wrong_values` finds nothing in; where all numbers of a column are missing, they are so as numbers."""
    named = [name for name in table if COLUMNS.get(str(name), NUMBER if name in needed else TEXT).kind == "number"]
    blank = [name for name in named if not is_numeric_dtype(table[name].dtype)]
    return table.assign(**dict.fromkeys(map(str, blank), np.nan)) if blank and len(table) else table


def _first_wrong(name: str, values: pd.Series, wanted: Wanted) -> int | None:
    """The first row that is not as wanted."""
    if wanted.kind == "text":
        right = [isinstance(value, str) and (not wanted.words or value in wanted.words) for value in values]
        return None if all(right) else right.index(False)
    fits = {"whole": is_integer_dtype, "number": is_numeric_dtype, "truth": is_bool_dtype}[wanted.kind]
    if not fits(values.dtype) or (wanted.kind == "number" and is_bool_dtype(values.dtype)):
        return 0 if values.notna().any() or wanted.kind != "number" else None
    if wanted.kind == "truth":
        missing = np.flatnonzero(values.isna())
        return int(missing[0]) if len(missing) else None
    found = values.to_numpy(dtype=np.float64, na_value=np.nan)
    unknown = np.isnan(found) & (wanted.kind == "number")
    inside = (found >= wanted.low - ROUNDING) & (found <= wanted.high + ROUNDING) & np.isfinite(found)
    beyond = (np.abs(found) >= LARGEST) & name.endswith(OPEN)
    wrong = np.flatnonzero(~(unknown | inside | beyond))
    return int(wrong[0]) if len(wrong) else None


def _shortened(value: Any) -> str:
    text = repr(value.item() if isinstance(value, np.generic) else value)
    return text if len(text) <= 40 else f"{text[:37]}..."


LOGS: dict[str, Any] = {
    **dict.fromkeys(("title", "craft", "why", "local"), str),
    **{key: [str] for key in ("result", "sentences", "sea", "doubts", "run_headings")},
    "made_up": bool,
    "splits": [{"title": str, "sentences": [str], "parts": [[str]]}],
    "runs": [[str]],
    "table": [{"label": str, "setup": str, ...: (str, float, None)}],
    "changes?": [{**dict.fromkeys(("measure", "setup", "way", "part"), str), **dict.fromkeys(("share", "low", "high"), float)}],
}
"""The shape of what is kept of logs from the water: kinds of values by key.

A key that ends with '?' may be missing, `...` stands for every key.
"""

MOST_LEVELS = 100
"""Of a note in a note (judgement): a run leaves under ten, and what reads a note has no end of room either."""

MOST = 2.0**64
"""More than this no number of a note is (judgement): one without end is no number of seconds that can be reckoned with."""

SAID = {str: "a text", int: "a whole number from 0", float: "a number from 0", bool: "true or false", None: "nothing"}


def read_note(text: bytes) -> Any:
    """The value of a JSON text; raises ValueError for what is none, too deep, or holds a number that is not finite."""

    def refuse(word: str) -> Any:
        raise ValueError(f"found {word}, wanted a finite number")

    def finite(digits: str) -> float:
        return value if math.isfinite(value := float(digits)) else refuse(digits)

    try:
        value = json.loads(text, parse_constant=refuse, parse_float=finite)
    except RecursionError:
        raise ValueError("nested too deeply") from None
    _check_note(value)
    return value


def _check_note(value: Any, levels: int = MOST_LEVELS) -> None:
    """Raises ValueError for a note that no file could take: too deep, or with half a character in a text."""
    if levels == 0:
        raise ValueError("nested too deeply")
    if isinstance(value, str) and not _is_whole(value):
        raise ValueError(f"found half a character in {_shortened(value)}, wanted a text")
    inside = (*value, *value.values()) if isinstance(value, dict) else value if isinstance(value, list) else ()
    for each in inside:
        _check_note(each, levels - 1)


def _is_whole(text: str) -> bool:
    """Whether a text is of whole characters: JSON may hold one half of a pair (a surrogate, RFC 8259 section 8.2)."""
    return not any("\ud800" <= sign <= "\udfff" for sign in text)


def wrong_shape(value: Any, shape: Any, at: str = "") -> str:
    """Where a note is not of a shape, what was found and what was wanted; '' if it is."""
    if isinstance(shape, dict):
        return _wrong_mapping(value, shape, at)
    if isinstance(shape, list):
        if not isinstance(value, list):
            return f"{at or 'all'}: found {_shortened(value)}, wanted a list"
        return next(filter(None, (wrong_shape(each, shape[0], f"{at}[{number}]") for number, each in enumerate(value))), "")
    kinds = shape if isinstance(shape, tuple) else (shape,)
    if any(_is_a(value, kind) for kind in kinds):
        return ""
    return f"{at or 'all'}: found {_shortened(value)}, wanted {' or '.join(SAID[kind] for kind in kinds)}"


def _wrong_mapping(value: Any, shape: Mapping[Any, Any], at: str) -> str:
    if not isinstance(value, dict):
        return f"{at or 'all'}: found {_shortened(value)}, wanted a mapping"
    named = {key.removesuffix("?"): kind for key, kind in shape.items() if key is not ...}
    for key in named:
        if key not in value and f"{key}?" not in shape:
            return f"{at or 'all'}: has no {key}"
    kinds = {key: named.get(key, shape.get(...)) for key in value}
    tried = (wrong_shape(value[key], kind, f"{at}.{key}".strip(".")) for key, kind in kinds.items() if kind is not None)
    return next(filter(None, tried), "")


def _is_a(value: Any, kind: Any) -> bool:
    if kind is None or value is None:
        return value is kind
    if kind in (int, float):
        return isinstance(value, (int, kind)) and not isinstance(value, bool) and 0 <= value < MOST
    return isinstance(value, kind)

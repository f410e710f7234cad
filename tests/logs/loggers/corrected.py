"""How many keys of a drafted mapping a builder would correct by hand, and which."""

from __future__ import annotations

import math
import tempfile
from pathlib import Path
from typing import NamedTuple

from sweep.logs.begin.draft import Draft, draft
from sweep.words.units import from_unit
from tests.logs.loggers.twelve import Written


class Corrected(NamedTuple):
    """wrong: keys to correct; questions: guesses that it asks to confirm; silent: wrong keys that it asks nothing about."""

    wrong: tuple[str, ...]
    questions: int
    silent: tuple[str, ...]


def drafted(written: Written) -> Draft:
    """The draft of a logger's file, without a craft."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / written.name
        path.write_bytes(written.content)
        return draft(path)


def corrected(written: Written, found: Draft) -> Corrected:
    """Keys of the draft that are not right: a factor off by 2 % or more is its unit, a turned one its sign."""
    wrong = [f"{key}" for key in _dialect(written, found)] + _clock(written, found)
    silent = list(wrong) if found.clock and not found.clock.question else []
    by = {guess.channel: guess for guess in found.guesses}
    for channel, (column, factor, _) in written.columns.items():
        guess = by.get(channel)
        if guess is None:
            wrong += [f"{channel}.column", f"{channel}.unit"]
            silent += []
            continue
        off = []
        if guess.column != column:
            off.append("column")
        if abs(math.log(abs(guess.factor / factor))) > 0.02:
            off.append("unit")
        if guess.factor * factor < 0.0:
            off.append("sign")
        wrong += [f"{channel}.{key}" for key in off]
        silent += [f"{channel}.{key}" for key in off if not guess.question]
    wrong += [f"{guess.channel} (is none)" for guess in found.guesses if guess.channel not in written.columns]
    questions = sum(bool(each.question) for each in (*found.guesses, *([found.clock] if found.clock else [])))
    return Corrected(tuple(wrong), questions, tuple(silent))


def _dialect(written: Written, found: Draft) -> list[str]:
    said = found.sniffed.dialect.model_dump(exclude_defaults=True)
    said.pop("format", None)
    return sorted(key for key in {*said, *written.dialect} if said.get(key) != written.dialect.get(key))


def _clock(written: Written, found: Draft) -> list[str]:
    clock = found.clock
    if clock is None:
        return ["clock.column", "clock.unit"]
    column, factor = written.clock
    off = ["clock.column"] if clock.column != column else []
    by_number = clock.written == "number"
    unit = 1e-9 if clock.unit == "ns" else from_unit("1", clock.unit)
    if by_number != (factor > 0.0) or (by_number and abs(unit / factor - 1.0) > 1e-6):
        off.append("clock.unit")
    return off

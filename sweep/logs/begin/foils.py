"""Columns of foils' angles: which foil of the craft each is, by its name or the first letters of it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from sweep.logs.begin.guess import Columns, Guess
from sweep.logs.read.channels import FOIL

SAID = ("foil", "servo", "flap", "wing", "elevator", "aileron")
"""Words of a heading that tell a moving foil (common practice, no source)."""
ASKED = "is its leading edge up where this is positive?"


def foils_of(columns: Columns, names: Sequence[str], taken: Iterable[str]) -> list[Guess]:
    """A guess a foil that just one free column names; its sign is always a question, for no other column tells it."""
    free = {name: said for name, said in columns.heard.items() if name not in set(taken)}
    told = {name: said for name, said in free.items() if any(word.startswith(SAID) for word in said.words)}
    found = []
    for foil in names:
        some = [name for name, said in told.items() if _meant(said.words, names) == foil]
        if len(some) != 1:
            continue
        unit = columns.heard[some[0]].unit
        if unit is not None and not FOIL.kind.suits(unit[0]):
            continue
        top = float(np.nanmax(np.abs(columns.values[some[0]])))
        guessed = unit or (("rad", 1.0) if top < 0.8 else ("deg", 1.0))
        why = f"named {' '.join(columns.heard[some[0]].words)}" + (f"; its heading says {guessed[0]}" if unit else "")
        asked = ASKED if unit else f"up to {top:.3g}, as {guessed[0]}; {ASKED}"
        found.append(Guess(f"foil_{foil}", some[0], guessed[0], guessed[1], 1, (), why, asked))
    return found


def _meant(words: Sequence[str], names: Sequence[str]) -> str:
    """The foil that the words name: in full, or by a beginning that no other foil has; "" if none or more than one."""
    whole = [name for name in names if name.lower() in words]
    if whole:
        return whole[0] if len(whole) == 1 else ""
    begun = [
        name
        for name in names
        if any(name.lower().startswith(word) and sum(other.lower().startswith(word) for other in names) == 1 for word in words)
    ]
    return begun[0] if len(begun) == 1 else ""

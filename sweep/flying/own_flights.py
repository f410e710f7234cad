"""Flights in the right place: those of a builder's own code in child processes, all others here."""

from __future__ import annotations

import threading
from collections.abc import Sequence

import numpy as np

from sweep.model import flight as model
from sweep.model.block import Block
from sweep.model.flight import Flown, blocks_of
from sweep.model.history import RECORD_RATE, RECORDED
from sweep.model.pack.fleet import Fleet
from sweep.model.quantities import CODE_CRASHED, RESPONSE_NAMES
from sweep.own.contained import ChildDiedError, in_child

MOST_HEARD = 5
"""Sentences about code that failed which are kept (judgement): after some, all are alike."""
_heard: list[str] = []
_lock = threading.Lock()


def fly(fleet: Fleet, block: Block | Sequence[Block]) -> Flown:
    """As `model.flight.fly`. A flight whose code takes its process with it has CODE_CRASHED for its status.

    Raises ChoiceError for code that was not asked to run.
    """
    sizes = fleet.structure.own
    if sizes is None:
        return model.fly(fleet, block)
    try:
        flown, told = in_child(sizes, model.fly, fleet, block)
    except ChildDiedError:
        if fleet.size > 1:
            return _one_by_one(fleet, blocks_of(block, fleet.size))
        _hear(["it took its process with it: it wrote where it could not be stopped"])
        return Flown(np.array([CODE_CRASHED], dtype=np.int8), np.full((1, len(RESPONSE_NAMES)), np.nan))
    _hear(told)
    return Flown(*flown)


def _one_by_one(fleet: Fleet, blocks: Sequence[Block]) -> Flown:
    """Every flight alone, for a flight gives the same numbers in any company: that which breaks its process is then known."""
    each = [fly(fleet.part(i, i + 1), [block]) for i, block in enumerate(blocks)]
    return Flown(np.concatenate([one.status for one in each]), np.concatenate([one.responses for one in each]))


def fly_record(fleet: Fleet, block: Block | Sequence[Block], rate: float = RECORD_RATE) -> np.ndarray:
    """As `model.flight.fly_record`; a flight whose code takes its process with it has no rows."""
    sizes = fleet.structure.own
    if sizes is None:
        return model.fly_record(fleet, block, rate)
    try:
        record, _ = in_child(sizes, model.fly_record, fleet, block, rate)
    except ChildDiedError:
        blocks = blocks_of(block, fleet.size)
        if fleet.size > 1:
            return np.concatenate([fly_record(fleet.part(i, i + 1), [each], rate) for i, each in enumerate(blocks)])
        return np.full((1, 1, len(RECORDED) + fleet.structure.foils), np.nan)
    return np.asarray(record)


def as_built_in(fleet: Fleet) -> Fleet:
    """The same numbers under a law that is built in: for the pace of flights, where no code may run."""
    return fleet if fleet.structure.own is None else fleet._replace(structure=fleet.structure._replace(law=0, own=None))


def heard() -> list[str]:
    """What was told of code that failed since this was asked last, each once."""
    with _lock:
        told = list(_heard)
        _heard.clear()
    return told


def _hear(told: Sequence[str]) -> None:
    with _lock:
        _heard.extend([each for each in dict.fromkeys(told) if each not in _heard][: max(MOST_HEARD - len(_heard), 0)])

"""One side of `against`: flies the parts of campaigns that it is told, and answers with what they took.

    python -P side.py CAMPAIGN...     with PYTHONPATH the folder that holds the `sweep` to be flown

It is read by both sides, so it calls only what has long been there. Every condition of a campaign is a part, flown by all
designs once. It flies everything once, says so in a line of JSON, and then flies part n for every line `n`.
"""

from __future__ import annotations

import json
import os
import sys
import time
from collections import Counter
from pathlib import Path
from typing import Any, TypeAlias

import numpy as np

from sweep.campaign.campaign import load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out
from sweep.flying.flights import cut_pieces
from sweep.model.block import Block
from sweep.model.flight import fly
from sweep.model.pack.fleet import Fleet
from sweep.results.shard_plan import Shard

Flights: TypeAlias = list[tuple[Fleet, list[Block]]]


def parts_of(file: str) -> list[tuple[dict[str, Any], Flights]]:
    """Each condition of a campaign: what it is, and its flights, first replicate."""
    campaign = load_campaign(Path(file))
    designs, conditions = lay_out(campaign), list_conditions(campaign)
    parts = []
    for at, condition in enumerate(conditions):
        shard = Shard(at, at, 0, 0, len(designs))
        pieces = [(piece.fleet, piece.blocks) for piece in cut_pieces(campaign, designs, conditions, [shard])]
        simulated = len(designs) * campaign.flight.length
        parts.append(({"campaign": Path(file).name, "condition": condition.name, "simulated": simulated}, pieces))
    return parts


class Moved:
    """Memory that is held, and partly changed before every part, so that a flight's arrays come to lie elsewhere.

    Where they lie changes the speed by up to 5 %, and without this it would stay so as long as a process lives.
    """

    def __init__(self) -> None:
        self._draws = np.random.default_rng()
        self._held = [np.ones(1, dtype=np.uint8)] * 16

    def change(self) -> None:
        """Let some of it go, and hold other."""
        for place in self._draws.choice(len(self._held), 4, replace=False):
            self._held[place] = np.ones(self._draws.integers(1000, 4_000_000), dtype=np.uint8)


def flown(pieces: Flights, moved: Moved) -> tuple[float, list[int]]:
    """Processor seconds of some flights, and how each ended."""
    moved.change()
    begun = time.process_time()
    results = [fly(fleet, blocks) for fleet, blocks in pieces]
    taken = time.process_time() - begun
    return taken, [int(code) for result in results for code in result.status]


def main() -> None:
    """Fly what is asked for."""
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {max(os.sched_getaffinity(0))})
    parts = [part for file in sys.argv[1:] for part in parts_of(file)]
    moved = Moved()
    endings = [Counter(flown(pieces, moved)[1]) for _, pieces in parts]
    print(json.dumps([told | {"endings": ends} for (told, _), ends in zip(parts, endings, strict=True)]), flush=True)
    for line in sys.stdin:
        print(flown(parts[int(line)][1], moved)[0], flush=True)


if __name__ == "__main__":
    main()

"""How often the cause rules are right: `python -m tests.benchmarks.causes [blocks]`, a block being a number of waves drawn
(5,7).

Flies every plant of `tests.insight.plants` on both boats and prints, for the kinds that the rules were adjusted on and for
those that they had not seen, how many causes are right and which are taken for which. Some minutes on two processors.
"""

from __future__ import annotations

import sys

import pandas as pd

from sweep.events import list_events
from sweep.insight.causes import name_causes
from tests.insight.plants import BOATS, LENGTH, SETTLE, UNSEEN, Flown, fly_plant, plants


def named(boat: str, flown: Flown) -> str | None:
    """The cause of the first event of a planted flight; None if the plant did nothing that the record shows."""
    if flown.clean or flown.history.empty:
        return None
    events = list_events(flown.history, flown.craft, SETTLE, LENGTH)
    if events.empty:
        return None
    return str(name_causes(flown.history, events, flown.craft, {0: BOATS[boat].speed})["cause"].iloc[0])


def main(blocks: list[int]) -> None:
    """Fly and print."""
    rows = [
        (plant.kind in UNSEEN, plant.kind, plant.cause, cause)
        for boat in BOATS
        for plant in plants(boat)
        for block in blocks
        if (cause := named(boat, fly_plant(boat, plant, block))) is not None
    ]
    table = pd.DataFrame(rows, columns=["unseen", "kind", "planted", "named"])
    for unseen, part in table.groupby("unseen"):
        right = part["planted"] == part["named"]
        print(f"\nKinds {'not seen' if unseen else 'seen'} as the rules were adjusted: {right.sum()} of {len(part)} right")
        print(pd.crosstab(part["planted"], part["named"]).to_string())


if __name__ == "__main__":
    main([int(each) for each in sys.argv[1].split(",")] if len(sys.argv) > 1 else [5, 7])

"""How often the cause rules are right: `python -m tests.benchmarks.causes [BLOCKS] [strangers] [turns]`.

A block is a number of waves drawn (5,7). strangers: on two boats and seas on which no rule was adjusted. turns: the plants of
`tests.insight.turn_plants`, along turns and starts.
Flies every plant of `tests.insight.plants` on both boats and prints, for the kinds that the rules were adjusted on, for
those that they had not seen, and for those of someone who had not seen the rules, how many causes are right and which are
taken for which, and every plant that was taken for another. Some minutes on two processors.
"""

from __future__ import annotations

import sys
from collections.abc import Collection

import pandas as pd

from sweep.insight.causes import UNCLEAR, name_causes
from sweep.insight.events import list_events
from tests.insight.plants import BOATS, FOREIGN, LENGTH, SETTLE, STRANGERS, UNSEEN, Flown, boat_of, fly_plant, plants
from tests.insight.turn_plants import named_along, turn_plants


def named(boat: str, flown: Flown) -> str | None:
    """The cause of the first event of a planted flight; None if the plant did nothing that the record shows."""
    if flown.clean or flown.history.empty:
        return None
    events = list_events(flown.history, flown.craft, SETTLE, LENGTH)
    if events.empty:
        return None
    return str(name_causes(flown.history, events, flown.craft, {0: boat_of(boat).speed})["cause"].iloc[0])


def along_turns(blocks: list[int], boats: Collection[str]) -> None:
    """Fly the plants along turns and starts, and print."""
    rows = [
        (boat, each.plant.kind, each.plant.cause, cause[0])
        for boat in boats
        for each in turn_plants(boat)
        for block in blocks
        if (cause := named_along(boat, each, block)) is not None
    ]
    table = pd.DataFrame(rows, columns=["boat", "kind", "planted", "named"])
    right, unclear = table["planted"] == table["named"], table["named"].isin([UNCLEAR, "in a turn"])
    for name, part in [*table.groupby("boat"), ("all", table)]:
        told = f"{right[part.index].sum()} of {len(part)} right, {unclear[part.index].sum()} with no more than 'in a turn'"
        print(f"\nAlong turns and starts, {name}: {told}\n{pd.crosstab(part['planted'], part['named']).to_string()}")
    print("\nTaken for another:\n" + table[~right].groupby(["kind", "named"]).size().to_string())


def known(kind: str) -> str:
    """Who knew of a kind of plant."""
    names = {"by someone who had not seen the rules": FOREIGN, "not seen as the rules were adjusted": UNSEEN}
    return next((name for name, kinds in names.items() if kind in kinds), "seen as the rules were adjusted")


def main(blocks: list[int], boats: Collection[str]) -> None:
    """Fly and print."""
    rows = [
        (known(plant.kind), boat, plant.kind, plant.cause, cause)
        for boat in boats
        for plant in plants(boat)
        for block in blocks
        if (cause := named(boat, fly_plant(boat, plant, block))) is not None
    ]
    table = pd.DataFrame(rows, columns=["known", "boat", "kind", "planted", "named"])
    right = table["planted"] == table["named"]
    for known_to, part in [*table.groupby("known"), *table.groupby("boat"), ("all", table)]:
        print(f"\nPlants, {known_to}: {right[part.index].sum()} of {len(part)} right")
        print(pd.crosstab(part["planted"], part["named"]).to_string())
    print("\nTaken for another:\n" + table[~right].groupby(["kind", "named"]).size().to_string())


if __name__ == "__main__":
    named_boats = STRANGERS if "strangers" in sys.argv else BOATS
    numbers = [word for word in sys.argv[1:] if word not in ("strangers", "turns")]
    measure = along_turns if "turns" in sys.argv else main
    measure([int(each) for each in numbers[0].split(",")] if numbers else [5, 7], named_boats)

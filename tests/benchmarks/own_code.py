"""A law of the builder's own: how fast it flies beside the built-in law, and whether the exported law, flown so, is that law.

    python -m tests.benchmarks.own_code [rates | equal [LAW] | card]

Rates are of this thread's processor time, as ratios in one run: of each round, and of the quickest flights, since other work on
the machine only adds time. The process's time goes in steps of 4 ms, 3 % of a flight, while the guard's timer runs.
Equality: status and responses of at least 500 flights a law, beside those of the built-in law with its start nudged by 1e-9 rad
of roll, and with every number of the law off by one rounding, which rounds every tick otherwise.
Own code that stops the boat is no status, so that of a built-in law that does counts as none either.
Card: the same of a controller whose author had a card alone.
"""

from __future__ import annotations

import math
import sys
import time

import numpy as np

from sweep.campaign.addresses import value_at
from sweep.campaign.craft import Craft
from sweep.model import layout as at
from sweep.model.block import Block
from sweep.model.compiled import LANES
from sweep.model.pack.fleet import Fleet
from sweep.model.quantities import FLEW, RESPONSE_NAMES, STOPPED
from sweep.own.compiling import library
from sweep.own.library import load
from tests.model.crafts import CASCADED, block_of, changed, courier, fleet_of, jonswap
from tests.own.laws import NAME, SPEED, exported, flown, with_code
from tests.own.read import controller, craft_of_card

NUDGE = 1e-9
BLOCKS, LENGTH, SETTLE = 16, 20.0, 5.0
LAWS = ("level-and-height", "fused-height", "each-foil", "cascaded")
ROUNDS = 25
OVER = {"each-foil": {"rangefinders.count": 3, "rangefinders.layout": "over-foils"}, "cascaded": CASCADED}
"""A law without an inertial unit needs a rangefinder over each foil; one of cascaded loops their gains."""
ROUNDING = 2.0**-23
"""Of a number in single precision, relative."""
SETTINGS = (*range(at.RIDE_HEIGHT, at.RUDDER_SIDE), *range(at.KNOWN_PLACE.first, at.KNOWN_AGE), *at.TRIM)
"""Slots of what the law knows of its craft."""
CARD_WAVES = 0.06  # m, as in the campaign of that card
WAVES, CALMER = 0.14, {"each-foil": 0.06}
"""m: in waves in which a law is mostly lost, when it is lost is chance, and tells nothing of the code."""


def pair(crafts: list[Craft]) -> tuple[Fleet, Fleet]:
    """The same designs under the built-in law, and under its C, which is loaded."""
    text = exported(crafts[0])
    built_in, own = fleet_of(crafts, SPEED), fleet_of([with_code(craft, text) for craft in crafts], SPEED)
    assert own.structure.own is not None
    load(own.structure.own, library(own.structure.own, text, NAME))
    return built_in, own


def rounded_otherwise(fleet: Fleet) -> Fleet:
    """The same designs, each number of their law off by one rounding."""
    off = np.random.default_rng(5).choice([-ROUNDING, ROUNDING], size=(fleet.size, len(SETTINGS)))
    parameters = fleet.parameters.copy()
    parameters[:, SETTINGS] *= 1.0 + off
    return fleet._replace(parameters=parameters)


def rates() -> None:
    """Flights a second of processor time, own over built-in."""
    print("| rate of the code | law | own over built-in: of the quickest | median of rounds | least | most |\n|" + "---|" * 6)
    for rate in (50.0, 100.0, 200.0):
        craft = changed(courier(), {"control.rate": rate})
        fleets = pair([craft] * LANES)
        blocks = [block_of(jonswap(math.pi, 0.04), 30.0, 5.0)] * LANES  # as long as a campaign's
        rounds = []
        for _ in range(ROUNDS + 1):
            taken = []
            for fleet in fleets:
                begun = time.thread_time()
                flown(fleet, blocks)
                taken.append(time.thread_time() - begun)
            rounds.append(taken)
        built_in, own = np.array(rounds[1:]).T
        told = built_in.min() / own.min(), np.median(built_in / own), *(f(built_in / own) for f in (np.min, np.max))
        print(f"| {rate:g} Hz | {craft.control.law} | " + " | ".join(f"{each:.3f}" for each in told) + " |", flush=True)


def designs(law: str) -> list[Craft]:
    """Designs about the courier whose gains differ."""
    gains = np.linspace(0.5, 1.5, 8)
    base = changed(courier(), {"control.law": law, **OVER.get(law, {})})
    height, roll = (base.control.gains_of(loop)[0] for loop in ("height", "roll"))
    return [
        changed(base, {height: one * value_at(base, height), roll: other * value_at(base, roll)})
        for one in gains
        for other in np.linspace(0.7, 1.3, 4)
    ]


HEADS = (
    "| law | flights | failed | status differs: own | nudged | rounded otherwise | responses "
    "| largest mean shift, in its standard error: own | nudged | rounded otherwise "
    "| shifts over 3: own | nudged | rounded otherwise |\n|" + "---|" * 13
)


def equal(only: str = "") -> None:
    """Statuses that differ, and the mean of every response: by how many of its standard errors the pairs differ."""
    print(HEADS)
    for law in [only] if only else LAWS:
        seas = [[jonswap(math.pi, CALMER.get(law, WAVES), seed=number)] * LANES for number in range(BLOCKS)]
        compare(law, pair(designs(law)), [[block_of(sea, LENGTH, SETTLE, n) for sea in some] for n, some in enumerate(seas)])


def card() -> None:
    """The same for the controller of `tests.own.read`: every flight in waves of its own."""
    print(HEADS)
    numbers = [range(n * LANES, (n + 1) * LANES) for n in range(BLOCKS)]
    blocks = [[block_of(jonswap(math.pi, CARD_WAVES, seed=n), LENGTH, SETTLE, n) for n in some] for some in numbers]
    craft, text = craft_of_card(), controller()
    fleets = fleet_of([craft] * LANES, SPEED), fleet_of([with_code(craft, text)] * LANES, SPEED)
    assert fleets[1].structure.own is not None
    load(fleets[1].structure.own, library(fleets[1].structure.own, text, NAME))
    compare("by the card", fleets, blocks)


def compare(name: str, fleets: tuple[Fleet, Fleet], blocks: list[list[Block]]) -> None:
    """Print the row of a law. fleets: built-in and own; blocks: of each lane, for one batch after the other."""
    built_in, own = fleets
    sides = ((built_in, 0.0), (own, 0.0), (built_in, NUDGE), (rounded_otherwise(built_in), 0.0))
    parts: list[list[tuple[np.ndarray, np.ndarray]]] = [[] for _ in sides]
    for some in blocks:
        for place, (fleet, nudge) in enumerate(sides):
            parts[place].append(flown(fleet, some, nudge))
    status, table = zip(*((np.concatenate(each) for each in zip(*part, strict=True)) for part in parts), strict=True)
    status = [np.where(np.isin(each, STOPPED), FLEW, each) for each in status]
    shifts = [_shifts(table[0], each) for each in table[1:]]
    worst = [max(each.values(), default=math.nan) for each in shifts]
    over = [sum(value > 3.0 for value in each.values()) for each in shifts]
    differ = [int((each != status[0]).sum()) for each in status[1:]]
    of = max(shifts[0], key=lambda response: shifts[0][response], default="none")
    counts = " | ".join(map(str, (len(status[0]), int((status[0] > 0).sum()), *differ, len(shifts[0]))))
    told = " | ".join((f"{worst[0]:.2f} ({of})", *(f"{each:.2f}" for each in worst[1:]), *map(str, over)))
    print(f"| {name} | {counts} | {told} |", flush=True)


def _shifts(one: np.ndarray, other: np.ndarray) -> dict[str, float]:
    """Of each response, the mean difference over its standard error over blocks, which are the independent units."""
    found = {}
    for column, name in enumerate(RESPONSE_NAMES):
        blocks = np.split((other - one)[:, column], BLOCKS)
        apart = np.array([np.nanmean(each) if np.isfinite(each).any() else np.nan for each in blocks])
        apart = apart[np.isfinite(apart)]
        if len(apart) > 3 and apart.std() > 0.0:
            found[name] = float(abs(apart.mean()) / (apart.std(ddof=1) / math.sqrt(len(apart))))
    return found


if __name__ == "__main__":
    {"rates": rates, "equal": equal, "card": card}[sys.argv[1] if len(sys.argv) > 1 else "rates"](*sys.argv[2:])

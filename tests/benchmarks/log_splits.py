"""How often the split of water and set-up holds what was planted, and how often it finds an effect where there is none: flown.

    python -m tests.benchmarks.log_splits [PAIRS]

A pair is an hour on the water: each set-up makes a pass of 45 s into the waves and one back, in a Gaussian sea of its own day's
height and period. Four such pairs of seas; every fourth pair flies in each. All set-ups fly every block side by side, once as
the craft file has the craft and once with other numbers than it says, so that what the first set-up would have measured in the
second's waves is known. The set-ups' own difference is taken from LONG flights of each in each sea. The seas are told by the
logs alone, and the model expects what it expects of the craft file's craft.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Sequence
from itertools import product
from math import pi
from pathlib import Path
from typing import NamedTuple

import numpy as np

from sweep.campaign.craft import Craft
from sweep.logs.compare.comparison import Pass, off_by, split
from sweep.logs.compare.expect import Case, Expected, expect
from sweep.logs.compare.simulated_log import Flown, fly_aboard
from sweep.logs.fit.numbers import changed as with_numbers
from sweep.logs.read.mapping import Mapping, load_mapping
from sweep.logs.read.runs import Run
from sweep.logs.report.day import Day, passes_of
from sweep.logs.report.demo import HIDDEN
from sweep.logs.sea.judge import Judged, judge
from sweep.logs.sea.measure import measures
from sweep.model.physics.spectra import Spectrum
from sweep.model.physics.waves import draw_components, random_amplitudes
from tests.logs.made import DEPTH, write_day
from tests.model.crafts import WATER, block_of, changed, courier

LENGTH, SPEED = 45.0, 4.0
LINES = 128  # of a sea: as many as a pass tells apart, or it is not Gaussian
LONG, LONG_FLIGHTS = 120.0, 16
HEADINGS = (pi, 0.0)
GAINS = {"no effect": 1.0, "half the height gain": 0.5, "1.4 times the height gain": 1.4, "1.9 times": 1.9}
WORLDS = {"as its file": {}, "other than its file": HIDDEN}
HIGH, MIDDLE, LOW = (0.055, 1.15), (0.045, 1.05), (0.042, 1.0)
SEAS = ((HIGH, LOW), (MIDDLE, MIDDLE), (LOW, HIGH), ((0.058, 1.2), (0.036, 0.95)))
MEASURED = ("sensed_error", "acceleration", "pitch")


class Truth(NamedTuple):
    """Means over long flights by measure, (2 seas, headings): of the first set-up, and of the second."""

    first: dict[str, np.ndarray]
    second: dict[str, np.ndarray]


def fleet() -> dict[tuple[str, str], Craft]:
    """Every set-up in every world."""
    found = {}
    for world, numbers in WORLDS.items():
        craft = with_numbers(courier(), list(numbers), list(numbers.values()))
        for said, gain in GAINS.items():
            found[world, said] = changed(craft, {"control.height.proportional": gain * craft.control.height.proportional})
    return found


class Way(NamedTuple):
    """One block that all of the fleet flies: sea (m, s), heading rad, key of its draws, replicate."""

    sea: tuple[float, float]
    heading: float
    key: list[int]
    replicate: int


def flown_by_all(ways: Sequence[Way], length: float) -> list[dict[tuple[str, str], Flown]]:
    """All of the fleet through each of a few blocks, side by side."""
    crafts, blocks = fleet(), []
    for way in ways:
        draws = np.random.default_rng(way.key)
        drawn = random_amplitudes(draw_components(Spectrum(*way.sea, 3.3), way.heading, DEPTH, draws, count=LINES), draws)
        blocks += [block_of(drawn, length + 5.0, 5.0, replicate=way.replicate)] * len(crafts)
    boards = [courier()] * len(blocks)
    flown = iter(fly_aboard([*crafts.values()] * len(ways), WATER, blocks, SPEED, boards))
    return [{who: next(flown) for who in crafts} for _ in ways]


def truths(number: int) -> dict[tuple[str, str], Truth]:
    """Of one pair of seas, by world and set-up."""
    found = {who: {name: np.full((2, len(HEADINGS)), np.nan) for name in MEASURED} for who in fleet()}
    for (at, sea), (way, heading) in product(enumerate(SEAS[number]), enumerate(HEADINGS)):
        first = 900_000 + 1000 * number + 100 * at + 50 * way
        ways = [Way(sea, heading, [9, number, at, way, i], first + i) for i in range(LONG_FLIGHTS)]
        flights = [one for i in range(0, LONG_FLIGHTS, 4) for one in flown_by_all(ways[i : i + 4], LONG)]
        for who in fleet():
            some = [measures(each[who].log, courier()) for each in flights if not each[who].ended]
            for name in MEASURED:
                found[who][name][at, way] = np.mean([row[name] for row in some])
    return {(world, said): Truth(found[world, "no effect"], found[world, said]) for world, said in fleet()}


def judged(flown: Flown, heading: float, setup: str, mapping: Mapping) -> Judged:
    """A pass as the tool judges it."""
    return judge(Run("flying", setup, setup, 0.0, LENGTH, SPEED, None, heading, flown.log), mapping)


class Flights(NamedTuple):
    """What one comparison is made of: by measure, the passes as the logs tell them, and what the first set-up would have

    measured on average in the waves of the first and of the second.
    """

    passes: dict[str, list[Pass]]
    plain: dict[str, tuple[float, float]]


class Outcome(NamedTuple):
    """What of one comparison held: the set-up's effect by the long flights, the water's part as it was met.

    apart: told apart; right: and the right way; reach: of the interval, and off: of the effect found, in its logarithm.
    """

    effect: bool
    water: bool
    apart: bool
    right: bool
    reach: float
    off: float


def pair(number: int, mapping: Mapping) -> dict[tuple[str, str], Flights]:
    """All comparisons of one pair of seas; those of which a flight ended early are left out."""
    legs = list(product((0, 1), range(len(HEADINGS))))
    seas = SEAS[number % len(SEAS)]
    ways = [Way(seas[at], HEADINGS[way], [7, number, at, way], 10 * number + 2 * at + way) for at, way in legs]
    flown = dict(zip(legs, flown_by_all(ways, LENGTH), strict=True))
    found = {}
    for world, said in fleet():
        mine = {key: both[world, said if key[0] else "no effect"] for key, both in flown.items()}
        plain = {key: both[world, "no effect"] for key, both in flown.items()}
        if any(each.ended or not each.log for each in [*mine.values(), *plain.values()]):
            continue
        runs = tuple(judged(each, HEADINGS[way], "ab"[at], mapping) for (at, way), each in mine.items())
        passes, _, left_out = passes_of(Day(mapping, runs, (), (), (), None))
        if left_out:
            continue
        rows = {
            name: [
                Pass(run.setup, run.measures[name], sea.height.value, sea.period.value, int(run.waves == HEADINGS[1]))
                for run, sea in passes
            ]
            for name in MEASURED
        }
        without = {key: measures(each.log, courier()) for key, each in plain.items()}
        first, second = (
            {name: float(np.mean([without[at, way][name] for way in (0, 1)])) for name in MEASURED} for at in (0, 1)
        )
        found[world, said] = Flights(rows, {name: (first[name], second[name]) for name in MEASURED})
    return found


def outcome(flights: Flights, models: list[Expected], truth: Truth, name: str) -> Outcome:
    """Held against what was planted."""
    found = split(flights.passes[name], models, name, "a", "b", off_by(flights.passes, models, "a"))
    effect = float(np.mean(np.log(truth.second[name][1] / truth.first[name][1])))
    first, second = flights.plain[name]
    low, high = np.log1p([found.relative.low, found.relative.high])
    return Outcome(
        bool(low <= effect <= high),
        found.water.low <= first - second <= found.water.high,
        found.verdict != "not told apart",
        found.verdict == ("better" if effect < 0.0 else "worse"),
        float(high - low) / 2.0,
        float(np.log1p(found.relative.value)) - effect,
    )


def told(rows: dict[tuple[str, str, str], list[Outcome]]) -> None:
    """Print the counts."""
    for (world, said, name), some in rows.items():
        effect, water, apart, right = np.array([list(each[:4]) for each in some]).sum(axis=0)
        off = 100.0 * np.array([each.off for each in some])
        print(
            f"{world:20} {said:26} {name:13} {len(some):3} pairs: effect inside {effect}, water inside {water}; "
            f"told apart {apart}, the right way {right}; reach {100 * np.mean([e.reach for e in some]):.1f} %, "
            f"off {off.mean():+.1f} +- {off.std():.1f} %",
            flush=True,
        )


def main() -> None:
    """Fly and print."""
    pairs = int(sys.argv[1]) if len(sys.argv) > 1 else 120
    with tempfile.TemporaryDirectory() as folder:
        mapping = load_mapping(write_day(Path(folder)))
    seas = [Spectrum(*sea, 3.3) for both in SEAS for sea in both]
    models = [expect(courier(), WATER, Case(SPEED, heading, DEPTH, LENGTH), seas) for heading in HEADINGS]
    truth = [truths(number) for number in range(len(SEAS))]
    print("long flights flown", flush=True)
    rows: dict[tuple[str, str, str], list[Outcome]] = {}
    for number in range(pairs):
        for (world, said), flights in pair(number, mapping).items():
            for name in MEASURED:
                one = outcome(flights, models, truth[number % len(SEAS)][world, said], name)
                rows.setdefault((world, said, name), []).append(one)
        if number % 20 == 19 or number == pairs - 1:
            print(f"after {number + 1} pairs", flush=True)
            told(rows)


if __name__ == "__main__":
    main()

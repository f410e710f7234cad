"""How often the intervals of a sea hold it, when logs have faults: another boat, another logger, many passes of each fault.

    python -m tests.benchmarks.log_faults [PASSES] [FAULT ...] [--first SEED] [--into FILE]
    python -m tests.benchmarks.log_faults --join FILE ...

Passes of a minute, each its own waves; height and period against those that wavespectra drew the waves from. Told with the 95 %
binomial interval (Clopper & Pearson); it falls short only if that lies under 0.95. No two passes share their waves, or all
faults would miss the same ones. A fault's whole name flies that fault alone; --into adds what was counted to a file, and --join
prints the table of several.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from collections.abc import Sequence
from math import radians
from pathlib import Path
from typing import NamedTuple

import numpy as np
from scipy.stats import binomtest

from sweep.logs.read.mapping import load_mapping
from sweep.logs.report.day import judge_day
from tests.logs.foreign import Logger, Sea, log_of, write_foreign
from tests.logs.test_holes import FAULTS

PASSES, FIRST, APART = 40, 1_000_000, 10_000
"""Passes of a fault, and seeds: of the first, and from fault to fault."""
SEAS = ((0.03, 0.8), (0.054, 1.1), (0.08, 1.6))
HEADINGS, SPEED, LENGTH = (180.0, 120.0, 0.0), 4.0, 60.0
ALL = {"no fault": Logger(), **FAULTS}


class Told(NamedTuple):
    """Of the passes of one fault: how many told a sea, and in how many of them the interval held; misses: which, by pass."""

    passes: int
    told: int
    height: int
    period: int
    misses: tuple[str, ...] = ()


def counted(name: str, passes: int, first: int) -> Told:
    """Write, judge and count the passes of one fault; first: seed of the first fault's first pass."""
    first += APART * list(ALL).index(name)
    held, told, misses = np.zeros(2, dtype=int), 0, []
    for number in range(passes):
        height, period = SEAS[number % len(SEAS)]
        heading = radians(HEADINGS[number // len(SEAS) % len(HEADINGS)])
        rows = log_of(Sea(height, period, first + number), SPEED, heading, LENGTH, ALL[name])
        with tempfile.TemporaryDirectory() as folder:
            runs = judge_day(load_mapping(write_foreign(Path(folder), [rows]))).runs
        for sea in (run.sea for run in runs if run.sea is not None and run.sea.verdict == "measured"):
            told += 1
            inside = [sea.height.low <= height <= sea.height.high, sea.period.low <= period <= sea.period.high]
            held += inside
            if not all(inside):
                misses.append(
                    f"pass {number}, {height} m {period} s, {np.degrees(heading):.0f} deg: "
                    f"{' '.join(f'{each:.3f}' for each in (*sea.height, *sea.period))}"
                )
    return Told(passes, told, *held.tolist(), tuple(misses))


def printed(found: dict[str, Told]) -> None:
    """The table, with all faults together."""
    for name, each in found.items():
        print(f"{name:26} {_held(each)}; {each.passes - each.told} of {each.passes} passes say that they cannot tell")
    print(f"{'all':26} {_held(Told(*(sum(column) for column in zip(*(each[:4] for each in found.values()), strict=True))))}")


def _held(each: Told) -> str:
    said = []
    for name, count in (("height", each.height), ("period", each.period)):
        low, high = binomtest(count, max(each.told, 1)).proportion_ci()
        said.append(f"{name} held in {count} of {each.told} ({low:.2f} to {high:.2f})")
    return ", ".join(said)


def joined(files: Sequence[Path]) -> dict[str, Told]:
    """What several parts counted, by fault; the latest of a fault that was flown twice."""
    rows = [json.loads(line) for file in files for line in file.read_text(encoding="utf-8").splitlines()]
    return {row[0]: Told(*row[1:5], tuple(row[5])) for row in rows}


def main() -> None:
    """Write, judge and print, or join."""
    parser = argparse.ArgumentParser()
    parser.add_argument("passes", nargs="?", type=int, default=PASSES)
    parser.add_argument("faults", nargs="*", metavar="FAULT", help=", ".join(ALL))
    parser.add_argument("--first", type=int, default=FIRST, metavar="SEED")
    parser.add_argument("--into", type=Path)
    parser.add_argument("--join", type=Path, nargs="+")
    asked = parser.parse_args()
    if asked.join:
        printed(joined(asked.join))
        return
    if unknown := set(asked.faults) - set(ALL):
        parser.error(f"no fault {sorted(unknown)}: wanted {', '.join(ALL)}")
    found = {}
    for name in asked.faults or ALL:
        found[name] = counted(name, asked.passes, asked.first)
        print(f"{name}: {_held(found[name])}", flush=True)
        if asked.into:
            with asked.into.open("a", encoding="utf-8") as file:
                file.write(json.dumps([name, *found[name]]) + "\n")
    printed(found)


if __name__ == "__main__":
    main()

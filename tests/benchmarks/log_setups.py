"""How often a set-up's effect is in its interval, and how often one is found where there is none: another boat and logger.

    python -m tests.benchmarks.log_setups [DAYS] [--first SEED]

A day has three set-ups, each a pass into the waves and one back, in a sea of its own hour: the first, the same again, and one
that heaves otherwise with the waves. `compare_day` judges the logs, faults and all, beside the craft file's craft, which did
not fly. What the set-up changes in one sea is summed over that sea's lines: the boat's answer is linear, and known.
"""

from __future__ import annotations

import argparse
import tempfile
from math import pi
from pathlib import Path

import numpy as np
from scipy.stats import binomtest

from sweep.logs.read.mapping import load_mapping
from sweep.logs.report.day import compare_day, judge_day
from tests.logs.foreign import BEAM_AT, BOAT, Boat, Logger, Sea, log_of, responses, waves_met, write_foreign

HEADINGS, SPEED, LENGTH = (pi, 0.0), 4.0, 40.0
HEIGHTS, PERIODS = (0.036, 0.058), (0.95, 1.2)
"""m and s, between which each set-up's sea is drawn."""
FOLLOWS = (0.4, 1.0)
"""Share of a long wave that the other set-up heaves, between which it is drawn; the first has BOAT's."""
LOGGERS = (
    Logger(rate=50.0), Logger(rate=50.0, hole=0.2), Logger(rate=50.0, lost=0.2), Logger(jitter=0.3), Logger(rate=25.0),
)  # fmt: skip
NOISE, WANTED = 0.003, 0.095
"""m: of the rangefinder, and of the ride height that is wanted."""
MEASURED = ("sensed_error", "acceleration", "pitch")


def size(name: str, sea: Sea, heading: float, boat: Boat) -> float:
    """Root mean square of what a pass measures in this sea, on the mean over its draws."""
    wave, _, met, along = waves_met(sea, SPEED, heading)
    heave, tilt = responses(np.ones_like(wave), met, along, boat)
    energy = np.full(len(wave), sea.height**2 / 16.0 / len(wave))
    if name == "acceleration":
        return float(np.sqrt(energy @ np.abs(heave * met**2) ** 2))
    if name == "pitch":
        return float(np.sqrt(energy @ np.abs(tilt) ** 2))
    over = heave + tilt * BEAM_AT - np.exp(-1j * along * BEAM_AT)
    return float(np.sqrt(energy @ np.abs(over) ** 2 + NOISE**2 + (boat.ride - WANTED) ** 2))


def day(number: int, first: int) -> dict[tuple[str, str], tuple[bool, bool, float, float]]:
    """By set-up and measure: in its interval, told apart; the true effect and the interval's half width, in logarithms."""
    draws = np.random.default_rng([first, number])
    boats = {"one": BOAT, "same": BOAT, "other": BOAT._replace(follows=draws.uniform(*FOLLOWS))}
    logger, passes, setups, seas = LOGGERS[number % len(LOGGERS)], [], [], {}
    for at, (setup, boat) in enumerate(boats.items()):
        seas[setup] = Sea(draws.uniform(*HEIGHTS), draws.uniform(*PERIODS))
        for way, heading in enumerate(HEADINGS):
            sea = seas[setup]._replace(seed=first + 10 * number + 2 * at + way)
            passes.append(log_of(sea, SPEED, heading, LENGTH, logger, boat))
            setups.append(setup)
    with tempfile.TemporaryDirectory() as folder:
        compared = compare_day(judge_day(load_mapping(write_foreign(Path(folder), passes, setups))))
    found = {}
    for setup, comparison in compared.items():
        for name in MEASURED:
            split = comparison.splits[name]
            true = float(
                np.mean(
                    [
                        np.log(size(name, sea, way, boats[setup]) / size(name, sea, way, BOAT))
                        for way in HEADINGS
                        for sea in (seas["one"], seas[setup])
                    ]
                )
            )
            low, high = np.log1p([split.relative.low, split.relative.high])
            found[setup, name] = bool(low <= true <= high), split.verdict != "not told apart", true, float(high - low) / 2.0
    return found


def printed(days: list[dict[tuple[str, str], tuple[bool, bool, float, float]]]) -> None:
    """The counts by set-up and measure."""
    for key in days[0]:
        rows = [each[key] for each in days]
        inside, told = sum(row[0] for row in rows), sum(row[1] for row in rows)
        low, high = binomtest(inside, len(rows)).proportion_ci()
        said = f"inside {inside} of {len(rows)} ({low:.2f} to {high:.2f}), told apart {told}"
        print(f"{key[0]:6} {key[1]:13} {said}; reach {100 * np.mean([row[3] for row in rows]):.0f} %", flush=True)


def main() -> None:
    """Fly, judge and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("days", nargs="?", type=int, default=100)
    parser.add_argument("--first", type=int, default=1, metavar="SEED")
    asked = parser.parse_args()
    days, refused = [], 0
    for number in range(asked.days):
        try:
            days.append(day(number, asked.first))
        except ValueError as error:
            refused += 1
            print(f"day {number}: {error}")
        if days and (number % 20 == 19 or number == asked.days - 1):
            print(f"after {number + 1} days, of which {refused} could not be told:")
            printed(days)


if __name__ == "__main__":
    main()

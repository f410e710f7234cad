"""How often the intervals of a fit hold what was planted: logs of a craft with other numbers, flown and fitted again and again.

    python -m tests.benchmarks.log_fits [DAYS] [SET ...] [--first DAY] [--second]

A day is a pass of 90 s into the waves and one with them, in a Gaussian sea of 5 cm and 1.1 s; its planted numbers are drawn
from RANGES. The seas are told by the logs. SETS are the numbers that are planted and fitted together. Days and sets are flown
side by side, as many as there are lanes, where the crafts of a day share its waves; then each is fitted and printed alone, so
that a run that is stopped keeps what it did. A number that is not told says nothing, so what is counted are those told.

With --second the second model's formulas fly the days, not the kernel, with their own waves, sensors, control code and logger,
and the files are read as a builder's are.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Sequence
from itertools import product
from math import degrees, pi
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.stats import binomtest

from sweep.campaign.craft import Craft
from sweep.logs.compare.simulated_log import fly_aboard
from sweep.logs.fit.craft_fit import FLIGHTS, ROUNDS, Result, Search, begin, built, fit, result, set_up_for, with_witness
from sweep.logs.fit.features import Fitting
from sweep.logs.fit.numbers import NUMBERS
from sweep.logs.read.channels import Record, Series
from sweep.logs.read.mapping import load_mapping
from sweep.logs.report.day import judge_day
from sweep.logs.sea.judge import sea_of_record
from sweep.model.compiled import LANES
from sweep.model.physics.spectra import Spectrum
from sweep.model.physics.waves import draw_components, random_amplitudes
from tests.logs.foreign import write_foreign
from tests.logs.second_boat import Boats, waves_of
from tests.logs.second_day import COLUMNS, passes
from tests.model.crafts import WATER, block_of, courier

RANGES = {
    "lift": (0.88, 1.04),
    "drag": (0.9, 1.4),
    "range_lag": (0.045, 0.095),
    "range_noise": (0.002, 0.005),
    "servo_delay": (0.004, 0.03),
    "servo_bandwidth": (0.6, 1.3),
    "inertia": (0.9, 1.15),
    "height_offset": (-0.01, 0.015),
}
SETS = {
    "usual": ("lift", "drag", "range_lag", "range_noise", "height_offset"),
    "inertia": ("lift", "range_lag", "inertia"),
    "delay": ("lift", "range_lag", "servo_delay"),
    "bandwidth": ("lift", "range_lag", "servo_bandwidth"),
    "all": tuple(RANGES),
}
HEADINGS = (pi, 0.0)
LENGTH, DEPTH, SPEED = 90.0, 5.0, 4.0
LINES = 192  # of a sea: as many as a pass tells apart, or it is not Gaussian
VIDEO_NOISE, VIDEO_RATE = 0.004, 25.0  # m, Hz: of the witness


def planted_on(day: int, names: tuple[str, ...]) -> dict[str, float]:
    """What is planted on a day."""
    random = np.random.default_rng([21, day])
    drawn = {name: float(random.uniform(*RANGES[name])) for name in RANGES}
    return {name: drawn[name] for name in names}


def logged(
    days: Sequence[int],
    plants: Sequence[dict[str, float]],
    headings: tuple[float, ...] = HEADINGS,
    length: float = LENGTH,
) -> list[list[Record]]:
    """The logs with a witness of each craft on its day, one for each heading; crafts of one day share its waves."""
    crafts = [planted_craft(planted) for planted in plants]
    boards = [set_up_for(courier(), craft) for craft in crafts]
    found: list[list[Record]] = [[] for _ in crafts]
    for at, heading in enumerate(headings):
        blocks = []
        for day in days:
            draws = np.random.default_rng([day, at])
            sea = random_amplitudes(draw_components(Spectrum(0.05, 1.1, 3.3), heading, DEPTH, draws, count=LINES), draws)
            blocks.append(block_of(sea, length + 5.0, 5.0, replicate=10 * day + at))
        for day, mine, flown in zip(days, found, fly_aboard(crafts, WATER, blocks, SPEED, boards), strict=True):
            time = np.arange(0.0, flown.truth["time"][-1], 1.0 / VIDEO_RATE)
            height = np.interp(time, flown.truth["time"], flown.truth["ride_height"])
            noise = VIDEO_NOISE * np.random.default_rng([day, at, 1]).standard_normal(len(time))
            mine.append(flown.log | {"witness": Series(time, height + noise)})
    return found


def planted_craft(planted: dict[str, float]) -> Craft:
    """The courier with these numbers."""
    steps = [(value - NUMBERS[name].start(courier())) / NUMBERS[name].step for name, value in planted.items()]
    return built(courier(), list(planted), np.array(steps))


def told_sea(log: Record, heading: float, late: float) -> Spectrum:
    """The sea that a log tells."""
    found = sea_of_record(log, courier(), SPEED, heading, DEPTH, late)
    assert found is not None
    return found.spectrum


def started(logs: list[Record], names: Sequence[str], headings: tuple[float, ...] = HEADINGS, length: float = LENGTH) -> Search:
    """The fit to one day's logs before it begins."""
    sea = told_sea(logs[0], headings[0], courier().rangefinders.latency)
    runs = [Fitting(log, sea, SPEED, heading, DEPTH, length) for log, heading in zip(logs, headings, strict=True)]
    return begin(courier(), WATER, runs, names)


def tables_by_second(days: Sequence[int], crafts: Sequence[Craft]) -> list[tuple[pd.DataFrame, ...]]:
    """The rows of each day's passes, which the second model flies with its craft, in the columns of `second_day`."""
    boats, tables = Boats(crafts, SPEED), []
    for way, heading in enumerate(HEADINGS):
        waves = waves_of(0.05, 1.1, days, way, heading, LINES)
        flown = passes(boats, courier(), waves, LENGTH, [way, *days])
        tables.append([table.assign(course=table["course"] + degrees(heading) + 180.0) for table in flown])
    return list(zip(*tables, strict=True))


def logged_by_second(days: Sequence[int], plants: Sequence[dict[str, float]]) -> list[list[Record]]:
    """The same of the second model, read from its files; nothing of a day that is withheld in grave doubt."""
    found = []
    for mine in tables_by_second(days, [planted_craft(planted) for planted in plants]):
        with tempfile.TemporaryDirectory() as folder:
            told = judge_day(load_mapping(write_foreign(Path(folder), list(mine), mapping=COLUMNS)))
        if told.grave:
            print(f"withheld: {told.grave}", flush=True)
        assert len(told.recorded) == len(HEADINGS), told.doubts
        found.append([] if told.grave else [run.record for run in told.recorded])
    return found


def fitted(day: int, planted: dict[str, float], headings: tuple[float, ...] = HEADINGS, length: float = LENGTH) -> Result:
    """The fit to one day's logs, as `log fit` does it."""
    (logs,) = logged([day], [planted], headings, length)
    runs = started(logs, list(planted), headings, length).runs

    def seas(late: float) -> list[Spectrum]:
        return [told_sea(runs[0].record, headings[0], late)] * len(runs)

    return fit(courier(), WATER, runs, list(planted), seas=seas)


def by_flights(search: Search, day: int) -> Result:
    """The fit to one day's logs, with flights in waves of the day's own in the sea that it tells."""
    search = search.improved()
    for _ in range(ROUNDS):
        sea = told_sea(search.runs[0].record, HEADINGS[0], search.about.rangefinders.latency)
        crafts = search.flyers()
        boards = [set_up_for(courier(), craft) for craft in crafts]
        logs: list[list[Record | None]] = []
        for way, heading in enumerate(HEADINGS):
            blocks = []
            for i in range(FLIGHTS):
                draws = np.random.default_rng([31, day, way, i])
                drawn = random_amplitudes(draw_components(sea, heading, DEPTH, draws, count=LINES), draws)
                blocks.append(block_of(drawn, LENGTH + 5.0, 5.0, replicate=1_000_000 + 10_000 * day + 100 * way + i))
            flights = fly_aboard(crafts, WATER, blocks, SPEED, boards)
            logs.append([with_witness(flown) if flown.log and not flown.ended else None for flown in flights])
        search = search.corrected(logs).improved()
    return result(search)


class Tally:
    """What of one set held, day by day."""

    def __init__(self, said: str) -> None:
        self.said, self.names, self.days = said, SETS[said], 0
        self.inside, self.told, self.score = (dict.fromkeys(self.names, 0) for _ in range(3))
        self.alike: dict[tuple[str, str], int] = {}

    def add(self, planted: dict[str, float], found: Result) -> None:
        """One day."""
        self.days += 1
        for each in (each for each in found.numbers if each.identified):
            self.inside[each.name] += each.low <= planted[each.name] <= each.high
            self.told[each.name] += 1
            self.score[each.name] += ((each.value - planted[each.name]) / (each.high - each.low) * 2.0) ** 2
        for one, other, _ in found.alike:
            self.alike[one, other] = self.alike.get((one, other), 0) + 1
        shown = ", ".join(
            f"{e.name} {planted[e.name]:.4f}: {e.value:.4f} ({e.low:.4f} to {e.high:.4f}){'' if e.identified else ' not told'}"
            for e in found.numbers
        )
        print(f"{self.said} {self.days:3}: misfit {found.misfit:.2f}; {shown}", flush=True)

    def sum_up(self) -> None:
        """Print the counts."""
        for name in self.names:
            inside, told = self.inside[name], self.told[name]
            low, high = binomtest(inside, told).proportion_ci() if told else (0.0, 1.0)
            off = np.sqrt(self.score[name] / max(told, 1))
            counts = f"inside {inside} of {told} told ({low:.2f} to {high:.2f}), of {self.days} days"
            print(f"{self.said}: {name:16} {counts}, rms off {off:.2f} of the reach")
        for pair, times in self.alike.items():
            print(f"{self.said}: {pair[0]} and {pair[1]} said to be alike {times} times", flush=True)


def main() -> None:
    """Every set asked for."""
    parser = argparse.ArgumentParser()
    parser.add_argument("days", nargs="?", type=int, default=40)
    parser.add_argument("sets", nargs="*", default=list(SETS))
    parser.add_argument("--first", type=int, default=0, metavar="DAY")
    parser.add_argument("--second", action="store_true", help="flown by the second model")
    told = parser.parse_args()
    tallies = [Tally(said) for said in told.sets]
    together, after = LANES // len(tallies), told.first + told.days
    for first_day in range(told.first, after, together):
        asked = list(product(range(first_day, min(first_day + together, after)), tallies))
        plants = [planted_on(day, tally.names) for day, tally in asked]
        logs = (logged_by_second if told.second else logged)([day for day, _ in asked], plants)
        for (day, tally), planted, mine in zip(asked, plants, logs, strict=True):
            if mine:
                tally.add(planted, by_flights(started(mine, list(planted)), day))
    for tally in tallies:
        tally.sum_up()


if __name__ == "__main__":
    main()

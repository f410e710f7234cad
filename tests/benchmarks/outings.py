"""The chance of a clean outing, as it is counted, as short flights would have it, and as it is.

    python -m tests.benchmarks.outings [OUTINGS]
    python -m tests.benchmarks.outings foretold

Three crafts, each in a sea of its own, turning slowly enough that not every outing fails. The truth is the share of clean ones
of so many outings (500 by default). They are cut into groups of 20: the interval of each group must hold the truth. Beside it
what short flights give, of 25 s of which 20 count, straight and begun in trim: the share of clean ones, raised to the number of
them that make an outing. The bar is statistical: it fails only if the 95 % binomial interval of the share of groups that hold
the truth lies below 95 %.

The second command flies 20 outings of each of four designs of three shipped campaigns, and holds the processor time that they
take against what `check` foretells.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy import stats

from sweep.campaign.campaign import load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out
from sweep.campaign.follow_up_plan import FOLLOWED
from sweep.campaign.outings import LENGTH, LIES, simulated
from sweep.flying.flights import fly_shards, measure_pace, warm_up
from sweep.flying.outing_failures import see_failures
from sweep.flying.outings import fly_outings
from sweep.flying.ride_map import clean
from sweep.flying.work import Work
from sweep.insight.outings import count_outings
from sweep.model.compiled import LANES
from sweep.report.pages.outings import share_words
from sweep.results.shard_plan import Shard

CONFIGS = Path(__file__).parents[2] / "configs"
OUTINGS, GROUP, SHORT = 500, 20, 480
PROMISED = 0.95
CAMPAIGNS = ("courier-chop", "surveyor-harbour", "ranger-struts")


class Case(NamedTuple):
    """A craft file, what of the craft is changed by a factor's one level, its sea, heading and speed."""

    craft: str
    turn_rate: str
    sea: str
    heading: str
    speed: str


CASES = {
    "courier": Case("courier", "8 deg/s", "{kind: jonswap, height: 5 cm, period: 1.2 s}", "head", "4 m/s"),
    "surveyor": Case("surveyor", "8 deg/s", "{kind: jonswap, height: 10 cm, period: 1.8 s}", "head", "4.5 m/s"),
    "lookout": Case("lookout", "8 deg/s", "{kind: jonswap, height: 4 cm, period: 1.1 s}", "quartering", "4 m/s"),
}
TEXT = """\
title: Outings of a {name}
craft: {craft}
factors: {{turning: {{addresses: [control.turn_rate], levels: [{turn_rate}, 30 deg/s]}}}}
conditions:
  seas: {{sea: {sea}}}
  headings: {heading}
  speeds: {speed}
  replicates: 1
flight: {{length: 25 s, settle: 5 s, seed: 11}}
outings: {outings}
"""


class Found(NamedTuple):
    """counted: what the first group shows, in words; truth: share of clean outings; held: of the groups, how many intervals
    hold it; width: of them, mean; short: share of clean short flights; supposed: what that makes of an outing; first: what
    failed first, in words; processor: s that the outings took.
    """

    counted: str
    truth: float
    held: int
    groups: int
    width: float
    short: float
    supposed: float
    first: str
    processor: float


def measure(name: str, outings: int, folder: Path) -> Found:
    """Fly a case."""
    case = CASES[name]
    path = folder / f"{name}.yaml"
    craft = CONFIGS / "craft" / f"{case.craft}.yaml"
    path.write_text(TEXT.format(**case._asdict() | {"name": name, "craft": craft, "outings": outings}))
    campaign = load_campaign(path)
    work = Work(campaign, lay_out(campaign), list_conditions(campaign), workers=1)
    design = 1  # which turns slowly
    begun = time.process_time()
    flown = pd.concat(fly_outings(work, [design]), ignore_index=True)
    took = time.process_time() - begun
    short = [Shard(number, 0, number, design, design + 1) for number in range(SHORT)]
    share = float(np.concatenate([clean(rows) for _, rows in fly_shards(work, short)]).mean())
    whole = count_outings(flown)
    truth = whole.clean / whole.flown
    groups = [count_outings(flown[at : at + GROUP]) for at in range(0, outings - GROUP + 1, GROUP)]
    held = sum(group.low <= truth <= group.high for group in groups)
    width = float(np.mean([group.high - group.low for group in groups]))
    supposed = share ** ((LENGTH - LIES) / campaign.flight.scored)
    first = ", ".join(f"{what} {often}" for what, often in whole.first[:3])
    return Found(share_words(groups[0]), truth, held, len(groups), width, share, supposed, first, took)


def foretold() -> None:
    """Print what `check` says that four designs' outings take, and what they take, s of one processor."""
    print(f"| campaign | outings of {FOLLOWED} designs | foretold | taken | taken over foretold |\n|---|---|---|---|---|")
    for name in CAMPAIGNS:
        campaign = load_campaign(CONFIGS / f"{name}.yaml").model_copy(update={"outings": GROUP})
        work = Work(campaign, lay_out(campaign), list_conditions(campaign), workers=1)
        warm_up(campaign, work.designs, work.conditions)
        pace = measure_pace(campaign, work.designs, work.conditions)
        seconds = simulated(campaign, FOLLOWED) / (LANES * pace.batches)
        chosen = np.linspace(0, len(work.designs) - 1, FOLLOWED).astype(int).tolist()
        begun = time.process_time()
        table = pd.concat(fly_outings(work, chosen), ignore_index=True)
        see_failures(work, chosen, table)
        taken = time.process_time() - begun
        print(f"| {name} | {len(table)} | {seconds:.1f} s | {taken:.1f} s | {taken / seconds:.2f} |", flush=True)


def main() -> int:
    """Print a table; 1 if the promise is surely broken."""
    if sys.argv[1:] == ["foretold"]:
        foretold()
        return 0
    outings = int(sys.argv[1]) if len(sys.argv) > 1 else OUTINGS
    print(f"Groups of {GROUP}; truth of {outings} outings; {SHORT} short flights.\n")
    print(
        f"| craft | {GROUP} counted | truth | intervals that hold it | width | short flights clean | so supposed | "
        "first to fail | processor |"
    )
    print("|---|---|---|---|---|---|---|---|---|")
    held = groups = 0
    with tempfile.TemporaryDirectory() as folder:
        for name in CASES:
            found = measure(name, outings, Path(folder))
            held, groups = held + found.held, groups + found.groups
            print(
                f"| {name} | {found.counted} | {found.truth:.3f} | {found.held} of {found.groups} | {found.width:.2f} | "
                f"{found.short:.3f} | {found.supposed:.3f} | {found.first} | {found.processor:.0f} s |",
                flush=True,
            )
    share = stats.binomtest(held, groups).proportion_ci(0.95, method="exact")
    print(f"\nAll: {held} of {groups} hold the truth ({share.low:.2f} to {share.high:.2f}); promised {PROMISED}.")
    return int(share.high < PROMISED)


if __name__ == "__main__":
    sys.exit(main())

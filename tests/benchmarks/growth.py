"""How the cost of flights grows: with workers, and with designs up to ten thousand.

    python -m tests.benchmarks.growth

Two speeds, twelve conditions, short flights, drawn, packed, flown and streamed as a run does it; nothing is ranked. Workers by
the clock, which means something on a machine that does nothing else; designs by processor time.
"""

from __future__ import annotations

import resource
import tempfile
import time
from pathlib import Path

import joblib

from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out
from sweep.flying import flights
from sweep.flying.work import Work
from sweep.results.shard_plan import plan_shards

CRAFT = Path(__file__).parents[2] / "configs" / "craft" / "courier.yaml"
LENGTH = 4.0
CAMPAIGN = """\
title: Many short flights
craft: {craft}
factors:
  foils.*.area: {{from: 40 cm^2, to: 60 cm^2}}
  struts.height: {{from: 16 cm, to: 22 cm}}
plan: {{kind: latin-hypercube, designs: {designs}, seed: 1}}
conditions:
  seas: {{chop: {{kind: jonswap, height: [3 cm, 6 cm], period: 1.2 s}}}}
  headings: [head, quartering, following]
  speeds: [4 m/s, 5 m/s]
  replicates: 1
flight: {{length: {length} s, settle: 1 s, seed: 1}}
"""


def campaign_of(designs: int) -> Campaign:
    """So many designs in twelve conditions."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "many.yaml"
        path.write_text(CAMPAIGN.format(craft=CRAFT, designs=designs, length=LENGTH), encoding="utf-8")
        return load_campaign(path)


def fly(designs: int, workers: int) -> tuple[int, float, float]:
    """Flights, and the seconds that they took by the clock and of processor."""
    campaign = campaign_of(designs)
    table, conditions = lay_out(campaign), list_conditions(campaign)
    flights.warm_up(campaign, table, conditions)
    begun, spent = time.perf_counter(), time.process_time()
    plan = plan_shards(len(table), len(conditions), campaign.replicates)
    flown = sum(len(rows) for _, rows in flights.fly_shards(Work(campaign, table, conditions, workers), plan))
    return flown, time.perf_counter() - begun, time.process_time() - spent


def main() -> None:
    """Measure and print."""
    print(f"{'workers':>8}{'flights':>9}{'by the clock':>14}{'times one':>11}")
    alone = 0.0
    for workers in range(1, joblib.cpu_count() + 1):
        flown, clock, _ = fly(511, workers)
        alone = alone or flown / clock
        print(f"{workers:8}{flown:9}{clock:12.1f} s{flown / clock / alone:11.2f}")
    print(f"\n{'designs':>8}{'flights':>9}{'processor':>14}{'a flight':>11}{'peak memory':>14}")
    for designs in (624, 2499, 9999):
        flown, _, spent = fly(designs, 1)
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
        print(f"{designs + 1:8}{flown:9}{spent:12.1f} s{1e3 * spent / flown:8.2f} ms{peak:11} MB")


if __name__ == "__main__":
    main()

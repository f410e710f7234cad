"""A search against a plain refinement and a race: `python -m tests.benchmarks.search [seeds] [flights] [crafts]`.

Nine factors of two shipped crafts, short flights in few conditions. Each seed searches with so many flights in all, refines
plainly with as many, and races a Sobol plan of as many; what each takes for the best is flown again in waves that none has met,
beside the best of a long search with five times the flights. Told are the gain over the base craft in shares of the largest
found, and the processor time of each. The plain refinement halves a Sobol sample twice in every round, and takes the next one
from a box of two thirds the width about the best.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd

from sweep.campaign.budget import Budget
from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out, sobol_points
from sweep.campaign.plan import CARRIED, Search
from sweep.campaign.search_plan import axes_of, final_blocks, purse_of, round_blocks, with_points
from sweep.flying.flights import fly_shards, warm_up
from sweep.flying.work import Work
from sweep.insight.race import Purse, Race
from sweep.insight.scores import Scoring
from sweep.insight.search import Floats
from sweep.insight.search import Search as Searched
from sweep.results.shard_plan import Shard

CRAFTS = Path(__file__).parents[2] / "configs" / "craft"
FRESH, FIRST_FRESH, LONGER = 40, 9000, 5
ROUNDS, FINALISTS, NARROWER = 6, 16, 0.65
RESULT = (
    "{craft:9s} seed {seed} {way:11s} {flights:6d} flights, {seconds:5.1f} s processor, score {score:.4f}, gain {share:5.1f} %"
)

COURIER = """\
title: Courier, nine factors
craft: {crafts}/courier.yaml
water: {{kind: fresh, temperature: 18 degC, depth: 4 m}}
factors:
  foils.*.area: {{from: 35 cm^2, to: 70 cm^2}}
  foils.*.aspect_ratio: {{from: 4, to: 9}}
  foils.aft.x: {{from: -50 cm, to: -30 cm}}
  struts.height: {{from: 15 cm, to: 28 cm}}
  servos.rate: {{from: 60 deg/s, to: 400 deg/s, spacing: log}}
  control.ride_height: {{from: 7 cm, to: 13 cm}}
  control.height.proportional: {{from: 0.05 deg/cm, to: 1.6 deg/cm, spacing: log}}
  control.pitch.proportional: {{from: 0.4 deg/deg, to: 2.5 deg/deg, spacing: log}}
  control.roll.proportional: {{from: 0.3 deg/deg, to: 2.5 deg/deg, spacing: log}}
plan: {{kind: search, designs: 1000}}
conditions:
  seas:
    chop: {{kind: jonswap, height: 5 cm, period: 1.1 s}}
    long-waves: {{kind: bretschneider, height: 9 cm, period: 1.8 s}}
  headings: [head, quartering, following]
  speeds: [4 m/s]
  replicates: 8
flight: {{length: 8 s, settle: 2 s, seed: 7}}
fly_on: none
limits: {{touchdowns: 60 /min, upsets: 50 %}}
score:
  ride_height_error: {{weight: 1.0, scale: 1 cm}}
  outside_window: {{weight: 1.0, scale: 5 %}}
  vertical_acceleration: {{weight: 0.5, scale: 1 m/s^2}}
  energy_per_metre: {{weight: 0.3, scale: 10 J/m}}
"""
SURVEYOR = """\
title: Surveyor, nine factors
craft: {crafts}/surveyor.yaml
water: {{kind: sea, temperature: 14 degC, depth: 8 m}}
factors:
  foils.*.area: {{from: 90 cm^2, to: 150 cm^2}}
  foils.*.aspect_ratio: {{from: 5, to: 9}}
  struts.height: {{from: 26 cm, to: 38 cm}}
  servos.rate: {{from: 60 deg/s, to: 400 deg/s, spacing: log}}
  control.ride_height: {{from: 12 cm, to: 20 cm}}
  control.corner: {{from: 1.5 rad/s, to: 8 rad/s, spacing: log}}
  control.height.proportional: {{from: 0.1 deg/cm, to: 0.8 deg/cm, spacing: log}}
  control.pitch.proportional: {{from: 0.4 deg/deg, to: 2.5 deg/deg, spacing: log}}
  control.roll.proportional: {{from: 0.3 deg/deg, to: 2.5 deg/deg, spacing: log}}
plan: {{kind: search, designs: 1000}}
conditions:
  seas:
    breeze: {{kind: wind, speed: 6 m/s, fetch: 1.5 km}}
    swell: {{kind: bretschneider, height: 16 cm, period: 2.6 s, spreading: 25}}
  headings: [head, quartering, following]
  speeds: [7 m/s]
  replicates: 8
flight: {{length: 8 s, settle: 2 s, seed: 11}}
fly_on: none
limits: {{touchdowns: 60 /min, upsets: 50 %}}
score:
  ride_height_error: {{weight: 1.0, scale: 4 cm}}
  outside_window: {{weight: 1.0, scale: 5 %}}
  vertical_acceleration: {{weight: 1.5, scale: 1 m/s^2}}
  roll_rms: {{weight: 0.5, scale: 2 deg}}
  energy_per_metre: {{weight: 0.5, scale: 50 J/m}}
"""
TEXTS = {"courier": COURIER, "surveyor": SURVEYOR}


class Found(NamedTuple):
    """What a way took for the best: its point, how many flights it flew, and the seconds of a processor."""

    way: str
    seed: int
    point: Floats
    flights: int
    seconds: float


def campaign_of(craft: str, folder: Path) -> Campaign:
    """The campaign of a shipped craft."""
    path = folder / f"{craft}.yaml"
    path.write_text(TEXTS[craft].format(crafts=CRAFTS))
    return load_campaign(path)


def with_seed(campaign: Campaign, seed: int, flights: int) -> Campaign:
    """The campaign's search of so many flights, other waves and other samples for each seed."""
    return campaign.model_copy(
        update={
            "plan": Search(kind="search", seed=seed),
            "flight": campaign.flight.model_copy(update={"seed": 1000 + seed}),
            "budget": Budget(simulated=f"{flights * campaign.flight.length:.0f} s"),
        }
    )


def flights_of(campaign: Campaign) -> int:
    """What the budget of a campaign pays for."""
    assert campaign.budget is not None
    assert campaign.budget.simulated is not None
    return round(campaign.budget.simulated / campaign.flight.length)


def search(campaign: Campaign) -> tuple[Floats, int]:
    """The best point of a search, flown as a run flies it, but in memory as the others are."""
    conditions, found = len(list_conditions(campaign)), Searched(axes_of(campaign), campaign.plan.seed)
    purse, flown = purse_of(campaign, conditions, flights_of(campaign)), 0
    for number, size in enumerate(purse.sizes):
        carried, points = np.sort(found.best(CARRIED)), found.next_points(size)
        scores = scores_of(
            campaign, np.concatenate((found.points[carried], points)), list(round_blocks(campaign, conditions, number))
        )
        found.add(points, carried, scores[1:].mean(axis=1))
        flown += scores.size
    points = found.points[found.best(purse.finalists)]
    scores = scores_of(campaign, points, list(final_blocks(campaign, conditions)))
    return points[scores[1:].mean(axis=1).argmin()], flown + scores.size


def race(campaign: Campaign) -> tuple[Floats, int]:
    """The best point of a race over a Sobol plan, of which each design could fly a dozen blocks for the same flights."""
    conditions, count = list_conditions(campaign), 1 << (flights_of(campaign) // 12 - 1).bit_length()
    points = sobol_points(count, len(campaign.factors), np.random.default_rng(campaign.plan.seed))
    designs, length = lay_out(with_points(campaign, points.tolist())), campaign.flight.length
    found = Race(campaign, len(designs), [each.name for each in conditions], Purse(flights_of(campaign) * length, length))
    flown = 0
    while heat := found.next_heat():
        work = Work(campaign, designs.iloc[heat.designs], conditions, 1)
        shards = [Shard(number, *block, 0, len(heat.designs)) for number, block in enumerate(heat.blocks)]
        rows = pd.concat([part for _, part in fly_shards(work, shards)], ignore_index=True)
        found.add(heat, rows.assign(design=heat.designs[rows["design"].to_numpy()]))
        flown += len(rows)
    return points[found.leader()[0] - 1], flown


def scores_of(campaign: Campaign, points: Floats, blocks: list[tuple[int, int]]) -> Floats:
    """Scores of the base craft and of points in some blocks, (1 + points, blocks)."""
    laid = with_points(campaign, points.tolist())
    designs, scoring = lay_out(laid), Scoring.of(laid)
    shards = [Shard(number, *block, 0, len(designs)) for number, block in enumerate(blocks)]
    found = np.empty((len(designs), len(blocks)))
    for shard, rows in fly_shards(Work(campaign, designs, list_conditions(campaign), 1), shards):
        found[rows["design"], shard.number] = scoring.points(rows)
    return found


def refine(campaign: Campaign) -> tuple[Floats, int]:
    """The best point of a plain refinement."""
    flights, conditions = flights_of(campaign), len(list_conditions(campaign))
    factors, draws = len(campaign.factors), np.random.default_rng(campaign.plan.seed)
    low, width, kept, flown = np.zeros(factors), np.ones(factors), np.empty((0, factors)), 0
    final = final_blocks(campaign, conditions)
    each = int((flights - (FINALISTS + 1) * len(final)) / (ROUNDS * conditions * 1.45))
    for number in range(ROUNDS):
        points = np.concatenate((kept, low + width * sobol_points(each - len(kept), factors, draws)))
        sums = np.zeros(0)
        for heat, share in enumerate((1, 3, 8)):  # all, a third of them, an eighth
            points = points[np.argsort(sums, kind="stable")[: each // share]] if heat else points
            sums = np.sort(sums, kind="stable")[: each // share] if heat else np.zeros(len(points))
            blocks = [(condition, 100 + 3 * number + heat) for condition in range(conditions)]
            scores = scores_of(campaign, points, blocks)
            sums, flown = sums + scores[1:].mean(axis=1), flown + scores.size
        points = points[np.argsort(sums, kind="stable")]
        kept = points[: FINALISTS // 2]
        width = NARROWER * width
        low = np.clip(kept.mean(axis=0) - width / 2.0, 0.0, 1.0 - width)
    scores = scores_of(campaign, points[:FINALISTS], list(final))
    return points[scores[1:].mean(axis=1).argmin()], flown + scores.size


WAYS: dict[str, Callable[[Campaign], tuple[Floats, int]]] = {"search": search, "refinement": refine, "race": race}


def timed(way: str, campaign: Campaign, seed: int) -> Found:
    """What a way finds, and what it takes."""
    begun = time.process_time()
    point, flights = WAYS[way.removeprefix("long ")](campaign)
    return Found(way, seed, point, flights, time.process_time() - begun)


def judge(craft: str, campaign: Campaign, found: list[Found]) -> pd.DataFrame:
    """Fly what was found in fresh waves and print it, in shares of the largest gain."""
    conditions = range(len(list_conditions(campaign)))
    blocks = [(condition, FIRST_FRESH + replicate) for condition in conditions for replicate in range(FRESH)]
    scores = scores_of(campaign, np.array([each.point for each in found]), blocks).mean(axis=1)
    gains = scores[0] - scores[1:]
    rows = []
    for each, score, gain in zip(found, scores[1:], gains, strict=True):
        rows.append(
            {
                "craft": craft,
                "seed": each.seed,
                "way": each.way,
                "flights": each.flights,
                "seconds": each.seconds,
                "score": score,
                "share": 100.0 * gain / gains.max(),
            }
        )
        print(RESULT.format(**rows[-1]), flush=True)
    return pd.DataFrame(rows)


def main(seeds: int, flights: int, crafts: list[str], ways: list[str]) -> None:
    """Fly, judge, print."""
    tables = []
    with tempfile.TemporaryDirectory() as place:
        for craft in crafts:
            campaign = campaign_of(craft, Path(place))
            warm_up(campaign, lay_out(campaign), list_conditions(campaign))
            sobol_points(1, 1, np.random.default_rng(0))  # a second of imports, which the first way alone would pay
            found = [timed(way, with_seed(campaign, seed, flights), seed) for seed in range(1, seeds + 1) for way in ways]
            found.append(timed("long search", with_seed(campaign, 99, LONGER * flights), 99))
            tables.append(judge(craft, campaign, found))
    table = pd.concat(tables)
    told = {"share": ["mean", "min"], "seconds": "mean", "flights": "mean"}
    print(table.groupby(["craft", "way"]).agg(told).round(1))


if __name__ == "__main__":
    main(
        int(sys.argv[1]) if len(sys.argv) > 1 else 5,
        int(sys.argv[2]) if len(sys.argv) > 2 else 9000,
        sys.argv[3].split(",") if len(sys.argv) > 3 else list(TEXTS),
        sys.argv[4].split(",") if len(sys.argv) > 4 else list(WAYS),
    )

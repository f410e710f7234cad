"""A race against the full answer: `python -m tests.benchmarks.racing [folder] [seeds] [stored]`.

Flies everything of `configs/courier-race.yaml` once (49 248 flights, some minutes), then races for a tenth of its simulated
seconds with other waves and another order of blocks for every seed, flown each time; with `stored` over the rows of the full
answer instead. A race hits if its first design is level with the best in the full answer. Regret: the winner's score less that
of the full answer's best, both flown again in waves that neither has met, against the spread of the top tenth of the full
answer. What the folder holds already is not flown again.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd

from sweep.campaign.budget import Budget
from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out
from sweep.flying.flights import fly_shards
from sweep.flying.race_run import fly_race
from sweep.flying.work import Work
from sweep.insight.race import Purse, Race
from sweep.insight.rank import rank_flights, wanted_columns
from sweep.insight.scores import Scoring
from sweep.results import store
from sweep.results.claim import begin
from sweep.results.shard_plan import Shard
from sweep.workflow import run

CONFIG = Path(__file__).parents[2] / "configs" / "courier-race.yaml"
SHARE, FRESH, FIRST_SEED = 0.1, 24, 1000


def with_seed(campaign: Campaign, seed: int) -> Campaign:
    """The same campaign in other waves."""
    return campaign.model_copy(update={"flight": campaign.flight.model_copy(update={"seed": seed})})


def race(campaign: Campaign, folder: Path) -> tuple[int, float]:
    """The first design of a race in a folder of its own, and the simulated seconds that it flew."""
    designs, conditions = lay_out(campaign), list_conditions(campaign)
    folder.mkdir(parents=True, exist_ok=True)
    begin(folder, campaign, designs, conditions)
    found = fly_race(Work(campaign, designs, conditions), folder)
    names = [condition.name for condition in conditions]
    parts = store.read_shards(folder, wanted_columns(campaign))
    standings = rank_flights(campaign, parts, names, len(designs), found.dropped()).standings
    return int(standings["design"].iloc[0]), store.count_flights(folder) * campaign.flight.length


def race_stored(campaign: Campaign, results: store.Results, seconds: float) -> tuple[int, float]:
    """As `race`, over the rows of the full answer in another order of blocks: cheap, but in the waves that judge it."""
    designs, names = len(results.designs), list(results.conditions["name"])
    rows = results.flights.sort_values(["design", "condition", "replicate"], ignore_index=True)
    place = np.arange(len(rows)).reshape(designs, len(names), campaign.replicates)
    draws = np.random.default_rng(campaign.flight.seed)
    swapped = np.array([draws.permutation(campaign.replicates) for _ in names])
    found = Race(campaign, designs, names, Purse(seconds, campaign.flight.length))
    kept = []
    while heat := found.next_heat():
        conditions, replicates = np.array(heat.blocks).T
        taken = place[heat.designs][:, conditions, swapped[conditions, replicates]].ravel()
        kept.append(rows.iloc[taken].assign(replicate=np.tile(replicates, len(heat.designs))))
        found.add(heat, kept[-1])
    standings = rank_flights(campaign, kept, names, designs, found.dropped()).standings
    return int(standings["design"].iloc[0]), sum(map(len, kept)) * campaign.flight.length


def fly_again(campaign: Campaign, chosen: list[int]) -> pd.Series:
    """Mean score of some designs over fresh replicates, by design."""
    designs, conditions = lay_out(campaign).loc[chosen], list_conditions(campaign)
    replicates = range(campaign.replicates, campaign.replicates + FRESH)
    shards = [Shard(0, condition.index, replicate, 0, len(chosen)) for condition in conditions for replicate in replicates]
    rows = pd.concat([part for _, part in fly_shards(Work(campaign, designs, conditions), shards)])
    scores = pd.Series(Scoring.of(campaign).some(np.array(chosen)).points(rows), index=np.array(chosen)[rows["design"]])
    return scores.groupby(level=0).mean()


def main(folder: Path, seeds: int, stored: bool) -> None:
    """Fly, race, print."""
    campaign = load_campaign(CONFIG).model_copy(update={"budget": None})
    full = run(campaign, folder / "full")
    level = set(full.standings.loc[full.standings["may_be_best"], "design"])
    best = int(full.standings["design"].iloc[0])
    kept = full.standings[full.standings["verdict"] != "broken"]["score"].sort_values().to_numpy()
    spread = float(kept[len(kept) // 10] - kept[0])
    everything = len(full.designs) * len(full.conditions) * campaign.replicates * campaign.flight.length
    print(f"full answer: design {best}, {len(level)} level with it: {sorted(level)}; top tenth spreads over {spread:.3f}")
    budget = Budget(simulated=f"{SHARE * everything:.0f} s")
    found = []
    for seed in range(FIRST_SEED, FIRST_SEED + seeds):
        other = with_seed(campaign, seed).model_copy(update={"budget": budget})
        winner, seconds = race_stored(other, full, SHARE * everything) if stored else race(other, folder / f"race-{seed}")
        found.append((seed, winner, seconds / everything))
        hit = winner in level
        print(
            f"seed {seed}: design {winner}, {'level' if hit else 'NOT level'}, {100 * seconds / everything:.1f} % flown",
            flush=True,
        )
    winners = sorted({winner for _, winner, _ in found} | {best})
    fresh = fly_again(with_seed(campaign, FIRST_SEED - 1), winners)
    regret = np.array([fresh[winner] - fresh[best] for _, winner, _ in found])
    hits = sum(winner in level for _, winner, _ in found)
    print(f"{hits} of {seeds} races end in a level design; at most {100 * max(share for *_, share in found):.1f} % flown")
    print(f"regret: mean {regret.mean():.4f}, most {regret.max():.4f}, against {0.1 * spread:.4f}, a tenth of the spread")


if __name__ == "__main__":
    place = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(tempfile.mkdtemp())
    main(place, int(sys.argv[2]) if len(sys.argv) > 2 else 20, "stored" in sys.argv[3:])

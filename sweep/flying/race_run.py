"""A race into a results folder, heat by heat; each heat is shards, which a resumed run finds again.

The heats follow from the rows, so that a resumed run takes the same decisions from the shards that are there.
"""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path

import joblib
import numpy as np
import pandas as pd

from sweep.flying.completion import complete_shards
from sweep.flying.flights import measure_pace, warm_up
from sweep.flying.work import Work
from sweep.insight.race import Heat, Purse, Race
from sweep.linear.screening import screen
from sweep.model.compiled import LANES
from sweep.results import store
from sweep.results.fingerprint import Keys
from sweep.results.identity import flown_keys
from sweep.results.manifest import RaceBudget, note_kept, note_run, read_manifest, write_manifest
from sweep.results.reuse import Earlier
from sweep.results.shard_plan import DESIGNS_A_SHARD, Shard

FLYING_SHARE = 0.8
"""Share of a budget in clock time that flights get, beside packing, decisions and the site (judgement)."""


def fly_race(work: Work, folder: Path) -> Race:
    """Fly the rest of a campaign's race, to its end, and write which designs dropped out."""
    campaign, designs, conditions, workers, watcher = work
    keys = flown_keys(folder)
    sound, aside = store.sound_shards(folder, keys)
    for name, why in aside.items():
        watcher.say(f"{folder / 'flights' / name} was {why}: set aside, and flown again.")
    warm_up(campaign, designs, conditions)
    purse = _purse(work, folder)
    watcher.say(f"A race of {len(designs)} designs for {purse.seconds:.0f} simulated seconds.")
    race = Race(campaign, len(designs), [condition.name for condition in conditions], purse, screen(campaign, designs, workers))
    number, begun, fresh, kept, earlier = 0, time.monotonic(), 0, 0, Earlier(folder)
    watcher.begin(round(purse.seconds / purse.flight), 0, purse.flight)
    while heat := race.next_heat():
        shards = heat_shards(heat, number)
        number += len(shards)
        held = {shard.number for shard in shards if shard.number in sound and _is_flown(folder, keys, shard, heat)}
        missing = [shard for shard in shards if shard.number not in held]
        parts = [store.read_shard(folder, number) for number in sorted(held)]
        watcher.flown(sum(map(len, parts)))
        known = earlier.count(missing, heat.designs)
        watcher.flown(known)
        racers, kept = work._replace(designs=designs.iloc[heat.designs]), kept + known
        for shard, rows in complete_shards(racers, missing, earlier):
            parts.append(rows)
            store.add_shard(folder, shard.number, rows, keys.of_rows(rows))
            fresh += shard.flights
        race.add(heat, pd.concat(parts, ignore_index=True))
        watcher.best(*race.leader())
    watcher.end()
    store.drop_shards(folder, number)
    if kept:
        watcher.say(f"Of the flights of the race {kept} are kept from an earlier campaign of this folder.")
        note_kept(folder, kept)
    if fresh > kept:
        note_run(folder, fresh - kept, time.monotonic() - begun)
    made_from = store.grown_digest(read_manifest(folder))
    store.write_table(folder, "dropped", race.dropped(), made_from)
    store.write_table(folder, "rounds", race.rounds(), made_from)
    return race


def _is_flown(folder: Path, keys: Keys, shard: Shard, heat: Heat) -> bool:
    """Whether the folder's shard of this number holds these designs of the heat."""
    wanted = keys.of_flights(shard.condition, shard.replicate, heat.designs[shard.first : shard.last])
    return store.shard_digest(folder, shard.number) == wanted


def heat_shards(heat: Heat, number: int) -> list[Shard]:
    """The shards of a heat, numbered from `number` on; `first` and `last` count among its designs."""
    count = len(heat.designs)
    ranges = [(first, min(first + DESIGNS_A_SHARD, count)) for first in range(0, count, DESIGNS_A_SHARD)]
    places = [(*block, *part) for part in ranges for block in heat.blocks]
    return [Shard(number + at, *place) for at, place in enumerate(places)]


def _purse(work: Work, folder: Path) -> Purse:
    """What the race may spend: as the manifest has it, or for the first time, and then noted there."""
    campaign, designs, conditions, workers, _ = work
    manifest, budget = read_manifest(folder), campaign.budget
    assert budget is not None
    race = manifest.race
    if race is None:
        seconds, batch = budget.simulated, 1
        if seconds is None:
            assert budget.clock is not None
            rate = measure_pace(campaign, designs, conditions).batches * LANES * joblib.effective_n_jobs(workers or -1)
            # A design that cannot be flown gives no pace; then the budget is one flight of each.
            seconds, batch = float(np.nan_to_num(round(FLYING_SHARE * budget.clock * rate))), LANES
        race = RaceBudget(seconds, batch)
        write_manifest(folder, replace(manifest, race=race))
    return Purse(race.simulated_seconds, campaign.flight.length, race.charged_together)

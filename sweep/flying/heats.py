"""Heats flown into a results folder: some designs through some blocks, in shards that a resumed run finds again."""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

from sweep.flying.clock import Clock, trim_tail
from sweep.flying.completion import complete_shards
from sweep.flying.work import Work
from sweep.insight.race import Heat
from sweep.results import store
from sweep.results.claim import grow
from sweep.results.fingerprint import Keys
from sweep.results.identity import flown_keys
from sweep.results.journal import END, Decision, Journal, decision_shards, read_journal, write_journal
from sweep.results.manifest import note_kept, note_run
from sweep.results.reuse import Earlier
from sweep.results.shard_plan import Shard


class Heats:
    """The heats of a folder, by number of their shards; those of the journal come first.

    work: what they are flights of. clock: of the run, which learns from every heat. held: numbers of the shards that the folder
    has; number: the next one.
    """

    def __init__(self, work: Work, folder: Path, held: set[int], number: int = 0, clock: Clock | None = None) -> None:
        self.work, self._folder, self._held, self.number, self.clock = work, folder, held, number, clock
        self._keys: Keys = flown_keys(folder)
        self._journal: Journal = read_journal(folder)
        self._decided = list(self._journal.decisions)
        self._earlier, self._kept, self._fresh, self._begun = Earlier(folder), 0, 0, time.monotonic()

    @property
    def replays(self) -> bool:
        """Whether the journal holds decisions that have not been taken again."""
        return bool(self._decided)

    def next_of(self, stage: str) -> Decision | None:
        """The next decision of the journal, if it is of this stage."""
        return self._decided.pop(0) if self._decided and self._decided[0].stage == stage else None

    def left_of(self, stage: str) -> list[Decision]:
        """The decisions of a stage that have not been taken again, where nothing comes before them."""
        return list(self._decided) if all(each.stage == stage for each in self._decided) else []

    def decide(self, decision: Decision) -> Decision:
        """Keep a decision in the journal, before it is flown."""
        decision = replace(decision, elapsed=round(self.clock.elapsed, 1) if self.clock else None)
        self._journal = replace(self._journal, decisions=(*self._journal.decisions, decision))
        write_journal(self._folder, self._journal)
        return decision

    def grow(self, work: Work) -> None:
        """Go on with more designs, which a decision of the journal has brought."""
        grow(self._folder, work.campaign, work.designs, work.conditions)
        self.work, self._keys, self._earlier = work, flown_keys(self._folder), Earlier(self._folder)

    @property
    def ended(self) -> str:
        """Why nothing more of the designs is flown; empty before that is decided."""
        return next((each.why for each in self._journal.of(END)), "")

    def end(self, why: str) -> None:
        """Decide that nothing more is flown, unless the journal has it."""
        if self.next_of(END) is None:
            if self.clock:
                trim_tail(self.clock, self._folder)
            self.decide(Decision(END, why))

    def fly(self, heat: Heat) -> pd.DataFrame:
        """The rows of a heat: those that the folder holds, or an earlier campaign has, and the others flown."""
        work, folder = self.work, self._folder
        shards = decision_shards(heat.designs.tolist(), heat.blocks, self.number)
        self.number += len(shards)
        held = [shard for shard in shards if shard.number in self._held and self._is_held(shard, heat)]
        missing = [shard for shard in shards if shard not in held]
        parts = [store.read_shard(folder, shard.number) for shard in held]
        known = self._earlier.count(missing, heat.designs)
        work.watcher.flown(sum(map(len, parts)) + known)
        begun = time.monotonic()
        flown = sum(shard.flights for shard in missing)
        for shard, rows in complete_shards(work._replace(designs=work.designs.iloc[heat.designs]), missing, self._earlier):
            parts.append(rows)
            store.add_shard(folder, shard.number, rows, self._keys.of_rows(rows))
        self._kept, self._fresh = self._kept + known, self._fresh + flown - known
        if self.clock:
            simulated = (flown - known) * work.campaign.flight.length
            self.clock.learn(simulated, time.monotonic() - begun)
            self.clock.shards = self.number
        return pd.concat(parts, ignore_index=True)

    def _is_held(self, shard: Shard, heat: Heat) -> bool:
        """Whether the folder's shard of this number holds these designs of the heat; its rows are in their order."""
        wanted = self._keys.of_flights(shard.condition, shard.replicate, np.sort(heat.designs[shard.first : shard.last]))
        return store.shard_digest(self._folder, shard.number) == wanted

    def note(self, what: str) -> None:
        """Note in the manifest what has been flown and kept since the last note; what: the flights, for a person."""
        if self._kept:
            self.work.watcher.say(f"Of {what} {self._kept} are kept from an earlier campaign of this folder.")
            note_kept(self._folder, self._kept)
        if self._fresh:
            note_run(self._folder, self._fresh, time.monotonic() - self._begun)
        self._kept, self._fresh, self._begun = 0, 0, time.monotonic()

    def close(self) -> None:
        """The folder has no shards beyond those of its heats."""
        store.drop_shards(self._folder, self.number)


def heat_of(decision: Decision, number: int) -> Heat:
    """The heat that a decision stands for."""
    return Heat(number, np.array(decision.designs, dtype=np.int64), decision.blocks)

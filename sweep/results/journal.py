"""The journal of a results folder: each decision on what to fly next, kept before it is flown.

A run that is resumed takes the decisions of the journal as they stand; only what it decides anew looks at the clock. The
journal carries the digest of the campaign whose flights it is about, and says which flights the folder holds beside the
planned ones.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from sweep.results.fingerprint import Keys, digest
from sweep.results.manifest import Manifest, as_note, from_note, read_manifest, shape_of
from sweep.results.plain_files import StoreError, read_plain, write_whole
from sweep.results.shard_plan import DESIGNS_A_SHARD, Shard, plan_shards
from sweep.results.values import read_note, wrong_shape

JOURNAL = "journal.json"
RACE, SEARCH, FINAL, ENDS = "race", "search", "final", "ends"
SETTLED, END, CHANGES = "settle", "end", "changes"
STAGES = (RACE, SEARCH, FINAL, ENDS, SETTLED, END, CHANGES)
MOST_REPLICATES = 20_000
"""No number of a replicate is larger (judgement): a campaign may have half as many of its own."""


@dataclass(frozen=True)
class Decision:
    """What is flown next: these designs through these blocks (condition, replicate); why, for a person.

    stage: one of `STAGES`: `END` where no more of the designs are flown, `CHANGES` of the leader after that. elapsed: time on
    the clock so far, s, where a clock counts. points: of the designs that a search has made for it, the last ones of `designs`,
    as `Campaign.searched` has them.
    """

    stage: str
    why: str
    designs: tuple[int, ...] = ()
    blocks: tuple[tuple[int, int], ...] = ()
    elapsed: float | None = None
    points: tuple[tuple[float, ...], ...] = ()

    @property
    def flights(self) -> int:
        """Its number of flights."""
        return len(self.designs) * len(self.blocks)


@dataclass(frozen=True)
class Journal:
    """All decisions in their order; made_from: digest of what the flights depend on."""

    made_from: str
    decisions: tuple[Decision, ...] = ()

    def of(self, stage: str) -> tuple[Decision, ...]:
        """The decisions of one stage."""
        return tuple(each for each in self.decisions if each.stage == stage)

    @property
    def points(self) -> tuple[tuple[float, ...], ...]:
        """All designs of a search that are decided so far."""
        return tuple(point for each in self.decisions for point in each.points)


SHAPE = {
    "made_from": str,
    "decisions?": [
        {
            "stage": str,
            "why": str,
            "designs?": [int],
            "blocks?": [[int]],
            "elapsed?": (float, None),
            "points?": [[float]],
        }
    ],
}
assert shape_of(Decision).keys() == SHAPE["decisions?"][0].keys()  # type: ignore[index]


def read_journal(folder: Path) -> Journal:
    """The journal of a folder, an empty one if there is none; raises StoreError for one that no run has written there."""
    manifest = read_manifest(folder)
    made_from = journal_digest(manifest)
    try:
        note = read_note(read_plain(folder / JOURNAL))
        if not (wrong := wrong_shape(note, SHAPE)):
            journal = from_note(Journal, note)
            wrong = "" if journal.made_from == made_from else "it tells of other flights"
            wrong = wrong or next(_wrong(journal, manifest), "")
    except FileNotFoundError:
        return Journal(made_from)
    except ValueError as error:
        wrong = str(error).splitlines()[0]
    if wrong:
        raise StoreError(
            f"{folder / JOURNAL}: cannot be read ({wrong}). Delete it: `foilsweep run` with its campaign decides anew what to "
            "fly, and keeps the flights that are the same."
        )
    return journal


def _wrong(journal: Journal, manifest: Manifest) -> Iterator[str]:
    known = max(manifest.designs, 1 + len(journal.points))  # a search's decision is written before its designs
    for at, each in enumerate(journal.decisions):
        pairs = all(len(block) == 2 for block in each.blocks)
        if each.stage not in STAGES:
            yield f"decisions[{at}].stage: found {each.stage!r}, wanted one of {', '.join(STAGES)}"
        elif any(not 0.0 <= share <= 1.0 for point in each.points for share in point):
            yield f"decisions[{at}].points: wanted shares from 0 to 1"
        elif not pairs or len({*each.designs}) < len(each.designs) or len({*each.blocks}) < len(each.blocks):
            yield f"decisions[{at}]: wanted designs and blocks once each, a block as [condition, replicate]"
        elif any(design >= known for design in each.designs):
            yield f"decisions[{at}].designs: found {max(each.designs)}, wanted numbers under {known}"
        elif any(block[0] >= manifest.conditions or block[1] >= MOST_REPLICATES for block in each.blocks):
            yield f"decisions[{at}].blocks: wanted conditions under {manifest.conditions}, replicates under {MOST_REPLICATES}"


def journal_digest(manifest: Manifest) -> str:
    """The digest of what the decisions of a folder are about."""
    return digest(["journal", manifest.content])


def write_journal(folder: Path, journal: Journal) -> None:
    """Write the journal, whole."""
    write_whole(folder / JOURNAL, json.dumps(as_note(journal), ensure_ascii=False).encode())


def decision_shards(designs: Sequence[int], blocks: Sequence[tuple[int, int]], number: int) -> list[Shard]:
    """The shards of a decision, numbered from `number` on; `first` and `last` count among its designs."""
    count = len(designs)
    ranges = [(first, min(first + DESIGNS_A_SHARD, count)) for first in range(0, count, DESIGNS_A_SHARD)]
    places = [(*block, *part) for part in ranges for block in blocks]
    return [Shard(number + at, *place) for at, place in enumerate(places)]


def planned(manifest: Manifest, keys: Keys, journal: Journal) -> dict[int, str]:
    """The digest of the flights that each number of a shard stands for: of the sweep, and of what the journal says of settling.

    All but a race's are known before they fly.
    """
    shards = plan_shards(len(keys.designs), len(keys.conditions), manifest.replicates)
    found = {each.number: keys.of_flights(each.condition, each.replicate, range(each.first, each.last)) for each in shards}
    for decision in journal.of(SETTLED):
        for shard in decision_shards(decision.designs, decision.blocks, len(found)):
            some = sorted(decision.designs[shard.first : shard.last])
            found[shard.number] = keys.of_flights(shard.condition, shard.replicate, some)
    return found

"""Small changes of the leader, flown as planned or, where the clock ends the run, round by round while it leaves time."""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

import pandas as pd

from sweep.campaign.conditions import Condition
from sweep.campaign.designs import craft_of
from sweep.campaign.follow_up_plan import BLOCK, MOST_CHANGED_ON_CLOCK, Tail, changes_for, first_fresh, sample
from sweep.flying.clock import Clock
from sweep.flying.heats import Heats
from sweep.flying.variants import Variant, compared, fly_variants
from sweep.flying.work import Work
from sweep.results.journal import CHANGES, Decision

SHARE_A_ROUND = 0.6
"""Share of the time that is left for a round of changes (judgement): its pace tells what the rest leaves time for."""
MOST_A_ROUND = 32
"""Replicates of a round (judgement): what a kill may cost."""


class Round(NamedTuple):
    """Changes fly through each of these conditions with each of these replicates."""

    conditions: Sequence[Condition]
    replicates: Sequence[int]


def fly_changes(
    work: Work, leader: int, groups: Sequence[Sequence[Variant]], rounds: Iterable[Round]
) -> tuple[pd.DataFrame, list[Round]]:
    """What came of the groups of variants beside the leader, and the rounds that were flown."""
    flown: list[Round] = []
    rows: list[list[pd.DataFrame]] = [[] for _ in groups]
    for each in rounds:
        work.begin(_flights(groups) * len(each.conditions) * len(each.replicates))
        for parts, group in zip(rows, groups, strict=True):
            parts.append(fly_variants(work._replace(conditions=each.conditions), leader, group, each.replicates))
        work.watcher.end()
        flown.append(each)
    both = zip(rows, groups, strict=True)
    base = craft_of(work.campaign, work.designs.iloc[leader])
    tables = [compared(work.campaign, leader, group, pd.concat(part, ignore_index=True), base) for part, group in both if part]
    return pd.concat(tables, ignore_index=True) if tables else pd.DataFrame(), flown


def counted(rounds: Sequence[Round]) -> dict[str, int]:
    """In how many conditions all rounds fly, and with how many replicates together."""
    return {
        "conditions": len(rounds[0].conditions) if rounds else 0,
        "replicates": sum(len(each.replicates) for each in rounds),
    }


def known_rounds(work: Work, heats: Heats, tail: Tail) -> list[Round] | None:
    """All rounds, if they are known before any flies: as planned, or taken from a journal that ends them."""
    if heats.clock is None:
        fresh, met = first_fresh(work.campaign), sample(work.conditions, tail.changed)
        return [Round(met, range(fresh, fresh + tail.replicates))] if met else []
    decisions = heats.left_of(CHANGES)
    if not decisions or decisions[-1].blocks:
        return None
    for _ in decisions:
        heats.next_of(CHANGES)
    return [_round(work, each) for each in decisions[:-1]]


def _round(work: Work, decision: Decision) -> Round:
    of = {each.index: each for each in work.conditions}
    met = sorted({condition for condition, _ in decision.blocks})
    return Round([of[condition] for condition in met], sorted({replicate for _, replicate in decision.blocks}))


def timed_rounds(work: Work, heats: Heats, leader: int, groups: Sequence[Sequence[Variant]]) -> Iterator[Round]:
    """Rounds by the journal, and then by what time the clock leaves before the pages, until a decision flies none.

    All are in the conditions of the first.
    """
    clock, cost = heats.clock, _flights(groups) * work.campaign.flight.length + 2.0 * BLOCK
    flown = Round((), ())
    while clock is not None:
        if (decision := heats.next_of(CHANGES)) is None:
            decision = heats.decide(_next(work, clock, leader, cost, flown))
        if not decision.blocks:
            return
        begun, now = time.monotonic(), _round(work, decision)
        yield now
        flown = Round(now.conditions, [*flown.replicates, *now.replicates])
        clock.learn_later(len(decision.blocks) * cost, time.monotonic() - begun)


def _flights(groups: Sequence[Sequence[Variant]]) -> int:
    """Of a block: the leader flies beside each group."""
    return sum(len(group) + 1 for group in groups)


def _next(work: Work, clock: Clock, leader: int, cost: float, flown: Round) -> Decision:
    """The decision on the next round; cost: of a block, in simulated seconds."""
    left, pages = clock.last()
    why = f"{clock.left:.0f} s left, {pages:.0f} s of them for the pages"
    if flown.replicates:
        met, room = flown.conditions, min(MOST_CHANGED_ON_CLOCK - len(flown.replicates), MOST_A_ROUND)
        blocks = max(SHARE_A_ROUND * left, min(left, len(met) * cost)) / cost
        replicates = max(min(int(blocks / len(met)), room), 0)
    else:
        count, replicates = changes_for(SHARE_A_ROUND * left, len(work.conditions), cost, MOST_A_ROUND)
        met = sample(work.conditions, count)
    first = first_fresh(work.campaign) + len(flown.replicates)
    return Decision(CHANGES, why, (leader,), tuple((each.index, first + at) for each in met for at in range(replicates)))

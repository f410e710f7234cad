"""The leading designs fly on after the sweep or the race, until they are told apart, in heats that the journal holds."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd

from sweep.campaign.follow_up_plan import most_settled, settles, simulated
from sweep.flying.heats import Heats, heat_of
from sweep.flying.work import Work
from sweep.insight.good_enough import Flags
from sweep.insight.intervals import estimate
from sweep.insight.limits import LimitCounts, kept_so_far
from sweep.insight.rank import within
from sweep.insight.scores import Array, flight_scores
from sweep.insight.settling import Settling, blocks_for
from sweep.model.compiled import LANES
from sweep.results import store
from sweep.results.journal import SETTLED, Decision
from sweep.words.numbers import count

SHARE = 1.0
"""Simulated seconds of settling without a deadline, over those of the sweep (judgement)."""
HEAT_SHARE = 0.02
"""Share of the time on the clock that a heat may take (judgement): nobody looks at the clock within it."""
LARGEST = 50_000_000
"""Scores that are held at most (judgement): 400 MB."""


class Left(NamedTuple):
    """What settling may still spend, and in its next heat, in simulated seconds."""

    all: float
    heat: float


def settle(work: Work, folder: Path, heats: Heats, dropped: pd.DataFrame | None = None) -> None:
    """Fly the leading designs on, by the journal and then by new decisions; dropped: who left a race."""
    campaign, designs, conditions, _, watcher = work
    if not settles(campaign) and not heats.replays:
        if heats.clock:
            heats.end("the campaign asks for no more")
        heats.close()
        return
    counts = LimitCounts(campaign.limits, len(designs), len(conditions), evens=True)
    scores = _scores(work, folder, counts)
    share = within(campaign, estimate(scores).mean)
    state = Settling(scores, _most(work), campaign.flight.length, share)
    gone = np.zeros(len(designs), dtype=np.bool_)
    gone[dropped["design"].to_numpy(dtype=np.int64) if dropped is not None else []] = True
    spent, number = 0.0, 0
    watcher.say("The leading designs fly on, through fresh waves, until it is known which of them are good enough.")
    work.begin(round(_left(work, heats, 0.0).all / campaign.flight.length))
    while True:
        if decision := heats.next_of(SETTLED):
            state.flyers = np.array(decision.designs, dtype=np.int64)
        else:
            why, decision = _decide(work, heats, state, kept_so_far(counts) & ~gone, _left(work, heats, spent))
            if decision is None:
                heats.end(why)
                break
            heats.decide(decision)
        number += 1
        rows = heats.fly(heat_of(decision, number))
        counts.add(rows)
        _take(work, state, rows)
        spent += decision.flights * campaign.flight.length
    watcher.end()
    watcher.say(f"They have flown {count(number, 'round', 'rounds')} more: {why}.")
    heats.note("the flights of the leading designs")
    heats.close()


def _decide(work: Work, heats: Heats, state: Settling, eligible: Flags, left: Left) -> tuple[str, Decision | None]:
    """The next decision, or why there is none; eligible: designs that keep the limits by their own flights."""
    if heats.replays:
        return "as the journal has it", None
    if not settles(work.campaign):
        return "the campaign asks for no more", None
    some = state.look(eligible) if state.is_due else int(state.standing.open.sum())
    if not some:
        return "every design is known to be good enough, or not, or near enough to the margin", None
    state.choose(left.all)
    length, flyers = work.campaign.flight.length, len(state.flyers)
    paid = blocks_for(left.all, flyers, length, max(len(work.conditions), state.blocks // 2))
    if paid < 1:
        return f"what it may take is spent; {count(some, 'design is', 'designs are')} still open", None
    most = len(work.conditions) if heats.clock is None else paid
    blocks = state.next_blocks(max(min(paid, most, blocks_for(left.heat, flyers, length, paid)), 1))
    if not blocks:
        return f"no more replicates; {count(some, 'design is', 'designs are')} still open", None
    meets = {at: (each.speed, each.fault.name) for at, each in enumerate(work.conditions)}
    ordered = tuple(sorted(blocks, key=lambda block: (meets[block[0]], block)))
    why = f"{int(state.standing.open[state.flyers].sum())} open of {flyers} that fly on"
    return why, Decision(SETTLED, why, tuple(state.flyers.tolist()), ordered)


def _left(work: Work, heats: Heats, spent: float) -> Left:
    """What may still be spent: of the sweep's own simulated seconds, or of the time on the clock."""
    if heats.clock is None:
        return Left(SHARE * simulated(work.campaign, len(work.designs), len(work.conditions)) - spent, np.inf)
    clock = heats.clock
    piece = LANES * work.campaign.flight.length
    return Left(clock.simulated(max(clock.for_flights, 0.0)), max(clock.simulated(HEAT_SHARE * clock.seconds), piece))


def _most(work: Work) -> int:
    """Replicates that a condition may have in all."""
    room = LARGEST // (len(work.designs) * len(work.conditions))
    return work.campaign.replicates + min(most_settled(work.campaign), max(room - work.campaign.replicates, 1))


def _scores(work: Work, folder: Path, counts: LimitCounts) -> Array:
    """The scores of the flights before: the campaign's own replicates."""
    campaign = work.campaign
    scores = np.full((len(work.designs), len(work.conditions), campaign.replicates), np.nan)
    for rows in store.read_shards(folder):
        own = rows[rows["replicate"] < campaign.replicates]
        place = tuple(own[name].to_numpy() for name in ("design", "condition", "replicate"))
        scores[place] = flight_scores(own, campaign.score, campaign.flight.scored)
        counts.add(own)
    return scores


def _take(work: Work, state: Settling, rows: pd.DataFrame) -> None:
    place = tuple(rows[name].to_numpy(dtype=np.int64) for name in ("design", "condition", "replicate"))
    state.add(place, flight_scores(rows, work.campaign.score, work.campaign.flight.scored))

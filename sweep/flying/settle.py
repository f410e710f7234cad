"""The leading designs fly on after the sweep or the race, until they are told apart, in heats that the journal holds."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.campaign.follow_up_plan import most_settled, settles
from sweep.flying.heats import Heats, heat_of
from sweep.flying.work import Work
from sweep.insight.failing import FailureCounts, Failures
from sweep.insight.good_enough import Flags
from sweep.insight.intervals import estimate
from sweep.insight.limits import LimitCounts, kept_so_far
from sweep.insight.race import Race
from sweep.insight.rank import within
from sweep.insight.scores import Array, flight_scores
from sweep.insight.settling import Settling, blocks_for
from sweep.model.compiled import LANES
from sweep.model.quantities import FLEW
from sweep.results import store
from sweep.results.journal import SETTLED, Decision
from sweep.words.numbers import count

SHARE = 1.0
"""Simulated seconds of settling without a deadline, over those of the sweep (judgement)."""
HEAT_SHARE = 0.02
"""Share of the time on the clock that a heat may take (judgement): nobody looks at the clock within it."""
PLACE = ("design", "condition", "replicate")
LARGEST = 50_000_000
"""Scores that are held at most (judgement): 400 MB."""


class Counts(NamedTuple):
    """What is counted of all flights."""

    limits: LimitCounts
    failed: FailureCounts


class Known(NamedTuple):
    """What decisions look at beside the scores: designs that keep the limits by their own flights, and what failed."""

    eligible: Flags
    failures: Failures


class Left(NamedTuple):
    """What settling may still spend, and in its next heat, in simulated seconds."""

    all: float
    heat: float


def settle(work: Work, folder: Path, heats: Heats, race: Race | None = None) -> None:
    """Fly the leading designs on, by the journal and then by new decisions; race: the one before it."""
    campaign, designs, conditions, _, watcher = work
    if not settles(campaign) and not heats.replays:
        if heats.clock:
            heats.end("the campaign asks for no more")
        heats.close()
        return
    counts = Counts(
        LimitCounts(campaign.limits, len(designs), len(conditions), evens=True), FailureCounts(len(designs), len(conditions))
    )
    scores = _scores(work, folder, counts, race)
    share = within(campaign, estimate(scores).mean)
    state = Settling(scores, _most(work), campaign.flight.length, share)
    gone = np.zeros(len(designs), dtype=np.bool_)
    gone[race.dropped()["design"].to_numpy(dtype=np.int64) if race is not None else []] = True
    spent, number = race.spent if race is not None else 0.0, 0
    watcher.say("The leading designs fly on, through fresh waves, until it is known which of them are good enough.")
    work.begin(round(_left(work, heats, spent).all / campaign.flight.length))
    while True:
        if decision := heats.next_of(SETTLED):
            state.flyers = np.array(decision.designs, dtype=np.int64)
        else:
            known = Known(kept_so_far(counts.limits) & ~gone, counts.failed.failures(evens=True))
            why, decision = _decide(work, heats, state, known, _left(work, heats, spent))
            if decision is None:
                heats.end(why)
                break
            heats.decide(decision)
        number += 1
        state.add(*_told(work, heats.fly(heat_of(decision, number)), counts))
        spent += decision.flights * campaign.flight.length
    watcher.end()
    watcher.say(f"They have flown {count(number, 'round', 'rounds')} more: {why}.")
    heats.note("the flights of the leading designs")
    heats.close()


def _decide(work: Work, heats: Heats, state: Settling, known: Known, left: Left) -> tuple[str, Decision | None]:
    """The next decision, or why there is none."""
    if heats.replays:
        return "as the journal has it", None
    if not settles(work.campaign):
        return "the campaign asks for no more", None
    some = state.look(*known) if state.is_due else int(state.standing.open.sum())
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
    """What may still be spent: of the sweep's own simulated seconds, of a budget of them, or of the time on the clock."""
    if heats.clock is None:
        budget, flights = work.campaign.budget, len(work.designs) * len(work.conditions) * work.campaign.replicates
        whole = budget.simulated if budget and budget.simulated else SHARE * flights * work.campaign.flight.length
        return Left(max(whole - spent, 0.0), np.inf)
    clock = heats.clock
    piece = LANES * work.campaign.flight.length
    return Left(clock.simulated(max(clock.for_flights, 0.0)), max(clock.simulated(HEAT_SHARE * clock.seconds), piece))


def _most(work: Work) -> int:
    """Replicates that a condition may have in all."""
    room = LARGEST // (len(work.designs) * len(work.conditions))
    return work.campaign.replicates + min(most_settled(work.campaign), max(room - work.campaign.replicates, 1))


def _scores(work: Work, folder: Path, counts: Counts, race: Race | None) -> Array:
    """The scores of the flights before: the campaign's own replicates, or what a race flew of them."""
    scores = np.full((len(work.designs), len(work.conditions), work.campaign.replicates), np.nan)
    for rows in store.read_shards(folder):
        before = rows[rows["replicate"] < work.campaign.replicates]
        if race is not None:
            before = before[np.isfinite(race.scores[tuple(before[name] for name in PLACE)])]
        places, own = _told(work, before, counts)
        scores[places] = own
    return scores


def _told(work: Work, rows: pd.DataFrame, counts: Counts) -> tuple[tuple[NDArray[np.int64], ...], Array]:
    """Designs, conditions and replicates of flights, and their scores; all else goes into the counts."""
    places = tuple(rows[name].to_numpy(dtype=np.int64) for name in PLACE)
    scores = flight_scores(rows, work.campaign.score, work.campaign.flight.scored)
    counts.limits.add(rows)
    counts.failed.add(places, rows["status"].to_numpy() != FLEW, scores)
    return places, scores

"""The leading designs fly on after the sweep or the race, until they are told apart, in heats that the journal holds."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.campaign.follow_up_plan import SETTLED_SHARE, most_settled, settles, simulated
from sweep.campaign.plan import Search
from sweep.flying.heats import Heats, heat_of
from sweep.flying.work import Work
from sweep.insight.by_draw import by_draw, draws_in, replicates_of
from sweep.insight.failing import FailureCounts, Failures
from sweep.insight.good_enough import Flags
from sweep.insight.intervals import estimate
from sweep.insight.limits import LimitCounts, kept_so_far
from sweep.insight.race import Block, Race
from sweep.insight.rank import refused, wanted_columns, within
from sweep.insight.scores import Array, Scoring
from sweep.insight.settling import Settling, blocks_for
from sweep.model.compiled import LANES
from sweep.model.quantities import FLEW
from sweep.results import store
from sweep.results.journal import SETTLED, Decision
from sweep.words.numbers import count

HEAT_SHARE = 0.02
"""Share of the time on the clock that a heat may take (judgement): nobody looks at the clock within it."""
DECIDED = "every design is known to be good enough, or not, or near enough to the margin"
ALL_FLOWN = "no more replicates"
"""Why leading designs fly no more, where it is not for want of time."""
PLACE = ("design", "condition", "replicate")
LARGEST = 50_000_000
"""Scores that are held at most (judgement): 400 MB."""


class Counts(NamedTuple):
    """What is counted of all flights, and how they score."""

    limits: LimitCounts
    failed: FailureCounts
    scoring: Scoring


class Known(NamedTuple):
    """What decisions look at beside the scores: designs that keep the limits by their own flights, and what failed."""

    eligible: Flags
    failures: Failures


class Left(NamedTuple):
    """What settling may still spend, and in its next heat, in simulated seconds."""

    all: float
    heat: float


class Before(NamedTuple):
    """What a race or a search leaves.

    gone: designs that dropped out; spent: simulated seconds of the budget; flew: which flights of the campaign's own replicates
    it flew, (designs, conditions, replicates), None for all.
    """

    gone: Sequence[int] = ()
    spent: float = 0.0
    flew: Flags | None = None

    @classmethod
    def of_race(cls, race: Race) -> Before:
        """What a race leaves."""
        return cls(race.dropped()["design"].tolist(), race.spent, np.isfinite(race.scores))


NOTHING_BEFORE = Before()


def settle(work: Work, folder: Path, heats: Heats, before: Before = NOTHING_BEFORE) -> None:
    """Fly the leading designs on, by the journal and then by new decisions; before: what a race or a search leaves."""
    campaign, designs, conditions, _, watcher = work
    if not settles(campaign) and not heats.replays:
        if heats.clock:
            heats.end("the campaign asks for no more")
        heats.close()
        return
    scoring, shape = Scoring.of(campaign), (len(designs), len(conditions))
    counts = Counts(LimitCounts.of(campaign, *shape, evens=True), FailureCounts(*shape, scoring.season), scoring)
    scores = _scores(work, folder, counts, before)
    share, units = within(campaign, estimate(scores).mean), by_draw(scores, campaign.unknowns)
    state = Settling(units, draws_in(_most(work), campaign.unknowns), _length(work), share)
    gone = np.zeros(len(designs), dtype=np.bool_)
    gone[[*before.gone, *refused(campaign)]] = True
    spent, number = before.spent, 0
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
        state.add(*_of_units(work, *_told(work, heats.fly(heat_of(decision, number)), counts)))
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
        return DECIDED, None
    state.choose(left.all)
    length, flyers, conditions = _length(work), len(state.flyers), state.scores.shape[1]
    paid = blocks_for(left.all, flyers, length, max(conditions, state.blocks // 2))
    if paid < 1:
        return f"what it may take is spent; {count(some, 'design is', 'designs are')} still open", None
    most = conditions if heats.clock is None else paid
    units = state.next_blocks(max(min(paid, most, blocks_for(left.heat, flyers, length, paid)), 1))
    if not units:
        return f"{ALL_FLOWN}; {count(some, 'design is', 'designs are')} still open", None
    meets = {at: (each.speed, each.fault.name) for at, each in enumerate(work.conditions)}
    ordered = tuple(sorted(_blocks(work, units), key=lambda block: (meets[block[0]], block)))
    why = f"{int(state.standing.open[state.flyers].sum())} open of {flyers} that fly on"
    return why, Decision(SETTLED, why, tuple(state.flyers.tolist()), ordered)


def _length(work: Work) -> float:
    """Simulated seconds of a unit: of a flight, or with unknowns of a whole draw, a flight in each condition."""
    return work.campaign.flight.length * (len(work.conditions) if work.campaign.unknowns else 1)


def _blocks(work: Work, units: Sequence[Block]) -> list[Block]:
    """The blocks of units: themselves, or with unknowns the whole draws."""
    unknowns = work.campaign.unknowns
    if unknowns is None:
        return list(units)
    replicates = [replicate for _, unit in units for replicate in replicates_of(unit, unknowns)]
    return [(condition, replicate) for condition in range(len(work.conditions)) for replicate in replicates]


def _left(work: Work, heats: Heats, spent: float) -> Left:
    """What may still be spent: of the sweep's own simulated seconds, of a budget of them, or of the time on the clock."""
    if heats.clock is None:
        budget = work.campaign.budget
        whole = SETTLED_SHARE * simulated(work.campaign, len(work.designs), len(work.conditions))
        if budget and budget.simulated and not isinstance(work.campaign.plan, Search):
            whole = budget.simulated
        return Left(max(whole - spent, 0.0), np.inf)
    clock, piece = heats.clock, LANES * work.campaign.flight.length
    if clock.for_flights < HEAT_SHARE * clock.seconds:  # what is set aside was reckoned by a machine that may have been busier
        clock.look()
    return Left(clock.simulated(max(clock.for_flights, 0.0)), max(clock.simulated(HEAT_SHARE * clock.seconds), piece))


def _most(work: Work) -> int:
    """Replicates that a condition may have in all."""
    room = LARGEST // (len(work.designs) * len(work.conditions))
    return work.campaign.replicates + min(most_settled(work.campaign), max(room - work.campaign.replicates, 1))


def _scores(work: Work, folder: Path, counts: Counts, before: Before) -> Array:
    """The scores of the flights before: the campaign's own replicates, or what a race flew of them."""
    scores = np.full((len(work.designs), len(work.conditions), work.campaign.replicates), np.nan)
    for rows in store.read_shards(folder, wanted_columns(work.campaign)):
        some = rows[rows["replicate"] < work.campaign.replicates]
        if before.flew is not None:
            some = some[before.flew[tuple(some[name] for name in PLACE)]]
        places, own = _told(work, some, counts)
        scores[places] = own
    return scores


def _told(work: Work, rows: pd.DataFrame, counts: Counts) -> tuple[tuple[NDArray[np.int64], ...], Array]:
    """Designs, conditions and replicates of flights, and their scores; all else goes into the counts."""
    places = tuple(rows[name].to_numpy(dtype=np.int64) for name in PLACE)
    counts.limits.add(rows)
    counts.failed.add(places, rows["status"].to_numpy() != FLEW, counts.scoring.points(rows))
    return places, counts.scoring.scores(rows)


def _of_units(work: Work, places: tuple[NDArray[np.int64], ...], scores: Array) -> tuple[tuple[NDArray[np.int64], ...], Array]:
    """The places and scores of units: of the flights themselves, or with unknowns of whole draws, as a heat flies them."""
    unknowns = work.campaign.unknowns
    if unknowns is None:
        return places, scores
    units = [draws_in(replicate + 1, unknowns) - 1 for replicate in places[2].tolist()]
    whole = pd.DataFrame({"design": places[0], "unit": units, "score": scores})
    means = whole.groupby(["design", "unit"], as_index=False)["score"].mean()
    design, unit = (means[name].to_numpy(dtype=np.int64) for name in ("design", "unit"))
    return (design, np.zeros_like(design), unit), means["score"].to_numpy()

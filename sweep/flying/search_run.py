"""A search into a results folder, round by round; each decision stands in the journal before it flies, its new designs in it.

A resumed run takes the decisions of the journal, whose points are the designs, and goes on from the same rows.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from sweep.campaign.costs import with_costs
from sweep.campaign.designs import allowed_points, crafts_of, lay_out, none_left
from sweep.campaign.follow_up_plan import settles
from sweep.campaign.plan import CARRIED, FEWEST_FINALISTS, FINALISTS, LEAST_A_ROUND, SEARCH_ROUNDS, blocks_a_round
from sweep.campaign.search_plan import (
    FINAL_SHARE,
    Purse,
    axes_of,
    end_blocks,
    final_blocks,
    purse_of,
    round_blocks,
    with_points,
)
from sweep.flying.heats import Heats, heat_of
from sweep.flying.race_run import RACE_SHARE
from sweep.flying.work import Work
from sweep.insight.limits import LimitCounts
from sweep.insight.race import BASE
from sweep.insight.rank import refused
from sweep.insight.scores import Scoring
from sweep.insight.search import MOST_DRAWS, Floats, Places, Search, over_limits
from sweep.results.journal import ENDS, FINAL, SEARCH, Decision, read_journal
from sweep.words.numbers import count

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft


def fly_search(work: Work, folder: Path, heats: Heats) -> Work:
    """Fly the rest of a campaign's search, to the end of its final; returns the work with all its designs."""
    search = Search(axes_of(work.campaign), work.campaign.plan.seed, allowed_points(work.campaign))
    work.watcher.say(f"A search of {SEARCH_ROUNDS} rounds, which narrow around what is good, and a final of the best.")
    work.begin(_flights(work, heats))
    for number in range(SEARCH_ROUNDS):
        decision = heats.next_of(SEARCH)
        if decision is None and (heats.replays or (size := _size(work, heats, number)) < 1):
            break
        if decision is None:
            points, carried = search.next_points(size), np.sort(search.best(CARRIED))
            if not len(points):
                if not number:
                    raise none_left(work.campaign, MOST_DRAWS * size)
                break
            why = f"round {number + 1} of the search, of {len(points)} new designs and the best {len(carried)} of those before"
            blocks = round_blocks(work.campaign, len(work.conditions), number)
            work, decision = _decide(work, heats, Decision(SEARCH, why, (BASE, *(carried + 1).tolist()), blocks), points)
        worth = _worth(work, decision, heats.fly(heat_of(decision, number + 1)))
        _take(search, decision, worth[1:])
        work.watcher.best(decision.designs[int(worth.argmin())], float(worth.min()))
    work = _finish(work, heats, search)
    work.watcher.end()
    heats.note("the flights of the search")
    return work


def not_in_final(work: Work, folder: Path) -> pd.DataFrame:
    """The designs of a search that did not come into its final; column design."""
    (final,) = read_journal(folder).of(FINAL)
    return pd.DataFrame({"design": np.setdiff1d(np.arange(len(work.designs)), final.designs)})


def _finish(work: Work, heats: Heats, search: Search) -> Work:
    """Fly the final, and whether its best gets better towards the ends that it lies at."""
    conditions = len(work.conditions)
    final = heats.next_of(FINAL)
    if final is None:
        chosen = np.sort(search.best(_purse(work, heats).finalists)) + 1
        why = f"the final of the best {len(chosen)}, in waves that chose none of them"
        final = heats.decide(Decision(FINAL, why, (BASE, *chosen.tolist()), final_blocks(work.campaign, conditions)))
    worth = _worth(work, final, heats.fly(heat_of(final, SEARCH_ROUNDS + 1)))
    best = final.designs[1 + int(worth[1:].argmin())] - 1
    tried, ends = heats.next_of(ENDS), search.ends(best)
    if tried is None and not heats.replays and len(probes := search.probes(best, ends)):
        why = f"whether design {best + 1} gets better towards {count(len(probes), 'end', 'ends')} of ranges that it lies at"
        blocks = end_blocks(work.campaign, conditions)
        work, tried = _decide(work, heats, Decision(ENDS, why, (BASE, best + 1), blocks), probes)
    if tried is not None:
        heats.fly(heat_of(tried, SEARCH_ROUNDS + 2))
    return work


def _decide(work: Work, heats: Heats, decision: Decision, points: Floats) -> tuple[Work, Decision]:
    """Keep a decision with new designs behind its own in the journal, and make room for them."""
    known, rows = len(work.designs), tuple(map(tuple, points.tolist()))
    numbers = (*decision.designs, *range(known, known + len(rows)))
    decided = heats.decide(Decision(decision.stage, decision.why, numbers, decision.blocks, points=rows))
    campaign = with_points(work.campaign, (*work.campaign.searched, *rows))
    work = work._replace(campaign=campaign, designs=with_costs(campaign, lay_out(campaign)))
    heats.grow(work)
    return work, decided


def _take(search: Search, decision: Decision, worth: Floats) -> None:
    points = np.array(decision.points)
    carried: Places = np.array(decision.designs[1 : len(decision.designs) - len(points)], dtype=np.int64) - 1
    search.add(points, carried, worth)


def _worth(work: Work, decision: Decision, rows: pd.DataFrame) -> Floats:
    """The mean score of each design of a decision, more where it breaks limits; in the order of its designs."""
    campaign, order = work.campaign, np.argsort(decision.designs)
    place = order[np.searchsorted(np.array(decision.designs)[order], rows["design"].to_numpy())]
    counts, crafts = LimitCounts.of(campaign, len(order), len(work.conditions)), _crafts(work, decision)
    counts.add(rows.assign(design=place))
    scoring = Scoring.of(campaign, crafts)
    sums = np.bincount(place, scoring.scores(rows.assign(design=place)), minlength=len(order))
    often = len(decision.blocks) if scoring.season is None else sum(scoring.season[at] for at, _ in decision.blocks)
    over = np.array([at in refused(campaign, crafts) for at in range(len(order))])
    return np.asarray(sums / often * (1.0 + over_limits(counts) + over))


def _crafts(work: Work, decision: Decision) -> list[Craft]:
    """The crafts of a decision's designs, where their costs are judged."""
    if not work.campaign.cost_weights and not work.campaign.cost_limits:
        return []
    return list(crafts_of(work.campaign, work.designs.loc[list(decision.designs)]))


def _left(work: Work, heats: Heats) -> float | None:
    """Flights that a search on the clock may still fly; of another, what its budget pays for, or None."""
    campaign, length = work.campaign, work.campaign.flight.length
    if heats.clock is None:
        return None if campaign.budget is None else campaign.budget.simulated and campaign.budget.simulated / length
    share = RACE_SHARE if settles(campaign) else 1.0
    return share * heats.clock.simulated(max(heats.clock.for_flights, 0.0)) / length


def _purse(work: Work, heats: Heats) -> Purse:
    """What the search flies by its designs or its budget; on the clock, its final by what is left."""
    conditions, left = len(work.conditions), _left(work, heats)
    if heats.clock is None or left is None:
        return purse_of(work.campaign, conditions, left)
    most = int(left / (conditions * work.campaign.replicates)) - 1
    return Purse((), min(max(most, FEWEST_FINALISTS), FINALISTS))


def _size(work: Work, heats: Heats, number: int) -> int:
    """New designs of a round, counted from 0; 0 where the clock leaves no more rounds."""
    left = _left(work, heats)
    if heats.clock is None or left is None:
        return _purse(work, heats).sizes[number]
    each = (1.0 - FINAL_SHARE) * left / ((SEARCH_ROUNDS - number) * blocks_a_round(len(work.conditions)))
    size = int(each) - 1 - (CARRIED if number else 0)
    return size if size >= LEAST_A_ROUND else 0 if number else LEAST_A_ROUND


def _flights(work: Work, heats: Heats) -> int:
    """About how many flights there will be."""
    left, conditions = _left(work, heats), len(work.conditions)
    if heats.clock is not None and left is not None:
        return round(left)
    purse = _purse(work, heats)
    rounds = blocks_a_round(conditions) * (sum(purse.sizes) + SEARCH_ROUNDS * (1 + CARRIED))
    return rounds + conditions * work.campaign.replicates * (purse.finalists + 1)

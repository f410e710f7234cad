"""Which flights are worth flying next: a race of designs instead of everything, with a budget of simulated seconds.

The procedure is sequential halving (Karnin, Koren & Somekh, International Conference on Machine Learning 2013, 1238-1246),
all blocks kept: each round takes a share of what is left of the budget, the designs still in the race fly the same next
blocks, whereupon the worse half drops out. What that may have lost is told at the end (`halving`). A condition in which some
designs fail gets more of the blocks; means weigh all conditions alike. Before a half drops out, a design does whose paired
interval says that it is behind the best (as in Hoeffding races, Maron & Moore, Advances in Neural Information Processing
Systems 6, 1994, 59-66, with Student's interval in place of Hoeffding's bound, and Bonferroni's share of the risk for every
design and every look), or which surely breaks a limit. Of the last few nobody is halved: what is left of the budget goes to
them, and only intervals decide. The base craft stays in the race to its end, since every design is told as its gain over it.

Nothing here flies and nothing is drawn but the order of the blocks, from the campaign's seed: the same budget, rows and rules
give the same decisions.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.insight.halving import chance_lost
from sweep.insight.intervals import CONFIDENCE, Array
from sweep.insight.limits import LimitCounts, rate_bounds, share_bounds
from sweep.insight.scores import Scoring
from sweep.insight.uneven import behind, uneven_estimate
from sweep.model.onboard.noise import generator
from sweep.model.quantities import FLEW

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign

Flags = NDArray[np.bool_]
Designs = NDArray[np.int64]
Block = tuple[int, int]

FINALISTS = 8
"""Designs that are no longer halved (judgement)."""

FIRST_BLOCKS = 2
"""Blocks of the first round, if the budget has room: one block says too much of its own condition (of 512 designs of the
courier, the worse half of one block held the best of all in one case of twenty, of two blocks in one of two hundred)."""

ROUND = 1.0 / 3.0
"""Share of what is left of the budget that a round takes before the finals (judgement): the first rounds drop most designs, on
the fewest blocks, and the last ones have few designs to pay for."""

FAILING = 2.0
"""So many times the blocks of others for a condition in which designs of the race fail, but not always (judgement)."""

SURE = 0.999
"""Confidence with which a limit must be broken for a design to drop out early (judgement): it is looked at every round."""

BASE = 0
"""The base craft's number among the designs."""
WHY = ("screened", "limit", "behind", "halved")
DROPPED = ("design", "round", "blocks", "why", "behind", "low", "high", "reason")
ROUNDS = ("round", "designs", "blocks", "flights", "screened", "limit", "behind", "halved", "left", "lost")


class Purse(NamedTuple):
    """What a race may spend: seconds of all flights, of one flight, and how many flights are charged together.

    batch: 1 to charge what is flown; where time on the clock counts, the lanes that fly side by side, full or not.
    """

    seconds: float
    flight: float
    batch: int = 1

    def cost(self, designs: int) -> float:
        """Simulated seconds charged for one block flown by so many designs."""
        return math.ceil(designs / self.batch) * self.batch * self.flight


class Heat(NamedTuple):
    """The next flights: every design in every block (condition, replicate)."""

    round: int
    designs: Designs
    blocks: tuple[Block, ...]


def block_order(campaign: Campaign, conditions: int) -> list[Block]:
    """All blocks in the order of a race: every condition once, shuffled, then every condition again, shuffled anew."""
    order: list[Block] = []
    for replicate in range(campaign.replicates):
        draws = generator(campaign.flight.seed, "race", replicate, "order")
        order += [(int(condition), replicate) for condition in draws.permutation(conditions)]
    return order


class Race:
    """A race as it stands: what has been flown, who is in it, who dropped out and why.

    scores: (designs, conditions, replicates), NaN where nothing was flown. spent: simulated seconds charged so far.
    """

    def __init__(
        self, campaign: Campaign, designs: int, names: Sequence[str], purse: Purse, screened: dict[int, str] | None = None
    ) -> None:
        """names: of the conditions; screened: designs that do not take part, each with the reason."""
        self._campaign, self._purse = campaign, purse
        self._order = block_order(campaign, len(names))
        self._counts, self._scoring = LimitCounts.of(campaign, designs, len(names), evens=True), Scoring.of(campaign)
        self._failed = np.zeros((designs, len(names)))
        self.scores = np.full((designs, len(names), campaign.replicates), np.nan)
        self.running = np.ones(designs, dtype=np.bool_)
        self.spent, self._round, self._flown, self._on_clock = 0.0, 0, 0, False
        self._looks = self._rounds_left() + campaign.replicates
        self._dropped: list[tuple[object, ...]] = []
        self._rounds: list[tuple[int, ...]] = []
        for design, reason in (screened or {}).items():
            self.running[design] = design == BASE
            self._dropped.append((design, 0, 0, "screened", math.nan, math.nan, math.nan, reason))
        self._screened = len(self._dropped)

    @property
    def round(self) -> int:
        """Number of the last round that was flown, 0 before the first."""
        return self._round

    def allow(self, seconds: float) -> None:
        """Let the race spend so many simulated seconds in all: where the clock counts, that is known better as it goes on."""
        self._purse, self._on_clock = self._purse._replace(seconds=seconds), True

    def next_heat(self) -> Heat | None:
        """What to fly next; None at the end of the race."""
        designs = np.flatnonzero(self.running)
        cost, left = self._purse.cost(len(designs)), self._purse.seconds - self.spent
        room = len(self._order) - self._flown
        blocks = min(int(ROUND * left / cost + 1e-9), room)
        if self._round == 0:
            blocks = min(max(blocks, FIRST_BLOCKS if left >= FIRST_BLOCKS * cost else 1), room)
        elif self._finals():
            blocks = min(int(left / cost + 1e-9), room, self.scores.shape[1])
        elif blocks == 0 and left >= cost:
            blocks = min(1, room)
        if self._on_clock and room * cost <= left / 2.0:  # half, since what is left of a clock is not sure
            blocks = room
        if blocks < 1 or (len(designs) < 2 and self._round > 0):
            return None
        return Heat(self._round + 1, designs, self._next_blocks(designs, blocks))

    def _next_blocks(self, designs: Designs, count: int) -> tuple[Block, ...]:
        """So many of the blocks that are left, in their order but where designs fail: those conditions come sooner."""
        flown = np.isfinite(self.scores[BASE]).sum(axis=1)
        failing = self._failed[designs].sum(axis=0) / np.maximum(len(designs) * flown, 1)
        weights = np.where((failing > 0.0) & (failing < 1.0), FAILING, 1.0)
        place = {block: at for at, block in enumerate(self._order)}
        left = [block for block in self._order if not np.isfinite(self.scores[BASE][block])]
        left.sort(key=lambda block: (block[1] / weights[block[0]], place[block]))
        return tuple(left[:count])

    def add(self, heat: Heat, flights: pd.DataFrame) -> None:
        """Take the rows of a heat, in SI as the store keeps them, and decide who drops out."""
        self.take(heat, flights, self._scoring.scores(flights))

    def take(self, heat: Heat, flights: pd.DataFrame, scores: Array) -> None:
        """As `add`, of flights whose scores are known; of their rows only what the limits need."""
        place = tuple(flights[name].to_numpy() for name in ("design", "condition", "replicate"))
        self.scores[place] = scores
        self._counts.add(flights)
        np.add.at(self._failed, place[:2], flights["status"].to_numpy() != FLEW)
        self._round, self._flown = heat.round, self._flown + len(heat.blocks)
        self.spent += len(heat.blocks) * self._purse.cost(len(heat.designs))
        dropped = self._decide(heat)
        counted = tuple(sum(why == kind for _, why in dropped) for kind in WHY)
        screened = (self._screened if heat.round == 1 else 0, *counted[1:])
        self._rounds.append(
            (
                heat.round,
                len(heat.designs),
                len(heat.blocks),
                len(heat.designs) * len(heat.blocks),
                *screened,
                int(self.running.sum()),
            )
        )

    def leader(self) -> tuple[int, float]:
        """The design that leads among those in the race, and its mean score."""
        running = np.flatnonzero(self.running)
        means = uneven_estimate(self.scores[running]).mean
        return int(running[means.argmin()]), float(means.min())

    def dropped(self) -> pd.DataFrame:
        """Designs that dropped out: in which round, after how many blocks, why, and how far behind then; columns `DROPPED`."""
        return pd.DataFrame(self._dropped, columns=list(DROPPED)).astype(
            {
                "design": int,
                "round": int,
                "blocks": int,
                "why": str,
                "behind": float,
                "low": float,
                "high": float,
                "reason": str,
            }
        )

    def rounds(self) -> pd.DataFrame:
        """What each round flew and which designs it dropped; `ROUNDS`. lost: the chance that the best was halved away in it, as
        far as the flights since then tell; NaN if they do not."""
        table, dropped = pd.DataFrame(self._rounds, columns=list(ROUNDS[:-1])), self.dropped()
        halved = dropped[dropped["why"] == "halved"]
        rows = [halved.loc[halved["round"] == each, "design"].to_numpy() for each in table["round"]]
        best = self.leader()[0]
        return table.assign(lost=[chance_lost(self.scores, best, some) if len(some) else 0.0 for some in rows])

    def _contenders(self) -> Designs:
        some = np.flatnonzero(self.running)
        return np.asarray(some[some != BASE])

    def _finals(self) -> bool:
        return len(self._contenders()) <= max(FINALISTS, self._purse.batch - 1)

    def _rounds_left(self) -> int:
        """Rounds until the finals, and those."""
        share = len(self._contenders()) / max(FINALISTS, self._purse.batch - 1)
        return 1 + max(math.ceil(math.log2(max(share, 1.0)) - 1e-9), 0)

    def _decide(self, heat: Heat) -> list[tuple[int, str]]:
        """Drop designs that surely break a limit or are surely behind, and before the finals the worse half, or as many more as
        what is left does not pay for."""
        over = surely_over(self._counts)
        sound = self.running & ~over
        if not sound.any():  # nobody keeps the limits: the race then is for the best score, and the standings tell
            over, sound = np.zeros_like(over), self.running.copy()
        means = uneven_estimate(self.scores[heat.designs]).mean
        rows = heat.designs[sound[heat.designs]]
        best = int(rows[means[sound[heat.designs]].argmin()])
        found = behind(self.scores, best)
        risk = (1.0 - CONFIDENCE) / (max(len(self.scores) - 1, 1) * self._looks)
        reach = found.half_width(risk)
        ends = found.mean - reach, found.mean + reach
        worse = [design for design in heat.designs.tolist() if design not in (best, BASE)]
        why = {design: "limit" for design in worse if over[design]}
        why |= {design: "behind" for design in worse if design not in why and ends[0][design] > 0.0}
        if not self._finals() and self._flown < len(self._order):
            paid = int((self._purse.seconds - self.spent) / (FIRST_BLOCKS * self._purse.flight))
            kept = max(min(math.ceil(len(self._contenders()) / 2), paid), FINALISTS, self._purse.batch - 1)
            left = sorted((d for d in [best, *worse] if d not in why and d != BASE), key=lambda d: (found.mean[d], d))
            why |= dict.fromkeys(left[kept:], "halved")
        for design, kind in why.items():
            self.running[design] = False
            self._dropped.append(
                (design, heat.round, self._flown, kind, found.mean[design], ends[0][design], ends[1][design], "")
            )
        return list(why.items())


def surely_over(counts: LimitCounts) -> Flags:
    """Designs that break a limit over all their flights, with confidence `SURE`, or could not be flown; (designs,)."""
    over = counts.lost.any(axis=1) if counts.limits else np.zeros(len(counts.lost), dtype=np.bool_)
    weights = counts.weights()
    for name, limit in counts.limits.items():
        events, exposure = ((weights * totals[name]).sum(axis=1) for totals in (counts.events, counts.exposure))
        bounds = rate_bounds if limit.kind == "rate" else share_bounds
        over |= (exposure > 0.0) & (bounds(events, exposure, SURE)[0] > limit.value)
    return np.asarray(over, dtype=np.bool_)

"""Scores, limits and standings of the flights of a campaign."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from sweep.campaign.follow_up_plan import first_fresh
from sweep.insight.failing import Failures
from sweep.insight.good_enough import USUAL, Margin, felt_share
from sweep.insight.intervals import estimate
from sweep.insight.limits import LimitCounts, judge, verdicts
from sweep.insight.race import DROPPED
from sweep.insight.ranking import standings
from sweep.insight.scores import Array, ScoreTally
from sweep.insight.settling import planned_looks
from sweep.insight.uneven import uneven_standings

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign


class Ranked(NamedTuple):
    """The standings and what is behind: limits (columns as in `judge`), scores (designs, conditions, replicates), failures."""

    standings: pd.DataFrame
    limits: pd.DataFrame
    scores: Array
    failures: Failures


def rank_flights(
    campaign: Campaign,
    parts: Iterable[pd.DataFrame],
    names: list[str],
    designs: int,
    dropped: pd.DataFrame | None = None,
    more: int = 0,
) -> Ranked:
    """Scores, limits and standings of all flights of a campaign, which are let go part by part.

    parts: rows with at least `wanted_columns`; names: of the conditions, in order; dropped: of a race, who left it
    (`race.DROPPED`); more: replicates beyond the campaign's that some designs flew on. Raises ValueError if a flight is there
    twice, missing without a race, or none of these.
    """
    shape, uneven = (designs, len(names), campaign.replicates + more), more > 0 or dropped is not None
    tally = ScoreTally(campaign.score, campaign.flight.scored, shape, judged(campaign), keeps=uneven)
    counts = LimitCounts(campaign.limits, designs, len(names), evens=uneven)
    for part in parts:
        tally.add(part)
        counts.add(part)
    if dropped is None and (missing := tally.missing(campaign.replicates)):
        raise ValueError(f"{missing} flights are missing")
    limits = judge(counts, campaign.flight.scored)
    summed = verdicts(limits, campaign.limits, names, designs)
    share = within(campaign, estimate(tally.scores[:, :, : campaign.replicates]).mean)
    failures = tally.failures(evens=uneven)
    if uneven:
        gone = pd.DataFrame(columns=list(DROPPED)) if dropped is None else dropped
        margin = Margin(share, planned_looks(campaign.replicates, first_fresh(campaign)) if more else 1)
        table = uneven_standings(tally.scores, summed, gone, failures, tally.values, margin)
    else:
        table = standings(tally.scores, summed, failures.share(), tally.means(), failures, share)
    return Ranked(table, limits, tally.scores, failures)


def within(campaign: Campaign, scores: Array) -> float:
    """The share of the best score that good enough means: what the campaign asks for, or what nobody feels.

    scores: mean score of each design, (designs,).
    """
    if campaign.decide is not None:
        return campaign.decide.within
    known = scores[np.isfinite(scores)]
    return felt_share(campaign.score, float(known.min()), campaign.flight.scored) if len(known) else USUAL


def judged(campaign: Campaign) -> list[str]:
    """The responses that a campaign scores or limits."""
    return list(dict.fromkeys([*campaign.score, *campaign.limits]))


def wanted_columns(campaign: Campaign) -> list[str]:
    """The columns of the flights that ranking reads."""
    return list(dict.fromkeys(["design", "condition", "replicate", "status", "time_foilborne", *judged(campaign)]))

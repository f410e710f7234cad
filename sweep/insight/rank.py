"""Scores, limits and standings of the flights of a campaign."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from sweep.campaign.designs import crafts_of, lay_out
from sweep.campaign.follow_up_plan import first_fresh
from sweep.campaign.rule_text import SAME
from sweep.campaign.rules import broken_by, whole
from sweep.campaign.scoring import COST_UNITS
from sweep.campaign.search_plan import axes_of, searched_replicates
from sweep.insight.by_draw import by_draw, draws_in
from sweep.insight.failing import Failures
from sweep.insight.good_enough import USUAL, Margin, felt_share
from sweep.insight.intervals import estimate
from sweep.insight.limits import LimitCounts, judge, refuse, verdicts
from sweep.insight.narrowing import best_left_out
from sweep.insight.race import DROPPED
from sweep.insight.ranking import standings
from sweep.insight.scores import Array, ScoreTally, Scoring, in_season
from sweep.insight.searched import Flown, Others, join, rounds_of, split
from sweep.insight.settling import planned_looks
from sweep.insight.uneven import uneven_standings
from sweep.words.numbers import with_unit
from sweep.words.phrases import listed

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft


BREAKS = "It breaks the rule"
"""How the reason begins for which a design that breaks a rule is refused."""


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
    designs: int | Sequence[int],
    dropped: pd.DataFrame | None = None,
    more: int = 0,
) -> Ranked:
    """Scores, limits and standings of all flights of a campaign, which are let go part by part.

    parts: rows with at least `wanted_columns`; names: of the conditions, in order; designs: how many, or which of the
    campaign's the flights number from 0; dropped: of a race, who left it (`race.DROPPED`); more: replicates beyond the
    campaign's that some designs flew on. Raises ValueError if a flight is there twice, missing without a race, or none of
    these.
    """
    numbers = np.arange(designs) if isinstance(designs, int) else np.asarray(designs)
    shape, uneven = (len(numbers), len(names), campaign.replicates + more), more > 0 or dropped is not None
    tally = ScoreTally(Scoring.of(campaign).some(numbers), shape, judged(campaign), keeps=uneven)
    counts = LimitCounts.of(campaign, len(numbers), len(names), evens=uneven)
    for part in parts:
        tally.add(part)
        counts.add(part)
    if dropped is None and (missing := tally.missing(campaign.replicates)):
        raise ValueError(f"{missing} flights are missing")
    limits = judge(counts, campaign.flight.scored)
    reasons = refused(campaign)
    known = {at: reasons[number] for at, number in enumerate(numbers.tolist()) if number in reasons}
    summed = refuse(verdicts(limits, campaign.limits, names, len(numbers)), known)
    share = within(campaign, estimate(tally.scores[:, :, : campaign.replicates]).mean)
    failures, units = tally.failures(evens=uneven), by_draw(tally.scores, campaign.unknowns)
    if campaign.unknowns:
        failures = failures._replace(places=None)  # a unit is a draw, not a flight
    if uneven:
        gone = pd.DataFrame(columns=list(DROPPED)) if dropped is None else dropped
        planned = (draws_in(replicates, campaign.unknowns) for replicates in (campaign.replicates, first_fresh(campaign)))
        margin = Margin(share, planned_looks(*planned) if more else 1)
        table = uneven_standings(units, summed, gone, failures, _of_season(campaign, tally.values), margin)
    else:
        table = standings(units, summed, failures.share(), tally.means(), failures, share)
    table["flights"] = np.isfinite(tally.scores).sum(axis=(1, 2))[table["design"].to_numpy()]
    return Ranked(table, limits, tally.scores, failures)


def rank_search(
    campaign: Campaign, parts: Iterable[pd.DataFrame], names: list[str], designs: int, finalists: list[int], more: int = 0
) -> Ranked:
    """As `rank_flights`, of a search; finalists: who flew its final, the base craft first.

    The scores that it returns are those of the final, NaN for the designs outside it. Raises ValueError if flights of the final
    are missing.
    """
    chosen, conditions, scoring = np.array(finalists), len(names), Scoring.of(campaign)
    shape = (len(chosen), conditions, campaign.replicates + more)
    place = np.full(designs, -1)
    place[chosen] = np.arange(len(chosen))
    final = ScoreTally(scoring.some(chosen), shape, judged(campaign), keeps=True)
    rounds = ScoreTally(scoring, (designs, conditions, searched_replicates(campaign)), judged(campaign), keeps=True)
    counts = LimitCounts.of(campaign, designs, conditions, evens=more > 0)
    for part in parts:
        own, searched = split(part, chosen)
        final.add(own.assign(design=place[own["design"].to_numpy()]))
        rounds.add(searched)
        counts.add(pd.concat([own, searched[~searched["design"].isin(chosen)]]))
    if missing := final.missing(campaign.replicates):
        raise ValueError(f"{missing} flights of the final are missing")
    limits = judge(counts, campaign.flight.scored)
    summed = refuse(verdicts(limits, campaign.limits, names, designs), refused(campaign))
    table = _of_final(campaign, final, summed.iloc[chosen].reset_index(drop=True), more)
    numbers = np.setdiff1d(np.arange(designs), chosen)
    seasons = [_of_season(campaign, each.values) for each in (final, rounds)]
    values = {name: Flown(*(each[name] for each in seasons)) for name in judged(campaign)}
    table = table.assign(design=chosen[table["design"].to_numpy()])
    flown = Flown(final.scores, rounds.scores)
    points, in_final = np.array(campaign.searched), final.scores[1:, :, : campaign.replicates]
    least = best_left_out(points, rounds_of(rounds.scores), axes_of(campaign), chosen[1:] - 1, in_final)
    others = Others(numbers, summed, rounds.failures(), least)
    joined = join(table, chosen, flown, values, others)
    scores = np.full((designs, *shape[1:]), np.nan)
    scores[chosen] = final.scores
    return Ranked(joined, limits, scores, _all_failures(designs, chosen, final.failures(evens=more > 0), rounds.failures()))


def _of_final(campaign: Campaign, final: ScoreTally, summed: pd.DataFrame, more: int) -> pd.DataFrame:
    """The standings of the finalists, numbered from 0."""
    share = within(campaign, estimate(final.scores[:, :, : campaign.replicates]).mean)
    failures = final.failures(evens=more > 0)
    if not more:
        return standings(final.scores, summed, failures.share(), final.means(), failures, share)
    margin = Margin(share, planned_looks(campaign.replicates, first_fresh(campaign)))
    return uneven_standings(
        final.scores, summed, pd.DataFrame(columns=list(DROPPED)), failures, _of_season(campaign, final.values), margin
    )


def _all_failures(designs: int, chosen: Array, final: Failures, rounds: Failures) -> Failures:
    """What failed of each design: of the finalists in the final, of the others in the rounds."""
    failed, flights = rounds.failed.copy(), rounds.flights.copy()
    failed[chosen], flights[chosen] = final.failed, final.flights
    return Failures(failed, flights, final.points if np.isfinite(final.points) else rounds.points)


def within(campaign: Campaign, scores: Array) -> float:
    """The share of the best score that good enough means: what the campaign asks for, or what nobody feels.

    scores: mean score of each design, (designs,).
    """
    if campaign.decide is not None:
        return campaign.decide.within
    known = scores[np.isfinite(scores)]
    return (
        felt_share(campaign.score | campaign.cost_weights, float(known.min()), campaign.flight.scored) if len(known) else USUAL
    )


def _of_season(campaign: Campaign, values: Mapping[str, Array]) -> dict[str, Array]:
    season = np.array(campaign.season) if campaign.season else None
    return {name: in_season(each, season) for name, each in values.items()}


def refused(campaign: Campaign, crafts: Sequence[Craft] | None = None) -> dict[int, str]:
    """The designs that are refused whatever they fly like, each with its reason: they are over a limit of mass or price, or are
    the base craft and break a rule. crafts: of the designs, the base craft first; made anew by default."""
    reasons: dict[int, str] = {}
    if campaign.cost_limits:
        made = crafts_of(campaign, lay_out(campaign)) if crafts is None else crafts
        told = {design: over_cost(campaign.cost_limits, craft) for design, craft in enumerate(made)}
        reasons = {design: why for design, why in told.items() if why}
    if broken := broken_by(campaign.rules, campaign.craft):
        said = f"{BREAKS}{'' if len(broken) == 1 else 's'}: {listed(broken, 'and')}."
        reasons[0] = f"{said} {reasons.get(0, '')}".strip()
    return reasons


def over_cost(limits: Mapping[str, float], craft: Craft) -> str:
    """Which limits of mass (kg) and price a craft is over, a sentence each; '' if none."""
    said = []
    for name, most in limits.items():
        value = whole(name, craft)
        if value > most * (1.0 + SAME):
            found, allowed = (with_unit(each, COST_UNITS[name], 4) for each in (value, most))
            said.append(f"{name.capitalize()}: {found} against {allowed} allowed.")
    return " ".join(said)


def judged(campaign: Campaign) -> list[str]:
    """The responses that a campaign scores or limits."""
    return list(dict.fromkeys([*campaign.score, *campaign.limits]))


def wanted_columns(campaign: Campaign) -> list[str]:
    """The columns of the flights that ranking reads."""
    return list(dict.fromkeys(["design", "condition", "replicate", "status", "time_foilborne", *judged(campaign)]))

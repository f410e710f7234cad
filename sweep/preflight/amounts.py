"""How many designs and flights a campaign has, before it is flown."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from sweep.campaign.conditions import season_shares
from sweep.campaign.designs import allowed_points, crafts_of, lay_out, none_left, unbuilt
from sweep.campaign.plan import LEAST_A_ROUND, MOST_BLOCKS, SEARCH_ROUNDS, Search, blocks_a_round, least_flights
from sweep.campaign.rules import broken_by, whole
from sweep.campaign.scoring import COST_UNITS
from sweep.campaign.search_plan import axes_of, flights_of, purse_of, with_points
from sweep.flying.progress import duration
from sweep.insight.rank import over_cost
from sweep.insight.scores import CAP
from sweep.insight.search import MOST_DRAWS
from sweep.insight.search import Search as Searched
from sweep.words.numbers import number, with_unit
from sweep.words.phrases import listed

if TYPE_CHECKING:
    import pandas as pd

    from sweep.campaign.campaign import Campaign


def many(count: int, noun: str) -> str:
    """'1 200 designs'."""
    return f"{count:,} {noun}{'' if count == 1 else 's'}".replace(",", " ")


def first_look(campaign: Campaign) -> Campaign:
    """The campaign, a search with the designs of its first round, or some of them: those of the others follow from flights."""
    if not isinstance(campaign.plan, Search):
        return campaign
    few = LEAST_A_ROUND if campaign.plan.designs is None else purse_of(campaign, 1).sizes[0]
    points = Searched(axes_of(campaign), campaign.plan.seed, allowed_points(campaign)).next_points(few)
    if not len(points):
        raise none_left(campaign, MOST_DRAWS * few)
    return with_points(campaign, points.tolist())


def count_flights(campaign: Campaign, conditions: int) -> int:
    """How many flights a campaign has, before any fly on; of a search, about; on the clock, of the smallest one."""
    if not isinstance(campaign.plan, Search):
        return len(lay_out(campaign)) * conditions * campaign.replicates
    if campaign.budget is None or campaign.budget.simulated is None:
        least = least_flights(conditions, campaign.replicates)
        return least if campaign.budget else flights_of(campaign, conditions)
    return int(campaign.budget.simulated / campaign.flight.length)


def rules_text(campaign: Campaign) -> Iterator[str]:
    """How many designs of the plan break which rules, and whether the base craft does."""
    if not campaign.rules:
        return
    left, base = unbuilt(campaign), broken_by(campaign.rules, campaign.craft)
    if isinstance(campaign.plan, Search):
        yield f"No design that breaks a rule is proposed: {listed((rule.name for rule in campaign.rules), 'and')}."
    elif not left.broken:
        yield f"None of {many(left.planned, 'design')} breaks a rule."
    else:
        each = listed((f"{name!r} ({broken})" for name, broken in left.each.items() if broken), "and")
        yield f"{left.broken} of {many(left.planned, 'design')} break a rule and are not flown: {each}."
    if base:
        yield f"The base craft breaks {listed(map(repr, base), 'and')}: it flies to compare with, and is not ranked."


def season_text(campaign: Campaign) -> Iterator[str]:
    """How often each sea, heading and fault occurs."""
    if said := season_shares(campaign):
        yield f"Each condition counts as often as it occurs: {'; '.join(said)}."


def costs_text(campaign: Campaign, designs: pd.DataFrame) -> Iterator[str]:
    """How many designs are over a limit of mass or price, and whose costs give more points than anything may."""
    if not campaign.cost_limits and not campaign.cost_weights:
        return
    crafts = list(crafts_of(campaign, designs))
    for name, most in campaign.cost_limits.items():
        over = sum(bool(over_cost({name: most}, craft)) for craft in crafts)
        allowed = with_unit(most, COST_UNITS[name], 6)
        spared = "" if campaign.budget else f"; a rule, {name} <= {allowed}, spares their flights"
        if over:
            yield f"{over} of {many(len(crafts), 'design')} are over {allowed} of {name} and have no place{spared}."
    for name, weight in campaign.cost_weights.items():
        points = max(whole(name, craft) for craft in crafts) / weight.scale
        if points > CAP:
            least = with_unit(weight.scale * points / CAP, COST_UNITS[name], 3)
            said = f"{name} gives up to {number(points)} points, more than the {CAP:g} of a lost flight"
            yield f"In doubt: {said}: give it a scale of {least} or more."
        if not points:
            yield f"In doubt: the score has a {name}, and no craft has one."


def flown_text(campaign: Campaign, designs: int, conditions: int, flights: int) -> Iterator[str]:
    """How many designs fly how often."""
    simulated = f"{number(campaign.flight.length)} s, {duration(flights * campaign.flight.length)} of simulated time in all."
    if not isinstance(campaign.plan, Search):
        yield (
            f"{many(designs, 'design')} (0 is the base craft), {many(conditions, 'condition')}, "
            f"{many(campaign.replicates, 'replicate')}: {many(flights, 'flight')} of {simulated}"
        )
        return
    blocks = "every condition" if blocks_a_round(conditions) == conditions else f"{MOST_BLOCKS} of {conditions} conditions"
    how_many, about = "As many designs as the clock allows", "at least"
    if campaign.budget is None or campaign.budget.simulated is not None:
        how_many, about = many(sum(purse_of(campaign, conditions, flights).sizes), "design"), "about"
    yield (
        f"{how_many} in {SEARCH_ROUNDS} rounds that narrow around what is good, each once in {blocks}; then a final of the "
        f"best and the base craft in {many(conditions, 'condition')}, {many(campaign.replicates, 'replicate')}, in waves that "
        f"chose none of them: {about} {many(flights, 'flight')} of {simulated}"
    )
    yield "A search tells the best that it found. A better one may lie between its designs."

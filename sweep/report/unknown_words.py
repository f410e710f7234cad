"""What is not known of the boat, in words: over how many draws the scores are, and what the choice hangs on."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import TYPE_CHECKING, Any

from sweep.insight.hanging import LEAST_DRAWS, first_to_measure, too_few
from sweep.insight.intervals import CONFIDENCE
from sweep.words.numbers import count, number
from sweep.words.phrases import called_within, listed

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.unknowns import Unknowns
    from sweep.results.store import Results


def draws_of(results: Results, first: bool = False) -> int:
    """How many draws the best design has flown; first: of the campaign's own replicates only, which every design has flown."""
    unknowns, campaign = results.campaign.unknowns, results.campaign
    assert unknowns is not None
    own = len({unknowns.draw_of(replicate) for replicate in range(campaign.replicates)})
    if first or results.standings.empty:
        return own
    more = int(results.standings["flights"].max()) // max(len(results.conditions), 1) - campaign.replicates
    return own + max(more, 0)


def over_draws(results: Results) -> list[str]:
    """That scores are means over draws, and of what."""
    unknowns = results.campaign.unknowns
    if unknowns is None:
        return []
    own, all_ = draws_of(results, True), draws_of(results)
    drawn = count(own, "draw", "draws") + (f", of leading designs over up to {all_}," if all_ > own else "")
    return [f"Scores are means over {drawn} of what is not known of the boat: {listed(ranges(unknowns), 'and')}."]


def ranges(unknowns: Unknowns) -> list[str]:
    """Each unknown with its range."""
    return [f"{unknown.label} ({unknown.said()})" for unknown in unknowns.each]


def drawn_as(campaign: Campaign, replicate: int) -> str:
    """What a replicate draws of what is not known; '' if all is known."""
    unknowns = campaign.unknowns
    if unknowns is None:
        return ""
    numbers = unknowns.numbers(campaign.flight.seed, unknowns.draw_of(replicate))
    said = [f"{unknown.label} {unknown.number_said(number)}" for unknown, number in zip(unknowns.each, numbers, strict=True)]
    return f"What is not known is drawn as {listed(said, 'and')}."


def hanging_sentences(results: Results) -> list[str]:
    """What to measure first, or that it is not told."""
    table, unknowns = results.hanging, results.campaign.unknowns
    if unknowns is None or table.empty:
        return []
    draws = int(table["draws"].iloc[0])
    boats = "Builds, at settings chosen anew in each draw, are what there is to choose from." if len(results.builds) else ""
    if too_few(table):
        wanted = LEAST_DRAWS * (unknowns.waves if len(results.builds) else 1)
        return [
            f"What the choice hangs on is not told: it takes {LEAST_DRAWS} draws of what is not known, and two boats to choose "
            f"from; here there are {draws} draws. With “replicates: {wanted}” there are enough."
        ]
    found = first_to_measure(table)
    if not found:
        return [
            f"In {draws} draws no unknown is shown to change which boat is best. One may do so all the same: only what changes "
            "the choice often, and by more than the waves do, is seen.",
            *([boats] if boats else []),
        ]
    return [_first(found[0]), *map(_next, found[1:]), *([boats] if boats else []), _how(draws)]


def _first(row: Mapping[Hashable, Any]) -> str:
    return f"Measure {row['unknown']} first: {_effect(row)}"


def _next(row: Mapping[Hashable, Any]) -> str:
    return f"Then {row['unknown']}: {_effect(row)}"


def _effect(row: Mapping[Hashable, Any]) -> str:
    changed = max(float(row["changes"]), 1e-9)
    over_all = f"{number(row['gain'], 2)} over all cases, and at least {number(max(row['gain_low'], 0.0), 2)}"
    little, much = (called_within(int(row[end])) for end in ("below", "above"))
    return (
        f"known, it would change the choice in {number(10.0 * changed, 2)} of 10 cases, by "
        f"{number(row['gain'] / changed, 2)} of score in these; that is {over_all}. With little of it {little} "
        f"is the best, with much of it {much}."
    )


def _how(draws: int) -> str:
    return (
        f"That is told by {draws} draws, each by what the others say. Without any dependence so much is found of no unknown in "
        f"{100.0 * CONFIDENCE:g} % of campaigns."
    )

"""How a search spent its flights, round by round, and whether its best lies at an end of a range, for the standings page."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from sweep.campaign.plan import SEARCH_ROUNDS
from sweep.campaign.search_plan import FIRST_SEARCHED, axes_of
from sweep.insight.intervals import CONFIDENCE_SAID
from sweep.insight.race import BASE
from sweep.insight.scores import Scoring
from sweep.insight.search import End, improving, tried_ends
from sweep.report.display import said_factor
from sweep.words.numbers import count, grouped, number, pretty

if TYPE_CHECKING:
    from sweep.campaign.factors import Factor
    from sweep.results.store import Results

HEADINGS = ("round", "new designs", "others beside", "blocks each", "flights", "spread of the new ones")
CAPTION = "The rounds of the search: how many designs flew, and how far they spread"


@dataclass(frozen=True)
class Rounds:
    """How a search spent its flights: sentences, and a row a round."""

    sentences: list[str]
    headings: tuple[str, ...]
    rows: list[list[str]]
    caption: str = CAPTION


def rounds_of(results: Results) -> Rounds:
    """The rounds, the final, and the ends of ranges that the best lies at."""
    flown = pd.DataFrame({name: results.column(name) for name in ("design", "condition", "replicate")})
    rows = [_row(results, flown, number) for number in range(SEARCH_ROUNDS)]
    return Rounds([*_sentences(results, flown), *ends_of(results)], HEADINGS, [row for row in rows if row])


def _row(results: Results, flown: pd.DataFrame, number_of: int) -> list[str]:
    """What a round flew; empty if it did not come to it."""
    own = flown[flown["replicate"] == FIRST_SEARCHED + number_of]
    before = flown[flown["replicate"].between(FIRST_SEARCHED, FIRST_SEARCHED + number_of - 1)]["design"]
    designs = own["design"].unique()
    new = np.setdiff1d(designs, [BASE, *before.unique()])
    if not len(new):
        return []
    spread = np.array(results.campaign.searched)[new - 1].std(axis=0)[[axis.ordered for axis in axes_of(results.campaign)]]
    return [
        str(number_of + 1),
        grouped(len(new)),
        grouped(len(designs) - len(new)),
        grouped(len(own) // len(designs)),
        grouped(len(own)),
        f"{100.0 * spread.mean():.0f} %",
    ]


def _sentences(results: Results, flown: pd.DataFrame) -> Iterator[str]:
    finalists = flown.loc[flown["replicate"] < FIRST_SEARCHED, "design"].nunique() - 1
    designs, searched = len(results.designs) - 1, int((flown["replicate"] >= FIRST_SEARCHED).sum())
    yield (
        f"{count(designs, 'design', 'designs').capitalize()} flew in rounds, each about the best of those before; all of a "
        f"round met the same waves, and the base craft with them. The best {finalists} then flew a final, in waves that chose "
        "none of them: what is printed of these comes from the final and what followed it alone, so that luck in the rounds "
        "does not flatter them."
    )
    yield (
        f"The {grouped(searched)} flights of the rounds tell little of each design. One that did not come into the final is "
        "told by how far it was from finalists that flew beside it; it never counts as good enough, nor among those that may "
        "be the best. By how much one of them may still be better than the best of the final stands with the answer."
    )
    yield "A search looks most where the score was good. A better design may lie between those that it flew."
    yield "The spread is the standard deviation of the new designs, in shares of each range: 29 % is everywhere."


def ends_of(results: Results) -> list[str]:
    """A sentence for each end of a range that the best of the final lies at: surely, or that it cannot be told."""
    columns = ["design", "condition", "replicate", "status", "time_foilborne", *results.campaign.score]
    replicates = results.column("replicate")
    tried = replicates >= FIRST_SEARCHED + SEARCH_ROUNDS
    if not tried.any():
        return []
    rows = pd.DataFrame({name: results.column(name)[tried] for name in dict.fromkeys(columns)})
    designs = np.unique(rows["design"])
    designs = designs[designs != BASE]
    best, probes = int(designs[0]), designs[1:]
    scores = np.full((len(designs), len(results.conditions), results.campaign.replicates), np.nan)
    own = rows[rows["design"] != BASE]
    place = np.searchsorted(designs, own["design"]), own["condition"], own["replicate"] - FIRST_SEARCHED - SEARCH_ROUNDS
    scores[place] = Scoring.of(results.campaign).scores(own)
    points = np.array(results.campaign.searched)
    ends = tried_ends(points[probes - 1], points[best - 1])
    return [_end(results, best, end, bool(sure)) for end, sure in zip(ends, improving(scores), strict=True)]


def _end(results: Results, best: int, end: End, sure: bool) -> str:
    """'The best of the final, design 108, lies at the upper end of struts.height, 28 cm: ...'"""
    factor = list(results.campaign.factors.values())[end.factor]
    where = f"{'upper' if end.upper else 'lower'} end of {factor.name}, {_value(factor, end)}"
    if sure:
        wider = "widen the range and search on" if factor.continuous else "add to the list and search on"
        return (
            f"The best of the final, design {best}, lies at the {where}, and is better there than off it ({CONFIDENCE_SAID} "
            f"sure): {wider}."
        )
    return (
        f"The best of the final, design {best}, lies near the {where}. Whether the score gets better towards that end "
        "cannot be told from these flights."
    )


def _value(factor: Factor, end: End) -> str:
    ends = (factor.low, factor.high) if factor.continuous else (factor.levels[0], factor.levels[-1])
    value = said_factor(factor, pd.Series([ends[end.upper]])).iloc[0]
    shown = number(float(value), 3) if isinstance(value, int | float | np.number) else str(value)
    return f"{shown} {pretty(factor.unit)}".strip()

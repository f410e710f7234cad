"""How a race spent its flights, and those by which leading designs flew on, for the standings page."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sweep.campaign.plan import Search
from sweep.flying.progress import duration
from sweep.report.pages.search import Rounds, rounds_of
from sweep.words.numbers import count, grouped, number

if TYPE_CHECKING:
    import pandas as pd

    from sweep.results.store import Results

HEADINGS = (
    "round",
    "designs",
    "blocks each",
    "flights",
    "broke a limit",
    "surely behind",
    "in the worse half",
    "left",
    "chance that the best was halved, %",
)

LEAST = 0.01
"""The least chance that is told (judgement)."""


@dataclass(frozen=True)
class Race:
    """How a race spent its flights: sentences, and a row a round."""

    sentences: list[str]
    headings: tuple[str, ...]
    rows: list[list[str]]
    caption: str = "The rounds of the race: who flew, who dropped out and why"


def race_of(results: Results) -> Race | Rounds | None:
    """How the flights were spent; None where every design flew everything, and nothing beyond."""
    if isinstance(results.campaign.plan, Search):
        found = rounds_of(results)
        return replace(found, sentences=[*found.sentences, *_early(results)])
    rounds = results.rounds
    settled = [*_settled(results), *_early(results)]
    if rounds.empty:
        return Race(settled, HEADINGS, []) if settled else None
    whole = len(results.designs) * len(results.conditions) * results.campaign.replicates
    flown = int(rounds["flights"].sum())
    rows = [_row(row) for row in rounds.to_dict("records")]
    return Race([*_sentences(results, rounds, flown, whole), *settled], HEADINGS, rows)


def _settled(results: Results) -> Iterator[str]:
    """How leading designs flew on after the sweep or the race."""
    rounds, flights = results.rounds, results.standings["flights"]
    before = int(rounds["blocks"].sum()) if len(rounds) else results.campaign.replicates * len(results.conditions)
    on = flights[flights > before]
    if len(on):
        yield (
            f"Then {count(len(on), 'design', 'designs')} flew on, the leading ones and the base craft, through "
            f"{grouped(int((on - before).sum()))} more flights in fresh waves, the same for all that flew on: most in the "
            "conditions that tell them apart, until it was known which are good enough, or what they may take was spent. A "
            "design that flew less is told by the best's score and by how far it was behind in the waves that both met."
        )


def _early(results: Results) -> list[str]:
    """That the run ended before its time, and why."""
    clock = results.manifest.clock
    return [clock.early] if clock and clock.early else []


def _sentences(results: Results, rounds: pd.DataFrame, flown: int, whole: int) -> Iterator[str]:
    first, last = rounds.iloc[0], rounds.iloc[-1]
    screened, halved = int(rounds["screened"].sum()), int(rounds["halved"].sum())
    budget = results.manifest.race
    clock = results.manifest.clock
    spent = f"{grouped(round(budget.simulated_seconds))} simulated seconds" if budget else "time on the clock"
    spent = duration(clock.seconds) + " on the clock" if clock else spent
    yield (
        f"The budget of {spent} was raced for: {grouped(flown)} flights instead of {grouped(whole)}, "
        f"{number(100.0 * flown / whole, 2)} % of everything. All designs in the race fly the same blocks; after each round "
        "those drop out that surely break a limit or are surely behind, and then the worse half, until "
        f"{count(int(last['left']), 'design is', 'designs are')} left, the base craft among them."
    )
    if screened:
        ruled = count(screened, "design was", "designs were").capitalize()
        yield f"{ruled} ruled out before, by trim and stability, and not flown."
    bet = count(halved, "design", "designs").capitalize()
    few = count(int(first["blocks"]), "flight", "flights")
    if halved:
        yield (
            f"{bet} dropped out with the worse half. That is a bet and no proof, most of it after {few} or a few more. "
            f"{' '.join(lost_words(results))} None that dropped out counts as good enough or may be the best. "
            "In the standings it stands where its distance from the best, a standard error added, puts it, and never first."
        )
    yield "Sequential halving (Karnin, Koren & Somekh 2013) with racing by paired intervals (Maron & Moore 1994)."


def lost_words(results: Results) -> list[str]:
    """The chance that halving lost the best design, in a sentence; nothing where nobody was halved away."""
    rounds = results.rounds
    if rounds.empty or not rounds["halved"].sum():
        return []
    lost = 1.0 - float(np.prod(1.0 - rounds["lost"].fillna(0.0).to_numpy()))
    if rounds["lost"].isna().any():
        return ["How likely halving lost the best design is not known: too few flights tell."]
    chance = "1 %" if lost < LEAST else f"{number(100.0 * lost, 2)} %"
    misled = "by how far first flights misled"
    return [f"The chance that halving lost the best design is no more than {chance}, {misled}."]


def _row(row: dict[Any, Any]) -> list[str]:
    names = ("round", "designs", "blocks", "flights", "limit", "behind", "halved", "left")
    return [*(grouped(int(row[name])) for name in names), number(100.0 * float(row["lost"]), 2)]

"""The designs to choose from, side by side with the boat as it is."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd

from sweep.insight.limits import POOLED, in_words
from sweep.insight.outings import count_outings
from sweep.report.display import craft_of_design, design_page
from sweep.report.headline import least, sturdiness, value_in_words
from sweep.report.pages.deciding import MOST_DECIDING
from sweep.report.pages.outings import NOT_SHOWN, flown_by, interval_words
from sweep.report.seaway import Portrait, portrait
from sweep.words.numbers import decimals, number, with_unit
from sweep.words.responses import response_title

if TYPE_CHECKING:
    from sweep.results.store import Results

MOST_CANDIDATES = 3  # beside the boat as it is: judgement


class Candidate(NamedTuple):
    """A design to choose: why it stands here, its page if it has one, and its picture."""

    title: str
    name: str
    page: str
    picture: Portrait


class Cell(NamedTuple):
    """A value and its interval."""

    value: str
    between: str


class Line(NamedTuple):
    """What each candidate has of something."""

    name: str
    meaning: str
    cells: list[Cell]


def chosen_value(results: Results, label: str, design: int) -> str:
    """What a design has of a factor, with its unit."""
    return value_in_words(results.campaign.factors[label], results.designs.loc[design, label])


def candidates(results: Results, order: pd.DataFrame) -> list[tuple[str, int]]:
    """The first, the cheapest, lightest and sturdiest of those good enough, further ones in order, and the boat as it is."""
    if order.empty:
        return [("As it is", 0)] if len(results.standings) else []
    picks: dict[int, str] = {int(order.iloc[0]["design"]): "First"}
    for word, design, _ in least(results, order[order["good_enough"]]):
        picks[design] = f"{picks[design]}, {word}" if design in picks else word.capitalize()
    for place, design in enumerate(order["design"].head(MOST_CANDIDATES), 1):
        if len(picks) < MOST_CANDIDATES:
            picks.setdefault(int(design), f"Place {place}")
    shown = list(picks.items())[:MOST_CANDIDATES]
    return [*((title, design) for design, title in shown), *([] if 0 in dict(shown) else [("As it is", 0)])]


def candidate(results: Results, title: str, design: int) -> Candidate:
    """A design as the head of a column."""
    name = "base craft" if design == 0 else f"design {design}"
    return Candidate(title, name, design_page(results, design), portrait(craft_of_design(results, design)))


def lines_of(results: Results, designs: Sequence[int]) -> list[Line]:
    """What these designs have: what was chosen, score and gain, limits, costs; nothing where one has no score yet."""
    standings = results.standings.set_index("design").to_dict("index")
    if not designs or any(design not in standings for design in designs):
        return []
    factors = [
        Line(results.campaign.factors[label].name, "", [Cell(chosen_value(results, label, design), "") for design in designs])
        for label in list(results.campaign.factors)[:MOST_DECIDING]
    ]
    rows = [standings[design] for design in designs]
    digits = decimals(min(float(row["score"]) for row in rows))
    score = [_cell(row, "score", digits) for row in rows]
    gain = [Cell("–", "") if not design else _cell(row, "gain", digits) for design, row in zip(designs, rows, strict=True)]
    lines = [*factors, Line("score", "less is better", score), Line("gain", "over the boat as it is", gain)]
    lines += [_limit(results, name, designs) for name in results.campaign.limits]
    outings = Line("clean outings", "ten minutes from rest, counted", [_outings(results, design) for design in designs])
    return [*lines, outings, *_costs(results, designs)]


def _cell(row: Mapping[Hashable, Any], name: str, digits: int) -> Cell:
    """A value and its interval, all with as many decimals."""
    value, low, high = (float(row[each]) for each in (name, f"{name}_low", f"{name}_high"))
    between = f"{low:.{digits}f} to {high:.{digits}f}" if np.isfinite([low, high]).all() else ""
    return Cell(f"{value:.{digits}f}" if math.isfinite(value) else number(value), between)


def _limit(results: Results, name: str, designs: Sequence[int]) -> Line:
    """What a limited response is, and what it surely stays under."""
    rows = results.limits
    rows = rows[(rows["condition"] == POOLED) & (rows["response"] == name) & np.isfinite(rows["high"])]
    found = rows.set_index("design").to_dict("index")
    cells = [_reach(name, found[design]) if design in found else Cell("not known", "") for design in designs]
    return Line(response_title(name), f"limit {in_words(name, results.campaign.limits[name].value)}", cells)


def _reach(name: str, row: Mapping[Hashable, Any]) -> Cell:
    return Cell(in_words(name, row["value"]), f"surely under {in_words(name, row['high'])}")


def _outings(results: Results, design: int) -> Cell:
    """How many outings of a design were clean, and of how many that tells."""
    found = count_outings(rows) if len(rows := flown_by(results, design)) else None
    if found is None or not found.shown:
        return Cell(NOT_SHOWN, f"{found.clean} of {found.flown}" if found else "")
    return Cell(f"{found.clean} of {found.flown}", interval_words(found))


def _costs(results: Results, designs: Sequence[int]) -> Iterator[Line]:
    worst = sturdiness(results, list(designs))
    if worst is not None and len(worst):
        cells = [Cell(number(float(worst[design])) if design in worst.index else "not flown", "") for design in designs]
        yield Line("score, built a little off", "the worst of the ways that were flown", cells)
    for name, unit in (("mass", "kg"), ("price", "")):
        if name in results.designs:
            values, most = results.designs.loc[list(designs), name].tolist(), results.campaign.cost_limits.get(name)
            yield Line(
                name,
                f"limit {with_unit(most, unit, 4)}" if most else "",
                [Cell(with_unit(value, unit, 4), "") for value in values],
            )

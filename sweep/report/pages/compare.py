"""The page that lays designs side by side: their conditions, and how far apart they are in the same waves."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from sweep.insight.by_draw import by_draw
from sweep.insight.intervals import TAIL
from sweep.insight.ranking import ranked
from sweep.insight.scores import Array, Scoring
from sweep.insight.uneven import uneven_estimate
from sweep.report.display import condition_table, craft_of_design
from sweep.report.drawing import draw
from sweep.report.drawing_marks import Paper, paper
from sweep.report.embed import as_json, data_script
from sweep.report.page import Made, Material
from sweep.report.pages.design import highest_wave
from sweep.report.pages.standings import STANDING_COLUMNS, script_column
from sweep.words.numbers import interval, number
from sweep.words.phrases import called, called_within

if TYPE_CHECKING:
    from markupsafe import Markup

    from sweep.results.store import Results

HOW = (
    "Choose two or three designs: rows in which they differ stand out. The address of this page keeps the choice, so that you "
    "can send it. Designs that have a page are also compared condition by condition, in the same waves. An interval here is "
    "for one pair. The best of many was chosen by these same flights, which makes it look better than it is; the standings "
    "allow for that."
)


class Drawn(NamedTuple):
    """A design from the side."""

    design: int
    name: str
    view: Paper


@dataclass(frozen=True)
class ComparePage:
    """Any designs side by side: what differs, and how far apart they are in the same waves.

    views: of the designs that have a page; columns_json, pairs, first: for the page's script, the columns, what is said of
    every pair, and the designs chosen at first; any: whether there is one to choose.
    """

    sentences: list[str]
    any: bool
    views: list[Drawn]
    columns_json: Markup
    pairs: Markup
    first: Markup


def make(material: Material) -> Made:
    """The page, and what its charts hold."""
    results = material.results
    first, said = first_choice(results), pairs(results)
    leading = said.get(" ".join(map(str, sorted(first[:2]))), "")
    shown = [*STANDING_COLUMNS, *(column for column in material.columns if column.key != "score")]
    page = ComparePage(
        sentences=[leading, HOW] if leading else [HOW],
        any=bool(first),
        views=_views(results),
        columns_json=as_json([script_column(column)._asdict() for column in shown if column.key != "design"]),
        pairs=as_json(said),
        first=as_json(first),
    )
    return Made(page, data_script("beside", beside(results)))


def _views(results: Results) -> list[Drawn]:
    wave, _ = highest_wave(results)
    crafts = {design: craft_of_design(results, design) for design in sorted(results.leaders)}
    return [Drawn(design, called(design), paper(draw(craft, wave)[0])) for design, craft in crafts.items()]


def first_choice(results: Results) -> list[int]:
    """What is shown before anything is chosen: the best design, the next one, and the base craft."""
    best = [int(design) for design in ranked(results.standings)["design"].head(2)]
    there = set(results.standings["design"])
    return list(dict.fromkeys([*best, *([0] if 0 in there else [])]))


def beside(results: Results) -> pd.DataFrame:
    """Score of every design that has a page in each condition; columns design, name, score."""
    parts = [condition_table(results, design)[["name", "score"]].assign(design=design) for design in sorted(results.leaders)]
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame({"name": [], "score": [], "design": []})


def pairs(results: Results) -> dict[str, str]:
    """What is said of every pair of designs that have a page, by 'one other', the smaller number first."""
    unknowns = results.campaign.unknowns
    scores = {design: by_draw(_blocks(results, design), unknowns) for design in sorted(results.leaders)}
    return {f"{one} {other}": _apart(one, other, scores[one] - scores[other]) for one, other in combinations(sorted(scores), 2)}


def _blocks(results: Results, design: int) -> Array:
    """The scores of a design's flights, (1, conditions, replicates); NaN where none was flown."""
    campaign, flights = results.campaign, results.flights_of(design)
    most = int(results.standings["flights"].max())  # so many replicates no condition has more than
    scores = np.full((1, int(results.conditions["condition"].max()) + 1, most), np.nan)
    scores[0, flights["condition"], flights["replicate"]] = Scoring.of(campaign).scores(flights)
    return scores


def _apart(one: int, other: int, difference: Array) -> str:
    if not np.isfinite(difference).any():
        return f"{called(one)} and design {other} were not flown in the same waves."
    found = uneven_estimate(difference)
    mean, half = float(found.mean[0]), float(found.half_width(TAIL)[0])
    better, worse, size = (one, other, -mean) if mean <= 0.0 else (other, one, mean)
    span = interval(size - half, size + half)
    said = f"{called(better)} scores {number(size)}{span} better than {called_within(worse)}"
    if not math.isfinite(half):
        return f"{said}; one replicate cannot tell how sure that is."
    return f"{said}, in the same waves" + (": that may be chance." if half >= size else ".")

"""What could be built, and what it does: every design in the row of each level that it has."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from sweep.campaign.designs import significant
from sweep.report.charts.choices import choices
from sweep.report.display import GOOD, KEPT, REFUSED
from sweep.report.embed import as_spec
from sweep.words.numbers import grouped, number

if TYPE_CHECKING:
    from markupsafe import Markup

    from sweep.report.display import Column

MOST_DRAWN = 500  # designs: judgement
MOST_COUNTED = 20_000  # designs that boxes and brush count, where not all are drawn: judgement
MOST_FACTORS = 6  # that have rows: judgement
PARTS = 4  # stretches of a factor without levels: judgement
DRAWN_DIGITS = 5  # of a score: judgement
CLIP = 3.0  # times the least score: what is worse stands at the right end (judgement)
COLUMNS = ("design", "label", "group", "page", "score", "mass", "price")


class Box(NamedTuple):
    """A level to leave in or out: its factor, its place among that one's, and its words."""

    factor: int
    place: int
    text: str


class Boxes(NamedTuple):
    """The levels of one factor."""

    name: str
    address: str
    levels: list[Box]


@dataclass(frozen=True)
class Choosing:
    """The chart of all designs by level, its boxes, and what stands under it."""

    chart: Markup
    boxes: list[Boxes]
    note: str


def choosing_of(columns: Sequence[Column], table: pd.DataFrame, unlike: bool = False) -> tuple[Choosing | None, pd.DataFrame]:
    """The chart and its rows; columns, table: of `design_table`; unlike: some designs flew
    less than others. None where there are no factors or no scores."""
    factors = [column for column in columns if column.role == "factor"][:MOST_FACTORS]
    scored = table[np.isfinite(table["score"])]
    if not factors or scored.empty:
        return None, pd.DataFrame()
    shown = _some(scored)
    places = [_places(column, scored[column.key]) for column in factors]
    rows, names = [], []
    for at, (column, (texts, place)) in enumerate(zip(factors, places, strict=True)):
        keys = [f"{text}{chr(0x200B) * (at + 1)}" for text in texts]
        names += [f"{column.heading}{chr(0x200B) * (at + 1)}", *keys]
        found = place.loc[shown.index]
        part = shown[[name for name in COLUMNS if name in shown]].assign(f=at, place=found, row=[keys[k] for k in found])
        rows.append(part)
    data = pd.concat(rows, ignore_index=True)
    clip = _clip(scored)
    data["at"] = significant(data["score"].clip(upper=clip), DRAWN_DIGITS)
    base = scored.loc[scored["design"] == 0, "score"]
    chart = choices(data, names, float(base.iloc[0]) if len(base) else None, clip)
    boxes = [
        Boxes(column.title, column.label, [Box(at, k, text) for k, text in enumerate(texts)])
        for at, (column, (texts, _)) in enumerate(zip(factors, places, strict=True))
    ]
    return Choosing(as_spec(chart, "choices"), boxes, _note(scored, shown, clip, columns, unlike)), data


def everyone(columns: Sequence[Column], table: pd.DataFrame) -> pd.DataFrame:
    """What boxes and brush count, a row a scored design, where the chart draws some; none where it draws all.

    design, score, mass, price, kept (1: every limit), places: of its level among those of each factor that has rows, commas
    between. columns, table: of `design_table`.
    """
    factors = [column for column in columns if column.role == "factor"][:MOST_FACTORS]
    scored = table[np.isfinite(table["score"])]
    if not factors or not MOST_DRAWN < len(scored) <= MOST_COUNTED:
        return pd.DataFrame()
    places = pd.concat([_places(column, scored[column.key])[1] for column in factors], axis=1)
    costs = [name for name in ("mass", "price") if name in scored]
    kept = scored["group"].isin([GOOD, KEPT]).astype(int)
    coded = [",".join(map(str, row)) for row in places.itertuples(index=False)]
    counted: pd.DataFrame = scored[["design", "score", *costs]].assign(kept=kept, places=coded).reset_index(drop=True)
    return counted


def _some(scored: pd.DataFrame) -> pd.DataFrame:
    """The designs that are drawn: all, or the first half of them and every so many-th of the others; the base craft always."""
    if len(scored) <= MOST_DRAWN:
        return scored
    first = scored.head(MOST_DRAWN // 2)
    others = scored.iloc[MOST_DRAWN // 2 :: max(1, (len(scored) - MOST_DRAWN // 2) // (MOST_DRAWN // 2))]
    base = scored[(scored["design"] == 0) & ~scored.index.isin(first.index) & ~scored.index.isin(others.index)]
    return pd.concat([first, others, base])


def _places(column: Column, values: pd.Series) -> tuple[list[str], pd.Series]:
    """The words of a factor's rows, and the row of each design; stretches with as many designs each where it has no levels."""
    if column.levels:
        known = {level: place for place, level in enumerate(column.levels)}
        texts = [str(level) if column.word else number(float(level)) for level in column.levels]
        return texts, values.map(known).astype(int)
    edges = np.unique(np.quantile(values, np.linspace(0.0, 1.0, PARTS + 1)))
    place = np.clip(np.searchsorted(edges, values, side="right") - 1, 0, max(len(edges) - 2, 0))
    texts = [f"{number(low)} to {number(high)}" for low, high in pairwise(edges)] or [number(edges[0])]
    return texts, pd.Series(place, index=values.index)


def _clip(scored: pd.DataFrame) -> float:
    """What is worse than a boat would be chosen for does not stretch the axis, which has a length where all are drawn alike."""
    scores = significant(scored["score"], DRAWN_DIGITS)
    base = scores[scored["design"] == 0]
    reach = max(CLIP * float(scores.min()), 1.1 * float(base.iloc[0]) if len(base) else 0.0)
    said = float(f"{reach:.3g}")  # as it is said, so that the designs said to be over it are
    return float(min(scores.max(), said)) if scores.max() > scores.min() else float(scores.max()) + 0.5


def _note(scored: pd.DataFrame, shown: pd.DataFrame, clip: float, columns: Sequence[Column], unlike: bool) -> str:
    beyond = int((significant(scored["score"], DRAWN_DIGITS) > clip).sum())
    said = ["A stroke is a design, once in the row of each level that it has; dashed, the boat as it is."]
    if shown["group"].eq(REFUSED).any():
        said.append("Short strokes: designs that are refused.")
    if beyond:
        said.append(f"{grouped(beyond)} of {grouped(len(scored))} score over {number(clip)}, and stand at the right end.")
    if unlike:
        said.append("Designs that left early flew less: their scores tell less, and the best of them flatter.")
    if len(shown) < len(scored):
        said.append(
            f"{grouped(len(shown))} of {grouped(len(scored))} designs are drawn, the leading ones all{_counted(scored)}."
        )
    factors = sum(column.role == "factor" for column in columns)
    if factors > MOST_FACTORS:
        said.append(f"The first {MOST_FACTORS} of {factors} factors; Explore has all.")
    return " ".join(said)


def _counted(scored: pd.DataFrame) -> str:
    return "; the sentence counts every design" if len(scored) <= MOST_COUNTED else "; the sentence counts these"

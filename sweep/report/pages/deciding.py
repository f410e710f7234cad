"""Which choices decide: each factor's share of the differences, and the mean score of each of its levels, to be drawn."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from sweep.insight.findings import SCORE
from sweep.insight.intervals import CONFIDENCE_SAID
from sweep.report.headline import value_in_words
from sweep.report.pages.at_leader import at_leader
from sweep.report.pages.levels import level_text
from sweep.words.numbers import number

if TYPE_CHECKING:
    from sweep.results.store import Results

MOST_DECIDING = 6  # factors that are drawn: judgement
DECIDES = 0.05  # of the differences: judgement
WIDE, GAP, LETTER = 300.0, 9.0, 7.5  # of the drawing, between a dot and its words, and of a letter at most (measured)
LONGEST = 16  # letters of a level's words in the drawing (judgement); a dot says them all


class Dot(NamedTuple):
    """A level of a factor in the drawing of its means: where it lies, what it is, and whether it is the first design's."""

    at: str
    said: str
    taken: bool


class Deciding(NamedTuple):
    """A factor, and what it does to the score.

    line: the path through its dots; low, high: the words beside its best and its worst level, at low_at and high_at; share,
    between: of the differences.
    """

    name: str
    address: str
    dots: list[Dot]
    line: str
    low: str
    low_at: str
    high: str
    high_at: str
    share: str
    between: str


def deciding(results: Results, best: int | None) -> list[Deciding]:
    """The factors that do most, with the mean score of each of their levels."""
    means = _level_means(results)
    finite = means["mean"][np.isfinite(means["mean"])]
    ends = (float(finite.min()), float(finite.max())) if len(finite) else (0.0, 0.0)
    rows = shares(results).dropna().head(MOST_DECIDING)
    found = [
        _deciding(results, str(label), row, means[means["factor"] == label], (best, *ends)) for label, row in rows.iterrows()
    ]
    return [_placed(each, _room(each.low for each in found), WIDE - _room(each.high for each in found)) for each in found]


def _room(words: Iterable[str]) -> float:
    """What the longest of the words at one side of the dots needs, with a dot beside it."""
    return 2.0 * GAP + LETTER * max(map(len, words), default=0)


def _placed(row: Deciding, left: float, right: float) -> Deciding:
    """The row with its dots between these, which lie from 0 to 1."""
    places = [left + (right - left) * float(dot.at) for dot in row.dots]
    if not places:
        return row
    return row._replace(
        dots=[dot._replace(at=f"{at:.1f}") for dot, at in zip(row.dots, places, strict=True)],
        line=f"M {min(places):.1f} 12 H {max(places):.1f}",
        low_at=f"{min(places) - GAP:.1f}",
        high_at=f"{max(places) + GAP:.1f}",
    )


def _level_means(results: Results) -> pd.DataFrame:
    rows = results.levels
    if rows.empty:
        return pd.DataFrame({"factor": [], "level": [], "mean": []})
    rows = rows.loc[(rows["response"] == SCORE) & (rows["beside"] == ""), ["factor", "level", "mean"]]
    known: pd.DataFrame = rows[np.isfinite(rows["mean"])]
    return known


def _deciding(
    results: Results, label: str, row: pd.Series, means: pd.DataFrame, frame: tuple[int | None, float, float]
) -> Deciding:
    best, low, high = frame
    factor = results.campaign.factors[label]
    ordered = means.sort_values("mean", kind="stable")
    taken = None if best is None else results.designs.loc[best, label]
    places = [(mean - low) / (high - low) if high > low else 0.5 for mean in ordered["mean"]]
    texts = [value_in_words(factor, factor.levels[int(level)]) for level in ordered["level"]]
    dots = [
        Dot(f"{at:.4f}", f"{text}: mean score {number(mean)}", _same(factor.levels[int(level)], taken))
        for at, text, level, mean in zip(places, texts, ordered["level"], ordered["mean"], strict=True)
    ]
    told = row["total_low"] > 0.0 or row["total_high"] < 1.0
    words = [level_text(results, label, int(level)) for level in ordered["level"]]
    return Deciding(
        name=factor.name,
        address=label,
        dots=dots[::-1],
        line="",
        low=_short(texts[0]) if texts else "",
        low_at="0",
        high=_short(words[-1]) if len(words) > 1 else "",
        high_at="0",
        share=f"{100 * row['total']:.0f} %" if told else "not told",
        between=f"{100 * row['total_low']:.0f} to {100 * row['total_high']:.0f}" if told else "",
    )


def _short(words: str) -> str:
    return words if len(words) <= LONGEST else f"{words[: LONGEST - 1].rstrip()}…"


def _same(level: object, taken: object) -> bool:
    if isinstance(level, str) or isinstance(taken, str):
        return level == taken
    return isinstance(level, float | int) and isinstance(taken, float | int) and math.isclose(level, taken, rel_tol=1e-6)


def deciding_note(results: Results, best: int | None) -> str:
    """What dots and shares are, and what they do not tell of the first design; nothing where there are none."""
    if results.effects.empty:
        return ""
    return (
        "A dot is the mean score of all designs that fly with that level; filled, the first design's. "
        f"The share is of the differences between designs that fly, with its {CONFIDENCE_SAID} interval. "
        f"{at_leader(results, best)}"
    ).rstrip()


def shares(results: Results) -> pd.DataFrame:
    """Each factor's share of the differences between scores, with all that it does together with others; most first."""
    rows = results.effects
    if rows.empty:
        return pd.DataFrame(columns=["total", "total_low", "total_high"], index=pd.Index(list(results.campaign.factors)))
    rows = rows[(rows["response"] == SCORE) & (rows["beside"] == "")].set_index("factor")
    return rows[["total", "total_low", "total_high"]].sort_values("total", ascending=False, kind="stable")


def surely_deciding(results: Results) -> list[tuple[str, float]]:
    """Factors with surely a share worth naming; most first."""
    rows = shares(results)
    sure = rows[rows["total_low"].astype(float) >= DECIDES / 2]
    return [(str(label), float(share)) for label, share in sure["total"].items()]

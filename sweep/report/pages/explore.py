"""The page of all designs at once."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pandas as pd

from sweep.report.display import Column
from sweep.words.numbers import grouped, number


def sample_note(shown: int, total: int) -> str:
    """What the linked views hold."""
    if shown == total:
        return ""
    return (
        f"{grouped(shown)} of {grouped(total)} designs are drawn: evenly over the standings, "
        "with the base craft and every design that has a page."
    )


def strongest_factor(table: pd.DataFrame, columns: Sequence[Column]) -> tuple[Column, float] | None:
    """The factor of numbers whose order goes most plainly with that of the scores, and Spearman's rank correlation."""
    factors = [column for column in columns if column.role == "factor" and not column.word]
    links = {column: float(table[column.key].corr(table["score"], method="spearman")) for column in factors}
    known = [column for column in factors if math.isfinite(links[column])]
    strongest = max(known, key=lambda column: abs(links[column]), default=None)
    return (strongest, links[strongest]) if strongest else None


def first_axes(table: pd.DataFrame, columns: Sequence[Column]) -> tuple[Column, Column]:
    """What the scatter shows first: the strongest factor across, the score up."""
    strongest = strongest_factor(table, columns)
    up = next((column for column in columns if column.key == "score"), columns[-1])
    return strongest[0] if strongest else columns[0], up


def sentences(table: pd.DataFrame, columns: Sequence[Column]) -> list[str]:
    """How the scores spread, and which factor goes with them most plainly."""
    low, middle, high = (float(table["score"].quantile(share)) for share in (0.0, 0.5, 1.0))
    said = [f"Scores of {len(table)} designs run from {number(low)} to {number(high)}; half are under {number(middle)}."]
    if strongest := strongest_factor(table, columns):
        column, link = strongest
        way = "falls" if link < 0 else "rises"
        said.append(
            f"Of the factors, {column.title} goes with the score most plainly: the score {way} as it grows "
            f"(rank correlation {number(link, 2)})."
        )
    return said

"""The standings as text: for a terminal, and as CSV."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from sweep.insight.ranking import ONE_REPLICATE
from sweep.shown import factor_columns, group, shown_factor
from sweep.wording import number

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign

MOST_ROWS = 10


def standings_text(campaign: Campaign, designs: pd.DataFrame, standings: pd.DataFrame, most: int = MOST_ROWS) -> str:
    """The first rows of the standings in aligned columns, factors in the campaign file's units."""
    rows = standings.head(most)
    table = pd.DataFrame({"place": [_places(row) for row in rows.itertuples()]})
    table["design"] = rows["design"].astype(str).to_numpy()
    for name in ("score", "gain"):
        table[name] = [_between(*values) for values in rows[[name, f"{name}_low", f"{name}_high"]].itertuples(index=False)]
    table["failed"] = [f"{100.0 * share:.0f} %" for share in rows["failed"]]
    chosen = designs.loc[rows["design"]]
    for label, column in factor_columns(campaign, designs).items():
        values = shown_factor(campaign.factors[label], chosen[label])
        table[column.heading] = [number(value) if isinstance(value, float) else str(value) for value in values]
    table["standing"] = group(rows).to_numpy()
    left = len(standings) - len(rows)
    more = [f"... and {left} more"] if left > 0 else []
    doubt = [ONE_REPLICATE] if standings["score_low"].isna().all() else []
    return "\n".join([*_aligned(table), *more, *doubt])


def _places(row: tuple[object, ...]) -> str:
    """'3 (1-7)': the place, and those that it may truly have; '-' without one."""
    place, low, high = (getattr(row, name) for name in ("place", "place_low", "place_high"))
    return "-" if pd.isna(place) else f"{place} ({low}-{high})"


def _between(centre: float, low: float, high: float) -> str:
    half = (high - low) / 2.0
    return number(centre) if not np.isfinite(half) else f"{number(centre)} +- {number(half, 2)}"


def _aligned(table: pd.DataFrame) -> list[str]:
    """Columns as wide as their widest entry; the last one is not padded."""
    columns = [[str(name), *table[name].astype(str)] for name in table]
    widths = [max(map(len, column)) for column in columns]
    lines = zip(*columns, strict=True)
    return ["  ".join(text.rjust(width) for text, width in zip(line, [*widths[:-1], 0], strict=True)) for line in lines]


def standings_csv(designs: pd.DataFrame, standings: pd.DataFrame) -> str:
    """All of the standings with the factors of each design, in SI."""
    table = standings.join(designs, on="design")
    return table.to_csv(index=False, lineterminator="\n")

"""Whether the tables of a results folder have the form that this version's pages are made from."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pyarrow.parquet as pq

from sweep import changes
from sweep.insight import builds, effects
from sweep.limits import COLUMNS as LIMIT_COLUMNS
from sweep.plain_files import StoreError, check_plain, reading

if TYPE_CHECKING:
    from sweep.store import Results

STANDING = ("design", "place", "place_low", "place_high", "score", "score_low", "score_high", "gain", "gain_low", "gain_high")
RANKED: dict[str, tuple[str, ...]] = {
    "standings": (*STANDING, "level_with_best", "verdict", "reason", "flights", "failed"),
    "limits": LIMIT_COLUMNS,
    "builds": builds.BUILD_COLUMNS,
    "settings": builds.SETTING_COLUMNS,
    "effects": ("response", *effects.COLUMNS),
    "levels": ("response", *effects.LEVEL_COLUMNS),
    "responses": ("design",),
}
"""Tables that ranking makes of the flights."""
FLOWN: dict[str, tuple[str, ...]] = {
    "rides": ("design", "speed", "height", "period", "heading", "heading_name", "flights", "clean", "share_low", "share_high"),
    "tolerances": ("design", "off", "side", "condition", "replicate", "status", "time_foilborne"),
    "changes": changes.COLUMNS,
}
"""Tables that take flights of their own."""
BEGUN: dict[str, tuple[str, ...]] = {
    "designs": ("design",),
    "conditions": ("condition", "name", "sea_height", "sea_period", "heading_name", "speed"),
}
"""Tables that a run begins with."""


def check_forms(folder: Path) -> None:
    """Raises StoreError with what is wrong and what would help, for a folder that another version of the program left."""
    check_plain(folder)
    wrong = [
        *_lacking(folder, RANKED, f"`foilsweep rank {folder}` makes it anew; the flights stay."),
        *_lacking(folder, FLOWN, "Delete it: `foilsweep run` with its campaign flies it again, and the other flights stay."),
        *_lacking(folder, BEGUN, "`foilsweep run` with its campaign and another folder (--out) flies it by this version."),
    ]
    if wrong:
        raise StoreError("\n".join(wrong))


def check_ranked(results: Results, folder: Path) -> None:
    """Raises StoreError if the campaign file there scores or limits what the folder has not been ranked by."""
    campaign, standings = results.campaign, results.standings
    unranked = [name for name in campaign.score if name not in standings]
    limited = set(results.limits["response"]) if len(results.limits) else set()
    if unranked or (len(standings) and limited != set(campaign.limits)):
        raise StoreError(
            f"{folder / 'campaign.yaml'}: scores or limits other responses than the folder was ranked by. "
            f"`foilsweep rank {folder}` ranks it by them; the flights stay."
        )


def _lacking(folder: Path, forms: dict[str, tuple[str, ...]], help_: str) -> Iterator[str]:
    for name, wanted in forms.items():
        path = folder / f"{name}.parquet"
        there = _columns(path)
        if there and (missing := [column for column in wanted if column not in there]):
            columns = f"the column{'s' if len(missing) > 1 else ''} {', '.join(missing)}"
            yield f"{path}: another version of the program has left it without {columns}. {help_}"


def _columns(path: Path) -> list[str]:
    """Those of a table; none if it is not there, or damaged, which is for its reader to say."""
    try:
        with reading(path) as file:
            names: list[str] = pq.read_schema(file).names
    except (OSError, ValueError):
        return []
    return names

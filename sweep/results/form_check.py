"""Whether the tables of a results folder have the form that this version reads, and hold what a run may write."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from pathlib import Path

import pandas as pd
import pyarrow.parquet as pq

from sweep.insight import builds, effects, hanging, levels
from sweep.insight.limits import COLUMNS as LIMIT_COLUMNS
from sweep.insight.outings import COLUMNS as OUTINGS
from sweep.insight.race import DROPPED, ROUNDS
from sweep.insight.ranking import RANK_COLUMNS
from sweep.model.history import RECORDED
from sweep.model.quantities import RESPONSE_NAMES
from sweep.results.atomic_files import TORN
from sweep.results.plain_files import StoreError, check_plain, reading
from sweep.results.tables import CHANGES, EVENT, FLIGHT, OUTING_EVENT
from sweep.results.values import with_numbers, wrong_values

RANKED: dict[str, tuple[str, ...]] = {
    "standings": (*RANK_COLUMNS, "verdict", "reason", "good_enough", "failing_high", "flights", "failed"),
    "limits": LIMIT_COLUMNS,
    "builds": builds.BUILD_COLUMNS,
    "settings": builds.SETTING_COLUMNS,
    "effects": ("response", *effects.COLUMNS),
    "levels": ("response", *levels.LEVEL_COLUMNS),
    "hanging": hanging.COLUMNS,
    "responses": ("design",),
}
"""Tables that ranking makes of the flights."""
FLOWN: dict[str, tuple[str, ...]] = {
    "rides": ("design", "speed", "height", "period", "heading", "heading_name", "flights", "clean", "share_low", "share_high"),
    "tolerances": ("design", "off", "side", "condition", "replicate", "status", "time_foilborne"),
    "outings": OUTINGS,
    "changes": CHANGES,
}
"""Tables that take flights of their own."""
BEGUN: dict[str, tuple[str, ...]] = {
    "designs": ("design",),
    "conditions": ("condition", "name", "sea_height", "sea_period", "heading_name", "speed"),
}
"""Tables that a run begins with."""
SHARD, LEADER = "a shard", "a recorded flight"
RACED = {"dropped": DROPPED, "rounds": ROUNDS}
EXPLAINED = {
    "troubles": tuple(EVENT),
    "moments": tuple(FLIGHT),
    "outing_events": tuple(OUTING_EVENT),
    "outing_moments": ("design", "outing", *RECORDED),
}
FORMS: dict[str, tuple[str, ...]] = {
    **RANKED,
    **FLOWN,
    **BEGUN,
    **RACED,
    **EXPLAINED,
    SHARD: ("design", "condition", "replicate", "status", *RESPONSE_NAMES),
    LEADER: ("condition", *RECORDED),
}

_RANK = "`foilsweep rank {folder}` makes it anew; the flights stay."
_FLY = "If this version flew it, delete it: `foilsweep run` with its campaign flies it again, and the other flights stay."
_BEGIN = "`foilsweep run` with its campaign and another folder (--out) flies it by this version; leave this one as it is."
_MAKE = "If this version flew the folder, delete it: `foilsweep run` with its campaign makes it anew, and the flights stay."


def checked(
    path: Path,
    table: pd.DataFrame,
    form: str,
    columns: Collection[str] | None = None,
    counts: Mapping[str, int] | None = None,
) -> pd.DataFrame:
    """The table; raises StoreError if it lacks a column or holds what no run writes, and says what would help.

    columns: which of its form were asked for, if not all; counts: how many designs and conditions there are.
    """
    wanted = FORMS.get(form, ()) if columns is None else columns
    for wrong in _without(wanted, table.columns):
        raise StoreError(f"{path}: {wrong}. {_help_of_another_version(form, path.parent)}")
    for wrong in wrong_values(table, wanted, counts):
        raise StoreError(f"{path}: {wrong}. {_help(form, path.parent)}")
    return with_numbers(table, wanted)


def check_forms(folder: Path) -> None:
    """Raises StoreError with what is wrong and what would help, for a folder that another version of the program left."""
    check_plain(folder)
    if wrong := [sentence for name in (*RANKED, *FLOWN, *BEGUN) for sentence in _lacking(folder, name)]:
        raise StoreError("\n".join(wrong))


def _help(form: str, folder: Path) -> str:
    if form in (SHARD, *FLOWN):
        return _FLY
    return (_RANK if form in RANKED else _BEGIN if form in BEGUN else _MAKE).format(folder=folder)


def _help_of_another_version(form: str, folder: Path) -> str:
    """Only ranking is made anew: `run` refuses to fly on beside flights of another version, so nothing may be deleted."""
    return (_RANK if form in RANKED else _BEGIN).format(folder=folder)


def _lacking(folder: Path, name: str) -> Iterator[str]:
    path = folder / f"{name}.parquet"
    if there := _columns(path):
        yield from (f"{path}: {said}. {_help_of_another_version(name, folder)}" for said in _without(FORMS[name], there))


def _without(wanted: Collection[str], there: Collection[str]) -> Iterator[str]:
    if missing := [column for column in wanted if column not in there]:
        columns = f"the column{'s' if len(missing) > 1 else ''} {', '.join(missing)}"
        yield f"another version of the program has left it without {columns}"


def _columns(path: Path) -> list[str]:
    """Those of a table; none if it is not there, or damaged, which is for its reader to say."""
    try:
        with reading(path) as file:
            names: list[str] = pq.read_schema(file).names
    except TORN:
        return []
    return names

"""The seconds around what failed first in outings: for the replay on a design's page, and as links that open it there."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

import pandas as pd

from sweep.campaign import outings as plan
from sweep.flying.replay import draw_sea
from sweep.report.display import design_page
from sweep.report.pages.causes import PLAIN

if TYPE_CHECKING:
    from sweep.results.store import Results

SHOWN_S, LEAD_S = 10, 2.0
"""Seconds that a link shows, and how long before the failure its boat stands: judgement."""
SAME = 0.2
"""Seconds by which a record, of so many rows a second, may have an event after the flight's own count (judgement)."""


class Seen(NamedTuple):
    """A failed outing: what failed first, when, by which cause; page: where its replay opens, why: by which rule."""

    said: str
    page: str
    why: str


class Excerpts(NamedTuple):
    """Of the failed outings of a design: numbers and names, as conditions; records (SI) and events; the seas, by number."""

    named: list[tuple[int, str]]
    history: pd.DataFrame
    events: pd.DataFrame
    seas: dict[int, pd.DataFrame]


def seen_of(results: Results, design: int) -> list[Seen]:
    """The failed outings of a design whose seconds are kept."""
    page = design_page(results, design)
    return [_seen(results, row, page) for row in _failed(results, design)]


def _seen(results: Results, row: Mapping[Hashable, Any], page: str) -> Seen:
    when, outing = plan.LIES + float(row["at_risk"]), int(row["outing"])
    cause, why = _cause(results, row, when)
    begin, moment = max(when - 0.5 * SHOWN_S, 0.0), max(when - LEAD_S, 0.0)
    opens = f"{page}#condition={_number(results, outing)}&length={SHOWN_S}&begin={begin:.1f}&moment={moment:.2f}"
    return Seen(f"Outing {outing} ({_met(row)}): {row['first_failure']} at {when:.1f} s. {cause}.", opens, why)


def _cause(results: Results, row: Mapping[Hashable, Any], when: float) -> tuple[str, str]:
    """Of the last event that had begun when it failed, else of the first after it."""
    events = results.outing_events
    mine = events[(events["design"] == row["design"]) & (events["outing"] == row["outing"])].sort_values("begin", kind="stable")
    before, after = mine[mine["begin"] <= when + SAME].tail(1), mine[mine["begin"] > when + SAME].head(1)
    for event in (before if len(before) else after).to_dict("records"):
        return _sentence(PLAIN[str(event["cause"])]), str(event["why"])
    return "The record shows no event there", ""


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]


def excerpts_of(results: Results, design: int) -> Excerpts:
    """Their seconds, as conditions numbered after those of the campaign."""
    rows = list(_failed(results, design))
    named = [(_number(results, row["outing"]), f"outing {row['outing']}, {_met(row)}: {row['first_failure']}") for row in rows]
    wanted = {int(row["outing"]) for row in rows}
    history, events = (
        _renumbered(results, table[(table["design"] == design) & table["outing"].isin(wanted)]) if rows else pd.DataFrame()
        for table in (results.outing_moments, results.outing_events)
    )
    return Excerpts(named, history, events, dict(_seas(results, sorted(wanted))))


def _seas(results: Results, outings: list[int]) -> Iterator[tuple[int, pd.DataFrame]]:
    campaign, conditions = plan.as_outings(results.campaign), plan.conditions_of(results.campaign)
    flown = plan.list_outings(results.campaign)
    for outing in outings:
        out = flown[outing]
        sea = draw_sea(campaign, conditions[out.condition], out.replicate)
        yield _number(results, outing), sea.assign(condition=_number(results, outing))


def _failed(results: Results, design: int) -> Iterator[Mapping[Hashable, Any]]:
    """Rows of the outings of a design whose seconds are kept."""
    kept = results.outing_moments
    if kept.empty or results.outings.empty:
        return
    mine = set(kept.loc[kept["design"] == design, "outing"])
    rows = results.outings
    yield from rows[(rows["design"] == design) & rows["outing"].isin(mine)].to_dict("records")


def _number(results: Results, outing: int) -> int:
    return len(results.conditions) + int(outing)


def _renumbered(results: Results, table: pd.DataFrame) -> pd.DataFrame:
    found = table.drop(columns=["design", "outing"]).reset_index(drop=True)
    found.insert(0, "condition", len(results.conditions) + table["outing"].to_numpy(dtype=int))
    return found


def _met(row: Mapping[Hashable, Any]) -> str:
    heading = [str(row["heading_name"])] if row["heading_name"] else []
    return ", ".join([str(row["sea"]), *heading, f"{row['speed']:g} m/s"])

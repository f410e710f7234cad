"""What failed first in outings: some of each design flown once more, the cause of the failure and the seconds around it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd

from sweep.campaign import outings as plan
from sweep.campaign.designs import craft_of
from sweep.campaign.draws import as_drawn, boat_of
from sweep.campaign.faults import NamedFault
from sweep.flying.recording import Wanted, record_each
from sweep.flying.work import Work
from sweep.insight.causes import name_causes
from sweep.insight.events import list_events
from sweep.model.history import RECORDED
from sweep.model.quantities import NO_TRIM
from sweep.results.tables import OUTING_EVENT

BEFORE, AFTER = 8.0, 4.0
"""Seconds that are kept before and after what failed first (judgement)."""
CUT = 0.1
"""Seconds by which a record that is cut may end early, by its rows."""


class Seen(NamedTuple):
    """events: columns `OUTING_EVENT`, times in s; moments: rows of the records (SI) around them, after design and outing."""

    events: pd.DataFrame
    moments: pd.DataFrame


def worth_seeing(table: pd.DataFrame) -> pd.DataFrame:
    """The rows of a table of outings that are flown again: of each design one of each thing that failed first, then others."""
    failed = table[(table["clean"] == 0) & (table["status"] != NO_TRIM)]
    again = failed.groupby(["design", "first_failure"]).cumcount()
    order = failed.assign(again=again).sort_values(["design", "again", "outing"], kind="stable")
    found: pd.DataFrame = order.groupby("design").head(plan.MOST_SEEN).drop(columns="again")
    return found.reset_index(drop=True)


def see_failures(work: Work, chosen: Sequence[int], table: pd.DataFrame) -> Seen:
    """Fly the failed outings of `worth_seeing` again, recorded; table: all outings of the chosen designs."""
    campaign, conditions = plan.as_outings(work.campaign), plan.conditions_of(work.campaign)
    outings = plan.list_outings(work.campaign)
    crafts, rows = [craft_of(campaign, work.designs.iloc[design]) for design in chosen], worth_seeing(table).to_dict("records")
    places = {design: at for at, design in enumerate(chosen)}
    wanted = [
        Wanted(places[int(row["design"])], conditions[out.condition], out.replicate, plan.LIES + float(row["at_risk"]) + AFTER)
        for row in rows
        for out in (outings[int(row["outing"])],)
    ]

    def tell(place: int, history: pd.DataFrame) -> Seen:
        row, of = rows[place], wanted[place]
        (craft,) = as_drawn(campaign, [crafts[of.craft]], boat_of(campaign, of.replicate))
        at, when, last = of.condition.index, plan.LIES + float(row["at_risk"]), float(history["time"].iloc[-1])
        length = last if last > of.until - CUT else plan.LENGTH  # a record that was cut there has no end of its own
        events = list_events(history, craft, plan.LIES, length, campaign.water.depth)
        events = name_causes(history, events, craft, {at: of.condition.speed}, {at: NamedFault()})
        near, time = events["begin"].between(when - BEFORE, when + AFTER), history["time"]
        said = {"design": np.int32(row["design"]), "outing": np.int32(row["outing"])}
        moments = history[time.between(when - BEFORE, when + AFTER)].drop(columns="condition").assign(**said)
        return Seen(events[near].assign(**said)[OUTING_EVENT], moments[["design", "outing", *moments.columns[:-2]]])

    work._replace(campaign=campaign).begin(len(wanted))
    parts = record_each(campaign, crafts, wanted, tell, work.workers, work.watcher.flown)
    work.watcher.end()
    none = pd.DataFrame({name: pd.Series(dtype=np.int32) for name in ("design", "outing")})
    events = [part.events for part in parts if len(part.events)]
    return Seen(
        pd.concat(events, ignore_index=True) if events else none.reindex(columns=OUTING_EVENT),
        pd.concat([part.moments for part in parts], ignore_index=True) if parts else none.reindex(columns=[*none, *RECORDED]),
    )

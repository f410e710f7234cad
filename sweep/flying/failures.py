"""Why the leading designs failed: the bad events of their flights, each with its cause and the seconds around it.

A sweep keeps no time histories. Bad flights of the leaders are flown once more and recorded; they are the same flights to the
bit.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.campaign.designs import craft_of
from sweep.campaign.draws import as_drawn, boat_of
from sweep.campaign.follow_up_plan import MOST_EXPLAINED
from sweep.flying.recording import Wanted, record_each
from sweep.flying.ride_map import BAD_EVENTS, clean
from sweep.flying.work import Work
from sweep.insight.causes import name_causes
from sweep.insight.events import list_events
from sweep.model.quantities import NO_TRIM
from sweep.results.tables import EVENT, FLIGHT

AROUND = 3.0
"""Seconds that are kept before and after an event (judgement)."""
READ = [*FLIGHT, "status", *BAD_EVENTS]


class Troubles(NamedTuple):
    """events: columns as `EVENT`, times in s; moments: rows of the records (SI) within `AROUND` of an event, after `FLIGHT`."""

    events: pd.DataFrame
    moments: pd.DataFrame


def bad_flights(flights: pd.DataFrame) -> pd.DataFrame:
    """Condition and replicate of one design's flights with a touchdown, broach, loss of flight or early end.

    The first replicate of every condition comes before the second, so that the first few are from all conditions.
    """
    bad = ~clean(flights) & (flights["status"].to_numpy() != NO_TRIM)
    found: pd.DataFrame = flights.loc[bad, ["condition", "replicate"]].sort_values(["replicate", "condition"])
    return found.reset_index(drop=True)


def explain(
    work: Work, chosen: Sequence[int], flights_of: Callable[[int], pd.DataFrame], most: int = MOST_EXPLAINED
) -> Troubles:
    """Fly the first bad flights of each chosen design again, `most` at most; flights_of: its rows, columns `READ`."""
    blocks: dict[tuple[int, int], list[int]] = {}
    for at, design in enumerate(chosen):
        for condition, replicate in bad_flights(flights_of(design)).head(most).itertuples(index=False):
            blocks.setdefault((int(condition), int(replicate)), []).append(at)
    wanted = [Wanted(at, work.conditions[block[0]], block[1]) for block, some in sorted(blocks.items()) for at in some]
    crafts, flight = [craft_of(work.campaign, work.designs.iloc[design]) for design in chosen], work.campaign.flight

    def tell(place: int, history: pd.DataFrame) -> Troubles:
        of = wanted[place]
        (craft,) = as_drawn(work.campaign, [crafts[of.craft]], boat_of(work.campaign, of.replicate))
        events = list_events(history, craft, flight.settle, flight.length, work.campaign.water.depth)
        at = of.condition.index
        events = name_causes(history, events, craft, {at: of.condition.speed}, {at: of.condition.fault})
        return Troubles(*(_named(part, chosen[of.craft], of.replicate) for part in (events, _around(history, events))))

    work.begin(len(wanted))
    parts = record_each(work.campaign, crafts, wanted, tell, work.workers, work.watcher.flown)
    work.watcher.end()
    events = [part.events for part in parts if len(part.events)]
    moments = [part.moments for part in parts if len(part.moments)]
    nothing = pd.DataFrame({name: pd.Series(dtype=np.int32) for name in FLIGHT})
    return Troubles(
        pd.concat(events, ignore_index=True)[EVENT] if events else nothing.reindex(columns=EVENT),
        pd.concat(moments, ignore_index=True) if moments else nothing,
    )


def _named(table: pd.DataFrame, design: int, replicate: int) -> pd.DataFrame:
    """A table of one flight with the columns `FLIGHT` before the others."""
    named = table.assign(design=np.int32(design), replicate=np.int32(replicate), condition=table["condition"].astype(np.int32))
    return named[[*FLIGHT, *(name for name in table if name not in FLIGHT)]]


def _around(history: pd.DataFrame, events: pd.DataFrame) -> pd.DataFrame:
    """The rows within `AROUND` of any event, in single precision but for their time."""
    time = history["time"].to_numpy(dtype=np.float64)
    near = np.zeros(len(time), dtype=np.bool_)
    for begin, end in events[["begin", "end"]].itertuples(index=False):
        near |= (time >= begin - AROUND) & (time <= end + AROUND)
    return _single(history[near])


def _single(rows: pd.DataFrame) -> pd.DataFrame:
    kinds = {str(name): np.float32 for name in rows if name not in (*FLIGHT, "time")}
    return rows.astype(kinds)


def moment(moments: pd.DataFrame, event: pd.Series) -> pd.DataFrame:
    """The seconds around one of the events: rows of its flight from `AROUND` before it to as much after."""
    same: NDArray[np.bool_] = (moments[FLIGHT] == event[FLIGHT].to_numpy(dtype=np.int64)).all(axis=1).to_numpy()
    near = moments["time"].between(float(event["begin"]) - AROUND, float(event["end"]) + AROUND).to_numpy()
    return moments[same & near].reset_index(drop=True)

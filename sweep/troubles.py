"""Why the leading designs failed: the bad events of their flights, each with its cause and the seconds around it.

The sweep keeps no time histories. Flights of the leaders with something bad in them are flown once more, which gives the same
flight to the bit, with the recorder on.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, NamedTuple

import joblib
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.designs import craft_of
from sweep.events import list_events
from sweep.insight.causes import name_causes
from sweep.model.quantities import NO_TRIM
from sweep.recording import record_block
from sweep.rides import BAD_EVENTS, clean

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft
    from sweep.conditions import Condition

AROUND = 3.0
"""Seconds that are kept before and after an event."""
MOST_FLIGHTS = 12
"""Flights of a design that are flown again for their causes: what each costs is a fifth of a second, and 0.1 MB."""
FLIGHT = ["design", "condition", "replicate"]
EVENT = [*FLIGHT, "kind", "begin", "end", "cause", "why"]
READ = [*FLIGHT, "status", *BAD_EVENTS]


class Troubles(NamedTuple):
    """events: columns as `EVENT`, times in s; moments: rows of the records (SI) within `AROUND` of an event, after `FLIGHT`."""

    events: pd.DataFrame
    moments: pd.DataFrame


def bad_flights(flights: pd.DataFrame) -> pd.DataFrame:
    """Condition and replicate of one design's flights with a touchdown, broach, loss of flight or early end.

    The first replicate of every condition comes before the second: so the first few are from all conditions.
    """
    bad = ~clean(flights) & (flights["status"].to_numpy() != NO_TRIM)
    found: pd.DataFrame = flights.loc[bad, ["condition", "replicate"]].sort_values(["replicate", "condition"])
    return found.reset_index(drop=True)


def explain(
    campaign: Campaign,
    designs: pd.DataFrame,
    conditions: Sequence[Condition],
    chosen: Sequence[int],
    flights_of: Callable[[int], pd.DataFrame],
    workers: int | None = None,
) -> Troubles:
    """Fly the first `MOST_FLIGHTS` bad flights of the chosen designs again; flights_of: a design's rows, columns `READ`."""
    wanted: dict[tuple[int, int], list[int]] = {}
    for design in chosen:
        for condition, replicate in bad_flights(flights_of(design)).head(MOST_FLIGHTS).itertuples(index=False):
            wanted.setdefault((int(condition), int(replicate)), []).append(design)
    crafts = {design: craft_of(campaign, designs.iloc[design]) for design in chosen}
    parallel = joblib.Parallel(n_jobs=workers or joblib.cpu_count(), backend="threading")
    parts = parallel(
        joblib.delayed(_of_block)(campaign, {design: crafts[design] for design in some}, conditions[condition], replicate)
        for (condition, replicate), some in sorted(wanted.items())
    )
    events = [part.events for each in parts for part in each if len(part.events)]
    moments = [part.moments for each in parts for part in each if len(part.moments)]
    nothing = pd.DataFrame({name: pd.Series(dtype=np.int32) for name in FLIGHT})
    return Troubles(
        pd.concat(events, ignore_index=True)[EVENT] if events else nothing.reindex(columns=EVENT),
        pd.concat(moments, ignore_index=True) if moments else nothing,
    )


def _of_block(campaign: Campaign, crafts: dict[int, Craft], condition: Condition, replicate: int) -> list[Troubles]:
    histories = record_block(campaign, list(crafts.values()), condition, replicate)
    flight, told = campaign.flight, []
    for at, (design, craft) in enumerate(crafts.items()):
        events = list_events(histories[at], craft, flight.settle, flight.length, campaign.water.depth)
        events = name_causes(histories[at], events, craft, {condition.index: condition.speed})
        told.append(Troubles(*(_named(part, design, replicate) for part in (events, _around(histories[at], events)))))
    return told


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

"""Whole outings of the chosen designs, and what ended the luck of each."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from sweep.campaign.outings import STARTS, as_outings, conditions_of, list_outings, phase
from sweep.flying.flights import fly_shards
from sweep.flying.work import Work
from sweep.model.quantities import CODE_FAILED, FLEW, NO_TRIM, STATUS_NAMES, STOPPED
from sweep.results.shard_plan import Shard

if TYPE_CHECKING:
    from numpy.typing import NDArray

EVENTS = {"touchdowns": "before_touchdown", "broaches": "before_broach", "lost_flights": "before_loss"}
"""What makes an outing not clean beside its early end, as on the map; and the scored time before the first."""
FIRST = {"touchdowns": "touchdown", "broaches": "broach", "lost_flights": "loss of flight"}
ENDS = {"upset": "upset", "under-water": "went under", "aground": "aground", "no-trim": "no trim", "not-a-number": "no result"}
ENDS |= {STATUS_NAMES[status]: "own code failed" for status in CODE_FAILED}
ENDS |= {STATUS_NAMES[status]: "stopped by its code" for status in STOPPED}
STAYED_DOWN = "did not take off"


def fly_outings(work: Work, chosen: Sequence[int], first: int = 0) -> Iterator[pd.DataFrame]:
    """Fly the chosen designs' outings from number `first` on; one table an outing, in order, a row a design.

    Columns, SI: design, outing; sea, heading_name, speed; status; clean: 1 if it went to its end without a touchdown, broach,
    loss of flight or upset, and took off as often as it was told to; first_failure: what failed first, '' of a clean one;
    at_risk: scored time until then; path, energy: over ground and of the battery, over its scored time.
    """
    conditions, outings = conditions_of(work.campaign), list_outings(work.campaign)
    out = work._replace(campaign=as_outings(work.campaign), designs=work.designs.loc[list(chosen)], conditions=conditions)
    shards = [Shard(number, *outing, 0, len(chosen)) for number, outing in enumerate(outings)][first:]
    for shard, rows in fly_shards(out, shards):
        met = conditions[shard.condition]
        failed, at_risk = first_failures(rows)
        path = rows["speed_mean"].to_numpy() * rows["time_flown"].to_numpy()
        yield pd.DataFrame(
            {
                "design": np.array(chosen, dtype=np.int32),
                "outing": np.int32(shard.number),
                "sea": met.sea.name,
                "heading_name": met.heading.name if met.sea.directed else "",
                "speed": met.speed,
                "status": rows["status"].to_numpy(),
                "clean": np.array([not name for name in failed], dtype=np.int8),
                "first_failure": failed,
                "at_risk": at_risk,
                "path": path,
                "energy": rows["power_mean"].to_numpy() * rows["time_flown"].to_numpy(),
            }
        )


def first_failures(rows: pd.DataFrame) -> tuple[list[str], NDArray[np.float64]]:
    """What failed first in each flight, '' where nothing did, and the scored time (s) until then.

    A craft that did not take off as often as it was told to has failed, if nothing else did, over its whole time.
    """
    found = [_first(row) for row in rows.to_dict("records")]
    return [name for name, _ in found], np.array([time for _, time in found], dtype=np.float64)


def _first(row: dict[Hashable, Any]) -> tuple[str, float]:
    status = int(row["status"])
    flown = 0.0 if status == NO_TRIM else float(np.nan_to_num(row["time_flown"]))
    failed = [(float(row[time]), FIRST[name]) for name, time in EVENTS.items() if row[name] > 0.0]
    if status != FLEW:
        failed.append((flown, ENDS[STATUS_NAMES[status]]))
    if failed:
        when, name = min(failed)
        return (name if status == NO_TRIM else f"{name}{phase(when)}"), when
    return ("", flown) if row["take_offs"] >= STARTS else (STAYED_DOWN, flown)

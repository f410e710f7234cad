"""What went wrong in the flights of a design, and why, for its page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sweep.campaign.follow_up_plan import MOST_EXPLAINED
from sweep.flying.failures import AROUND, bad_flights
from sweep.flying.recording import RECORD_RATE
from sweep.insight.events import KINDS
from sweep.words.numbers import count, grouped, number
from sweep.words.phrases import together

if TYPE_CHECKING:
    import pandas as pd

    from sweep.results.store import Results

MOST_LISTED = 40  # rows: judgement
PLAIN = {
    "blind range": "too close for the rangefinder to see",
    "servo limit": "a servo at its limit",
    "ventilation": "foils that draw air",
    "drop-out": "readings that did not come, or misled",
    "wave beyond the window": "waves beyond what the struts allow",
    "loop oscillation": "a loop that swings",
    "thrust short": "too little thrust",
    "shallow water": "water that is too shallow",
    "not clear": "not clear from the record",
}
"""Causes of `sweep.insight.causes` as people say them."""


def tables(results: Results, events: pd.DataFrame) -> dict[str, Any]:
    """The events of a design's recorded flights with their causes, `events` as `name_causes` gives them."""
    names = dict(zip(results.conditions["condition"], results.conditions["name"], strict=True))
    listed = _in_order(events).head(MOST_LISTED)
    return {
        "sentence": _sentence(events),
        "rows": [
            (names[row["condition"]], f"{row['begin']:.1f} s", KINDS[row["kind"]], PLAIN[row["cause"]], row["why"])
            for row in listed.to_dict("records")
        ],
        "left": len(events) - len(listed),
    }


def of_design(results: Results, design: int) -> dict[str, Any]:
    """As `tables`, of all flights of a design that had something bad in them; nothing where a run has not kept that.

    events, more: the events for a download, and sentences on which flights they are of.
    """
    if "design" not in results.troubles:
        return {}
    events = results.troubles[results.troubles["design"] == design]
    flights = results.flights_of(design)
    bad = bad_flights(flights)
    told = tables(results, events)
    flight = [f"replicate {replicate}" for replicate in _in_order(events)["replicate"]]
    told["rows"] = [(f"{row[0]}, {where}", *row[1:]) for row, where in zip(told["rows"], flight, strict=False)]
    names = dict(zip(results.conditions["condition"], results.conditions["name"], strict=True))
    told["events"] = events.assign(condition=events["condition"].map(names))
    tail = results.manifest.tail
    again = min(len(bad), tail.explained if tail else MOST_EXPLAINED)
    told["more"] = _which(len(bad), again, len(flights), len(events.groupby(["condition", "replicate"])))
    return {"troubles": told}


def _in_order(events: pd.DataFrame) -> pd.DataFrame:
    return events.sort_values([name for name in ("condition", "replicate", "begin") if name in events], kind="stable")


def _which(bad: int, again: int, flights: int, shown: int) -> list[str]:
    """Of how many flights with something bad in them the causes are told; again: flown once more for that."""
    if not bad:
        return [f"None of its {grouped(flights)} flights had a touchdown, a broach, a loss of flight or an early end."]
    said = [f"Of its {grouped(flights)} flights {grouped(bad)} had a touchdown, a broach, a loss of flight or an early end."]
    if again < bad:
        said.append(
            f"The first {again} of them were flown again for their causes, of every condition alike; the others were not."
        )
    if shown < again:
        rows = f"of {RECORD_RATE:g} rows a second"
        said.append(f"In {again - shown} the record, {rows}, shows nothing: what happened there was too short.")
    return [*said, f"Kept are the {number(AROUND)} s before and after each, in moments.parquet of the results folder."]


def _sentence(events: pd.DataFrame) -> str:
    if events.empty:
        return "Nothing went wrong in these flights."
    causes = events["cause"].value_counts()
    parts = [f"{PLAIN[str(cause)]} ({number})" for cause, number in causes.items()]
    return f"{count(len(events), 'thing', 'things').capitalize()} went wrong in these flights, by {together(parts)}."

"""What went wrong in the flights of a design, and why, for its page."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

from sweep.campaign.follow_up_plan import MOST_EXPLAINED
from sweep.flying.failures import AROUND, bad_flights
from sweep.insight.events import KINDS
from sweep.model.history import RECORD_RATE
from sweep.report.display import condition_names
from sweep.report.embed import Files, as_csv
from sweep.words.numbers import count, grouped, number
from sweep.words.phrases import together

if TYPE_CHECKING:
    import pandas as pd

    from sweep.results.store import Results

MOST_LISTED = 40  # rows: judgement
PLAIN = {
    "blind range": "water too close for the rangefinder to see",
    "servo limit": "a servo at its limit",
    "ventilation": "foils that draw air",
    "drop-out": "missing or misleading readings",
    "wave beyond the window": "waves too high for the struts",
    "loop oscillation": "a control loop that oscillates",
    "thrust short": "too little thrust",
    "shallow water": "shallow water",
    "waves followed late": "waves that the boat follows too late or too far",
    "waves not followed": "waves that the boat rides too level for",
    "heel": "heel that lifts a foil out",
    "as planned": "a fault or turn that the campaign plans",
    "not clear": "not clear from the record",
}
"""Causes of `sweep.insight.causes` as people say them."""


class Trouble(NamedTuple):
    """Something bad in a flight: where, when, what, by which cause and by which rule that was told."""

    condition: str
    at: str
    what: str
    cause: str
    why: str


@dataclass(frozen=True)
class Troubles:
    """What went wrong in flights of a design, and why.

    which: of which of all its flights this is, '' for a recorded flight; left: how many are not listed; csv: the name of the
    download of all of them, '' if there is none.
    """

    sentence: str
    which: str
    rows: list[Trouble]
    left: int
    csv: str = ""


def of_events(results: Results, events: pd.DataFrame) -> Troubles:
    """The events of a design's recorded flights with their causes, `events` as `name_causes` gives them."""
    names = condition_names(results)
    rows = [_trouble(row, names[row["condition"]]) for row in _in_order(events).head(MOST_LISTED).to_dict("records")]
    return Troubles(_sentence(events), "", rows, len(events) - len(rows))


def _trouble(row: Mapping[Hashable, Any], condition: str) -> Trouble:
    return Trouble(condition, f"{row['begin']:.1f} s", KINDS[row["kind"]], PLAIN[row["cause"]], row["why"])


def of_design(results: Results, design: int) -> tuple[Troubles | None, Files]:
    """What went wrong in all flights of a design that had something bad in them, and the download of it.

    None where a run has not kept that.
    """
    if "design" not in results.troubles:
        return None, {}
    events = results.troubles[results.troubles["design"] == design]
    flights = results.flights_of(design)
    bad = bad_flights(flights)
    names, csv = condition_names(results), f"troubles-{design}"
    tail = results.manifest.tail
    again = min(len(bad), tail.explained if tail else MOST_EXPLAINED)
    rows = [
        _trouble(row, f"{names[row['condition']]}, replicate {row['replicate']}")
        for row in _in_order(events).head(MOST_LISTED).to_dict("records")
    ]
    which = _which(len(bad), again, len(flights), len(events.groupby(["condition", "replicate"])))
    named = events.assign(condition=events["condition"].map(names))
    return Troubles(_sentence(events), " ".join(which), rows, len(events) - len(rows), csv), as_csv(csv, named)


def _in_order(events: pd.DataFrame) -> pd.DataFrame:
    return events.sort_values([name for name in ("condition", "replicate", "begin") if name in events], kind="stable")


def _which(bad: int, again: int, flights: int, shown: int) -> list[str]:
    """Of how many flights with something bad in them the causes are told; again: flown once more for that."""
    if not bad:
        return [f"None of its {grouped(flights)} flights had a touchdown, a broach, a loss of flight or an early end."]
    said = [f"Of its {grouped(flights)} flights {grouped(bad)} had a touchdown, a broach, a loss of flight or an early end."]
    if again < bad:
        said.append(
            f"The first {again} of them were flown again to find causes, spread over the conditions; the others were not."
        )
    if shown < again:
        rows = f"of {RECORD_RATE:g} rows a second"
        said.append(f"In {again - shown} the record, {rows}, shows nothing: the event was too short for it.")
    return [*said, f"The {number(AROUND)} s before and after each event are in moments.parquet of the results folder."]


def _sentence(events: pd.DataFrame) -> str:
    if events.empty:
        return "Nothing went wrong in these flights."
    causes = events["cause"].value_counts()
    parts = [f"{PLAIN[str(cause)]} ({number})" for cause, number in causes.items()]
    return f"{count(len(events), 'event', 'events').capitalize()} in these flights, by cause: {together(parts)}."

"""What went wrong in the flights of a design, and why, for its page."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple
from urllib.parse import urlencode

import pandas as pd

from sweep.campaign.follow_up_plan import MOST_EXPLAINED
from sweep.flying.failures import AROUND, bad_flights
from sweep.insight.events import KINDS
from sweep.model.history import RECORD_RATE
from sweep.model.quantities import STOPPED
from sweep.report.display import condition_names
from sweep.report.embed import Files, as_csv
from sweep.words.numbers import count, grouped, number
from sweep.words.phrases import together

if TYPE_CHECKING:
    from sweep.results.store import Results

MOST_OF_A_CAUSE = 6  # rows: judgement
BAD = "a touchdown, a broach, a loss of flight or an early end"
BAD_OR_STOPPED = "a touchdown, a broach, a loss of flight, an early end or a stop by its code"
PLAIN = {
    "blind range": "water too close for the rangefinder to see",
    "servo limit": "a servo at its limit",
    "ventilation": "foils that draw air",
    "drop-out": "missing or misleading readings",
    "wave beyond the window": "waves too high for the struts",
    "loop oscillation": "a control loop that oscillates",
    "thrust short": "too little thrust",
    "shallow water": "shallow water",
    "stopped by its code": "a boat that its code stopped",
    "waves followed late": "waves that the boat follows too late or too far",
    "waves not followed": "waves that the boat rides too level for",
    "heel": "heel that lifts a foil out",
    "start": "a start, in the first seconds off the water",
    "speed lost in a turn": "speed lost in a turn",
    "rolled out of a turn": "heel out of a turn",
    "banked too far into a turn": "too much bank in a turn",
    "sank in a turn": "a boat that sinks in a turn",
    "rose in a turn": "a boat that rises in a turn",
    "in a turn": "a turn, with nothing else that stands out",
    "as planned": "a fault or turn that the campaign plans",
    "not clear": "not clear from the record",
}
"""Causes of `sweep.insight.causes` as people say them."""


FIRST_PART = 10_000
"""Number of the first stretch among the conditions of a replay: more than there are conditions."""
MOST_PARTS = 12  # stretches of other flights that a page takes: judgement
APART = 0.5  # s between rows of two stretches: judgement


class Trouble(NamedTuple):
    """Something bad in a flight: where, when, what, by which rule its cause was told; link: to that second of the replay."""

    condition: str
    at: str
    what: str
    why: str
    link: str


class Caused(NamedTuple):
    """What went wrong by one cause, which is told with how often."""

    cause: str
    rows: list[Trouble]


class Stretch(NamedTuple):
    """The seconds around bad events of a flight that is not recorded whole: its number among the conditions of the replay."""

    number: int
    name: str
    rows: pd.DataFrame
    events: pd.DataFrame


@dataclass(frozen=True)
class Troubles:
    """What went wrong in flights of a design, and why.

    which: of which of all its flights this is, '' for a recorded flight; causes: the most frequent first; left: how many are
    not listed; csv: the name of the download of all of them, '' if there is none.
    """

    sentence: str
    which: str
    causes: list[Caused]
    left: int
    csv: str = ""


def of_events(results: Results, events: pd.DataFrame) -> Troubles:
    """The events of a design's recorded flights with their causes, `events` as `name_causes` gives them."""
    names = condition_names(results)
    listed = _listed(events)
    rows = [_trouble(row, names[row["condition"]], names[row["condition"]]) for row in listed.to_dict("records")]
    return Troubles(_sentence(events), "", _by_cause(events, listed, rows), len(events) - len(rows))


def _trouble(row: Mapping[Hashable, Any], condition: str, shown: str) -> Trouble:
    """shown: what the replay calls the flight, '' if it has it not."""
    moment = f"{max(float(row['begin']) - 1.0, 0.0):.1f}"
    link = f"#{urlencode({'condition': shown, 'moment': moment})}" if shown else ""
    return Trouble(condition, f"{row['begin']:.1f} s", KINDS[row["kind"]], row["why"], link)


def _by_cause(events: pd.DataFrame, listed: pd.DataFrame, rows: list[Trouble]) -> list[Caused]:
    """The rows of the listed events under their causes, each with how many events it has in all."""
    causes = listed["cause"].astype(str).tolist()
    return [
        Caused(f"{PLAIN[str(cause)]} ({often})", [row for row, each in zip(rows, causes, strict=True) if each == cause])
        for cause, often in events["cause"].astype(str).value_counts().items()
    ]


def stretches(results: Results, design: int) -> list[Stretch]:
    """The seconds around what went wrong in flights of a design that are not recorded whole, as far as a page takes them."""
    recorded, moments, troubles = results.leaders.get(design), results.moments, results.troubles
    if recorded is None or recorded.empty or moments.empty or troubles.empty:
        return []
    whole = (moments["replicate"] == 0) & moments["condition"].isin(recorded["condition"].unique())
    own = moments[(moments["design"] == design) & ~whole].sort_values(["condition", "replicate", "time"], kind="stable")
    apart = (own[["condition", "replicate"]].diff() != 0).any(axis=1) | (own["time"].diff() > APART)
    names, events = condition_names(results), troubles[troubles["design"] == design]
    found = []
    for at, (_, rows) in enumerate(own.groupby(apart.cumsum()), FIRST_PART):
        condition, replicate = (int(rows[name].iloc[0]) for name in ("condition", "replicate"))
        begin, end = float(rows["time"].iloc[0]), float(rows["time"].iloc[-1])
        same = (events["condition"] == condition) & (events["replicate"] == replicate) & events["begin"].between(begin, end)
        name = f"{names[condition]}, replicate {replicate}, {begin:.0f} to {end:.0f} s"
        found.append(Stretch(at, name, rows, events[same]))
    return found[:MOST_PARTS]


def _shown(results: Results, design: int) -> Callable[[Mapping[Hashable, Any]], str]:
    """What the replay of a design calls the flight of an event, by the event's row."""
    names, recorded = condition_names(results), results.leaders.get(design)
    whole = set() if recorded is None or recorded.empty else set(recorded["condition"])
    parts = {index: part.name for part in stretches(results, design) for index in part.events.index}

    def name(row: Mapping[Hashable, Any]) -> str:
        return names[row["condition"]] if row["replicate"] == 0 and row["condition"] in whole else parts.get(row["index"], "")

    return name


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
    listed, shown = _listed(events), _shown(results, design)
    rows = [
        _trouble(row, f"{names[row['condition']]}, replicate {row['replicate']}", shown(row))
        for row in listed.reset_index().to_dict("records")
    ]
    bad_words = BAD_OR_STOPPED if flights["status"].isin(STOPPED).any() else BAD
    which = _which(len(bad), again, len(flights), len(events.groupby(["condition", "replicate"])), bad_words)
    named = events.assign(condition=events["condition"].map(names))
    return Troubles(_sentence(events), " ".join(which), _by_cause(events, listed, rows), len(events) - len(rows), csv), as_csv(
        csv, named
    )


def _listed(events: pd.DataFrame) -> pd.DataFrame:
    """The first events of each cause, in order."""
    order = events.sort_values([name for name in ("condition", "replicate", "begin") if name in events], kind="stable")
    return order.groupby("cause", sort=False).head(MOST_OF_A_CAUSE)


def _which(bad: int, again: int, flights: int, shown: int, words: str) -> list[str]:
    """Of how many flights with something bad in them, as `words` say, the causes are told; again: flown once more for that."""
    if not bad:
        return [f"None of its {grouped(flights)} flights had {words}."]
    said = [f"Of its {grouped(flights)} flights {grouped(bad)} had {words}."]
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

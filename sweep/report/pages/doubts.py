"""Counters that tell when a flight's numbers, or the craft's own sensors, deserve doubt."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import pandas as pd

from sweep.campaign.designs import significant
from sweep.model.quantities import RESPONSE
from sweep.report.display import Column, condition_names, response_column
from sweep.words.responses import response, response_title

if TYPE_CHECKING:
    from sweep.results.store import Results


class Counter(NamedTuple):
    """What is told once the mean over a condition's flights goes beyond `limit` (SI, judgement): above, or below if `least`."""

    limit: float
    said: str
    least: bool = False

    def over(self, value: float) -> bool:
        """Whether a value goes beyond; one that is not known does not."""
        return value < self.limit if self.least else value > self.limit


COUNTERS = {
    "beyond_polar": Counter(0.05, "a foil works beyond the data of its section, where lift and drag are a guess"),
    "ventilated_share": Counter(0.02, "a foil draws air, and when it recovers is known only roughly"),
    "cavitation_margin": Counter(0.0, "a foil may cavitate, which the model does not follow", least=True),
    "blind_readings": Counter(
        0.1, "the water is closer than a rangefinder can see: the control code takes the boat to be higher than it is"
    ),
    "refused_readings": Counter(0.1, "the gate refuses many readings: it may be set too narrow"),
    "strength_used": Counter(
        1.0, "a strut, rudder or foil is stressed beyond its material's strength: it breaks or stays bent"
    ),
    "rangefinder_faults": Counter(0.5, "readings are missing or wrong; the control code uses the last good one"),
}


class Doubt(NamedTuple):
    """A counter at its worst on a design; where: in which condition, '' if it stays at none; over: it goes beyond `limit`."""

    title: str
    meaning: str
    value: str
    where: str
    limit: str
    over: bool
    said: str


def by_condition(results: Results, design: int) -> pd.DataFrame:
    """Mean of every counter over a design's flights of each condition, SI; rows by the condition's name."""
    flights = results.flights_of(design)
    known = [name for name in COUNTERS if name in flights]
    return flights.groupby(flights["condition"].map(condition_names(results)), sort=False)[known].mean()


def of_design(results: Results, design: int) -> list[Doubt]:
    """Rows for a design's page: one a counter, its worst condition, and whether it goes beyond what is told."""
    means, rows = by_condition(results, design), list[Doubt]()
    for name, counter in COUNTERS.items():
        values = means[name].dropna() if name in means else pd.Series(dtype=float)
        if values.empty:
            continue
        worst = float(values.min() if counter.least else values.max())
        trouble = counter.over(worst)
        where = str(values.idxmin() if counter.least else values.idxmax())
        rows.append(
            Doubt(
                title=response_title(name),
                meaning=RESPONSE[name].meaning,
                value=response(name, worst),
                where=where if trouble or counter.least or worst > 0.0 else "",
                limit=f"{'under' if counter.least else 'over'} {response(name, counter.limit)}",
                over=trouble,
                said=counter.said,
            )
        )
    return rows


def sentences(rows: list[Doubt]) -> list[str]:
    """What a design's page says at its top of the counters that went beyond."""
    return [f"In {row.where} {row.said} ({row.title} {row.value})." for row in rows if row.over]


def with_counters(results: Results, table: pd.DataFrame) -> tuple[list[Column], pd.DataFrame]:
    """The design table with the mean of each counter over all flights, in shown units, unless it is the same for all."""
    responses = results.responses.set_index("design") if "design" in results.responses else results.responses
    columns = []
    for name in (name for name in COUNTERS if name in responses and name not in table):
        values = significant((responses[name] * RESPONSE[name].scale).reindex(table["design"]).reset_index(drop=True))
        if not math.isfinite(values.max()) or values.nunique() < 2:
            continue
        table = table.assign(**{name: values})
        columns.append(response_column(name, values))
    return columns, table

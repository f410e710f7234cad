"""The tables of a results folder as people read them: chosen columns, shown units, short numbers."""

from __future__ import annotations

import re
from collections.abc import Container, Hashable, Iterator, Mapping, Sequence
from itertools import chain, count
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd

from sweep.campaign.designs import craft_of, shown_factor, significant
from sweep.insight.events import KINDS
from sweep.insight.good_enough import promised
from sweep.insight.ranking import certain
from sweep.insight.scores import Scoring
from sweep.model.history import FOIL_UNIT, RECORD_UNITS
from sweep.model.quantities import FLEW, OF_STRENGTH, RESPONSE, RESPONSE_NAMES, SCALES, STOPPED
from sweep.words.factors import level_name
from sweep.words.numbers import decimals, percent, pretty
from sweep.words.responses import response_title

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft
    from sweep.campaign.factors import Factor
    from sweep.results.store import Results

MOST_LEVELS = 12  # of a factor that are named one by one: judgement
BASE, GOOD, KEPT, OTHERS, REFUSED, UNKNOWN = (
    "base craft",
    "good enough",
    "kept",
    "others",
    "refused",
    "not yet known",
)
"""What a design or a build is among the others: words of the tables, by which charts and styles colour it."""
DECIMALS = {"s": 3, "m": 2, "cm": 2, "deg": 2, "m/s": 2, "%": 1, "W": 1}
"""Of the numbers of a ride, by their unit: finer than a rangefinder or a servo tells, and than a panel shows (judgement)."""

COARSER = {"clearance": 1, "submergence": 1}
"""Decimals of what no panel draws (judgement)."""
SCORE_DIGITS = 7
"""Digits of a score in the data of a page (judgement): its text has three, and what is rounded twice may be off."""
GOLDEN = 0.618034
"""Multiples of the golden ratio fill an interval evenly, however many there are."""


class Column(NamedTuple):
    """A column of a table for people. `key` is safe in a chart's expression, `title` may hold anything.

    `levels` lists the values in order if they are words or few; `decimals` aligns the numbers of a table; `label` is what the
    campaign calls a factor, by which files for other programs know it.
    """

    key: str
    title: str
    unit: str
    role: str
    word: bool = False
    levels: tuple[Any, ...] = ()
    decimals: int = 0
    label: str = ""

    @property
    def heading(self) -> str:
        """Title and unit: 'ride height error, cm'."""
        return f"{self.title}, {pretty(self.unit)}" if pretty(self.unit) else self.title

    @property
    def csv_heading(self) -> str:
        """The same with the address of a factor: 'struts.height, cm'."""
        return self._replace(title=self.label or self.title).heading


def factor_columns(campaign: Campaign, designs: pd.DataFrame) -> dict[str, Column]:
    """Factor label -> column, in the campaign's order; its key is made of its name, by which links tell it from others."""
    columns: dict[str, Column] = {}
    taken: set[str] = set()
    for label, factor in campaign.factors.items():
        key = _key(factor.name, taken)
        taken.add(key)
        columns[label] = _factor_column(key, factor, said_factor(factor, designs[label]))
    return columns


def _key(name: str, taken: Container[str]) -> str:
    """'strut height' -> 'f_strut_height', and with a number where that is taken: letters that a chart's expression may hold."""
    key = f"f_{re.sub('[^a-z0-9]+', '_', name.lower()).strip('_')}"
    return next(each for each in chain([key], (f"{key}_{again}" for again in count(2))) if each not in taken)


def _factor_column(key: str, factor: Factor, values: pd.Series) -> Column:
    word = not pd.api.types.is_numeric_dtype(values)
    found = set(values.dropna())
    order = [level_name(str(level)) for level in factor.levels or ()] if word else []
    levels = [level for level in order if level in found] + sorted(found - set(order))
    few = levels if word or len(levels) <= MOST_LEVELS else []
    decimals = 0 if word else _decimals(values)
    return Column(key, factor.name, factor.unit, "factor", word, tuple(few), decimals, factor.label)


def said_factor(factor: Factor, values: pd.Series) -> pd.Series:
    """A factor's SI values as people read them: numbers in the unit that its campaign file wrote, words without dashes."""
    shown = shown_factor(factor, values)
    return shown if pd.api.types.is_numeric_dtype(shown) else shown.map(level_name)


def as_written(campaign: Campaign, designs: pd.DataFrame, table: pd.DataFrame) -> pd.DataFrame:
    """The table with its factors as the campaign file has them, for other programs; its column design says whose they are."""
    columns = factor_columns(campaign, designs)
    written = {
        column.key: shown_factor(campaign.factors[label], designs[label].reindex(table["design"]).reset_index(drop=True))
        for label, column in columns.items()
        if column.word and column.key in table
    }
    return table.assign(**{key: values.to_numpy() for key, values in written.items()})


def _decimals(values: pd.Series) -> int:
    """Decimals that show three digits of a typical value."""
    size = values.abs().replace(0.0, np.nan).median()
    return min(decimals(float(size)), 4) if pd.notna(size) else 0


def judged_responses(campaign: Campaign) -> list[str]:
    """The responses that the campaign scores or limits, in the house's order."""
    return [name for name in RESPONSE_NAMES if name in campaign.score or name in campaign.limits]


def response_column(name: str, values: pd.Series) -> Column:
    """The column of a response whose `values` are in the shown unit."""
    return Column(name, response_title(name), RESPONSE[name].unit, "response", decimals=_decimals(values))


def design_table(results: Results) -> tuple[list[Column], pd.DataFrame]:
    """Every scored design, best first, in shown units; and the columns to explore: factors, score, responses, cost.

    Further columns of the table: design, label, group, verdict, reason, place ..., score_low, score_high, gain ...,
    failed (%), flights, page (file name, '' if the design has none), spread (0 ... 1, to draw points apart).
    """
    standings = results.standings.sort_values(["place", "score", "design"], na_position="last").reset_index(drop=True)
    chosen = results.designs.reindex(standings["design"]).reset_index(drop=True)
    table = pd.DataFrame({"design": standings["design"].astype(int)})
    table["label"] = table["design"].astype(str)
    table["group"] = group(standings)
    table["spread"] = significant((table["design"] * GOLDEN) % 1.0)
    table["page"] = [design_page(results, design) for design in table["design"]]
    for name in ("verdict", "reason", "flights"):
        table[name] = standings[name]
    for name in ("place", "place_low", "place_high"):
        table[name] = standings[name].astype(float)
    for name in ("score", "score_low", "score_high", "gain", "gain_low", "gain_high"):
        table[name] = significant(standings[name], SCORE_DIGITS)
    table["failed"] = significant(standings["failed"] * 100.0)
    columns = [Column("score", "score", "", "standing", decimals=_decimals(table["score"]))]
    factors = factor_columns(results.campaign, results.designs)
    for label, column in factors.items():
        table[column.key] = said_factor(results.campaign.factors[label], chosen[label])
    for name in judged_responses(results.campaign):
        table[name] = significant(standings[name] * RESPONSE[name].scale)
        columns.append(response_column(name, table[name]))
    for name, values in _of_strength(results, table):
        table[name] = significant(values)
        columns.append(response_column(name, table[name]))
    for name, unit in (("mass", "kg"), ("price", "")):
        if name in chosen:
            table[name] = significant(chosen[name])
            columns.append(Column(name, name, unit, "cost", decimals=_decimals(table[name])))
    return [*factors.values(), *columns], table


def _of_strength(results: Results, table: pd.DataFrame) -> Iterator[tuple[str, pd.Series]]:
    """Responses of strength that are known and not yet in the table: means of each design's flights, in shown units."""
    responses = results.responses.set_index("design") if "design" in results.responses else results.responses
    for name in (name for name in OF_STRENGTH if name in responses and name not in table):
        values = (responses[name] * RESPONSE[name].scale).reindex(table["design"]).reset_index(drop=True)
        if values.notna().any():
            yield name, values


def group(standings: pd.DataFrame) -> pd.Series:
    """What a design is in the standings, in the words of the charts."""
    words = np.select(
        [
            standings["design"] == 0,
            standings["good_enough"].astype(bool),
            standings["verdict"] == "kept",
            standings["verdict"] == "broken",
        ],
        [BASE, GOOD, KEPT, REFUSED],
        UNKNOWN,
    )
    return pd.Series(words, index=standings.index)


def good_within(standings: pd.DataFrame) -> str:
    """'within 75 % of the best', and 'unless it fails' where that is so: what good enough means here; '' where no design is."""
    good = standings[standings["good_enough"].astype(bool)]
    if not len(good) or not np.isfinite(share := promised(good)):
        return ""
    return f"within {percent(share)} of the best{' unless it fails' if good['failing_high'].notna().any() else ''}"


def group_within(standings: pd.DataFrame, rows: pd.DataFrame) -> pd.Series:
    """`group` of some rows of the standings, for a table: good enough with what it means there."""
    words, meant = group(rows), good_within(standings)
    return words.where((words != GOOD) | (meant == ""), f"{GOOD}, {meant}")


def condition_names(results: Results) -> dict[int, str]:
    """What every condition is called, by its number."""
    return dict(zip(results.conditions["condition"].tolist(), results.conditions["name"], strict=True))


def craft_of_design(results: Results, design: int) -> Craft:
    """The craft that a design is."""
    return craft_of(results.campaign, results.designs.loc[[design]].iloc[0])


def design_page(results: Results, design: int) -> str:
    """The file of a design's page, '' if it has none."""
    return f"design-{design}.html" if design in results.leaders else ""


def boat_name(row: Mapping[Hashable, Any]) -> str:
    """'build 12', or the base craft as it stands."""
    return BASE if row["build"] == 0 else f"build {row['build']}"


def build_group(builds: pd.DataFrame, standings: pd.DataFrame) -> pd.Series:
    """What a build is among builds, in the words of the charts.

    It is good enough by comparing builds, or where the design that it is best as is so in the standings: these have all flights
    of a leading design, and no build is worse than a design of it.
    """
    designs = standings.loc[standings["good_enough"].astype(bool), "design"]
    words = np.select(
        [builds["build"] == 0, builds["place"].isna(), builds["good_enough"].astype(bool) | builds["design"].isin(designs)],
        [BASE, REFUSED, GOOD],
        OTHERS if certain(builds) else UNKNOWN,
    )
    return pd.Series(words, index=builds.index)


def costliest(settings: pd.DataFrame) -> pd.DataFrame:
    """Of each build, the set factor whose step off costs most; by build."""
    known = settings.dropna(subset=["cost"])
    return known.loc[known.groupby("build")["cost"].idxmax()].set_index("build")


def worth_exploring(columns: Sequence[Column], table: pd.DataFrame) -> list[Column]:
    """The columns in which designs differ."""
    return [column for column in columns if table[column.key].nunique() > 1]


def thinned(table: pd.DataFrame, most: int) -> pd.DataFrame:
    """At most about `most` designs, evenly over the standings, with the base craft and every design that has a page."""
    if len(table) <= most:
        return table
    step = -(-len(table) // most)
    spread = np.arange(len(table)) % step == 0
    kept: pd.DataFrame = table[spread | (table["page"] != "") | (table["design"] == 0)]
    return kept.reset_index(drop=True)


def condition_table(results: Results, design: int) -> pd.DataFrame:
    """Score and judged responses of one design in each condition, as means over its flights there, in shown units.

    Columns: condition, name, flights, ended (how many of them ended early or did not start), stopped (how many its control code
    kept still at their end), score, then the responses.
    """
    campaign = results.campaign
    flights = results.flights_of(design)
    stopped = flights["status"].isin(STOPPED)
    ended = (flights["status"] != FLEW) & ~stopped
    flights = flights.assign(ended=ended, stopped=stopped, score=Scoring.of(campaign).points(flights))
    means = flights.groupby("condition")[["score", *judged_responses(campaign)]].mean()
    table = results.conditions[["condition", "name"]].set_index("condition")
    table["flights"] = flights.groupby("condition").size()
    counted = ["flights", "ended", "stopped"]
    table = (
        table.join(flights.groupby("condition")[counted[1:]].sum()).fillna(0).astype(dict.fromkeys(counted, int)).join(means)
    )
    for name in means:
        table[name] = significant(table[name] * (RESPONSE[name].scale if name in RESPONSE else 1.0))
    return table.reset_index()


def ride_table(history: pd.DataFrame) -> pd.DataFrame:
    """A leader's flights over time in the units that people read them in, each to so many decimals."""
    table = history[["condition"]].astype(int)
    for name, unit in _ride_units(history).items():
        values = history[name].astype(float) * SCALES[unit]
        table[name] = values.round(COARSER.get(name, DECIMALS[unit])) if unit in DECIMALS else significant(values)
    return table


def _ride_units(history: pd.DataFrame) -> dict[str, str]:
    """The columns of a history that people read, in the order of a record, and their units."""
    foils = {str(name): FOIL_UNIT for name in history if str(name).startswith("foil_")}
    return {name: unit for name, unit in (RECORD_UNITS | foils).items() if name in history}


def every_so_many(table: pd.DataFrame, most: int) -> pd.DataFrame:
    """At most about `most` rows of a ride table: every second, third ... of each condition, so that they stay evenly spaced."""
    step = -(-len(table) // most) if len(table) else 1
    kept: pd.DataFrame = table[table.groupby("condition").cumcount() % step == 0]
    return kept.reset_index(drop=True)


def ride_headings(table: pd.DataFrame) -> dict[str, str]:
    """The headings of a ride table's columns, with their units."""
    return {name: f"{name}, {unit}" for name, unit in _ride_units(table).items() if unit}


def event_table(events: pd.DataFrame) -> pd.DataFrame:
    """Events as the panels mark them: condition, begin (s), kind, and what is said of each."""
    table = events[["condition", "kind"]].copy()
    table["begin"] = events["begin"].round(2)
    lasted = [
        f", {end - begin:.1f} s" if end - begin > 0.05 else ""
        for begin, end in zip(events["begin"], events["end"], strict=True)
    ]
    said = zip(table["begin"], table["kind"], lasted, strict=True)
    return table.assign(said=[f"{begin:.1f} s: {KINDS[kind]}{long}" for begin, kind, long in said])

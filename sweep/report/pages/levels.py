"""Which level of each factor does best, as far as that is sure, in sentences."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from scipy.special import bdtrc

from sweep.campaign.designs import shown_factor
from sweep.insight.findings import SCORE
from sweep.insight.intervals import CONFIDENCE
from sweep.words.factors import level_name
from sweep.words.numbers import count, number, with_unit
from sweep.words.phrases import listed, sentence, together

if TYPE_CHECKING:
    from sweep.campaign.factors import Factor
    from sweep.results.store import Results

MOST_NAMED = 4
"""Levels, or others that they stand beside, that a sentence names (judgement)."""


def level_sentences(results: Results) -> list[str]:
    """A sentence or two a factor of `told_of`: which of its levels does best in the score, or that it cannot be told."""
    rows = _compared(results)
    return [_sentence(results, label, rows[rows["factor"] == label]) for label in told_of(results)]


def told_of(results: Results) -> list[str]:
    """The factors whose levels can be compared, words first."""
    rows = _compared(results)
    named = list(dict.fromkeys(rows.loc[rows["beside"] == "", "factor"])) if len(rows) else []
    words = [label for label in named if isinstance(results.campaign.factors[label].levels[0], str)]
    return list(dict.fromkeys([*words, *named]))


def anchor(results: Results, label: str) -> str:
    """What the sentence of a factor is called in its page's addresses."""
    return f"level-{list(results.campaign.factors).index(label)}"


def _compared(results: Results) -> pd.DataFrame:
    rows = results.levels
    return rows[(rows["response"] == SCORE) & rows["behind_high"].notna()] if len(rows) else rows


def _sentence(results: Results, label: str, rows: pd.DataFrame) -> str:
    """rows: of one factor, by itself and beside others, that can be compared."""
    name = sentence(results.campaign.factors[label].name)
    alone, beside = rows[rows["beside"] == ""], rows[rows["beside"] != ""]
    sure = alone[alone["behind_high"] < 0.0]
    if sure.empty:
        return " ".join([f"{name}: {_open(results, label, alone)}.", *_changing(results, label, beside)])
    best = sure.iloc[0]
    least = at_least(-float(best["behind_high"]))
    fly = " that fly" if len(alone) < len(results.campaign.factors[label].levels) else ""
    field = f"{count(len(alone), 'level', 'levels')}{fly}"
    said = f"{name}: {_level(results, label, best)} is the best of {field}{_by_failing(best)}"
    said += f", on average over all else by {number(-float(best['behind']), 2)}, surely by {least} or more."
    end = at_an_end("It", results.campaign.factors[label], int(best["level"]))
    return " ".join([said, *filter(None, [end]), *_everywhere(best, beside), *_changing(results, label, beside)])


def at_an_end(it: str, factor: Factor, place: int) -> str:
    """That the level at a place is the highest or lowest that was tried; '' of any other, and of words. it: its name."""
    levels = factor.levels
    if isinstance(levels[place], str) or levels[place] not in (min(levels), max(levels)):
        return ""
    end, further = ("highest", "higher") if levels[place] == max(levels) else ("lowest", "lower")
    return f"{it} is the {end} that was tried: what is {further} may be better still."


def _open(results: Results, label: str, alone: pd.DataFrame) -> str:
    """Which levels may be the best, and which are surely not."""
    out = alone["behind_low"] > 0.0
    may = [_level(results, label, row) for _, row in alone[~out].iterrows()]
    if len(may) > MOST_NAMED:
        return f"which of its levels does best on average cannot be told: {len(may)} may be it"
    said = f"which of its levels does best on average cannot be told: {listed(may)} may be it"
    if not out.any():
        return said
    worse = [_level(results, label, row) for _, row in alone[out].iterrows()][:MOST_NAMED]
    least = at_least(float(alone.loc[out, "behind_low"].min()))
    more = "" if out.sum() <= MOST_NAMED else " and others"
    return f"{said}; {together(worse)}{more} {'is' if out.sum() == 1 else 'are'} surely worse, by {least} or more"


def _everywhere(best: pd.Series, beside: pd.DataFrame) -> Iterator[str]:
    """Whether the best is so at each level of all others."""
    cells = beside[beside["level"] == best["level"]]
    if len(cells) and (cells["behind_high"] < 0.0).all():
        yield "So it is at each level of every other factor, surely."


def _changing(results: Results, label: str, beside: pd.DataFrame) -> Iterator[str]:
    """With which other factors another level is surely the best, by their levels."""
    sure = beside[beside["behind_high"] < 0.0]
    for other, rows in sure.groupby("beside", sort=False):
        if rows["level"].nunique() < 2:
            continue
        parts = []
        for _, same in list(rows.groupby("level", sort=False))[:MOST_NAMED]:
            at = [_value(results, str(other), int(place)) for place in same["beside_level"]]
            least = at_least(-float(same["behind_high"].max()))
            parts.append(f"{_level(results, label, same.iloc[0])} with {together(at)} (by {least} or more)")
        yield f"It changes with {name_of(results, other)}: surely the best is {together(parts)}."


def _by_failing(row: pd.Series) -> str:
    some = int(row["failing"])
    return f" ({some} of its {int(row['designs'])} designs {'fails' if some == 1 else 'fail'})" if some else ""


def name_of(results: Results, label: object) -> str:
    """What people call a factor."""
    return results.campaign.factors[str(label)].name


def _level(results: Results, label: str, row: Any) -> str:
    return _value(results, label, int(row["level"]))


def _value(results: Results, label: str, place: int) -> str:
    """A level with its unit: '26 cm'; a word as it is."""
    factor, said = results.campaign.factors[label], level_text(results, label, place)
    return said if isinstance(factor.levels[place], str) else with_unit(float(said), factor.unit, 4)


def level_text(results: Results, label: str, place: int) -> str:
    """A level of a factor as text, in the campaign file's unit."""
    factor = results.campaign.factors[label]
    value = shown_factor(factor, pd.Series([factor.levels[place]])).iloc[0]
    return level_name(value) if isinstance(value, str) else number(float(value))


def at_least(value: float) -> str:
    """A positive number with one significant digit, rounded down: what is surely so has room for what intervals do not know."""
    if not value > 0.0:
        return number(value)
    power = 10.0 ** math.floor(math.log10(value))
    return number(math.floor(value / power + 1e-9) * power, 1)


def most_failing(results: Results) -> str:
    """', most clearly with strut height 15 cm: 17 of them, of 64 designs that have it', or '' if nothing goes with failing.

    The level that holds more of the failing designs than by chance, surely so among all levels (binomial, Bonferroni).
    """
    rows = results.levels
    if rows.empty:
        return ""
    rows = rows[(rows["response"] == SCORE) & (rows["beside"] == "")]
    whole = rows.groupby("factor")[["designs", "failing"]].transform("sum")
    some = rows["failing"].to_numpy(float)
    chance = np.where(some > 0.0, bdtrc(some - 1.0, whole["failing"].to_numpy(), rows["designs"] / whole["designs"]), 1.0)
    if not len(chance) or not chance.min() * len(chance) < 1.0 - CONFIDENCE:
        return ""
    row = rows.iloc[int(chance.argmin())]
    level = _value(results, str(row["factor"]), int(row["level"]))
    them = "all of them" if row["failing"] == whole["failing"].max() else f"{int(row['failing'])} of them"
    name = name_of(results, row["factor"])
    return f", most clearly with {name} {level}: {them}, of {int(row['designs'])} designs that have it"

"""What the model foretells of a set-up beside another, in the seas of their passes; and a file that keeps score over days."""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
from scipy.stats import norm as normal

from sweep.campaign.text.problems import CampaignError, Problem
from sweep.insight.intervals import CONFIDENCE
from sweep.logs.compare.expect import Expected
from sweep.logs.sea.sea_state import Estimate

HEADINGS = (
    "day",
    "title",
    "craft",
    "first",
    "second",
    "measure",
    *(f"{who}_{what}" for who in ("foretold", "measured") for what in ("change", "low", "high")),
)


class Kept(NamedTuple):
    """One comparison of one day: relative changes from the first set-up to the second, as foretold and as measured."""

    day: str
    title: str
    craft: str
    first: str
    second: str
    measure: str
    foretold: Estimate
    measured: Estimate

    @property
    def agrees(self) -> bool:
        """Whether chance alone may part the two: the difference, beside both intervals together."""
        reach = math.hypot(*(0.5 * (math.log1p(each.high) - math.log1p(each.low)) for each in (self.foretold, self.measured)))
        return abs(math.log1p(self.foretold.value) - math.log1p(self.measured.value)) <= reach


class Met(NamedTuple):
    """The sea of a pass: height m, period s; and the group of passes like it."""

    height: float
    period: float
    group: int


def foretold(first: Sequence[Expected], second: Sequence[Expected], passes: Sequence[Met], name: str) -> Estimate:
    """Relative change of a measure, mean over the passes. first, second: what the model expects of each set-up, by group.

    The interval is that of the model's own few flights; what the model lacks is not in it.
    """
    change, variance = [], 0.0
    for group in sorted({each.group for each in passes}):
        here = [each for each in passes if each.group == group]
        for met in here:
            after, before = (float(side[group].value(name, met.height, met.period)[0]) for side in (second, first))
            change.append(math.log(after / before))
        for side in (first, second):
            rows = side[group].terms([each.height for each in here], [each.period for each in here]).sum(axis=0) / len(passes)
            variance += float(rows @ side[group].covariance[name] @ rows)
    found, reach = float(np.mean(change)), float(normal.ppf(0.5 + 0.5 * CONFIDENCE)) * math.sqrt(max(variance, 0.0))
    return Estimate(math.expm1(found), math.expm1(found - reach), math.expm1(found + reach))


def read_score(path: Path) -> list[Kept]:
    """The comparisons kept in a file; none without it. Raises CampaignError if it is no such file."""
    if not path.exists():
        return []
    try:
        with path.open(encoding="utf-8", newline="") as file:
            rows = list(csv.reader(file))
        if not rows or tuple(rows[0]) != HEADINGS:
            raise ValueError("its headings are others")
        return [_kept(row) for row in rows[1:]]
    except (ValueError, csv.Error, OSError) as error:
        wanted = "a file that log compare --score wrote, or a new one"
        raise CampaignError([Problem(str(path), 0, 0, "", f"no score ({error})", wanted)]) from error


def _kept(row: Sequence[str]) -> Kept:
    if len(row) != len(HEADINGS):
        raise ValueError(f"a row of {len(row)} cells, wanted {len(HEADINGS)}")
    numbers = [float(cell) for cell in row[6:]]
    day, title, craft, first, second, measure = row[:6]
    return Kept(day, title, craft, first, second, measure, Estimate(*numbers[:3]), Estimate(*numbers[3:]))


def with_score(kept: Sequence[Kept], new: Sequence[Kept]) -> list[Kept]:
    """The score with another day; the same comparison of the same day takes the place of the old one."""

    def key(each: Kept) -> tuple[str, ...]:
        return each[:6]

    fresh = {key(each) for each in new}
    return [*(each for each in kept if key(each) not in fresh), *new]


def score_text(kept: Sequence[Kept]) -> str:
    """The file's text."""
    lines = [HEADINGS, *((*each[:6], *(f"{value:.5g}" for value in (*each.foretold, *each.measured))) for each in kept)]
    return "".join(",".join(_quoted(cell) for cell in line) + "\n" for line in lines)


def _quoted(cell: str) -> str:
    return '"' + cell.replace('"', '""') + '"' if any(mark in cell for mark in ',"\n\r') else cell

"""The craft model beside outside values: every value of the references that a function of the model can answer.

The page and the tests use the same rows, functions and tolerances.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import NamedTuple

from sweep.checks.comparisons import COMPARISONS, Comparison
from sweep.checks.references import Row, read_reference, read_topic


class Check(NamedTuple):
    """An outside value beside ours, in `unit`; tolerance: how far off ours may be, a share of the value unless absolute.

    quantity: what; place: which row of the source's table; reason: why the tolerance is larger than the source's error.
    """

    section: str
    quantity: str
    place: str
    source: str
    mark: str
    unit: str
    published: float
    tolerance: float
    absolute: bool
    ours: float
    reason: str = ""

    @property
    def deviation(self) -> float:
        """Ours less theirs: in the unit, or as a share."""
        off = self.ours - self.published
        return off if self.absolute else off / abs(self.published)

    @property
    def kept(self) -> bool:
        """Whether ours is within the tolerance."""
        return abs(self.deviation) <= self.tolerance


class Scope(NamedTuple):
    """A group of published values, and what checks it here, or why it does not apply."""

    section: str
    item: str
    checked_by: tuple[str, ...]
    reason: str


@cache
def list_checks() -> tuple[Check, ...]:
    """Every check, row by row, by topic: water, waves, seas, foils, struts and hull, propeller, servo and loops."""
    return tuple(check for comparison in COMPARISONS for check in _rows(comparison))


@cache
def list_scope() -> tuple[Scope, ...]:
    """What is checked and what is not, section by section."""
    return tuple(
        Scope(row["section"], row["item"], tuple(row.get("checked_by", ())), row.get("does_not_apply_because", ""))
        for row in read_topic("scope")["row"]
    )


def worst_of_each() -> list[tuple[Check, int]]:
    """For every quantity the row whose deviation is the largest share of its tolerance, and the number of rows."""
    groups: dict[tuple[str, str], list[Check]] = {}
    for check in list_checks():
        groups.setdefault((check.quantity, check.source), []).append(check)
    return [(max(rows, key=_nearness), len(rows)) for rows in groups.values()]


def _nearness(check: Check) -> float:
    return abs(check.deviation) / (check.tolerance or 1e-300)


def _rows(comparison: Comparison) -> list[Check]:
    reference = read_reference(comparison.topic, comparison.table)
    kept: Callable[[Row], bool] = comparison.only or (lambda row: True)
    own = comparison.tolerance
    return [
        Check(
            comparison.section,
            comparison.quantity,
            comparison.place.format(**row),
            comparison.cited or reference.source,
            reference.mark,
            comparison.unit,
            float(row[comparison.column]),
            reference.allowed(comparison.column) if own is None else own,
            reference.absolute if comparison.absolute is None else comparison.absolute,
            float(f"{comparison.ours(row):.10g}"),  # further digits differ between processes, which add in another order
            comparison.reason,
        )
        for row in reference.rows
        if kept(row)
    ]

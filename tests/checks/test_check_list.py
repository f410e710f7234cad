"""The table of checks: every row of every compared table, run through the model's own functions."""

from __future__ import annotations

import re

import pytest

from sweep.checks.check_list import Check, list_checks, worst_of_each
from sweep.checks.comparisons import COMPARISONS, Comparison
from tests.references import reference


@pytest.mark.parametrize("comparison", COMPARISONS, ids=lambda each: f"{each.topic} {each.table} {each.column}")
def test_every_row_of_the_table_is_met(comparison: Comparison) -> None:
    """Those of this quantity and source; none is missing but those that the comparison leaves out."""
    outside = reference(comparison.topic, comparison.table)
    source = comparison.cited or outside.source
    found = [check for check in list_checks() if (check.quantity, check.source) == (comparison.quantity, source)]
    values = [row[comparison.column] for row in outside.rows if comparison.only is None or comparison.only(row)]
    assert set(values) <= {check.published for check in found}
    for check in found:
        assert check.kept, f"{check.place}: {check.ours} for {check.published}, off by {check.deviation}"


def test_there_are_hundreds_and_each_is_one_of_its_own() -> None:
    assert len(list_checks()) >= 450
    assert len({(check.quantity, check.place, check.source, check.published) for check in list_checks()}) == len(list_checks())


def test_a_wider_tolerance_has_its_reason() -> None:
    for comparison in COMPARISONS:
        if comparison.tolerance is not None or comparison.only is not None:
            assert comparison.reason or comparison.topic == "statistics", comparison.quantity


def test_sections_are_numbered() -> None:
    assert all(re.fullmatch(r"\d+(\.\d)?", check.section) for check in list_checks())


def test_the_worst_row_stands_for_its_quantity() -> None:
    shown = worst_of_each()
    assert sum(rows for _, rows in shown) == len(list_checks())
    for check, _ in shown:
        others = [each for each in list_checks() if (each.quantity, each.source) == (check.quantity, check.source)]
        assert all(abs(each.deviation) * check.tolerance <= abs(check.deviation) * each.tolerance * 1.001 for each in others)


def made(**values: object) -> Check:
    usual = {"section": "1", "quantity": "", "place": "", "source": "", "mark": "SEEN", "unit": "", "published": 200.0}
    return Check(**(usual | {"tolerance": 0.01, "absolute": False, "ours": 203.0} | values))  # type: ignore[arg-type]


def test_a_deviation_is_a_share_unless_it_is_absolute() -> None:
    relative = made()
    assert (relative.deviation, relative.kept) == (pytest.approx(0.015), False)
    absolute = made(tolerance=4.0, absolute=True)
    assert (absolute.deviation, absolute.kept) == (pytest.approx(3.0), True)

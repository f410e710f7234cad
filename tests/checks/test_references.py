"""The outside numbers are complete: each says whence, how had and how close, and its rows fit its columns."""

from __future__ import annotations

import tomllib
from collections import Counter

import pytest

from sweep.checks.check_list import Scope, list_scope
from sweep.checks.comparisons import COMPARISONS
from tests.references import FOLDER, MARKS, SCOPE, reference, tables, topics

EVERY = [(topic, name) for topic in topics() for name in tables(topic)]


@pytest.mark.parametrize(("topic", "name"), EVERY)
def test_a_table_says_where_it_comes_from(topic: str, name: str) -> None:
    table = reference(topic, name)
    assert table.source
    assert any(mark in table.mark for mark in MARKS)
    assert table.rows
    raw = tables(topic)[name]
    assert table.absolute == str(raw.get("tolerance_kind", "")).startswith("absolute")
    tolerances = table.tolerance if isinstance(table.tolerance, dict) else {raw["columns"][0]: table.tolerance}
    assert all(value >= 0 for value in tolerances.values())
    assert set(tolerances) <= set(raw["columns"])


def test_a_mark_of_memory_stands_alone_nowhere_in_a_comparison() -> None:
    """What is recalled and confirmed by nobody is no gate of its own."""
    for comparison in COMPARISONS:
        assert reference(comparison.topic, comparison.table).mark != "MEMORY"


def test_an_installed_package_carries_every_topic_that_is_read() -> None:
    carried = tomllib.loads((FOLDER.parents[1] / "pyproject.toml").read_text(encoding="utf-8"))
    included = carried["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"]
    wanted = {comparison.topic for comparison in COMPARISONS} | {SCOPE}
    assert {f"tests/references/{topic}.toml": f"sweep/_references/{topic}.toml" for topic in wanted}.items() <= included.items()


SECTIONS = {
    "0": 16, "1.1": 5, "1.2": 4, "1.3": 1, "1.4": 4, "2.1": 4, "2.2": 4, "2.3": 1, "2.4": 3, "2.5": 2, "2.6": 3, "2.7": 4,
    "2.8": 4, "3": 13, "4": 7, "5.1": 4, "5.2": 7, "5.3": 4, "5.4": 4, "6.1": 1, "6.2": 2, "6.3": 1, "6.4": 2, "7": 5, "8": 3,
    "9": 19, "10": 15, "11": 2, "12": 2, "13": 1, "14": 1, "15": 9, "16": 2,
}  # fmt: skip
"""How many groups of outside values each section has: traps, waves, seas, water, drag, foils, unsteady flow and added mass,
planing, propellers, control, statistics, scaling, records, libraries, what no source settles, what was towed or flown, and
strength."""


def test_the_scope_names_every_section_and_group() -> None:
    assert Counter(row.section for row in list_scope()) == SECTIONS
    assert len({(row.section, row.item) for row in list_scope()}) == sum(SECTIONS.values())


@pytest.mark.parametrize("row", list_scope(), ids=lambda row: f"{row.section} {row.item}")
def test_a_group_is_checked_or_says_why_not(row: Scope) -> None:
    """By tables that are compared row by row, or by tests that there are."""
    assert bool(row.checked_by) != bool(row.reason)
    compared = {f"compare:{comparison.topic}/{comparison.table}" for comparison in COMPARISONS}
    for check in row.checked_by:
        if check.startswith("compare:"):
            assert check in compared
        else:
            path, _, name = check.partition("::")
            text = (FOLDER.parents[1] / path).read_text(encoding="utf-8")
            assert f"def {name}(" in text, check


def test_every_compared_table_is_in_the_scope() -> None:
    named = {check for row in list_scope() for check in row.checked_by}
    assert {f"compare:{comparison.topic}/{comparison.table}" for comparison in COMPARISONS} <= named

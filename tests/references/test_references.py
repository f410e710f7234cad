"""The outside numbers are complete: each says whence, how had and how close, and its rows fit its columns."""

from __future__ import annotations

import pytest

from tests.references import MARKS, reference, tables, topics

EVERY = [(topic, name) for topic in topics() for name in tables(topic)]


@pytest.mark.parametrize(("topic", "name"), EVERY)
def test_a_table_says_where_it_comes_from(topic: str, name: str) -> None:
    table = reference(topic, name)
    assert table.source
    assert any(mark in table.mark for mark in MARKS)
    assert table.rows
    raw = tables(topic)[name]
    tolerances = table.tolerance if isinstance(table.tolerance, dict) else {raw["columns"][0]: table.tolerance}
    assert all(value >= 0 for value in tolerances.values())
    assert set(tolerances) <= set(raw["columns"])

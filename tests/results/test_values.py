"""What a results folder from somebody else may hold: every column and every note, and what is said of what it may not."""

import json
import math

import numpy as np
import pandas as pd
import pytest

from sweep.model.quantities import RESPONSES, STATUS_NAMES
from sweep.report.log_summary import as_note, read_log_summary
from sweep.results.form_check import FORMS
from sweep.results.plain_files import StoreError
from sweep.results.values import COLUMNS, read_note, with_numbers, wrong_values
from tests.site_results import log_account, results


def said(name, values, **counts):
    return list(wrong_values(pd.DataFrame({name: values}), (name,), counts))


@pytest.mark.parametrize("quantity", RESPONSES, ids=lambda quantity: quantity.name)
def test_every_response_is_finite_or_missing_and_none_that_cannot_be_is_negative(quantity):
    assert said(quantity.name, [0.5, math.nan]) == []
    assert said(quantity.name, [0.5, math.inf]) == [
        f"column {quantity.name}, row 2: found inf, wanted {COLUMNS[quantity.name]}"
    ]
    assert len(said(quantity.name, [-math.inf])) == 1
    if quantity.unit in ("s", "/min", "%", "count", "deg") and quantity.low == 0.0:
        assert len(said(quantity.name, [-1.0])) == 1, "a time, rate or share below nothing"


def test_statuses_are_those_of_the_model():
    assert said("status", np.arange(len(STATUS_NAMES), dtype=np.int8)) == []
    assert said("status", [len(STATUS_NAMES)]) != []
    assert said("status", [-1]) != []


@pytest.mark.parametrize(
    ("name", "values", "found"),
    [
        ("design", [0, 5], "row 2: found 5, wanted a whole number from 0 to 4"),
        ("design", [0.5], "found 0.5, wanted a whole number"),
        ("design", ["x"], "found 'x', wanted a whole number"),
        ("condition", [-2], "found -2, wanted a whole number from -1"),
        ("score", [10.5], "found 10.5, wanted a finite number from 0 to 10"),
        ("score", [-0.1], "found -0.1"),
        ("place", [0], "found 0, wanted a finite number from 1"),
        ("verdict", ["keeps"], "found 'keeps', wanted one of kept, not yet known, broken"),
        ("reason", [1], "found 1, wanted a text"),
        ("reason", [None], "found None, wanted a text"),
        ("may_be_best", ["yes"], "found 'yes', wanted true or false"),
        ("may_be_best", pd.array([True, None], dtype="boolean"), "row 2: found <NA>, wanted true or false"),
        ("failed", [1.2], "wanted a finite number from 0 to 1"),
        ("gain", ["x"], "found 'x', wanted a finite number"),
        ("time", [-0.1], "wanted a finite number from 0"),
        ("anything", [math.inf], "found inf, wanted a finite number"),
    ],
)
def test_a_wrong_value_is_told_with_its_column_and_row(name, values, found):
    (sentence,) = said(name, values, design=5)
    assert sentence.startswith(f"column {name}, row ")
    assert found in sentence


def test_bounds_that_nothing_is_known_of_may_be_infinite():
    for name in ("high", "share_high", "more_flights", "gain_low"):
        assert said(name, [1.0, math.nan]) == []
    assert said("high", [math.inf]) == said("more_flights", [math.inf]) == said("gain_low", [-math.inf]) == []


def test_numbers_that_are_all_missing_are_missing_numbers():
    table = pd.DataFrame({"score": [None, None], "gain": pd.to_datetime([None, None]), "reason": ["a", "b"]})
    assert list(wrong_values(table, ("gain",))) == []
    numbers = with_numbers(table, ("gain",))
    assert [str(numbers[name].dtype) for name in ("score", "gain")] == ["float64", "float64"]
    assert numbers["reason"].tolist() == ["a", "b"]


def test_what_the_program_makes_itself_is_right(tmp_path):
    told = results(tmp_path, areas=2)
    for name in (*FORMS.keys() - {"a shard", "a recorded flight"}, "flights"):
        table = getattr(told, name, pd.DataFrame())
        assert list(wrong_values(table.reset_index() if name == "designs" else table, FORMS.get(name, ()))) == [], name


@pytest.mark.parametrize("text", [b"NaN", b'{"a": 1e999}', b"[-Infinity]", b"[" * 100_000, b"\xff", b"", b'{"a":'])
def test_no_note_holds_what_is_no_number(text):
    with pytest.raises(ValueError, match=r"."):
        read_note(text)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"title": None}, "title: found None, wanted a text"),
        ({"splits": [{}]}, "splits[0]: has no title"),
        ({"table": [{"label": "x", "setup": "y", "speed": []}]}, "table[0].speed: found [], wanted a text or a number"),
        ({"runs": ["x"]}, "runs[0]: found 'x', wanted a list"),
    ],
)
def test_what_is_kept_of_logs_is_checked(tmp_path, change, told):
    (tmp_path / "logs.json").write_text(json.dumps(as_note(log_account())))
    assert read_log_summary(tmp_path) == log_account()
    (tmp_path / "logs.json").write_text(json.dumps(as_note(log_account()) | change))
    with pytest.raises(StoreError) as refusal:
        read_log_summary(tmp_path)
    assert f"logs.json: cannot be read ({told}" in str(refusal.value)

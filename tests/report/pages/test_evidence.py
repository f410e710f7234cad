"""What the long studies found: shipped, whole, within the bars that the project sets itself, and told on How sure."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest

from sweep.campaign.text.resources import shipped
from sweep.report.pages.evidence import STUDIES, studies


def found(name: str) -> dict[str, Any]:
    return tomllib.loads((shipped("site") / "evidence" / f"{name}.toml").read_text(encoding="utf-8"))


def test_every_study_is_told_with_its_tables() -> None:
    told = {study.title: study for study in studies()}
    assert list(told) == [STUDIES[name] for name in STUDIES if (shipped("site") / "evidence" / f"{name}.toml").is_file()]
    assert STUDIES["convergence"] in told
    for study in told.values():
        assert "python -m tests.benchmarks." in study.made
        for table in study.tables:
            assert table.rows
            assert all(len(row) == len(table.headings) == len(table.kinds) for row in table.rows)
            assert all(isinstance(cell, str) for row in table.rows for cell in row)


def test_sentences_may_wrap_and_numbers_may_not() -> None:
    tables = {table.caption: table.kinds for study in studies() for table in study.tables}
    assert tables["Time step"][1:] == ["number"] * 6
    assert tables[found("mutations")["explained"]["caption"]][1:] == ["word", "word"]


def test_convergence_is_within_its_bars() -> None:
    """At the step of flights within 1 % of an eighth of it, two strips within 2 % of eight, second order."""
    tables = found("convergence")
    assert tables["step"]["worst_percent"] < 1.0
    assert tables["strips"]["worst_percent"] < 2.0
    assert tables["step"]["observed_order"] == pytest.approx(2.0, abs=0.5)
    assert abs(tables["components"]["apart_in_errors"]) < 3.0
    spreads = [row[2] for row in tables["scatter"]["rows"]]
    assert spreads[0] == tables["length"]["rows"][-1][2] > max(spreads[1:])  # the same flights; of its parts none is larger


def test_the_companion_is_within_its_bars() -> None:
    """Ride-height error in small waves within 8 %, over laws, headings and speeds; the demo's designs ranked as by flights."""
    tables = found("companion")
    rows = tables["small_waves"]["rows"]
    assert len(rows) == 27
    assert max(abs(row[3]) for row in rows) == pytest.approx(tables["small_waves"]["worst_percent"], rel=1e-3)
    assert tables["small_waves"]["worst_percent"] < 8.0
    assert tables["designs"]["rank_correlation"] > 0.7
    assert tables["designs"]["steady_designs"] > 150


def test_most_mutations_are_noticed() -> None:
    """Of a hundred; those that are not are explained one by one."""
    study = found("mutations")
    share = study["share"]
    assert share["drawn"] >= 100
    assert share["noticed_now"] + len(study["explained"]["rows"]) == share["drawn"]
    assert share["noticed_now"] >= 95
    assert share["noticed_first"] <= share["noticed_now"]
    assert share["rows"][-1] == ["all", *(str(share[key]) for key in ("drawn", "noticed_first", "noticed_now"))]

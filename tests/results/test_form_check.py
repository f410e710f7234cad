"""A results folder of another version's form: each table says what it lacks and what would help."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from sweep.report.publishing import publish
from sweep.results import form_check
from sweep.results.store import Results, StoreError, read_table, write_table
from tests.site_results import results

TABLES = {**form_check.RANKED, **form_check.FLOWN, **form_check.BEGUN}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("results")
    told = results(place, areas=2)
    for name in TABLES:
        if len(table := table_of(told, name)) or name == "hanging":  # empty where all is known of the boat
            write_table(place, name, table)
    return place


def table_of(told: Results, name: str):  # type: ignore[no-untyped-def]
    table = getattr(told, name)
    if name == "outings":  # which the made-up results have none of
        texts = ("sea", "heading_name", "first_failure")
        return pd.DataFrame({column: ["chop" if column in texts else 0] for column in TABLES[name]})
    return table.reset_index() if name == "designs" else table


def test_tables_of_this_version_pass(folder: Path) -> None:
    form_check.check_forms(folder)
    assert {path.stem for path in folder.glob("*.parquet")} >= TABLES.keys() - {"changes"}


@pytest.mark.parametrize("name", sorted(TABLES.keys() - {"changes"}))
def test_a_column_that_is_not_there_is_named_with_what_would_help(folder: Path, name: str) -> None:
    path = folder / f"{name}.parquet"
    kept = path.read_bytes()
    for column in TABLES[name]:
        path.write_bytes(kept)
        write_table(folder, name, read_table(folder, name).drop(columns=column))
        with pytest.raises(StoreError, match=rf"{name}\.parquet: another version .* the column {column}\. .*foilsweep r"):
            publish(folder)
    path.write_bytes(kept)
    assert not (folder / "site").exists()


def test_a_damaged_table_is_left_to_its_reader(tmp_path: Path) -> None:
    (tmp_path / "builds.parquet").write_bytes(b"PAR1 and no more")
    form_check.check_forms(tmp_path)


def test_flights_of_another_version_are_never_to_be_deleted(tmp_path: Path) -> None:
    """`run` flies nothing beside flights of another version: whoever deletes one does not get it back."""
    told = results(tmp_path, areas=2)
    for form in (form_check.SHARD, form_check.LEADER, "rides", "troubles"):
        with pytest.raises(StoreError, match=r"another version.+--out") as refusal:
            form_check.checked(tmp_path / "some.parquet", told.designs[[]], form)
        assert "Delete" not in str(refusal.value)

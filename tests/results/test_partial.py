"""What a stopped run has left, as a site: what can be compared is ranked, and every page says what is missing."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.conditions import list_conditions
from sweep.insight.limits import POOLED
from sweep.report.bundle import bundle, folder_name
from sweep.report.publishing import publish
from sweep.results import store
from sweep.results.claim import begin
from sweep.results.identity import flown_keys
from sweep.results.partial import even_part, load_so_far
from sweep.results.site_folder import WRITTEN
from sweep.results.store import Results
from tests.site_results import results


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Results:
    return results(tmp_path_factory.mktemp("campaign"), leaders=0, areas=2)


def stopped(told: Results, folder: Path, blocks: list[tuple[int, int]], designs: int | None = None) -> Path:
    """A results folder in which these blocks have flown, the last one by the first `designs` only."""
    folder.mkdir()
    begin(folder, told.campaign, told.designs, list_conditions(told.campaign))
    for number, (condition, replicate) in enumerate(blocks):
        rows = told.flights[(told.flights["condition"] == condition) & (told.flights["replicate"] == replicate)]
        last = number == len(blocks) - 1
        some = rows[rows["design"] < designs] if last and designs else rows
        store.add_shard(folder, number, some, flown_keys(folder).of_rows(some))
    return folder


def words(page: Path) -> str:
    text = re.sub(r"</?a\b[^>]*>", "", page.read_text(encoding="utf-8"))  # a word may lead to its meaning
    return re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", text))


def test_a_stopped_run_says_on_every_page_what_is_missing(told: Results, tmp_path: Path) -> None:
    folder = stopped(told, tmp_path / "half", [(0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (2, 0)], designs=7)
    site, designs = publish(folder), len(told.designs)
    pages = sorted(site.glob("*.html"))
    assert len(pages) == 10
    for page in pages:
        said = words(page)
        assert f"{5 * designs + 7} of {12 * designs} flights are flown" in said, page.name
        assert f"{designs} of {designs} designs, in 2 of 4 conditions with 2 of 3 replicates" in said
        assert "Not there yet: " in said
        assert "the leaders as built a little off" in said


def test_what_is_ranked_are_the_designs_that_met_the_same_waves(told: Results, tmp_path: Path) -> None:
    folder = stopped(told, tmp_path / "half", [(0, 0), (0, 1), (1, 1), (1, 2), (3, 0)], designs=4)
    found, _ = load_so_far(folder)
    whole = told.flights[told.flights["condition"].isin([0, 1])]
    met = whole[
        ~((whole["condition"] == 0) & (whole["replicate"] == 2)) & ~((whole["condition"] == 1) & (whole["replicate"] == 0))
    ]
    means = met.groupby("design")["outside_window"].mean()
    ranked = found.standings.set_index("design")["outside_window"]
    assert sorted(ranked.index) == list(range(len(told.designs)))
    np.testing.assert_allclose(ranked.sort_index(), means)
    assert (found.standings["flights"] == 4).all()
    assert found.conditions["condition"].tolist() == [0, 1]


def test_limits_are_told_of_the_conditions_that_were_flown(told: Results, tmp_path: Path) -> None:
    """Only the last two conditions are even: their verdicts are theirs, not those of the first two."""
    folder = stopped(told, tmp_path / "half", [(2, 0), (2, 1), (3, 0), (3, 1), (0, 0)], designs=4)
    found, _ = load_so_far(folder)
    assert found.conditions["condition"].tolist() == [2, 3]
    assert sorted(found.limits["condition"].unique()) == [POOLED, 2, 3]
    assert (found.limits.groupby(["response", "condition"], observed=True).size() == len(told.designs)).all()


def test_a_run_without_a_flight_still_makes_a_site(told: Results, tmp_path: Path) -> None:
    site = publish(stopped(told, tmp_path / "none", []))
    assert f"0 of {12 * len(told.designs)} flights are flown" in words(site / "cautions.html")
    assert "No design has been scored yet." in words(site / "index.html")


def test_after_the_flights_only_what_follows_is_missing(told: Results, tmp_path: Path) -> None:
    every = [(condition, replicate) for condition in range(4) for replicate in range(3)]
    folder = stopped(told, tmp_path / "whole", every)
    for name in ("standings", "limits", "builds", "settings", "effects", "levels", "responses"):
        store.write_table(folder, name, getattr(told, name), store.ranked_from(folder, told.campaign))
    found, missing = load_so_far(folder)
    pd.testing.assert_frame_equal(found.standings, told.standings)
    assert missing[0].endswith(f"{12 * len(told.designs)} of {12 * len(told.designs)} flights are flown.")
    assert "what matters" not in missing[1]
    assert "where they ride" in missing[1]


def flown(*rows: tuple[int, int, int]) -> list[pd.DataFrame]:
    return [pd.DataFrame(rows, columns=["design", "condition", "replicate"])]


def test_the_larger_even_part_is_taken() -> None:
    wide = even_part(flown((0, 0, 0), (1, 0, 0), (2, 0, 0), (0, 0, 1)))
    assert (wide.designs, wide.blocks) == ([0, 1, 2], [(0, 0)])
    deep = even_part(flown(*((0, 0, at) for at in range(5)), *((1, 0, at) for at in range(5)), (2, 0, 0)))
    assert (deep.designs, deep.replicates) == ([0, 1], 5)
    assert even_part(flown((1, 0, 0))).blocks == [], "without the base craft nothing is compared"
    assert even_part([]).designs == []


def test_the_zip_is_the_site_and_the_same_every_time(told: Results, tmp_path: Path) -> None:
    folder = stopped(told, tmp_path / "half", [(0, 0), (0, 1)])
    site = publish(folder, archive=True)
    first = (folder / "site.zip").read_bytes()
    publish(folder, archive=True)
    assert (folder / "site.zip").read_bytes() == first
    with zipfile.ZipFile(folder / "site.zip") as archive:
        entries = {entry.filename: archive.read(entry) for entry in archive.infolist()}
        assert {entry.date_time for entry in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
    assert list(entries) == sorted(entries)
    pages = [path for path in site.rglob("*") if path.is_file() and path.name != WRITTEN]
    written = {f"hostile/{path.relative_to(site).as_posix()}": path.read_bytes() for path in pages}
    assert entries == written


def test_the_folder_in_a_zip_stays_where_it_is_unpacked() -> None:
    assert folder_name("../../etc") == "etc"
    assert folder_name("..") == "site"
    assert b"a-b/x" in bundle("a b", {"x": "1"})


def met(**blocks: int) -> pd.DataFrame:
    """Flights of designs d0, d1, ... in so many replicates of one condition."""
    rows = [(int(name[1:]), 0, replicate) for name, count in blocks.items() for replicate in range(count)]
    return pd.DataFrame(rows, columns=["design", "condition", "replicate"])


def test_no_part_is_taken_without_the_base_craft() -> None:
    """Every gain is over it. Designs 0 and 2 met three blocks, 1 only one: six flights of two designs are more than three."""
    found = even_part([met(d0=3, d1=1, d2=3)])
    assert (found.designs, len(found.blocks)) == ([0, 2], 3)
    behind = even_part([met(d0=1, d1=3, d2=3)])
    assert (behind.designs, len(behind.blocks)) == ([0, 1, 2], 1)

"""The folder of a search from end to end: standings, pages, what may be told of it and what not."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import sweep
from sweep.campaign.designs import lay_out
from sweep.campaign.search_plan import FIRST_SEARCHED
from sweep.campaign.text.problems import ChoiceError
from sweep.insight.matters import method_of
from sweep.report.headline import result
from sweep.report.single_flight import choose, load_to_fly
from sweep.results import store
from sweep.results.identity import cautions
from sweep.results.journal import ENDS, FINAL, read_journal
from sweep.results.partial import load_so_far
from sweep.words.numbers import number
from tests.flying.test_race_run import StopAfter, StoppedError
from tests.site_results import plain

CONFIG = Path(__file__).parents[2] / "configs" / "courier-search.yaml"
SMALLER = (
    ("craft/courier.yaml", str(CONFIG.parent / "craft" / "courier.yaml")),
    ("designs: 1200", "designs: 160"),
    ("headings: [head, quartering, following]", "headings: [following]"),
    ("replicates: 6 ", "replicates: 3 "),
    ("length: 20 s, settle: 4 s", "length: 4 s, settle: 1 s"),
)


def smaller(folder, *changes):
    """The shipped search, made small."""
    text = CONFIG.read_text()
    for old, new in (*SMALLER, *changes):
        assert old in text
        text = text.replace(old, new)
    (folder / "search.yaml").write_text(text)
    return sweep.load_campaign(folder / "search.yaml")


@pytest.fixture(scope="module")
def finished(tmp_path_factory):
    """The shipped search, made small and run."""
    folder = tmp_path_factory.mktemp("search")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("sweep.report.publishing.DESIGN_PAGES", {})
        return folder / "results", sweep.run(smaller(folder), folder / "results")


def test_the_shipped_search_ends_in_standings_of_all_its_designs(finished):
    folder, results = finished
    assert len(results.designs) >= 161
    assert len(results.standings) == len(results.designs) == results.manifest.designs
    assert int(results.standings["design"].iloc[0]) in read_journal(folder).of(FINAL)[0].designs
    assert set(results.leaders) <= set(read_journal(folder).of(FINAL)[0].designs)
    pd.testing.assert_frame_equal(sweep.rank(folder), results.standings)
    assert results.responses["design"].tolist() == results.designs.index.tolist()
    assert not results.responses["ride_height_error"].isna().any()


def test_the_pages_tell_of_the_rounds_and_of_what_cannot_be_known(finished):
    folder, results = finished
    page = plain((folder / "site" / "index.html").read_text())
    assert "How the flights were spent" in page
    assert "The rounds of the search" in page
    assert "A better design may lie between those that it flew" in page
    tried = sum(len(each.points) for each in read_journal(folder).of(ENDS))
    assert page.count("The best of the final, design") == tried
    for sentence in (each for each in page.split("<p>") if each.startswith("The best of the final, design")):
        assert ("widen the range and search on" in sentence) != ("cannot be told" in sentence)
    assert "A better one may lie between them" in plain((folder / "site" / "sure.html").read_text())
    assert method_of(results.campaign, results.designs).kind == "none"
    assert "a search looks most where the score is good" in plain((folder / "site" / "matters.html").read_text())


def test_nothing_is_promised_beyond_the_final(finished):
    """Designs outside it may be better: the answer says by how much at most, and promises among finalists only."""
    said, table = result(finished[1]), finished[1].standings
    final = read_journal(finished[0]).of(FINAL)[0].designs
    left = table[~table["design"].isin(final) & (table["reason"].str.contains("not into the final"))]
    most = number(-float(left["behind_low"].min()), 2)
    assert any(f"may be better than its best, by {most} at most (95 % sure)." in each for each in said)
    assert set(table.loc[table["may_be_best"], "design"]) <= set(final)
    assert not any("of the best score, whichever" in each for each in said)


def test_a_finalists_flights_are_those_of_the_final(finished):
    folder, results = finished
    for design in read_journal(folder).of(FINAL)[0].designs:
        assert (results.flights_of(int(design))["replicate"] < FIRST_SEARCHED).all()
    outside = np.setdiff1d(results.designs.index, read_journal(folder).of(FINAL)[0].designs)
    assert len(results.flights_of(int(outside[0]))) >= 2


def test_another_score_in_the_folder_is_a_caution(finished, tmp_path):
    folder, results = finished
    other = results.campaign.model_copy(update={"limits": {}})
    (said,) = cautions(folder, results.manifest, other, results.dropped)
    assert said.startswith("This search was flown by another score or other limits")


def test_a_search_that_was_stopped_says_so(tmp_path):
    with pytest.raises(StoppedError):
        sweep.run(smaller(tmp_path), tmp_path / "results", workers=1, watcher=StopAfter(150))
    results, said = load_so_far(tmp_path / "results")
    assert "flights of a search" in said[0]
    assert len(results.designs) == 1 + len(results.campaign.searched) > 1


def test_one_flight_of_a_search_is_that_of_its_results(finished, tmp_path):
    """From the folder, from the file beside it, and refused where the results are not to be found."""
    folder, results = finished
    last = int(results.designs.index[-1])
    file = folder.parent / "search.yaml"
    (tmp_path / "search").symlink_to(folder)
    for campaign in (load_to_fly(folder, tmp_path), load_to_fly(file, tmp_path)):
        chosen = choose(campaign, last, "0", 0)
        factors = list(campaign.factors)
        assert lay_out(campaign).loc[chosen.design, factors].tolist() == results.designs.loc[last, factors].tolist()
        with pytest.raises(ChoiceError, match=f"0 \\(the base craft\\) to {last}"):
            choose(campaign, last + 1, "0", 0)
    alone = load_to_fly(file, tmp_path / "none")
    assert choose(alone, 0, "0", 0).design == 0
    with pytest.raises(ChoiceError, match="are in its results folder"):
        choose(alone, 3, "0", 0)


def test_designs_that_are_not_the_journals_are_refused(finished, tmp_path):
    import shutil

    folder = tmp_path / "copy"
    shutil.copytree(finished[0], folder)
    table = pd.read_parquet(folder / "designs.parquet")
    table.loc[3, "struts.height"] *= 1.01
    store.write_table(folder, "designs", table)
    with pytest.raises(store.StoreError, match="are not the designs that were flown"):
        store.load_results(folder)

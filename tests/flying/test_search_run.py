"""A search flown in a tiny campaign: its rounds, its final, stopped anywhere and gone on, judged otherwise."""

import time
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.campaign import load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.costs import with_costs
from sweep.campaign.designs import lay_out
from sweep.campaign.plan import SEARCH_ROUNDS
from sweep.campaign.search_plan import FIRST_SEARCHED, purse_of
from sweep.flying.heats import Heats
from sweep.flying.progress import Watcher
from sweep.flying.work import Work
from sweep.insight.scores import flight_scores
from sweep.results import store
from sweep.results.claim import begin, go_on
from sweep.results.journal import ENDS, FINAL, JOURNAL, SEARCH, SETTLED, read_journal
from sweep.results.manifest import read_manifest
from sweep.results.rank_folder import rank_folder
from sweep.workflow import fly_designs
from tests.flying.test_race_run import Counter, StopAfter, StoppedError

CRAFT = Path(__file__).parents[2] / "configs" / "craft" / "courier.yaml"
TEXT = f"""\
title: A small search
craft: {CRAFT}
factors:
  foils.*.area: {{from: 35 cm^2, to: 70 cm^2}}
  struts.height: {{from: 15 cm, to: 28 cm}}
  control.height.proportional: {{from: 0.05 deg/cm, to: 1.6 deg/cm, spacing: log}}
  rangefinders.layout: [bow, across-bow, over-foils]
plan: {{kind: search, designs: 160, seed: 1}}
conditions:
  seas: {{chop: {{kind: jonswap, height: 5 cm, period: 1.1 s}}}}
  headings: [head, following]
  speeds: [4 m/s]
  replicates: 2
flight: {{length: 3 s, settle: 1 s, seed: 1}}
fly_on: none
limits: {{touchdowns: 60 /min}}
map: {{replicates: 0}}
"""
KEPT = (JOURNAL, "flights/SHA256SUMS", "flights/keys.json", "designs.parquet", "standings.csv")


@cache
def small():
    """The campaign of these tests."""
    folder = Path(__file__).parent
    return _loaded(folder, TEXT)


def _loaded(folder, text):
    import tempfile

    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "small.yaml"
        path.write_text(text)
        return load_campaign(path)


def searched(folder, chosen=None, workers=None, watcher=None):
    """Fly the search into a folder and rank it."""
    folder.mkdir(exist_ok=True)
    chosen = go_on(folder, chosen or small())
    designs, conditions = lay_out(chosen), list_conditions(chosen)
    said = begin(folder, chosen, with_costs(chosen, designs), conditions)
    work = fly_designs(Work(chosen, designs, conditions, workers, watcher or Watcher()), folder, time.monotonic()).work
    return said, rank_folder(work.campaign, folder)


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """A folder that was flown without a stop."""
    folder = tmp_path_factory.mktemp("searched") / "whole"
    return folder, searched(folder)[1]


def same(one, other):
    return [name for name in KEPT if (one / name).read_bytes() != (other / name).read_bytes()]


def test_rounds_share_their_blocks_and_the_final_has_its_own(whole):
    folder, _ = whole
    journal, rows = read_journal(folder), store.read_flights(folder)
    rounds, (final,) = journal.of(SEARCH), journal.of(FINAL)
    assert [len(each.points) for each in rounds] == [20] * SEARCH_ROUNDS
    assert all(each.designs[0] == 0 for each in journal.decisions if each.designs)
    assert len({each.blocks for each in rounds}) == SEARCH_ROUNDS
    assert all(replicate >= FIRST_SEARCHED for each in rounds for _, replicate in each.blocks)
    assert all(replicate < 2 for _, replicate in final.blocks)
    assert len(final.designs) == 1 + purse_of(small(), 2).finalists
    assert len(rows) == sum(each.flights for each in journal.decisions)
    assert not rows.duplicated(["design", "condition", "replicate"]).any()


def test_it_narrows_around_what_is_good(whole):
    folder, ranked = whole
    rounds = read_journal(folder).of(SEARCH)
    first, last = (np.array(each.points).std(axis=0)[:3].mean() for each in (rounds[0], rounds[-1]))
    assert last < 0.7 * first
    table = ranked.standings.set_index("design")
    of_round = [table.loc[list(each.designs[-len(each.points) :]), "score"].median() for each in (rounds[0], rounds[-1])]
    assert of_round[1] < of_round[0]


def test_a_finalists_score_comes_from_the_final_alone(whole):
    folder, ranked = whole
    (final,), rows = read_journal(folder).of(FINAL), store.read_flights(folder)
    own = rows[rows["replicate"] < 2]
    means = pd.Series(flight_scores(own, small().score, 2.0)).groupby(own["design"].to_numpy()).mean()
    assert sorted(means.index) == sorted(final.designs)
    table = ranked.standings.set_index("design")
    np.testing.assert_allclose(table.loc[means.index, "score"], means, rtol=1e-12)
    assert (table.loc[means.index, "flights"] == 4).all()


def test_every_design_has_its_place_and_none_outside_the_final_is_good_enough(whole):
    folder, ranked = whole
    table, finalists = ranked.standings, read_journal(folder).of(FINAL)[0].designs
    assert sorted(table["design"]) == list(range(read_manifest(folder).designs))
    placed = table[table["place"].notna()]
    assert placed["place"].tolist() == list(range(1, len(placed) + 1))
    assert ((placed["place_low"] <= placed["place"]) & (placed["place"] <= placed["place_high"])).all()
    outside = table[~table["design"].isin(finalists)]
    assert not outside["good_enough"].any()
    assert outside["reason"].str.contains("not into the final|try an end").all()
    assert not table[["score", "gain"]].isna().any(axis=None)


def test_whether_it_lies_at_an_end_is_tried_beside_the_best(whole):
    folder, _ = whole
    for each in read_journal(folder).of(ENDS):
        assert len(each.designs) == 2 + len(each.points)
        assert {replicate for _, replicate in each.blocks} == {FIRST_SEARCHED + SEARCH_ROUNDS + at for at in range(2)}


@pytest.mark.parametrize("flights", [10, 400, 488])
def test_stopped_anywhere_it_goes_on_to_the_same_bytes(whole, tmp_path, flights):
    with pytest.raises(StoppedError):
        searched(tmp_path / "run", workers=1, watcher=StopAfter(flights))
    searched(tmp_path / "run", workers=2)
    assert same(whole[0], tmp_path / "run") == []


def test_stopped_between_a_decision_and_its_designs_it_goes_on(whole, tmp_path, monkeypatch):
    grow, left = Heats.grow, [3]

    def stop(heats, work):
        left[0] -= 1
        if left[0] < 0:
            raise StoppedError
        grow(heats, work)

    with monkeypatch.context() as patch:
        patch.setattr(Heats, "grow", stop)
        with pytest.raises(StoppedError):
            searched(tmp_path / "run")
    assert len(read_journal(tmp_path / "run").points) == read_manifest(tmp_path / "run").designs - 1 + 20
    searched(tmp_path / "run")
    assert same(whole[0], tmp_path / "run") == []


def test_without_its_journal_it_decides_anew_and_keeps_the_flights(whole, tmp_path):
    folder = tmp_path / "run"
    searched(folder)
    (folder / JOURNAL).unlink()
    counter = Counter()
    said, _ = searched(folder, watcher=counter)
    assert "journal.json is missing" in said[0]
    assert any("kept from an earlier campaign" in sentence for sentence in counter.said)
    assert same(whole[0], folder) == []


def test_another_score_is_another_search(tmp_path):
    folder = tmp_path / "run"
    searched(folder)
    heavier = {name: weight.model_copy(update={"weight": 2.0 + at}) for at, (name, weight) in enumerate(small().score.items())}
    other = small().model_copy(update={"score": heavier})
    said, _ = searched(folder, other)
    searched(tmp_path / "anew", other)
    assert said
    assert same(folder, tmp_path / "anew") == []
    assert read_manifest(folder).kept >= 21 * 2  # the first round, which no score chose


def test_a_budget_of_simulated_seconds_is_kept_and_spent(tmp_path):
    chosen = _loaded(tmp_path, TEXT.replace(", designs: 160", "") + "budget: {simulated: 2000 s}\n")
    searched(tmp_path / "run", chosen)
    flown = store.count_flights(tmp_path / "run") * 3.0
    assert 1700.0 <= flown <= 2000.0


def test_on_the_clock_it_ends_in_a_final(tmp_path):
    chosen = _loaded(tmp_path, TEXT.replace(", designs: 160", "") + "budget: 1 s\n")
    _, ranked = searched(tmp_path / "run", chosen)
    journal = read_journal(tmp_path / "run")
    assert [len(journal.of(stage)) for stage in (SEARCH, FINAL)] == [1, 1]
    _, again = searched(tmp_path / "run", chosen)
    assert read_journal(tmp_path / "run") == journal
    pd.testing.assert_frame_equal(ranked.standings, again.standings)


def test_its_finalists_fly_on(tmp_path):
    chosen = _loaded(tmp_path, TEXT.replace("fly_on: none", "fly_on: usual"))
    searched(tmp_path / "run", chosen)
    journal = read_journal(tmp_path / "run")
    finalists = set(journal.of(FINAL)[0].designs)
    assert all(set(each.designs) <= finalists for each in journal.of(SETTLED))


RULED = TEXT.replace(
    "plan: {", 'rules: {large foils on short struts: "foils.aft.area <= 0.3 * struts.height * 8 cm"}\nplan: {', 1
)


def test_under_rules_no_design_of_a_search_breaks_one_and_a_stopped_one_goes_on_alike(whole, tmp_path):
    chosen = _loaded(tmp_path, RULED)
    searched(tmp_path / "whole", chosen)
    ruled, free = (pd.read_parquet(folder / "designs.parquet").iloc[1:] for folder in (tmp_path / "whole", whole[0]))
    kept = [each["foils.*.area"] <= 0.024 * each["struts.height"] * (1.0 + 1e-9) for each in (ruled, free)]
    assert len(ruled) >= 160
    assert kept[0].all()
    assert not kept[1].all()
    with pytest.raises(StoppedError):
        searched(tmp_path / "stopped", chosen, watcher=StopAfter(150))
    searched(tmp_path / "stopped", chosen)
    assert same(tmp_path / "whole", tmp_path / "stopped") == []

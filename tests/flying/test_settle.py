"""Leading designs that fly on: flown in a tiny campaign, stopped, gone on, damaged."""

import json
import time

import numpy as np
import pandas as pd
import pytest
from scipy.stats import t as student

from sweep.campaign.budget import Budget
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out
from sweep.campaign.follow_up_plan import first_fresh
from sweep.campaign.unknowns import Unknown, Unknowns
from sweep.flying.progress import Watcher
from sweep.flying.work import Work
from sweep.insight.ranking import SKEW_OF_ONE
from sweep.insight.scores import flight_scores
from sweep.results import store
from sweep.results.claim import begin
from sweep.results.journal import END, JOURNAL, RACE, SETTLED, read_journal
from sweep.results.rank_folder import rank_folder
from sweep.workflow import fly_designs
from tests.flying.test_flights import campaign
from tests.flying.test_race_run import StopAfter, StoppedError

DESIGNS, CONDITIONS, REPLICATES = 13, 2, 2
SWEPT = DESIGNS * CONDITIONS * REPLICATES


def flown(folder, workers=None, watcher=None, **changes):
    """The folder of a campaign that settles, and its campaign; small noise decides little in two replicates."""
    chosen = campaign(fly_on="usual", limits={}, **changes)
    designs, conditions = lay_out(chosen), list_conditions(chosen)
    folder.mkdir(exist_ok=True)
    begin(folder, chosen, designs, conditions)
    fly_designs(Work(chosen, designs, conditions, workers, watcher or Watcher()), folder, time.monotonic())
    return chosen


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """A folder that was flown without a stop."""
    folder = tmp_path_factory.mktemp("settled") / "whole"
    return flown(folder), folder


KEPT = (JOURNAL, "flights/SHA256SUMS")


def same(one, other):
    return all((one / name).read_bytes() == (other / name).read_bytes() for name in KEPT)


def test_leading_designs_fly_on_through_fresh_shared_waves(whole):
    chosen, folder = whole
    rows, journal = store.read_flights(folder), read_journal(folder)
    fresh = rows[rows["replicate"] >= REPLICATES]
    assert len(rows) - len(fresh) == SWEPT
    assert len(fresh) == sum(each.flights for each in journal.of(SETTLED)) > 0
    assert len(fresh) <= SWEPT, "no more than the sweep itself"
    assert not rows.duplicated(["design", "condition", "replicate"]).any()
    assert fresh["replicate"].max() < first_fresh(chosen)
    blocks = {design: set(zip(part["condition"], part["replicate"], strict=True)) for design, part in fresh.groupby("design")}
    assert all(each <= blocks[0] for each in blocks.values()), "the base craft has every block that any has"
    assert journal.decisions[-1].stage == END
    assert all(each.elapsed is None for each in journal.decisions), "without a deadline nothing looks at a clock"


def test_standings_tell_who_flew_on_by_more_flights(whole):
    chosen, folder = whole
    ranked = rank_folder(chosen, folder).standings.set_index("design")
    rows = store.read_flights(folder, ["design"])
    assert ranked["flights"].sort_index().tolist() == rows.groupby("design").size().tolist()
    assert ranked["score"].between(0.0, 10.0).all()
    assert ranked["score"].is_monotonic_increasing
    pd.testing.assert_frame_equal(rank_folder(chosen, folder).standings.set_index("design"), ranked)


@pytest.mark.parametrize("after", [SWEPT - 10, SWEPT + 5, SWEPT + 20])
def test_workers_and_stops_change_nothing(whole, tmp_path, after):
    with pytest.raises(StoppedError):
        flown(tmp_path / "stopped", workers=1, watcher=StopAfter(after))
    flown(tmp_path / "stopped", workers=2)
    assert same(whole[1], tmp_path / "stopped")


def test_a_race_of_simulated_seconds_settles_within_them_and_a_stop_changes_nothing(tmp_path):
    budget = Budget(simulated="300 s")
    flown(tmp_path / "whole", replicates=4, budget=budget)
    rows, journal = store.read_flights(tmp_path / "whole"), read_journal(tmp_path / "whole")
    assert 0.8 * 300.0 < 4.0 * len(rows) <= 300.0
    assert {each.stage for each in journal.decisions} == {SETTLED, END}
    for after in (30, len(rows) - 10):
        with pytest.raises(StoppedError):
            flown(tmp_path / f"stopped-{after}", workers=1, watcher=StopAfter(after), replicates=4, budget=budget)
        flown(tmp_path / f"stopped-{after}", workers=2, replicates=4, budget=budget)
        assert same(tmp_path / "whole", tmp_path / f"stopped-{after}")


def test_a_finished_run_flies_and_decides_nothing_more(whole):
    before = [(whole[1] / name).read_bytes() for name in KEPT]
    flown(whole[1])
    assert [(whole[1] / name).read_bytes() for name in KEPT] == before


def test_without_its_journal_a_run_decides_the_same_anew_and_keeps_the_flights(whole, tmp_path):
    chosen = flown(tmp_path / "again")
    (tmp_path / "again" / JOURNAL).unlink()
    with pytest.raises(store.StoreError, match=r"flights that neither the campaign nor journal.json tells of"):
        rank_folder(chosen, tmp_path / "again")
    flown(tmp_path / "again")
    assert same(whole[1], tmp_path / "again")


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("stage", "later", "wanted one of race, search, final, ends, settle, end"),
        ("designs", [1, 1], "once each"),
        ("designs", [999], "wanted numbers under 13"),
        ("blocks", [[0, 2, 3]], r"as \[condition, replicate\]"),
        ("blocks", [[7, 2]], "conditions under 2"),
        ("blocks", [[0, 10**6]], "replicates under 20000"),
        ("blocks", "all", "wanted a list"),
    ],
)
def test_a_journal_that_no_run_has_written_is_refused(whole, tmp_path, key, value, said):
    note = json.loads((whole[1] / JOURNAL).read_text())
    note["decisions"][0][key] = value
    folder = tmp_path / "edited"
    folder.mkdir()
    (folder / "manifest.json").write_bytes((whole[1] / "manifest.json").read_bytes())
    (folder / JOURNAL).write_text(json.dumps(note))
    with pytest.raises(store.StoreError, match=said):
        read_journal(folder)


def test_a_journal_of_other_flights_is_refused(whole, tmp_path):
    (tmp_path / "manifest.json").write_bytes((whole[1] / "manifest.json").read_bytes())
    note = json.loads((whole[1] / JOURNAL).read_text()) | {"made_from": "00"}
    (tmp_path / JOURNAL).write_text(json.dumps(note))
    with pytest.raises(store.StoreError, match="tells of other flights"):
        read_journal(tmp_path)


def test_none_asked_none_flown(tmp_path):
    chosen = campaign(fly_on="none")
    assert first_fresh(chosen) == chosen.replicates
    designs, conditions = lay_out(chosen), list_conditions(chosen)
    begin(tmp_path, chosen, designs, conditions)
    fly_designs(Work(chosen, designs, conditions), tmp_path, time.monotonic())
    assert len(store.read_flights(tmp_path)) == SWEPT
    assert not (tmp_path / JOURNAL).exists()


def test_on_the_clock_what_was_decided_before_a_stop_stays(tmp_path):
    """Stopped in its settling, a run with hours left repeats its decisions and goes on; it does not have their time again."""
    budget, folder = Budget(clock="4 h"), tmp_path / "night"
    with pytest.raises(StoppedError):
        flown(folder, watcher=StopAfter(SWEPT + 30), budget=budget)
    before, sums = read_journal(folder).decisions, (folder / "flights" / "SHA256SUMS").read_text()
    assert {each.stage for each in before} == {RACE, SETTLED}
    flown(folder, budget=budget)
    after = read_journal(folder).decisions
    assert after[: len(before)] == before
    assert after[-1].stage == END
    assert (folder / "flights" / "SHA256SUMS").read_text().startswith(sums)
    elapsed = [each.elapsed for each in after]
    assert elapsed == sorted(elapsed)
    assert np.isfinite(elapsed).all()


WAKE = Unknown(label="wake.strength", addresses=("wake.strength",), way="times", low=0.5, high=1.5, described=(1.0,))


@pytest.mark.parametrize("unknowns", [Unknowns(each=(WAKE,)), Unknowns(each=(WAKE,), waves=2, shared=4)], ids=["one", "pairs"])
def test_what_is_not_known_is_settled_by_whole_draws(tmp_path, unknowns):
    """Every design that flies on meets each draw in all conditions, stopped or not; the standings' units are the draws."""
    chosen = flown(tmp_path / "whole", unknowns=unknowns, replicates=4)
    rows, journal = store.read_flights(tmp_path / "whole"), read_journal(tmp_path / "whole")
    met = rows.groupby(["design", "replicate"])["condition"].nunique()
    assert (met == CONDITIONS).all()
    assert (rows["replicate"] >= 4).any()
    assert all(len(each.blocks) % CONDITIONS == 0 for each in journal.of(SETTLED))
    ranked = rank_folder(chosen, tmp_path / "whole").standings.set_index("design").sort_index()
    assert ranked["flights"].tolist() == rows.groupby("design").size().tolist()
    scores = rows.assign(
        score=flight_scores(rows, chosen.score, chosen.flight.scored),
        draw=[unknowns.draw_of(each) for each in rows["replicate"]],
    )
    of_draws = scores[scores["design"] == 0].groupby("draw")["score"].mean()
    assert ranked.loc[0, "score"] == pytest.approx(of_draws.mean())
    reach = student.ppf(0.975, len(of_draws) - 1) * of_draws.std() / np.sqrt(len(of_draws))
    assert ranked.loc[0, "score_high"] == pytest.approx(of_draws.mean() + SKEW_OF_ONE * reach)
    with pytest.raises(StoppedError):
        flown(tmp_path / "stopped", workers=1, watcher=StopAfter(len(rows) - 10), unknowns=unknowns, replicates=4)
    flown(tmp_path / "stopped", unknowns=unknowns, replicates=4)
    assert same(tmp_path / "stopped", tmp_path / "whole")

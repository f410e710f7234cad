import dataclasses
import errno
import hashlib
import os
import shutil
from collections import Counter
from pathlib import Path

import joblib
import numpy as np
import pandas as pd
import pytest

import sweep
from sweep import cli, workflow
from sweep.flying import follow_up
from sweep.flying.progress import Watcher
from sweep.insight.scores import flight_scores
from sweep.report.terminal import standings_csv, standings_text
from sweep.results import lock, plain_files, store
from tests.site_results import plain

SMALL = """\
title: A small one
craft: {craft}
factors:
  foils.*.area: [40 cm^2, 60 cm^2]
  struts.height: [16 cm, 20 cm]
conditions:
  seas: {{chop: {{kind: jonswap, height: 4 cm, period: 1 s}}}}
  headings: [head, following]
  speeds: [4 m/s]
  replicates: 2
flight: {{length: 4 s, settle: 1 s, seed: 3}}
fly_on: none
limits: {{touchdowns: 60 /min, upsets: 80 %}}
score:
  ride_height_error: {{scale: 1 cm}}
  pitch_rms: {{scale: 1 deg, weight: 0.5}}
map: {{speeds: 4 m/s, heights: [4 cm, 12 cm], headings: [head, following], replicates: 2}}
"""
MAPPED = 2 * 2 * 2
CRAFT = Path(__file__).parent.parent / "configs" / "craft" / "courier.yaml"


def campaign(folder, text=SMALL):
    path = folder / "small.yaml"
    path.write_text(text.format(craft=CRAFT))
    return sweep.load_campaign(path)


class Listener(Watcher):
    """Counts flights by what was said last before them: those of the campaign itself by nothing."""

    def __init__(self):
        self.flights, self.said, self.leaders, self.begun = Counter(), [], [], {}

    def begin(self, flights, done, seconds):
        self.begun[self.stage()] = (flights, done)

    def flown(self, flights):
        self.flights[self.stage()] += flights

    def best(self, design, score):
        self.leaders.append((design, score))

    def say(self, sentence):
        self.said.append(sentence)

    @property
    def told(self):
        """Flights but for those that are recorded, explained or changes: of the campaign and its map."""
        return sum(count for stage, count in self.flights.items() if stage not in (RECORDED, CAUSES, CHANGES))

    def stage(self):
        """The first word of what was said last."""
        return self.said[-1].split()[0] if self.said else "Flights"


RECORDED, CAUSES, MAP, BUILT, CHANGES = "Recording", "Finding", "Mapping", "Flying", "Trying"


def noted(reads):
    """What reads flights, and notes of each time which columns and whose rows."""
    read = store.read_flights

    def reading(folder, columns=None, design=None):
        reads.append((columns, design))
        return read(folder, columns, design)

    return reading


@pytest.fixture(scope="module")
def reads():
    """Every reading of flights in the run that follows."""
    return []


@pytest.fixture(scope="module")
def finished(tmp_path_factory, reads):
    """A finished run: its campaign, its folder, what it returned, what it told."""
    folder, listener = tmp_path_factory.mktemp("small"), Listener()
    chosen = campaign(folder)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(store, "read_flights", noted(reads))
        patched.setattr(store, "MOST_HELD", 0)  # as if they were many
        results = sweep.run(chosen, folder / "results", watcher=listener)
    return chosen, folder / "results", results, listener


@pytest.fixture
def copied(finished, tmp_path):
    """A copy of its folder, to be changed."""
    return shutil.copytree(finished[1], tmp_path / "results")


def contents(folder):
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.rglob("*.parquet")}


def test_a_run_leaves_the_results_folder(finished):
    chosen, folder, results, listener = finished
    names = {path.name for path in folder.iterdir() if not path.name.startswith(".")}
    assert names == {
        *("campaign.yaml", "craft.yaml", "designs.parquet", "conditions.parquet", "flights", "standings.parquet"),
        *("standings.csv", "limits.parquet", "leaders", "manifest.json", "rides.parquet", "changes.parquet", "site"),
        *("troubles.parquet", "moments.parquet"),
        *("builds.parquet", "settings.parquet", "effects.parquet", "levels.parquet", "hanging.parquet", "responses.parquet"),
    }
    assert (folder / "site" / "index.html").exists()
    assert results.campaign.name == chosen.name
    assert (folder / "campaign.yaml").read_text() == SMALL.format(craft=CRAFT)
    assert len(results.flights) == 5 * 2 * 2
    assert listener.flights["Flights"] == 5 * 2 * 2
    assert listener.flights[MAP] == MAPPED * len(results.leaders)
    assert listener.flights[RECORDED] == 2 * len(results.leaders)
    assert set(results.leaders) == {*results.standings["design"].head(3), 0}


def test_results_are_loaded_as_they_were_returned(finished):
    _, folder, results, _ = finished
    loaded = sweep.load_results(folder)
    for name in (
        "designs",
        "conditions",
        "flights",
        "standings",
        "limits",
        "rides",
        "builds",
        "settings",
        "effects",
        "levels",
        "responses",
    ):
        pd.testing.assert_frame_equal(getattr(loaded, name), getattr(results, name))
    assert loaded.manifest.finished is not None
    assert loaded.campaign.score == results.campaign.score


def test_standings_are_those_of_the_flights(finished):
    """The mean score of a design and its gain over the base craft, counted from the rows by pandas."""
    chosen, _, results, _ = finished
    flights = results.flights.assign(score=flight_scores(results.flights, chosen.score, 3.0))
    means = flights.groupby("design")["score"].mean()
    table = results.standings.set_index("design")
    np.testing.assert_allclose(table["score"], means.loc[table.index])
    np.testing.assert_allclose(table["gain"], means.loc[0] - means.loc[table.index])
    np.testing.assert_allclose(table["pitch_rms"], flights.groupby("design")["pitch_rms"].mean().loc[table.index])
    assert table.loc[table["verdict"] == "kept", "score"].is_monotonic_increasing


def test_designs_have_a_mass_and_a_price(finished):
    """Four foils of 60 instead of 40 cm^2 and taller struts weigh more; the base craft weighs its body and its parts."""
    _, _, results, _ = finished
    mass = results.designs["mass"]
    assert mass[0] > results.campaign.craft.body.mass
    assert mass[1] < mass[2] < mass[4]
    assert (results.designs["price"] >= results.campaign.craft.body.price).all()


@pytest.mark.usefixtures("unpublished")
def test_a_second_run_flies_nothing(finished):
    chosen, folder, _, _ = finished
    before, listener = contents(folder), Listener()
    sweep.run(chosen, folder, watcher=listener)
    assert not {"Flights", MAP, CHANGES} & listener.flights.keys()
    assert contents(folder) == before


def test_all_that_follows_the_flights_is_told_of_beforehand_and_counted(finished):
    """As many flights of each stage are told of when it begins as are told to be done: no bar ends before its work."""
    _, _, _, listener = finished
    stages = ["Flights", RECORDED, CAUSES, MAP, CHANGES]
    assert list(listener.begun) == stages
    assert [flights for flights, _ in listener.begun.values()] == [listener.flights[stage] for stage in stages]


@pytest.mark.usefixtures("unpublished")
def test_a_stopped_run_goes_on_to_the_same_bytes(finished, tmp_path, monkeypatch):
    _, folder, _, _ = finished
    add, added = store.add_shard, []

    def stop_after_two(*arguments):
        if len(added) == 2:
            raise KeyboardInterrupt
        added.append(arguments[1])
        add(*arguments)

    chosen = campaign(tmp_path)
    with monkeypatch.context() as patched:
        patched.setattr(store, "add_shard", stop_after_two)
        with pytest.raises(KeyboardInterrupt):
            sweep.run(chosen, tmp_path / "results")
    with pytest.raises(store.StoreError, match="10 flights are missing"):
        sweep.rank(tmp_path / "results")
    listener = Listener()
    sweep.run(chosen, tmp_path / "results", watcher=listener)
    assert listener.begun["Flights"] == (20, 10)
    assert contents(tmp_path / "results") == contents(folder)


@pytest.mark.usefixtures("unpublished")
def test_a_damaged_shard_is_flown_again_and_said(finished, copied):
    (chosen, _, _, _), folder, listener = finished, copied, Listener()
    before = contents(folder)
    path = folder / "flights" / "part-00001.parquet"
    path.write_bytes(path.read_bytes()[:100])
    sweep.run(chosen, folder, watcher=listener)
    assert contents(folder) == before
    assert sum("damaged" in sentence for sentence in listener.said) == 1
    assert "part-00001.parquet was damaged" in listener.said[0]


@pytest.mark.usefixtures("unpublished")
def test_other_weights_rank_the_same_flights_again(finished, copied, tmp_path):
    listener = Listener()
    other = SMALL.replace("scale: 1 cm", "scale: 3 mm").replace("touchdowns: 60 /min, ", "")
    second = sweep.run(campaign(tmp_path, other), copied, watcher=listener)
    assert listener.begun["Flights"] == (20, 20)
    assert second.standings["score"].iloc[0] > finished[2].standings["score"].iloc[0]
    assert set(second.limits["response"]) == {"upsets"}


def test_an_edited_campaign_in_the_folder_ranks_again(finished, copied):
    folder = copied
    (folder / "campaign.yaml").write_text(SMALL.format(craft="nowhere.yaml").replace("scale: 1 cm", "scale: 3 mm"))
    table = sweep.rank(folder)
    assert table["score"].iloc[0] > finished[2].standings["score"].iloc[0]
    pd.testing.assert_frame_equal(sweep.load_results(folder).standings, table)


def test_the_rows_of_one_design_and_one_column_are_those_of_the_table(finished):
    _, folder, results, _ = finished
    apart = sweep.load_results(folder)
    rows = results.flights[results.flights["design"] == 2].reset_index(drop=True)
    pd.testing.assert_frame_equal(apart.flights_of(2), rows)
    pd.testing.assert_series_equal(apart.column("pitch_rms"), results.flights["pitch_rms"])
    held = dataclasses.replace(apart, flights=rows)
    pd.testing.assert_frame_equal(held.flights_of(2), rows)
    assert held.flights_of(1).empty
    assert (held.column("design") == 2).all()


def test_a_run_and_its_site_never_hold_all_flights(finished, reads, monkeypatch):
    """Where flights are many memory must not grow with them: a run reads some columns at a time, or one design's rows."""
    whole = []
    monkeypatch.setattr(store, "read_flights", noted(whole))
    _ = sweep.load_results(finished[1]).flights
    assert (None, None) in whole, "who asks for all of them is noted"
    assert reads
    assert all(design is not None or len(columns) == 1 for columns, design in reads)


def test_leaders_are_mapped_in_waves_of_one_steepness(finished):
    _, _, results, _ = finished
    assert results.rides["design"].tolist() == workflow.choose_leaders(results.standings) * 4
    assert (results.rides["flights"] == 2).all()
    assert results.rides.groupby("height")["period"].first().tolist() == pytest.approx([1.0, 3**0.5])
    assert set(results.rides["heading_name"]) == {"head", "following"}


@pytest.mark.usefixtures("unpublished")
def test_a_stopped_map_goes_on_to_the_same_bytes(tmp_path, monkeypatch):
    """It is written after every round, and the rounds that follow are the same."""
    fly, larger = follow_up.fly_map, SMALL.replace("replicates: 2}}\n", "replicates: 5}}\n")

    def stop_after_one(*arguments):
        for number, part in enumerate(fly(*arguments)):
            if number == 1:
                raise KeyboardInterrupt
            yield part

    chosen, listener = campaign(tmp_path, larger), Listener()
    with monkeypatch.context() as patched:
        patched.setattr(follow_up, "fly_map", stop_after_one)
        with pytest.raises(KeyboardInterrupt):
            sweep.run(chosen, tmp_path / "results")
    table = store.read_table(tmp_path / "results", "rides")
    assert (table["blocks"] == 2).all()
    sweep.run(chosen, tmp_path / "results", watcher=listener)
    assert listener.begun["Flights"] == (20, 20)
    assert listener.begun[MAP] == (5 * len(table), 2 * len(table))
    sweep.run(chosen, tmp_path / "whole")
    assert contents(tmp_path / "results") == contents(tmp_path / "whole")
    assert store.read_table(tmp_path / "whole", "rides")["blocks"].nunique() > 1


@pytest.mark.usefixtures("unpublished")
def test_another_map_or_none_leaves_the_flights_alone(copied, tmp_path):
    folder = copied
    listener, one = Listener(), SMALL.replace("[4 cm, 12 cm]", "9 cm")
    results = sweep.run(campaign(tmp_path, one), folder, watcher=listener)
    assert listener.begun["Flights"] == (20, 20)
    assert listener.begun[MAP] == (MAPPED // 2 * len(results.leaders), 0)
    assert CHANGES not in listener.begun
    assert set(results.rides["height"]) == {0.09}
    assert sweep.run(campaign(tmp_path, SMALL.replace("replicates: 2}}\n", "replicates: 0}}\n")), folder).rides.empty
    assert not (folder / "rides.parquet").exists()


@pytest.mark.usefixtures("unpublished")
def test_new_leaders_are_mapped_anew(finished, copied, tmp_path):
    listener, before = Listener(), finished[2]
    other = SMALL.replace("pitch_rms: {{scale: 1 deg, weight: 0.5}}", "power_mean: {{scale: 1 W, weight: 9}}")
    later = sweep.run(campaign(tmp_path, other), copied, watcher=listener)
    assert set(later.leaders) != set(before.leaders)
    assert set(later.rides["design"]) == set(later.leaders)
    assert listener.flights[MAP] == MAPPED * len(later.leaders)


def test_the_leader_so_far_leads_those_that_flew_most(finished):
    chosen, _, results, listener = finished
    means = results.flights.assign(score=flight_scores(results.flights, chosen.score, 3.0)).groupby("design")["score"].mean()
    assert listener.leaders[-1] == (means.idxmin(), pytest.approx(means.min()))


def test_leaders_are_the_first_three_and_the_base_craft():
    assert workflow.choose_leaders(pd.DataFrame({"design": [4, 0, 7, 2]})) == [4, 0, 7]
    assert workflow.choose_leaders(pd.DataFrame({"design": [4, 3, 7, 0]})) == [4, 3, 7, 0]


def test_public_names_are_there_and_no_others():
    assert all(callable(getattr(sweep, name)) for name in sweep.__all__)
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        _ = sweep.nothing


@pytest.mark.usefixtures("unpublished")
def test_tolerances_are_flown_if_asked_for_and_go_on_where_they_stopped(finished, copied, tmp_path, monkeypatch):
    folder, asked = copied, SMALL + "tolerances: usual\n"
    assert finished[2].tolerances.empty
    monkeypatch.setattr(follow_up, "PAUSE", 0.0)
    stopped = Listener()

    count = stopped.flown

    def stop(flights):
        count(flights)
        if stopped.flights[BUILT] > 5 * 60:
            raise KeyboardInterrupt

    stopped.flown = stop
    with pytest.raises(KeyboardInterrupt):
        sweep.run(campaign(tmp_path, asked), folder, workers=1, watcher=stopped)
    held = len(store.load_results(folder).tolerances)
    again = Listener()
    results = sweep.run(campaign(tmp_path, asked), folder, watcher=again)
    whole = len(results.tolerances)
    assert 0 < held < whole
    assert again.flights[BUILT] == whole - held
    assert set(results.tolerances["design"]) == set(results.leaders)
    assert not results.tolerances.duplicated(["design", "off", "side", "condition", "replicate"]).any()
    assert sweep.run(campaign(tmp_path), folder).tolerances.empty
    assert not (folder / "tolerances.parquet").exists()


def test_more_workers_than_processors_are_not_started_and_that_is_told(tmp_path, monkeypatch):
    asked = []
    monkeypatch.setattr("sweep.report.publishing.publish_locked", lambda folder: folder / "site")
    monkeypatch.setattr(workflow, "follow", lambda work, *_: asked.append(work.workers))
    listener = Listener()
    sweep.run(campaign(tmp_path), tmp_path / "results", workers=20_000, watcher=listener)
    assert asked == [4 * joblib.cpu_count()]
    assert listener.said[0].startswith("20000 workers were asked for; this computer flies with ")


def test_a_folder_that_takes_no_writing_is_ranked_and_printed(finished, monkeypatch, capsys):
    _, folder, results, _ = finished
    before = {path: (path.stat().st_mtime_ns, path.read_bytes()) for path in folder.rglob("*") if path.is_file()}

    def read_only(path, *_):
        raise OSError(errno.EROFS, "Read-only file system", str(path))

    with monkeypatch.context() as patched:
        patched.setattr(lock, "open_to_append", read_only)
        patched.setattr(plain_files, "_create_beside", read_only)
        patched.setattr(os, "replace", read_only)
        pd.testing.assert_frame_equal(sweep.rank(folder), results.standings)
        assert cli.main(["rank", str(folder)]) == 0
        printed = capsys.readouterr()
        assert "cannot be written to: these standings are printed, but not saved there" in printed.err
        assert standings_text(results.campaign, results.designs, results.standings) in printed.out
        assert cli.main(["rank", str(folder), "--csv", "-"]) == 0
        assert capsys.readouterr().out == standings_csv(results.designs, results.standings)
        assert cli.main(["publish", str(folder)]) == 1
        assert "cannot be written to" in capsys.readouterr().err
    assert {path: (path.stat().st_mtime_ns, path.read_bytes()) for path in folder.rglob("*") if path.is_file()} == before


def test_damage_in_a_folder_that_takes_no_writing_is_told(copied, monkeypatch):
    folder = copied
    (folder / "flights" / "part-00001.parquet").write_bytes(b"torn")

    def read_only(path):
        raise OSError(errno.EROFS, "Read-only file system")

    monkeypatch.setattr(lock, "open_to_append", read_only)
    with pytest.raises(store.StoreError, match=r"part-00001\.parquet is damaged"):
        sweep.rank(folder)
    assert (folder / "flights" / "part-00001.parquet").read_bytes() == b"torn"


def test_where_nothing_can_fly_the_run_ends_early_and_says_why(tmp_path, capsys):
    """Too slow for every design: no map, tolerances, outings or changes, the site all the same, and run again it is done."""
    text = SMALL.replace("speeds: [4 m/s]", "speeds: [1 m/s]").replace("fly_on: none", "tolerances: usual\noutings: 4")
    listener = Listener()
    sweep.run(campaign(tmp_path, text), tmp_path / "results", watcher=listener)
    stages = [said.split()[0] for said in listener.said]
    assert not {MAP, BUILT, CHANGES} & {*stages}
    (why,) = (said for said in listener.said if "nothing leads" in said)
    assert "no map, no tolerances, no outings and no small changes are flown" in why
    folder = tmp_path / "results"
    assert not {"rides.parquet", "tolerances.parquet", "outings.parquet"} & {path.name for path in folder.iterdir()}
    page = plain((folder / "site" / "rides.html").read_text(encoding="utf-8"))
    assert "Every design broke a limit, so none leads" in page
    assert cli.main(["run", str(tmp_path / "results")]) == 0
    assert "None of the 5 designs could be flown in every condition" in capsys.readouterr().out

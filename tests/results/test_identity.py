"""A results folder is what was flown in it: told by content, whatever its files' times and wherever it lies."""

import ast
import importlib
import inspect
import json
import os
import re
import shutil
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import sweep
from sweep import cli
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out
from sweep.flying import flights
from sweep.flying.flights import fly_shards
from sweep.flying.work import Work
from sweep.model.sources import SWEEP
from sweep.model.sources import files as files_of
from sweep.results import claim, digests, fingerprint, identity, rank_folder, store
from sweep.results.digests import flight_digest
from sweep.results.manifest import Manifest
from sweep.results.plain_files import StoreError
from sweep.results.shard_plan import plan_shards
from sweep.workflow import fly_designs
from tests.test_workflow import SMALL, Listener, campaign, contents


@pytest.fixture
def folder(base, tmp_path):
    """A copy of it that may be changed."""
    shutil.copytree(base, tmp_path / "results")
    return tmp_path / "results"


def edit(folder, old, new):
    path = folder / "campaign.yaml"
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))


def files(folder):
    return {path: path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file() and path.name != ".lock"}


FLOWN = {
    "another sea": ("height: 4 cm, period", "height: 9 cm, period", "seas[0].height: was 0.04, is 0.09", False),
    "a longer flight": ("length: 4 s", "length: 40 s", "flight.length: was 4 s, is 40 s", False),
    "more levels": (
        "[40 cm^2, 60 cm^2]",
        "[40 cm^2, 50 cm^2, 60 cm^2]",
        "factors.foils.*.area.levels: was [0.004, 0.006], is [0.004, 0.005, 0.006]",
        True,
    ),
    "fewer levels": ("[16 cm, 20 cm]", "[18 cm, 20 cm]", "factors.struts.height.levels: was [0.16, 0.2], is [0.18, 0.2]", True),
    "more replicates": ("replicates: 2\nflight", "replicates: 3\nflight", "replicates: was 2, is 3", True),
    "another seed": ("seed: 3", "seed: 4", "flight.seed: was 3, is 4", False),
    "a warmer sea": ("craft:", "water: {temperature: 25 degC}\ncraft:", "water.temperature: was", False),
    "another heading": ("headings: [head, following]\n  sp", "headings: [head, beam]\n  sp", "headings[1].angle: was", True),
    "another map": ("[4 cm, 12 cm]", "[4 cm, 14 cm]", "map.heights: was [0.04, 0.12], is [0.04, 0.14]", True),
    "no map": (
        "4 m/s, heights: [4 cm, 12 cm], headings: [head, following], replicates: 2",
        "4 m/s, replicates: 0",
        "map: was",
        True,
    ),
    "tolerances": ("title:", "tolerances: usual\ntitle:", "tolerances: was none, is usual", True),
    "outings": ("title:", "outings: 3\ntitle:", "outings: was 0, is 3", True),
}


@pytest.mark.parametrize("name", FLOWN)
def test_an_edit_of_what_was_flown_is_refused_with_what_differs_and_both_ways_out(folder, capsys, name):
    old, new, told, kept = FLOWN[name]
    edit(folder, old, new)
    before = files(folder)
    for act in (
        lambda: sweep.rank(folder),
        lambda: sweep.load_results(folder),
        lambda: sweep.publish(folder),
    ):
        with pytest.raises(store.ChangedCampaignError) as refusal:
            act()
        assert told in str(refusal.value)
        assert "Either undo that there" in str(refusal.value)
    way = f"`foilsweep run {folder}`" if kept else f"`foilsweep run {folder} --out {folder}-2`"
    for arguments in (["rank", str(folder)], ["publish", str(folder)], ["publish", str(folder), "--logs", "nowhere.yaml"]):
        assert cli.main(arguments) == 2
        said = capsys.readouterr()
        assert told in said.err
        assert way in said.err
        assert not said.out
    assert files(folder) == before


@pytest.mark.usefixtures("unpublished", "undoubted")
@pytest.mark.parametrize("name", ["more levels", "another heading", "another sea"])
def test_what_the_refusal_prints_can_be_done(folder, tmp_path, capsys, name):
    old, new, _, kept = FLOWN[name]
    edit(folder, old, new)
    assert cli.main(["rank", str(folder)]) == 2
    command = capsys.readouterr().err.rsplit("`foilsweep ", 1)[1].split("`")[0]
    assert cli.main(command.split()) == 0
    there = folder if kept else tmp_path / "results-2"
    whole = sweep.run(campaign(tmp_path, SMALL.replace(old, new)), tmp_path / "fresh")
    pd.testing.assert_frame_equal(sweep.load_results(there).standings, whole.standings)
    assert len(sweep.load_results(there).flights) == len(whole.flights)


def test_undone_the_edit_leaves_nothing(folder):
    text, before = (folder / "campaign.yaml").read_text(), files(folder)
    edit(folder, "height: 4 cm, period", "height: 9 cm, period")
    with pytest.raises(store.ChangedCampaignError):
        sweep.rank(folder)
    (folder / "campaign.yaml").write_text(json.loads((folder / "manifest.json").read_text())["files"]["campaign.yaml"])
    assert (folder / "campaign.yaml").read_text() == text
    sweep.rank(folder)
    assert files(folder) == before


def test_scores_limits_names_and_texts_may_be_edited(folder, capsys):
    first = sweep.load_results(folder)
    edit(folder, "scale: 1 cm", "scale: 3 mm")
    edit(folder, "touchdowns: 60 /min, ", "")
    edit(folder, "chop:", "slop:")
    edit(folder, "A small one", "Another title")
    edit(folder, "  struts.height: [16 cm, 20 cm]", "  leg: {addresses: [struts.height], levels: [16 cm, 20 cm]}")
    with pytest.raises(store.StoreError, match=rf"its standings were made by other scores.*`foilsweep rank {folder}`"):
        sweep.load_results(folder)
    assert cli.main(["rank", str(folder)]) == 0
    assert "slop" in capsys.readouterr().out
    second = sweep.load_results(folder)
    assert second.standings["score"].iloc[0] > first.standings["score"].iloc[0]
    assert set(second.limits["response"]) == {"upsets"}
    assert list(second.designs.columns[:2]) == ["foils.*.area", "leg"]
    assert second.campaign.title == "Another title"
    assert second.conditions["sea"].unique() == ["slop"]
    pd.testing.assert_frame_equal(second.flights, first.flights)


def test_prices_that_are_edited_stand_in_the_designs(folder):
    path = folder / "craft.yaml"
    path.write_text(re.sub(r"price: \d+", "price: 9999", path.read_text(), count=1))
    before = store.read_table(folder, "designs")["price"]
    sweep.rank(folder)
    assert (store.read_table(folder, "designs")["price"] > before).all()


def test_a_change_is_told_by_content_and_not_by_a_file_s_time(folder, base, capsys, monkeypatch):
    """A copied folder, whose files have the times of the copying, is not ranked again; an edit with an old time is."""
    monkeypatch.setattr("sweep.report.publishing.publish_locked", lambda folder, *_: folder / "site")
    for path in folder.rglob("*"):
        os.utime(path, (2e9, 2e9) if path.name == "campaign.yaml" else (1e9, 1e9))
    assert cli.main(["publish", str(folder)]) == 0
    assert "ranking again" not in capsys.readouterr().err
    assert contents(folder) == contents(base)
    edit(folder, "scale: 1 cm", "scale: 3 mm")
    os.utime(folder / "campaign.yaml", (1e6, 1e6))
    assert cli.main(["publish", str(folder)]) == 0
    assert "ranking again" in capsys.readouterr().err
    assert store.made_of(folder, "standings") == store.ranked_from(folder, store.load_stored_campaign(folder))
    assert contents(folder)["standings.parquet"] != contents(base)["standings.parquet"]


def other(tmp_path, old, new):
    """A finished run of a campaign that differs."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("sweep.report.publishing.publish_locked", lambda folder: folder / "site")
        (tmp_path / "other").mkdir()
        sweep.run(campaign(tmp_path / "other", SMALL.replace(old, new)), tmp_path / "other" / "results")
    return tmp_path / "other" / "results"


def take_shard(folder, stranger, number=1):
    """Another folder's shard with its line in the list of sound ones."""
    name = f"part-{number:05d}.parquet"
    shutil.copy(stranger / "flights" / name, folder / "flights" / name)
    sums = {
        line.split("  ")[1]: line
        for each in (folder, stranger)
        for line in (each / "flights" / "SHA256SUMS").read_text().splitlines()
        if each == folder or line.endswith(name)
    }
    (folder / "flights" / "SHA256SUMS").write_text("".join(f"{line}\n" for line in sums.values()))


@pytest.mark.usefixtures("unpublished")
def test_flights_and_tables_of_another_campaign_are_told_and_none_is_believed(folder, base, tmp_path):
    stranger = other(tmp_path, "height: 4 cm, period", "height: 9 cm, period")
    take_shard(folder, stranger)
    with pytest.raises(store.StoreError, match=r"part-00001\.parquet: is of other flights"):
        sweep.load_results(folder)
    with pytest.raises(store.StoreError, match=r"part-00001\.parquet is of other flights than these: set aside"):
        sweep.rank(folder)
    listener = Listener()
    sweep.run(campaign(tmp_path), folder, watcher=listener)
    assert next(iter(listener.begun.values())) == (20, 15)
    assert contents(folder) == {**contents(base)}
    for name in ("standings", "rides", "changes", "troubles", "leaders/design-0"):
        shutil.copy(stranger / f"{name}.parquet", folder / f"{name}.parquet")
        with pytest.raises(store.StoreError, match=r"made by other|made from other flights|no record of this folder"):
            sweep.load_results(folder)
        shutil.copy(base / f"{name}.parquet", folder / f"{name}.parquet")
    shutil.rmtree(folder / "flights")
    shutil.copytree(stranger / "flights", folder / "flights")
    with pytest.raises(store.StoreError, match="are the flights of another campaign"):
        sweep.rank(folder)
    shutil.copy(stranger / "manifest.json", folder / "manifest.json")
    with pytest.raises(store.ChangedCampaignError, match=r"seas\[0\]\.height: was 0\.09, is 0\.04"):
        sweep.rank(folder)


def test_a_shard_under_another_number_is_not_taken_for_it(folder):
    sums = folder / "flights" / "SHA256SUMS"
    sums.write_text(sums.read_text().replace("part-00000", "x").replace("part-00001", "part-00000").replace("x", "part-00001"))
    one, two = (folder / "flights" / f"part-0000{number}.parquet" for number in (0, 1))
    kept = one.read_bytes()
    one.write_bytes(two.read_bytes())
    two.write_bytes(kept)
    with pytest.raises(store.StoreError, match=r"part-00000\.parquet is of other flights .* part-00001\.parquet is of other"):
        sweep.rank(folder)


def test_a_shard_s_digest_knows_its_flights_and_nothing_of_the_campaign(tmp_path):
    """Replicates, deadline, score and limits leave it as it is; the settings, the craft and the sea do not."""

    def digest(text):
        chosen = campaign(tmp_path, text)
        keys = fingerprint.flight_keys(chosen, lay_out(chosen).loc[[0, 1]], list_conditions(chosen)[:1])
        return keys.of_flights(0, 1, [0, 1])

    plain = digest(SMALL)
    for old, new in (
        ("replicates: 2\nflight", "replicates: 7\nflight"),
        ("title", "budget: {{simulated: 200 s}}\ntitle"),
        ("title", "budget: {{clock: 1 min}}\ntitle"),
        ("scale: 1 cm", "scale: 3 mm"),
        ("touchdowns: 60 /min, ", ""),
        ("title: A small one", "title: Another"),
        ("[16 cm, 20 cm]", "[16 cm, 20 cm, 30 cm]"),
    ):
        assert old in SMALL
        assert digest(SMALL.replace(old, new)) == plain, new
    for old, new in (
        ("length: 4 s", "length: 5 s"),
        ("seed: 3", "seed: 4"),
        ("height: 4 cm, p", "height: 5 cm, p"),
        ("40 cm", "41 cm"),
    ):
        assert digest(SMALL.replace(old, new)) != plain, new


def test_every_shard_carries_the_digest_of_its_own_rows(base):
    keys = identity.keys_of(base / "flights")
    shards = list(store.whole_shards(base / "flights"))
    assert len(shards) == 4
    assert len({store.shard_digest(base, number) for number in range(4)}) == 4
    for number in range(4):
        assert store.shard_digest(base, number) == keys.of_rows(store.read_shard(base, number))


READING = {"campaign/factors.py", "campaign/plan.py", "campaign/campaign.py"}
"""Of the campaign, which has been read."""

SPELLING = {("campaign/text/dimensions.py", name) for name in ("NUMBER", "UNIT_NAMES")}
"""How files write numbers: what was read differs wherever these do."""


def sources_at_work(chosen):
    """The sources of the program that a flight runs through."""
    shards = plan_shards(len(lay_out(chosen)), len(list_conditions(chosen)), 1)
    ran = set()

    def note(frame, event, argument):
        ran.add(frame.f_code.co_filename)

    sys.setprofile(note)
    try:
        for piece in flights.cut_pieces(chosen, lay_out(chosen), list_conditions(chosen), shards):
            flights.fly(piece.fleet, piece.blocks)
    finally:
        sys.setprofile(None)
    return {Path(each).relative_to(SWEEP).as_posix() for each in ran if each.startswith(str(SWEEP))}


def imported(source):
    """Each name that a source imports from the program as it runs: the source of its module, and what it is."""
    found = {}
    for node in ast.walk(ast.parse((SWEEP / source).read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "sweep":
            module = importlib.import_module(node.module)
            for name in node.names:
                value = getattr(module, name.name)
                home = value if inspect.ismodule(value) else module
                found[name.asname or name.name] = (Path(home.__file__).relative_to(SWEEP).as_posix(), value)
    return found


FAULTY = SMALL.replace("  replicates: 2\nflight", "  faults: [{{tolerance: {{body.mass: 1.1}}}}]\n  replicates: 2\nflight")
UNKNOWN = SMALL.replace("limits:", "unknowns: {{wake.strength: +- 25 %}}\nlimits:", 1)


@pytest.mark.parametrize("text", [SMALL, FAULTY, UNKNOWN], ids=["sound", "faulty", "unknown"])
def test_all_that_a_flight_runs_through_counts(tmp_path, text):
    """From a campaign that has been read to its rows: no function of the program at work is in a source that does not count."""
    counted = {path.relative_to(SWEEP).as_posix() for path in files_of(digests.FLIGHT)}
    ran = sources_at_work(campaign(tmp_path, text))
    assert {
        "flying/flights.py",
        "flying/packing.py",
        "campaign/designs.py",
        "campaign/named_seas.py",
        "model/pack/fleet.py",
    } <= ran
    assert ran - counted - READING == set()


def test_all_that_counts_takes_its_numbers_from_what_counts():
    """A number that a counted source imports would change flights unseen, if the source that has it did not count."""
    counted = {path.relative_to(SWEEP).as_posix() for path in files_of(digests.FLIGHT)}
    taken = {
        (source, name)
        for source in counted
        for name, (home, value) in imported(source).items()
        if home not in counted and not callable(value) and not inspect.ismodule(value)
    }
    assert taken == SPELLING


def test_a_number_from_elsewhere_is_found():
    found = imported("preflight/first_runs.py")
    assert found["LANES"][0] == "model/compiled.py"
    assert found["LANES"][1] == 32


@pytest.mark.usefixtures("unpublished")
def test_another_version_s_flights_are_ranked_and_that_is_said(folder, capsys, monkeypatch, tmp_path):
    before = sweep.load_results(folder).standings
    for module in (fingerprint, identity):
        monkeypatch.setattr(module, "flight_digest", lambda: "another")
    assert cli.main(["rank", str(folder)]) == 0
    assert "flown by another craft model than this program has (version" in capsys.readouterr().err
    pd.testing.assert_frame_equal(sweep.load_results(folder).standings, before)
    with pytest.raises(store.ChangedCampaignError, match="was flown by another version of the program"):
        sweep.run(campaign(tmp_path), folder)


def test_workers_compare_the_digest_of_the_kernel_alone(monkeypatch, tmp_path):
    """What packs the crafts is here: a worker with the same kernel may have another. One with another kernel flies nothing."""
    chosen = campaign(tmp_path)
    piece = next(flights.cut_pieces(chosen, lay_out(chosen), list_conditions(chosen), plan_shards(2, 1, 1)))
    monkeypatch.setattr(fingerprint, "flight_digest", lambda: "another")
    assert flights._do(piece, flight_digest())[0] == piece.shards
    monkeypatch.setattr(flights, "flight_digest", lambda: "another")
    with pytest.raises(StoreError, match="has another version of the model: install the same one there"):
        flights._do(piece, flight_digest())


RACE = (
    SMALL.replace("replicates: 2\nflight", "replicates: 8\nflight").replace(
        "[16 cm, 20 cm]", "{{from: 14 cm, to: 22 cm, levels: 8}}"
    )
    + "budget: {{simulated: 500 s}}\n"
)


@pytest.mark.usefixtures("unpublished", "undoubted")
def test_in_a_race_an_edited_score_ranks_what_was_flown_and_says_who_dropped_out(tmp_path, capsys):
    folder = tmp_path / "results"
    before = sweep.run(campaign(tmp_path, RACE.replace("replicates: 2}}", "replicates: 0}}")), folder)
    gone = before.dropped["design"].tolist()
    assert len(gone) > 3
    edit(folder, "scale: 1 cm", "scale: 3 mm")
    assert cli.main(["rank", str(folder)]) == 0
    told = capsys.readouterr().err
    assert "This race was flown by another score or other limits" in told
    assert f"({', '.join(map(str, gone[:3]))}" in told
    assert f"`foilsweep run {folder}` flies the race by today's" in told
    after = sweep.load_results(folder)
    assert after.standings["score"].iloc[0] > before.standings["score"].iloc[0]
    pd.testing.assert_frame_equal(after.flights, before.flights)
    edit(folder, "simulated: 500 s", "simulated: 600 s")
    with pytest.raises(store.ChangedCampaignError, match=r"budget\.simulated: was 500\.0, is 600\.0"):
        sweep.rank(folder)
    assert cli.main(["run", str(folder)]) == 0
    assert "are kept from an earlier campaign" in capsys.readouterr().err
    assert "This race was flown by another" not in sweep_said(folder)


def sweep_said(folder):
    results = sweep.load_results(folder)
    return " ".join(identity.cautions(folder, results.manifest, results.campaign, results.dropped))


def test_a_race_takes_no_shard_of_another_heat(tmp_path):
    """Two shards of a race that have changed places: each is known to be another's, and flown again."""
    from sweep.results.claim import begin

    chosen = campaign(tmp_path, RACE)
    designs, conditions, folder = lay_out(chosen), list_conditions(chosen), tmp_path / "results"
    folder.mkdir()
    begin(folder, chosen, designs, conditions)
    fly_designs(Work(chosen, designs, conditions, 1), folder, 0.0)
    before = {path.name: path.read_bytes() for path in (folder / "flights").glob("part-*.parquet")}
    sums = folder / "flights" / "SHA256SUMS"
    names = sorted(before)[0], sorted(before)[-1]
    sums.write_text(sums.read_text().replace(names[0], "x").replace(names[1], names[0]).replace("x\n", f"{names[1]}\n"))
    for name, content_of in zip(names, reversed(names), strict=True):
        (folder / "flights" / name).write_bytes(before[content_of])
    fly_designs(Work(chosen, designs, conditions, 1), folder, 0.0)
    assert {path.name: path.read_bytes() for path in (folder / "flights").glob("part-*.parquet")} == before


def test_rows_that_left_the_numbers_are_none(tmp_path, monkeypatch):
    """A ratio over nothing is no number of a flight."""
    chosen = campaign(tmp_path)
    fly = flights.fly
    monkeypatch.setattr(
        flights, "fly", lambda *asked: fly(*asked)._replace(responses=np.full((5, len(flights.RESPONSE_NAMES)), np.inf))
    )
    ((_, rows),) = list(fly_shards(Work(chosen, lay_out(chosen), list_conditions(chosen), 1), plan_shards(5, 1, 1)))
    assert rows[list(flights.RESPONSE_NAMES)].isna().all(axis=None)


@pytest.mark.parametrize(
    "change",
    [
        lambda table: table.head(0),
        lambda table: table.iloc[1:],
        lambda table: pd.concat([table, table.head(1)]),
        lambda table: table.assign(score=[np.nan, *table["score"][1:]]),
    ],
    ids=["none", "one less", "one twice", "no score"],
)
def test_standings_that_have_not_every_design_once_are_refused(folder, change):
    path = folder / "standings.parquet"
    table, made_from = store.from_parquet(path), store.made_of(folder, "standings")
    store.write_table(folder, "standings", change(table), made_from)
    with pytest.raises(StoreError, match=r"not every one of the \d+ designs once, with a score.+foilsweep rank"):
        sweep.load_results(folder)
    sweep.rank(folder)
    assert len(sweep.load_results(folder).standings) == len(table)


def test_a_design_that_a_race_left_out_unflown_needs_no_score(folder):
    """Such as one that is unstable as it is."""
    table, made_from = store.from_parquet(folder / "standings.parquet"), store.made_of(folder, "standings")
    unflown = table["design"] == 1
    left_out = table.assign(score=table["score"].mask(unflown), flights=table["flights"].mask(unflown, 0))
    store.write_table(folder, "standings", left_out, made_from)
    assert sweep.load_results(folder).standings["score"].isna().sum() == 1


def test_a_refusal_says_whose_flights_they_are_and_both_ways_out(tmp_path):
    """Flights of unlike models are never compared: neither the old with the new ones nor the other way round."""
    before = Manifest(
        name="",
        designs=2,
        conditions=1,
        replicates=1,
        runs=(),
        content={},
        versions={"foilsweep": "0.0.9"},
        started="2020-01-02T03:04:05+00:00",
        finished=None,
    )
    assert str(claim._refusal(tmp_path, [fingerprint.CHANGED["model"]], before)) == (
        f"{tmp_path} was flown by another version of the program (0.0.9; this is {sweep.__version__}) with another craft "
        "model: none of those flights may stand beside new ones. Nothing was flown or changed.\n"
        "Fly the campaign into another folder with --out, or go on here with the version that flew it."
    )
    several = str(claim._refusal(tmp_path, ["flight.length: was 4.0, is 5.0", fingerprint.CHANGED["model"]], before))
    assert several.splitlines() == [
        f"{tmp_path} holds flights of another campaign, none of which this one can keep; nothing was flown or changed. What "
        "differs:",
        "  flight.length: was 4.0, is 5.0",
        "  the craft model: this is another version of the program, and its flights may not stand beside the old ones",
        "Fly this campaign into another folder with --out, or delete that folder and fly everything again.",
    ]


def test_flights_that_are_damaged_or_missing_are_told_with_what_flies_them(folder):
    """Twenty flights; the first shard is spoilt, then gone: `run` flies it again, neither reading nor ranking invents it."""
    assert rank_folder.rank_results(folder)[1], "the folder takes the new tables"
    shard = sorted((folder / "flights").glob("part-*.parquet"))[0]
    lost = len(pd.read_parquet(shard))
    shard.write_bytes(shard.read_bytes()[:-7])
    with pytest.raises(StoreError) as refusal:
        sweep.load_results(folder)
    assert str(refusal.value) == f"{shard}: is damaged. `foilsweep run` with its campaign flies it again."
    shard.unlink()
    with pytest.raises(StoreError) as refusal:
        sweep.rank(folder)
    assert str(refusal.value) == f"{folder}: {lost} flights are missing. `foilsweep run` with its campaign flies them."

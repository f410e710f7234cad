import dataclasses
import errno
import hashlib
import json
import math
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from sweep.campaign.campaign import load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out
from sweep.campaign.flight import Flight
from sweep.model.quantities import RESPONSE_NAMES
from sweep.results import fingerprint, lock, shards, store
from sweep.results.claim import begin as begin_folder
from sweep.results.fingerprint import Keys
from sweep.results.manifest import read_manifest, write_manifest

ROOT = Path(__file__).parents[2]
QUICK = ROOT / "configs" / "quick.yaml"


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "flights").mkdir()
    return tmp_path


def rows(first, count=3):
    table = pd.DataFrame(0.0, index=range(count), columns=["design", "condition", "replicate", "status", *RESPONSE_NAMES])
    whole = table.astype(dict.fromkeys(("design", "condition", "replicate", "status"), int))
    return whole.assign(design=range(first, first + count), pitch_rms=[0.1 * row for row in range(count)])


def part(folder, number):
    return folder / "flights" / f"part-{number:05d}.parquet"


def begin(folder, **changes):
    campaign = load_campaign(QUICK).model_copy(update=changes)
    return begin_folder(folder, campaign, lay_out(campaign), list_conditions(campaign))


def test_a_file_is_written_whole_or_not_at_all(tmp_path, monkeypatch):
    """A disk that fills up while the second version is written leaves the first one, and nothing else."""
    path = tmp_path / "table"
    store.write_whole(path, b"first")

    def full(handle):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(store.StoreError, match=r"No space left on device\)\. What has been flown is kept"):
        store.write_whole(path, b"second")
    assert path.read_bytes() == b"first"
    assert list(tmp_path.iterdir()) == [path]


def test_the_file_is_on_the_disk_before_it_has_its_name(tmp_path, monkeypatch):
    order = []

    def noted(name, call):
        return lambda *arguments, **options: (order.append(name), call(*arguments, **options))

    for name in ("fsync", "replace"):
        monkeypatch.setattr(os, name, noted(name, getattr(os, name)))
    store.write_whole(tmp_path / "table", b"bytes")
    assert order == ["fsync", "replace", "fsync"]


def test_shards_come_back_in_the_order_of_their_numbers(folder):
    for number in (2, 0, 1):
        store.add_shard(folder, number, rows(3 * number))
    assert store.sound_shards(folder) == ({0, 1, 2}, {})
    assert store.read_flights(folder)["design"].tolist() == list(range(9))
    assert list(store.read_flights(folder, ["pitch_rms"]).columns) == ["pitch_rms"]


@pytest.mark.skipif(not Path("/proc/self/task").is_dir(), reason="this system does not list threads")
@pytest.mark.parametrize("most", [0, 6])
def test_few_flights_are_read_once_and_many_as_often_as_they_are_asked_for(tmp_path, monkeypatch, most):
    """Either way the same rows come of it."""
    folder = tmp_path
    begin(folder)
    for number in (0, 1):
        store.add_shard(folder, number, rows(3 * number))
    monkeypatch.setattr("sweep.results.store.MOST_HELD", most)
    monkeypatch.setattr("sweep.results.shards.MOST_HELD", most)
    read: list[Path] = []
    monkeypatch.setattr(shards, "from_parquet", lambda path, *rest: read.append(path) or store.from_parquet(path, *rest))
    whole = store.read_flights(folder)
    nothing = pd.DataFrame()
    results = store.Results(
        campaign=load_campaign(QUICK),
        designs=nothing,
        conditions=nothing,
        flights=folder,
        standings=nothing,
        limits=nothing,
        leaders={},
        manifest=read_manifest(folder),
    )
    for design in (0, 4):
        expected = whole[whole["design"] == design].reset_index(drop=True)
        pd.testing.assert_frame_equal(results.flights_of(design), expected)
    pd.testing.assert_series_equal(results.column("pitch_rms"), whole["pitch_rms"])
    columns = store.shards_reader(folder)
    for name in ("pitch_rms", "status"):
        told = pd.concat(columns(["design", name]), ignore_index=True)
        pd.testing.assert_frame_equal(told, whole[["design", name]])
    assert len(read) == 2 * (1 if most else 1 + 3 + 2), "whoever asks next is given what was read"


def test_what_is_held_of_a_folder_is_what_its_files_are(folder):
    """A shard that was added, changed or torn since is read anew, and whoever changes a table changes his own."""
    for number in range(3):
        store.add_shard(folder, number, rows(number))
    whole = store.read_flights(folder)
    whole["pitch_rms"] = -1.0
    assert (store.read_flights(folder)["pitch_rms"] != -1.0).all()
    store.add_shard(folder, 3, rows(3))
    assert len(store.read_flights(folder)) == len(whole) + len(rows(3)) == store.count_flights(folder)
    store.add_shard(folder, 1, rows(7))
    assert set(store.read_flights(folder)["design"]) == set(pd.concat(map(rows, (0, 7, 2, 3)))["design"])
    assert store.unsound_shards(folder, None) == {}
    content = bytearray(part(folder, 2).read_bytes())
    content[len(content) // 2] ^= 1
    part(folder, 2).write_bytes(bytes(content))
    assert store.unsound_shards(folder, None) == {"part-00002.parquet": "damaged"}


def test_reading_the_flights_of_a_design_starts_no_thread(folder):
    """A thread that is being started when a process is killed for want of memory keeps it from ending."""
    for number in range(3):
        store.add_shard(folder, number, rows(number))
    code = (
        "import os, sys; from pathlib import Path; from sweep.results import store\n"
        "before = len(os.listdir('/proc/self/task'))\n"
        "found = store.read_flights(Path(sys.argv[1]), ['design', 'pitch_rms'], 2)\n"
        "print(len(os.listdir('/proc/self/task')) - before, found['design'].tolist())"
    )
    told = subprocess.run([sys.executable, "-c", code, str(folder)], capture_output=True, text=True, check=True, cwd=ROOT)
    assert told.stdout == "0 [2, 2, 2]\n"


def test_the_same_rows_give_the_same_bytes(folder):
    store.add_shard(folder, 0, rows(0))
    store.add_shard(folder, 1, rows(0))
    assert part(folder, 0).read_bytes() == part(folder, 1).read_bytes()


def test_checksums_are_those_of_sha256sum(folder):
    store.add_shard(folder, 0, rows(0))
    line = f"{hashlib.sha256(part(folder, 0).read_bytes()).hexdigest()}  part-00000.parquet\n"
    assert (folder / "flights" / "SHA256SUMS").read_text() == line


def truncated(path):
    path.write_bytes(path.read_bytes()[:-7])


def flipped(path):
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)


@pytest.mark.parametrize("damage", [truncated, flipped])
def test_a_damaged_shard_is_set_aside(folder, damage):
    for number in range(3):
        store.add_shard(folder, number, rows(number))
    damage(part(folder, 1))
    assert store.sound_shards(folder) == ({0, 2}, {"part-00001.parquet": "damaged"})
    assert part(folder, 1).with_suffix(".parquet.torn").exists()
    assert store.sound_shards(folder) == ({0, 2}, {})
    store.add_shard(folder, 1, rows(1))
    assert store.sound_shards(folder) == ({0, 1, 2}, {})


def test_a_shard_that_is_gone_is_not_there(folder):
    store.add_shard(folder, 0, rows(0))
    part(folder, 0).unlink()
    assert store.sound_shards(folder) == (set(), {})


def test_a_shard_without_its_line_is_flown_again(folder):
    """The program died between the rows and their checksum."""
    store.add_shard(folder, 0, rows(0))
    part(folder, 1).write_bytes(part(folder, 0).read_bytes())
    assert store.sound_shards(folder) == ({0}, {})
    assert len(store.read_flights(folder)) == 3


def test_a_line_that_was_cut_off_does_not_spoil_the_next(folder):
    for number in range(2):
        store.add_shard(folder, number, rows(number))
    truncated(folder / "flights" / "SHA256SUMS")
    assert store.sound_shards(folder) == ({0}, {})
    store.add_shard(folder, 1, rows(1))
    assert store.sound_shards(folder) == ({0, 1}, {})


def test_no_flights_yet_is_said(folder):
    with pytest.raises(store.StoreError, match="no flight has been flown"):
        store.read_flights(folder)


def test_a_second_run_is_refused_and_told_who_has_the_folder(folder):
    with (
        store.locked(folder),
        pytest.raises(store.StoreError, match=f"in use by process {os.getpid()} on "),
        store.locked(folder),
    ):
        pass
    with store.locked(folder):
        pass


def test_a_folder_that_takes_no_lock_is_told(folder, monkeypatch):
    with (
        pytest.raises(store.StoreError, match=r"cannot be written to \(No such file"),
        store.locked(folder / "gone"),
    ):
        pytest.fail("there is no such folder")

    def unknown(handle):
        raise OSError(errno.ENOLCK, "No locks available")

    monkeypatch.setattr(lock, "_grab", unknown)
    with pytest.raises(store.StoreError, match="its disk knows no locks"), store.locked(folder):
        pytest.fail("it was locked")


def test_a_full_disk_is_locked_without_a_name(folder, monkeypatch):
    def full(handle, content):
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(os, "write", full)
        with store.locked(folder), pytest.raises(store.StoreError, match="in use by another run"), store.locked(folder):
            pytest.fail("it was locked twice")


def test_the_lock_of_a_killed_run_does_not_stand_in_the_way(folder):
    code = "import sys, time; from pathlib import Path; from sweep.results.store import locked\n"
    code += "with locked(Path(sys.argv[1])): print('held', flush=True); time.sleep(60)"
    with subprocess.Popen([sys.executable, "-c", code, folder], cwd=ROOT, stdout=subprocess.PIPE, text=True) as other:
        assert other.stdout.readline() == "held\n"
        with pytest.raises(store.StoreError, match=f"process {other.pid} on"), store.locked(folder):
            pass
        other.send_signal(signal.SIGKILL)
    with store.locked(folder):
        pass


def test_the_same_campaign_goes_on(tmp_path):
    begin(tmp_path)
    started = read_manifest(tmp_path).started
    begin(tmp_path)
    assert read_manifest(tmp_path).started == started


def test_prices_and_names_may_change(tmp_path):
    begin(tmp_path)
    craft = load_campaign(QUICK).craft
    foils = {name: foil.model_copy(update={"price": 12.5}) for name, foil in craft.foils.items()}
    begin(tmp_path, craft=craft.model_copy(update={"name": "Another", "foils": foils}))
    heavier = {name: foil.model_copy(update={"density": 2000.0}) for name, foil in foils.items()}
    with pytest.raises(store.ChangedCampaignError, match=r"craft\.foils\.aft\.density: was 1250 kg/m\^3, is 2000 kg/m\^3"):
        begin(tmp_path, craft=craft.model_copy(update={"foils": heavier}))


def test_scores_limits_and_title_may_change(tmp_path):
    begin(tmp_path)
    begin(tmp_path, title="Another title", limits={}, score={}, campaign_text="title: Another title")
    assert (tmp_path / "campaign.yaml").read_text() == "title: Another title"


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"flight": Flight(length="13 s", settle="3 s", seed=1)}, "flight.length: was 12 s, is 13 s"),
        ({"speeds": (5.0,)}, "speeds: was [4.0], is [5.0]"),
    ],
)
def test_another_campaign_is_refused_and_the_difference_named(tmp_path, changes, named):
    begin(tmp_path)
    before = {path: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()}
    with pytest.raises(store.ChangedCampaignError) as refusal:
        begin(tmp_path, **changes)
    assert named in str(refusal.value)
    assert "--out" in str(refusal.value)
    assert "delete" in str(refusal.value)
    assert {path: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()} == before


def test_another_model_is_refused(tmp_path, monkeypatch):
    begin(tmp_path)
    monkeypatch.setattr(fingerprint, "flight_digest", lambda: "another")
    with pytest.raises(store.ChangedCampaignError, match=r"another version of the program \(.*; this is ") as refusal:
        begin(tmp_path)
    assert "another campaign" not in str(refusal.value)


def test_another_version_with_the_same_model_goes_on_and_says_so(tmp_path):
    said = begin(tmp_path)
    assert said == begin(tmp_path) == []
    manifest = read_manifest(tmp_path)
    versions = {**manifest.versions, "foilsweep": "0.0.9", "numba": "0.62.0"}
    machine = dataclasses.replace(manifest.machine, kind="loom")
    write_manifest(tmp_path, dataclasses.replace(manifest, versions=versions, machine=machine))
    (told,) = begin(tmp_path)
    assert "flown with foilsweep 0.0.9 (now " in told
    assert "numba 0.62.0 (now " in told
    assert "a processor of kind loom (now " in told
    assert "its flights stay" in told
    assert begin(tmp_path) == []


def test_a_folder_of_something_else_is_left_alone(tmp_path):
    (tmp_path / "letter.txt").write_text("dear")
    with pytest.raises(store.StoreError, match="not a results folder"):
        begin(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


def test_what_is_no_results_folder_is_said(tmp_path):
    with pytest.raises(store.StoreError, match=r"no manifest\.json"):
        store.load_results(tmp_path)
    (tmp_path / "manifest.json").write_text("{")
    with pytest.raises(store.StoreError, match="cannot be read"):
        store.load_results(tmp_path)


def test_times_stand_in_the_manifest_alone(tmp_path, monkeypatch):
    """Two runs a day apart leave the same bytes everywhere else."""
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        monkeypatch.setattr("sweep.results.manifest.now", lambda name=name: f"on day {name}")
        begin(tmp_path / name)
        time.sleep(0.01)
    one, two = (
        {path.name: path.read_bytes() for path in (tmp_path / name).iterdir() if path.is_file()} for name in ("one", "two")
    )
    assert {name for name in one if one[name] != two[name]} == {"manifest.json"}


def test_leaders_that_lead_no_more_are_removed(tmp_path):
    store.write_leaders(tmp_path, {3: rows(0), 0: rows(0)})
    store.write_leaders(tmp_path, {5: rows(0), 0: rows(0)})
    assert sorted(path.name for path in (tmp_path / "leaders").iterdir()) == ["design-0.parquet", "design-5.parquet"]


def test_a_table_with_any_byte_destroyed_is_read_or_refused_in_words(tmp_path):
    """Found by the command `faults`: a footer that was torn ended in a traceback."""
    store.write_table(tmp_path, "table", rows(0))
    path = tmp_path / "table.parquet"
    sound, refused = path.read_bytes(), 0
    for place in range(0, len(sound), 61):
        path.write_bytes(sound[:place] + bytes([sound[place] ^ 0x1F]) + sound[place + 1 :])
        try:
            store.read_table(tmp_path, "table")
        except store.StoreError as error:
            refused += "table.parquet: cannot be read (" in str(error)
    assert refused > 10


def notes_with(**changed):
    """What pandas keeps in a footer, of a table of a place and a score, with some of it changed."""
    plain = {"name": "score", "field_name": "score", "pandas_type": "float64", "numpy_type": "float64", "metadata": None}
    return json.dumps({"index_columns": [], "column_indexes": [], "columns": [plain | changed], "pandas_version": "2"}).encode()


@pytest.mark.parametrize(
    "notes",
    [
        b"{",
        b"3",
        b"\xff",
        b"[" * 100_000,
        b'{"index_columns": [], "column_indexes": [], "columns": "abc"}',
        b'{"index_columns": [], "column_indexes": [], "columns": [null]}',
        notes_with(numpy_type="interval"),
        notes_with(numpy_type="datetime64[ns, x]"),
        notes_with(numpy_type=3),
    ],
)
def test_a_footer_that_tells_nonsense_of_its_columns_is_refused_in_words(tmp_path, notes):
    table = pa.table({"score": [1.0, 2.0]}).replace_schema_metadata({b"pandas": notes})
    pq.write_table(table, tmp_path / "table.parquet")
    with pytest.raises(store.StoreError, match=r"table\.parquet: cannot be read \(.+`foilsweep run` makes it again"):
        store.read_table(tmp_path, "table")


def test_a_footer_that_counts_its_rows_otherwise_changes_nothing(tmp_path):
    count = {"kind": "range", "name": None, "start": 5, "stop": 9, "step": 2}
    notes = json.dumps({"index_columns": [count], "column_indexes": [], "columns": [], "pandas_version": "2"}).encode()
    pq.write_table(pa.table({"score": [1.0, 2.0]}).replace_schema_metadata({b"pandas": notes}), tmp_path / "table.parquet")
    assert store.read_table(tmp_path, "table").index.tolist() == [0, 1]


def test_two_columns_of_one_name_are_refused(tmp_path):
    doubled = pa.Table.from_arrays([pa.array([1.0]), pa.array([2.0])], names=["score", "score"])
    pq.write_table(doubled, tmp_path / "table.parquet")
    with pytest.raises(store.StoreError, match=r"cannot be read .two columns are called score"):
        store.read_table(tmp_path, "table")


def test_a_shard_of_a_condition_without_end_is_none_of_these_flights(tmp_path):
    path = tmp_path / "part-00000.parquet"
    path.write_bytes(store.as_parquet(pd.DataFrame({"design": [0], "condition": [math.inf], "replicate": [0]})))
    assert not store.is_of(path, Keys("s", ["a"], ["b"]))

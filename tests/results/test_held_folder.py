"""A run is bound to the folder that it began with: whatever takes its place in mid-run is not written into."""

import contextlib
import os
import shutil

import pytest

from sweep import cli, workflow
from sweep.flying import follow_up
from sweep.report import publishing
from sweep.results import held_folder, store
from sweep.results.held_folder import MovedFolderError
from sweep.results.plain_files import open_to_append, write_whole
from tests.test_workflow import CRAFT, SMALL, campaign, contents


def moved(folder):
    os.rename(folder, folder.with_name("moved"))


def replaced(folder):
    """Another campaign's results come into its place."""
    moved(folder)
    shutil.copytree(folder.with_name("stranger"), folder)


def linked(folder):
    moved(folder)
    folder.symlink_to(folder.with_name("stranger"))


def emptied(folder):
    moved(folder)
    folder.mkdir()


def a_file(folder):
    moved(folder)
    folder.write_text("dear")


WAYS = (moved, replaced, linked, emptied, a_file)


@pytest.fixture
def stranger(tmp_path):
    """Something of somebody else."""
    (tmp_path / "stranger" / "flights").mkdir(parents=True)
    for name in ("manifest.json", "flights/SHA256SUMS", "flights/part-00000.parquet"):
        (tmp_path / "stranger" / name).write_bytes(b"somebody's")
    return tmp_path / "stranger"


def everything(folder):
    if folder.is_file():
        return folder.read_bytes()
    return {str(path.relative_to(folder)): path.is_file() and path.read_bytes() for path in sorted(folder.rglob("*"))}


@pytest.mark.usefixtures("stranger")
@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("below", ["", "flights"])
def test_nothing_is_written_into_what_takes_a_folder_s_place(tmp_path, way, below):
    folder = tmp_path / "run"
    (folder / "flights").mkdir(parents=True)
    holding = contextlib.ExitStack()
    holding.enter_context(held_folder.held(folder))
    write_whole(folder / below / "table", b"first")
    way(folder)
    before = everything(folder) if folder.exists() else None
    for write in (lambda path: write_whole(path, b"second"), open_to_append):
        with pytest.raises(MovedFolderError, match="was moved away or replaced while this ran"):
            write(folder / below / "table")
    with pytest.raises(MovedFolderError):
        holding.close()
    assert (everything(folder) if folder.exists() else None) == before
    assert (tmp_path / "moved" / below / "table").read_bytes() == b"first"
    assert [path.name for path in (tmp_path / "moved" / below).iterdir() if path.is_file()] == ["table"]


def test_a_folder_that_is_replaced_while_a_file_is_written_does_not_get_it(tmp_path, monkeypatch):
    folder, fsync = tmp_path / "run", os.fsync
    folder.mkdir()

    def move(handle):
        monkeypatch.setattr(os, "fsync", fsync)
        fsync(handle)
        emptied(folder)

    monkeypatch.setattr(os, "fsync", move)
    with pytest.raises(MovedFolderError), held_folder.held(folder):
        write_whole(folder / "table", b"first")
    assert not list(folder.iterdir())
    assert not list((tmp_path / "moved").iterdir())


def test_a_folder_that_is_moved_back_or_that_nobody_holds_is_written_to(tmp_path):
    folder = tmp_path / "run"
    folder.mkdir()
    with held_folder.held(folder):
        moved(folder)
        os.rename(tmp_path / "moved", folder)
        write_whole(folder / "table", b"first")
    emptied(folder)
    write_whole(folder / "table", b"second")
    assert (tmp_path / "moved" / "table").read_bytes() == b"first"
    assert (folder / "table").read_bytes() == b"second"


@pytest.mark.usefixtures("undoubted")
@pytest.mark.parametrize("step", ["add_shard", "rank_folder", "record_flights", "map_rides", "try_changes", "publish_locked"])
@pytest.mark.parametrize("way", [moved, replaced])
def test_a_run_whose_folder_is_taken_away_stops_and_says_so(tmp_path, monkeypatch, capsys, stranger, base, step, way):
    """At any of its steps; moved back, the same command goes on to the same bytes."""
    path, folder, once = tmp_path / "small.yaml", tmp_path / "results", []
    path.write_text(SMALL.format(craft=CRAFT))
    place = {"add_shard": store, "publish_locked": publishing, "rank_folder": workflow}.get(step, follow_up)
    act = (lambda folder: folder / "site") if step == "publish_locked" else getattr(place, step)

    def take_away(*asked, **named):
        if not once:
            once.append(True)
            way(folder)
        return act(*asked, **named)

    if step != "publish_locked":
        monkeypatch.setattr("sweep.report.publishing.publish_locked", lambda folder: folder / "site")
    monkeypatch.setattr(place, step, take_away)
    assert cli.main(["run", str(path), "--out", str(folder)]) == 1
    assert f"{folder} was moved away or replaced while this ran. It stopped" in capsys.readouterr().err
    if way is replaced:
        assert everything(folder) == everything(stranger)
        shutil.rmtree(folder)
    assert not folder.exists()
    os.rename(tmp_path / "moved", folder)
    assert cli.main(["run", str(path), "--out", str(folder)]) == 0
    assert contents(folder) == contents(base)


@pytest.mark.usefixtures("unpublished")
def test_a_copy_that_is_made_in_mid_run_goes_on_by_itself(tmp_path, monkeypatch):
    chosen, folder, add, copies = campaign(tmp_path), tmp_path / "results", store.add_shard, []

    def copy(*asked):
        add(*asked)
        copies.append(tmp_path / f"copy-{len(copies)}")
        shutil.copytree(folder, copies[-1])

    monkeypatch.setattr(store, "add_shard", copy)
    workflow.run(chosen, folder)
    monkeypatch.setattr(store, "add_shard", add)
    assert len(copies) == 4
    for each in (copies[0], copies[-1]):
        workflow.run(chosen, each)
        assert contents(each) == contents(folder)

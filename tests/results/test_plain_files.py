"""Nothing outside a results folder is touched, whatever its files are: links, pipes, devices, files of a terabyte."""

from __future__ import annotations

import os
import shutil
import socket
import stat
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pandas as pd
import pytest

from sweep import cli
from sweep.results import atomic_files, form_check, plain_files, reuse, store
from sweep.results.manifest import read_manifest
from sweep.results.plain_files import StoreError
from tests.results.test_partial import stopped
from tests.site_results import results

ROOT = Path(__file__).parents[2]
QUICK = ROOT / "configs" / "quick.yaml"
OUTSIDE = b"a letter that is nobody's business"


@pytest.fixture
def letter(tmp_path: Path) -> Iterator[Path]:
    """A file outside the folder, which must stay as it is."""
    path = tmp_path / "letter"
    path.write_bytes(OUTSIDE)
    before = path.stat()
    yield path
    after = path.stat()
    assert path.read_bytes() == OUTSIDE
    assert (after.st_mtime_ns, after.st_ino, after.st_nlink, after.st_mode) == (
        before.st_mtime_ns,
        before.st_ino,
        before.st_nlink,
        before.st_mode,
    )


@pytest.fixture(scope="module")
def half(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The results of a run that was stopped."""
    place = tmp_path_factory.mktemp("stopped")
    return stopped(results(place), place / "results", [(0, 0), (1, 0)])


@pytest.fixture
def folder(half: Path, tmp_path: Path) -> Path:
    """A copy of them, to be changed."""
    return Path(shutil.copytree(half, tmp_path / "results"))


def link(path: Path, letter: Path) -> None:
    path.symlink_to(letter)


def pipe(path: Path, letter: Path) -> None:
    os.mkfifo(path)


def plug(path: Path, letter: Path) -> None:
    with socket.socket(socket.AF_UNIX) as end:
        end.bind(os.path.relpath(path))


def device(path: Path, letter: Path) -> None:
    try:
        os.mknod(path, stat.S_IFCHR | 0o600, os.makedev(1, 5))
    except PermissionError:
        pytest.skip("needs root")


def huge(path: Path, letter: Path) -> None:
    with open(path, "wb") as file:
        file.truncate(10**12)


PLACES = (".lock", "manifest.json", "campaign.yaml", "designs.parquet", "flights/SHA256SUMS", "flights/part-00000.parquet")
KINDS = {
    "a link": link,
    "a named pipe": pipe,
    "a socket": plug,
    "a device or another special file": device,
    "a file of 1 000 000 MB": huge,
}


@pytest.mark.usefixtures("undoubted")
@pytest.mark.parametrize("name", PLACES)
@pytest.mark.parametrize("kind", KINDS)
def test_every_command_refuses_what_is_no_file(
    folder: Path, letter: Path, name: str, kind: str, capfd: pytest.CaptureFixture[str]
) -> None:
    (folder / name).unlink(missing_ok=True)
    KINDS[kind](folder / name, letter)
    before = sorted(path.name for path in folder.rglob("*"))
    for command in (["rank", str(folder)], ["publish", str(folder)], ["run", str(QUICK), "--out", str(folder)]):
        assert cli.main(command) == cli.FAILED
        assert f"{folder / name}: {kind}, which no run leaves" in capfd.readouterr().err
    with pytest.raises(StoreError, match="which no run leaves"):
        store.load_results(folder)
    with pytest.raises(StoreError, match="which no run leaves"):
        form_check.check_forms(folder)
    assert sorted(path.name for path in folder.rglob("*")) == before


@pytest.mark.parametrize("name", ["flights", "leaders", "earlier", "polars", "anything"])
def test_a_folder_in_it_that_is_a_link_is_refused(folder: Path, tmp_path: Path, name: str) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    if (folder / name).exists():
        (folder / name).rename(tmp_path / "aside")
    (folder / name).symlink_to(elsewhere)
    with pytest.raises(StoreError, match=rf"{name}: a link, which no run leaves"), store.locked(folder):
        pytest.fail("it was locked")
    assert not list(elsewhere.iterdir())


def test_the_folder_itself_may_be_a_link(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "shortcut").symlink_to(folder)
    with store.locked(tmp_path / "shortcut"):
        assert (folder / ".lock").read_text().startswith("process")


@pytest.mark.parametrize("name", [".lock", "flights/SHA256SUMS"])
def test_a_second_name_of_a_file_elsewhere_is_not_written_to(folder: Path, tmp_path: Path, name: str) -> None:
    """A hard link looks like any file. A rename leaves the other name as it was, but a run appends to these two."""
    letter = tmp_path / "letter"
    letter.write_bytes(OUTSIDE)
    (folder / name).unlink(missing_ok=True)
    (folder / name).hardlink_to(letter)
    with pytest.raises(StoreError, match="a hard link"), store.locked(folder):
        store.add_shard(folder, 7, pd.DataFrame({"design": [1], "condition": [0], "replicate": [0]}))
    assert letter.read_bytes() == OUTSIDE


def test_no_reader_or_writer_follows_a_link_that_comes_late(folder: Path, letter: Path) -> None:
    """After a folder was looked through, somebody may still put links there."""
    for name in ("manifest.json", "designs.parquet", "logs.json", "flights/keys.json", "flights/part-00009.parquet"):
        (folder / name).unlink(missing_ok=True)
        (folder / name).symlink_to(letter)
    readers = (
        lambda: plain_files.read_plain(folder / "manifest.json"),
        lambda: read_manifest(folder),
        lambda: store.read_table(folder, "designs"),
        lambda: reuse.keys_of(folder / "flights"),
        lambda: store.read_shard(folder, 9),
    )
    for reader in readers:
        with pytest.raises(StoreError, match="a link, which no run leaves"):
            reader()
    for name in ("manifest.json", "designs.parquet"):
        atomic_files.write_whole(folder / name, b"new")
        assert not (folder / name).is_symlink()
        assert (folder / name).read_bytes() == b"new"


def test_names_of_unfinished_files_cannot_be_guessed_and_are_new(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    names = []
    usual = os.open

    def watched(path: str, flags: int, *mode: int, **more: int) -> int:
        if flags & os.O_CREAT:
            names.append(Path(path).name)
            assert flags & os.O_EXCL
            assert flags & os.O_NOFOLLOW
        return usual(path, flags, *mode, **more)

    monkeypatch.setattr(os, "open", watched)
    for _ in range(20):
        atomic_files.write_whole(tmp_path / "table", b"")
    assert len(set(names)) == 20
    assert all(plain_files.UNFINISHED.fullmatch(name) for name in names)


def test_a_planted_unfinished_file_is_not_written_through(
    tmp_path: Path, letter: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("secrets.token_hex", lambda count: "0" * 16)
    (tmp_path / f".table.{'0' * 16}.unfinished").symlink_to(letter)
    with pytest.raises(StoreError, match="could not be written"):
        atomic_files.write_whole(tmp_path / "table", b"new")


def test_what_killed_runs_left_is_swept_up_and_nothing_else(folder: Path) -> None:
    left = [
        folder / f".standings.parquet.{'a' * 16}.unfinished",
        folder / "flights" / f".part-00001.parquet.{'b' * 16}.unfinished",
    ]
    kept = [folder / ".standings.unfinished", folder / f"{'a' * 16}.unfinished", folder / "notes.txt"]
    for path in (*left, *kept):
        path.write_bytes(b"")
    with store.locked(folder):
        assert not any(path.exists() for path in left)
        assert all(path.exists() for path in kept)


def test_a_file_of_ones_own_may_be_as_large_as_one_likes(folder: Path) -> None:
    with open(folder / "film.mp4", "wb") as file:
        file.truncate(10**12)
    with store.locked(folder):
        pass


def test_a_folder_of_other_things_is_left_without_a_trace(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "photos"
    (folder / ".git").mkdir(parents=True)
    (folder / "boat.jpg").write_bytes(b"\xff")
    before = {path: path.stat().st_mtime_ns for path in (folder, *folder.rglob("*"))}
    assert cli.main(["run", str(QUICK), "--out", str(folder)]) == cli.FAILED
    assert "not empty, and not a results folder" in capfd.readouterr().err
    assert {path: path.stat().st_mtime_ns for path in (folder, *folder.rglob("*"))} == before


CACHE = "from sweep.model.compiled import cache_folder; print(cache_folder())"


def cache(home: Path, temporary: Path) -> str:
    """Where a process that begins now keeps its machine code; nothing is compiled."""
    surroundings = {"HOME": str(home), "TMPDIR": str(temporary), "PATH": os.environ["PATH"]}
    told = subprocess.run([sys.executable, "-c", CACHE], capture_output=True, text=True, check=True, cwd=ROOT, env=surroundings)
    return told.stdout.strip()


@pytest.fixture
def places(tmp_path: Path) -> tuple[Path, Path]:
    """A home and a shared temporary folder, sticky as /tmp is."""
    home, temporary = tmp_path / "home", tmp_path / "tmp"
    home.mkdir()
    temporary.mkdir()
    temporary.chmod(0o1777)
    return home, temporary


def test_machine_code_is_kept_where_nobody_else_may_look(places: tuple[Path, Path]) -> None:
    home, temporary = places
    folder = Path(cache(home, temporary))
    assert folder.parent == home / ".cache" / "foilsweep"
    for path in (folder, folder.parent):
        assert stat.S_IMODE(path.stat().st_mode) == 0o700


def test_machine_code_that_others_could_have_written_is_not_used(places: tuple[Path, Path]) -> None:
    home, temporary = places
    folder = Path(cache(home, temporary))
    folder.chmod(0o777)
    assert Path(cache(home, temporary)).parent == temporary / f"foilsweep-{os.getuid()}"


@pytest.mark.parametrize("which", ["another user's", "a link", "open to all, not sticky"])
def test_without_a_private_place_nothing_is_kept(places: tuple[Path, Path], tmp_path: Path, which: str) -> None:
    home, temporary = places
    home.joinpath(".cache").write_bytes(b"no folder")
    planted = temporary / f"foilsweep-{os.getuid()}"
    if which == "another user's":
        if os.getuid():
            pytest.skip("needs root")
        planted.mkdir()
        os.chown(planted, 4321, 4321)
    elif which == "a link":
        (tmp_path / "theirs").mkdir()
        planted.symlink_to(tmp_path / "theirs")
    else:
        temporary.chmod(0o777)
    assert cache(home, temporary) == "None"

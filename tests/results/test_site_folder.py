"""The site on the disk: ours is exchanged whole and what is others' is renamed across, whenever the program is killed."""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Callable
from pathlib import Path

import pytest

from sweep.results import site_folder
from sweep.results.held_folder import MovedFolderError
from sweep.results.held_folder import held as hold
from sweep.results.lock import locked
from sweep.results.plain_files import SITE_JOURNAL, StoreError, check_plain
from sweep.results.site_folder import WRITTEN, write_site

OLD = {"index.html": "first", "design-7.html": "seven", "parts/style.css": "", "data/designs.js": "1"}
NEW = {"index.html": "second", "design-9.html": "nine", "parts/style.css": "b", "data/designs.js": "2", "more/a.css": ""}
FOREIGN = {"photos/boat.jpg": "a boat", ".git/HEAD": "a branch", "data/my.csv": "mine", "robots.txt": "none", "deep/er/x": "x"}


def put(site: Path, texts: dict[str, str]) -> None:
    for name, text in texts.items():
        (site / name).parent.mkdir(parents=True, exist_ok=True)
        (site / name).write_text(text)


def held(site: Path) -> dict[str, str]:
    return {
        path.relative_to(site).as_posix(): path.read_text()
        for path in site.rglob("*")
        if path.is_file() and path.name != WRITTEN
    }


@pytest.fixture(params=["a folder", "a link to a web root"])
def folder(tmp_path: Path, request: pytest.FixtureRequest) -> Path:
    """A results folder with a site of before, and other people's things in it."""
    made = tmp_path / "results"
    made.mkdir()
    if request.param == "a link to a web root":
        (tmp_path / "www" / "html").mkdir(parents=True)
        (made / "site").symlink_to(tmp_path / "www" / "html")
    write_site(made, OLD)
    put(made / "site", FOREIGN)
    return made


def beside(folder: Path) -> list[str]:
    """What lies beside the site, but for the site."""
    site = (folder / "site").resolve()
    return sorted({path.name for path in (*folder.iterdir(), *site.parent.iterdir())} - {"site", site.name})


def test_pages_are_exchanged_and_other_things_stay(folder: Path) -> None:
    photo = (folder / "site" / "photos" / "boat.jpg").stat()
    assert write_site(folder, NEW) == folder / "site"
    assert held(folder / "site") == NEW | FOREIGN
    after = (folder / "site" / "photos" / "boat.jpg").stat()
    assert (after.st_ino, after.st_mtime_ns) == (photo.st_ino, photo.st_mtime_ns)
    assert beside(folder) == []


def test_a_folder_keeps_its_mode(folder: Path) -> None:
    (folder / "site").chmod(0o750)
    write_site(folder, NEW)
    assert stat.S_IMODE((folder / "site").stat().st_mode) == 0o750


def test_links_and_pipes_of_others_in_the_site_are_renamed_and_not_opened(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "letter").write_text("a letter")
    (folder / "site" / "shortcut").symlink_to(tmp_path / "letter")
    (folder / "site" / "data" / "nowhere").symlink_to("nowhere")
    os.mkfifo(folder / "site" / "pipe")
    check_plain(folder)
    write_site(folder, NEW)
    assert (folder / "site" / "shortcut").readlink() == tmp_path / "letter"
    assert (folder / "site" / "data" / "nowhere").is_symlink()
    assert stat.S_ISFIFO((folder / "site" / "pipe").lstat().st_mode)
    assert (tmp_path / "letter").read_text() == "a letter"


@pytest.mark.parametrize("name", ["design-9.html", "more", "more/a.css"])
def test_somebodys_file_in_the_place_of_a_page_is_not_overwritten(folder: Path, name: str) -> None:
    put(folder / "site", {name: "mine"})
    with pytest.raises(StoreError, match=rf"{name}: is not from Foilsweep .* nothing was changed"):
        write_site(folder, NEW)
    assert held(folder / "site") == OLD | FOREIGN | {name: "mine"}
    assert beside(folder) == []


def test_a_link_in_the_place_of_a_folder_of_ours_is_not_followed(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "theirs").mkdir()
    put(tmp_path / "theirs", {"a.css": "theirs"})
    (folder / "site" / "more").symlink_to(tmp_path / "theirs")
    with pytest.raises(StoreError, match="more: is not from Foilsweep"):
        write_site(folder, NEW)
    assert held(tmp_path / "theirs") == {"a.css": "theirs"}


def test_a_web_root_of_somebody_elses_pages_is_refused(tmp_path: Path) -> None:
    """The list of what is ours lies in the site: a folder from a stranger cannot claim pages that it links to."""
    (tmp_path / "www").mkdir()
    (tmp_path / "results").mkdir()
    put(tmp_path / "www", {"index.html": "my own", "design-7.html": "my own"})
    (tmp_path / "results" / "site").symlink_to(tmp_path / "www")
    with pytest.raises(StoreError, match="is not from Foilsweep"):
        write_site(tmp_path / "results", OLD)
    assert held(tmp_path / "www") == {"index.html": "my own", "design-7.html": "my own"}


def test_a_site_of_a_version_without_a_list_is_taken_over(tmp_path: Path) -> None:
    put(tmp_path / "site", OLD | FOREIGN)
    write_site(tmp_path, NEW)
    assert held(tmp_path / "site") == NEW | FOREIGN


@pytest.mark.parametrize("listed", ["../letter", "/etc/hostname", "data/../../letter", "a/./b", ""])
def test_a_list_that_leads_out_of_the_site_deletes_nothing(tmp_path: Path, listed: str) -> None:
    (tmp_path / "letter").write_text("a letter")
    put(tmp_path / "site", {"index.html": "theirs"})
    (tmp_path / "site" / WRITTEN).write_text(f"index.html\n{listed}\n")
    (tmp_path / "site" / "data").symlink_to(tmp_path)
    with pytest.raises(StoreError, match="data: is not from Foilsweep"):
        write_site(tmp_path, NEW)
    (tmp_path / "site" / "data").unlink()
    write_site(tmp_path, NEW)
    assert (tmp_path / "letter").read_text() == "a letter"


def test_a_listed_file_behind_a_link_is_not_deleted(tmp_path: Path) -> None:
    put(tmp_path / "theirs", {"x": "theirs"})
    put(tmp_path / "site", {"index.html": "theirs"})
    (tmp_path / "site" / WRITTEN).write_text("index.html\nfolder/x\n")
    (tmp_path / "site" / "folder").symlink_to(tmp_path / "theirs")
    write_site(tmp_path, NEW)
    assert held(tmp_path / "theirs") == {"x": "theirs"}
    assert (tmp_path / "site" / "folder").is_symlink()


def test_a_journal_that_cannot_be_leads_nowhere(tmp_path: Path) -> None:
    (tmp_path / SITE_JOURNAL).write_text("../../../home")
    with pytest.raises(StoreError, match=f"{SITE_JOURNAL}: cannot be read"):
        write_site(tmp_path, NEW)


def test_a_full_disk_leaves_the_site_as_it_was(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    synced = []

    def full(handle: int) -> None:
        synced.append(handle)
        if len(synced) > 4:
            raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", full)
        with pytest.raises(StoreError, match="could not be written"):
            write_site(folder, NEW)
    assert held(folder / "site") == OLD | FOREIGN
    write_site(folder, NEW)
    assert held(folder / "site") == NEW | FOREIGN
    assert beside(folder) == []


class Killed(BaseException):
    """The program is gone: nothing that comes after is done."""


CHANGES = ("rename", "replace", "unlink", "rmdir", "mkdir", "chmod")
"""How a file system is changed, but for writing."""


def kill_at(monkeypatch: pytest.MonkeyPatch, moment: int) -> Callable[[], int]:
    """Be killed before a change of this number; nothing more is changed then. How many changes there were."""
    done = 0

    def watched(usual: Callable[..., object]) -> Callable[..., object]:
        def change(*wanted: object, **named: object) -> object:
            nonlocal done
            if done >= moment:
                raise Killed
            done += 1
            return usual(*wanted, **named)

        return change

    for name in CHANGES:
        monkeypatch.setattr(os, name, watched(getattr(os, name)))
    return lambda: done


def do_at(monkeypatch: pytest.MonkeyPatch, moment: int, action: Callable[[], None]) -> Callable[[], int]:
    """Do something before the change of this number. How many changes there were."""
    done, waiting = 0, True

    def watched(usual: Callable[..., object]) -> Callable[..., object]:
        def change(*wanted: object, **named: object) -> object:
            nonlocal done, waiting
            if done == moment and waiting:
                waiting = False
                action()
            elif waiting:
                done += 1
            return usual(*wanted, **named)

        return change

    for name in CHANGES:
        monkeypatch.setattr(os, name, watched(getattr(os, name)))
    return lambda: done + (not waiting)


def everything(folder: Path) -> dict[str, list[str]]:
    """Each file of others by its place in a site, with the sites, old, new or whole, that hold it."""
    site = (folder / "site").resolve()
    sites = [path for path in site.parent.iterdir() if path == site or path.name.startswith(".site.")]
    return {name: [path.name for path in sites if (path / name).exists()] for name in FOREIGN}


MOMENTS = range(60)


@pytest.mark.parametrize("moment", MOMENTS)
def test_killed_at_any_moment_all_is_there_once_and_the_next_time_completes(
    folder: Path, monkeypatch: pytest.MonkeyPatch, moment: int
) -> None:
    with monkeypatch.context() as patched:
        changes = kill_at(patched, moment)
        try:
            write_site(folder, NEW)
        except Killed:
            pass
        else:
            assert changes() <= moment
    places = everything(folder)
    assert all(len(where) == 1 for where in places.values()), places
    with locked(folder):
        write_site(folder, NEW)
    assert held(folder / "site") == NEW | FOREIGN
    assert beside(folder) == [".lock"]


def test_the_moments_reach_the_end(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patched:
        changes = kill_at(patched, 10**9)
        write_site(folder, NEW)
        assert 10 < changes() <= max(MOMENTS)


def test_the_list_is_of_the_site(folder: Path) -> None:
    write_site(folder, NEW)
    assert (folder / "site" / WRITTEN).read_text().splitlines() == list(NEW)
    assert site_folder._listed(folder / "site") == list(NEW)


@pytest.mark.parametrize("moment", MOMENTS)
def test_what_comes_into_the_place_of_a_held_folder_at_any_moment_keeps_its_site(
    folder: Path, monkeypatch: pytest.MonkeyPatch, moment: int
) -> None:
    other, moved = folder.with_name("another"), folder.with_name("moved")
    put(other / "site", {"index.html": "theirs", "photos/boat.jpg": "their boat"})

    def replace() -> None:
        folder.rename(moved)
        other.rename(folder)

    with monkeypatch.context() as patched:
        changes = do_at(patched, moment, replace)
        try:
            with hold(folder):
                write_site(folder, NEW)
        except MovedFolderError:
            assert moved.exists()
        else:
            assert changes() <= moment
    theirs = other if other.exists() else folder
    assert [path.name for path in theirs.iterdir()] == ["site"]
    assert held(theirs / "site") == {"index.html": "theirs", "photos/boat.jpg": "their boat"}
    assert all(len(where) == 1 for where in everything(moved if moved.exists() else folder).values())

"""The site on the disk: a new one is built beside the old one, and exchanged with it.

A list in the site says which of its files are Foilsweep's. All else is somebody's, such as photographs or a repository: it is
renamed from the old site into the new one, never copied, written or deleted. Before anything is made, a journal in the
results folder keeps how the two are called; what a kill leaves undone is done from there the next time.
"""

from __future__ import annotations

import os
import re
import secrets
import shutil
import stat
from collections.abc import Collection, Iterator, Mapping
from functools import partial
from pathlib import Path

from sweep.results.held_folder import check, named, within
from sweep.results.plain_files import (
    LARGEST_TEXT,
    SITE,
    SITE_JOURNAL,
    StoreError,
    patiently,
    read_plain,
    sync_folder,
    unwritten,
    write_whole,
)

WRITTEN = ".foilsweep-files"
_TOKEN = re.compile(r"[0-9a-f]{16}")
_NAME = re.compile(r"(?!.*(^|/)\.\.?(/|$))[^/\0]+(/[^/\0]+)*")
_UNLISTED = re.compile(r"(design|card)-\d+\.html|data/[a-z]+-\d+\.(js|csv)")
"""What a version that kept no list may have left beside the files of today."""


def write_site(folder: Path, texts: Mapping[str, str | bytes]) -> Path:
    """Write the texts and pictures, by their paths, as the site of a results folder; its path.

    The site may be a link to a folder elsewhere, which is then exchanged in its own place. Raises StoreError if somebody's file
    stands where one of the texts belongs, or if the disk does not take it: the site is then as it was. Raises MovedFolderError
    if another folder came into the place of one that is held; its site stays as it is.
    """
    try:
        _finish(folder)
        _check_room(folder, texts)
        token = secrets.token_hex(8)
        write_whole(folder / SITE_JOURNAL, token.encode())
        try:
            _build(_beside(folder, token, "new"), _place(folder), texts)
        except BaseException:
            _finish(folder)
            raise
        _finish(folder)
    except OSError as error:
        raise unwritten(folder / SITE, error) from error
    return folder / SITE


def _place(folder: Path) -> Path:
    """Where the site lies."""
    site = folder / SITE
    return site.resolve() if site.is_symlink() else site


def _beside(folder: Path, token: str, which: str) -> Path:
    return _place(folder).with_name(f".{SITE}.{token}.{which}")


def _finish(folder: Path) -> None:
    """Do what is left of an exchange that was begun, from any state that it can be in; an unfinished new site is let go."""
    check(folder)
    try:
        token = read_plain(folder / SITE_JOURNAL).decode("ascii", errors="replace")
    except FileNotFoundError:
        return
    if not _TOKEN.fullmatch(token):
        raise StoreError(f"{folder / SITE_JOURNAL}: cannot be read. If {folder / SITE} is whole, delete it.")
    site, new, old = _place(folder), _beside(folder, token, "new"), _beside(folder, token, "old")
    if (new / WRITTEN).exists():
        with within(site.parent) as place:
            if site.exists() and not old.exists():
                patiently(partial(os.rename, named(site, place), named(old, place), src_dir_fd=place, dst_dir_fd=place))
            patiently(partial(os.rename, named(new, place), named(site, place), src_dir_fd=place, dst_dir_fd=place))
        sync_folder(site.parent)
    elif new.exists():
        shutil.rmtree(new)
    if old.exists():
        _carry_over(old, site, _ours(folder, old, _listed(site) or ()))
        sync_folder(site.parent)
    (folder / SITE_JOURNAL).unlink()
    sync_folder(folder)


def _build(new: Path, like: Path, texts: Mapping[str, str | bytes]) -> None:
    """Make the new site, whole and on the disk; its list of files comes last and says that it is."""
    with within(new.parent) as place:
        os.mkdir(named(new, place), dir_fd=place)
    if like.exists():
        new.chmod(stat.S_IMODE(like.stat().st_mode))
    for name, text in texts.items():
        _make_folders(new, name)
        (new / name).write_bytes(text.encode() if isinstance(text, str) else text)
    for name in texts:  # only now: all but the first then find little left to wait for
        with open(new / name, "rb+") as file:
            os.fsync(file.fileno())
    for inner in {(new / name).parent for name in texts}:
        sync_folder(inner)
    write_whole(new / WRITTEN, "".join(f"{name}\n" for name in texts).encode())


def _listed(site: Path) -> list[str] | None:
    """The files of ours that a site lists; None if it has no list. A path that leads out of it does not count."""
    try:
        lines = read_plain(site / WRITTEN, LARGEST_TEXT).decode("utf-8", errors="replace").splitlines()
    except FileNotFoundError:
        return None
    return [line for line in lines if _NAME.fullmatch(line)]


def _ours(folder: Path, site: Path, texts: Collection[str]) -> set[str]:
    """The files of ours in a site. Without a list, those of a folder's own site that bear the names of such files.

    In a folder elsewhere that has no list, none is.
    """
    listed = _listed(site)
    if listed is not None:
        return set(listed)
    if (folder / SITE).is_symlink():
        return set()
    return {name for name, entry in _entries(site) if not entry.is_symlink() and (name in texts or _UNLISTED.fullmatch(name))}


def _entries(site: Path, below: str = "") -> Iterator[tuple[str, os.DirEntry[str]]]:
    """Everything below a site, by its path in it, what is in a folder before the folder; no link is followed."""
    with os.scandir(site / below) as entries:
        for entry in sorted(entries, key=lambda each: each.name):
            if entry.is_dir(follow_symlinks=False):
                yield from _entries(site, f"{below}{entry.name}/")
            yield f"{below}{entry.name}", entry


def _check_room(folder: Path, texts: Mapping[str, str | bytes]) -> None:
    """Raises StoreError if somebody's file stands in the way."""
    site = _place(folder)
    if not site.exists():
        return
    ours = _ours(folder, site, texts)
    folders = {str(parent) for name in texts for parent in Path(name).parents}
    for name in sorted(folders - {"."} | (texts.keys() - ours)):
        path = site / name
        if os.path.lexists(path) and not (name in folders and path.is_dir() and not path.is_symlink()):
            raise StoreError(
                f"{path}: is not from Foilsweep and stands where a page of the site belongs; nothing was changed. "
                "Move it elsewhere, or have the site in another folder."
            )


def _carry_over(old: Path, new: Path, ours: set[str], below: str = "") -> None:
    """Rename what is not ours from an old site into the new one, and delete the rest, its list last."""
    with os.scandir(old / below) as found:
        entries = sorted(found, key=lambda each: (each.name == WRITTEN, each.name))
    for entry in entries:
        name = f"{below}{entry.name}"
        if entry.is_dir(follow_symlinks=False):
            shared = (new / name).is_dir() or any(each.startswith(f"{name}/") for each in ours)
        else:
            shared = name in ours or name == WRITTEN
        if not shared:
            _rename(old, new, name)
        elif entry.is_dir(follow_symlinks=False):
            _carry_over(old, new, ours, f"{name}/")
        else:
            os.unlink(entry.path)
    os.rmdir(old / below)


def _rename(old: Path, new: Path, name: str) -> None:
    if os.path.lexists(new / name):
        raise StoreError(
            f"{old / name}: is not from Foilsweep, and {new / name} stands where it belongs. Move one of them elsewhere."
        )
    _make_folders(new, name)
    os.rename(old / name, new / name)


def _make_folders(site: Path, name: str) -> None:
    """Make the folders of a file in a site, which itself is there: another one that came into its place gets none."""
    for parent in reversed(Path(name).parents[:-1]):
        (site / parent).mkdir(exist_ok=True)

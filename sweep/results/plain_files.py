"""Files that are whole or absent, in a folder that somebody may have prepared: no link is followed, no pipe opened.

A link would lead writing and reading out of the folder, a named pipe holds its reader for ever, a device or a file of a
terabyte fills the memory. New files get a name that nobody can guess, and are made only where nothing has it.
"""

from __future__ import annotations

import errno
import os
import re
import secrets
import stat
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from functools import partial
from pathlib import Path
from typing import BinaryIO

from sweep.results.held_folder import StoreError as StoreError
from sweep.results.held_folder import check as check_held
from sweep.results.held_folder import named, within

LARGEST_TEXT, LARGEST_SHARD, LARGEST_TABLE = 256_000_000, 64_000_000, 4_000_000_000
"""Bytes (judgement): a hundred thousand designs leave a tenth of each."""
TRIES, PAUSE = 20, 0.1
"""How often a rename is tried on Windows, and s between (judgement)."""
SITE, SITE_JOURNAL = "site", ".site-exchange"
UNFINISHED = re.compile(r"\..+\.[0-9a-f]{16}\.unfinished")
EXCHANGED = re.compile(r"\.site\.[0-9a-f]{16}\.(new|old)")

_NO_LINK = getattr(os, "O_NOFOLLOW", 0)  # Windows has neither, and its links need a right of their own
_AT_ONCE = getattr(os, "O_NONBLOCK", 0)
_BYTES = getattr(os, "O_BINARY", 0)
_KINDS = ((stat.S_ISLNK, "a link"), (stat.S_ISFIFO, "a named pipe"), (stat.S_ISSOCK, "a socket"), (stat.S_ISDIR, "a folder"))


@contextmanager
def reading(path: Path, largest: int = LARGEST_TABLE) -> Iterator[BinaryIO]:
    """A regular file of at most so many bytes, open for reading; raises StoreError for anything else, OSError as `open`."""
    with os.fdopen(_open(path, os.O_RDONLY, largest), "rb") as file:
        yield file


def read_plain(path: Path, largest: int = LARGEST_TEXT) -> bytes:
    """The bytes of a regular file of at most so many; raises as `reading`."""
    with reading(path, largest) as file:
        return file.read(largest + 1)


def open_to_append(path: Path) -> BinaryIO:
    """A regular file that has no other name, made if it is not there, to read and to append to; raises as `reading`."""
    with within(path.parent) as place:
        handle = _open(path, os.O_RDWR | os.O_APPEND | os.O_CREAT, LARGEST_TEXT, place)
    if os.fstat(handle).st_nlink > 1:
        os.close(handle)
        raise _refused(path, "a file with a second name elsewhere (a hard link)")
    return os.fdopen(handle, "ab+")


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that it is there whole and on the disk, or not there at all; a link of that name is replaced.

    In a folder that is held, nothing is written once another is in its place: raises MovedFolderError.
    """
    try:
        with within(path.parent) as place:
            file, temporary = _create_beside(path, place)
            try:
                with file:
                    file.write(content)
                    file.flush()
                    os.fsync(file.fileno())
                check_held(path)
                patiently(partial(os.replace, named(temporary, place), named(path, place), src_dir_fd=place, dst_dir_fd=place))
            except BaseException:
                with suppress(OSError):  # on a folder that has become read-only this fails too
                    os.unlink(named(temporary, place), dir_fd=place)
                raise
            if place is not None:
                os.fsync(place)
    except OSError as error:
        raise unwritten(path, error) from error


def patiently(move: Callable[[], None]) -> None:
    """Rename a file or a folder. On Windows it is tried again for two seconds: no file that is open can be renamed over there,
    and virus guards open what is new (common practice, no source)."""
    for left in reversed(range(TRIES if sys.platform == "win32" else 1)):
        try:
            move()
        except PermissionError:
            if not left:
                raise
            time.sleep(PAUSE)
        else:
            return


def unwritten(path: Path, error: OSError) -> StoreError:
    """Errors of a full or write-protected disk."""
    return StoreError(
        f"{path}: could not be written ({error.strerror or error}). What has been flown is kept: make room, or let this folder "
        "be written to, and the same command goes on from there."
    )


def sync_folder(folder: Path) -> None:
    """Flush the names in a folder to the disk."""
    if sys.platform == "win32":  # Windows has no handle for a folder, and no need of it
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def check_plain(folder: Path) -> None:
    """Raises StoreError naming the first thing in a folder that is neither a folder nor a regular file of a usual size.

    A folder that is not there holds nothing wrong. The top folder itself may be a link, since whoever names it means where it
    leads. So may its `site`, to where a server takes its pages from; what lies in there beside the pages is its owner's.
    """
    if not folder.is_dir():
        return
    site = folder / SITE
    if site.is_symlink() and not site.is_dir() and not (folder / SITE_JOURNAL).exists():  # a kill leaves it between two sites
        raise _refused(site, "a link that leads to no folder")
    for entry in _inside(folder):
        _check(Path(entry.path), entry.stat(follow_symlinks=False), _largest(entry.name), folders=True)


def sweep_up(folder: Path) -> None:
    """Delete the unfinished files that runs of before left in a folder when they were killed; raises OSError."""
    for entry in _inside(folder):
        if UNFINISHED.fullmatch(entry.name) and entry.is_file(follow_symlinks=False):
            os.unlink(entry.path)


def _create_beside(path: Path, place: int | None) -> tuple[BinaryIO, Path]:
    """A new file in the folder of this one, open for writing, under a name that nobody can guess; raises OSError.

    place: a handle of the folder, if there are such.
    """
    fresh = path.with_name(f".{path.name}.{secrets.token_hex(8)}.unfinished")
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | _NO_LINK | _BYTES
    return os.fdopen(os.open(named(fresh, place), flags, 0o666, dir_fd=place), "wb"), fresh


def _inside(folder: Path) -> Iterator[os.DirEntry[str]]:
    """All entries below a folder, without its site and one that was being exchanged; no link is followed."""
    left = [str(folder)]
    while left:
        with os.scandir(left.pop()) as entries:
            for entry in sorted(entries, key=lambda each: each.name):
                if os.path.dirname(entry.path) == str(folder) and (entry.name == SITE or EXCHANGED.fullmatch(entry.name)):
                    continue
                yield entry
                if entry.is_dir(follow_symlinks=False):
                    left.append(entry.path)


def _largest(name: str) -> float:
    """Largest size in bytes of a file of this name; a file that Foilsweep never reads may have any size."""
    if name.endswith(".parquet"):
        return LARGEST_SHARD if name.startswith("part-") else LARGEST_TABLE
    return LARGEST_TEXT if name.endswith((".json", ".yaml", ".csv", "SUMS", ".lock")) else float("inf")


def _open(path: Path, flags: int, largest: int, place: int | None = None) -> int:
    try:
        handle = os.open(named(path, place), flags | _NO_LINK | _AT_ONCE | _BYTES, 0o666, dir_fd=place)
    except OSError as error:
        if error.errno in (errno.ELOOP, errno.EMLINK, errno.ENXIO):  # a link; a pipe without a reader, or a socket
            raise _refused(path, _kind(os.lstat(path))) from None
        raise
    try:
        _check(path, os.fstat(handle), largest)
    except StoreError:
        os.close(handle)
        raise
    return handle


def _check(path: Path, found: os.stat_result, largest: float, folders: bool = False) -> None:
    if folders and stat.S_ISDIR(found.st_mode):
        return
    if not stat.S_ISREG(found.st_mode):
        raise _refused(path, _kind(found))
    if found.st_size > largest:
        raise _refused(path, f"a file of {found.st_size / 1e6:,.0f} MB".replace(",", " "))


def _kind(found: os.stat_result) -> str:
    return next((said for is_one, said in _KINDS if is_one(found.st_mode)), "a device or another special file")


def _refused(path: Path, what: str) -> StoreError:
    return StoreError(
        f"{path}: {what}, which no run leaves in a results folder; nothing was read from it or written. Move or delete it."
    )

"""The folders of a run, each held by its identity and not by its name.

If somebody moves a folder away in mid-run, or puts another one in its place, the rest of the run must not go into that one.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

_HANDLES = os.open in os.supports_dir_fd  # not so on Windows, which on the other hand moves no folder with an open file in it
_FOLDER = os.O_RDONLY | getattr(os, "O_DIRECTORY", 0)
_NO_LINK = getattr(os, "O_NOFOLLOW", 0)


class StoreError(Exception):
    """The results folder cannot be used; the message says why, and what would help."""


class MovedFolderError(StoreError):
    """The folder is not where it was when the run began."""


class _Held(NamedTuple):
    path: Path
    handle: int | None
    identity: tuple[int, int]


_all: list[_Held] = []


@contextmanager
def held(folder: Path) -> Iterator[None]:
    """Hold a folder; raises OSError if there is none.

    Raises MovedFolderError at the end if it is another one by then, instead of any error that this caused.
    """
    path, handle = folder.absolute(), os.open(folder, _FOLDER) if _HANDLES else None
    one = _Held(path, handle, _identity(os.stat(folder) if handle is None else os.fstat(handle)))
    _all.append(one)
    try:
        try:
            yield
        except Exception:
            check(folder)
            raise
        check(folder)
    finally:
        _all.remove(one)
        if handle is not None:
            os.close(handle)


def check(path: Path) -> None:
    """Raises MovedFolderError if this path is in a folder that is held, and another one or none is in its place."""
    one = _holder(path)
    if one is None:
        return
    try:
        same = _identity(os.stat(one.path)) == one.identity
    except (FileNotFoundError, NotADirectoryError):
        same = False
    if not same:
        raise MovedFolderError(
            f"{one.path} was moved away or replaced while this ran. It stopped, and wrote nothing into what is there now. What "
            "was flown before that is kept in the folder that was moved: move it back, or name its new place with --out, and "
            "the same command goes on."
        )


@contextmanager
def within(folder: Path) -> Iterator[int | None]:
    """A handle of a folder, for the `dir_fd` of calls with names of files in it; None where the system has no such handles.

    Of a folder inside a held one it is what the held one has under that name, wherever it is. Raises as `check`, and OSError.
    """
    check(folder)
    if not _HANDLES:
        yield None
        return
    handle = _open(folder)
    try:
        yield handle
    finally:
        os.close(handle)


def named(path: Path, handle: int | None) -> str:
    """How a call with the handle of its folder names a file."""
    return str(path) if handle is None else path.name


def _open(folder: Path) -> int:
    one = _holder(folder)
    if one is None or one.handle is None:
        return os.open(folder, _FOLDER)
    handle = os.dup(one.handle)
    for part in folder.absolute().relative_to(one.path).parts:
        above = handle
        try:
            handle = os.open(part, _FOLDER | _NO_LINK, dir_fd=above)
        finally:
            os.close(above)
    return handle


def _holder(path: Path) -> _Held | None:
    """The innermost held folder that a path is in, or is."""
    inside = [one for one in _all if path.absolute().is_relative_to(one.path)] if _all else []
    return max(inside, key=lambda one: len(one.path.parts), default=None)


def _identity(found: os.stat_result) -> tuple[int, int]:
    return found.st_dev, found.st_ino

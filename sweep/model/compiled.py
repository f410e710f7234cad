"""How the kernels are compiled: decorators for scalar parts and for loops.

Every operation is rounded by itself, so that a flight gives the same bits in any lane. Otherwise, in a sum of two products, the
compiler may fuse one product in some lanes and the other in the rest. Only polynomials are `fused`: they leave no such choice.
Divisions follow IEEE (`error_model="numpy"`); else they would not vectorise. Kernels make no arrays, so that references are not
counted (`_nrt`): that took a tenth of a flight's time.

The machine code is cached in a folder named by a digest of the syntax of its sources. Numba alone notices an edit in the file
of the function that it compiles, but not in the files of functions that this one calls. In the folder, code is found by its
module and name (`machine_code`). All installations with the same syntax share it, whatever their comments say.
"""

from __future__ import annotations

import os
import stat
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from functools import cache
from pathlib import Path
from typing import Any, TypeVar, cast

from sweep.model.processor import features

os.environ.setdefault("NUMBA_CPU_FEATURES", features())
os.environ.setdefault("NUMBA_OPT", "2")  # as fast as its usual 3 (tests.benchmarks.kernel), and compiled in a sixth less time

from numba import config

from sweep.model import sources
from sweep.model.dispatch import Function
from sweep.model.machine_code import Stored

F = TypeVar("F", bound=Callable[..., Any])

_BY_NAME = "sweep.model.machine_code.ByName"

LANES = 32
"""Flights side by side in one workspace."""


@cache
def cache_folder() -> str | None:
    """The folder for machine code: under the user's cache folder, or else under a temporary one. None if neither is private.

    Code in the folder is run when it is loaded. The folder must so be private: made by this user, not a link, and open to
    nobody else. Without a folder, every process compiles for itself.
    """
    usual = os.environ.get("NUMBA_CACHE_DIR") or os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    user = f"-{os.getuid()}" if hasattr(os, "getuid") else ""
    for top in (Path(usual) / "foilsweep", Path(tempfile.gettempdir()) / f"foilsweep{user}"):
        try:
            top.parent.mkdir(parents=True, exist_ok=True)
            if not (_is_safe_place(top.parent) and _is_private(top, now=True)):
                continue
            folder = top / sources.digest_of(sources.compiled(), top)
            if _is_private(folder):
                with tempfile.TemporaryFile(dir=folder):
                    return str(folder)
        except OSError:
            continue
    return None


def _is_private(folder: Path, now: bool = False) -> bool:
    """Whether a folder is this user's, not a link, and was never open for others to write. Makes the folder if it is missing.

    It is closed to others in any case. now: it is enough that others cannot write from now on.
    """
    with suppress(FileExistsError):
        folder.mkdir(mode=0o700)
    if not hasattr(os, "getuid"):  # Windows itself protects a user's folders from others
        return folder.is_dir()
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW)
    try:
        found = os.fstat(handle)
        if found.st_uid != os.getuid() or (found.st_mode & 0o022 and not now):
            return False
        os.fchmod(handle, 0o700)
    finally:
        os.close(handle)
    return True


def _is_safe_place(folder: Path) -> bool:
    """Whether no other user can replace a folder in this one: it belongs to the user or root, or is sticky as /tmp is."""
    if not hasattr(os, "getuid"):
        return True
    found = folder.stat()
    return bool(found.st_mode & stat.S_ISVTX) or (found.st_uid in (0, os.getuid()) and not found.st_mode & 0o002)


def _compile(function: F, **options: Any) -> F:
    if getattr(config, "DISABLE_JIT"):  # noqa: B009
        return function
    always = {"nopython": True, "error_model": "numpy", "no_cfunc_wrapper": True, "_nrt": False}
    compiled = Function(function, always | options)
    if folder := cache_folder():
        with _configured(CACHE_DIR=folder, CACHE_LOCATOR_CLASSES=_BY_NAME):
            compiled.keep(Stored(function))
    return cast(F, compiled)


@contextmanager
def _configured(**values: str) -> Iterator[None]:
    """Numba's settings are made at run time, and not seen by the type checker."""
    before = {name: getattr(config, name, None) for name in values}
    try:
        for name, value in values.items():
            setattr(config, name, value)
        yield
    finally:
        for name, old in before.items():
            setattr(config, name, old)


def part(function: F) -> F:
    """A scalar piece of physics, inlined where it is used."""
    return _compile(function, forceinline=True)


def index(function: F) -> F:
    """A part that makes a whole number of whole numbers. Constants are worked out before it is compiled."""
    compiled = part(function)
    compiled.folds = True  # type: ignore[attr-defined]
    return compiled


def fused(function: F) -> F:
    """As `part`, for polynomials in Horner's form: each sum has one product, and sum and product may be rounded once."""
    return _compile(function, fastmath={"contract"}, forceinline=True)


def kernel(function: F) -> F:
    """A loop over lanes, steps or flights; it releases the interpreter lock."""
    return _compile(function, nogil=True)

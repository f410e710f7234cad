"""How the kernels are compiled: one decorator for scalar parts, one for loops.

`contract` allows fused multiply-add and nothing else, so that a lane of a vector gives the same bits as a scalar and
not-a-number still means that something failed. Divisions follow IEEE (`error_model="numpy"`), or they would not vectorise.

The machine code is kept in a folder named by a hash of this package's sources: numba notices an edit of the function it
compiles, not of those that it calls.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

os.environ.setdefault("NUMBA_OPT", "2")  # as fast as its usual 3 (tests.benchmarks.kernel), and compiled in a sixth less time

from numba import config, njit

from sweep.model.sources import source_hash

F = TypeVar("F", bound=Callable[..., Any])

LANES = 32
"""Flights side by side in one workspace."""


@cache
def cache_folder() -> str:
    """Where machine code is kept: under the user's cache folder, or a temporary one where that cannot be written."""
    base = os.environ.get("NUMBA_CACHE_DIR") or os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    folder = Path(base) / "foilsweep" / source_hash()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return str(folder)
    except OSError:
        return str(Path(tempfile.gettempdir()) / f"foilsweep-{os.getuid()}" / source_hash())


def _compile(function: F, **options: Any) -> F:
    options["no_cfunc_wrapper"] = True  # nothing calls by a C address; the way in would take a twentieth of the compiling
    before = getattr(config, "CACHE_DIR")  # noqa: B009  (made at run time; the type checker does not see it)
    setattr(config, "CACHE_DIR", cache_folder())  # noqa: B010
    try:
        compiled: F = njit(error_model="numpy", fastmath={"contract"}, cache=True, **options)(function)
    finally:
        setattr(config, "CACHE_DIR", before)  # noqa: B010
    return compiled


def part(function: F) -> F:
    """A scalar piece of physics, inlined where it is used."""
    return _compile(function, forceinline=True)


def kernel(function: F) -> F:
    """A loop over lanes, steps or flights; it releases the interpreter lock."""
    return _compile(function, nogil=True)

"""Where the machine code of a function is stored: by module and name, in a folder named by the syntax digest of its sources.

Numba itself uses the path, time and line of a source: every installation and every edited comment would compile anew. And it
keeps one index of all that a function is compiled for, which it reads and writes again: of two processes that compile at once,
one would lose its entry, or find the other's code under it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numba
from numba import config
from numba.core.caching import FunctionCache, IndexDataCacheFile, _CacheLocator
from numba.core.runtime.nrt import rtsys


class ByName(_CacheLocator):
    """Where the code of one function is stored. Each version of numba has its own folder."""

    def __init__(self, module: str) -> None:
        self._folder = Path(getattr(config, "CACHE_DIR")) / numba.__version__ / module  # noqa: B009

    def get_cache_path(self) -> str:
        """The folder of its module."""
        return str(self._folder)

    def get_source_stamp(self) -> str:
        """Empty: the name of the folder above already identifies the sources."""
        return ""

    def get_disambiguator(self) -> str:
        """Empty: a name is unique in its module."""
        return ""

    @classmethod
    def from_function(cls, function: Callable[..., Any], _: str) -> ByName:
        """Make the locator of a function; numba calls this."""
        return cls(function.__module__)


class OneOfEach(IndexDataCacheFile):
    """Files of one function's code: for each key (types of arguments, processor, code) an index and a data file of its own."""

    def __init__(self, path: str, name: str) -> None:
        super().__init__(path, name, "")  # type: ignore[no-untyped-call]
        self._path, self._name = path, name

    def load(self, key: tuple[Any, ...]) -> Any:
        """What is stored under a key; None if nothing is."""
        return self._of(key).load(key)  # type: ignore[no-untyped-call]

    def save(self, key: tuple[Any, ...], code: Any) -> None:
        """Store code under a key."""
        self._of(key).save(key, code)  # type: ignore[no-untyped-call]

    def _of(self, key: tuple[Any, ...]) -> IndexDataCacheFile:
        name = f"{self._name}-{hashlib.blake2b(repr(key).encode(), digest_size=8).hexdigest()}"
        return IndexDataCacheFile(self._path, name, "")  # type: ignore[no-untyped-call]


class Stored(FunctionCache):
    """The stored machine code of one function.

    Numba prepares for compiling before it loads any, a quarter of a second; to load, its memory functions are enough.
    """

    def __init__(self, function: Callable[..., Any]) -> None:
        super().__init__(function)  # type: ignore[no-untyped-call]
        self._cache_file = OneOfEach(self._cache_path, self._impl.filename_base)

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        """What was compiled for a signature; None if nothing was, and then all is ready for compiling."""
        rtsys.initialize(target_context)
        with self._guard_against_spurious_io_errors():
            if (found := self._load_overload(sig, target_context)) is not None:  # type: ignore[no-untyped-call]
                return found
        return super().load_overload(sig, target_context)  # type: ignore[no-untyped-call]

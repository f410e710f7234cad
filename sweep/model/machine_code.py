"""Where the machine code of a function is stored: by module and name, in a folder named by the syntax digest of its sources.

Numba itself uses the path, time and line of a source: every installation and every edited comment would compile anew.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numba
from numba import config
from numba.core.caching import FunctionCache, _CacheLocator
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
        locator = cls(function.__module__)
        locator.ensure_cache_path()  # type: ignore[no-untyped-call]
        return locator


class Stored(FunctionCache):
    """The stored machine code of one function.

    Numba prepares for compiling before it loads any, a quarter of a second; to load, its memory functions are enough.
    """

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        """What was compiled for a signature; None if nothing was, and then all is ready for compiling."""
        rtsys.initialize(target_context)
        with self._guard_against_spurious_io_errors():
            if (found := self._load_overload(sig, target_context)) is not None:  # type: ignore[no-untyped-call]
                return found
        return super().load_overload(sig, target_context)  # type: ignore[no-untyped-call]

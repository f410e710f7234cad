"""Where the machine code of a function lies: by its module and name, in a folder that is named by what its sources do.

Numba itself goes by the path, the time and the line of a source, so that each installation and each comment would compile anew.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numba
from numba import config
from numba.core.caching import _CacheLocator


class ByName(_CacheLocator):
    """Where the code of one function is kept and found. Versions of numba keep theirs apart."""

    def __init__(self, module: str) -> None:
        self._folder = Path(getattr(config, "CACHE_DIR")) / numba.__version__ / module  # noqa: B009

    def get_cache_path(self) -> str:
        """The folder of its module."""
        return str(self._folder)

    def get_source_stamp(self) -> str:
        """Nothing: the folder above knows what the sources do."""
        return ""

    def get_disambiguator(self) -> str:
        """Nothing: a module has a name once."""
        return ""

    @classmethod
    def from_function(cls, function: Callable[..., Any], _: str) -> ByName:
        """As numba asks for it."""
        locator = cls(function.__module__)
        locator.ensure_cache_path()  # type: ignore[no-untyped-call]
        return locator

"""Identity of the equations: a digest of the sources' syntax, which comments and docstrings do not change."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from pathlib import Path

from sweep.model import sources
from sweep.model.compiled import cache_folder


@cache
def model_digest() -> str:
    """Digest of the whole model: results with the same digest come from the same equations."""
    return digest_of(sources.MODEL)


def digest_of(patterns: Sequence[str]) -> str:
    """Syntax digest of the sources that match some patterns, cached beside the folders of machine code."""
    folder = cache_folder()
    return sources.digest_of(patterns, Path(folder).parent if folder else None)

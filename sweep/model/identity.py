"""Which equations these are: a digest of what sources do, the same whatever their comments and docstrings say."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from pathlib import Path

from sweep.model import sources
from sweep.model.compiled import cache_folder


@cache
def model_digest() -> str:
    """Digest of the model, all its rooms: results of the same digest come from the same equations."""
    return digest_of(sources.MODEL)


def digest_of(patterns: Sequence[str]) -> str:
    """Digest of what the sources of some patterns below the program's folder do, kept beside the folders of machine code."""
    folder = cache_folder()
    return sources.digest_of(patterns, Path(folder).parent if folder else None)

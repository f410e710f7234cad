"""Which equations these are: a digest of what sources do, the same whatever their comments and docstrings say.

What came of reading their syntax is kept beside the machine code, under a digest of their bytes, and asked for again in a few
milliseconds.
"""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import Sequence
from contextlib import suppress
from functools import cache
from pathlib import Path

from sweep.model.compiled import cache_folder
from sweep.model.sources import MODEL, bytes_digest, syntax_digest

DIGEST = re.compile(r"[0-9a-f]{32}")


@cache
def model_digest() -> str:
    """Of the model, all its rooms: results of the same digest come from the same equations."""
    return digest_of(MODEL)


def digest_of(patterns: Sequence[str]) -> str:
    """Of what the sources of some patterns below the program's folder do."""
    folder = cache_folder()
    kept = Path(folder) / f"syntax-{bytes_digest(patterns)}" if folder else None
    if kept and (known := _kept(kept)):
        return known
    found = syntax_digest(patterns)
    if kept:
        _keep(kept, found)
    return found


def _kept(path: Path) -> str:
    """The digest that was kept, or ''."""
    with suppress(OSError, ValueError):
        if DIGEST.fullmatch(found := path.read_text(encoding="ascii")):
            return found
    return ""


def _keep(path: Path, digest: str) -> None:
    """For the next time; without a place for it, it is made anew each time."""
    with suppress(OSError), tempfile.NamedTemporaryFile("w", dir=path.parent, delete=False, encoding="ascii") as file:
        file.write(digest)
        file.close()
        os.replace(file.name, path)

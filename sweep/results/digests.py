"""Digests of the program's own sources: what flew a flight, whatever the comments say and however the lines are set.

Reading the syntax of these sources takes half a second: so what came of it is kept beside the machine code, under a digest of
their bytes, and asked for again in a few milliseconds.
"""

from __future__ import annotations

import ast
import hashlib
import os
import re
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from functools import cache
from pathlib import Path

from sweep.model.compiled import cache_folder

SWEEP = Path(__file__).parents[1]
KERNEL = ("model/**/*.py",)
"""What a worker needs to fly a piece to the same numbers: all else is packed and drawn before it is sent."""

FLIGHT = (
    *KERNEL,
    "flying/flights.py",
    *(f"campaign/{name}.py" for name in ("addresses", "conditions", "craft", "designs", "draws")),
    *(f"campaign/{name}.py" for name in ("faults", "foils", "named_seas", "seas", "water")),
    *(f"campaign/text/{name}.py" for name in ("base", "dimensions")),
)
"""What a flight runs through, from a campaign that has been read to its row. Reading a file is not among it: what was read
differs wherever reading does."""

DIGEST = re.compile(r"[0-9a-f]{32}")


@cache
def kernel_digest() -> str:
    """Of the model: pieces of the same digest are flown to the same numbers."""
    return _digest_of(KERNEL)


@cache
def flight_digest() -> str:
    """Of all that a flight runs through: flights of the same digest and content are the same flight."""
    return _digest_of(FLIGHT)


def _digest_of(patterns: Sequence[str]) -> str:
    sources = {path.relative_to(SWEEP).as_posix(): path.read_bytes() for path in files(patterns)}
    folder = cache_folder()
    kept = Path(folder) / f"syntax-{_digest(part for item in sources.items() for part in item)}" if folder else None
    if kept and (known := _kept(kept)):
        return known
    found = _digest(part for name, source in sources.items() for part in (name, *syntax(ast.parse(source))))
    if kept:
        _keep(kept, found)
    return found


def _kept(path: Path) -> str:
    """The digest that was kept, or ''."""
    with suppress(OSError, ValueError):
        if DIGEST.fullmatch(found := path.read_text(encoding="ascii")):
            return found
    return ""


def files(patterns: Iterable[str]) -> list[Path]:
    """The sources of these patterns, in order."""
    return sorted({path for pattern in patterns for path in SWEEP.glob(pattern)})


def _keep(path: Path, digest: str) -> None:
    """For the next time; without a place for it, it is made anew each time."""
    with suppress(OSError), tempfile.NamedTemporaryFile("w", dir=path.parent, delete=False, encoding="ascii") as file:
        file.write(digest)
        file.close()
        os.replace(file.name, path)


def syntax(node: ast.AST) -> Iterator[str]:
    """A tree as words, without docstrings, places and what is empty: the same in every version of Python that has this."""
    yield type(node).__name__
    for name in node._fields:
        value = getattr(node, name, None)
        if name == "body" and isinstance(value, list):
            value = [statement for statement in value if not _is_text(statement)]
        if value is not None and value != [] and name != "kind":
            yield name
            yield from _words(value)
    yield ")"


def _words(value: object) -> Iterator[str]:
    if isinstance(value, ast.AST):
        yield from syntax(value)
    elif isinstance(value, list):
        for item in value:
            yield from _words(item)
        yield "]"
    else:
        yield f"{type(value).__name__} {value!r}"


def _is_text(statement: ast.stmt) -> bool:
    """Whether a statement is a text by itself, as under a function's name or beside a constant: it does nothing."""
    value = statement.value if isinstance(statement, ast.Expr) else None
    return isinstance(value, ast.Constant) and isinstance(value.value, str)


def _digest(parts: Iterable[str | bytes]) -> str:
    digest = hashlib.blake2b(digest_size=16)
    for part in parts:
        content = part if isinstance(part, bytes) else part.encode()
        digest.update(len(content).to_bytes(8, "little"))
        digest.update(content)
    return digest.hexdigest()

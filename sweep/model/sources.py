"""Digests of the program's own sources: by their bytes, and by their syntax, without comments and layout.

Both cover all packages below a folder, and include each file's relative path.
"""

from __future__ import annotations

import ast
import hashlib
import os
import re
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import suppress
from functools import cache
from pathlib import Path

SWEEP = Path(__file__).parents[1]
MODEL = ("model/**/*.py",)
"""Everything that carries a packed craft through a drawn block to its row."""

UNCOMPILED = (
    *(f"model/{name}.py" for name in ("block", "identity", "probe", "responses", "sources")),
    *(f"model/pack/{name}.py" for name in ("board", "control", "fleet", "foils", "mass", "propulsion", "wands")),
    *(f"model/physics/{name}.py" for name in ("propeller_series", "water", "waves")),
)
"""The model's sources that do not affect the machine code: no compiled function reads anything from them."""

DIGEST = re.compile(r"[0-9a-f]{32}")


def files(patterns: Iterable[str], root: Path = SWEEP) -> list[Path]:
    """The sources of these patterns below a folder, in order."""
    return sorted({path for pattern in patterns for path in root.glob(pattern)})


def compiled(root: Path = SWEEP) -> tuple[str, ...]:
    """Relative paths of the model's sources that affect the machine code."""
    without = {*files(UNCOMPILED, root)}
    return tuple(_place(path, root) for path in files(MODEL, root) if path not in without)


def digest_of(patterns: Iterable[str], folder: Path | None, root: Path = SWEEP) -> str:
    """As `syntax_digest`, cached in a folder under the digest of the bytes, from where it is read in milliseconds."""
    patterns = tuple(patterns)
    kept = folder / f"syntax-{bytes_digest(patterns, root)}" if folder else None
    if kept and (known := _kept(kept)):
        return known
    found = syntax_digest(patterns, root)
    if kept:
        _keep(kept, found)
    return found


def _kept(path: Path) -> str:
    """The kept digest, or ''."""
    with suppress(OSError, ValueError):
        if DIGEST.fullmatch(found := path.read_text(encoding="ascii")):
            return found
    return ""


def _keep(path: Path, digest: str) -> None:
    """Cache a digest. If it cannot be written, it is computed again each time."""
    with suppress(OSError), tempfile.NamedTemporaryFile("w", dir=path.parent, delete=False, encoding="ascii") as file:
        file.write(digest)
        file.close()
        os.replace(file.name, path)


def bytes_digest(patterns: Iterable[str], root: Path = SWEEP) -> str:
    """Digest of the sources' bytes, 32 hexadecimal digits."""
    return _digest(part for path in files(patterns, root) for part in (_place(path, root), path.read_bytes()))


def syntax_digest(patterns: Iterable[str], root: Path = SWEEP) -> str:
    """Digest of the sources' syntax, 32 hexadecimal digits; a hundred files take half a second."""
    return _digest(part for path in files(patterns, root) for part in (_place(path, root), _of_syntax(path.read_bytes())))


@cache
def _of_syntax(source: bytes) -> str:
    return _digest(syntax(ast.parse(source)))


def _place(path: Path, root: Path) -> str:
    return path.relative_to(root).as_posix()


def syntax(node: ast.AST) -> Iterator[str]:
    """A syntax tree as words, without docstrings, positions and empty fields, so that versions of Python agree on it."""
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
    """Whether a statement is only a string, such as a docstring: it does nothing."""
    value = statement.value if isinstance(statement, ast.Expr) else None
    return isinstance(value, ast.Constant) and isinstance(value.value, str)


def _digest(parts: Iterable[str | bytes]) -> str:
    digest = hashlib.blake2b(digest_size=16)
    for part in parts:
        content = part if isinstance(part, bytes) else part.encode()
        digest.update(len(content).to_bytes(8, "little"))
        digest.update(content)
    return digest.hexdigest()

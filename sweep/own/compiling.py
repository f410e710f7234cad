"""Compiles a builder's own code, once per content, and looks over what came of it before anything loads it."""

from __future__ import annotations

import hashlib
import os
import platform
import re
import shutil
import subprocess
import tempfile
from functools import cache
from pathlib import Path

from sweep.model.compiled import cache_folder
from sweep.model.onboard.own import Sizes
from sweep.model.processor import features
from sweep.own.object_file import (
    ALLOCATED,
    GLOBAL,
    INDIRECT,
    WEAK,
    WRITABLE,
    NotAnObjectError,
    sections_of,
    symbols_of,
)
from sweep.own.source import C, forbidden_lines, header, places_header, sizes_header, unit

FLAGS = (
    "-std=c99", "-O2", "-fPIC", "-fvisibility=hidden", "-ffp-contract=off", "-ftrapping-math", "-fno-fast-math", "-fno-common",
    "-fstack-protector-strong", "-fno-strict-aliasing", "-fno-math-errno", "-Wall", "-Wextra", "-Werror=uninitialized",
    "-Werror=implicit-function-declaration", "-Werror=return-type", *(("-mavx",) if "+avx" in features().split(",") else ()),
)  # fmt: skip
"""Every operation is rounded by itself, as in the kernels; where the processor has them, by instructions of three operands."""
WIDE = ("-mavx2",) if "+avx2" in features().split(",") else ()
"""Of the guard, which looks through whole memories."""
ZEROED = "-ftrivial-auto-var-init=zero"
PATTERNED = "-ftrivial-auto-var-init=pattern"
SANITIZED = ("-g", "-O1", "-fsanitize=address,undefined,float-cast-overflow", "-fno-sanitize-recover=all")
PATIENCE = 60  # s, for a compiler (judgement)
IMPORTS = {
    "memcpy", "memmove", "memset", "memcmp", "__stack_chk_fail", "_GLOBAL_OFFSET_TABLE_",
    *(f"{name}{kind}" for kind in ("", "f") for name in (
        "sqrt", "sin", "cos", "tan", "asin", "acos", "atan", "atan2", "exp", "exp2", "log", "log2", "log10", "pow", "fabs",
        "floor", "ceil", "round", "trunc", "fmod", "hypot", "copysign", "fmin", "fmax", "cbrt", "sinh", "cosh", "tanh",
        "remainder", "lround", "sincos",
    )),
}  # fmt: skip
"""What the code may call: mathematics and the copying that compilers write themselves."""
AT_LOAD = (".init_array", ".preinit_array", ".fini_array", ".ctors", ".dtors", ".init", ".fini")
FUNCTIONS = ("control_start", "control_tick")
MOST_MESSAGES = 12
"""Lines of a compiler's complaint that are told (judgement)."""


class OwnCodeError(Exception):
    """The builder's own code cannot fly; the message says why, a line a reason."""


@cache
def compiler() -> str:
    """The path of gcc or clang. Raises OwnCodeError without one, and where own code does not fly yet."""
    if platform.system() != "Linux" or not hasattr(os, "fork"):
        raise OwnCodeError("control.code: a law of your own flies on Linux alone today, for it is contained there.")
    found = shutil.which("gcc") or shutil.which("clang") or shutil.which("cc")
    if found is None:
        raise OwnCodeError("control.code: wanted a C compiler, gcc or clang (on Debian: apt install gcc), and found none.")
    return found


@cache
def version() -> str:
    """The first line of what the compiler says of itself."""
    return _run([compiler(), "--version"], Path()).stdout.splitlines()[0]


def library(sizes: Sizes, text: str, name: str) -> Path:
    """The compiled code, from the cache where it is there already. Raises OwnCodeError; warnings are in `warnings_of`."""
    digest = hashlib.blake2b(digest_size=16)
    sources = _sources(sizes, text, name)
    for part in (*sources.values(), (C / "guard.c").read_text(encoding="utf-8"), version(), *FLAGS, *WIDE):
        digest.update(f"{len(part)} {part}".encode())
    place = _folder() / f"{digest.hexdigest()}.so"
    if not place.exists():
        if wrong := list(forbidden_lines(text)):
            raise OwnCodeError("\n".join(f"{name}:{line}: {said}" for line, said in wrong))
        with tempfile.TemporaryDirectory(dir=place.parent) as folder:
            made = _made(Path(folder), sources, name)
            os.replace(made, place)
    return place


def _folder() -> Path:
    top = cache_folder()
    place = Path(top) / "own" if top else _temporary()
    place.mkdir(mode=0o700, exist_ok=True)
    return place


@cache
def _temporary() -> Path:
    return Path(tempfile.mkdtemp(prefix="foilsweep-own-"))


def _sources(sizes: Sizes, text: str, name: str) -> dict[str, str]:
    return {
        "control.h": header(sizes),
        "sizes.h": sizes_header(sizes),
        "places.h": places_header(),
        "law.c": unit(sizes, text, name),
    }


def _made(folder: Path, sources: dict[str, str], name: str) -> Path:
    """Compile and link in a folder; gives the library."""
    write(folder, sources)
    _compile([*FLAGS, ZEROED, "-I", ".", "-c", "law.c", "-o", "law.o"], folder, name)
    if wrong := list(looked_over((folder / "law.o").read_bytes(), name)):
        raise OwnCodeError("\n".join(wrong))
    exported = [flag for flag in FLAGS if flag != "-fvisibility=hidden" and not flag.startswith("-std")]
    _compile(
        [*exported, *WIDE, "-std=gnu99", "-O3", "-U_FORTIFY_SOURCE", "-I", ".", "-c", str(C / "guard.c"), "-o", "guard.o"],
        folder,
        name,
    )
    linked = ["-shared", "-Wl,-z,now", "-Wl,-z,relro", "-Wl,-z,noexecstack", "law.o", "guard.o", "-lm", "-o", "law.so"]
    _compile(linked, folder, name)
    return folder / "law.so"


def write(folder: Path, sources: dict[str, str]) -> None:
    """Write sources into a folder."""
    for each, text in sources.items():
        (folder / each).write_text(text, encoding="utf-8")


def program(folder: Path, sizes: Sizes, text: str, name: str, options: tuple[str, ...]) -> Path | None:
    """The trial's program, made in a folder with some options; None if this compiler does not know them."""
    write(folder, _sources(sizes, text, name))
    command = [compiler(), *FLAGS, "-DSTRIDE=1", *options, "-I", ".", "law.c", str(C / "trial.c"), "-lm", "-o", "trial"]
    return folder / "trial" if _run(command, folder).returncode == 0 else None


def _compile(options: list[str], folder: Path, name: str) -> None:
    """Raises OwnCodeError with what the compiler says."""
    try:
        found = _run([compiler(), *options], folder)
    except subprocess.TimeoutExpired:
        raise OwnCodeError(f"{name}: the compiler did not end within {PATIENCE} s") from None
    if found.returncode:
        lines = [line for line in found.stderr.splitlines() if re.search(r": (fatal )?error:|undefined reference", line)]
        raise OwnCodeError("\n".join([f"{name} does not compile:", *(lines or found.stderr.splitlines())[:MOST_MESSAGES]]))


def _run(command: list[str], folder: Path) -> subprocess.CompletedProcess[str]:
    plain = {**os.environ, "LC_ALL": "C"}
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False, timeout=PATIENCE, env=plain)


def looked_over(data: bytes, name: str) -> list[str]:
    """What is wrong with an object file of the builder's code: a sentence each."""
    try:
        sections, symbols = sections_of(data), symbols_of(data)
    except NotAnObjectError:
        return [f"{name}: this kind of computer has another kind of object file, which cannot be looked over"]
    wrong = []
    for section in sections:
        if section.name.startswith(AT_LOAD) or (section.flags & ALLOCATED and section.kind in (14, 15, 16)):
            wrong.append(
                f"{name} runs code as it is loaded, which nothing but control_start and control_tick may ({section.name})"
            )
    if any(symbol.kind == INDIRECT for symbol in symbols):
        wrong.append(f"{name} chooses code as it is loaded, which nothing but control_start and control_tick may")
    kept = {i for i, each in enumerate(sections) if _is_kept(each.name, each.flags, each.size)}
    for i in sorted(kept):
        inside = sorted(
            {symbol.name.split(".")[0] for symbol in symbols if symbol.section == i and symbol.name and symbol.kind == 1}
        )
        said = " and ".join(inside) if inside else sections[i].name
        wrong.append(f"{name} keeps {said} outside its memory: flights side by side would share it; put it into control_memory")
    for symbol in symbols:
        if symbol.section == 0 and symbol.binding in (GLOBAL, WEAK):
            if symbol.name in FUNCTIONS:
                wrong.append(
                    f"{name} has no function {symbol.name}: it needs {FUNCTIONS[0]} and {FUNCTIONS[1]}, as control.h says"
                )
            elif symbol.name not in IMPORTS:
                wrong.append(f"{name} calls {symbol.name}, which a board has not, or which reaches outside its memory")
    return list(dict.fromkeys(wrong))


def _is_kept(name: str, flags: int, size: int) -> bool:
    """Whether a section holds what lasts between ticks."""
    constant = name.startswith((".data.rel.ro", *AT_LOAD))
    return bool(flags & WRITABLE and flags & ALLOCATED and size and not constant)

"""The house keeps its own rules: style, types and the direction of imports."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
BIN = Path(sys.executable).parent


MOST_ARGUMENTS = 6
ROOM_OF_KERNELS = ROOT / "sweep" / "model"


@pytest.mark.parametrize(
    "command",
    [
        [BIN / "ruff", "check", "."],
        [BIN / "ruff", "format", "--check", "."],
        [BIN / "mypy"],
        [BIN / "lint-imports"],
    ],
    ids=["style", "format", "types", "imports"],
)
def test_the_tools_find_nothing(command: list[Path | str]) -> None:
    found = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert found.returncode == 0, found.stdout + found.stderr


def functions(path: Path) -> list[ast.FunctionDef]:
    return [node for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))) if isinstance(node, ast.FunctionDef)]


def arguments(function: ast.FunctionDef) -> int:
    """How many a function takes; `self` and `cls` are not counted."""
    every = [each.arg for each in (*function.args.posonlyargs, *function.args.args, *function.args.kwonlyargs)]
    return len(every) - (every[:1] in (["self"], ["cls"]))


def test_a_function_takes_at_most_six_arguments() -> None:
    """Those of the model are let be: what numba compiles gets arrays and numbers one by one."""
    modules = [path for path in (ROOT / "sweep").rglob("*.py") if ROOM_OF_KERNELS not in path.parents]
    assert len(modules) > 100
    many = {
        f"{path.relative_to(ROOT)}: {function.name}": arguments(function)
        for path in modules
        for function in functions(path)
        if arguments(function) > MOST_ARGUMENTS
    }
    assert many == {}


def test_arguments_are_counted_as_they_are_given() -> None:
    (some,) = ast.parse("def some(self, a, /, b, *, c=1, **rest): ...").body
    assert isinstance(some, ast.FunctionDef)
    assert arguments(some) == 3

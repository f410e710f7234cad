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
MODEL = ROOT / "sweep" / "model"
LAYOUT = MODEL / "layout.py"


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
    modules = [*(ROOT / "sweep").rglob("*.py")]
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


def has_number(value: ast.expr | None) -> bool:
    """Whether an expression has a number written in it, by itself, in a table or for a function of mathematics."""
    match value:
        case ast.Constant():
            return isinstance(value.value, (int, float)) and not isinstance(value.value, bool)
        case ast.UnaryOp():
            return has_number(value.operand)
        case ast.BinOp():
            return has_number(value.left) or has_number(value.right)
        case ast.Tuple() | ast.List():
            return any(map(has_number, value.elts))
        case ast.Dict():
            return any(map(has_number, value.values))
        case ast.Call(func=ast.Attribute(value=ast.Name(id="math" | "np"))):
            return any(map(has_number, value.args))
    return False


def is_place(value: ast.expr | None) -> bool:
    """Whether an expression is a slot's place, which the layout tells."""
    named = (node.value for node in ast.walk(value) if isinstance(node, ast.Attribute)) if value else ()
    return any(isinstance(name, ast.Name) and name.id == "at" for name in named)


def is_text(node: ast.stmt | None) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str)


def untold(source: str) -> list[str]:
    """The module's numeric constants that nothing is said of: no comment beside, none over their lines, no text under them."""
    lines, body = source.splitlines(), ast.parse(source).body
    found, over = [], False
    for place, node in enumerate(body):
        above = lines[node.lineno - 2].strip() if node.lineno > 1 else ""
        over = above.startswith("#") or (over and bool(above))
        if not isinstance(node, (ast.Assign, ast.AnnAssign)) or not has_number(node.value) or is_place(node.value):
            continue
        beside = any("#" in line for line in lines[node.lineno - 1 : node.end_lineno])
        after = next((later for later in body[place + 1 :] if not isinstance(later, (ast.Assign, ast.AnnAssign))), None)
        together = is_text(after) and all(line.strip() for line in lines[node.lineno - 1 : after.lineno - 1] if after)
        if not (over or beside or together):
            found.append(ast.unparse(node)[:60])
    return found


def test_every_number_of_a_module_says_what_it_is_and_where_it_is_from() -> None:
    """A source, what it was measured with, or the word judgement; that it is true, only a reader can see."""
    modules = [path for path in (ROOT / "sweep").rglob("*.py") if path != LAYOUT]
    silent = {str(path.relative_to(ROOT)): found for path in modules if (found := untold(path.read_text(encoding="utf-8")))}
    assert silent == {}


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ("A = 1", ["A = 1"]),
        ("A = -0.5\n\nB = 2  # m", ["A = -0.5"]),
        ('A = 1\n"""Of it (judgement)."""', []),
        ('A = 1\nB = 2\n"""Of both (judgement)."""', []),
        ('A = 1\n\nB = 2\n"""Of B alone."""', ["A = 1"]),
        ("# Columns\nA = 0\nB = 1\n\nC = 2", ["C = 2"]),
        ("A = {'x': (1.0, 2.0)}", ["A = {'x': (1.0, 2.0)}"]),
        ("A = math.radians(3.0)\nB = (at.PLACE + 2) * LANES\nC = 'three'\nD = True\nE = name", ["A = math.radians(3.0)"]),
        ("A = 20.0 * OTHER", ["A = 20.0 * OTHER"]),
    ],
)
def test_a_number_that_nothing_is_said_of_is_found(source: str, found: list[str]) -> None:
    assert untold(source) == found

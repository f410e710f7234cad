"""Where a module can be changed so that it says or works out something else, and the changes themselves.

In the kernels these are operators, signs and numbers, but no slots of the workspace: another slot would be another program. In
the other rooms also whole numbers, branches, and what is said: words that turn a sentence round, numbers in texts, values of a
text that change places, sentences left out.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parents[2]
LEFT_OUT = {"__init__.py", "__main__.py", "layout.py", "compiled.py", "quantities.py", "probe.py"}  # names, slots and tools

_PAIRS = (
    (ast.Add, ast.Sub), (ast.Mult, ast.Div), (ast.Lt, ast.GtE), (ast.Gt, ast.LtE), (ast.Eq, ast.NotEq), (ast.And, ast.Or),
    (ast.In, ast.NotIn), (ast.Is, ast.IsNot),
)  # fmt: skip
SWAPS: dict[type, type] = {one: other for a, b in _PAIRS for one, other in ((a, b), (b, a))}
_CALLS = (
    ("min", "max"), ("minimum", "maximum"), ("sin", "cos"), ("any", "all"), ("idxmin", "idxmax"), ("argmin", "argmax"),
    ("floor", "ceil"),
)  # fmt: skip
CALLS = {one: other for a, b in _CALLS for one, other in ((a, b), (b, a))}
_WORDS = (
    "more less", "before after", "above below", "over under", "higher lower", "most least", "best worst", "better worse",
    "up down", "longer shorter", "longest shortest", "larger smaller", "largest smallest", "faster slower", "first last",
    "ahead behind", "port starboard", "within outside", "all none", "wider narrower", "deeper shallower", "with without",
    "cheapest dearest", "lightest heaviest", "never always", "every no", "nothing everything", "calmest roughest", "can cannot",
)  # fmt: skip
WORDS = {one: other for pair in _WORDS for one, other in (pair.split(), pair.split()[::-1])} | {
    "not": "", "only": "", "is": "is not", "are": "are not", "has": "has not", "have": "have not", "may": "may not",
}  # fmt: skip
_TURNED = re.compile(r"(?<![\w-])(?:(?P<number>\d+(?:\.\d+)?)(?![\w^])|(?P<word>[a-z]+)(?![\w-]))", re.IGNORECASE)
LONGEST = 240  # characters of what is told of a change
_WORKSPACE = ("at", "o", "column", "lane", "LANES")


class Site(NamedTuple):
    """A place that can be mutated: file, the how-manieth of its places, line, and what becomes of it."""

    file: str
    place: int
    line: int
    change: str

    @property
    def of_model(self) -> bool:
        """Whether it is of the kernels, which are tried interpreted."""
        return self.file.startswith("sweep/model/")


class Mutator(ast.NodeTransformer):
    """Walks the places of a module in order; changes the one that is asked for, and notes them all.

    words: mutate what is said, whole numbers and branches too.
    """

    def __init__(self, words: bool, wanted: int = -1) -> None:
        self.words, self.wanted = words, wanted
        self.found: list[tuple[int, str]] = []

    def here(self, node: ast.AST, change: str) -> bool:
        """Whether this place is the one to change."""
        self.found.append((getattr(node, "lineno", 0), " ".join(change.split())[:LONGEST]))
        return len(self.found) - 1 == self.wanted

    def visit_BinOp(self, node: ast.BinOp) -> ast.AST:
        self.generic_visit(node)
        swap = SWAPS.get(type(node.op))
        if swap and not _is_address(node) and not _is_union(node) and self.here(node, _swapped(node, node.op)):
            node.op = swap()
        return node

    def visit_Compare(self, node: ast.Compare) -> ast.AST:
        self.generic_visit(node)
        swap = SWAPS.get(type(node.ops[0]))
        if swap and self.here(node, _swapped(node, node.ops[0])):
            node.ops[0] = swap()
        return node

    def visit_BoolOp(self, node: ast.BoolOp) -> ast.AST:
        self.generic_visit(node)
        if self.here(node, _swapped(node, node.op)):
            node.op = SWAPS[type(node.op)]()
        return node

    def visit_Call(self, node: ast.Call) -> ast.AST:
        self.generic_visit(node)
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        if name in CALLS and self.here(node, f"{ast.unparse(node)}: {name} -> {CALLS[name]}"):
            if isinstance(node.func, ast.Attribute):
                node.func.attr = CALLS[name]
            elif isinstance(node.func, ast.Name):
                node.func.id = CALLS[name]
        return node

    def visit_Subscript(self, node: ast.Subscript) -> ast.AST:
        node.value = self.visit(node.value)
        if self.words:
            node.slice = self.visit(node.slice)
        return node

    def visit_UnaryOp(self, node: ast.UnaryOp) -> ast.AST:
        sign = isinstance(node.op, ast.USub) or (self.words and isinstance(node.op, ast.Not))
        if sign and self.here(node, f"{ast.unparse(node)}: {type(node.op).__name__} dropped"):
            self.generic_visit(node)
            return node.operand
        self.generic_visit(node)
        return node

    def visit_Constant(self, node: ast.Constant) -> ast.AST:
        value = node.value
        if self.words and isinstance(value, str):
            return self._text(node, value)
        numeric = isinstance(value, float) or (self.words and isinstance(value, int) and not isinstance(value, bool))
        if numeric and self.here(node, f"{value} -> {_other(value)}"):  # type: ignore[arg-type]
            return ast.copy_location(ast.Constant(_other(value)), node)  # type: ignore[arg-type]
        return node

    def _text(self, node: ast.Constant, text: str) -> ast.AST:
        for changed, change in turned(text):
            if self.here(node, change):
                return ast.copy_location(ast.Constant(changed), node)
        return node

    def visit_JoinedStr(self, node: ast.JoinedStr) -> ast.AST:
        self.generic_visit(node)
        values = [part for part in node.values if isinstance(part, ast.FormattedValue)]
        for one, other in pairwise(values):
            texts = [ast.unparse(each.value) for each in (one, other)]
            if self.words and texts[0] != texts[1] and self.here(node, f"{ast.unparse(node)}: {' and '.join(texts)} swapped"):
                one.value, other.value = other.value, one.value
        return node

    def visit_IfExp(self, node: ast.IfExp) -> ast.AST:
        self.generic_visit(node)
        if self.words and self.here(node, f"{ast.unparse(node)}: branches swapped"):
            node.body, node.orelse = node.orelse, node.body
        return node

    def visit_If(self, node: ast.If) -> ast.AST:
        if ast.unparse(node.test) in ("TYPE_CHECKING", "__name__ == '__main__'"):
            return node
        node.test = self._condition(node.test)
        node.body = [self.visit(part) for part in node.body]
        node.orelse = [self.visit(part) for part in node.orelse]
        return node

    def visit_comprehension(self, node: ast.comprehension) -> ast.AST:
        node.iter = self.visit(node.iter)
        node.ifs = [self._condition(each) for each in node.ifs]
        return node

    def _condition(self, test: ast.expr) -> ast.expr:
        """A condition, which is turned where no operator in it could be."""
        plain = self.words and not isinstance(test, ast.Compare | ast.BoolOp | ast.UnaryOp)
        text = ast.unparse(test)
        test = self.visit(test)
        return ast.UnaryOp(ast.Not(), test) if plain and self.here(test, f"if {text}: turned") else test

    def visit_List(self, node: ast.List) -> ast.AST:
        self.generic_visit(node)
        said = (ast.JoinedStr, ast.Starred, ast.IfExp)
        if self.words and any(isinstance(each, said) or _is_sentence(each) for each in node.elts):
            node.elts = [each for each in node.elts if not self.here(each, f"{ast.unparse(each)}: left out of the list")]
        return node

    def visit_Return(self, node: ast.Return) -> ast.AST:
        if isinstance(node.value, ast.Constant) and isinstance(node.value.value, bool):
            if self.words and self.here(node, f"{ast.unparse(node)}: turned"):
                node.value = ast.Constant(not node.value.value)
            return node
        self.generic_visit(node)
        return node

    def visit_Expr(self, node: ast.Expr) -> ast.AST:
        if isinstance(node.value, ast.Constant):  # a docstring
            return node
        self.generic_visit(node)
        if self.words and isinstance(node.value, ast.Yield) and self.here(node, f"{ast.unparse(node)}: left out"):
            node.value = ast.YieldFrom(ast.Tuple([], ast.Load()))
        return node

    def visit_FunctionDef(self, node: ast.FunctionDef) -> ast.AST:
        node.body = [self.visit(part) for part in node.body]
        return node

    def visit_AnnAssign(self, node: ast.AnnAssign) -> ast.AST:
        if node.value is not None:
            node.value = self.visit(node.value)
        return node


def turned(text: str) -> Iterator[tuple[str, str]]:
    """The text with one word or number of it changed, and what was; nothing of what is no piece of a sentence."""
    if not (" " in text and re.search("[A-Za-z]{2}", text)):
        return
    for match in _TURNED.finditer(text):
        word = match["word"] or ""
        other = str(int(match["number"]) + 1) if (match["number"] or "").isdigit() else WORDS.get(word.lower())
        if match["number"] and other is None:
            other = f"{float(match['number']) * 1.25:g}"
        if other is not None:
            other = other.capitalize() if word[:1].isupper() else other
            around = text[max(match.start() - 30, 0) : match.end() + 30]
            yield text[: match.start()] + other + text[match.end() :], f"'{around}': '{match[0]}' -> '{other}'"


def _swapped(node: ast.expr, operator: ast.AST) -> str:
    return f"{ast.unparse(node)}: {type(operator).__name__} -> {SWAPS[type(operator)].__name__}"


def _other(value: float) -> float:
    if isinstance(value, int):
        return value + 1
    return 1.0 if value == 0.0 else value * 1.25


def _is_sentence(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, str) and " " in node.value


def _is_union(node: ast.BinOp) -> bool:
    """Whether texts, lists or parts of a path are put together, which no other operator does."""
    if isinstance(node.op, ast.Div) and re.search("folder|path|root|top", ast.unparse(node.left), re.IGNORECASE):
        return True
    texts = (ast.List, ast.Tuple, ast.JoinedStr)
    return any(
        isinstance(part, texts) or (isinstance(part, ast.Constant) and isinstance(part.value, str))
        for part in (node.left, node.right)
    )


def _is_address(node: ast.AST) -> bool:
    """Whether this works out a slot of the workspace."""
    if isinstance(node, ast.Subscript):
        return False
    if isinstance(node, ast.Name) and node.id in _WORKSPACE:
        return True
    return any(_is_address(part) for part in ast.iter_child_nodes(node))


def modules(rooms: list[str]) -> list[Path]:
    """The modules of rooms, or single ones, named from `sweep` on: 'insight', 'report/headline'. Raises SystemExit."""
    found: list[Path] = []
    for room in rooms:
        top = ROOT / "sweep" / room
        paths = sorted(top.rglob("*.py")) if top.is_dir() else [top.with_suffix(".py")]
        if not all(path.is_file() for path in paths):
            raise SystemExit(f"no room or module of sweep: {room}")
        found += [path for path in paths if path.name not in LEFT_OUT and path not in found]
    return found


def sites(rooms: list[str]) -> list[Site]:
    """Every place of every module of some rooms."""
    found = []
    for path in modules(rooms):
        name = path.relative_to(ROOT).as_posix()
        walker = Mutator(words=not name.startswith("sweep/model/"))
        walker.visit(ast.parse(path.read_text(encoding="utf-8")))
        found += [Site(name, place, line, change) for place, (line, change) in enumerate(walker.found)]
    return found


def mutated(site: Site, text: str) -> str:
    """The text of its module, changed at one place."""
    tree = Mutator(not site.of_model, site.place).visit(ast.parse(text))
    return ast.unparse(ast.fix_missing_locations(tree)) + "\n"

"""The language of rules between factors: comparisons of arithmetic on addresses, `and`, `or`, `not`, `if ... then ...`.

A text is cut into numbers with their units, names and signs. Python's own parser orders these, and only the nodes that are
listed here are read: nothing of the text is ever run.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from functools import lru_cache
from typing import Any, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from sweep.campaign.text.dimensions import noun_of
from sweep.words.units import Unit, UnitError, from_unit, unit

Dimension: TypeAlias = frozenset[tuple[str, Fraction]]
Flags: TypeAlias = NDArray[np.bool_]
Values: TypeAlias = NDArray[Any]

SAME = 1e-9
"""Share by which two equal numbers may differ: what conversions and levels of a range leave (judgement)."""
LONGEST = 300
"""Characters of a rule (judgement)."""
FUNCTIONS = ("sum", "min", "max")
_KEYWORDS = ("and", "or", "not", "if", "then")
_WORD = r"[A-Za-z][A-Za-z0-9_-]*"
_TOKEN = re.compile(
    r"\s*(?:(?P<number>(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?)"
    r"(?:\s*(?!(?:and|or|not|then)\b)(?P<unit>[A-Za-z%°µ][^\s()<>=!,+]*))?"
    rf"|(?P<name>{_WORD}(?:\.(?:{_WORD}|\*))*)|'(?P<quoted>[^'\"]+)'|\"(?P<double>[^'\"]+)\""
    r"|(?P<sign><=|>=|==|!=|[-<>=+*/(),]))"
)
_COMPARED: dict[type[ast.cmpop], Callable[[Values, Values], Flags]] = {
    ast.LtE: lambda one, other: np.asarray((one < other) | _same(one, other)),
    ast.GtE: lambda one, other: np.asarray((one > other) | _same(one, other)),
    ast.Lt: lambda one, other: np.asarray((one < other) & ~_same(one, other)),
    ast.Gt: lambda one, other: np.asarray((one > other) & ~_same(one, other)),
    ast.Eq: lambda one, other: _same(one, other),
    ast.NotEq: lambda one, other: ~_same(one, other),
}
_RECKONED: dict[type[ast.operator], Callable[[Values, Values], Values]] = {
    ast.Add: np.add,
    ast.Sub: np.subtract,
    ast.Mult: np.multiply,
    ast.Div: np.divide,
}
_TAKEN: dict[str, Callable[[Values], Values]] = {
    "sum": lambda rows: np.asarray(rows.sum(axis=0)),
    "min": lambda rows: np.asarray(rows.min(axis=0)),
    "max": lambda rows: np.asarray(rows.max(axis=0)),
}


class RuleError(ValueError):
    """A rule that says nothing, with what was found and what would be right."""

    def __init__(self, wanted: str, found: str | None = None) -> None:
        self.wanted, self.found = wanted, found
        super().__init__(wanted)


class Meaning(NamedTuple):
    """What a name in a rule stands for: how many values, the dimension of a number (None of a word), and for a word a function
    that says what is wrong with one compared with it, '' if nothing."""

    values: int
    dimension: Dimension | None
    refuse: Callable[[str], str]


class Sentence(NamedTuple):
    """A rule as read: what it says, under which condition if there is one; names and numbers by their stand-ins."""

    premise: ast.expr | None
    claim: ast.expr
    names: dict[str, str]
    numbers: dict[str, tuple[float, Dimension]]


@lru_cache(maxsize=256)
def parsed(text: str) -> Sentence:
    """The sentence of a rule's text. Raises RuleError."""
    pieces, names, numbers = _pieces(text)
    if pieces[:1] != ["if"]:
        return Sentence(None, _tree(pieces, text), names, numbers)
    if pieces.count("then") != 1:
        raise RuleError("if ... then ..., with one `then`")
    at = pieces.index("then")
    return Sentence(_tree(pieces[1:at], text), _tree(pieces[at + 1 :], text), names, numbers)


def check(sentence: Sentence, meanings: Mapping[str, Meaning]) -> None:
    """See that a rule compares like with like; meanings: of its names, those that mean nothing left out. Raises RuleError."""
    checker = _Checker(sentence, meanings)
    for tree in (sentence.premise, sentence.claim):
        if tree is not None and checker.kind(tree) != "truth":
            raise RuleError("a comparison, with <, <=, ==, !=, >= or >")


def holds(sentence: Sentence, values: Mapping[str, Sequence[Values]]) -> Flags:
    """Whether designs keep a rule, (designs,); values: of each name that means something, an array (designs,) an address."""
    with np.errstate(divide="ignore", invalid="ignore"):
        kept = np.asarray(_value(sentence.claim, sentence, values), dtype=np.bool_)
        if sentence.premise is not None:
            kept = kept | ~np.asarray(_value(sentence.premise, sentence, values), dtype=np.bool_)
    return kept


def _pieces(text: str) -> tuple[list[str], dict[str, str], dict[str, tuple[float, Dimension]]]:
    """A text cut into pieces of Python: stand-ins for names (_n0 ...) and numbers (_q0 ...), keywords, signs."""
    pieces: list[str] = []
    names: dict[str, str] = {}
    numbers: dict[str, tuple[float, Dimension]] = {}
    text, at = text.rstrip(), 0
    while at < len(text):
        match = _TOKEN.match(text, at)
        if match is None:
            raise RuleError("addresses, numbers with units, + - * / ( ), comparisons, and, or, not, if ... then ...", text[at:])
        at = match.end()
        name = match["name"] or match["quoted"] or match["double"]
        if match["number"]:
            pieces.append(f"_q{len(numbers)}")
            numbers[pieces[-1]] = _number(match["number"], match["unit"] or "")
        elif name and (match["name"] is None or name not in (*_KEYWORDS, *FUNCTIONS)):
            pieces.append(f"_n{len(names)}")
            names[pieces[-1]] = name
        else:
            pieces.append(name or {"=": "=="}.get(match["sign"], match["sign"]))
    return pieces, names, numbers


def _number(number: str, unit_text: str) -> tuple[float, Dimension]:
    try:
        return from_unit(number, unit_text), unit(unit_text).dimension
    except UnitError:
        raise RuleError("a unit without spaces in it, and spaces about + - * /", f"{unit_text!r}, which is no unit") from None


def _tree(pieces: list[str], text: str) -> ast.expr:
    try:
        return ast.parse(" ".join(pieces), mode="eval").body
    except (SyntaxError, ValueError, RecursionError, MemoryError):
        example = "sum(foils.*.area) <= 200 cm^2, or if rangefinders.count == 2 then rangefinders.layout == bow"
        raise RuleError(f"a comparison, such as {example}", repr(text)) from None


class _Checker:
    """Finds what each part of a rule is: a dimension, "truth", or the name of a word."""

    def __init__(self, sentence: Sentence, meanings: Mapping[str, Meaning]) -> None:
        self.sentence, self.meanings = sentence, meanings

    def kind(self, node: ast.expr) -> Dimension | str:
        """The dimension of a number, "truth", or of a word its name; raises RuleError for what is neither."""
        if isinstance(node, ast.Name):
            return self._of_name(node.id)
        if isinstance(node, ast.Call):
            return self._of_call(node)
        if isinstance(node, ast.Compare):
            return self._of_comparison(node)
        if isinstance(node, ast.BoolOp):
            return self._truths(node.values)
        if isinstance(node, ast.UnaryOp):
            return self._truths([node.operand]) if isinstance(node.op, ast.Not) else self._number(node.operand)
        if isinstance(node, ast.BinOp) and type(node.op) in _RECKONED:
            return self._of_arithmetic(node)
        raise RuleError("comparisons of sums, differences, products and ratios of addresses and numbers")

    def _of_name(self, stand_in: str) -> Dimension | str:
        if stand_in in self.sentence.numbers:
            return self.sentence.numbers[stand_in][1]
        name = self.sentence.names.get(stand_in, stand_in)
        meaning = self.meanings.get(name)
        if meaning is None or meaning.dimension is None:
            return name
        if meaning.values != 1:
            raise RuleError(f"sum({name}), min({name}) or max({name})", f"{name!r}, which is {meaning.values} numbers")
        return meaning.dimension

    def _of_call(self, node: ast.Call) -> Dimension | str:
        function = node.func.id if isinstance(node.func, ast.Name) else ""
        if function not in FUNCTIONS or not node.args or node.keywords:
            raise RuleError("sum(...), min(...) or max(...) of addresses")
        kinds = [self._in_call(each) for each in node.args]
        other = next((kind for kind in kinds if kind != kinds[0]), None)
        if other is not None:
            raise RuleError(f"{function} of numbers of one kind", self._unlike(kinds[0], other))
        return kinds[0]

    def _in_call(self, node: ast.expr) -> Dimension | str:
        if isinstance(node, ast.Name) and (meaning := self.meanings.get(self.sentence.names.get(node.id, ""))):
            return self._number(node) if meaning.dimension is None else meaning.dimension
        return self._number(node)

    def _of_arithmetic(self, node: ast.BinOp) -> Dimension:
        left, right = self._number(node.left), self._number(node.right)
        if isinstance(node.op, ast.Mult | ast.Div):
            sign = 1 if isinstance(node.op, ast.Mult) else -1
            powers = dict(left)
            for name, power in right:
                powers[name] = powers.get(name, Fraction(0)) + sign * power
            return frozenset((name, power) for name, power in powers.items() if power)
        if left != right:
            raise RuleError("a sum or difference of numbers of one kind", self._unlike(left, right))
        return left

    def _of_comparison(self, node: ast.Compare) -> str:
        sides = [node.left, *node.comparators]
        for one, other, sign in zip(sides, sides[1:], node.ops, strict=False):
            kinds = self.kind(one), self.kind(other)
            if any(isinstance(kind, str) for kind in kinds):
                self._words(kinds, sign)
            elif kinds[0] != kinds[1]:
                raise RuleError("numbers of one kind on both sides", self._unlike(*kinds))
        return "truth"

    def _words(self, kinds: tuple[Dimension | str, Dimension | str], sign: ast.cmpop) -> None:
        """See that a word is compared with a word that can stand there."""
        known = [kind for kind in kinds if isinstance(kind, str) and kind in self.meanings]
        unknown = [kind for kind in kinds if isinstance(kind, str) and kind not in self.meanings]
        if unknown and not known:
            raise RuleError("an address in the craft, or the name of a factor", f"{unknown[0]!r}, which is neither")
        if not isinstance(sign, ast.Eq | ast.NotEq) or len(known) + len(unknown) != 2 or "truth" in kinds:
            raise RuleError(f"{known[0]} == or != one of its words" if known else "a comparison of two numbers or two words")
        if any(self.meanings[name].values != 1 for name in known):
            raise RuleError("the address of one word")
        for word in unknown:
            if refusal := self.meanings[known[0]].refuse(word):
                raise RuleError(refusal, repr(word))

    def _number(self, node: ast.expr) -> Dimension:
        kind = self.kind(node)
        if isinstance(kind, str):
            what = "a comparison" if kind == "truth" else repr(kind)
            raise RuleError("a number, or an address or a factor that is one", what)
        return kind

    def _truths(self, nodes: Sequence[ast.expr]) -> str:
        if any(self.kind(node) != "truth" for node in nodes):
            raise RuleError("comparisons beside and, or and not")
        return "truth"

    def _unlike(self, one: Dimension | str, other: Dimension | str) -> str:
        kinds = (kind if isinstance(kind, str) else noun_of(Unit(Fraction(1), Fraction(0), kind)) for kind in (one, other))
        return " and ".join(kinds)


def _value(node: ast.expr, sentence: Sentence, values: Mapping[str, Sequence[Values]]) -> Values:
    """The value of a checked part of a rule, of every design or of all alike."""
    if isinstance(node, ast.Name):
        return _several(node, sentence, values)[0]
    if isinstance(node, ast.Call):
        assert isinstance(node.func, ast.Name)
        rows = [row for each in node.args for row in _several(each, sentence, values)]
        return _TAKEN[node.func.id](np.stack(np.broadcast_arrays(*rows)))
    if isinstance(node, ast.Compare):
        sides = [_value(side, sentence, values) for side in (node.left, *node.comparators)]
        pairs = [_COMPARED[type(sign)](*pair) for sign, *pair in zip(node.ops, sides, sides[1:], strict=False)]
        return np.asarray(np.logical_and.reduce(np.broadcast_arrays(*pairs)))
    if isinstance(node, ast.BoolOp):
        parts = np.broadcast_arrays(*(_value(each, sentence, values) for each in node.values))
        return np.asarray((np.logical_and if isinstance(node.op, ast.And) else np.logical_or).reduce(parts))
    if isinstance(node, ast.UnaryOp):
        inner = _value(node.operand, sentence, values)
        return np.asarray(~inner if isinstance(node.op, ast.Not) else inner if isinstance(node.op, ast.UAdd) else -inner)
    assert isinstance(node, ast.BinOp)
    return _RECKONED[type(node.op)](_value(node.left, sentence, values), _value(node.right, sentence, values))


def _several(node: ast.expr, sentence: Sentence, values: Mapping[str, Sequence[Values]]) -> Sequence[Values]:
    """The values of a part, one an address where it is a name of several."""
    if not isinstance(node, ast.Name):
        return [_value(node, sentence, values)]
    if node.id in sentence.numbers:
        return [np.asarray(sentence.numbers[node.id][0])]
    name = sentence.names[node.id]
    return values.get(name) or [np.asarray(name, dtype=object)]


def _same(one: Values, other: Values) -> Flags:
    if one.dtype == object or other.dtype == object:
        return np.asarray(one == other, dtype=np.bool_)
    return np.asarray(np.abs(one - other) <= SAME * np.maximum(np.abs(one), np.abs(other)))

"""Templates and the values that they read: a template reads what its value has, all of it, and reckons nothing.

No type checker looks into a template, so this does: every attribute is followed through the types of the pages.
"""

from __future__ import annotations

import ast
import inspect
import sys
import types
from collections.abc import Iterator
from dataclasses import is_dataclass
from pathlib import Path
from typing import Any, Union, get_args, get_origin, get_type_hints

import pytest
from jinja2 import nodes
from markupsafe import Markup

from sweep.report import pages as pages_package
from sweep.report import publishing, reference_pages, single_flight
from sweep.report.display import Column
from sweep.report.log_summary import LogSummary
from sweep.report.pages.causes import Troubles
from sweep.report.pages.frame import Frame
from sweep.report.pages.ride import Ride
from sweep.report.pages.standings import ScriptColumn

TEMPLATES = publishing.page_templates()
NOT_KNOWN_THERE = {"Markup": Markup, "Ride": Ride, "Troubles": Troubles}
"""Types that modules of pages import for the type checker only."""
MEANT_FOR_MORE = {LogSummary, Column, ScriptColumn}
"""Read by other readers too: the file of kept logs, the charts, a page's script."""
FILTERS = {"join", "soft", "loose"}
RECKONING = (nodes.BinExpr, nodes.Neg, nodes.Pos, nodes.Concat)
"""`and` and `or` are binary too, and only choose what is shown."""
MACROS = {"parts", "drawing"}


def value_of(make: object) -> type:
    """The one class of a module of pages that is a page."""
    module = inspect.getmodule(make)
    (found,) = (kind for name, kind in vars(module).items() if name.endswith("Page") and kind.__module__ == module.__name__)
    return found


VALUES: dict[str, type] = {
    **{page.file: value_of(page.make) for page in publishing.PAGES},
    **{f"{name}.html": value_of(make) for name, make in publishing.DESIGN_PAGES.items()},
    "flight.html": single_flight.FlightPage,
    "reference.html": reference_pages.ReferencePage,
}


def plain(kind: Any) -> Any:
    """A type without its None."""
    if get_origin(kind) in (Union, types.UnionType):
        (first, *_) = (each for each in get_args(kind) if each is not type(None))
        return first
    return kind


def is_record(kind: Any) -> bool:
    return isinstance(kind, type) and (is_dataclass(kind) or hasattr(kind, "_fields"))


def fields(kind: type) -> dict[str, Any]:
    return {name: plain(each) for name, each in get_type_hints(kind, localns=NOT_KNOWN_THERE).items()}


def elements(kind: Any) -> Any:
    """Of what a list or a tuple of any length is; of a record or a pair: a tuple of types."""
    if is_record(kind):
        return tuple(fields(kind).values())
    inner = get_args(kind)
    if get_origin(kind) is tuple and inner[1:] != (...,):
        return inner
    return inner[0] if inner else None


class Reader:
    """Follows a template; `read` holds every (type, field) that it reads."""

    def __init__(self) -> None:
        self.read: set[tuple[type, str]] = set()
        self.imported: dict[str, str] = {}
        self.file = ""

    def template(self, name: str, known: dict[str, Any]) -> None:
        self.visit(parsed(name), dict(known))

    def macro(self, file: str, node: nodes.Call, known: dict[str, Any]) -> None:
        """A macro with what it is given, and those of its own file that it calls."""
        name = node.node.name if isinstance(node.node, nodes.Name) else node.node.attr
        for macro in parsed(file).find_all(nodes.Macro):
            if macro.name == name:
                given = {each.name: self.kind(value, known) for each, value in zip(macro.args, node.args, strict=False)}
                outer, self.file = self.file, file
                for child in macro.body:
                    self.visit(child, given)
                self.file = outer

    def kind(self, node: nodes.Node, known: dict[str, Any]) -> Any:
        if isinstance(node, nodes.Name):
            return known.get(node.name)
        if isinstance(node, nodes.Getattr):
            owner = self.kind(node.node, known)
            if not is_record(owner):
                return None
            has = fields(owner)
            assert node.attr in has or isinstance(getattr(owner, node.attr, None), property), f"{owner.__name__}.{node.attr}"
            self.read.add((owner, node.attr))
            return has.get(node.attr)
        if isinstance(node, nodes.Getitem):
            return elements(self.kind(node.node, known))
        return None

    def visit(self, node: nodes.Node, known: dict[str, Any]) -> None:
        if isinstance(node, nodes.Macro):
            return
        if isinstance(node, nodes.Import):
            self.imported[node.target] = node.template.value
        elif isinstance(node, (nodes.Include, nodes.Extends)):
            self.template(node.template.value, known)
        elif isinstance(node, nodes.Assign):
            known[node.target.name] = self.kind(node.node, known)
        elif isinstance(node, nodes.Getattr):
            self.kind(node, known)
        elif isinstance(node, nodes.Call):
            file = self.file if isinstance(node.node, nodes.Name) else self.imported.get(node.node.node.name, self.file)
            if file:
                self.macro(file, node, known)
        if isinstance(node, nodes.For):
            known = known | self.bound(node.target, elements(self.kind(node.iter, known)))
        for child in node.iter_child_nodes():
            self.visit(child, known)

    def bound(self, target: nodes.Node, kind: Any) -> dict[str, Any]:
        if isinstance(target, nodes.Name):
            return {target.name: kind}
        parts = elements(kind)
        if is_record(kind):
            self.read |= {(kind, name) for name in fields(kind)}
        if not isinstance(parts, tuple):
            return dict.fromkeys((name.name for name in target.items), parts)
        assert len(parts) == len(target.items), f"{len(target.items)} names for {len(parts)} parts of {kind}"
        return {name.name: plain(part) for name, part in zip(target.items, parts, strict=True)}


def parsed(name: str) -> nodes.Template:
    return TEMPLATES.parse((publishing.sources() / "templates" / name).read_text(encoding="utf-8"))


def names() -> list[str]:
    return sorted(path.name for path in (publishing.sources() / "templates").iterdir())


def reached(kind: Any) -> Iterator[type]:
    """The records in a type, itself among them."""
    if is_record(kind) and kind not in MEANT_FOR_MORE:
        yield kind
        for each in fields(kind).values():
            yield from reached(each)
    for each in get_args(kind):
        yield from reached(each)


def test_templates_read_what_their_values_have_and_all_of_it() -> None:
    reader = Reader()
    for name, kind in VALUES.items():
        reader.template(name, {"page": kind, "frame": Frame})
    wanted = {kind for value in VALUES.values() for kind in reached(value)} | {Frame}
    all_ = {(kind, field) for kind in wanted for field in fields(kind)}
    assert {f"{kind.__name__}.{field}" for kind, field in all_ - reader.read} == set()


def test_a_reader_finds_what_is_wrong() -> None:
    reader = Reader()
    wrong = TEMPLATES.parse("{% for link in frame.pages %}{{ link.name }}{% endfor %}")
    with pytest.raises(AssertionError, match=r"Link\.name"):
        reader.visit(wrong, {"frame": Frame})
    with pytest.raises(AssertionError, match="3 names for 2 parts"):
        reader.visit(TEMPLATES.parse("{% for a, b, c in frame.pages %}{% endfor %}"), {"frame": Frame})


@pytest.mark.parametrize("name", names())
def test_a_template_reckons_nothing(name: str) -> None:
    tree = parsed(name)
    reckoned = [node for kind in RECKONING for node in tree.find_all(kind) if not isinstance(node, (nodes.And, nodes.Or))]
    assert [node for node in reckoned if not is_name_in_parts(name, node)] == []
    assert {node.name for node in tree.find_all(nodes.Filter)} <= FILTERS
    for call in tree.find_all(nodes.Call):
        called = call.node
        assert isinstance(called, nodes.Name) or called.node.name in MACROS, f"it calls {called.attr}"


def is_name_in_parts(name: str, node: nodes.Node) -> bool:
    """Whether it is the name of a chart's element with an ending, which the charts' script looks for."""
    return name == "parts.html" and isinstance(node, nodes.Concat)


@pytest.mark.parametrize("path", sorted(Path(pages_package.__path__[0]).glob("*.py")), ids=lambda path: path.stem)
def test_no_page_is_a_mapping_of_anything(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    found = [ast.unparse(node) for node in ast.walk(tree) if isinstance(node, ast.Subscript)]
    assert "dict[str, Any]" not in found


def test_every_page_says_what_it_answers() -> None:
    for kind in {each for page in VALUES.values() for each in reached(page)}:
        assert kind.__doc__, kind
        assert not kind.__doc__.startswith(f"{kind.__name__}("), f"{kind.__name__} has the docstring that was made for it"
        assert sys.modules[kind.__module__]
        if is_dataclass(kind):
            assert kind.__dataclass_params__.frozen, kind

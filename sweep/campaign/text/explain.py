"""Validation errors of pydantic as problems of the file: place, what was found, what would be right."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable
from types import UnionType
from typing import Any, TypeAlias, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from sweep.campaign.text.dimensions import Kind, OneOrMore, Whole
from sweep.campaign.text.document import Document
from sweep.campaign.text.problems import Problem
from sweep.campaign.text.shapes import bare, fields, metadata, tags, type_at
from sweep.words.phrases import listed
from sweep.words.units import UnitError, quantity, split

Path: TypeAlias = tuple[str | int, ...]

_BOUNDS = {
    "greater_than": ("more than", "gt"),
    "greater_than_equal": ("at least", "ge"),
    "less_than": ("less than", "lt"),
    "less_than_equal": ("at most", "le"),
}


def problems_of(error: ValidationError, document: Document, annotation: Any, below: Path = ()) -> list[Problem]:
    """All errors of one validation; the validated value is at `below` in the document."""
    details = error.errors(include_url=False)
    return [_problem(detail, document, annotation, below) for detail in details if not _follows(detail, details)]


def reason(error: ValidationError) -> tuple[str, str]:
    """Where the first error of a validation is, and what would be right there."""
    detail = error.errors(include_url=False)[0]
    address = ".".join(map(str, (*detail["loc"], *detail.get("ctx", {}).get("at", ()))))
    return address, _wanted(detail, "")


def _follows(detail: ErrorDetails, others: list[ErrorDetails]) -> bool:
    """Whether the error only says that a list is too short once its wrong entries are left out."""
    depth = len(detail["loc"])
    return detail["type"] == "too_short" and any(
        len(other["loc"]) > depth and other["loc"][:depth] == detail["loc"] for other in others
    )


def nearest(word: object, words: Iterable[str], most: int = 3) -> list[str]:
    """The words that are spelt most like one."""
    return difflib.get_close_matches(str(word), list(words), n=most, cutoff=0.55)


def _problem(detail: ErrorDetails, document: Document, annotation: Any, below: Path) -> Problem:
    context: dict[str, Any] = detail.get("ctx", {})
    location = detail["loc"]
    full = (*below, *location, *context.get("at", ()), *(("kind",) if detail["type"] == "union_tag_invalid" else ()))
    kind = detail["type"]
    if kind == "missing":
        return _missing(document, full, annotation, location)
    if kind == "extra_forbidden":
        return _unknown_key(document, full, annotation, location)
    if location and location[-1] == "[key]":
        place = document.place(full)
        key = place.key or place.node
        return Problem(document.file, key.line, key.column, place.address, f"the key {key.text!r}", _wanted(detail, key.text))
    if kind == "union_tag_not_found":
        return document.problem(full, f"a kind: one of {', '.join(tags(type_at(annotation, location)))}", "no kind")
    if kind in _TYPES:
        return document.problem(full, described(annotation, location))
    if kind == "string_pattern_mismatch" and "\\." in context["pattern"] and (about := _about(annotation, location)):
        return document.problem(full, about)
    if kind in _BOUNDS and (share := _share(annotation, location)):
        said, bound = _BOUNDS[kind]
        if (parts := split(document.place(full).node.text)) and not parts[1]:
            return document.problem(full, f"{said} {quantity(context[bound], share)}")
    return document.problem(full, _wanted(detail, document.place(full).node.text), context.get("found"))


def _missing(document: Document, full: Path, annotation: Any, location: Path) -> Problem:
    place = document.place(full)
    name = str(location[-1])
    address = f"{place.address}.{name}" if place.address else name
    wanted = described(annotation, location)
    return Problem(document.file, place.spot.line, place.spot.column, address, f"no {name}", wanted)


def described(annotation: Any, location: Path) -> str:
    """What belongs at a location of a model."""
    noun, about = _noun(type_at(annotation, location)), _about(annotation, location)
    return f"{noun} ({about})" if about else noun


def _about(annotation: Any, location: Path) -> str:
    """The description of a key; '' if it has none."""
    model = bare(type_at(annotation, location[:-1]))
    known = getattr(model, "model_fields", {}).items() if location else ()
    return next((field.description or "" for key, field in known if location[-1] in (key, field.alias)), "")


def _share(annotation: Any, location: Path) -> str:
    """'%' where a share belongs, which may be written as a bare number."""
    kinds = (item for item in metadata(type_at(annotation, location)) if isinstance(item, Kind))
    return next((kind.units[0] for kind in kinds if kind.plain and kind.units[:1] == ("%",)), "")


def _noun(annotation: Any) -> str:
    for item in metadata(annotation):
        if isinstance(item, Kind):
            return item.wanted()
        if isinstance(item, Whole):
            return item.noun
    model = bare(annotation)
    if get_origin(model) in (Union, UnionType) and (kinds := tags(model)):
        named = any("kind" in getattr(bare(member), "model_fields", {}) for member in get_args(model))
        return f"a mapping with a kind: one of {', '.join(kinds)}" if named else "a path, or a mapping"
    if isinstance(model, type) and issubclass(model, BaseModel):
        return f"a mapping of {listed((name for name, _ in fields(model)), 'and')}"
    if get_origin(model) is tuple:
        one = _noun(get_args(model)[0])
        return (
            f"{one}, or a list of them"
            if any(isinstance(item, OneOrMore) for item in metadata(annotation))
            else f"a list, each {one}"
        )
    return _NOUNS.get(get_origin(model) or model, "a value")


def _unknown_key(document: Document, full: Path, annotation: Any, location: Path) -> Problem:
    place = document.place(full)
    key = place.key or place.node
    model = bare(type_at(annotation, location[:-1]))
    known = [name for name, _ in fields(model)] if isinstance(model, type) and issubclass(model, BaseModel) else []
    why = getattr(model, "not_here", {}).get(str(location[-1]))
    near = nearest(location[-1], known) if why is None else []
    others = f"one of {', '.join(known)}" if len(known) > 1 else f"only {', '.join(known)}"
    wanted = f"a known key, perhaps {listed(near)}" if near else others
    name, colon, value = key.text.partition(":")
    if colon and value and name in known:
        wanted = f"a space after the colon: {name}: {value}"
    if group := _dedented(document, location, model, key.line):
        wanted = f"it further in: {key.text} stands in {group}, with the indent of its other keys"
    wanted = getattr(model, "instead", {}).get(str(location[-1]), wanted)
    found = f"the unknown key {key.text!r}" if why is None else f"{key.text!r}, {why}"
    return Problem(document.file, key.line, key.column, place.address, found, wanted)


def _dedented(document: Document, location: Path, model: Any, line: int) -> str:
    """The group before a line whose key it is; '' if no group beside it has such a key."""
    held = document.plain(location[:-1])
    found = ""
    for name, below in fields(model) if isinstance(model, type) and issubclass(model, BaseModel) else ():
        inner = bare(below)
        knows = isinstance(inner, type) and issubclass(inner, BaseModel) and str(location[-1]) in dict(fields(inner))
        place = document.place((*location[:-1], name))
        if knows and isinstance(held, dict) and isinstance(held.get(name), dict) and place.key and place.key.line < line:
            found = name
    return found


def _wanted(detail: ErrorDetails, text: str) -> str:
    kind = detail["type"]
    context: dict[str, Any] = detail.get("ctx", {})
    if kind in _BOUNDS:
        words, key = _BOUNDS[kind]
        return f"{words} {_bound(context[key], text)}"
    say = _SENTENCES.get(kind)
    return say(context) if say else detail["msg"].removeprefix("Value error, ")


def _bound(limit: float, text: str) -> str:
    """A bound, in the unit that the file wrote."""
    parts = split(text)
    try:
        return quantity(limit, parts[1]) if parts and parts[1] else str(limit)
    except UnitError:
        return str(limit)


def _entries(count: int) -> str:
    return "1 entry" if count == 1 else f"{count} entries"


def _tags(context: dict[str, Any]) -> str:
    return f"a kind: one of {context['expected_tags'].replace(chr(39), '')}"


_MAPPING = "a mapping (key: value)"
_NOUNS: dict[Any, str] = {str: "text (in quotes, if it looks like a number)", dict: _MAPPING}
_TYPES = {"string_type", "model_type", "model_attributes_type", "dict_type", "tuple_type", "list_type"}
_SENTENCES: dict[str, Callable[[dict[str, Any]], str]] = {
    "literal_error": lambda context: context["expected"],
    "string_type": lambda context: _NOUNS[str],
    "string_too_short": lambda context: "text that is not empty",
    "string_too_long": lambda context: f"at most {context['max_length']} characters",
    "string_pattern_mismatch": lambda context: (
        f"a name of letters, digits,{' spaces,' if ' ' in context['pattern'] else ''} - and _ that begins with a letter"
    ),
    "too_short": lambda context: f"at least {_entries(context['min_length'])}",
    "too_long": lambda context: f"at most {_entries(context['max_length'])}",
    "union_tag_invalid": _tags,
}

"""Addresses in a craft's description, such as foils.port.area: which exist, and how to put values there."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel, TypeAdapter, ValidationError

from sweep.campaign.craft import Craft
from sweep.campaign.text.base import AtReading
from sweep.campaign.text.dimensions import Kind, Whole
from sweep.campaign.text.explain import nearest
from sweep.campaign.text.shapes import bare, fields, metadata, step_into, type_at

_SI = {"si": True}


@dataclass(frozen=True)
class Leaf:
    """One value of a craft that a factor may change: its address, and the same with * for the names of parts."""

    address: str
    pattern: str
    annotation: Any

    @property
    def kind(self) -> Literal["number", "count", "word"]:
        """The value here."""
        notes = list(metadata(self.annotation))
        if any(isinstance(note, Kind) for note in notes):
            return "number"
        return "count" if any(isinstance(note, Whole) for note in notes) else "word"

    @cached_property
    def adapter(self) -> TypeAdapter[Any]:
        """The validator of a value for this place."""
        return TypeAdapter(self.annotation)


def leaves(description: Any) -> dict[str, Leaf]:
    """Every address in a craft's description, valid or not."""
    return {leaf.address: leaf for leaf in _walk(Craft, description, (), ())}


def _walk(annotation: Any, data: Any, path: tuple[str, ...], pattern: tuple[str, ...]) -> Iterator[Leaf]:
    model = bare(annotation)
    if isinstance(model, type) and issubclass(model, BaseModel):
        if data is None and type(None) in get_args(annotation):
            return  # a group that this craft does not have
        for name, below in fields(model):
            if any(isinstance(note, AtReading) for note in metadata(below)):
                continue
            inner = data.get(name) if isinstance(data, dict) else None
            yield from _walk(below, inner, (*path, name), (*pattern, name))
    elif get_origin(model) is dict:
        for name in [name for name in data if isinstance(name, str)] if isinstance(data, dict) else []:
            yield from _walk(step_into(model, name), data[name], (*path, name), (*pattern, "*"))
    elif get_origin(model) is not tuple and len(path) > 1:  # the craft's own name is not a choice
        yield Leaf(".".join(path), ".".join(pattern), annotation)


def is_read_once(address: str) -> bool:
    """Whether a key of a craft file is one that becomes others as it is read, which no factor may address."""
    steps = tuple(address.split("."))
    notes = (note for depth in range(1, len(steps) + 1) for note in metadata(type_at(Craft, steps[:depth])))
    return any(isinstance(note, AtReading) for note in notes)


def matches(pattern: str, known: Mapping[str, Leaf]) -> list[str]:
    """The addresses that match a pattern; * matches any one step."""
    steps = pattern.split(".")
    return [address for address in known if _fits(steps, address.split("."))]


def _fits(pattern: list[str], steps: list[str]) -> bool:
    return len(pattern) == len(steps) and all(want in ("*", step) for want, step in zip(pattern, steps, strict=True))


def near(pattern: str, known: Mapping[str, Leaf]) -> list[str]:
    """The addresses nearest to one that matches nothing; of a group, those inside it."""
    steps = pattern.split(".")
    below = [address for address in known if _fits(steps, address.split(".")[: len(steps)])]
    patterns = dict.fromkeys(leaf.pattern for leaf in known.values())
    return below[:4] or nearest(pattern, [*patterns] if "*" in pattern else [*known], most=4)


def value_at(craft: Craft, address: str) -> Any:
    """The craft's value at an address; None in a group that the craft does not have."""
    value: Any = craft
    for step in address.split("."):
        if value is None:
            return None
        value = value[step] if isinstance(value, dict) else getattr(value, step)
    return value


def replace_values(craft: Craft, values: Mapping[str, float | int | str | None]) -> Craft:
    """The craft with other values, SI, at some addresses. Raises pydantic's ValidationError if there is no such craft.

    Only the parts that hold a change are read again; the others are those of the craft.
    """
    if not values:
        return craft
    changes = _nested(values)
    try:
        changed: Craft = _changed(craft, changes)
    except ValidationError:  # it knows the address within its part only: the whole craft says it all
        changed = Craft.model_validate(_described(craft, changes), context=_SI)
    return changed


def with_numbers(craft: Craft, values: Mapping[str, float | int | str | None]) -> Craft:
    """As `replace_values`, of numbers at addresses that hold numbers, in a fifth of the time; there may be no such craft."""
    changed: Craft = _changed(craft, _nested(values), checked=False)
    return changed


def _nested(values: Mapping[str, Any]) -> dict[str, Any]:
    """Values by address as changes by name, group in group."""
    changes: dict[str, Any] = {}
    for address, value in values.items():
        *path, last = address.split(".")
        group = changes
        for step in path:
            group = group.setdefault(step, {})
        group[last] = value
    return changes


def _changed(part: Any, changes: Mapping[str, Any], checked: bool = True) -> Any:
    """A part, or parts by name, with other values in it: a change is a value, or again changes by name."""
    fields = part if isinstance(part, dict) else vars(part)
    below = {
        name: _changed(fields[name], change, checked) if isinstance(change, dict) else change
        for name, change in changes.items()
    }
    if isinstance(part, dict):
        return {**fields, **below}
    return type(part).model_validate({**fields, **below}, context=_SI) if checked else part.model_copy(update=below)


def _described(craft: Craft, changes: Mapping[str, Any]) -> dict[str, Any]:
    """The description of the craft with the changes in it, valid or not."""
    description = craft.model_dump()
    below = [(description, changes)]
    while below:
        group, changed = below.pop()
        for name, change in changed.items():
            if isinstance(change, dict):
                below.append((group[name], change))
            else:
                group[name] = change
    return description

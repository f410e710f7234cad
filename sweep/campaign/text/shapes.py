"""The shape of the files' models: which type is at a location, and which keys it has."""

from __future__ import annotations

from collections.abc import Iterator
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel, Tag

from sweep.campaign.text.base import Filled


def step_into(annotation: Any, step: str | int) -> Any:
    """The type one step below, or None; a union's tag leads to its member."""
    if isinstance(model := bare(annotation), type) and issubclass(model, BaseModel):
        return dict(fields(model)).get(str(step))
    origin, arguments = get_origin(model), get_args(model)
    if origin is dict:
        return arguments[1]
    if origin in (tuple, list) and isinstance(step, int):
        return arguments[0]
    if origin in (Union, UnionType):
        return next((member for member in arguments if step in tags(member)), None) or _first(arguments, step)
    return None


def type_at(annotation: Any, location: tuple[str | int, ...]) -> Any:
    """The type at a location, or None where the models know none."""
    for step in location:
        annotation = step_into(annotation, step)
    return annotation


def bare(annotation: Any) -> Any:
    """A type without its metadata, and without None in its union."""
    while get_origin(annotation) is Annotated:
        annotation = get_args(annotation)[0]
    if get_origin(annotation) in (Union, UnionType):
        members = [member for member in get_args(annotation) if member is not NoneType]
        return bare(members[0]) if len(members) == 1 else annotation
    return annotation


def metadata(annotation: Any) -> Iterator[Any]:
    """All metadata of a type, at any depth of Annotated and in a union with None."""
    if get_origin(annotation) is Annotated:
        inner, *outer = get_args(annotation)
        yield from outer
        yield from metadata(inner)
    elif get_origin(annotation) in (Union, UnionType):
        for member in get_args(annotation):
            yield from metadata(member)


def fields(model: type[BaseModel]) -> Iterator[tuple[str, Any]]:
    """The keys of a model that files may write, each with its full type."""
    for name, field in model.model_fields.items():
        if any(isinstance(note, Filled) for note in field.metadata):
            continue
        full = Annotated[(field.annotation, *field.metadata)] if field.metadata else field.annotation
        yield field.alias or name, full


def tags(annotation: Any) -> list[str]:
    """The values of `kind` of a model or of a union of models."""
    found = [item.tag for item in metadata(annotation) if isinstance(item, Tag)]
    model = bare(annotation)
    if get_origin(model) in (Union, UnionType):
        found += [tag for member in get_args(model) for tag in tags(member)]
    elif isinstance(model, type) and issubclass(model, BaseModel) and "kind" in model.model_fields:
        kind = model.model_fields["kind"].annotation
        found += get_args(kind) if get_origin(kind) is Literal else ()
    return list(dict.fromkeys(found))


def _first(members: tuple[Any, ...], step: str | int) -> Any:
    return next((found for member in members if (found := step_into(member, step)) is not None), None)

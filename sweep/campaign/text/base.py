"""What the groups of a file have in common."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationInfo
from pydantic_core import CoreSchema, PydanticOmit, core_schema

Name = Annotated[str, Field(pattern=r"^[A-Za-z][A-Za-z0-9_-]*$", max_length=40)]
"""Of a part of a craft, as a file writes it."""


class Part(BaseModel):
    """A group of the craft's description: unknown keys are errors, values do not change."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)


def set_beside(model: BaseModel, known: Collection[str]) -> dict[str, Any]:
    """What of a model is not at its default, but for the fields that are known: by name."""
    fields = type(model).model_fields
    beside = {name: getattr(model, name) for name in fields if name not in known}
    return {name: value for name, value in beside.items() if value != fields[name].get_default(call_default_factory=True)}


def of_a_file(info: ValidationInfo) -> bool:
    """Whether the values come from a file, and not from another craft."""
    return not (info.context and info.context.get("si"))


@dataclass(frozen=True, eq=False)
class ShortForm:
    """Metadata of a group that a file may write shorter: `read` makes the group's keys of it, `schema` describes it."""

    read: Callable[[object], object]
    schema: dict[str, Any]

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_before_validator_function(self.read, handler(source))

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return {"anyOf": [self.schema, handler(schema)]}


class OneOf:
    """Metadata of a word that a file chooses: one of those that a table holds."""

    def __init__(self, words: Iterable[str]) -> None:
        self.words = list(words)

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.literal_schema(self.words)


class AtReading:
    """Marks a key that a file may write instead of others. They are worked out as it is read, and nothing else addresses it."""


class Filled:
    """Marks a key that no file writes; editors, addresses and messages do not know it."""

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: Any) -> dict[str, Any]:
        raise PydanticOmit

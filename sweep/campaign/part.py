"""What the groups of a file have in common."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationInfo
from pydantic_core import CoreSchema, PydanticOmit


class Part(BaseModel):
    """A group of the craft's description: unknown keys are errors, values do not change."""

    model_config = ConfigDict(frozen=True, extra="forbid")


def of_a_file(info: ValidationInfo) -> bool:
    """Whether a file is read, and not a craft made from another one."""
    return not (info.context and info.context.get("si"))


class Filled:
    """Marks a key that no file writes; editors, addresses and messages do not know it."""

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: Any) -> dict[str, Any]:
        raise PydanticOmit

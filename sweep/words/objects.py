"""Results as one JSON object on a line, for scripts: numbers in SI, and null where there is none."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from pathlib import PurePath
from typing import Any

import numpy as np

FORMAT = 1
"""Of the objects: it grows when a key of before means something else, or is gone."""


def object_text(command: str, code: int, said: Mapping[str, Any]) -> str:
    """The object of a command as a line of ASCII; code: what the command exits with."""
    return json.dumps(
        {"format": FORMAT, "command": command, "ok": code == 0, "exit": code, **plain_value(said)},
        separators=(",", ":"),
        allow_nan=False,
    )


def plain_value(value: Any) -> Any:
    """A value as JSON has it: records and tables as objects and lists, no number that is none."""
    if isinstance(value, tuple) and hasattr(value, "_fields"):
        return {name: plain_value(each) for name, each in zip(value._fields, value, strict=True)}
    if is_dataclass(value) and not isinstance(value, type):
        return {each.name: plain_value(getattr(value, each.name)) for each in fields(value)}
    if isinstance(value, Mapping):
        return {str(name): plain_value(each) for name, each in value.items()}
    if isinstance(value, list | tuple | np.ndarray):
        return [plain_value(each) for each in value]
    if isinstance(value, np.generic):
        return plain_value(value.item())
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return str(value) if isinstance(value, PurePath) else value

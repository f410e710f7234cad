"""Where results of the long commands are kept that the page How sure quotes: small TOML files that travel with the site."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from sweep.model.identity import model_digest
from sweep.version import __version__

FOLDER = Path(__file__).parents[2] / "site" / "evidence"


def write(name: str, command: str, tables: Mapping[str, Mapping[str, Any]]) -> Path:
    """Write tables (caption, note, headings, rows of words and numbers, and single values) with what they were made by."""
    lines = [f"# Made by: {command}", "", "[made]", f'command = "{command}"', f'version = "{__version__}"']
    lines += [f'model = "{model_digest()}"', f'date = "{datetime.datetime.now(datetime.UTC):%Y-%m-%d}"']
    for table, values in tables.items():
        lines += ["", f"[{table}]", *(f"{key} = {_told(value)}" for key, value in values.items())]
    FOLDER.mkdir(exist_ok=True)
    path = FOLDER / f"{name}.toml"
    path.write_text("\n".join([*lines, ""]), encoding="utf-8")
    return path


def _told(value: Any) -> str:
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return f"{value:.5g}" if "." in f"{value:.5g}" or "e" in f"{value:.5g}" else f"{value:.1f}"
    if isinstance(value, Sequence):
        parts = [_told(part) for part in value]
        nested = any(isinstance(part, Sequence) and not isinstance(part, str) for part in value)
        return "[\n" + "".join(f"  {part},\n" for part in parts) + "]" if nested else f"[{', '.join(parts)}]"
    return _told(float(value))

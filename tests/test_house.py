"""The house keeps its own rules: style, types and the direction of imports."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
BIN = Path(sys.executable).parent


@pytest.mark.parametrize(
    "command",
    [
        [BIN / "ruff", "check", "."],
        [BIN / "ruff", "format", "--check", "."],
        [BIN / "mypy"],
        [BIN / "lint-imports"],
    ],
    ids=["style", "format", "types", "imports"],
)
def test_the_tools_find_nothing(command: list[Path | str]) -> None:
    found = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert found.returncode == 0, found.stdout + found.stderr

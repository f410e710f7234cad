"""A builder's own code for the board: what flew, as a folder that a compiler for boards takes; nothing of it is run."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from sweep import cli
from tests.campaign.test_codes import written
from tests.own.laws import needs_compiler

BOARDS = {
    "avr-gcc": ["-mmcu=atmega328p", "-Os", "-Wno-missing-field-initializers"],  # old ones warn of every later designator
    "arm-none-eabi-gcc": ["-mcpu=cortex-m4", "-mthumb", "-O2"],
    "gcc": ["-O2"],
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The code of a design under the builder's own law, with the second of its settings."""
    place = tmp_path / "board"
    assert cli.main(["code", str(written(tmp_path)), "--design", "4", "--out", str(place)]) == 0
    return place


def test_it_has_the_settings_of_the_design(folder: Path) -> None:
    assert {path.name for path in folder.iterdir()} == {"README.md", "control.h", "sizes.h", "settings.c", "my_control.c"}
    settings = (folder / "settings.c").read_text()
    assert ".own.kp = 1.04719" in settings  # 0.6 deg/cm
    assert ".height_loop.proportional = 0.698131" in settings  # 0.4 deg/cm, as of the built-in law
    readme = (folder / "README.md").read_text()
    assert "What can hurt" in readme
    assert "`kp`" in readme
    assert "$" not in readme


@needs_compiler
@pytest.mark.parametrize("compiler", BOARDS)
def test_a_board_s_compiler_takes_it(compiler: str, folder: Path) -> None:
    if shutil.which(compiler) is None:
        pytest.skip(f"no {compiler} here")
    for name in ("my_control.c", "settings.c"):
        command = [compiler, *BOARDS[compiler], "-std=c99", "-Wall", "-Wextra", "-Werror", "-ffp-contract=off", "-c", name]
        found = subprocess.run([*command, "-o", "x.o"], cwd=folder, capture_output=True, text=True, check=False)
        assert found.returncode == 0, found.stderr

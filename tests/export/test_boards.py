"""The exported code on two boards under emulation, as its compilers for small boards make it."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from sweep.campaign.craft import Craft
from sweep.export.vectors import servo_step
from tests.benchmarks.boards import AVR, TOOLS, on_avr, on_m4, run, told, written
from tests.export.compiled import flown
from tests.export.test_law import BLOCK
from tests.model.crafts import CASCADED, changed, courier

MISSING = [tool for tool in TOOLS if shutil.which(tool) is None]


needs_boards = pytest.mark.skipif(bool(MISSING), reason=f"no emulated boards here: {', '.join(MISSING)}")


@needs_boards
@pytest.mark.parametrize("craft", [courier(), changed(courier(), CASCADED)], ids=["levels", "cascaded"])
@pytest.mark.parametrize("board", [on_avr, on_m4])
def test_a_board_commands_what_the_kernel_commanded(board, craft: Craft, tmp_path: Path) -> None:
    """To a step of the servos, in single precision; an int has 16 bits on the first board."""
    law, ticks = flown(craft, BLOCK, 4.0, 1.0)
    found = board(law, ticks, tmp_path, ["-DHAS_RUDDER"])
    assert found["ticks"] >= 100
    assert found["wrong"] == 0
    assert found["off_nano"] < 1e9 * servo_step(courier())


@needs_boards
def test_the_check_runs_on_the_board_itself(tmp_path: Path) -> None:
    """As the README says: it tells over the serial line what it found."""
    law, ticks = flown(courier(), BLOCK, 4.0, 1.0)
    written(law, ticks[:100], tmp_path)
    run(
        [
            *AVR,
            "-std=gnu99",
            "-Wall",
            "-Wextra",
            "-Werror",
            "avr_check.c",
            "check.c",
            "control.c",
            "settings.c",
            "-lm",
            "-o",
            "a.elf",
        ],
        tmp_path,
    )
    found = told(run(["simavr", "-m", "atmega328p", "-f", "16000000", "a.elf"], tmp_path))
    assert (found["ticks"], found["wrong"]) == (100, 0)
    assert 0 < found["off_nano"] < 1e9 * servo_step(courier())

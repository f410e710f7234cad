"""The exported code on two boards under emulation, as its compilers for small boards make it."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from sweep.campaign.craft import Craft
from sweep.export.vectors import servo_step
from tests.benchmarks.boards import AVR, TOOLS, on_avr, on_m4, run, written
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
    sources = ["avr_check.c", "serial_check.c", "check.c", "control.c", "settings.c"]
    run([*AVR, "-std=gnu99", "-Wall", "-Wextra", "-Werror", *sources, "-lm", "-o", "a.elf"], tmp_path)
    said = run(["simavr", "-m", "atmega328p", "-f", "16000000", "a.elf"], tmp_path)
    (found,) = re.findall(r"(\d+) ticks; angles (\d+), throttle (\d+), height (\d+); ticks in another state (\d+): (\w+)", said)
    assert (found[0], found[4], found[5]) == ("100", "0", "agrees")
    assert 0 < int(found[1]) < 1e9 * servo_step(courier())


@needs_boards
def test_the_board_tells_a_law_that_differs(tmp_path: Path) -> None:
    law, ticks = flown(courier(), BLOCK, 4.0, 1.0)
    written(law, ticks[:100], tmp_path)
    settings = (tmp_path / "settings.c").read_text()
    (tmp_path / "settings.c").write_text(settings.replace(".roll_loop.proportional = 0.8", ".roll_loop.proportional = -0.8"))
    sources = ["avr_check.c", "serial_check.c", "check.c", "control.c", "settings.c"]
    run([*AVR, "-std=gnu99", *sources, "-lm", "-o", "a.elf"], tmp_path)
    assert "DIFFERS" in run(["simavr", "-m", "atmega328p", "-f", "16000000", "a.elf"], tmp_path)

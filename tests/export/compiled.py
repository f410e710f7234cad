"""What the tests of the exported code share: laws flown by the kernel, and a C compiler that replays or drives them."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

import pytest

from sweep.campaign.craft import Craft
from sweep.export.files import check_files, law_files
from sweep.export.flown import FlownTick, fly_ticks, without_quanta
from sweep.export.settings import Law, law_of
from sweep.model.block import Block
from tests.model.crafts import WATER, fleet_of

COMPILER = shutil.which("gcc") or shutil.which("cc")
needs_compiler = pytest.mark.skipif(
    COMPILER is None and not os.environ.get("CI"), reason="no C compiler here: gcc or cc compiles the exported code"
)
STRICT = ("-std=c99", "-pedantic", "-Wall", "-Wextra", "-Wshadow", "-Werror", "-ffp-contract=off")
DOUBLE, SINGLE = ("-DCONTROL_DOUBLE",), ("-Wdouble-promotion",)


def flown(craft: Craft, block: Block, speed: float, begin: float) -> tuple[Law, list[FlownTick]]:
    """A law, and the ticks of its flight from a time on (s)."""
    fleet = without_quanta(fleet_of(craft, speed))
    assert fleet.feasible.all()
    first = round(begin * craft.control.rate)
    return law_of(craft, WATER, [speed]), [tick for tick in fly_ticks(fleet, block) if tick.number >= first]


def written(files: Mapping[str, str], folder: Path) -> Path:
    """Write files into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def built(folder: Path, options: Sequence[str], main: str = "host_check.c") -> Path:
    """Compile a program with the law in a folder; any warning is an error."""
    sources = [main, *(["check.c"] if main == "host_check.c" else []), "control.c", "settings.c"]
    command = [COMPILER or "", *STRICT, *options, *sources, "-lm", "-o", "program"]
    found = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    assert found.returncode == 0, found.stderr
    return folder / "program"


def replayed(files: Mapping[str, str], folder: Path, options: Sequence[str]) -> tuple[int, str]:
    """Exit code of the check of some files, and what it printed."""
    found = subprocess.run([built(written(files, folder), options)], capture_output=True, text=True, check=False)
    return found.returncode, found.stdout


def all_files(law: Law, ticks: Sequence[FlownTick], speed: float) -> dict[str, str]:
    """The law, its numbers, vectors and check."""
    return law_files(law) | check_files(law, ticks, speed, "A flight.")


def spread(values: Iterable[float]) -> float:
    """From the least to the most."""
    every = list(values)
    return max(every) - min(every)

"""The C files of a design: its law, its numbers, the vectors of a flight and the check that replays them."""

from __future__ import annotations

from collections.abc import Sequence

from sweep.export.compose import PARTS, control_header, control_source, resolve, sizes_header
from sweep.export.flown import FlownTick
from sweep.export.settings import Law, settings_source
from sweep.export.vectors import vectors_header

CHECKS = ("check.h", "check.c", "host_check.c", "serial_check.c")


def law_files(law: Law) -> dict[str, str]:
    """The law and its numbers, by file name."""
    return {
        "control.h": control_header(law.uses),
        "control.c": control_source(law.craft, law.uses),
        "sizes.h": sizes_header(law.craft, law.uses),
        "settings.c": settings_source(law),
    }


def check_files(law: Law, ticks: Sequence[FlownTick], speed: float, about: str) -> dict[str, str]:
    """Vectors and the check on the host, by file name; see `vectors_header`."""
    texts = {name: (PARTS / name).read_text(encoding="utf-8") for name in CHECKS}
    checks = {name: resolve(text, law.uses.flags) for name, text in texts.items()}
    return {"vectors.h": vectors_header(law, ticks, speed, about), **checks}

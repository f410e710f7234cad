"""The C source of a design's control law: of the parts in `c/`, only those that it uses."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from sweep.model.layout import PREVIEW_TICKS
from sweep.model.pack.control import queue_length, reading_age

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft

PARTS = Path(__file__).parent / "c"
SOURCE_HEAD = """\
/* The control law of one design; see control.h. The numbers are in settings.c.
 *
 * Sums and products are rounded one by one in the model: compile with -ffp-contract=off, and never with -ffast-math.
 */
#include <math.h>

#include "control.h"
"""
_TEST = re.compile(r"(!?)([A-Z_]+)(?: > ([0-9]+))?")


class Uses(NamedTuple):
    """What a design's law uses: 1 or 0, and of the last three, how many. Names as in the C source, in capitals there."""

    levels: int
    fuses: int
    cascades: int
    previews: int
    scheduled: int
    rudder: int
    differential: int
    steers: int
    counts_turns: int
    plane: int
    gated: int
    median: int
    trims: int
    rangefinders: int

    @property
    def flags(self) -> dict[str, int]:
        """By their names in the C source."""
        return {name.upper(): value for name, value in self._asdict().items()} | {"OWN": 0}


def uses_of(craft: Craft, trims: int) -> Uses:
    """What a craft's law uses; trims: the speeds that it has trims for."""
    control, steering, several = craft.control, craft.steering, craft.rangefinders.number > 1
    differential = steering.differential > 0.0
    return Uses(
        levels=int(control.traits.levels),
        fuses=int(control.traits.fuses),
        cascades=int(control.traits.cascades),
        previews=int(control.traits.levels and control.preview > 0.0),
        scheduled=int(control.schedule_speed is not None),
        rudder=int(steering.turns),
        differential=int(differential),
        steers=int(steering.turns or differential),
        counts_turns=int(not control.traits.levels and (steering.turns or differential)),
        plane=int(several and control.combine == "plane"),
        gated=int(control.gate > 0.0),
        median=control.median,
        trims=trims,
        rangefinders=craft.rangefinders.number,
    )


def resolve(text: str, flags: Mapping[str, int | None]) -> str:
    """A part with its `#if` lines on these flags carried out; all other lines as they are. Raises ValueError for a bad test.

    A flag that is None holds in every test, whichever way it asks.
    """
    kept: list[tuple[str, list[bool | None]]] = []
    open_tests: list[bool | None] = []  # None for a test that is left to the compiler
    for line in text.splitlines():
        if (match := re.fullmatch(r"#if (.+?)(?: /\*.*)?", line)) and (test := _TEST.fullmatch(match[1])):
            if test[2] not in flags:
                raise ValueError(f"{line!r}: wanted one of {', '.join(flags)}")
            value = flags[test[2]]
            open_tests.append(value is None or (value > int(test[3] or 0)) != bool(test[1]))
        elif line.startswith(("#if", "#ifdef", "#ifndef")):
            open_tests.append(None)
            kept.append((line, list(open_tests)))
        elif line == "#else" and open_tests[-1] is not None:
            open_tests[-1] = not open_tests[-1]
        elif line == "#endif" and open_tests[-1] is not None:
            open_tests.pop()
        else:
            kept.append((line, list(open_tests)))
            if line == "#endif":
                open_tests.pop()
    if open_tests:
        raise ValueError("an #if without its #endif")
    return "\n".join(line for line, tests in kept if False not in tests) + "\n"


def part_names(uses: Uses, combine: str) -> list[str]:
    """The parts of a law, in the order of the source; combine: how several rangefinders are combined."""
    height = "one" if uses.rangefinders == 1 else combine
    steering = [*(["heading_rate"] if uses.counts_turns else []), *(["steering"] if uses.steers else [])]
    return [
        "arithmetic",
        "ranges",
        "attitude",
        "height_seen",
        f"combine_{height}",
        "height_fused" if uses.fuses else "height_smoothed",
        *(["preview"] if uses.previews else []),
        "trim",
        "course",
        "schedule",
        "wish",
        "foils_levelled" if uses.levels else "foils_each",
        *steering,
        "throttle",
        "safety",
        "tick",
    ]


def control_source(craft: Craft, uses: Uses) -> str:
    """The text of control.c."""
    parts = [(PARTS / f"{name}.c").read_text(encoding="utf-8") for name in part_names(uses, craft.control.combine)]
    return "\n".join([SOURCE_HEAD, *(resolve(part, uses.flags) for part in parts)])


def control_header(uses: Uses) -> str:
    """The text of control.h."""
    return resolve((PARTS / "control.h").read_text(encoding="utf-8"), uses.flags)


def sizes_header(craft: Craft, uses: Uses) -> str:
    """The text of sizes.h: how many parts the design has, and their names, in order."""
    sensors, control = craft.rangefinders, craft.control
    age = reading_age(sensors, control.median, control.rate) if uses.fuses else 0
    rows = [
        ("FOILS", len(craft.foils), "in the order of the craft file"),
        ("RANGEFINDERS", sensors.number, "in the order of the craft file"),
        ("MOST_RANGES", queue_length(craft), "readings of all rangefinders between two ticks"),
        ("TRIMS", uses.trims, "speeds in the table of trims"),
        ("HEIGHT_TICKS", age + 1, "height estimates that are kept: as many ticks as a reading is old, and now"),
        *([("MEDIAN", control.median, "readings of one rangefinder whose median is taken")] if control.median > 1 else []),
        *([("PREVIEW_TICKS", PREVIEW_TICKS, "ticks for which what is seen ahead is kept")] if uses.previews else []),
    ]
    lines = ["/* The sizes of this design, and the order of its parts. */", "#ifndef SIZES_H", "#define SIZES_H", ""]
    lines += [f"#define {name} {value} /* {meaning} */" for name, value, meaning in rows]
    for kind, names in (("FOIL", [*craft.foils]), ("RANGEFINDER", sensors.names())):
        lines += ["", "enum {", ",\n".join(f"    {kind}_{name}" for name in names_in_c(names)), "};"]
    return "\n".join([*lines, "", "#endif", ""])


def names_in_c(names: Sequence[str]) -> list[str]:
    """Names of parts as C has them, all different."""
    return [_c_name(name) for name in _distinct(names)]


def _c_name(name: str) -> str:
    return re.sub(r"[^A-Z0-9]", "_", name.upper())


def _distinct(names: Sequence[str]) -> list[str]:
    """Names that differ as C names too: with their number where they would not."""
    told = [_c_name(name) for name in names]
    alike = {one for one, other in pairwise(sorted(told)) if one == other}
    return [f"{name}_{number}" if _c_name(name) in alike else name for number, name in enumerate(names)]

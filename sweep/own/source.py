"""The C that a builder's own code is compiled with: its header, sizes, and the row of numbers that its settings come from."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import numpy as np

from sweep.export.compose import PARTS, names_in_c, resolve
from sweep.model import layout as at
from sweep.model.compiled import LANES
from sweep.model.onboard.own import GIVEN, WANTED, WANTED_WIDTH, Sizes

C = Path(__file__).parent / "c"
EVERYTHING = dict.fromkeys(
    ("LEVELS", "FUSES", "CASCADES", "PREVIEWS", "SCHEDULED", "STEERS", "COUNTS_TURNS", "PLANE", "GATED", "MEDIAN", "RUDDER"),
    None,
)
"""Parts of the header that every code of a builder's own may use, whatever the built-in law would."""
FAR = 1e6
"""m: a rangefinder without a far limit has this (judgement)."""

CASCADE = {
    "angle_proportional": at.CASCADE.angle_proportional,
    "angle_limit": at.CASCADE.angle_limit,
    "rate.proportional": at.CASCADE.proportional,
    "rate.integral": at.CASCADE.integral,
    "rate.derivative": at.CASCADE.derivative,
    "rate.limit": at.CASCADE.limit,
}
"""Fields of a cascade's gains in the header, and their places among the kernels'."""
LAGS = {"angle": at.CASCADE.angle_lag, "rate": at.CASCADE.lag}

PLACES = {
    "FLIES": GIVEN.flies,
    "ELAPSED": GIVEN.elapsed,
    "GYRO": GIVEN.gyro,
    "FORCE": GIVEN.force,
    "SPEED": GIVEN.speed,
    "HEADING": GIVEN.heading,
    "IS_NEW": GIVEN.is_new,
    "ARMED": GIVEN.armed,
    "LINK_AGE": GIVEN.link_age,
    "GO": GIVEN.go,
    "WANTED_SPEED": GIVEN.wanted_speed,
    "WANTED_COURSE": GIVEN.wanted_course,
    "WANTED_HEIGHT": GIVEN.wanted_height,
    "TRIM": GIVEN.trim,
    "WAITING": GIVEN.waiting,
    "QUEUE": GIVEN.queue,
    "RUDDER_AT": WANTED.rudder,
    "PORT_AT": WANTED.port,
    "STARBOARD_AT": WANTED.starboard,
    "HEIGHT_AT": WANTED.height,
    "REFUSED_AT": WANTED.refused,
    "FAILED": WANTED.failed,
    "WHAT": WANTED.what,
    "VALUE": WANTED.value,
    "AT_TICK": WANTED.tick,
    "WANTED_WIDTH": WANTED_WIDTH,
    "LANES": LANES,
}


def places_header() -> str:
    """The text of places.h: where the numbers of both rows stand."""
    lines = [f"#define {name} {place}" for name, place in PLACES.items()]
    stride = ["#ifndef STRIDE", "#define STRIDE LANES /* from one place of a lane to its next */", "#endif"]
    cell = "typedef float cell; /* of both rows */"
    return "\n".join(["#ifndef PLACES_H", "#define PLACES_H", *lines, *stride, cell, "#endif", ""])


def header(sizes: Sizes) -> str:
    """The text of control.h for a builder's own code: all that any law may use, and its own settings."""
    flags = EVERYTHING | {"DIFFERENTIAL": int(sizes.differential), "OWN": int(bool(sizes.settings))}
    text = resolve((PARTS / "control.h").read_text(encoding="utf-8"), flags)
    if sizes.settings:
        fields = [f"    number {name}; /* control.settings.{name}, in SI */" for name in sizes.settings]
        own = "\n".join(["/* Numbers of your own: s->own.NAME */", "struct own_settings {", *fields, "};", "", ""])
        text = text.replace("struct control_settings {", f"{own}struct control_settings {{", 1)
    before, after = text.split("struct control_memory {", 1)
    memory, rest = after.split("\n};\n", 1)
    told = "#ifndef OWN_MEMORY /* define it, before you include this file, to have a struct control_memory of your own */\n"
    return f"{before}{told}struct control_memory {{{memory}\n}};\n#else\nstruct control_memory;\n#endif\n{rest}"


def sizes_header(sizes: Sizes, trims: int = 1) -> str:
    """The text of sizes.h; trims: speeds in the table of trims, of which flights need one."""
    rows = {
        "FOILS": len(sizes.foils),
        "RANGEFINDERS": len(sizes.rangefinders),
        "MOST_RANGES": sizes.most_ranges,
        "TRIMS": trims,
        "HEIGHT_TICKS": sizes.height_ticks,
        "MEDIAN": sizes.median,
        "PREVIEW_TICKS": at.PREVIEW_TICKS,
    }
    lines = ["#ifndef SIZES_H", "#define SIZES_H", *(f"#define {name} {value}" for name, value in rows.items())]
    for kind, names in (("FOIL", sizes.foils), ("RANGEFINDER", sizes.rangefinders)):
        lines.append(f"enum {{ {', '.join(f'{kind}_{name}' for name in names_in_c(names))} }};")
    return "\n".join([*lines, "#endif", ""])


@cache
def fields(sizes: Sizes) -> dict[str, int | None]:
    """The fields of the settings, in the order of `numbers`, each with its slot, None for what `numbers` works out.

    The trims come with each tick instead.
    """
    return dict(_fields(sizes))


def _fields(sizes: Sizes) -> Iterator[tuple[str, int | None]]:
    yield from (("period", None), ("ride_height", at.RIDE_HEIGHT), ("pitch_trim", at.PITCH_TRIM))
    for name, first in (("height", at.HEIGHT_GAINS.first), ("pitch", at.PITCH_GAINS.first), ("roll", at.ROLL_GAINS.first)):
        for kind in ("proportional", "integral", "derivative", "limit"):
            yield f"{name}_loop.{kind}", first + getattr(at.GAINS, kind)
    for name, first in (("pitch", at.PITCH_CASCADE.first), ("roll", at.ROLL_CASCADE.first)):
        yield from ((f"{name}_cascade.{field}", first + slot) for field, slot in CASCADE.items())
        yield from ((f"{name}_cascade.{part}_filter", None) for part in LAGS)
    yield from (("corner", at.CORNER), ("smoothing", at.HEIGHT_GAINS.smoothing), ("pitch_share", at.PITCH_SHARE))
    yield from (("throttle_share", at.THROTTLE_SHARE), ("heading_proportional", at.HEADING_GAINS.proportional))
    yield from (("heading_derivative", at.HEADING_GAINS.derivative), ("heading_limit", at.HEADING_GAINS.limit))
    yield from (("speed_proportional", at.SPEED_GAINS.proportional), ("speed_integral", at.SPEED_GAINS.integral))
    yield from (("turn_rate", at.TURN_RATE), ("bank_share", at.BANK_SHARE), ("bank_limit", at.BANK_LIMIT))
    yield from (("levelling_time", at.LEVELLING_TIME), ("schedule_speed", at.SCHEDULE_SPEED), ("preview", at.PREVIEW))
    yield from (("preview_distance", at.PREVIEW_DISTANCE), ("preview_delay", None), ("fix_rate", at.NAVIGATION_RATE))
    yield from (("rudder_side", at.RUDDER_SIDE), ("rudder_travel", at.RUDDER_SERVO.travel))
    if sizes.differential:
        yield "differential", at.DIFFERENTIAL
    yield "range_age", None
    for i in range(len(sizes.rangefinders)):
        place, look = (record.first + i * record.width for record in (at.KNOWN_PLACE, at.KNOWN_LOOK))
        yield from ((f"rangefinders[{i}].{name}", place + j) for j, name in enumerate(("x", "y", "height")))
        yield from ((f"rangefinders[{i}].look[{j}]", look + j) for j in range(3))
        yield from ((f"rangefinders[{i}].far", at.RANGE_FAR + i), (f"rangefinders[{i}].trust", at.KNOWN_TRUST + i))
        yield from ((f"rangefinders[{i}].plane", at.PLANE_WEIGHT + i), (f"rangefinders[{i}].gate", at.GATE + i))
    for i in range(len(sizes.foils)):
        first = i * at.FOIL.width
        mix = (at.FOIL.mix.height, at.FOIL.mix.pitch, at.FOIL.mix.roll, at.FOIL.moved_by.travel)
        yield from (
            (f"foils[{i}].{name}", first + slot) for name, slot in zip(("height", "pitch", "roll", "travel"), mix, strict=True)
        )
    yield from ((f"own.{name}", at.OWN_SETTING + i) for i, name in enumerate(sizes.settings))


def numbers(sizes: Sizes, slots: np.ndarray, period: float) -> np.ndarray:
    """The settings of every lane, (lanes, fields); slots: (slots, lanes) as flights begin; period: of control ticks, s."""
    lags = {
        f"{name}_cascade.{part}_filter": slots[first + lag]
        for name, first in (("pitch", at.PITCH_CASCADE.first), ("roll", at.ROLL_CASCADE.first))
        for part, lag in LAGS.items()
    }
    worked_out = {
        **{name: 1.0 / (2.0 * np.pi * np.maximum(lag, 1.0 / FAR)) for name, lag in lags.items()},
        "period": np.full(LANES, period),
        "preview_delay": slots[at.KNOWN_LATENCY] + slots[at.HEIGHT_GAINS.smoothing],
        "range_age": slots[at.RANGE_PATIENCE],
    }
    of_field = fields(sizes)
    found = slots[[slot or 0 for slot in of_field.values()]].T.astype(np.float64, order="C")
    for place, (name, slot) in enumerate(of_field.items()):
        if slot is None:
            found[:, place] = worked_out[name]
    return np.clip(np.nan_to_num(found, nan=0.0), -FAR, FAR)


def unit(sizes: Sizes, text: str, name: str) -> str:
    """The translation unit: the builder's text, by the name of its file in messages, and behind it what calls it."""
    fills = [f"    s->{field} = (number)v[{place}];" for place, field in enumerate(fields(sizes))]
    filled = ["static void caller_fill(const double *v, struct control_settings *s)", "{", *fills, "}", ""]
    rest = [(C / "caller.c").read_text(encoding="utf-8"), *filled]
    flags = [f"#define HAS_{flag}" for flag, on in (("RUDDER", sizes.rudder), ("DIFFERENTIAL", sizes.differential)) if on]
    return "\n".join([f'#line 1 "{name}"', text, '#line 1 "caller.c"', '#include "control.h"', *flags, *rest])


def forbidden_lines(text: str) -> Iterator[tuple[int, str]]:
    """Line number and what is wrong: files that the code includes beyond the header and the language's own, and assembler."""
    bare = re.sub(r"/\*.*?\*/", lambda comment: "\n" * comment[0].count("\n"), text, flags=re.S)
    for number, line in enumerate(bare.splitlines(), 1):
        if (match := re.match(r"\s*(?:#|%:|\?\?=)\s*(include\w*|embed|import|pragma)\s*(.*)", line)) and match[1] != "pragma":
            if match[1] != "include" or match[2].strip() not in INCLUDED:
                yield number, f"{line.strip()}: only {', '.join(INCLUDED)} may be included"
        elif re.search(r"\b(asm|__asm|__asm__|_Pragma)\b", line):
            yield number, f"{line.strip()}: assembler, which nobody can look over"


INCLUDED = ('"control.h"', "<math.h>", "<string.h>", "<stdint.h>", "<stdbool.h>", "<stddef.h>", "<float.h>", "<limits.h>")

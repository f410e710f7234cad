"""Vectors: a stretch of a flight of the kernel, as C: the memory at its first tick, then readings in and commands out.

Headings and courses are half a turn off those flown, so that they cross 180 degrees, where a boat's heading wraps.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from sweep.export.flown import Commanded, FlownTick, Given
from sweep.export.settings import Law, c_number
from sweep.model import layout as at
from sweep.model.onboard.safety import SWITCHED_OFF
from sweep.model.pack.control import queue_length

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft

COARSE = 0.001
"""rad, for servos whose steps the craft file does not tell (judgement)."""

FLASH = """\
#include "control.h"

#ifdef __AVR__ /* its constants lie in its memory unless they are told to lie in its flash */
#include <avr/pgmspace.h>
#define IN_FLASH PROGMEM
#define COPY_FROM_FLASH memcpy_P
#else
#define IN_FLASH
#define COPY_FROM_FLASH memcpy
#endif
""".splitlines()


def vectors_header(law: Law, ticks: Sequence[FlownTick], speed: float, about: str) -> str:
    """The text of vectors.h; speed: m/s, that was wanted; about: what was flown."""
    lines = [
        f"/* {about}",
        " * Headings and courses have half a turn added, so that they cross 180 degrees. */",
        *FLASH,
        f"#define SERVO_STEP {c_number(servo_step(law.craft))} /* rad, the finest of this design's servos */",
        "",
        f"static const struct control_memory START IN_FLASH = {{{', '.join(_memory(law, ticks[0]))}}};",
        "",
        "struct vector {",
        "    struct control_readings given;",
        "    struct control_commands wanted;",
        "};",
        "",
        "static const struct vector VECTORS[] IN_FLASH = {",
        *(f"    {{{_readings(law, tick.given, speed)},\n     {_commands(law, tick.commanded)}}}," for tick in ticks),
        "};",
    ]
    return "\n".join([*lines, ""])


def servo_step(craft: Craft) -> float:
    """The finest step of the servos (rad)."""
    servos = [craft.servo_of(foil) for foil in craft.foils.values() if foil.moves]
    return min([servo.quantum for servo in servos if servo.quantum > 0.0], default=COARSE)


def _turned(angle: float) -> float:
    """The angle half a turn on, within half a turn of 0."""
    return math.remainder(angle + math.pi, 2.0 * math.pi)


def _list(values: Sequence[float] | np.ndarray) -> str:
    return "{" + ", ".join(map(c_number, values)) + "}"


def _readings(law: Law, given: Given, speed: float) -> str:
    if len(given.ranges) > queue_length(law.craft):
        raise ValueError(f"{len(given.ranges)} readings in a tick; there is room for {queue_length(law.craft)}")
    ranges = ", ".join(f"{{{sensor}, {c_number(value)}}}" for sensor, value in given.ranges) or "{0, 0.0}"
    each = [
        c_number(1.0 / law.craft.control.rate),
        str(len(given.ranges)),
        f"{{{ranges}}}",
        _list(given.gyro),
        _list(given.force),
        c_number(given.speed),
        c_number(_turned(given.heading)),
        str(int(given.is_new)),
        str(int(given.armed)),
        c_number(given.link_age),
        str(int(given.go)),
        c_number(speed),
        c_number(_turned(given.wanted_course)),
        c_number(law.craft.control.ride_height),
    ]
    return "{" + ", ".join(each) + "}"


def _commands(law: Law, commanded: Commanded) -> str:
    each = [_list(commanded.foils)]
    if law.uses.rudder:
        each.append(c_number(commanded.rudder))
    if law.uses.differential:
        sides = commanded.throttle + commanded.aside, commanded.throttle - commanded.aside
        each += [c_number(min(max(side, 0.0), 1.0)) for side in sides]
    else:
        each.append(c_number(commanded.throttle))
    each += [c_number(commanded.height), c_number(_turned(commanded.course)), c_number(commanded.bank)]
    return "{" + ", ".join([*each, f"{commanded.refused}u", _mode(commanded.stopped_by)]) + "}"


def _mode(stopped_by: float) -> str:
    """What the law does, as control.h calls it."""
    if stopped_by == 0.0:
        return "CONTROL_RUNS"
    return "CONTROL_DISARMED" if stopped_by == SWITCHED_OFF else "CONTROL_STOPPED"


def _memory(law: Law, tick: FlownTick) -> Iterator[str]:
    """Fields of the memory as the first tick begins."""
    uses, before = law.uses, tick.before
    yield f".mode = {_mode(float(before[at.STOPPED_BY]))}"
    yield f".refused = {int(before[at.REFUSED])}u"
    yield ".attitude_known = 1, .height_known = 1"
    turns = (before[at.ROLL_TURN.slots()], before[at.PITCH_TURN.slots()])
    yield f".attitude = {{{', '.join(map(_list, turns))}}}"
    fields = {"roll": at.ROLL_ESTIMATE, "pitch": at.PITCH_ESTIMATE, "speed_integral": at.SPEED_INTEGRAL}
    fields |= {"climb": at.FUSED_RATE} if uses.fuses else {"smoothed_height": at.SMOOTHED_HEIGHT}
    if uses.levels:
        yield f".flying = {int(before[at.FLYING])}"
        fields |= {"height_integral": at.HEIGHT_INTEGRAL, "pitch_integral": at.PITCH_INTEGRAL}
        fields |= {"roll_integral": at.ROLL_INTEGRAL, "quick_time": at.QUICK_TIME}
    if uses.cascades:
        for axis, held in (("pitch", at.PITCH_HELD), ("roll", at.ROLL_HELD)):
            yield f".{axis}_cascade = {_list(before[held.slots()])}"
    if uses.counts_turns:
        yield f".last_heading = {c_number(_turned(float(before[at.HEADING_READING])))}"
        yield f".heading_known = {int(before[at.NAVIGATION_TICK] > 0.0)}"
        fields |= {"heading_rate": at.HEADING_RATE}
    yield from (f".{name} = {c_number(before[slot])}" for name, slot in fields.items())
    yield f".course = {c_number(_turned(float(before[at.COURSE])))}"
    kept = int(before[at.KNOWN_AGE]) + 1 if uses.fuses else 1
    yield f".height = {_list(before[at.HEIGHT_ESTIMATE : at.HEIGHT_ESTIMATE + kept])}"
    if uses.previews:
        yield f".climbs = {_list(before[at.PREVIEW_RING : at.PREVIEW_RING + at.PREVIEW_TICKS])}"
        yield f".newest_climb = {(tick.number - 1) % at.PREVIEW_TICKS}"
    finders = ", ".join(f"{{{', '.join(_range_memory(law, tick, i))}}}" for i in range(uses.rangefinders))
    yield f".ranges = {{{finders}}}"


def _range_memory(law: Law, tick: FlownTick, sensor: int) -> Iterator[str]:
    before = tick.before
    last, first = float(before[at.RANGE_LAST + sensor]), at.RECENT + sensor * at.LONGEST_MEDIAN
    known, age = last == last, (tick.number - 1) / law.craft.control.rate - float(before[at.RANGE_HEARD + sensor])
    yield f".last = {c_number(last if known else 0.0)}, .age = {c_number(max(age, 0.0))}, .known = {int(known)}"
    if law.uses.gated:
        yield f".refused_in_a_row = {int(before[at.REFUSED_IN_A_ROW + sensor])}"
    if law.uses.median > 1:
        recent = before[first : first + law.uses.median]
        found = recent[np.isfinite(recent)]
        yield f".recent = {_list(found) if len(found) else '{0.0}'}, .recent_count = {len(found)}"

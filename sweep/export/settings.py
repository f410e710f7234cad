"""The numbers of a design's control law, as C with units and the craft file's words.

They come from the row of numbers that the kernels fly the design by, so that code and flights hold the same.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sweep.campaign.addresses import value_at
from sweep.campaign.text.dimensions import quantity
from sweep.export.compose import Uses, uses_of
from sweep.model import layout as at
from sweep.model.pack.fleet import build_fleets, own_trims, pack_crafts
from sweep.model.pack.mass import rangefinder_beams

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft
    from sweep.model.physics.water import Water

LOOP_UNITS = {
    "height": ("deg/cm", "deg/cm/s", "deg*s/cm"),
    "pitch": ("deg/deg", "deg/deg/s", "s"),
    "roll": ("deg/deg", "deg/deg/s", "s"),
}


SI = {
    "cm": "m",
    "deg": "rad",
    "deg/cm": "rad/m",
    "deg/cm/s": "rad/m/s",
    "deg*s/cm": "rad s/m",
    "deg/deg": "rad/rad",
    "deg/deg/s": "1/s",
    "s": "s",
    "ms": "s",
    "%": "share",
    "%/cm": "1/m",
    "%/(m/s)": "1/(m/s)",
    "%/(m/s)/s": "1/m",
    "%/deg": "1/rad",
    "deg/s": "rad/s",
    "rad/s": "rad/s",
    "m/s": "m/s",
    "Hz": "1/s",
    "": "share",
    "s^2": "s2",
}
"""The unit of the number itself, for each unit that the craft file's word is shown in."""
CASCADE = (
    ("angle_proportional", "angle.proportional", "deg/deg/s"),
    ("angle_limit", "angle.limit", "deg/s"),
    ("angle_filter", "angle.filter", "Hz"),
    ("rate.proportional", "rate.proportional", "s"),
    ("rate.integral", "rate.integral", "deg/deg"),
    ("rate.derivative", "rate.derivative", "s^2"),
    ("rate.limit", "rate.limit", "deg"),
    ("rate_filter", "rate.filter", "Hz"),
)
"""Field of a cascade's gains, key and unit in the craft file."""
NOTHING = 1e-12
"""Of a lever or an angle: what is smaller is what rounding left of 0 (judgement)."""


class Trim(NamedTuple):
    """Speed, m/s; height and pitch command, rad; throttle."""

    speed: float
    height: float
    pitch: float
    throttle: float


class Law(NamedTuple):
    """A design's control law: its craft, what it uses, its row of numbers as `layout` has them, and its trims."""

    craft: Craft
    uses: Uses
    row: np.ndarray
    trims: list[Trim]


class NoTrimError(Exception):
    """The design carries itself level at none of the speeds."""


def law_of(craft: Craft, water: Water, speeds: Sequence[float]) -> Law:
    """The law of a craft as designed; speeds: m/s, of the campaign, for trims where the craft names no speeds of its own.

    Raises NoTrimError.
    """
    wanted = sorted(set(craft.control.trim_speeds or speeds))
    packed = pack_crafts([craft], water)
    found, there = own_trims(packed, [0] * len(wanted), wanted)
    trims = [Trim(speed, *map(float, trim)) for speed, trim, has in zip(wanted, found, there, strict=True) if has]
    if not trims:
        raise NoTrimError
    ((_, fleet),) = build_fleets([craft], water, trims[0].speed)
    return Law(craft, uses_of(craft, len(trims)), fleet.parameters[0], trims)


def c_number(value: float) -> str:
    """A number as C reads it, with all its digits."""
    return repr(float(value) + 0.0)


def tidy(value: float) -> str:
    """The same, with 0 for what rounding has left of it."""
    return c_number(value if abs(value) > NOTHING else 0.0)


def settings_source(law: Law) -> str:
    """The text of settings.c."""
    head = "/* Every number of the control law of this design, in SI. Behind each: what the craft file calls it, and has. */"
    lines = [head, '#include "control.h"', "", "const struct control_settings SETTINGS = {"]
    lines += [f"    .{name} = {text}, /* {said} */" for name, text, said in _scalars(law)]
    lines += _table("rangefinders", "RANGEFINDERS", _rangefinders(law))
    lines += _table("foils", "FOILS", _foils(law))
    lines += _table("trims", "TRIMS", _trims(law))
    return "\n".join([*lines, "};", ""])


Line = tuple[str, str, str]
"""Field, C text of its value, comment."""


def _scalars(law: Law) -> Iterator[Line]:
    craft, row, uses = law.craft, law.row, law.uses

    def of(field: str, slot: int, address: str, unit: str) -> Line:
        return field, c_number(row[slot]), _words(craft, address, unit)

    yield "period", c_number(1.0 / craft.control.rate), f"s, of control.rate: {quantity(craft.control.rate, 'Hz')}"
    yield of("ride_height", at.RIDE_HEIGHT, "control.ride_height", "cm")
    yield of("pitch_trim", at.PITCH_TRIM, "control.pitch_trim", "deg")
    loops = (("height", at.HEIGHT_GAINS.first), ("pitch", at.PITCH_GAINS.first), ("roll", at.ROLL_GAINS.first))
    for name, first in loops[: 3 if uses.levels and not uses.cascades else 1]:
        yield from _loop(law, name, first)
    if uses.cascades:
        yield from _cascade(law, "pitch")
        yield from _cascade(law, "roll")
    if uses.fuses:
        yield of("corner", at.CORNER, "control.corner", "rad/s")
    else:
        yield of("smoothing", at.HEIGHT_GAINS.smoothing, "control.height.smoothing", "ms")
    if uses.levels:
        yield of("pitch_share", at.PITCH_SHARE, "control.pitch_share", "deg/cm")
    yield of("throttle_share", at.THROTTLE_SHARE, "control.throttle_share", "%/cm")
    if uses.steers:
        yield of("heading_proportional", at.HEADING_GAINS.proportional, "control.heading.proportional", "deg/deg")
        yield of("heading_derivative", at.HEADING_GAINS.derivative, "control.heading.derivative", "s")
        yield of("heading_limit", at.HEADING_GAINS.limit, "control.heading.limit", "deg")
    yield of("speed_proportional", at.SPEED_GAINS.proportional, "control.speed.proportional", "%/(m/s)")
    yield of("speed_integral", at.SPEED_GAINS.integral, "control.speed.integral", "%/(m/s)/s")
    yield of("turn_rate", at.TURN_RATE, "control.turn_rate", "deg/s")
    yield of("bank_share", at.BANK_SHARE, "control.bank_share", "%")
    yield "bank_limit", c_number(row[at.BANK_LIMIT]), "rad, with which the outermost foil tip is half a chord deep"
    yield of("levelling_time", at.LEVELLING_TIME, "inertial.levelling_time", "s")
    yield from _of_some(law)
    said = "s without a reading, after which the boat stops: half a tick before a whole one; judgement"
    yield "range_age", c_number(row[at.RANGE_PATIENCE]), said


def _of_some(law: Law) -> Iterator[Line]:
    """What only some laws have."""
    craft, row, uses = law.craft, law.row, law.uses
    if uses.scheduled:
        yield "schedule_speed", c_number(row[at.SCHEDULE_SPEED]), _words(craft, "control.scheduled_at", "m/s")
    if uses.previews:
        late = row[at.KNOWN_LATENCY] + row[at.HEIGHT_GAINS.smoothing]
        yield "preview", c_number(row[at.PREVIEW]), _words(craft, "control.preview", "")
        yield "preview_distance", c_number(row[at.PREVIEW_DISTANCE]), "m ahead of the centre of gravity"
        yield "preview_delay", c_number(late), "s: rangefinders.latency and control.height.smoothing"
    if uses.counts_turns:
        yield "fix_rate", c_number(row[at.NAVIGATION_RATE]), _words(craft, "navigation.rate", "Hz")
    if uses.rudder:
        yield "rudder_side", c_number(row[at.RUDDER_SIDE]), "1 aft of the centre of gravity, -1 ahead"
        own = craft.steering.own_servos()[0] is not None
        said = "rad, of the first rudder's own servo" if own else _words(craft, "steering.servo.travel", "deg")
        yield "rudder_travel", c_number(row[at.RUDDER_SERVO.travel]), said
    if uses.differential:
        yield "differential", c_number(row[at.DIFFERENTIAL]), _words(craft, "steering.differential", "%/deg")


def _words(craft: Craft, address: str, unit: str) -> str:
    return f"{SI[unit]}; {address}: {quantity(float(value_at(craft, address)), unit)}"


def _loop(law: Law, name: str, first: int) -> Iterator[Line]:
    kinds = ("proportional", "integral", "derivative", "limit")
    for kind, unit in zip(kinds, (*LOOP_UNITS[name], "deg"), strict=True):
        value = law.row[first + getattr(at.GAINS, kind)]
        yield f"{name}_loop.{kind}", c_number(value), _words(law.craft, f"control.{name}.{kind}", unit)


def _cascade(law: Law, axis: str) -> Iterator[Line]:
    """Both loops of an axis; the corners of the filters in Hz, as the craft file has them."""
    for field, key, unit in CASCADE:
        address = f"control.cascade.{axis}.{key}"
        value = float(value_at(law.craft, address))
        yield f"{axis}_cascade.{field}", c_number(value), f"{SI[unit]}; {address}: {quantity(value, unit)}"


def _rangefinders(law: Law) -> Iterator[tuple[str, str]]:
    craft, row, uses = law.craft, law.row, law.uses
    beams, trust = rangefinder_beams(craft), craft.rangefinders.of_each("trust")
    for i, name in enumerate(craft.rangefinders.names()):
        x, y, height = row[at.KNOWN_PLACE.slots(i * at.KNOWN_PLACE.width)]
        fields = {"x": tidy(x), "y": tidy(y), "height": tidy(height)}
        fields["look"] = "{" + ", ".join(map(tidy, beams[i])) + "}"
        fields |= {"far": c_number(row[at.RANGE_FAR + i]), "trust": c_number(trust[i])}
        fields |= {"plane": c_number(row[at.PLANE_WEIGHT + i])} if uses.plane else {}
        fields |= {"gate": c_number(row[at.GATE + i])} if uses.gated else {}
        yield name, ", ".join(f".{field} = {text}" for field, text in fields.items())


def _foils(law: Law) -> Iterator[tuple[str, str]]:
    for i, name in enumerate(law.craft.foils):
        first = i * at.FOIL.width
        fields = dict(zip(("height", "pitch", "roll"), law.row[at.FOIL.mix.slots(first)], strict=True))
        fields["travel"] = law.row[first + at.FOIL.moved_by.travel]
        yield name, ", ".join(f".{field} = {tidy(value)}" for field, value in fields.items())


def _trims(law: Law) -> Iterator[tuple[str, str]]:
    for trim in law.trims:
        yield quantity(trim.speed, "m/s"), ", ".join(f".{field} = {c_number(value)}" for field, value in trim._asdict().items())


def _table(name: str, count: str, rows: Iterator[tuple[str, str]]) -> list[str]:
    lines = [f"    .{name} = {{ /* {count} */"]
    return [*lines, *(f"        {{{fields}}}, /* {said} */" for said, fields in rows), "    },"]

"""The bench sheet: what each foil does when the boat is held so and so, by the settings, before it goes on the water."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from string import Template
from typing import NamedTuple

import numpy as np

from sweep.export.compose import PARTS
from sweep.export.settings import Law
from sweep.model import layout as at
from sweep.model.pack.control import rudder_sides
from sweep.model.pack.mass import mass_properties, rangefinder_beams

NEARER, TILT, OFF_COURSE = 0.03, math.radians(10.0), math.radians(20.0)
"""m, rad: by how much the board is held nearer, the boat tilted and turned (judgement: by hand, and plain to see)."""
STILL = math.radians(0.5)
"""rad: what moves by less is hardly seen (judgement)."""
LARGEST_SHARE = 4.0  # of scheduled angles, which a boat at rest gets: M15.3
SHARED_LIMIT = 0.09  # rad, of the pitch for missing height: M15.11


class Held(NamedTuple):
    """A boat held so: distances of the boards from the rangefinders (m); roll, pitch, bow off its course to starboard (rad)."""

    distances: Sequence[float]
    roll: float = 0.0
    pitch: float = 0.0
    off_course: float = 0.0


class Answer(NamedTuple):
    """Angles (rad): of each foil, nose up, and of the first rudder, trailing edge to starboard."""

    foils: list[float]
    rudder: float


def at_ride_height(law: Law) -> list[float]:
    """Distances (m) of a board that lies as the water does at the ride height."""
    heights = [float(law.row[at.KNOWN_PLACE.height + i * at.KNOWN_PLACE.width]) for i in range(law.uses.rangefinders)]
    beams = rangefinder_beams(law.craft)
    return [(law.craft.control.ride_height + height) / float(beam[2]) for height, beam in zip(heights, beams, strict=True)]


def answer(law: Law, held: Held) -> Answer:
    """What the law commands, once it has settled, of a boat that is held still, armed, not told to go, at a speed of 0."""
    control, trim = law.craft.control, law.trims[0]
    share = LARGEST_SHARE if law.uses.scheduled else 1.0
    angles = []
    if law.uses.levels:
        missing = control.ride_height - _height(law, held)
        bow_up = _within(control.pitch_share * missing, SHARED_LIMIT)
        height = share * _within(control.height.proportional * missing, control.height.limit)
        pitch_error = control.pitch_trim + bow_up - held.pitch
        pitch = share * _attitude(law, "pitch", pitch_error)
        roll = share * _attitude(law, "roll", -held.roll)
        angles = [[height + trim.height, pitch + trim.pitch, roll]] * len(law.craft.foils)
    else:
        for i in range(len(law.craft.foils)):
            missing = _missing_under(law, held, i % law.uses.rangefinders)
            own = share * _within(control.height.proportional * missing, control.height.limit)
            angles.append([trim.height, trim.pitch, own])
    foils = [_foil(law, i, wished) for i, wished in enumerate(angles)]
    turning = _within(-share * control.heading.proportional * held.off_course, control.heading.limit)
    travel = float(law.row[at.RUDDER_SERVO.travel])
    return Answer(foils, _within(float(law.row[at.RUDDER_SIDE]) * turning, travel) if law.uses.rudder else 0.0)


def _within(value: float, limit: float) -> float:
    return min(max(value, -limit), limit)


def _attitude(law: Law, axis: str, error: float) -> float:
    """The command of pitch or roll of a boat that does not turn (rad), for an error of the angle."""
    control = law.craft.control
    if not control.traits.cascades:
        gains = getattr(control, axis)
        return _within(gains.proportional * error, gains.limit)
    loops = getattr(control.cascade, axis)
    asked = _within(loops.angle.proportional * error, loops.angle.limit)
    return _within(loops.rate.proportional * asked, loops.rate.limit)


def _foil(law: Law, foil: int, wished: Sequence[float]) -> float:
    """The angle of a foil; wished: height and pitch command, then the roll command or what its own rangefinder adds."""
    first = foil * at.FOIL.width
    height, pitch, roll = (float(each) for each in law.row[at.FOIL.mix.slots(first)])
    own = roll * wished[2] if law.uses.levels else wished[2]
    return _within(height * wished[0] + pitch * wished[1] + own, float(law.row[first + at.FOIL.moved_by.travel]))


def _missing_under(law: Law, held: Held, sensor: int) -> float:
    """Missing height (m) by one rangefinder alone, as the law without an attitude takes it."""
    if law.craft.rangefinders.of_each("trust")[sensor] == 0.0:
        return 0.0
    down = float(rangefinder_beams(law.craft)[sensor][2])
    mounted = float(law.row[at.KNOWN_PLACE.height + sensor * at.KNOWN_PLACE.width])
    return law.craft.control.ride_height - (held.distances[sensor] * down - mounted)


def _height(law: Law, held: Held) -> float:
    """The height (m) that the law makes of what it is given (M15.6)."""
    cos_roll, sin_roll, cos_pitch, sin_pitch = (f(x) for x in (held.roll, held.pitch) for f in (math.cos, math.sin))
    heights = []
    for i, (distance, beam) in enumerate(zip(held.distances, rangefinder_beams(law.craft), strict=True)):
        x, y, mounted = law.row[at.KNOWN_PLACE.slots(i * at.KNOWN_PLACE.width)]
        foot = np.array([x, y, -mounted]) + distance * np.asarray(beam)  # down from the keel
        turned = -sin_pitch * foot[0] + sin_roll * cos_pitch * foot[1] + cos_roll * cos_pitch * foot[2]
        heights.append(float(turned))
    trust = np.array(law.craft.rangefinders.of_each("trust"))
    if law.uses.plane:
        weights = law.row[at.PLANE_WEIGHT : at.PLANE_WEIGHT + len(heights)]
        return float(weights @ np.array(heights))
    if law.craft.control.combine == "vote":
        return float(np.median(np.array(heights)[trust > 0.0]))
    return float(np.average(heights, weights=trust))


def bench_sheet(law: Law) -> str:
    """The text of BENCH.md."""
    level, names = at_ride_height(law), list(law.craft.foils)
    rest = answer(law, Held(level))
    rows = [["Hold it so", *(f"foil {name}" for name in names)]]
    rows.append(["Level, each board at its distance: the trim.", *map(_angle, rest.foils)])
    for said, held in _cases(law, level):
        moves = (now - before for now, before in zip(answer(law, held).foils, rest.foils, strict=True))
        rows.append([said, *map(_move, moves)])
    each = zip(law.craft.rangefinders.names(), level, strict=True)
    text = Template((PARTS / "BENCH.md").read_text(encoding="utf-8"))
    filled = text.substitute(
        speed=law.trims[0].speed,
        distances=", ".join(f"rangefinder {name} {100.0 * distance:.1f} cm" for name, distance in each),
        table="\n".join(_table(rows)),
        steering="\n".join(_steering(law)),
    )
    return filled.rstrip("\n") + "\n"


def _cases(law: Law, level: Sequence[float]) -> Iterator[tuple[str, Held]]:
    """How to hold the boat, in words and numbers; level: distances (m) at the ride height."""
    by = nearer(law, level)
    close, told = [distance - by for distance in level], f"{100.0 * by:.1f} cm nearer"
    if law.uses.levels:
        tilt = f"{math.degrees(TILT):g} degrees"
        yield f"Every board {told}.", Held(close)
        yield f"Bow up by {tilt}, each board as far from its rangefinder as before.", Held(level, pitch=TILT)
        yield f"Starboard side down by {tilt}, each board as far as before.", Held(level, roll=TILT)
        return
    for i, name in enumerate(law.craft.rangefinders.names()):
        yield f"The board under rangefinder {name} {told}.", Held([*level[:i], close[i], *level[i + 1 :]])


def nearer(law: Law, level: Sequence[float]) -> float:
    """By how much the boards are held nearer (m): no nearer than half way to where a rangefinder is blind."""
    blind = law.craft.rangefinders.of_each("blind")
    return float(min(NEARER, *(0.5 * (distance - close) for distance, close in zip(level, blind, strict=True))))


def _angle(angle: float) -> str:
    return f"{math.degrees(abs(angle)):.1f} deg {'nose up' if angle > 0.0 else 'nose down'}" if abs(angle) > 1e-3 else "0 deg"


def _move(angle: float) -> str:
    if abs(angle) < STILL:
        return "hardly moves"
    return f"**{'nose up' if angle > 0.0 else 'nose down'}** by {math.degrees(abs(angle)):.1f} deg"


def _table(rows: Sequence[Sequence[str]]) -> list[str]:
    head, *others = ["| " + " | ".join(row) + " |" for row in rows]
    return [head, "|" + "---|" * len(rows[0]), *others, ""]


def _steering(law: Law) -> list[str]:
    turned = f"Turn the bow {math.degrees(OFF_COURSE):g} degrees to starboard of its course, level"
    held = answer(law, Held(at_ride_height(law), off_course=OFF_COURSE))
    lines = []
    if law.uses.rudder:
        steering = law.craft.steering
        names = [f"the strut of foil {name}" for name in (steering.rudder, steering.second_rudder) if name]
        names += [f"rudder {name}" for name in steering.rudders]
        sides = rudder_sides(law.craft, mass_properties(law.craft))
        ways = ["to starboard" if held.rudder * side * sides[0] > 0.0 else "to port" for side in sides]
        said = ", ".join(f"{name} {way}" for name, way in zip(names, ways, strict=True))
        size = f"{math.degrees(abs(held.rudder)):.1f} deg"
        servos = len(steering.moved_by()[0])
        moves = "The servo turns" if servos == 1 else f"Each of the {servos} servos gets `rudder`, and turns"
        lines += [f"{turned}. Trailing edges turn: {said}. {moves} by {size}.", ""]
    if law.uses.differential:
        lines += [
            f"{turned}: with `go` at 1, `throttle_port` is less than `throttle_starboard`. Read the numbers; do not let the",
            "propellers show it.",
            "",
        ]
    return lines

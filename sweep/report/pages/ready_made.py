"""Every number of a design's control loop, in the forms that controllers take which builders buy."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sweep.campaign.text.dimensions import in_unit
from sweep.export.bench import SHARED_LIMIT
from sweep.export.settings import Law, NoTrimError, law_of
from sweep.model import layout as at
from sweep.model.pack.control import gate_between, moved_by_of
from sweep.model.pack.mass import rangefinder_beams
from sweep.report.craft_sheet import Rows
from sweep.words.numbers import number, with_unit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sweep.campaign.craft import CascadeAxis, Craft
    from sweep.model.physics.water import Water

FULL_PULSE = 500.0
"""us of pulse from the middle to full travel of a servo (common practice, no source)."""
MOST_SPEEDS = 4  # what a table holds (judgement)
DIGITS = 4
"""Of numbers that somebody sets: with three, flights can be told from those of the model (tests.benchmarks.own_code card)."""
PULSES = (
    "Shares and microseconds of foils are of a servo that turns its foil by {travel} either way at 100 %, which is {pulse} "
    "from the middle. If yours turns it by another angle there, multiply both by {travel} over that angle. Positive is nose up "
    "for more lift."
)
RULES = (
    "Errors are wanted less estimated. Positive is: higher, bow up, starboard side down, bow to starboard, forward; an aft "
    "rudder's trailing edge to starboard, and to port of one ahead of the centre of gravity. Derivatives are taken off, of "
    "what is measured and not of the error: of the rate, in a rate loop of how fast the filtered rate changes. Commands are "
    "limited before the mixer, and each foil's angle by its servo's travel. "
    "The integrals of height, pitch and roll gather only in flight, and stay as they are else: from over three quarters of the "
    "wanted height, or after {quick} at over nine tenths of the wanted speed, until under a quarter of the height and half "
    "the speed. Each of them stays within its loop's limit. That of the throttle has no limit; it waits while the throttle is "
    "at 0 or 100 % and the error pushes on. What a tick gathers counts from the next one on. Integrals, and the low-passes of "
    "cascaded loops, start from 0, attitude and height from the first readings. Foils and throttle between two of the speeds "
    "are in proportion, beyond them as at the last. The delay to the servo is the boat's: add none. A controller without one "
    "of these numbers, or with a filter more, is another law: it was not flown."
)


@dataclass(frozen=True)
class ReadyMade:
    """What to set in a controller that was bought.

    gains: a name, in degrees, as share of the servo's travel, and in microseconds, '' where that does not apply; mixer: a foil
    a row, its factors and then its angle at each speed, the throttle last; others: a name and what it is.
    """

    gains: Rows
    pulses: str
    mixer_headings: list[str]
    mixer: Rows
    others: Rows
    rules: str


def ready_made(craft: Craft, water: Water, speeds: Sequence[float]) -> ReadyMade | None:
    """None for code of the builder's own, and for a design that flies level at none of the speeds (m/s)."""
    if craft.control.traits.own:
        return None
    try:
        law = law_of(craft, water, speeds)
    except NoTrimError:
        return None
    travel = reference_travel(law)
    trims = law.trims[:MOST_SPEEDS]
    return ReadyMade(
        gains=[*_gains(craft, travel), *_steering(law)],
        pulses=PULSES.format(travel=_degrees(travel), pulse=with_unit(FULL_PULSE, "µs")),
        mixer_headings=["height", "pitch", "roll", *(f"at {with_unit(trim.speed, 'm/s')}" for trim in trims)],
        mixer=[*_mixer(law), ("throttle", "", "", "", *(f"{100.0 * trim.throttle:.2f} %" for trim in trims))],
        others=[*_others(law)],
        rules=RULES.format(quick=with_unit(2.0 * craft.inertial.levelling_time, "s")),
    )


def reference_travel(law: Law) -> float:
    """The least travel either way (rad) of the servos that move foils, by which shares are told."""
    travels = [float(law.row[moved_by_of(i).travel]) for i in range(len(law.craft.foils))]
    return min([travel for travel in travels if travel > 0.0], default=law.craft.servos.travel)


def _degrees(angle: float) -> str:
    return with_unit(in_unit(angle, "deg"), "deg")


def _forms(name: str, degrees: float, per: str, travel: float) -> tuple[str, ...]:
    """A number whose command is an angle: degrees of it per unit, share of the travel per unit, and microseconds."""
    share, below = degrees / in_unit(travel, "deg"), f" {per}" if per else ""
    forms = ((degrees, "deg"), (100.0 * share, "%"), (FULL_PULSE * share, "µs"))
    return name, *(f"{number(value, DIGITS)} {unit}{below}" for value, unit in forms)


def _only(name: str, value: str) -> tuple[str, ...]:
    return name, value, "", ""


def _gains(craft: Craft, travel: float) -> Iterator[tuple[str, ...]]:
    control, height = craft.control, craft.control.height
    yield _forms("height, proportional", in_unit(height.proportional, "deg/cm"), "a cm", travel)
    if control.traits.levels:
        yield _forms("height, integral", in_unit(height.integral, "deg/cm/s"), "a cm and s", travel)
        yield _forms("height, derivative", in_unit(height.derivative, "deg*s/cm"), "a cm/s", travel)
    yield _forms("height, largest command", in_unit(height.limit, "deg"), "", travel)
    if control.traits.cascades and control.cascade is not None:
        yield from _cascade("pitch", control.cascade.pitch, travel)
        yield from _cascade("roll", control.cascade.roll, travel)
    elif control.traits.levels:
        for name, loop in (("pitch", control.pitch), ("roll", control.roll)):
            yield _forms(f"{name}, proportional", loop.proportional, "a deg", travel)
            yield _forms(f"{name}, integral", loop.integral, "a deg and s", travel)
            yield _forms(f"{name}, derivative, on the gyro's rate", loop.derivative, "a deg/s", travel)
            yield _forms(f"{name}, largest command", in_unit(loop.limit, "deg"), "", travel)
            if loop.derivative and not loop.integral:
                angle = f"{number(loop.proportional / loop.derivative)} deg/s a deg"
                yield _only(f"the same {name} as an angle loop around a rate loop of its derivative", f"angle loop {angle}")


def _cascade(name: str, axis: CascadeAxis, travel: float) -> Iterator[tuple[str, ...]]:
    angle, rate = axis.angle, axis.rate
    yield _only(f"{name} angle loop, proportional", f"{number(angle.proportional)} deg/s a deg")
    yield _only(f"{name} angle loop, largest rate asked", with_unit(in_unit(angle.limit, "deg/s"), "deg/s"))
    yield _only(f"{name} angle loop, low-pass on the angle wanted", with_unit(angle.filter, "Hz"))
    yield _forms(f"{name} rate loop, proportional", rate.proportional, "a deg/s", travel)
    yield _forms(f"{name} rate loop, integral", rate.integral, "a deg", travel)
    yield _forms(f"{name} rate loop, derivative", rate.derivative, "a deg/s²", travel)
    yield _forms(f"{name} rate loop, largest command and integral", in_unit(rate.limit, "deg"), "", travel)
    yield _only(f"{name} rate loop, low-pass on the gyro", with_unit(rate.filter, "Hz"))


def _steering(law: Law) -> Iterator[tuple[str, ...]]:
    heading = law.craft.control.heading
    if not law.uses.steers:
        return
    travel = float(law.row[at.RUDDER_SERVO.travel]) if law.uses.rudder else math.inf
    rows = (
        ("heading, proportional", heading.proportional, "a deg"),
        ("heading, derivative, on the rate of turn", heading.derivative, "a deg/s"),
        ("heading, largest command", in_unit(heading.limit, "deg"), ""),
    )
    for name, degrees, per in rows:
        yield _forms(name, degrees, per, travel) if law.uses.rudder else _only(name, f"{number(degrees)} deg {per}".strip())
    if law.uses.rudder:
        yield _only("100 % of the rudder", _degrees(travel))
    if law.uses.differential:
        differential = in_unit(law.craft.steering.differential, "%/deg")
        yield _only("throttle to port, and off starboard, for the command of heading", f"{number(differential)} % a deg")


def _mixer(law: Law) -> Iterator[tuple[str, ...]]:
    """Of each foil: what it turns for one degree of each command, and where it stands at each speed."""
    for i, name in enumerate(law.craft.foils):
        first = i * at.FOIL.width
        height, pitch, roll = (float(each) for each in law.row[at.FOIL.mix.slots(first)])
        angles = [height * trim.height + pitch * trim.pitch for trim in law.trims[:MOST_SPEEDS]]
        if not law.uses.levels:
            height, pitch, roll = 1.0, 0.0, 0.0
        factors = [number(each, DIGITS) if abs(each) > 1e-9 else "0" for each in (height, pitch, roll)]
        yield name, *factors, *(f"{round(math.degrees(angle), 3) + 0.0:.3f} deg" for angle in angles)


def _others(law: Law) -> Iterator[tuple[str, ...]]:
    control = law.craft.control
    yield "wanted height of the keel", with_unit(100.0 * control.ride_height, "cm")
    yield (
        "code: rate, and delay from reading to servo",
        f"{with_unit(control.rate, 'Hz')}, {with_unit(1e3 * control.delay, 'ms')}",
    )
    schedule = control.schedule_speed
    scheduled = "1" if schedule is None else f"({number(schedule)} m/s over the speed, at least 0.3 m/s) squared, from 0.2 to 4"
    yield "factor on all commands of angles but the trim", scheduled
    if control.traits.cascades:
        yield "each low-pass of the cascaded loops, corner f", "each tick of T goes T / (T + 1 / (2 π f)) of the way"
    yield from _estimates(law)
    if control.traits.levels:
        yield "wanted pitch, bow up", _degrees(control.pitch_trim)
        shared = f"{number(in_unit(control.pitch_share, 'deg/cm'))} deg a cm, at most {_degrees(SHARED_LIMIT)}"
        yield "and bow up for missing height", shared
        bank = f"{100.0 * control.bank_share:.0f} % of a coordinated turn's, at most {_degrees(float(law.row[at.BANK_LIMIT]))}"
        yield "bank in a turn", bank
        if law.uses.previews:
            reach, late = float(law.row[at.PREVIEW_DISTANCE]), float(law.row[at.KNOWN_LATENCY]) + control.height.smoothing
            angle = f"-{number(control.preview)} rad times (rate of height / speed)"
            yield "preview, added to the height command", f"{angle}, by ({number(reach)} m / speed - {number(late)} s) later"
    yield "course: largest rate of turn", with_unit(in_unit(control.turn_rate, "deg/s"), "deg/s")
    speed = control.speed
    yield "throttle, proportional", f"{number(in_unit(speed.proportional, '%/(m/s)'))} % a m/s"
    yield "throttle, integral", f"{number(in_unit(speed.integral, '%/(m/s)/s'))} % a m/s and s"
    yield "throttle for missing height", f"{number(in_unit(control.throttle_share, '%/cm'))} % a cm"


def _estimates(law: Law) -> Iterator[tuple[str, ...]]:
    """How readings become attitude, height and its rate."""
    craft, control, sensors = law.craft, law.craft.control, law.craft.rangefinders
    level = craft.inertial.levelling_time
    if control.traits.levels:
        corner = with_unit(1.0 / (2.0 * math.pi * level), "Hz")
        said = (
            f"{with_unit(level, 's')} ({corner}): each tick of T goes T over it of the way, from the attitude before the tick"
        )
        yield "attitude: gyro, levelled by the accelerometer over", said
        yield "height: of the keel under the centre of gravity", "by each last reading, turned by roll and pitch of this tick"
    if control.traits.fuses:
        yield from _fused(law)
    elif control.traits.levels:
        smoothing = control.height.smoothing
        corner = with_unit(1.0 / (2.0 * math.pi * smoothing), "Hz")
        said = (
            f"{with_unit(1e3 * smoothing, 'ms')} ({corner}): height less smoothed height, over it; then that goes T over it on"
        )
        yield "rate of height: low-pass over", said
    for i, name in enumerate(sensors.names()):
        yield f"rangefinder {name}", f"{_seen_from(law, i)}; trust {number(sensors.of_each('trust')[i])}"
    if sensors.number > 1 and control.traits.levels:
        yield "several rangefinders", f"their {control.combine}"
    yield "each reading is the median of the last", number(control.median)
    gates = sorted({gate_between(control.gate, step) for step in sensors.of_each("resolution")})
    jump = " or ".join(with_unit(100.0 * gate, "cm") for gate in gates) if control.gate else ""
    yield "a reading is refused, three in a row at most, that jumps by over", jump or "any distance is let through"


def _fused(law: Law) -> Iterator[tuple[str, str]]:
    """The fused height, step by step (M15.8). The oldest height that is held here was told one tick before its own time."""
    control, ticks = law.craft.control, int(law.row[at.KNOWN_AGE])
    corner = f"{with_unit(control.corner, 'rad/s')} ({with_unit(control.corner / (2.0 * math.pi), 'Hz')}), damping 0.7"
    yield "height: accelerometer above, rangefinders below the corner c", corner
    yield (
        "each tick of T: height h, its rate v, acceleration a upward, less gravity",
        "h grows by T v, of the v before the tick; v by T a",
    )
    late = with_unit(1e3 * (ticks + 1) / control.rate, "ms")
    yield (
        f"last readings, new or not, against the h of {ticks + 1} ticks ago ({late})",
        (
            f"off by d: h grows by 1.4 c T d + {ticks} c² T² d, v by c² T d, and the h kept of i ticks ago, i to {ticks}, by "
            f"1.4 c T d + ({ticks} - i) c² T² d"
        ),
    )


def _seen_from(law: Law, sensor: int) -> str:
    """Where a rangefinder sits, which way it looks unless straight down, and what the reading is of one without a beam."""
    first = sensor * at.KNOWN_PLACE.width
    x, y, height = (100.0 * float(each) for each in law.row[at.KNOWN_PLACE.slots(first)])
    place = f"{number(x)} cm ahead and {number(y)} cm to starboard of the centre of gravity, {number(height)} cm over the keel"
    arm = float(law.row[at.KNOWN_ARM + sensor])
    if arm > 0.0:
        arm = 100.0 * arm
        return (
            f"{place}; a wand: the reading is how far its tip is below there, and the tip √({number(arm)}² - reading²) cm aft"
        )
    if arm < 0.0:
        return f"{place}; a pressure tap: the reading is how deep it is"
    ahead, aside, down = rangefinder_beams(law.craft)[sensor]
    if ahead == aside == 0.0:
        return f"{place}, looking straight down"
    tilts = (_degrees(math.atan2(ahead, down)), _degrees(math.atan2(aside, down)))
    return f"{place}, looking {tilts[0]} ahead and {tilts[1]} to starboard of straight down"

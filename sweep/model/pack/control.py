"""Pack a craft's sensors, servos and control code into the numbers that the kernels read."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from sweep.model import layout as at
from sweep.model import records
from sweep.model.onboard.choices import COMBINED, FINDERS, FOOTPRINTS, TRUSTED
from sweep.model.onboard.own import Sizes
from sweep.model.onboard.safety import LEAST_RANGE_AGE, MOST_RANGE_AGE, RANGE_PERIODS
from sweep.model.onboard.servo import transition
from sweep.model.pack.mass import MassProperties, Triple, rangefinder_beams, rangefinder_places, to_body
from sweep.model.physics.spectra import GRAVITY

if TYPE_CHECKING:
    from sweep.campaign.craft import CascadeAxis, Craft, Linkage, Rangefinders, Servo, Wand


ANY_TILT = -0.9  # cosine of a tilt that no flight outlasts
COPIED = (
    "latency",
    "noise",
    "resolution",
    "blind",
    "far",
    "dropout",
    "tilt_loss",
    "spray_loss",
    "spray_height",
    "spikes",
    "spike_size",
)
"""Properties of a rangefinder that the kernels take as they are."""


def pack_control(row: np.ndarray, craft: Craft, properties: MassProperties) -> None:
    """Write the sensors, servos (M13.6) and gains of one craft to its row of parameters."""
    control = craft.control
    _pack_servo(row, at.SERVO, craft.servos)
    for index, foil in enumerate(craft.foils.values()):
        moved_by = moved_by_of(index)
        _pack_servo(row, moved_by, craft.servo_of(foil))
        row[moved_by.travel] *= foil.moves
        if foil.linkage is not None:
            _pack_linkage(row, craft, index, foil.linkage)
    row[at.SERVO_SHARE] = 1.0 / sum(foil.moves for foil in craft.foils.values())
    first, *others = craft.steering.moved_by()[0]
    _pack_servo(row, at.RUDDER_SERVO, first)
    for index, servo in enumerate(others):
        _pack_servo(row, own_servo_of(index), servo)
    _pack_gains(row, craft)
    row[at.RIDE_HEIGHT] = control.ride_height
    row[at.PITCH_TRIM] = control.pitch_trim
    row[at.TURN_RATE] = control.turn_rate
    row[at.BANK_SHARE] = control.bank_share
    row[at.THROTTLE_SHARE] = control.throttle_share
    row[at.PITCH_SHARE] = control.pitch_share
    row[at.DELAY] = control.delay
    row[at.DIFFERENTIAL] = craft.steering.differential
    row[at.PREVIEW] = control.preview
    row[at.OWN_SETTING : at.OWN_SETTING + len(control.settings)] = list(control.settings.values())
    _pack_rangefinders(row, craft, properties)
    _pack_motion_sensors(row, craft, properties)


def _pack_linkage(row: np.ndarray, craft: Craft, foil: int, linkage: Linkage) -> None:
    """Write how a wand moves a foil: its servo stays where it is, and the linkage turns it (M21.1, M21.3)."""
    moved_by, first, wand = moved_by_of(foil), foil * at.FOIL.width, craft.wands[linkage.wand]
    row[at.FOIL.led + first] = 1.0
    row[at.FOIL.led_by + first] = [*craft.wands].index(linkage.wand)
    row[at.FOIL.gearing + first] = linkage.gearing
    row[moved_by.travel] = linkage.travel
    row[moved_by.backlash] = linkage.play
    row[moved_by.rate], row[moved_by.quantum] = 0.0, 0.0
    row[moved_by.torque] = wand.press * wand.arm / linkage.gearing


def pack_settings(row: np.ndarray, craft: Craft, designed: Craft, properties: MassProperties) -> None:
    """Write the control code's settings: positions, levers and delays of the craft as designed (M15.1).

    properties: of the craft as designed. Gains, wanted height and pitch are the craft's own. Trims and mixer are set elsewhere.
    """
    sensors, control = designed.rangefinders, craft.control
    row[at.BANK_LIMIT] = bank_limit(designed)
    if designed.steering.turns:
        row[at.RUDDER_SIDE] = rudder_sides(designed, properties)[0]
    places = rangefinder_places(designed)
    beams, trust = rangefinder_beams(designed), sensors.of_each("trust")
    feet, wands = [], wands_read(designed)
    for i, (place, beam) in enumerate(zip(places, beams, strict=True)):
        body, wand = to_body(properties, *place), wands[i]
        known = beam
        if wand is not None:
            row[at.KNOWN_ARM + i] = wand.arm
            beam, known = wand_beam(place[2] + control.ride_height, wand.arm), (0.0, 0.0, 1.0)
        elif sensors.of_each("kind")[i] == "pressure":
            row[at.KNOWN_ARM + i] = -1.0
            beam, known = (0.0, 0.0, 1.0), (0.0, 0.0, -1.0)
        reach = (place[2] + control.ride_height) / beam[2]
        feet.append(np.array([body[0] + reach * beam[0], body[1] + reach * beam[1]]))
        row[at.KNOWN_PLACE.slots(i * at.KNOWN_PLACE.width)] = [body[0], body[1], place[2]]
        row[at.KNOWN_LOOK.slots(i * at.KNOWN_LOOK.width)] = (
            known if trust[i] > 0.0 else math.nan
        )  # its height is then never known
        row[at.GATE + i] = gate_between(control.gate, sensors.of_each("resolution")[i] if wand is None else 0.0)
    row[at.KNOWN_TRUST : at.KNOWN_TRUST + len(places)] = trust
    if max(trust) > min(trust) and control.combine != "vote":
        row[at.COMBINE] += TRUSTED
    row[at.PLANE_WEIGHT : at.PLANE_WEIGHT + len(places)] = plane_weights(feet, trust)
    row[at.PREVIEW_DISTANCE] = max(float(np.average([foot[0] for foot in feet], weights=trust)), 0.0)
    row[at.KNOWN_LATENCY] = np.average(sensors.of_each("latency"), weights=trust)
    row[at.KNOWN_AGE] = reading_age(sensors, control.median, control.rate)
    row[at.RANGE_PATIENCE] = (max(round(range_patience(sensors) * control.rate), 1) - 0.5) / control.rate


def reading_age(sensors: Rangefinders, median: int, rate: float) -> int:
    """Mean age of the readings in use, whole control ticks: the latency, and half the time that the median spans (M15.8).

    rate: of the control code, Hz. A reading is used until that sensor's next. The median of a steady change is the middle one.
    Of unlike rangefinders, the mean by their trust.
    """
    ages = np.array(sensors.of_each("latency")) + 0.5 * median / np.array(sensors.own_rates())
    age = float(np.average(ages, weights=sensors.of_each("trust")))
    return min(math.floor(age * rate + 1e-6), at.HEIGHT_TICKS - 1)


def range_patience(sensors: Rangefinders) -> float:
    """Time without a reading (s) after which the slowest rangefinder in use is stale (M15.21)."""
    rates = [rate for rate, trust in zip(sensors.own_rates(), sensors.of_each("trust"), strict=True) if trust > 0.0]
    return min(max(LEAST_RANGE_AGE, RANGE_PERIODS / min(rates)), MOST_RANGE_AGE)


SPARE_READINGS = 2
"""Room in the queue for readings of each rangefinder beyond what its rate brings in a tick (judgement)."""


def queue_length(craft: Craft) -> int:
    """Room for all readings of rangefinders that come between two ticks."""
    rates = craft.rangefinders.own_rates()
    return sum(math.ceil(rate / craft.control.rate - 1e-9) + SPARE_READINGS for rate in rates)


def code_digest(text: str) -> str:
    """Of the text of the builder's own code."""
    return hashlib.blake2b(text.encode(), digest_size=16).hexdigest()


def own_sizes(craft: Craft) -> Sizes:
    """What the builder's own code is compiled for."""
    control, sensors = craft.control, craft.rangefinders
    return Sizes(
        code=code_digest(craft.codes.get(control.code or "", "")),
        foils=tuple(craft.foils),
        rangefinders=tuple(sensors.names()),
        most_ranges=queue_length(craft),
        height_ticks=reading_age(sensors, control.median, control.rate) + 1,
        median=control.median,
        rudder=bool(craft.steering.turns),
        differential=craft.steering.differential > 0.0,
        settings=tuple(control.settings),
    )


def gate_between(gate: float, resolution: float) -> float:
    """The gate (m), moved half a step above the largest jump that passes, so that no jump of whole steps equals it.

    resolution: the step of the readings, m. A gate of 0 means none. M14.9.
    """
    if gate == 0.0 or resolution == 0.0:
        return gate
    return (math.floor(gate / resolution + 1e-6) + 0.5) * resolution


def _pack_gains(row: np.ndarray, craft: Craft) -> None:
    control = craft.control
    height = control.height
    row[at.HEIGHT_GAINS.slots()] = [
        height.proportional,
        height.integral,
        height.derivative,
        height.limit,
        height.smoothing,
    ]
    for slots, gains in ((at.PITCH_GAINS.slots(), control.pitch), (at.ROLL_GAINS.slots(), control.roll)):
        row[slots] = [gains.proportional, gains.integral, gains.derivative, gains.limit]
    if control.cascade is not None:
        for slots, axis in ((at.PITCH_CASCADE.slots(), control.cascade.pitch), (at.ROLL_CASCADE.slots(), control.cascade.roll)):
            row[slots] = _cascade(axis)
    heading = control.heading
    row[at.HEADING_GAINS.slots()] = [heading.proportional, heading.derivative, heading.limit]
    row[at.SPEED_GAINS.slots()] = [control.speed.proportional, control.speed.integral]
    row[at.SCHEDULE_SPEED] = control.schedule_speed or 0.0
    row[at.COMBINE] = COMBINED[control.combine]
    row[at.MEDIAN] = control.median
    row[at.CORNER] = control.corner


def _cascade(axis: CascadeAxis) -> list[float]:
    """Gains of both loops of an axis, with the lags (s) of their filters (M15.20)."""
    angle, rate = axis.angle, axis.rate
    outer = [angle.proportional, angle.limit, 1.0 / (2.0 * math.pi * angle.filter)]
    return [*outer, rate.proportional, rate.integral, rate.derivative, rate.limit, 1.0 / (2.0 * math.pi * rate.filter)]


def _pack_rangefinders(row: np.ndarray, craft: Craft, properties: MassProperties) -> None:
    """Copy every property that has a slot of its name; then write the values computed from several properties."""
    sensors, number = craft.rangefinders, craft.rangefinders.number
    for name in COPIED:
        slot = getattr(at, f"RANGE_{name.upper()}")
        row[slot : slot + number] = sensors.of_each(name)
    for i, (place, beam) in enumerate(zip(rangefinder_places(craft), rangefinder_beams(craft), strict=True)):
        row[at.RANGE_PLACE.slots(i * at.RANGE_PLACE.width)] = to_body(properties, *place)
        row[at.RANGE_LOOK.slots(i * at.RANGE_LOOK.width)] = beam
        row[at.RANGE_BEAM + i] = math.tan(0.5 * sensors.of_each("beam")[i])
        row[at.RANGE_NEAREST + i] = FOOTPRINTS[sensors.of_each("footprint")[i]]
        row[at.RANGE_TILT + i] = math.cos(sensors.of_each("tilt_limit")[i])
        row[at.RANGE_RATE + i] = slot_rate(sensors, i)
        row[at.RANGE_BURST + i] = sensors.of_each("burst")[i] * sensors.own_rates()[i]
        if sensors.of_each("kind")[i] != "beam":
            _pack_other_kind(row, craft, i)


def _pack_other_kind(row: np.ndarray, craft: Craft, which: int) -> None:
    """Write what makes a rangefinder another than one with a beam: it sees from everywhere, at any tilt (M19.5, M20.3)."""
    sensors = craft.rangefinders
    row[at.RANGE_KIND + which] = FINDERS[sensors.of_each("kind")[which]]
    row[at.RANGE_BLIND + which], row[at.RANGE_FAR + which], row[at.RANGE_TILT + which] = -math.inf, math.inf, ANY_TILT
    row[at.RANGE_TILT_LOSS + which], row[at.RANGE_SPRAY_LOSS + which], row[at.RANGE_BEAM + which] = 0.0, 0.0, 0.0
    if (name := sensors.of_each("wand")[which]) is not None:
        row[at.RANGE_WAND + which] = [*craft.wands].index(name)
        row[at.RANGE_RESOLUTION + which] = 0.0
        row[at.RANGE_ANGLE_STEP + which] = sensors.of_each("angle_step")[which]
    else:
        row[at.RANGE_LOOK.slots(which * at.RANGE_LOOK.width)] = 0.0  # it feels the water where it is
        row[at.RANGE_PRESSURE + which] = sensors.of_each("pressure_coefficient")[which] / (2.0 * GRAVITY)
        row[at.RANGE_TUBE_LAG + which] = sensors.of_each("tube_lag")[which]


def wands_read(craft: Craft) -> list[Wand | None]:
    """The wand whose angle each rangefinder reads; None for another kind."""
    return [None if name is None else craft.wands[name] for name in craft.rangefinders.of_each("wand")]


def wand_beam(height: float, arm: float) -> Triple:
    """From the hinge of a level wand (m over the water) to where its arm (m) touches it: of length 1, body axes."""
    sine = min(max(height / arm, 1e-3), 1.0)
    return -math.sqrt(1.0 - sine * sine), 0.0, sine


def _pack_motion_sensors(row: np.ndarray, craft: Craft, properties: MassProperties) -> None:
    inertial, navigation = craft.inertial, craft.navigation
    row[at.VIBRATION] = inertial.vibration
    row[at.INERTIAL_PLACE.slots()] = to_body(properties, inertial.x, inertial.y, inertial.height)
    row[at.GYRO_NOISE] = inertial.gyro_noise
    row[at.GYRO_BIAS] = inertial.gyro_bias
    row[at.ACCELEROMETER_NOISE] = inertial.accelerometer_noise
    row[at.ACCELEROMETER_BIAS] = inertial.accelerometer_bias
    row[at.LEVELLING_TIME] = inertial.levelling_time
    row[at.NAVIGATION_RATE] = navigation.rate
    row[at.SPEED_NOISE] = navigation.speed_noise
    row[at.HEADING_NOISE] = navigation.heading_noise


def rudder_sides(craft: Craft, properties: MassProperties) -> list[float]:
    """Side of every rudder, 1 aft of the centre of gravity and -1 ahead: foils whose struts turn, then rudders of their own."""
    steering = craft.steering
    turning = [craft.foils[name].x for name in (steering.rudder, steering.second_rudder) if name is not None]
    turning += [rudder.x for rudder in steering.rudders.values()]
    return [-1.0 if x > properties.centre[0] else 1.0 for x in turning]


def bank_limit(craft: Craft) -> float:
    """The bank (rad) that raises the outermost foil tip to half a chord below the surface; 0 if it is as high already.

    M15.12.
    """
    limits = []
    for foil in craft.foils.values():
        depth = craft.strut_of(foil).height - craft.control.ride_height
        reach = abs(foil.y) + 0.5 * foil.span_length
        limits.append(math.atan2(depth - 0.5 * foil.chord, reach))
    return max(min(limits), 0.0)


def _pack_servo(row: np.ndarray, at_servo: records.Servo, servo: Servo) -> None:
    row[at_servo.bandwidth] = servo.bandwidth
    row[at_servo.damping] = servo.damping
    row[at_servo.rate] = servo.rate
    row[at_servo.travel] = servo.travel
    row[at_servo.quantum] = servo.quantum
    row[at_servo.torque] = math.inf if servo.torque is None else servo.torque * servo.linkage
    row[at_servo.backlash] = servo.backlash


def moved_by_of(foil: int) -> records.Servo:
    """Slots of the constants of a foil's servo."""
    return records.Servo(at.FOIL.moved_by.first + foil * at.FOIL.width)


def own_servo_of(index: int) -> records.Servo:
    """Slots of the constants of a rudder's servo, beside that of the first rudder."""
    return records.Servo(at.OWN_SERVO.moved_by.first + index * at.OWN_SERVO.width)


def servo_terms(parameters: np.ndarray, counts: at.PartCounts, half: float) -> None:
    """Write the transition matrices of all servos over half a step (s), from their bandwidth and damping."""
    of_foils = [moved_by_of(foil) for foil in range(counts.foils)]
    of_rudders = [own_servo_of(index) for index in range(counts.rudder_servos)]
    known: dict[tuple[float, float], np.ndarray] = {}
    for servo in (at.SERVO, at.RUDDER_SERVO, *of_foils, *of_rudders):
        for row in parameters:
            key = (float(row[servo.bandwidth]), float(row[servo.damping]))
            if key not in known:
                known[key] = transition(*key, half)
            row[servo.transition.slots()] = known[key]


def plane_weights(places: Sequence[np.ndarray], trust: Sequence[float]) -> np.ndarray:
    """Weight of each rangefinder's height in the height, at the centre of gravity, of the plane fitted through them all.

    places: where each sees the water, x and y in body axes, m; trust: of each, as weights of the fit. The trust's own shares
    where the rangefinders that have some do not span a plane.
    """
    share = np.array(trust, dtype=float)
    across = np.array([[1.0, place[0], place[1]] for place in places])
    if np.count_nonzero(share) < 3 or np.linalg.matrix_rank(across[share > 0.0], tol=1e-6) < 3:
        return share / share.sum()
    root = np.sqrt(share)
    weights: np.ndarray = np.linalg.pinv(across * root[:, None])[0] * root
    return weights


def slot_rate(sensors: Rangefinders, which: int) -> float:
    """Readings a second of a rangefinder, times how many there are (M14.11)."""
    own = None if sensors.each is None else [*sensors.each.values()][which].rate
    return sensors.rate if own is None else own * sensors.number

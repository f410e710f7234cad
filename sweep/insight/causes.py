"""The cause of a bad event, from the seconds of the record before it, by stated rules.

The rules are tried in the order of `RULES`. The first that holds gives the cause; if none holds it is `UNCLEAR`. Each rule
reads the `LOOK` seconds (of a hull of `REFERENCE_LENGTH`; Froude scaling) up to the event. It knows the record and the craft
file, not what was wrong. Their thresholds are judgements, adjusted on planted flights and checked on others
(`tests/insight/plants.py`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from itertools import pairwise

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.campaign.craft import Craft, Servo
from sweep.campaign.faults import NamedFault
from sweep.insight.events import KINDS, foilborne
from sweep.insight.following import heeled, waves_followed
from sweep.insight.scene import Array, Cause, Scene, time_scale
from sweep.insight.turning import banked_in_turn, height_in_turn, in_turn, just_lifted, slowed_in_turn, starting
from sweep.model.onboard.faults import START, STOP
from sweep.model.onboard.safety import RANGE_LOST

Flags = NDArray[np.bool_]

# All judgement, adjusted on planted flights; the rule that uses one says what it is.
LOOK = 4.0  # s before the event
LEAST_ROWS = 20  # of the record, for a rule to look at them
SLOW = 0.75  # of the speed wanted
STOPPED, RUSHING = 0.6, 0.3  # of the time
BLIND, LAST_MOMENT = 0.3, 0.2  # of the time; s
STEADY, BESIDE, STILL = 6e-4, 0.004, 0.5  # m from row to row; m; s
READINGS_MISSED, ASTRAY = 6.0, 0.25  # readings; of the struts
SMOOTHED = 1.5  # s
DRAWN_ROWS, SHALLOW, CHORDS = 2, 0.1, 1.5  # rows; of the time; chords
SWING, UNEXPLAINED, RETURN, REACH = 0.12, 0.6, 0.33, 0.25  # of the travel; of the variance; autocorrelation; s
WIDE_SWING, WIDE_UNEXPLAINED, WIDE_RETURN = 0.3, 0.35, 0.2  # the same
ROLLED, GROWTH, GROWN = 0.06, 1.15, 2  # rad; times the swing before; swings on end
HIGH = 0.6  # of the struts' height
SAME = 1.0  # s after an event: what begins within it is still the same trouble
UNCLEAR = "not clear"
PLANNED = "as planned"
SHALLOW_WATER = "shallow water"
STOPPED_BOAT = "stopped by its code"
STOPS = ("", "its arming switch was off", "its link was lost", "a rangefinder gave no reading", "it seemed to lean past 60 deg")
"""What a boat is stopped by (`stopped_by` of a record), in words."""
DROP_OUT = "drop-out"


def name_causes(
    history: pd.DataFrame,
    events: pd.DataFrame,
    craft: Craft,
    speeds: Mapping[int, float],
    faults: Mapping[int, NamedFault] | None = None,
) -> pd.DataFrame:
    """The events of a design's recorded flights (`events.list_events`) with the columns cause and why.

    history: as recorded; by condition, speeds: wanted, m/s, and faults: what the campaign plans. Each event is judged by the
    seconds before it. Only what begins within `SAME` of the end of the one before has its cause, and says so: a boat that falls
    touches down, ventilates and ends for one reason. One that touches the ground out of a sound flight has too little water.
    One that its code stops was stopped for what the record says.
    """
    found: list[Cause] = []
    last: dict[int, tuple[str, float, Cause]] = {}
    for event in events.to_dict("records"):
        condition, begin, kind = int(event["condition"]), float(event["begin"]), str(event["kind"])
        before, planned = last.get(condition), _planned((faults or {}).get(condition), begin, craft)
        if before is not None and begin - before[1] < SAME * time_scale(craft):
            cause = _after(before, begin)
        elif kind == "stopped":
            cause = _stopped(history[history["condition"] == condition], begin, planned)
        elif planned is not None:
            cause = planned
        elif kind == "aground":
            cause = Cause(SHALLOW_WATER, "the lowest part of the boat was as deep as the water")
        else:
            cause = name_cause(history[history["condition"] == condition], begin, craft, speeds[condition])
        last[condition] = (kind, max(float(event["end"]), begin), cause)
        found.append(cause)
    return events.assign(cause=[cause.name for cause in found], why=[cause.said for cause in found])


def _after(before: tuple[str, float, Cause], begin: float) -> Cause:
    """The cause of what began so soon after another event, which is of a kind, ended at a time (s) and has a cause."""
    kind, end, cause = before
    when = f"{begin - end:.1f} s after" if begin > end else "while"
    return Cause(cause.name, f"{when} {KINDS[kind]}: {cause.said.split(': ', 1)[-1]}")


def _planned(fault: NamedFault | None, begin: float, craft: Craft) -> Cause | None:
    """The campaign's fault, if any of it acted as an event began and had begun within `LOOK` before it."""
    starts = [row[START] for row in fault.rows if row[START] <= begin < row[STOP]] if fault is not None else []
    since = begin - max(starts, default=-math.inf)
    if fault is None or since >= LOOK * time_scale(craft):
        return None
    return Cause(PLANNED, f"{fault.name}, which the campaign plans, began {since:.1f} s before")


def _stopped(flight: pd.DataFrame, begin: float, planned: Cause | None) -> Cause:
    """Why the control code stopped a boat at a time (s)."""
    first = flight[flight["time"].to_numpy(dtype=np.float64) >= begin].iloc[0]
    why = int(first["stopped_by"])
    told = Cause(DROP_OUT if why == RANGE_LOST else STOPPED_BOAT, f"the code stopped the boat: {STOPS[why]}")
    return told if planned is None else Cause(planned.name, f"{told.said}; {planned.said}")


def name_cause(flight: pd.DataFrame, begin: float, craft: Craft, speed: float) -> Cause:
    """The cause of what began at a time (s) of a recorded flight."""
    past = flight[flight["time"].to_numpy(dtype=np.float64) <= begin + 1e-9]
    lifted_at = _lifted_at(past, craft)
    first = max(begin - LOOK * time_scale(craft), lifted_at)
    rows = past[past["time"].to_numpy(dtype=np.float64) > first]
    if len(rows) < LEAST_ROWS and lifted_at > -math.inf:  # it hardly flew: what came before is looked at too
        rows = past.tail(LEAST_ROWS)
    if len(rows) < LEAST_ROWS:
        return Cause(UNCLEAR, "too little of the flight came before it")
    scene = Scene(rows, craft, speed, float(np.median(np.diff(rows["time"]))), past, lifted_at)
    found = (said for rule in RULES for said in rule(scene))
    return next(found, Cause(UNCLEAR, RULED_OUT))


def _lifted_at(past: pd.DataFrame, craft: Craft) -> float:
    """When (s) a flight last lifted off; minus infinity if it flew all along, or does not fly at the end."""
    stopped = past["stopped"] if "stopped" in past else pd.Series(0.0, past.index)
    time: Array = past["time"].to_numpy(dtype=np.float64)
    load: Array = past["hull_load"].to_numpy(dtype=np.float64)
    flies = foilborne(time, load, time_scale(craft), stopped.to_numpy(dtype=np.float64) > 0.0)
    afloat = np.flatnonzero(~flies)
    return float(time[afloat[-1]]) if len(afloat) and flies[-1] else -math.inf


def thrust_short(scene: Scene) -> Iterator[Cause]:
    """The boat had lost speed: at the event it made less than `SLOW` of what is wanted."""
    share = float(scene.column("speed")[-1] / scene.speed)
    if share < SLOW:
        yield Cause("thrust short", f"the speed had fallen to {100 * share:.0f} % of what is wanted")


def _servos(craft: Craft) -> list[tuple[bool, Servo]]:
    """Whether each foil moves, and its servo."""
    return [(foil.moves, craft.servo_of(foil)) for foil in craft.foils.values()]


def servo_stopped(scene: Scene) -> Iterator[Cause]:
    """A foil stood at the end of its travel for more than `STOPPED` of the time."""
    ends = [0.98 * servo.travel - servo.quantum if moves else math.inf for moves, servo in _servos(scene.craft)]
    share = float((np.abs(scene.foils()) >= np.array(ends)).any(axis=1).mean())
    if share > STOPPED:
        yield Cause("servo limit", f"a foil stood at the end of its travel for {100 * share:.0f} % of the time")


def servo_rushing(scene: Scene) -> Iterator[Cause]:
    """A foil moved as fast as its servo can for more than `RUSHING` of the time."""
    rates = np.abs(np.gradient(scene.foils(), scene.step, axis=0))
    most = np.array([0.9 * servo.rate for _, servo in _servos(scene.craft)])
    share = float((rates > most).any(axis=1).mean())
    if share > RUSHING:
        yield Cause("servo limit", f"a foil moved as fast as its servo can for {100 * share:.0f} % of the time")


def blind_range(scene: Scene) -> Iterator[Cause]:
    """The rangefinder was closer to the water than it can see for more than `BLIND` of the time, the last moment aside."""
    finder = scene.craft.rangefinders
    mounted, blind = finder.first("height"), finder.first("blind")
    last = max(len(scene.rows) - round(LAST_MOMENT / scene.step), 1)
    close = (scene.column("ride_height") + _lift(scene) + mounted)[:last] < blind
    if close.mean() > BLIND:
        yield Cause(
            "blind range", f"the rangefinder was closer than its blind range for {100 * close.mean():.0f} % of the time"
        )


def _lift(scene: Scene) -> Array:
    """How much higher than the reference point the rangefinder is by the pitch, m."""
    return float(scene.craft.rangefinders.first("x")) * np.sin(scene.column("pitch"))


def no_reading(scene: Scene) -> Iterator[Cause]:
    """The sensed height stood still but for the boat's own pitch: for `STILL` s and as long as `READINGS_MISSED` readings take.

    Readings at the blind range stand still too, and do not count. A fused height is smooth by itself: there it takes `SMOOTHED`
    s.
    """
    finder = scene.craft.rangefinders
    level = np.cos(scene.column("roll")) * np.cos(scene.column("pitch"))
    reading = (scene.column("sensed_height") + _lift(scene)) / level
    seeing = reading[1:] + finder.first("height") > finder.first("blind") + BESIDE
    still = _longest((np.abs(np.diff(reading)) < STEADY) & seeing) * scene.step
    least = SMOOTHED if scene.craft.control.traits.fuses else STILL
    if still > max(least, READINGS_MISSED / (finder.number * max(finder.own_rates()))):
        yield Cause(DROP_OUT, f"no new reading came for {still:.1f} s")


def astray(scene: Scene) -> Iterator[Cause]:
    """The sensed height was off by `ASTRAY` of the struts' height on the mean of a second."""
    off = scene.column("sensed_height") - scene.column("ride_height")
    mean = float(off[-round(1.0 / scene.step) :].mean())
    if abs(mean) > ASTRAY * _strut_height(scene.craft):
        side = "higher" if mean > 0.0 else "lower"
        yield Cause(DROP_OUT, f"the control code took the boat to be {100 * abs(mean):.0f} cm {side} than it was")


def _strut_height(craft: Craft) -> float:
    """Of the shortest struts, m: their foil is the first to come out, and its strut the first to be too short."""
    return min(craft.strut_of(foil).height for foil in craft.foils.values())


def _longest(flags: Flags) -> int:
    """The longest run of true."""
    ends = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(int), [0]])))
    return int((ends[1::2] - ends[::2]).max(initial=0))


def ventilation(scene: Scene) -> Iterator[Cause]:
    """A tip was as shallow, and a foil as loaded, as the craft file says that draws air, for `DRAWN_ROWS` rows or more; or it
    was as shallow for `SHALLOW` of the time, or less than `CHORDS` chords deep on average: then the next load draws air.

    The load is the angle from no lift by the foil, the pitch and the boat's rise; the waves' own flow is not in the record.
    """
    foils = scene.craft.foils.values()
    rise = np.gradient(scene.column("keel_height"), scene.step) / np.maximum(scene.column("speed"), 0.3)
    common = scene.column("pitch") - rise
    rows = np.zeros(len(scene.rows), dtype=np.bool_)
    for angle, foil in zip(scene.foils().T, foils, strict=True):
        loaded = angle + foil.incidence - foil.zero_lift_angle + common > foil.ventilation.angle
        rows |= loaded & (scene.column("submergence") < foil.ventilation.depth * foil.chord)
    if rows.sum() >= DRAWN_ROWS:
        depth = float(scene.column("submergence")[rows].mean())
        yield Cause("ventilation", f"a foil was loaded with a tip {100 * depth:.1f} cm deep, where it draws air")
        return
    least = min(foil.ventilation.depth * foil.chord for foil in foils)
    shallow, chords = float((scene.column("submergence") < least).mean()), max(foil.chord for foil in foils)
    mean = float(scene.column("submergence").mean()) / chords
    if shallow > SHALLOW or mean < CHORDS:
        often = f"a tip was shallow enough to draw air for {100 * shallow:.0f} % of the time"
        yield Cause("ventilation", f"{often}; the shallowest was {mean:.1f} chords deep on average")


def air_before(scene: Scene) -> Iterator[Cause]:
    """A foil had drawn air before the event began."""
    if "ventilated" in scene.rows and (scene.column("ventilated")[-2:] > 0.0).all():
        depth = 100.0 * float(scene.column("submergence")[-1])
        yield Cause("ventilation", f"a foil had drawn air, the shallowest tip {depth:.1f} cm deep")


def air(scene: Scene) -> Iterator[Cause]:
    """A foil drew air as the event began: where no other rule holds, that is the trouble itself."""
    if "ventilated" in scene.rows and scene.column("ventilated")[-1] > 0.0:
        depth = 100.0 * float(scene.column("submergence")[-1])
        said = f"a foil drew air, the shallowest tip {depth:.1f} cm deep; nothing else stands out before it"
        yield Cause("ventilation", said)


def oscillation(scene: Scene) -> Iterator[Cause]:
    """A foil swung to and fro by `SWING` of its travel (standard deviation), not with the waves.

    Of its motion the surface at the boat, up to `REACH` s before and after, explains less than 1 - `UNEXPLAINED`; and what is
    left comes back after a swing (autocorrelation over `RETURN`). Of a swing of `WIDE_SWING` less is asked: a loop that is
    about to run away answers the waves too, far too much.
    """
    travels = [servo.travel for _, servo in _servos(scene.craft)]
    for (motion, left), travel in zip(_beside_waves(scene, scene.foils()), travels, strict=True):
        swing, share = float(left.std()) / travel, _share(left, motion)
        back = _comes_back(left)
        narrow = swing > SWING and share > UNEXPLAINED and back > RETURN
        if narrow or (swing > WIDE_SWING and share > WIDE_UNEXPLAINED and back > WIDE_RETURN):
            yield Cause("loop oscillation", f"a foil oscillated by {math.degrees(left.std()):.1f} deg, not with the waves")
            return


def rolling(scene: Scene) -> Iterator[Cause]:
    """The boat rolled to and fro by more than `ROLLED` (standard deviation, rad), not with the waves, and more each time.

    At least `GROWN` swings on end were `GROWTH` times as wide as the one before.
    """
    for motion, left in _beside_waves(scene, scene.column("roll")[:, None]):
        if left.std() > ROLLED and _share(left, motion) > UNEXPLAINED and _grows(left) >= GROWN:
            said = f"the boat rolled to and fro by {math.degrees(left.std()):.0f} deg, more each time, not with the waves"
            yield Cause("loop oscillation", said)


def _beside_waves(scene: Scene, motions: Array) -> Iterator[tuple[Array, Array]]:
    """Each column of motions without its ends, and what of it the surface up to `REACH` s before and after leaves over."""
    surface, shift = scene.column("surface"), max(round(REACH / scene.step), 1)
    if len(surface) < 4 * shift:
        return
    lags = range(-shift, shift + 1, max(shift // 4, 1))
    waves = np.column_stack([np.roll(surface, lag)[shift:-shift] for lag in lags] + [np.ones(len(surface) - 2 * shift)])
    for whole in motions.T:
        motion = whole[shift:-shift]
        yield motion, motion - waves @ np.linalg.lstsq(waves, motion, rcond=None)[0]


def _share(left: Array, motion: Array) -> float:
    return float(left.var() / max(motion.var(), 1e-12))


def _grows(left: Array) -> int:
    """How many swings on end, from one zero to the next, are wider than the one before; ripples are none."""
    around = left - left.mean()
    swings = np.split(np.abs(around), np.flatnonzero(np.diff(np.sign(around))) + 1)
    heights = [float(swing.max()) for swing in swings if swing.max() > 0.1 * np.abs(around).max()]
    most = run = 0
    for before, after in pairwise(heights):
        run = run + 1 if after > GROWTH * before else 0
        most = max(most, run)
    return most


def _comes_back(left: Array) -> float:
    """The highest autocorrelation after its first zero."""
    around = left - left.mean()
    lagged = np.correlate(around, around, "full")[len(around) - 1 :]
    negative = np.flatnonzero(lagged < 0.0)
    return float(lagged[negative[0] : len(lagged) // 2 + 1].max(initial=0.0) / lagged[0]) if len(negative) else 0.0


def high_wave(scene: Scene) -> Iterator[Cause]:
    """From trough to crest the water moved by more than `HIGH` of the struts' height."""
    range_ = float(np.ptp(scene.column("surface")))
    if range_ > HIGH * _strut_height(scene.craft):
        struts = 100 * _strut_height(scene.craft)
        yield Cause("wave beyond the window", f"{100 * range_:.0f} cm from trough to crest on struts of {struts:.0f} cm")


RULES: tuple[Callable[[Scene], Iterator[Cause]], ...] = (
    just_lifted,
    slowed_in_turn,
    oscillation,
    thrust_short,
    no_reading,
    servo_stopped,
    servo_rushing,
    banked_in_turn,
    rolling,
    high_wave,
    ventilation,
    blind_range,
    astray,
    heeled,
    air_before,
    height_in_turn,
    waves_followed,
    in_turn,
    starting,
    air,
)
RULED_OUT = (
    "no rule fits: the speed, the servos, the readings, the height of the waves, how the boat followed them, its heel, the "
    "depth of its tips, turns and starts were looked at"
)

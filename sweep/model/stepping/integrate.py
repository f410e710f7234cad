"""One fixed step of every lane: the sea, two stages of the explicit midpoint rule, the servos.

The craft's states are integrated to second order. The lags of lift, downwash and thrust and the servos move on exactly
for an input held over the step. Flights sample the sea once for two steps, at the pose predicted for the middle of the pair.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel
from sweep.model.elementary import exp_negative
from sweep.model.kernels.frame import copy_rows, kinematics, turn
from sweep.model.kernels.rigid_body import evaluate
from sweep.model.kernels.sea import elevation, place_points, velocity
from sweep.model.kernels.sea_single import (
    give,
    move_surface,
    place_single,
    place_single_reference,
    raise_surface,
    sample_point,
    take_phases,
    take_turns,
    turn_on,
)
from sweep.model.layout import row
from sweep.model.onboard.servo import hold, let_go, move_half, reach_back, slack

NEAR = 0.03  # m, for a hull of 0.9 m: a keel moves far less between two samplings
RUNAWAY = 1e4  # a rate of change over this (SI) has left the model: judgement


class Span(NamedTuple):
    """A step, or half of one. ticks: control ticks from the flight's start to its own; tick_share: ticks that it lasts.

    length: s.
    """

    ticks: float
    tick_share: float
    length: float


@kernel
def predict(workspace: np.ndarray, ahead: float) -> None:
    """PREDICTED pose `ahead` seconds on, from the STATE and its rates; ROTATION of the STATE (M3.12)."""
    turn(workspace, at.STATE.phi, at.ROTATION.xx)
    kinematics(workspace, at.STATE.first)
    for i in range(at.PREDICTED.width):
        out = row(at.PREDICTED.first + i)
        state = row(at.STATE.first + i)
        rate = row(at.RATE.first + i)
        for lane in range(LANES):
            workspace[out + lane] = workspace[state + lane] + ahead * workspace[rate + lane]
    turn(workspace, at.PREDICTED.phi, at.PREDICTED_ROTATION.xx)


@kernel
def sample_sea(workspace: np.ndarray, waves: int, time: float, share: float, counts: at.PartCounts) -> None:
    """Elevation and orbital velocity at every strip, strut and hull station, elevation at the reference point (M3.12, M3.15).

    waves: how many components; time in s; share: of their full height that they have now.
    """
    for strip in range(counts.strips):
        place = strip * at.STRIP.width
        place_points(workspace, place + at.STRIP.x)
        elevation(workspace, waves, time, share, place + at.STRIP.sea.eta)
        velocity(workspace, waves, share, place + at.STRIP.sea.eta, 1.0)
    for strut in range(counts.struts):
        place = strut * at.STRUT.width
        place_points(workspace, place + at.STRUT.x)
        elevation(workspace, waves, time, share, place + at.STRUT.sea.eta)
        velocity(workspace, waves, share, place + at.STRUT.sea.eta, 0.5)
    for station in range(counts.stations):
        place = station * at.STATION.width
        place_points(workspace, place + at.STATION.x)
        elevation(workspace, waves, time, share, place + at.STATION.sea.eta)
        if near_water(workspace, place + at.STATION.sea.eta):
            velocity(workspace, waves, share, place + at.STATION.sea.eta, 0.0)
        forget_far(workspace, place + at.STATION.sea.eta)
    place_points(workspace, at.THRUST_PLACE.x)
    elevation(workspace, waves, time, share, at.PROPELLER_SEA)
    place_reference(workspace)
    elevation(workspace, waves, time, share, at.REFERENCE_SEA)


@kernel
def sample_sea_single(workspace: np.ndarray, waves: int, time: float, share: float, counts: at.PartCounts) -> None:
    """As `sample_sea`, in single precision."""
    take_phases(workspace, waves, time)
    for strip in range(counts.strips):
        place = strip * at.STRIP.width
        sample_point(workspace, waves, share, place + at.STRIP.x, place + at.STRIP.sea.eta, 1.0)
    for strut in range(counts.struts):
        place = strut * at.STRUT.width
        sample_point(workspace, waves, share, place + at.STRUT.x, place + at.STRUT.sea.eta, 0.5)
    for station in range(counts.stations):
        place = station * at.STATION.width
        if workspace[row(place + at.STATION.follows)] == 0.0:
            place_single(workspace, place + at.STATION.x)
            raise_surface(workspace, waves, share)
        else:
            if workspace[row(place - at.STATION.width + at.STATION.follows)] == 0.0:
                take_turns(workspace, waves, place + at.STATION.x)
            place_single(workspace, place + at.STATION.x)
            turn_on(workspace, waves, share)
        give(workspace, place + at.STATION.sea.eta, at.SURFACE_SLOTS)
        if near_water(workspace, place + at.STATION.sea.eta):
            move_surface(workspace, waves, share)
            give(workspace, place + at.STATION.sea.eta, at.SEA.width)
        forget_far(workspace, place + at.STATION.sea.eta)
    place_single(workspace, at.THRUST_PLACE.x)
    raise_surface(workspace, waves, share)
    give(workspace, at.PROPELLER_SEA, at.SURFACE_SLOTS)
    place_single_reference(workspace)
    raise_surface(workspace, waves, share)
    give(workspace, at.REFERENCE_SEA, at.SURFACE_SLOTS)


@kernel
def between_samples(workspace: np.ndarray, sea: int, before: int, slots: int) -> None:
    """Turn the sea just sampled for the middle of two steps into the sea of the first of them (M3.13).

    Linear in time through this sampling and the one before: a quarter of the change back. sea: so many slots; before: twice as
    many, for the last sampling and the quarter. Nothing sampled (at the start, far above the water) is nothing to blend with.
    """
    s = row(sea)
    b = row(before)
    quarters = row(before + slots)
    for i in range(row(slots)):
        now = workspace[s + i]
        last = workspace[b + i]
        quarter = 0.0 if now == 0.0 or last == 0.0 else 0.25 * (now - last)
        workspace[b + i] = now
        workspace[quarters + i] = quarter
        workspace[s + i] = now - quarter


@kernel
def pass_middle(workspace: np.ndarray, sea: int, before: int, slots: int) -> None:
    """The sea of the second step: a quarter of the change past the sampling."""
    s = row(sea)
    b = row(before)
    quarters = row(before + slots)
    for i in range(row(slots)):
        workspace[s + i] = workspace[b + i] + workspace[quarters + i]


@kernel
def blend(workspace: np.ndarray, sea: int, before: int, slots: int, first: bool) -> None:
    """The sea of the first or of the second step of a pair, at one place."""
    if first:
        between_samples(workspace, sea, before, slots)
    else:
        pass_middle(workspace, sea, before, slots)


@kernel
def blend_pair(workspace: np.ndarray, counts: at.PartCounts, first: bool) -> None:
    """The sea of the first or of the second step of a pair, wherever it is sampled."""
    for strip in range(counts.strips):
        place = strip * at.STRIP.width
        blend(workspace, place + at.STRIP.sea.eta, place + at.STRIP.sea_before.first, at.SEA.width, first)
    for strut in range(counts.struts):
        place = strut * at.STRUT.width
        blend(workspace, place + at.STRUT.sea.eta, place + at.STRUT.sea_before.first, at.SEA.width, first)
    for station in range(counts.stations):
        place = station * at.STATION.width
        blend(workspace, place + at.STATION.sea.eta, place + at.STATION.sea_before.first, at.SEA.width, first)
    blend(workspace, at.PROPELLER_SEA, at.PROPELLER_SEA_BEFORE.first, at.SURFACE_SLOTS, first)
    blend(workspace, at.REFERENCE_SEA, at.REFERENCE_SEA_BEFORE.first, at.SURFACE_SLOTS, first)


@kernel
def near_water(workspace: np.ndarray, out: int) -> bool:
    """Whether the point just placed is NEAR the water in any lane: further up its velocity is not used."""
    eta = row(out)
    far = 0
    for lane in range(LANES):
        reach = NEAR * workspace[row(at.TIME_SCALE) + lane] * workspace[row(at.TIME_SCALE) + lane]
        far += workspace[row(at.POINT.z) + lane] + workspace[eta + lane] < -reach
    return far < LANES


@kernel
def forget_far(workspace: np.ndarray, out: int) -> None:
    """No velocity in the lanes whose point just placed is further up: it must not depend on what other lanes are near."""
    eta = row(out)
    for lane in range(LANES):
        reach = NEAR * workspace[row(at.TIME_SCALE) + lane] * workspace[row(at.TIME_SCALE) + lane]
        far = workspace[row(at.POINT.z) + lane] + workspace[eta + lane] < -reach
        for axis in range(at.VECTOR.width):
            v = eta + row(at.SEA.u + axis) + lane
            workspace[v] = 0.0 if far else workspace[v]


@kernel
def place_reference(workspace: np.ndarray) -> None:
    """POINT: the reference point, on the keel under the centre of gravity."""
    for lane in range(LANES):
        keel = workspace[row(at.KEEL) + lane]
        workspace[row(at.POINT.x) + lane] = (
            workspace[row(at.PREDICTED.x) + lane] + workspace[row(at.PREDICTED_ROTATION.xz) + lane] * keel
        )
        workspace[row(at.POINT.y) + lane] = (
            workspace[row(at.PREDICTED.y) + lane] + workspace[row(at.PREDICTED_ROTATION.yz) + lane] * keel
        )


@kernel
def thrust_lag(workspace: np.ndarray, time: float) -> None:
    """THRUST_MID and SIDE_THRUST_MID: the throttles as the propellers feel them after `time` (s) of the present ones (M9.1)."""
    for lane in range(LANES):
        left = workspace[row(at.THRUST_LEFT) + lane]
        throttle = workspace[row(at.THROTTLE) + lane] * left
        aside = workspace[row(at.SIDE_THROTTLE) + lane] * left
        fade = exp_negative(-time / workspace[row(at.THRUST_LAG) + lane])
        workspace[row(at.THRUST_MID) + lane] = throttle + (workspace[row(at.THRUST) + lane] - throttle) * fade
        workspace[row(at.SIDE_THRUST_MID) + lane] = aside + (workspace[row(at.SIDE_THRUST) + lane] - aside) * fade


@kernel
def to_start(workspace: np.ndarray, counts: at.PartCounts) -> None:
    """MID: everything that `evaluate` reads, as it stands at the start of the step."""
    copy_rows(workspace, at.MID.first, at.STATE.first, at.MOTION.width)
    copy_rows(workspace, at.THRUST_MID, at.THRUST, at.ONE)
    copy_rows(workspace, at.SIDE_THRUST_MID, at.SIDE_THRUST, at.ONE)
    copy_rows(workspace, at.RUDDER_MID, at.RUDDER.angle, at.ONE)
    for foil in range(counts.foils):
        place = foil * at.FOIL.width
        copy_rows(workspace, place + at.FOIL.servo_mid, place + at.FOIL.link, at.ONE)
        copy_rows(workspace, place + at.FOIL.downwash_mid, place + at.FOIL.downwash, at.MAX_FOILS)
    for strip in range(counts.strips):
        place = strip * at.STRIP.width
        copy_rows(workspace, place + at.STRIP.lag_mid, place + at.STRIP.lag, at.ONE)


@kernel
def servos_half(workspace: np.ndarray, commands: np.ndarray, counts: at.PartCounts, half: Span, density: float) -> None:
    """Move every servo over half a step."""
    reach_back(workspace, half.ticks, half.tick_share, half.length / half.tick_share)
    for foil in range(counts.foils):
        place = foil * at.FOIL.width
        hold(workspace, place, density)
        move_half(workspace, place + at.FOIL.servo.angle, at.SERVO.first, commands[foil], half.length)
        slack(workspace, place)
    let_go(workspace)
    move_half(workspace, at.RUDDER.angle, at.RUDDER_SERVO.first, commands[counts.foils], half.length)


@kernel
def finish(workspace: np.ndarray, counts: at.PartCounts, step: float) -> None:
    """From the start of the step (s) over all of it with the rates of its middle, in the lanes that fly; thrust too.

    A lane whose rates have run away stops, BROKEN, at its last good state.
    """
    thrust_lag(workspace, step)
    for lane in range(LANES):
        size = 0.0
        for i in range(at.MOTION.width):
            size += abs(workspace[row(at.RATE.first + i) + lane])
        if not size < RUNAWAY and workspace[row(at.ALIVE) + lane] > 0.0:
            workspace[row(at.ALIVE) + lane] = 0.0
            workspace[row(at.BROKEN) + lane] = 1.0
    for i in range(at.MOTION.width):
        state = row(at.STATE.first + i)
        rate = row(at.RATE.first + i)
        for lane in range(LANES):
            new = workspace[state + lane] + step * workspace[rate + lane]
            workspace[state + lane] = new if workspace[row(at.ALIVE) + lane] > 0.0 else workspace[state + lane]
    copy_rows(workspace, at.THRUST, at.THRUST_MID, at.ONE)
    copy_rows(workspace, at.SIDE_THRUST, at.SIDE_THRUST_MID, at.ONE)
    for foil in range(counts.foils):
        place = foil * at.FOIL.width
        copy_rows(workspace, place + at.FOIL.downwash, place + at.FOIL.downwash_mid, at.MAX_FOILS)
    for strip in range(counts.strips):
        place = strip * at.STRIP.width
        copy_rows(workspace, place + at.STRIP.lag, place + at.STRIP.lag_mid, at.ONE)


@kernel
def ventilate_struts(workspace: np.ndarray, struts: int, step: float) -> None:
    """Air runs down a strut in a large side angle; it leaves once the angle has stayed under half of that for a while.

    M11.2.
    """
    for strut in range(struts):
        s = row(strut * at.STRUT.width)
        for lane in range(LANES):
            angle = workspace[s + row(at.STRUT.angle) + lane]
            most = workspace[row(at.STRUT_VENTILATION.angle) + lane]
            calm = workspace[s + row(at.STRUT.washing) + lane] + step if angle < 0.5 * most else 0.0
            washed = calm >= workspace[row(at.STRUT_VENTILATION.washout) + lane] * workspace[row(at.TIME_SCALE) + lane]
            still = 0.0 if washed else workspace[s + row(at.STRUT.ventilated) + lane]
            workspace[s + row(at.STRUT.washing) + lane] = calm
            workspace[s + row(at.STRUT.ventilated) + lane] = 1.0 if angle > most else still


@kernel
def air_over(workspace: np.ndarray, foil: int, struts: int) -> None:
    """SCRATCH: 1 where air stands on a strut of this foil."""
    for lane in range(LANES):
        workspace[row(at.SCRATCH) + lane] = 0.0
    for strut in range(struts):
        s = row(strut * at.STRUT.width)
        for lane in range(LANES):
            carries = workspace[s + row(at.STRUT.foil) + lane] == foil
            air = workspace[s + row(at.STRUT.ventilated) + lane] if carries else 0.0
            workspace[row(at.SCRATCH) + lane] = max(workspace[row(at.SCRATCH) + lane], air)


@kernel
def ventilate(workspace: np.ndarray, foils: int, struts: int, step: float) -> None:
    """Air reaches a foil that is loaded and shallow, or under a strut with air on it; it leaves after a while down deep.

    M11.1. Leaves the lift factor, weed included. Times are scaled by TIME_SCALE.
    """
    for foil in range(foils):
        f = row(foil * at.FOIL.width)
        air_over(workspace, foil, struts)
        for lane in range(LANES):
            piped = workspace[row(at.SCRATCH) + lane] > 0.0
            chords = 0.0 if piped else workspace[f + row(at.FOIL.tip_depth) + lane] / workspace[f + row(at.FOIL.chord) + lane]
            deep = chords > workspace[f + row(at.FOIL.air.rewet_depth) + lane]
            washing = workspace[f + row(at.FOIL.washing) + lane] + step if deep else 0.0
            washed = washing >= workspace[f + row(at.FOIL.air.washout) + lane] * workspace[row(at.TIME_SCALE) + lane]
            loaded = workspace[f + row(at.FOIL.loaded) + lane] > workspace[f + row(at.FOIL.air.angle) + lane]
            caught = loaded and chords < workspace[f + row(at.FOIL.air.depth) + lane]
            still = 0.0 if deep and washed else workspace[f + row(at.FOIL.ventilated) + lane]
            ventilated = 1.0 if caught else still
            workspace[f + row(at.FOIL.washing) + lane] = washing
            workspace[f + row(at.FOIL.ventilated) + lane] = ventilated
            left = workspace[f + row(at.FOIL.air.lift_left) + lane] if ventilated > 0.0 else 1.0
            workspace[f + row(at.FOIL.lift_factor) + lane] = left * workspace[f + row(at.FOIL.weed_lift) + lane]


@kernel
def half_way(workspace: np.ndarray, half: float) -> None:
    """MID, half a step (s) on from the start with the rates there; thrust too. Servos are left alone."""
    for i in range(at.MOTION.width):
        mid = row(at.MID.first + i)
        state = row(at.STATE.first + i)
        rate = row(at.RATE.first + i)
        for lane in range(LANES):
            workspace[mid + lane] = workspace[state + lane] + half * workspace[rate + lane]
    thrust_lag(workspace, half)


@kernel
def step_craft(workspace: np.ndarray, commands: np.ndarray, counts: at.PartCounts, step: Span, density: float) -> None:
    """Carry every lane one step on in the sea that was sampled for it; leaves MID and RATE of the middle (M12.2)."""
    first = Span(step.ticks, 0.5 * step.tick_share, 0.5 * step.length)
    second = Span(step.ticks + first.tick_share, first.tick_share, first.length)
    to_start(workspace, counts)
    evaluate(workspace, counts, density, first.length)
    half_way(workspace, first.length)
    servos_half(workspace, commands, counts, first, density)
    for foil in range(counts.foils):
        place = foil * at.FOIL.width
        copy_rows(workspace, place + at.FOIL.servo_mid, place + at.FOIL.link, at.ONE)
    copy_rows(workspace, at.RUDDER_MID, at.RUDDER.angle, at.ONE)
    evaluate(workspace, counts, density, step.length)
    finish(workspace, counts, step.length)
    servos_half(workspace, commands, counts, second, density)
    ventilate_struts(workspace, counts.struts, step.length)
    ventilate(workspace, counts.foils, counts.struts, step.length)

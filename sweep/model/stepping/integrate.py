"""One fixed step of every lane: the sea, two stages of the explicit midpoint rule, the servos.

The craft's states are integrated to second order. The lags of lift, downwash and thrust and the servos move on exactly
for an input held over the step. Flights sample the sea once for two steps, at the pose predicted for the middle of the pair.
"""

from __future__ import annotations

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel
from sweep.model.elementary import exp_negative
from sweep.model.kernels.frame import copy_rows, kinematics, turn
from sweep.model.kernels.rigid_body import evaluate
from sweep.model.kernels.sea import elevation, place_points, velocity
from sweep.model.kernels.sea_single import (
    give,
    move_water,
    place_single,
    place_single_reference,
    raise_surface,
    sample_point,
    take_phases,
    take_turns,
    turn_on,
)
from sweep.model.layout import row
from sweep.model.onboard.servo import move_half, reach_back, slack

NEAR = 0.03  # m, for a hull of 0.9 m: a keel moves far less between two samplings
RUNAWAY = 1e4  # a rate of change over this (SI) has left the model: judgement


@kernel
def predict(workspace: np.ndarray, ahead: float) -> None:
    """PREDICTED pose `ahead` seconds on, from the STATE and its rates; ROTATION of the STATE."""
    turn(workspace, at.STATE + 3, at.ROTATION)
    kinematics(workspace, at.STATE, at.ROTATION)
    for i in range(6):
        out = row(at.PREDICTED + i)
        state = row(at.STATE + i)
        rate = row(at.RATE + i)
        for lane in range(LANES):
            workspace[out + lane] = workspace[state + lane] + ahead * workspace[rate + lane]
    turn(workspace, at.PREDICTED + 3, at.PREDICTED_ROTATION)


@kernel
def sample_sea(workspace: np.ndarray, waves: int, time: float, share: float, counts: np.ndarray) -> None:
    """Elevation and orbital velocity at every strip, strut and hull station, elevation at the reference point.

    waves: how many components; time in s; share: of their full height that they have now.
    """
    for strip in range(counts[1]):
        place = at.STRIP + strip * at.STRIP_STRIDE
        place_points(workspace, place)
        elevation(workspace, waves, time, share, place + at.STRIP_SEA)
        velocity(workspace, waves, share, place + at.STRIP_SEA, 1.0)
    for strut in range(counts[2]):
        place = at.STRUT + strut * at.STRUT_STRIDE
        place_points(workspace, place)
        elevation(workspace, waves, time, share, place + at.STRUT_SEA)
        velocity(workspace, waves, share, place + at.STRUT_SEA, 0.5)
    for station in range(counts[3]):
        place = at.STATION + station * at.STATION_STRIDE
        place_points(workspace, place)
        elevation(workspace, waves, time, share, place + at.STATION_SEA)
        if near_water(workspace, place + at.STATION_SEA):
            velocity(workspace, waves, share, place + at.STATION_SEA, 0.0)
        forget_far(workspace, place + at.STATION_SEA)
    place_points(workspace, at.THRUST_X)
    elevation(workspace, waves, time, share, at.PROPELLER_SEA)
    place_reference(workspace)
    elevation(workspace, waves, time, share, at.REFERENCE_SEA)


@kernel
def sample_sea_single(workspace: np.ndarray, waves: int, time: float, share: float, counts: np.ndarray) -> None:
    """As `sample_sea`, in single precision."""
    take_phases(workspace, waves, time)
    for strip in range(counts[1]):
        place = at.STRIP + strip * at.STRIP_STRIDE
        sample_point(workspace, waves, share, place, place + at.STRIP_SEA, 1.0)
    for strut in range(counts[2]):
        place = at.STRUT + strut * at.STRUT_STRIDE
        sample_point(workspace, waves, share, place, place + at.STRUT_SEA, 0.5)
    for station in range(counts[3]):
        place = at.STATION + station * at.STATION_STRIDE
        if workspace[(place + at.STATION_FOLLOWS) * LANES] == 0.0:
            place_single(workspace, place)
            raise_surface(workspace, waves, share)
        else:
            if workspace[(place - at.STATION_STRIDE + at.STATION_FOLLOWS) * LANES] == 0.0:
                take_turns(workspace, waves, place)
            place_single(workspace, place)
            turn_on(workspace, waves, share)
        give(workspace, place + at.STATION_SEA, at.SURFACE_SLOTS)
        if near_water(workspace, place + at.STATION_SEA):
            move_water(workspace, waves, share, 0.0)
            give(workspace, place + at.STATION_SEA, at.SEA_SLOTS)
        forget_far(workspace, place + at.STATION_SEA)
    place_single(workspace, at.THRUST_X)
    raise_surface(workspace, waves, share)
    give(workspace, at.PROPELLER_SEA, at.SURFACE_SLOTS)
    place_single_reference(workspace)
    raise_surface(workspace, waves, share)
    give(workspace, at.REFERENCE_SEA, at.SURFACE_SLOTS)


@kernel
def between_samples(workspace: np.ndarray, sea: int, before: int, slots: int) -> None:
    """Turn the sea just sampled for the middle of two steps into the sea of the first of them.

    Linear in time through this sampling and the one before: a quarter of the change back. sea: so many slots; before: twice as
    many, for the last sampling and the quarter. Nothing sampled (at the start, far above the water) is nothing to blend with.
    """
    s = row(sea)
    b = row(before)
    quarters = row(before + slots)
    for i in range(slots * LANES):
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
    for i in range(slots * LANES):
        workspace[s + i] = workspace[b + i] + workspace[quarters + i]


@kernel
def blend(workspace: np.ndarray, sea: int, before: int, slots: int, first: bool) -> None:
    """The sea of the first or of the second step of a pair, at one place."""
    if first:
        between_samples(workspace, sea, before, slots)
    else:
        pass_middle(workspace, sea, before, slots)


@kernel
def blend_pair(workspace: np.ndarray, counts: np.ndarray, first: bool) -> None:
    """The sea of the first or of the second step of a pair, wherever it is sampled."""
    for strip in range(counts[1]):
        place = at.STRIP + strip * at.STRIP_STRIDE
        blend(workspace, place + at.STRIP_SEA, place + at.STRIP_SEA_BEFORE, at.SEA_SLOTS, first)
    for strut in range(counts[2]):
        place = at.STRUT + strut * at.STRUT_STRIDE
        blend(workspace, place + at.STRUT_SEA, place + at.STRUT_SEA_BEFORE, at.SEA_SLOTS, first)
    for station in range(counts[3]):
        place = at.STATION + station * at.STATION_STRIDE
        blend(workspace, place + at.STATION_SEA, place + at.STATION_SEA_BEFORE, at.SEA_SLOTS, first)
    blend(workspace, at.PROPELLER_SEA, at.PROPELLER_SEA_BEFORE, at.SURFACE_SLOTS, first)
    blend(workspace, at.REFERENCE_SEA, at.REFERENCE_SEA_BEFORE, at.SURFACE_SLOTS, first)


@kernel
def near_water(workspace: np.ndarray, out: int) -> bool:
    """Whether the point just placed is NEAR the water in any lane: further up its velocity is not used."""
    eta = row(out)
    nearest = -1e9
    for lane in range(LANES):
        reach = NEAR * workspace[at.TIME_SCALE * LANES + lane] * workspace[at.TIME_SCALE * LANES + lane]
        nearest = max(nearest, workspace[(at.POINT + 2) * LANES + lane] + workspace[eta + lane] + reach)
    return not nearest < 0.0


@kernel
def forget_far(workspace: np.ndarray, out: int) -> None:
    """No velocity in the lanes whose point just placed is further up: it must not depend on what other lanes are near."""
    eta = row(out)
    for lane in range(LANES):
        reach = NEAR * workspace[at.TIME_SCALE * LANES + lane] * workspace[at.TIME_SCALE * LANES + lane]
        far = workspace[(at.POINT + 2) * LANES + lane] + workspace[eta + lane] < -reach
        for axis in range(1, 4):
            workspace[eta + axis * LANES + lane] = 0.0 if far else workspace[eta + axis * LANES + lane]


@kernel
def place_reference(workspace: np.ndarray) -> None:
    """POINT: the reference point, on the keel under the centre of gravity."""
    for lane in range(LANES):
        keel = workspace[at.KEEL * LANES + lane]
        workspace[at.POINT * LANES + lane] = (
            workspace[at.PREDICTED * LANES + lane] + workspace[(at.PREDICTED_ROTATION + 2) * LANES + lane] * keel
        )
        workspace[(at.POINT + 1) * LANES + lane] = (
            workspace[(at.PREDICTED + 1) * LANES + lane] + workspace[(at.PREDICTED_ROTATION + 5) * LANES + lane] * keel
        )


@kernel
def thrust_lag(workspace: np.ndarray, time: float) -> None:
    """THRUST_MID and SIDE_THRUST_MID: the throttles as the propellers feel them after `time` (s) of the present ones."""
    for lane in range(LANES):
        left = workspace[at.THRUST_LEFT * LANES + lane]
        throttle = workspace[at.THROTTLE * LANES + lane] * left
        aside = workspace[at.SIDE_THROTTLE * LANES + lane] * left
        fade = exp_negative(-time / workspace[at.THRUST_LAG * LANES + lane])
        workspace[at.THRUST_MID * LANES + lane] = throttle + (workspace[at.THRUST * LANES + lane] - throttle) * fade
        workspace[at.SIDE_THRUST_MID * LANES + lane] = aside + (workspace[at.SIDE_THRUST * LANES + lane] - aside) * fade


@kernel
def to_start(workspace: np.ndarray, counts: np.ndarray) -> None:
    """MID: everything that `evaluate` reads, as it stands at the start of the step."""
    copy_rows(workspace, at.MID, at.STATE, at.STATES)
    copy_rows(workspace, at.THRUST_MID, at.THRUST, at.ONE)
    copy_rows(workspace, at.SIDE_THRUST_MID, at.SIDE_THRUST, at.ONE)
    copy_rows(workspace, at.RUDDER_MID, at.RUDDER_ANGLE, at.ONE)
    for foil in range(counts[0]):
        place = at.FOIL + foil * at.FOIL_STRIDE
        copy_rows(workspace, place + at.SERVO_MID, place + at.LINK, at.ONE)
        copy_rows(workspace, place + at.DOWNWASH_MID, place + at.DOWNWASH, at.MAX_FOILS)
    for strip in range(counts[1]):
        place = at.STRIP + strip * at.STRIP_STRIDE
        copy_rows(workspace, place + at.STRIP_LAG_MID, place + at.STRIP_LAG, at.ONE)


@kernel
def servos_half(
    workspace: np.ndarray,
    commands: np.ndarray,
    counts: np.ndarray,
    ticks: float,
    tick_share: float,
    half: float,
    density: float,
) -> None:
    """Move every servo half a step (s), which begins `ticks` control ticks after the start."""
    reach_back(workspace, ticks, tick_share, half / tick_share)
    for foil in range(counts[0]):
        place = at.FOIL + foil * at.FOIL_STRIDE
        move_half(workspace, place + at.SERVO_ANGLE, at.SERVO, commands[foil], half, density, row(place))
        slack(workspace, row(place))
    move_half(workspace, at.RUDDER_ANGLE, at.RUDDER_SERVO, commands[counts[0]], half, 0.0, at.NO_FOIL)


@kernel
def finish(workspace: np.ndarray, counts: np.ndarray, step: float) -> None:
    """From the start of the step (s) over all of it with the rates of its middle, in the lanes that fly; thrust too.

    A lane whose rates have run away stops, BROKEN, at its last good state.
    """
    thrust_lag(workspace, step)
    for lane in range(LANES):
        size = 0.0
        for i in range(12):
            size += abs(workspace[(at.RATE + i) * LANES + lane])
        if not size < RUNAWAY and workspace[at.ALIVE * LANES + lane] > 0.0:
            workspace[at.ALIVE * LANES + lane] = 0.0
            workspace[at.BROKEN * LANES + lane] = 1.0
    for i in range(12):
        state = row(at.STATE + i)
        rate = row(at.RATE + i)
        for lane in range(LANES):
            new = workspace[state + lane] + step * workspace[rate + lane]
            workspace[state + lane] = new if workspace[at.ALIVE * LANES + lane] > 0.0 else workspace[state + lane]
    copy_rows(workspace, at.THRUST, at.THRUST_MID, at.ONE)
    copy_rows(workspace, at.SIDE_THRUST, at.SIDE_THRUST_MID, at.ONE)
    for foil in range(counts[0]):
        place = at.FOIL + foil * at.FOIL_STRIDE
        copy_rows(workspace, place + at.DOWNWASH, place + at.DOWNWASH_MID, at.MAX_FOILS)
    for strip in range(counts[1]):
        place = at.STRIP + strip * at.STRIP_STRIDE
        copy_rows(workspace, place + at.STRIP_LAG, place + at.STRIP_LAG_MID, at.ONE)


@kernel
def ventilate_struts(workspace: np.ndarray, struts: int, step: float) -> None:
    """Air runs down a strut in a large side angle; it leaves once the angle has stayed under half of that for a while."""
    for strut in range(struts):
        s = row(at.STRUT + strut * at.STRUT_STRIDE)
        for lane in range(LANES):
            angle = workspace[s + at.STRUT_ANGLE * LANES + lane]
            most = workspace[at.STRUT_VENTILATION * LANES + lane]
            calm = workspace[s + at.STRUT_WASHING * LANES + lane] + step if angle < 0.5 * most else 0.0
            washed = calm >= workspace[(at.STRUT_VENTILATION + 2) * LANES + lane] * workspace[at.TIME_SCALE * LANES + lane]
            still = 0.0 if washed else workspace[s + at.STRUT_VENTILATED * LANES + lane]
            workspace[s + at.STRUT_WASHING * LANES + lane] = calm
            workspace[s + at.STRUT_VENTILATED * LANES + lane] = 1.0 if angle > most else still


@kernel
def air_over(workspace: np.ndarray, foil: int, struts: int) -> None:
    """SCRATCH: 1 where air stands on a strut of this foil."""
    for lane in range(LANES):
        workspace[at.SCRATCH * LANES + lane] = 0.0
    for strut in range(struts):
        s = row(at.STRUT + strut * at.STRUT_STRIDE)
        for lane in range(LANES):
            carries = workspace[s + at.STRUT_FOIL * LANES + lane] == foil
            air = workspace[s + at.STRUT_VENTILATED * LANES + lane] if carries else 0.0
            workspace[at.SCRATCH * LANES + lane] = max(workspace[at.SCRATCH * LANES + lane], air)


@kernel
def ventilate(workspace: np.ndarray, foils: int, struts: int, step: float) -> None:
    """Air reaches a foil that is loaded and shallow, or under a strut with air on it; it leaves after a while down deep.

    Leaves LIFT_FACTOR, weed included. Times are scaled by TIME_SCALE.
    """
    for foil in range(foils):
        f = row(at.FOIL + foil * at.FOIL_STRIDE)
        v = row(at.FOIL + foil * at.FOIL_STRIDE + at.VENTILATION)
        air_over(workspace, foil, struts)
        for lane in range(LANES):
            piped = workspace[at.SCRATCH * LANES + lane] > 0.0
            chords = 0.0 if piped else workspace[f + at.TIP_DEPTH * LANES + lane] / workspace[f + at.CHORD * LANES + lane]
            deep = chords > workspace[v + 3 * LANES + lane]
            washing = workspace[f + at.WASHING * LANES + lane] + step if deep else 0.0
            washed = washing >= workspace[v + 4 * LANES + lane] * workspace[at.TIME_SCALE * LANES + lane]
            loaded = workspace[f + at.LOADED * LANES + lane] > workspace[v + LANES + lane]
            caught = loaded and chords < workspace[v + lane]
            still = 0.0 if deep and washed else workspace[f + at.VENTILATED * LANES + lane]
            ventilated = 1.0 if caught else still
            workspace[f + at.WASHING * LANES + lane] = washing
            workspace[f + at.VENTILATED * LANES + lane] = ventilated
            left = workspace[v + 2 * LANES + lane] if ventilated > 0.0 else 1.0
            workspace[f + at.LIFT_FACTOR * LANES + lane] = left * workspace[f + at.WEED_LIFT * LANES + lane]


@kernel
def half_way(workspace: np.ndarray, half: float) -> None:
    """MID, half a step (s) on from the start with the rates there; thrust too. Servos are left alone."""
    for i in range(at.STATES):
        mid = row(at.MID + i)
        state = row(at.STATE + i)
        rate = row(at.RATE + i)
        for lane in range(LANES):
            workspace[mid + lane] = workspace[state + lane] + half * workspace[rate + lane]
    thrust_lag(workspace, half)


@kernel
def step_craft(
    workspace: np.ndarray,
    commands: np.ndarray,
    counts: np.ndarray,
    density: float,
    step: float,
    ticks: float,
    tick_share: float,
) -> None:
    """Carry every lane one step (s) on in the sea that was sampled for it; leaves MID and RATE of the middle.

    ticks: control ticks since the start; tick_share: a step in ticks.
    """
    half = 0.5 * step
    to_start(workspace, counts)
    evaluate(workspace, counts, density, half)
    half_way(workspace, half)
    servos_half(workspace, commands, counts, ticks, 0.5 * tick_share, half, density)
    for foil in range(counts[0]):
        place = at.FOIL + foil * at.FOIL_STRIDE
        copy_rows(workspace, place + at.SERVO_MID, place + at.LINK, at.ONE)
    copy_rows(workspace, at.RUDDER_MID, at.RUDDER_ANGLE, at.ONE)
    evaluate(workspace, counts, density, step)
    finish(workspace, counts, step)
    servos_half(workspace, commands, counts, ticks + 0.5 * tick_share, 0.5 * tick_share, half, density)
    ventilate_struts(workspace, counts[2], step)
    ventilate(workspace, counts[0], counts[2], step)

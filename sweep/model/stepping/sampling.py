"""The sea at the points of the craft: sampled once for two steps, and interpolated for each of them.

Flights sample it at the pose predicted for the middle of a pair of steps.
"""

from __future__ import annotations

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel
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
from sweep.model.onboard.wand import place_tip

NEAR = 0.03  # m, for a hull of 0.9 m: between two samplings a keel moves far less


@kernel
def sample_sea(workspace: np.ndarray, waves: int, time: float, share: float, counts: at.PartCounts) -> None:
    """Sample elevation and orbital velocity at every strip, strut, hull station and tip of a wand (M3.12, M3.15).

    At the propeller and the reference point, elevation only. waves: number of components; time in s; share: present wave
    height over full height.
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
    if counts.wands > 0:
        sample_tips(workspace, waves, time, share, counts.wands)
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
    if counts.wands > 0:
        sample_tips_single(workspace, waves, share, counts.wands)
    place_single(workspace, at.THRUST_PLACE.x)
    raise_surface(workspace, waves, share)
    give(workspace, at.PROPELLER_SEA, at.SURFACE_SLOTS)
    place_single_reference(workspace)
    raise_surface(workspace, waves, share)
    give(workspace, at.REFERENCE_SEA, at.SURFACE_SLOTS)


@kernel
def sample_tips(workspace: np.ndarray, waves: int, time: float, share: float, wands: int) -> None:
    """Sample the sea at the tips of wands. Within `sample_sea` it cost crafts without a wand 3 % of their instructions."""
    for wand in range(wands):
        place = wand * at.WAND.width
        place_tip(workspace, place)
        place_points(workspace, place + at.WAND.tip.x)
        elevation(workspace, waves, time, share, place + at.WAND.sea.eta)
        velocity(workspace, waves, share, place + at.WAND.sea.eta, 0.0)


@kernel
def sample_tips_single(workspace: np.ndarray, waves: int, share: float, wands: int) -> None:
    """As `sample_tips`, in single precision."""
    for wand in range(wands):
        place = wand * at.WAND.width
        place_tip(workspace, place)
        sample_point(workspace, waves, share, place + at.WAND.tip.x, place + at.WAND.sea.eta, 0.0)


@kernel
def between_samples(workspace: np.ndarray, sea: int, before: int, slots: int) -> None:
    """Interpolate the sea of the first step of a pair, from the sample just taken at the middle of the pair (M3.13).

    It is linear in time through this sample and the one before: the first step lies a quarter of the change back. A value of
    zero was not sampled (at the start, far above the water), and is not interpolated. sea: first of `slots` slots; before:
    first of twice as many, for the last sample and the quarter of the change.
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
    """Set the sea of the second step of a pair: the sample plus a quarter of the change."""
    s = row(sea)
    b = row(before)
    quarters = row(before + slots)
    for i in range(row(slots)):
        workspace[s + i] = workspace[b + i] + workspace[quarters + i]


@kernel
def blend(workspace: np.ndarray, sea: int, before: int, slots: int, first: bool) -> None:
    """Set the sea of the first or second step of a pair, at one point."""
    if first:
        between_samples(workspace, sea, before, slots)
    else:
        pass_middle(workspace, sea, before, slots)


@kernel
def blend_pair(workspace: np.ndarray, counts: at.PartCounts, first: bool) -> None:
    """Set the sea of the first or second step of a pair, at every point where it is sampled."""
    for strip in range(counts.strips):
        place = strip * at.STRIP.width
        blend(workspace, place + at.STRIP.sea.eta, place + at.STRIP.sea_before.first, at.SEA.width, first)
    for strut in range(counts.struts):
        place = strut * at.STRUT.width
        blend(workspace, place + at.STRUT.sea.eta, place + at.STRUT.sea_before.first, at.SEA.width, first)
    for station in range(counts.stations):
        place = station * at.STATION.width
        blend(workspace, place + at.STATION.sea.eta, place + at.STATION.sea_before.first, at.SEA.width, first)
    for wand in range(counts.wands):
        place = wand * at.WAND.width
        blend(workspace, place + at.WAND.sea.eta, place + at.WAND.sea_before.first, at.SEA.width, first)
    blend(workspace, at.PROPELLER_SEA, at.PROPELLER_SEA_BEFORE.first, at.SURFACE_SLOTS, first)
    blend(workspace, at.REFERENCE_SEA, at.REFERENCE_SEA_BEFORE.first, at.SURFACE_SLOTS, first)


@kernel
def near_water(workspace: np.ndarray, out: int) -> bool:
    """Whether the point just placed is within NEAR of the water in any lane. Higher up, the water's velocity is not used."""
    eta = row(out)
    far = 0
    for lane in range(LANES):
        reach = NEAR * workspace[row(at.TIME_SCALE) + lane] * workspace[row(at.TIME_SCALE) + lane]
        far += workspace[row(at.POINT.z) + lane] + workspace[eta + lane] < -reach
    return far < LANES


@kernel
def forget_far(workspace: np.ndarray, out: int) -> None:
    """Zero the velocity in lanes whose point is higher than NEAR: no lane's result may depend on the other lanes."""
    eta = row(out)
    for axis in range(at.VECTOR.width):
        v = eta + row(at.SEA.u + axis)
        for lane in range(LANES):
            reach = NEAR * workspace[row(at.TIME_SCALE) + lane] * workspace[row(at.TIME_SCALE) + lane]
            far = workspace[row(at.POINT.z) + lane] + workspace[eta + lane] < -reach
            workspace[v + lane] = 0.0 if far else workspace[v + lane]


@kernel
def place_reference(workspace: np.ndarray) -> None:
    """Set POINT to the reference point, on the keel under the centre of gravity."""
    for lane in range(LANES):
        keel = workspace[row(at.KEEL) + lane]
        workspace[row(at.POINT.x) + lane] = (
            workspace[row(at.PREDICTED.x) + lane] + workspace[row(at.PREDICTED_ROTATION.xz) + lane] * keel
        )
        workspace[row(at.POINT.y) + lane] = (
            workspace[row(at.PREDICTED.y) + lane] + workspace[row(at.PREDICTED_ROTATION.yz) + lane] * keel
        )

"""The sea where a craft meets it: sampled once for two steps, and blended for each of them.

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

NEAR = 0.03  # m, for a hull of 0.9 m: a keel moves far less between two samplings


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
    for axis in range(at.VECTOR.width):
        v = eta + row(at.SEA.u + axis)
        for lane in range(LANES):
            reach = NEAR * workspace[row(at.TIME_SCALE) + lane] * workspace[row(at.TIME_SCALE) + lane]
            far = workspace[row(at.POINT.z) + lane] + workspace[eta + lane] < -reach
            workspace[v + lane] = 0.0 if far else workspace[v + lane]


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

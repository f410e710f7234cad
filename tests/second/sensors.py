"""The second model's rangefinders, from MODEL.md: when each reads, what, and what height the control code makes of it."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.signal import StateSpace, lsim

from sweep.campaign.craft import Craft
from tests.second.parts import mass_properties, rangefinder_places, to_body
from tests.second.sea import GRAVITY, Sea, Vector, Water, elevation, phases, ramp

WAYS = ("fore", "aft", "port", "starboard")


class Finder(NamedTuple):
    """One rangefinder: place and beam in body axes, mounting height, readings a second, and its properties by name."""

    place: Vector
    beam: Vector
    mounted: float
    rate: float
    own: dict[str, Any]


def finders(craft: Craft) -> list[Finder]:
    """All rangefinders of a craft in order."""
    group = craft.rangefinders
    centre = mass_properties(craft).centre
    places = rangefinder_places(craft)
    each = [one.model_dump() for one in group.each.values()] if group.each else [{}] * len(places)
    found = []
    for place, said in zip(places, each, strict=True):
        own = {**group.model_dump(), **{name: value for name, value in said.items() if value is not None}}
        look = np.array([np.tan(own.get("ahead", 0.0)), np.tan(own.get("aside", 0.0)), 1.0])
        rate = said.get("rate") or group.rate / len(places)
        found.append(Finder(to_body(place, centre), look / np.sqrt(look @ look), float(place[2]), rate, own))
    return found


def due(craft: Craft, until: float) -> list[tuple[float, int, int]]:
    """Every reading up to a time (s): when it is due, of which rangefinder, and the tick whose noise it has."""
    all_of_them = finders(craft)
    n = len(all_of_them)
    found = []
    for j, finder in enumerate(all_of_them):
        m = 0
        while (m + j / n) / finder.rate <= until:
            found.append(((m + j / n) / finder.rate, j, m * n + j))
            m += 1
    return sorted(found)


def true_range(finder: Finder, rotation: Vector, position: Vector, sea: Sea, time: float) -> float:
    """Distance (m) along the beam to the water, as M14.3 and M14.5 have it; rotation: body to earth."""
    sensor, beam = position + rotation @ finder.place, rotation @ finder.beam
    down = max(beam[2], 0.2)
    guess = max(-sensor[2], 0.0) / down
    x, y = (sensor + guess * beam)[:2]
    radius = guess * np.tan(finder.own["beam"] / 2.0)
    sides = {"fore": (radius, 0.0), "aft": (-radius, 0.0), "port": (0.0, -radius), "starboard": (0.0, radius)}
    seen = [elevation(sea, x, y, time), *(elevation(sea, x + sides[way][0], y + sides[way][1], time) for way in WAYS)]
    surface = max(seen) if finder.own["footprint"] == "nearest" else sum(seen) / len(seen)
    return float((-sensor[2] - surface) / down)


def height(finder: Finder, reading: float, roll: float, pitch: float) -> float:
    """Height (m) of the reference point over the water by one reading and the attitude (rad), M15.6.

    By turning vectors: the reference point is on the keel, so that its height is that of the mounting less `mounted` of its
    own upright.
    """
    return float(upright(roll, pitch) @ (_from_reference(finder) + reading * finder.beam))


def height_by_wand(finder: Finder, arm: float, swims: float, reading: float, roll: float, pitch: float) -> float:
    """The same by a reading (m) of the angle of a wand, its arm m, its tip taken to be `swims` (m) deep along the mast."""
    back = np.sqrt(max(arm**2 - reading**2, 0.0))
    return float(upright(roll, pitch) @ (_from_reference(finder) + np.array([-back, 0.0, reading - swims])))


def depths_felt(finder: Finder, rides: list[tuple[float, Vector, Vector, float]], sea: Sea, water: Water) -> Vector:
    """The depth (m) that the pressure at a tap shows at each reading, (readings,), NaN out of the water; M20.1, M20.2.

    rides: of each reading the time s, rotation body to earth, position m, and forward speed m/s.
    """
    k = np.hypot(sea.kx, sea.ky)
    found = []
    for time, rotation, position, ahead in rides:
        x, y, z = position + rotation @ finder.place
        under = max(z + elevation(sea, x, y, time), 0.0)
        kept = np.cosh(k * (water.depth - under)) / np.cosh(k * water.depth)
        head = z + ramp(sea, time) * float(np.sum(sea.amplitude * kept * np.cos(phases(sea, x, y, time))))
        dry = z + elevation(sea, x, y, time) <= 0.0
        found.append(np.nan if dry else head + finder.own["pressure_coefficient"] * ahead**2 / 2.0 / GRAVITY)
    return np.array(found)


def behind_a_tube(depths: Vector, period: float, lag: float) -> Vector:
    """What is read behind a tube of a lag (s) of depths (m) that come every period (s) and go in straight lines between.

    By scipy's solution of a linear system for such an input.
    """
    if lag == 0.0:
        return depths
    felt = np.nan_to_num(depths)
    times = period * np.arange(len(felt))
    _, read, _ = lsim(StateSpace([[-1.0 / lag]], [[1.0 / lag]], [[1.0]], [[0.0]]), felt, times, X0=[felt[0]])
    return np.where(np.isnan(depths), np.nan, np.asarray(read))


def height_by_tap(finder: Finder, too_much: float, reading: float, roll: float, pitch: float) -> float:
    """Height (m) of the reference point by the depth (m) that a tap reads, `too_much` (m, along the mast) as it knows."""
    down = upright(roll, pitch)
    return float(down @ (_from_reference(finder) + np.array([0.0, 0.0, too_much])) - reading)


def upright(roll: float, pitch: float) -> Vector:
    """Straight down, in body axes."""
    return np.array([-np.sin(pitch), np.sin(roll) * np.cos(pitch), np.cos(roll) * np.cos(pitch)])


def _from_reference(finder: Finder) -> Vector:
    return np.array([finder.place[0], finder.place[1], -finder.mounted])


def combined(heights: list[float], trusts: list[float]) -> float:
    """The mean by trust."""
    return float(np.average(heights, weights=trusts))


def lost(own: dict[str, Any], rate: float, draws: Vector, height: float, tilt: float) -> NDArray[np.bool_]:
    """Which readings are lost at a height (m) and tilt (rad) that stay, as states of a chain with its two probabilities."""
    kept = 1.0 - own["dropout"]
    kept *= 1.0 - own["tilt_loss"] * min((np.sin(tilt) / np.sin(own["tilt_limit"])) ** 2, 1.0)
    kept *= 1.0 - own["spray_loss"] * min(max(1.0 - height / own["spray_height"], 0.0), 1.0)
    mean = own["burst"] * rate
    after_one_that_came, after_a_loss = 1.0 - kept, 1.0 - kept
    if mean * kept > 1.0:
        after_a_loss = 1.0 - 1.0 / mean
        after_one_that_came = (1.0 - kept) / kept / mean
    found, last = [], False
    for draw in draws:
        last = bool(draw < (after_a_loss if last else after_one_that_came))
        found.append(last)
    return np.array(found)

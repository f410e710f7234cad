"""Port and starboard: a mirrored craft in a mirrored sea does the mirrored thing, closed loop."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from sweep.campaign.craft import Craft
from sweep.model import layout as at
from sweep.model.pack.fleet import Fleet
from sweep.model.physics import waves
from tests.model.crafts import (
    CASCADED,
    HEADINGS,
    block_of,
    changed,
    courier,
    fleet_of,
    history,
    jonswap,
    mirrored,
    on_propellers,
    quiet,
    replicates,
    silent,
)

CHANGES: dict[str, dict[str, Any]] = {
    "courier": {},
    "three across the bow": {"rangefinders.count": 3, "rangefinders.layout": "across-bow", "rangefinders.spacing": 0.4},
    "one over each foil": {"rangefinders.count": 3, "rangefinders.layout": "over-foils"},
    "lopsided": {"foils.port.area": 60e-4, "foils.starboard.dihedral": 0.15, "foils.aft.y": 0.03, "inertial.y": 0.02},
    "each foil": {"rangefinders.count": 3, "rangefinders.layout": "over-foils", "control.law": "each-foil"},
    "cascaded": CASCADED,
}
CRAFTS = {name: changed(courier(), values) for name, values in CHANGES.items()}
CRAFTS["two propellers"] = on_propellers(courier(), 2, {"power": 60.0})
# What changes its sign in the mirror
NEGATED = ("y", "roll", "heading", "rudder", "side_throttle")
KEPT = (
    "x",
    "keel_height",
    "surface",
    "ride_height",
    "sensed_height",
    "pitch",
    "speed",
    "throttle",
    "clearance",
    "submergence",
    "foils",
)


def fleets(craft: Craft) -> tuple[Fleet, Fleet]:
    """A craft made quiet and its mirror image, whose rangefinders across the bow take turns from the other side."""
    craft = quiet(craft)
    fleet, other = fleet_of(craft), fleet_of(mirrored(craft))
    each = np.arange(craft.rangefinders.count)
    sideways = np.concatenate([place.y + each * place.width for place in (at.RANGE_PLACE, at.KNOWN_PLACE)])
    parameters = other.parameters.copy()
    parameters[0, sideways] = -fleet.parameters[0, sideways]
    return fleet, other._replace(parameters=parameters)


def mirror_sea(sea: waves.Sea) -> waves.Sea:
    return sea._replace(ky=-sea.ky)


@pytest.mark.parametrize(("precise", "within"), [(True, 1e-8), (False, 1e-5)], ids=["double", "single"])
@pytest.mark.parametrize("heading", HEADINGS)
@pytest.mark.parametrize("name", CRAFTS)
def test_the_mirror_image_flies_the_mirrored_way(name: str, heading: str, precise: bool, within: float) -> None:
    """To rounding, which this craft magnifies by a few thousand in four seconds; in single precision x is good to 1e-6 m."""
    craft, image = fleets(CRAFTS[name])
    sea = jonswap(HEADINGS[heading], height=0.04, period=1.2)
    first = history(craft, silent(block_of(sea, 4.0, settle=1.0)), precise=precise)
    second = history(image, silent(block_of(mirror_sea(sea), 4.0, settle=1.0)), precise=precise)
    for column in KEPT:
        assert second[column] == pytest.approx(first[column], abs=within), column
    for column in NEGATED:
        assert second[column] == pytest.approx(-first[column], abs=within), column
    if heading in ("beam", "quartering") or name == "lopsided":
        assert np.abs(first["roll"]).max() > 1e-3  # there is something to mirror


@pytest.mark.parametrize("heading", ["head", "following"])
def test_a_craft_that_is_its_own_mirror_image_stays_upright_in_long_crests(heading: str) -> None:
    """Nothing pushes it sideways: only rounding, which its own loops hold."""
    fleet = fleet_of(quiet(courier()))
    record = history(fleet, silent(block_of(jonswap(HEADINGS[heading]), 10.0)))
    for column in NEGATED:
        assert np.abs(record[column]).max() < 1e-6, column


@pytest.mark.parametrize("heading", ["head", "beam", "quartering"])
def test_responses_do_not_know_port_from_starboard(heading: str) -> None:
    """Noise on, the sea mirrored and the noise not: means over 16 flights agree within four standard errors."""
    fleet = fleet_of(courier())
    seas = [jonswap(HEADINGS[heading], height=0.05, seed=seed) for seed in range(16)]
    first = replicates(fleet, [block_of(sea, 15.0, replicate=i) for i, sea in enumerate(seas)])
    second = replicates(fleet, [block_of(mirror_sea(sea), 15.0, replicate=i) for i, sea in enumerate(seas)])
    for name in ("ride_height_error", "level_height_error", "pitch_rms", "roll_rms", "vertical_acceleration", "power_mean"):
        apart = second[name][:, 0] - first[name][:, 0]
        assert abs(apart.mean()) < 4.0 * apart.std(ddof=1) / np.sqrt(16) + 1e-9, name
        assert abs(apart.mean()) < 0.1 * first[name].mean(), name

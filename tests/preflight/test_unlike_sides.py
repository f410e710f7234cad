"""What `check` says of a craft with unlike sides, beside flights of the craft and of its mirror image."""

from __future__ import annotations

import re

import numpy as np
import pytest

from sweep.campaign.craft import Craft
from sweep.linear.reach import foil_angles, trimmed
from sweep.model.physics.water import fresh_water
from sweep.preflight.unlike_sides import as_flown
from tests.model.crafts import courier, with_foils
from tests.own.laws import with_code

PLACES = {
    "port": {"x": 0.25, "y": -0.17},
    "starboard": {"x": 0.25, "y": 0.17},
    "aft-port": {"x": -0.35, "y": -0.15, "area": 40e-4},
    "aft-starboard": {"x": -0.35, "y": 0.15, "area": 40e-4},
}
WATER = fresh_water(288.15, 5.0)


def four(small: str = "") -> Craft:
    """A craft of two pairs; small: of which foil the area is less than of the other in its pair."""
    return with_foils(courier(), {name: place | ({"area": 30e-4} if name == small else {}) for name, place in PLACES.items()})


def said(craft: Craft) -> str:
    return as_flown(craft, trimmed(craft, WATER, 4.0))


def numbers(text: str) -> tuple[dict[str, float], float, str]:
    """Angles of the foils by name, and the lean and its side, as a sentence has them."""
    angles = {name: float(angle) for name, angle in re.findall(r"((?:aft-)?(?:port|starboard)) (-?[0-9.]+)", text)}
    lean, side = re.findall(r"leans ([0-9.e-]+) deg to (\w+)", text)[0]
    return angles, float(lean), side


def test_of_like_sides_nothing_is_said() -> None:
    assert said(four()) == ""
    assert said(courier()) == ""


def test_code_of_the_builders_own_does_not_run_for_it() -> None:
    """A check runs no such code, so nobody knows what it would do."""
    told = said(with_code(four("port"), "int never_compiled;"))
    assert "is not known before it runs" in told
    assert "leans" not in told


@pytest.mark.parametrize("pair", ["", "aft-"])
def test_the_mirror_image_leans_as_much_to_the_other_side(pair: str) -> None:
    one, lean, side = numbers(said(four(f"{pair}port")))
    other, as_much, across = numbers(said(four(f"{pair}starboard")))
    assert {side, across} == {"port", "starboard"}
    assert lean == pytest.approx(as_much, rel=0.05)
    swapped = {name.replace("port", "x").replace("starboard", "port").replace("x", "starboard"): other[name] for name in other}
    assert one == pytest.approx(swapped, abs=0.11)


def test_the_smaller_foil_is_the_one_that_is_turned_up() -> None:
    """Common practice, no source: a wing that carries less has to be turned up more. The trim's own angles do not do it."""
    craft = four("port")
    angles, _, _ = numbers(said(craft))
    in_trim = dict(zip(craft.foils, np.degrees(foil_angles(trimmed(craft, WATER, 4.0))), strict=True))
    assert angles["port"] - angles["starboard"] > in_trim["port"] - in_trim["starboard"] + 0.1
